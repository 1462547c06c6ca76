//! Trips at the standard rate, and what stands in its way.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Bool, Date, Integer, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::trips;
use crate::rules::ids::RecordId;
use crate::rules::rows::Trip;
use crate::rules::trips::VehicleYear;
use crate::rules::vehicles::VehiclesAtRate;

/// Whether the vehicle $2 stands among the tools, at a cost, at any time from $3 to $4. Small and capital letters
/// are the same: the van is the Van.
const KEPT_AS_TOOL: &str = "\
SELECT EXISTS (
    SELECT FROM tools t
    WHERE t.books_id = $1 AND lower(t.name) = lower($2) AND t.cost > 0 AND t.in_service_on <= $4
    AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = $1 AND r.record_id = t.record_id)
    AND NOT EXISTS (
        SELECT FROM tool_disposals d
        WHERE d.books_id = $1 AND d.tool_id = t.id AND d.date < $3
        AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = $1 AND r.record_id = d.record_id)
    )
) AS found";

/// Every vehicle with trips at the standard rate that stand, once a year.
const AT_RATE: &str = "\
SELECT DISTINCT t.vehicle, extract(year FROM t.date)::int AS year
FROM trips t
WHERE t.books_id = $1
AND NOT EXISTS (SELECT FROM record_reversals r WHERE r.books_id = $1 AND r.record_id = t.record_id)";

#[derive(QueryableByName)]
struct AtRateRow {
    #[diesel(sql_type = Text)]
    vehicle: String,
    #[diesel(sql_type = Integer)]
    year: i32,
}

#[derive(QueryableByName)]
struct FoundRow {
    #[diesel(sql_type = Bool)]
    found: bool,
}

impl Tx<'_> {
    pub(super) async fn add_trip(&mut self, record: RecordId, row: &Trip) -> Result<(), StoreError> {
        diesel::insert_into(trips::table)
            .values((
                trips::books_id.eq(self.id.0),
                trips::record_id.eq(record.0),
                trips::date.eq(row.date),
                trips::vehicle.eq(&row.vehicle),
                trips::distance.eq(row.distance),
                trips::unit.eq(row.unit.as_str()),
                trips::purpose.eq(&row.purpose),
                trips::rate.eq(row.rate),
                trips::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// The vehicles with trips at the standard rate, by year.
    /// # Errors
    /// What the database could not do.
    pub async fn vehicles_at_rate(&mut self) -> Result<VehiclesAtRate, StoreError> {
        let rows: Vec<AtRateRow> =
            sql_query(AT_RATE).bind::<SqlUuid, _>(self.id.0).load(self.connection).await?;
        Ok(rows.into_iter().map(|row| (row.vehicle, row.year)).collect())
    }

    /// The same, where the request makes a tool or names a vehicle; otherwise nothing asks for them.
    /// # Errors
    /// What the database could not do.
    pub async fn vehicles_at_rate_for(&mut self, asks: bool) -> Result<VehiclesAtRate, StoreError> {
        if asks { self.vehicles_at_rate().await } else { Ok(VehiclesAtRate::none()) }
    }

    /// What stands in the way of the standard rate for that vehicle in that year.
    /// # Errors
    /// What the database could not do.
    pub async fn vehicle_year(&mut self, vehicle: &str, year: i32) -> Result<VehicleYear, StoreError> {
        let first = NaiveDate::from_ymd_opt(year, 1, 1);
        let Some((first, last)) = first.zip(NaiveDate::from_ymd_opt(year, 12, 31)) else {
            return Ok(VehicleYear::NoActualCosts);
        };
        if self.vehicle_has_actual_costs(vehicle.trim(), first, last).await? {
            return Ok(VehicleYear::ActualCostsRecorded);
        }
        let row: FoundRow = sql_query(KEPT_AS_TOOL)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Text, _>(vehicle.trim())
            .bind::<Date, _>(first)
            .bind::<Date, _>(last)
            .get_result(self.connection)
            .await?;
        Ok(if row.found { VehicleYear::KeptAsTool } else { VehicleYear::NoActualCosts })
    }
}
