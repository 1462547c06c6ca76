//! Promises to sponsors, and that they were kept.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use crate::rules::deals::{PromiseFacts, PromiseStanding};
use crate::rules::ids::{DealId, EpisodeId, PromiseId, RecordId};
use crate::rules::rows::{Promise, PromiseKept};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::live;
use crate::store::schema::{promises, promises_kept};

#[derive(Queryable, Selectable)]
#[diesel(table_name = promises)]
struct PromiseRow {
    id: Uuid,
    what: String,
    episode_id: Option<Uuid>,
    due_on: NaiveDate,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = promises_kept)]
struct KeptRow {
    promise_id: Uuid,
    record_id: Uuid,
    kept_on: NaiveDate,
    kept_where: Option<String>,
}

impl KeptRow {
    fn kept(self) -> (RecordId, PromiseKept) {
        let promise = PromiseId(self.promise_id);
        let kept = PromiseKept { promise, kept_on: self.kept_on, kept_where: self.kept_where };
        (RecordId(self.record_id), kept)
    }
}

impl Tx<'_> {
    pub(in crate::store) async fn add_promise(
        &mut self,
        record: RecordId,
        row: &Promise,
    ) -> Result<(), StoreError> {
        diesel::insert_into(promises::table)
            .values((
                promises::books_id.eq(self.id.0),
                promises::record_id.eq(record.0),
                promises::id.eq(row.id.0),
                promises::deal_id.eq(row.deal.0),
                promises::what.eq(&row.what),
                promises::episode_id.eq(row.episode.map(|episode| episode.0)),
                promises::due_on.eq(row.due_on),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(in crate::store) async fn add_promise_kept(
        &mut self,
        record: RecordId,
        row: &PromiseKept,
    ) -> Result<(), StoreError> {
        diesel::insert_into(promises_kept::table)
            .values((
                promises_kept::books_id.eq(self.id.0),
                promises_kept::record_id.eq(record.0),
                promises_kept::promise_id.eq(row.promise.0),
                promises_kept::kept_on.eq(row.kept_on),
                promises_kept::kept_where.eq(&row.kept_where),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// A promise of a deal, and whether it was kept.
    /// # Errors
    /// [`StoreError::NotFound`] for a deal, or a promise of it, that these books do not have.
    pub async fn promise(&mut self, deal: DealId, id: PromiseId) -> Result<PromiseFacts, StoreError> {
        let (deal, record) = self.live_deal(deal).await?.ok_or_else(|| Self::missing("deal", deal))?;
        let of_deal = self.promises_of(deal.id).await?;
        let found = of_deal.into_iter().find(|one| one.promise.id == id);
        let standing = found.ok_or_else(|| Self::missing("promise", id))?;
        Ok(PromiseFacts { deal, record, standing })
    }

    /// The earliest due first.
    pub(super) async fn promises_of(&mut self, deal: DealId) -> Result<Vec<PromiseStanding>, StoreError> {
        let rows: Vec<PromiseRow> = promises::table
            .filter(promises::books_id.eq(self.id.0))
            .filter(promises::deal_id.eq(deal.0))
            .filter(live!(promises))
            .order((promises::due_on, promises::id))
            .select(PromiseRow::as_select())
            .load(self.connection)
            .await?;
        let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
        let kept: Vec<KeptRow> = promises_kept::table
            .filter(promises_kept::books_id.eq(self.id.0))
            .filter(promises_kept::promise_id.eq_any(ids))
            .filter(live!(promises_kept))
            .select(KeptRow::as_select())
            .load(self.connection)
            .await?;
        let mut kept: Vec<_> = kept.into_iter().map(KeptRow::kept).collect();
        let mut standing = Vec::with_capacity(rows.len());
        for PromiseRow { id, what, episode_id, due_on } in rows {
            let id = PromiseId(id);
            let promise = Promise { id, deal, what, episode: episode_id.map(EpisodeId), due_on };
            let place = kept.iter().position(|(_, one)| one.promise == id);
            standing.push(PromiseStanding { promise, kept: place.map(|place| kept.swap_remove(place)) });
        }
        Ok(standing)
    }
}
