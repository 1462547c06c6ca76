//! Trips: business miles or kilometres, deducted at the standard rate of their year.

#[cfg(test)]
mod tests;

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::PartyId;
use super::journal::{Account, ExpenseClass};
use super::money::{Currency, Money, MoneyFinding, Quantity};
use super::objects::{ObjectShare, split_over_objects};
use super::recording::{Category, Label, Pen, RecordFinding, Recording, Side, Source, SourceKind, Word};
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{DistanceUnit, Row, Trip};

/// Kilometres in one mile, exactly.
///
/// # Source
/// International yard and pound agreement of 1959 (0.9144 m a yard, 1,760 yards a mile), from memory.
pub const KILOMETRES_PER_MILE: Decimal = Decimal::from_parts(1_609_344, 0, 0, false, 6);

/// A business trip with one vehicle on one day. Tolls and parking are purchases of their own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTrip {
    pub date: NaiveDate,
    /// How far in all, the way back included.
    pub distance: Quantity,
    pub unit: DistanceUnit,
    /// Why the trip was made, as the log has to say.
    #[schema(min_length = 1, max_length = 300)]
    pub purpose: String,
    /// Which vehicle, always by the same name.
    #[schema(min_length = 1, max_length = 100)]
    pub vehicle: String,
    /// Where it began.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 200)]
    pub from: Option<String>,
    /// Where it went.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 200)]
    pub to: Option<String>,
    /// The episodes and projects it was for; shares that total 100, or none for equal parts. Nothing named is
    /// overhead.
    #[serde(rename = "for", default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub objects: Vec<ObjectShare>,
    /// Who was visited.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// The standard rate of the trip's day, as the tax profile publishes it.
#[derive(Clone, Copy, Debug)]
pub struct TripRate<'a> {
    /// Money in `currency` for one `per`.
    pub rate: Decimal,
    pub currency: Currency,
    pub per: DistanceUnit,
    /// Where the rate was published.
    pub source: &'a str,
}

/// What was recorded of the trip's vehicle in the trip's year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VehicleYear {
    NoActualCosts,
    ActualCostsRecorded,
    /// Tools at cost hold it: its depreciation is an actual cost.
    KeptAsTool,
}

/// Why a trip is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum TripFinding {
    DistanceZero,
    ActualCostsRecorded { vehicle: String, year: i32 },
    KeptAsTool { vehicle: String },
    NoRate { year: i32 },
    RateOfOtherCurrency { of_rate: Currency, base: Currency },
}

impl Explain for TripFinding {
    fn say(&self) -> Said {
        match self {
            Self::DistanceZero => Said::invalid("the distance is zero", "give how far the trip was"),
            Self::ActualCostsRecorded { vehicle, year } => Said::conflict(
                format!(
                    "actual costs of '{vehicle}' are recorded in {year}; the standard rate can not be taken \
                     beside them in one year"
                ),
                "reverse those purchases if the year goes by the standard rate, or leave the trip out",
            ),
            Self::KeptAsTool { vehicle } => Said::conflict(
                format!(
                    "'{vehicle}' is kept as a tool, and its depreciation is an actual cost; the standard rate can \
                     not be taken beside it"
                ),
                "leave the trip out, or reverse the tool's record if the vehicle goes by the standard rate",
            ),
            Self::NoRate { year } => Said::conflict(
                format!("the books' tax profile has no standard rate for {year}"),
                "correct the date, or record what the vehicle cost as purchases; GET /v1/books shows the profile",
            ),
            Self::RateOfOtherCurrency { of_rate, base } => Said::conflict(
                format!("the standard rate is in {of_rate}, and the books are kept in {base}"),
                "record what the vehicle cost as purchases",
            ),
        }
    }
}

/// A distance at the rate, in the rate's currency, rounded half up once; the other unit is converted exactly.
/// # Errors
/// [`MoneyFinding::TooLarge`].
pub fn at_standard_rate(
    distance: Decimal,
    unit: DistanceUnit,
    rate: TripRate<'_>,
) -> Result<Money, MoneyFinding> {
    let plain = distance.checked_mul(rate.rate);
    let product = match (unit, rate.per) {
        (DistanceUnit::Kilometre, DistanceUnit::Mile) => {
            plain.and_then(|plain| plain.checked_div(KILOMETRES_PER_MILE))
        }
        (DistanceUnit::Mile, DistanceUnit::Kilometre) => {
            plain.and_then(|plain| plain.checked_mul(KILOMETRES_PER_MILE))
        }
        _ => plain,
    };
    Money::rounded(product.ok_or(MoneyFinding::TooLarge)?, rate.currency)
}

/// Records a trip: vehicle expense against the owner's contribution, for the owner's car bore the cost. `rate` is
/// none where the tax profile publishes none for the day.
///
/// # Errors
/// [`TripFinding`] and those of dates, texts and objects, all at once.
///
/// # Source
/// Pub. 463 ch. 4 (standard mileage rate or actual expenses; commuting), from memory.
pub fn travel(
    pen: &mut Pen<'_>,
    rate: Option<TripRate<'_>>,
    vehicle_year: VehicleYear,
    new: &NewTrip,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    for (what, text) in [("purpose", &new.purpose), ("vehicle", &new.vehicle)] {
        if text.trim().is_empty() {
            findings.add(Refusal::new(format!("/{what}"), RecordFinding::NeedsText { what }));
        }
    }
    let distance = new.distance.decimal();
    if distance.is_zero() {
        findings.add(Refusal::new("/distance", TripFinding::DistanceZero));
    }
    let vehicle = new.vehicle.trim().to_owned();
    findings.keep(goes_by_rate(vehicle_year, &vehicle, new.date.year()).at("/vehicle"));
    let rate = findings.keep(rate_in(pen.base(), rate, new.date.year()).at("/date"));
    let priced = rate.map(|rate| at_standard_rate(distance, new.unit, rate).at("/distance"));
    let amount = priced.and_then(|priced| findings.keep(priced)).unwrap_or(Money::zero(pen.base()));
    let parts = findings.keep(split_over_objects(amount, &new.objects).at("/for")).unwrap_or_default();
    findings.or_refuse()?;
    let rate = rate.ok_or(TripFinding::NoRate { year: new.date.year() })?;
    let text = format!("{}: {distance} {}s{}", new.purpose.trim(), new.unit, way(new));
    let mut recording = Recording::new(Word::Trips, "trip", new.date, text.as_str());
    recording.party = new.party;
    let mut entry = pen.entry(new.date, text.as_str());
    let class = ExpenseClass::Vehicle;
    entry.debit(Account::Expense(class), amount, class.tax_class());
    entry.credit(Account::OwnerContribution, amount, None);
    let posted = recording.post(entry)?;
    let source = Source { id: pen.new_source(), side: Side::Cost, kind: SourceKind::Trip, text };
    let id = source.id;
    recording.open_source(source, new.date, amount, posted);
    for (object, part) in parts {
        recording.attribute(id, new.date, object, Label::Category(Category::Trips), part);
        recording.about.push(object);
    }
    recording.rows.push(Row::Trip(Trip {
        date: new.date,
        vehicle,
        distance,
        unit: new.unit,
        purpose: new.purpose.trim().to_owned(),
        rate: rate.rate,
        amount,
    }));
    recording.notes = notes(rate, new, amount);
    Ok(recording)
}

fn goes_by_rate(vehicle_year: VehicleYear, vehicle: &str, year: i32) -> Result<(), TripFinding> {
    let vehicle = vehicle.to_owned();
    match vehicle_year {
        VehicleYear::NoActualCosts => Ok(()),
        VehicleYear::ActualCostsRecorded => Err(TripFinding::ActualCostsRecorded { vehicle, year }),
        VehicleYear::KeptAsTool => Err(TripFinding::KeptAsTool { vehicle }),
    }
}

fn rate_in(base: Currency, rate: Option<TripRate<'_>>, year: i32) -> Result<TripRate<'_>, TripFinding> {
    match rate {
        None => Err(TripFinding::NoRate { year }),
        Some(rate) if rate.currency != base => {
            Err(TripFinding::RateOfOtherCurrency { of_rate: rate.currency, base })
        }
        Some(rate) => Ok(rate),
    }
}

fn way(new: &NewTrip) -> String {
    match (&new.from, &new.to) {
        (Some(from), Some(to)) => format!(", {from} to {to}"),
        (Some(from), None) => format!(", from {from}"),
        (None, Some(to)) => format!(", to {to}"),
        (None, None) => String::new(),
    }
}

fn notes(rate: TripRate<'_>, new: &NewTrip, amount: Money) -> Vec<String> {
    let mut notes =
        vec![format!("{amount} at the standard rate of {} a {} ({})", rate.rate, rate.per, rate.source)];
    if new.unit != rate.per {
        notes.push(format!("converted at {KILOMETRES_PER_MILE} kilometres to the mile"));
    }
    if new.objects.is_empty() {
        notes.push("for no episode or project: overhead, unattributed".to_owned());
    }
    notes.push(
        "the way between home and a regular place of work is commuting, which is not deducted; tolls and \
         parking are purchases of their own"
            .to_owned(),
    );
    notes
}
