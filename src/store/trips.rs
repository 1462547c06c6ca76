//! Trips at the standard rate, and what stands in its way.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Bool, Date, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::trips;
use crate::rules::ids::RecordId;
use crate::rules::rows::Trip;
use crate::rules::trips::VehicleYear;

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
