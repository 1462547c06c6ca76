//! Parties: anyone money passes to or from.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{parties, record_reversals, records};
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

    /// Live records that name the party which that record added: it is not taken back alone.
    pub(super) async fn records_of_party(&mut self, added: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let taken_back = record_reversals::table
            .filter(record_reversals::books_id.eq(records::books_id))
            .filter(record_reversals::record_id.eq(records::id));
        let rows: Vec<Uuid> = records::table
            .filter(records::books_id.eq(self.id.0))
            .filter(records::party_id.eq(added.0))
            .filter(diesel::dsl::not(diesel::dsl::exists(taken_back)))
            .select(records::id)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(RecordId).collect())
    }
}
