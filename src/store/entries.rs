//! Entries: a record with everything it wrote and everything that stands on it, to be taken back.

mod lists;

use std::collections::BTreeSet;

use chrono::NaiveDate;
use diesel::dsl::max;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::EntryShown;
use super::schema::{attributions, movements, record_links, record_reversals};
use super::{money, read_as};
use crate::rules::entries::{RecordToReplace, RecordToTakeBack};
use crate::rules::ids::{RecordId, SourceId};
use crate::rules::journal::Posted;
use crate::rules::recording::{Attribution, Label, Movement, MovementKind, Word};

pub use lists::{AfterLine, EntryListed, JournalFilter, PostingListed};

impl Tx<'_> {
    /// The record and all live records that stand on it, directly or not, in the order they were recorded.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn record_with_dependants(
        &mut self,
        id: RecordId,
    ) -> Result<(RecordToTakeBack, Vec<RecordToTakeBack>), StoreError> {
        let mut found = BTreeSet::from([id]);
        let mut waiting = vec![id];
        while let Some(next) = waiting.pop() {
            let mut on_it = self.ever_dependants_of(next).await?;
            on_it.extend(self.records_on_account(next).await?);
            on_it.extend(self.records_on_object(next).await?);
            on_it.extend(self.records_of_party(next).await?);
            waiting.extend(on_it.into_iter().filter(|one| found.insert(*one)));
        }
        found.remove(&id);
        let mut chosen = self.record_to_take_back(id).await?;
        let mut dependants = Vec::with_capacity(found.len());
        // Record ids are given in the order of time.
        for dependant in found {
            let dependant = self.record_to_take_back(dependant).await?;
            match dependant.reversed_by {
                Some(by) => {
                    let day = self.last_day_of(by).await?;
                    chosen.drawn_on_until = chosen.drawn_on_until.max(day);
                }
                None => dependants.push(dependant),
            }
        }
        Ok((chosen, dependants))
    }

    /// Records that stand on this one or stood on it before they were taken back.
    async fn ever_dependants_of(&mut self, record: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let rows: Vec<Uuid> = record_links::table
            .filter(record_links::books_id.eq(self.id.0))
            .filter(record_links::depends_on.eq(record.0))
            .select(record_links::record_id)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(RecordId).collect())
    }

    /// The last day on which the record moved or attributed anything.
    async fn last_day_of(&mut self, record: RecordId) -> Result<Option<NaiveDate>, StoreError> {
        let moved: Option<NaiveDate> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::record_id.eq(record.0))
            .select(max(movements::date))
            .first(self.connection)
            .await?;
        let given: Option<NaiveDate> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::record_id.eq(record.0))
            .select(max(attributions::date))
            .first(self.connection)
            .await?;
        Ok(moved.max(given))
    }

    /// What became of a record that another is to stand in for.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn record_to_replace(&mut self, id: RecordId) -> Result<RecordToReplace, StoreError> {
        let kept = self.record(None, id).await?;
        Ok(RecordToReplace {
            record: id,
            text: kept.text,
            reversed_by: kept.reversed_by,
            replaced_by: kept.replaced_by,
        })
    }

    /// The records that a reversal took back, in the order in which they were recorded.
    /// # Errors
    /// What the database could not do.
    pub async fn reversed_in(&mut self, id: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let taken: Vec<Uuid> = record_reversals::table
            .filter(record_reversals::books_id.eq(self.id.0))
            .filter(record_reversals::reversal_id.eq(id.0))
            .order(record_reversals::record_id)
            .select(record_reversals::record_id)
            .load(self.connection)
            .await?;
        Ok(taken.into_iter().map(RecordId).collect())
    }

    async fn record_to_take_back(&mut self, id: RecordId) -> Result<RecordToTakeBack, StoreError> {
        let kept = self.record(None, id).await?;
        let mut entries = Vec::new();
        for shown in self.entries_of(id).await? {
            let EntryShown { number: Some(number), date, postings, .. } = shown else { continue };
            entries.push(Posted { number, date, postings });
        }
        let mut attributions = Vec::new();
        for one in self.attributions_of(id).await? {
            let label = Label::named(one.side, &one.label).ok_or_else(|| StoreError::Unreadable {
                column: "attributions.label",
                found: one.label.clone(),
            })?;
            attributions.push(Attribution {
                source: one.source,
                date: one.date,
                object: one.object,
                label,
                amount: one.amount,
            });
        }
        Ok(RecordToTakeBack {
            record: id,
            word: read_as("records.word", &kept.word, Word::named)?,
            text: kept.text,
            date: kept.date,
            reversed_by: kept.reversed_by,
            takes_back: self.reversed_in(id).await?,
            drawn_on_until: None,
            entries,
            movements: self.movements_of(id).await?,
            attributions,
            written_off: self.written_off_by(id).await?,
        })
    }

    async fn movements_of(&mut self, record: RecordId) -> Result<Vec<(Movement, Option<i64>)>, StoreError> {
        type Row = (Uuid, NaiveDate, String, Decimal, Option<i64>);
        let rows: Vec<Row> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::record_id.eq(record.0))
            .order(movements::id)
            .select((
                movements::source_id,
                movements::date,
                movements::kind,
                movements::amount,
                movements::entry_number,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(source, date, kind, amount, entry)| {
                let movement = Movement {
                    source: SourceId(source),
                    date,
                    kind: read_as("movements.kind", &kind, MovementKind::named)?,
                    amount: money("movements.amount", amount, base)?,
                    entry: None,
                };
                Ok((movement, entry))
            })
            .collect()
    }
}
