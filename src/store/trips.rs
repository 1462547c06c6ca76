//! Trips at the standard rate.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::trips;
use crate::rules::ids::RecordId;
use crate::rules::rows::Trip;

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
}
