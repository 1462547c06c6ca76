//! What rests on a record.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use crate::rules::ids::RecordId;
use crate::rules::recording::Word;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::live;
use crate::store::schema::{record_links, records};

impl Tx<'_> {
    /// Records of that kind that rest on another and stand, oldest first.
    pub(in crate::store) async fn live_dependants(
        &mut self,
        of: RecordId,
        word: Word,
        kind: &str,
    ) -> Result<Vec<RecordId>, StoreError> {
        let rows: Vec<Uuid> = record_links::table
            .inner_join(records::table.on(
                records::books_id.eq(record_links::books_id).and(records::id.eq(record_links::record_id)),
            ))
            .filter(record_links::books_id.eq(self.id.0))
            .filter(record_links::depends_on.eq(of.0))
            .filter(records::word.eq(word.as_str()))
            .filter(records::kind.eq(kind))
            .filter(live!(record_links))
            .order(records::id)
            .select(records::id)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(RecordId).collect())
    }
}
