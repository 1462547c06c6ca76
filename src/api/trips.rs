//! Trips over HTTP.

use actix_web::{get, post};
use chrono::{Datelike, NaiveDate};

use super::batch::recorded;
use super::lists::listed;
use crate::rules::money::Currency;
use crate::rules::rows::DistanceUnit;
use crate::rules::tax_year::Profile;
use crate::rules::trips::{self, NewTrip, TripRate};

listed!(Trips, "trips", list_trips "/v1/trips", read_trip "/v1/trips/{id}");

recorded!(
    /// Records a business trip at the standard rate of its year.
    "trips",
    record_trip "/v1/trips", record_trip_batch "/v1/trips/batch",
    NewTrip, NewTripBatch, async |desk, new| {
        let rate = standard_rate(&desk.tx.card().tax_profile, new.date);
        let vehicle_year = desk.tx.vehicle_year(&new.vehicle, new.date.year()).await?;
        Ok(trips::travel(&mut desk.pen(), rate, vehicle_year, new)?)
    }
);

/// The rate that the books' tax profile publishes for the year of that day, if it does.
fn standard_rate(jurisdiction: &str, day: NaiveDate) -> Option<TripRate<'static>> {
    let profile = Profile::find(jurisdiction, day.year()).ok()?;
    let per_mile = profile.mileage.per_mile;
    let currency = Currency::find(profile.currency).ok()?;
    let source = per_mile.source.publication;
    Some(TripRate { rate: per_mile.value, currency, per: DistanceUnit::Mile, source })
}
