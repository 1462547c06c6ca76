//! The one write path: a recording's rows, entries, sources, movements and attributions, its audit line and the
//! answer to its idempotency key, all in one transaction.

mod again;
mod columns;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use serde_json::Value;
use uuid::Uuid;

pub(super) use again::again_if_lost;
use columns::{main_thing, thing_made};
pub(super) use columns::{object_columns, ordinal, target_columns};

use super::audit::{About, Act};
use super::books::{Books, Turn, Tx, begin_claimed};
use super::error::{Fault, StoreError};
use super::idempotency::{IdempotencyKey, Kept};
use super::schema::{
    attributions, deferred_checks, entries, movements, postings, record_links, record_objects,
    record_reversals, records, sources,
};
use crate::rules::chain::{EntryToSeal, Form, seal};
use crate::rules::entries::stand_in;
use crate::rules::ids::{IdSource, RecordId};
use crate::rules::journal::{Entry, Posting};
use crate::rules::recording::{Attribution, BooksFacts, CostObject, Pen, Recording};
use crate::rules::refusal::Findings;
use crate::rules::rows::{PeriodAct, PeriodActKind, Row};

/// One row's statement is kept by the connection; that of several is parsed and planned anew each time, and without any
/// there is nothing to say.
macro_rules! insert_rows {
    ($table:ident, $rows:expr, $connection:expr) => {
        match $rows.len() {
            0 => {}
            1 => {
                for row in $rows {
                    diesel::insert_into($table::table).values(row).execute($connection).await?;
                }
            }
            _ => {
                diesel::insert_into($table::table).values($rows).execute($connection).await?;
            }
        }
    };
}

/// Whether the recording is kept or only shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    Record,
    DryRun,
}

/// Who asks, by which request and how.
#[derive(Clone, Debug)]
pub struct Request {
    pub act: Act,
    pub mode: Mode,
    pub key: Option<IdempotencyKey>,
    /// The record, taken back before, that what is recorded stands in for.
    pub replaces: Option<RecordId>,
}

/// An entry with its number; none in a dry run.
#[derive(Clone, Debug)]
pub struct EntryShown {
    pub number: Option<i64>,
    pub date: NaiveDate,
    pub text: String,
    pub kind: &'static str,
    pub reverses: Option<i64>,
    pub postings: Vec<Posting>,
}

/// A thing the record made: its id is what later records name it by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ThingMade {
    pub what: &'static str,
    pub id: Uuid,
    pub text: String,
}

/// What was written, or would be.
#[derive(Clone, Debug)]
pub struct Recorded {
    pub id: RecordId,
    pub mode: Mode,
    pub recording: Recording,
    pub facts: Value,
    pub entries: Vec<EntryShown>,
    pub things: Vec<ThingMade>,
}

/// The first answer to a request, or the same again.
#[derive(Clone, Debug)]
pub enum Outcome {
    Recorded {
        body: Vec<u8>,
    },
    /// A dry run.
    Shown {
        body: Vec<u8>,
    },
    Replayed(Kept),
}

/// New ids, in the order of time (UUIDv7).
#[derive(Debug, Default)]
pub struct FreshIds;

impl IdSource for FreshIds {
    fn next(&mut self) -> Uuid {
        Uuid::now_v7()
    }
}

/// What a decision may ask for: the facts, and the pen to write with.
pub struct Desk<'t, 'c> {
    pub tx: &'t mut Tx<'c>,
    pub facts: BooksFacts,
    pub ids: FreshIds,
}

impl<'t, 'c> Desk<'t, 'c> {
    fn at(tx: &'t mut Tx<'c>) -> Self {
        let facts = tx.card().facts();
        Self { tx, facts, ids: FreshIds }
    }

    pub fn pen(&mut self) -> Pen<'_> {
        Pen { books: &self.facts, ids: &mut self.ids }
    }
}

/// Why a transaction is taken back.
enum Abort {
    Fault(Fault),
    /// A dry run, or a key that was answered before: there is an answer, and nothing to keep.
    Answered(Outcome),
}

impl Abort {
    const fn store_error(&self) -> Option<&StoreError> {
        match self {
            Self::Fault(fault) => fault.store_error(),
            Self::Answered(_) => None,
        }
    }
}

impl<E: Into<Fault>> From<E> for Abort {
    fn from(fault: E) -> Self {
        Self::Fault(fault.into())
    }
}

impl Books {
    /// Runs `decide` and writes what it says; again, a few times, where another transaction won.
    /// `facts` is the body as it was understood, kept with the record; `render` makes the answer that is kept under
    /// the key.
    /// # Errors
    /// The refusal of the rules, or what the store could not do; nothing is written then.
    pub async fn record(
        &self,
        request: &Request,
        facts: &Value,
        decide: impl AsyncFn(&mut Desk<'_, '_>) -> Result<Recording, Fault>,
        render: impl Fn(&Recorded) -> Result<Vec<u8>, StoreError>,
    ) -> Result<Outcome, Fault> {
        self.run(request, 201, async |tx| {
            let mut desk = Desk::at(tx);
            let mut recording = decide(&mut desk).await?;
            if let Some(wrong) = request.replaces {
                stand_in(&mut recording, &tx.record_to_replace(wrong).await?)?;
            }
            let recorded = tx.write(request, facts, recording).await?;
            Ok(render(&recorded)?)
        })
        .await
    }

    /// Records all of `asked` in their order, each seeing the ones before it, or none of them.
    /// # Errors
    /// Every refusal of the rules, each under `/items/` and its place; else as [`Books::record`].
    pub async fn record_all<T>(
        &self,
        request: &Request,
        asked: &[(T, Value)],
        decide: impl AsyncFn(&mut Desk<'_, '_>, &T) -> Result<Recording, Fault>,
        render: impl Fn(&[Recorded]) -> Result<Vec<u8>, StoreError>,
    ) -> Result<Outcome, Fault> {
        self.run(request, 201, async |tx| {
            let mut all = Vec::with_capacity(asked.len());
            let mut findings = Findings::new();
            for (place, (value, facts)) in asked.iter().enumerate() {
                let mut desk = Desk::at(tx);
                match decide(&mut desk, value).await {
                    Ok(recording) => all.push(tx.write(request, facts, recording).await?),
                    Err(Fault::Refusal(refusal)) => findings.add(refusal.under(&format!("/items/{place}"))),
                    Err(Fault::Store(error)) => return Err(error.into()),
                }
            }
            findings.or_refuse()?;
            Ok(render(&all)?)
        })
        .await
    }

    /// The one way of a write: the key is claimed, the books wait their turn, `work` writes and makes the answer,
    /// which is kept with its `status`.
    pub(super) async fn run(
        &self,
        request: &Request,
        status: u16,
        work: impl AsyncFn(&mut Tx<'_>) -> Result<Vec<u8>, Fault>,
    ) -> Result<Outcome, Fault> {
        let _turn = self.database.turn(self.id, Turn::Writer, request.key.as_ref()).await?;
        match again_if_lost(Abort::store_error, async || self.try_run(request, status, &work).await).await {
            Ok(outcome) | Err(Abort::Answered(outcome)) => Ok(outcome),
            Err(Abort::Fault(fault)) => Err(fault),
        }
    }

    async fn try_run(
        &self,
        request: &Request,
        status: u16,
        work: &impl AsyncFn(&mut Tx<'_>) -> Result<Vec<u8>, Fault>,
    ) -> Result<Outcome, Abort> {
        let id = self.id;
        let write = async |connection: &mut AsyncPgConnection| {
            let mut tx = begin_claimed(connection, id, request.key.as_ref()).await?;
            if let Some(before) = tx.answered_before(request.key.as_ref()).await? {
                return Err(Abort::Answered(Outcome::Replayed(before)));
            }
            tx.takes_changes()?;
            let body = work(&mut tx).await?;
            if request.mode == Mode::DryRun {
                // What is only checked at commit is checked now, so that a dry run promises nothing false.
                diesel::insert_into(deferred_checks::table)
                    .values(deferred_checks::books_id.eq(tx.id.0))
                    .execute(tx.connection)
                    .await?;
                return Err(Abort::Answered(Outcome::Shown { body }));
            }
            let answer = Kept { status, body };
            tx.keep_answer(request.key.as_ref(), &answer).await?;
            Ok(Outcome::Recorded { body: answer.body })
        };
        self.database.transaction(id, Turn::Writer, write).await
    }
}

impl Tx<'_> {
    async fn write(
        &mut self,
        request: &Request,
        facts: &Value,
        recording: Recording,
    ) -> Result<Recorded, StoreError> {
        let id = RecordId(main_thing(&recording).unwrap_or_else(Uuid::now_v7));
        self.write_record(id, facts, &recording).await?;
        self.write_sources(id, &recording).await?;
        let (after, before): (Vec<_>, Vec<_>) =
            recording.rows.iter().enumerate().partition(|(_, row)| closes(row));
        for (place, row) in before {
            self.write_row(id, place, row).await?;
        }
        let mut shown = Vec::with_capacity(recording.entries.len());
        for (place, entry) in recording.entries.iter().enumerate() {
            let number = self.write_entry(id, place, entry).await?;
            shown.push(EntryShown {
                number: (request.mode == Mode::Record).then_some(number),
                date: entry.date,
                text: entry.text.clone(),
                kind: entry.kind.as_str(),
                reverses: entry.reverses(),
                postings: entry.postings().to_vec(),
            });
        }
        for (place, row) in after {
            self.write_row(id, place, row).await?;
        }
        self.write_movements(id, &recording).await?;
        self.write_attributions(id, &recording.attributions).await?;
        self.note(&request.act, About::Record(id)).await?;
        let things = recording.rows.iter().filter_map(thing_made).collect();
        Ok(Recorded { id, mode: request.mode, facts: facts.clone(), entries: shown, things, recording })
    }

    async fn write_record(
        &mut self,
        id: RecordId,
        facts: &Value,
        recording: &Recording,
    ) -> Result<(), StoreError> {
        let books = self.id.0;
        diesel::insert_into(records::table)
            .values((
                records::books_id.eq(books),
                records::id.eq(id.0),
                records::word.eq(recording.word.as_str()),
                records::kind.eq(recording.kind),
                records::date.eq(recording.date),
                records::party_id.eq(recording.party.map(|party| party.0)),
                records::text.eq(&recording.text),
                records::streams.eq(recording.streams.iter().map(|one| one.as_str()).collect::<Vec<_>>()),
                records::facts.eq(facts),
                records::notes.eq(&recording.notes),
                records::replaces.eq(recording.replaces.map(|wrong| wrong.0)),
            ))
            .execute(self.connection)
            .await?;
        let mut depends_on = recording.depends_on.clone();
        depends_on.extend(self.givers_of(recording).await?);
        depends_on.sort_unstable();
        depends_on.dedup();
        let links: Vec<_> = depends_on
            .iter()
            .map(|on| {
                (
                    record_links::books_id.eq(books),
                    record_links::record_id.eq(id.0),
                    record_links::depends_on.eq(on.0),
                )
            })
            .collect();
        insert_rows!(record_links, links, self.connection);
        let reversed: Vec<_> = recording
            .reverses
            .iter()
            .map(|record| {
                (
                    record_reversals::books_id.eq(books),
                    record_reversals::record_id.eq(record.0),
                    record_reversals::reversal_id.eq(id.0),
                )
            })
            .collect();
        insert_rows!(record_reversals, reversed, self.connection);
        Ok(())
    }

    async fn write_sources(&mut self, id: RecordId, recording: &Recording) -> Result<(), StoreError> {
        let books = self.id.0;
        let rows: Vec<_> = recording
            .sources
            .iter()
            .map(|source| {
                (
                    sources::books_id.eq(books),
                    sources::id.eq(source.id.0),
                    sources::record_id.eq(id.0),
                    sources::side.eq(source.side.as_str()),
                    sources::kind.eq(source.kind.as_str()),
                    sources::text.eq(&source.text),
                )
            })
            .collect();
        insert_rows!(sources, rows, self.connection);
        Ok(())
    }

    async fn write_entry(&mut self, id: RecordId, place: usize, entry: &Entry) -> Result<i64, StoreError> {
        let (books, number) = (self.id, self.card().head.number + 1);
        let hash = seal(
            &self.card().head.hash,
            &EntryToSeal {
                form: Form::NEWEST,
                books,
                number,
                date: entry.date,
                kind: entry.kind,
                text: &entry.text,
                record: id,
                reverses: entry.reverses(),
                postings: entry.postings(),
            },
        );
        diesel::insert_into(entries::table)
            .values((
                entries::books_id.eq(books.0),
                entries::number.eq(number),
                entries::record_id.eq(id.0),
                entries::place.eq(ordinal(place)),
                entries::date.eq(entry.date),
                entries::kind.eq(entry.kind.as_str()),
                entries::text.eq(&entry.text),
                entries::reverses.eq(entry.reverses()),
                entries::hash.eq(hash.bytes().to_vec()),
                entries::form.eq(Form::NEWEST.number()),
            ))
            .execute(self.connection)
            .await?;
        let lines: Vec<_> = entry
            .postings()
            .iter()
            .enumerate()
            .map(|(line, posting)| {
                (
                    postings::books_id.eq(books.0),
                    postings::entry_number.eq(number),
                    postings::line.eq(ordinal(line)),
                    postings::account.eq(posting.account.code()),
                    postings::amount.eq(posting.amount.amount()),
                    postings::tax_class.eq(posting.class.map(|class| class.as_str())),
                    postings::tax_year.eq(posting.tax_year),
                )
            })
            .collect();
        diesel::insert_into(postings::table).values(lines).execute(self.connection).await?;
        self.set_head(number, &hash).await?;
        Ok(number)
    }

    async fn write_movements(&mut self, id: RecordId, recording: &Recording) -> Result<(), StoreError> {
        let books = self.id.0;
        let count = i64::from(ordinal(recording.entries.len()));
        let first = self.card().head.number - count + 1;
        let rows: Vec<_> = recording
            .movements
            .iter()
            .map(|movement| {
                (
                    movements::books_id.eq(books),
                    movements::id.eq(Uuid::now_v7()),
                    movements::record_id.eq(id.0),
                    movements::source_id.eq(movement.source.0),
                    movements::date.eq(movement.date),
                    movements::kind.eq(movement.kind.as_str()),
                    movements::amount.eq(movement.amount.amount()),
                    movements::entry_number.eq(movement.entry.map(|place| first + i64::from(ordinal(place)))),
                )
            })
            .collect();
        insert_rows!(movements, rows, self.connection);
        let objects: std::collections::BTreeSet<CostObject> = recording
            .attributions
            .iter()
            .map(|attribution| attribution.object)
            .chain(recording.about.iter().copied())
            .collect();
        let objects: Vec<_> = objects
            .into_iter()
            .enumerate()
            .map(|(place, object)| {
                let (episode, project) = object_columns(Some(object));
                (
                    record_objects::books_id.eq(books),
                    record_objects::record_id.eq(id.0),
                    record_objects::place.eq(ordinal(place)),
                    record_objects::episode_id.eq(episode),
                    record_objects::project_id.eq(project),
                )
            })
            .collect();
        insert_rows!(record_objects, objects, self.connection);
        Ok(())
    }

    async fn write_attributions(&mut self, id: RecordId, made: &[Attribution]) -> Result<(), StoreError> {
        let books = self.id.0;
        let rows: Vec<_> = made
            .iter()
            .map(|one| {
                let (episode, project) = object_columns(Some(one.object));
                (
                    attributions::books_id.eq(books),
                    attributions::id.eq(Uuid::now_v7()),
                    attributions::record_id.eq(id.0),
                    attributions::source_id.eq(one.source.0),
                    attributions::date.eq(one.date),
                    attributions::episode_id.eq(episode),
                    attributions::project_id.eq(project),
                    attributions::label.eq(one.label.as_str()),
                    attributions::amount.eq(one.amount.amount()),
                )
            })
            .collect();
        insert_rows!(attributions, rows, self.connection);
        Ok(())
    }
}

/// Closing is written after its own entries, which lie in the days it closes; reopening before them.
const fn closes(row: &Row) -> bool {
    matches!(row, Row::PeriodAct(PeriodAct { kind: PeriodActKind::Closed, .. }))
}
