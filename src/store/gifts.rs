//! Gifts: goods received, and what became of them.

mod facts;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::recording::ordinal;
use super::schema::gifts;
use crate::rules::ids::RecordId;
use crate::rules::rows::Gift;

impl Tx<'_> {
    pub(super) async fn add_gift(
        &mut self,
        record: RecordId,
        place: usize,
        row: &Gift,
    ) -> Result<(), StoreError> {
        diesel::insert_into(gifts::table)
            .values((
                gifts::books_id.eq(self.id.0),
                gifts::record_id.eq(record.0),
                gifts::place.eq(ordinal(place)),
                gifts::gift_id.eq(row.gift.unwrap_or(record).0),
                gifts::party_id.eq(row.party.0),
                gifts::what.eq(&row.what),
                gifts::relation.eq(row.relation.as_str()),
                gifts::received_on.eq(row.received_on),
                gifts::value.eq(row.value.map(|value| value.amount())),
                gifts::evidence.eq(&row.evidence),
                gifts::fate.eq(row.fate.as_str()),
                gifts::fate_on.eq(row.fate_on),
                gifts::source_id.eq(row.source.map(|source| source.0)),
                gifts::deal_id.eq(row.deal.map(|deal| deal.0)),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
