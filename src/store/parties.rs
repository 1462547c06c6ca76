//! Parties: anyone money passes to or from.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::parties;
use crate::rules::ids::RecordId;
use crate::rules::rows::Party;

impl Tx<'_> {
    pub(super) async fn add_party(&mut self, record: RecordId, row: &Party) -> Result<(), StoreError> {
        diesel::insert_into(parties::table)
            .values((
                parties::books_id.eq(self.id.0),
                parties::record_id.eq(record.0),
                parties::id.eq(row.id.0),
                parties::name.eq(&row.name),
                parties::role.eq(row.role.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
