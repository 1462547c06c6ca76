//! Entries: a record with everything it wrote and everything that stands on it, to be taken back.

mod lists;

use std::collections::BTreeSet;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::EntryShown;
use super::schema::{movements, record_reversals};
use super::{money, read_as};
use crate::rules::entries::{EntryToTakeBack, RecordToTakeBack};
use crate::rules::ids::{RecordId, SourceId};
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
        let chosen = self.record_to_take_back(id).await?;
        let mut found = BTreeSet::new();
        let mut waiting = vec![id];
        while let Some(next) = waiting.pop() {
            let mut on_it = self.dependants_of(next).await?;
            on_it.extend(self.records_on_account(next).await?);
            for dependant in on_it {
                if found.insert(dependant) {
                    waiting.push(dependant);
                }
            }
        }
        found.remove(&id);
        let mut dependants = Vec::with_capacity(found.len());
        // Record ids are given in the order of time.
        for dependant in found {
            dependants.push(self.record_to_take_back(dependant).await?);
        }
        Ok((chosen, dependants))
    }

    async fn record_to_take_back(&mut self, id: RecordId) -> Result<RecordToTakeBack, StoreError> {
        let kept = self.record(None, id).await?;
        let takes_back: Vec<Uuid> = record_reversals::table
            .filter(record_reversals::books_id.eq(self.id.0))
            .filter(record_reversals::reversal_id.eq(id.0))
            .select(record_reversals::record_id)
            .load(self.connection)
            .await?;
        let entries = self.entries_of(id).await?;
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
            takes_back: takes_back.into_iter().map(RecordId).collect(),
            entries: entries
                .into_iter()
                .filter_map(|entry| {
                    let EntryShown { number, date, postings, .. } = entry;
                    number.map(|number| EntryToTakeBack { number, date, postings })
                })
                .collect(),
            movements: self.movements_of(id).await?,
            attributions,
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
