//! Records: one read, lists with filters, and what hangs on a record.

mod dependants;

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use serde_json::Value;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::EntryShown;
use super::schema::{
    attributions, entries, postings, record_links, record_objects, record_reversals, records, sources,
};
use super::{money, read_as};
use crate::rules::ids::{EpisodeId, PartyId, ProjectId, RecordId, SourceId};
use crate::rules::journal::{Account, EntryKind, Posting, Stream, TaxClass};
use crate::rules::money::Money;
use crate::rules::recording::{CostObject, Side, Word};
use crate::rules::revisions::Version;

/// Which records a list shows.
#[derive(Clone, Debug, Default)]
pub struct RecordFilter {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub episode: Option<EpisodeId>,
    pub project: Option<ProjectId>,
    pub party: Option<PartyId>,
    pub stream: Option<Stream>,
}

/// Which tools, pieces or deals a list shows.
#[derive(Clone, Debug, Default)]
pub struct ThingFilter {
    /// The first and the last day on which they came or were agreed.
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub episode: Option<EpisodeId>,
    pub project: Option<ProjectId>,
    pub party: Option<PartyId>,
}

/// Where a page begins: after the record or thing of that day and id.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct After {
    pub date: NaiveDate,
    pub id: Uuid,
}

/// One record as it is kept.
#[derive(Clone, Debug)]
pub struct RecordKept {
    pub id: RecordId,
    pub word: String,
    pub kind: String,
    pub date: NaiveDate,
    pub party: Option<PartyId>,
    pub text: String,
    /// As it was stated; of a thing that is shown as its record, with the labels of now.
    pub facts: Value,
    pub notes: Vec<String>,
    pub created_at: DateTime<Utc>,
    /// The record that took this one back.
    pub reversed_by: Option<RecordId>,
    /// The record that was taken back and that this one stands in for.
    pub replaces: Option<RecordId>,
    /// The record that stands in for this one.
    pub replaced_by: Option<RecordId>,
    /// Of a thing that is shown as its record, while it stands.
    pub version: Option<Version>,
}

/// An attributed amount with where it comes from.
#[derive(Clone, Debug)]
pub struct AttributionKept {
    pub id: Uuid,
    pub record: RecordId,
    pub source: SourceId,
    pub side: Side,
    pub text: String,
    pub date: NaiveDate,
    pub object: CostObject,
    pub label: String,
    pub amount: Money,
}

type RecordRow = (
    Uuid,
    String,
    String,
    NaiveDate,
    Option<Uuid>,
    String,
    Value,
    Vec<String>,
    DateTime<Utc>,
    Option<Uuid>,
    Option<Uuid>,
);

fn kept(row: RecordRow) -> RecordKept {
    let (id, word, kind, date, party, text, facts, notes, created_at, reversed_by, replaces) = row;
    RecordKept {
        id: RecordId(id),
        word,
        kind,
        date,
        party: party.map(PartyId),
        text,
        facts,
        notes,
        created_at,
        reversed_by: reversed_by.map(RecordId),
        replaces: replaces.map(RecordId),
        replaced_by: None,
        version: None,
    }
}

impl Tx<'_> {
    /// A record of that word, with the labels of now where a thing is shown as its record; of any word, as it was
    /// stated.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn record(&mut self, word: Option<Word>, id: RecordId) -> Result<RecordKept, StoreError> {
        let mut query = records_with_reversal(self.id.0).into_boxed().filter(records::id.eq(id.0));
        if let Some(word) = word {
            query = query.filter(records::word.eq(word.as_str()));
        }
        let row: Option<RecordRow> = query.first(self.connection).await.optional()?;
        let mut found = row.map(kept).ok_or_else(|| Self::missing("record", id))?;
        self.find_replacements(std::slice::from_mut(&mut found)).await?;
        if let Some(word) = word {
            self.label_anew(word, std::slice::from_mut(&mut found)).await?;
        }
        Ok(found)
    }

    /// A page of a word's records, oldest first, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn records(
        &mut self,
        word: Word,
        filter: &RecordFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<RecordKept>, StoreError> {
        let books = self.id.0;
        let mut query = records_with_reversal(self.id.0).into_boxed().filter(records::word.eq(word.as_str()));
        if let Some(from) = filter.from {
            query = query.filter(records::date.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(records::date.le(to));
        }
        if let Some(party) = filter.party {
            query = query.filter(records::party_id.eq(party.0));
        }
        if let Some(stream) = filter.stream {
            query = query.filter(records::streams.contains(vec![stream.as_str()]));
        }
        if let Some(episode) = filter.episode {
            query = query.filter(diesel::dsl::exists(
                record_objects::table
                    .filter(record_objects::books_id.eq(books))
                    .filter(record_objects::record_id.eq(records::id))
                    .filter(record_objects::episode_id.eq(episode.0)),
            ));
        }
        if let Some(project) = filter.project {
            query = query.filter(diesel::dsl::exists(
                record_objects::table
                    .filter(record_objects::books_id.eq(books))
                    .filter(record_objects::record_id.eq(records::id))
                    .filter(record_objects::project_id.eq(project.0)),
            ));
        }
        if let Some(after) = after {
            query = query.filter(
                records::date.gt(after.date).or(records::date.eq(after.date).and(records::id.gt(after.id))),
            );
        }
        let rows: Vec<RecordRow> =
            query.order((records::date, records::id)).limit(limit).load(self.connection).await?;
        let mut found: Vec<_> = rows.into_iter().map(kept).collect();
        self.find_replacements(&mut found).await?;
        self.label_anew(word, &mut found).await?;
        Ok(found)
    }

    /// Which records stand in for those that were taken back.
    async fn find_replacements(&mut self, found: &mut [RecordKept]) -> Result<(), StoreError> {
        let gone: Vec<Uuid> =
            found.iter().filter(|one| one.reversed_by.is_some()).map(|one| one.id.0).collect();
        if gone.is_empty() {
            return Ok(());
        }
        let standing: HashMap<Uuid, Uuid> = records::table
            .filter(records::books_id.eq(self.id.0))
            .filter(records::replaces.eq_any(gone))
            .select((records::replaces.assume_not_null(), records::id))
            .load::<(Uuid, Uuid)>(self.connection)
            .await?
            .into_iter()
            .collect();
        for one in found {
            one.replaced_by = standing.get(&one.id.0).copied().map(RecordId);
        }
        Ok(())
    }

    /// A record's entries in their order.
    /// # Errors
    /// What the database could not do.
    pub async fn entries_of(&mut self, record: RecordId) -> Result<Vec<EntryShown>, StoreError> {
        type Row = (i64, NaiveDate, String, String, Option<i64>);
        let heads: Vec<Row> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::record_id.eq(record.0))
            .order(entries::number)
            .select((entries::number, entries::date, entries::text, entries::kind, entries::reverses))
            .load(self.connection)
            .await?;
        let mut shown = Vec::with_capacity(heads.len());
        for (number, date, text, kind, reverses) in heads {
            shown.push(EntryShown {
                number: Some(number),
                date,
                text,
                kind: read_as("entries.kind", &kind, EntryKind::named)?.as_str(),
                reverses,
                postings: self.postings_of(number).await?,
            });
        }
        Ok(shown)
    }

    /// # Errors
    /// What the database could not do.
    pub async fn postings_of(&mut self, number: i64) -> Result<Vec<Posting>, StoreError> {
        let rows: Vec<(String, Decimal, Option<String>, i32)> = postings::table
            .filter(postings::books_id.eq(self.id.0))
            .filter(postings::entry_number.eq(number))
            .order(postings::line)
            .select((postings::account, postings::amount, postings::tax_class, postings::tax_year))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(account, amount, class, tax_year)| {
                Ok(Posting {
                    account: read_as("postings.account", &account, Account::of_code)?,
                    amount: money("postings.amount", amount, base)?,
                    class: class
                        .map(|class| read_as("postings.tax_class", &class, TaxClass::named))
                        .transpose()?,
                    tax_year,
                })
            })
            .collect()
    }

    /// Which record an entry belongs to.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn record_of_entry(&mut self, number: i64) -> Result<RecordId, StoreError> {
        let found: Option<Uuid> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::number.eq(number))
            .select(entries::record_id)
            .first(self.connection)
            .await
            .optional()?;
        found.map(RecordId).ok_or_else(|| Self::missing("entry", number))
    }

    /// Live records that stand on this one.
    /// # Errors
    /// What the database could not do.
    pub async fn dependants_of(&mut self, record: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let rows: Vec<Uuid> = record_links::table
            .filter(record_links::books_id.eq(self.id.0))
            .filter(record_links::depends_on.eq(record.0))
            .filter(super::live!(record_links))
            .order(record_links::record_id)
            .select(record_links::record_id)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(RecordId).collect())
    }

    /// Of these records, those taken back: by which record, and on which day.
    pub(super) async fn taken_back_among(
        &mut self,
        ids: &[Uuid],
    ) -> Result<HashMap<Uuid, (RecordId, NaiveDate)>, StoreError> {
        let reversal = records::books_id
            .eq(record_reversals::books_id)
            .and(records::id.eq(record_reversals::reversal_id));
        let rows: Vec<(Uuid, Uuid, NaiveDate)> = record_reversals::table
            .inner_join(records::table.on(reversal))
            .filter(record_reversals::books_id.eq(self.id.0))
            .filter(record_reversals::record_id.eq_any(ids))
            .select((record_reversals::record_id, record_reversals::reversal_id, records::date))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(|(record, by, on)| (record, (RecordId(by), on))).collect())
    }

    /// The last day on which any of these records was taken back that is not its own day.
    pub(super) async fn back_after(
        &mut self,
        went: &[(Uuid, NaiveDate)],
    ) -> Result<Option<NaiveDate>, StoreError> {
        let records: Vec<Uuid> = went.iter().map(|(record, _)| *record).collect();
        let taken_back = self.taken_back_among(&records).await?;
        let later = went
            .iter()
            .filter_map(|(record, date)| taken_back.get(record).map(|(_, on)| *on).filter(|on| on > date));
        Ok(later.max())
    }

    /// A record's attributions in the order they were made.
    /// # Errors
    /// What the database could not do.
    pub async fn attributions_of(&mut self, record: RecordId) -> Result<Vec<AttributionKept>, StoreError> {
        let rows: Vec<AttributionRow> = attributions_with_source(self.id.0)
            .filter(attributions::record_id.eq(record.0))
            .order(attributions::id)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter().map(|row| attribution(row, base)).collect()
    }
}

/// Tables whose rows a request can name by their id.
macro_rules! known_ids {
    ($tx:expr, $ids:expr, $($table:ident),+) => {{
        let mut known: Vec<(&'static str, Uuid)> = Vec::new();
        $({
            use super::schema::$table;
            let found: Vec<Uuid> = $table::table
                .filter($table::books_id.eq($tx.id.0))
                .filter($table::id.eq_any($ids))
                .select($table::id)
                .load($tx.connection)
                .await?;
            known.extend(found.into_iter().map(|id| (stringify!($table), id)));
        })+
        known
    }};
}

impl Tx<'_> {
    /// Which of `ids` these books do not have at all; where they have all of them, those that are not `what`.
    /// # Errors
    /// What the database could not do.
    pub async fn unknown_among(&mut self, ids: &[Uuid], what: &str) -> Result<Vec<Uuid>, StoreError> {
        let known = known_ids!(
            self,
            ids,
            records,
            parties,
            projects,
            episodes,
            money_accounts,
            pieces,
            tools,
            lots,
            deals,
            documents,
            sources
        );
        let unknown: Vec<Uuid> =
            ids.iter().copied().filter(|id| !known.iter().any(|(_, one)| one == id)).collect();
        if !unknown.is_empty() {
            return Ok(unknown);
        }
        Ok(ids
            .iter()
            .copied()
            .filter(|id| !known.iter().any(|one| *one == (table_named(what), *id)))
            .collect())
    }
}

fn table_named(what: &str) -> &'static str {
    [
        "parties",
        "projects",
        "episodes",
        "money_accounts",
        "pieces",
        "tools",
        "lots",
        "deals",
        "documents",
        "sources",
    ]
    .into_iter()
    .find(|one| *one == what)
    .unwrap_or("records")
}

#[diesel::dsl::auto_type]
fn records_with_reversal(books: Uuid) -> _ {
    let reversal: diesel::dsl::And<
        diesel::dsl::Eq<record_reversals::books_id, records::books_id>,
        diesel::dsl::Eq<record_reversals::record_id, records::id>,
    > = record_reversals::books_id.eq(records::books_id).and(record_reversals::record_id.eq(records::id));
    records::table.left_join(record_reversals::table.on(reversal)).filter(records::books_id.eq(books)).select(
        (
            records::id,
            records::word,
            records::kind,
            records::date,
            records::party_id,
            records::text,
            records::facts,
            records::notes,
            records::created_at,
            record_reversals::reversal_id.nullable(),
            records::replaces,
        ),
    )
}

#[diesel::dsl::auto_type]
pub(super) fn attributions_with_source(books: Uuid) -> _ {
    let source: diesel::dsl::And<
        diesel::dsl::Eq<sources::books_id, attributions::books_id>,
        diesel::dsl::Eq<sources::id, attributions::source_id>,
    > = sources::books_id.eq(attributions::books_id).and(sources::id.eq(attributions::source_id));
    attributions::table.inner_join(sources::table.on(source)).filter(attributions::books_id.eq(books)).select(
        (
            attributions::id,
            attributions::record_id,
            attributions::source_id,
            sources::side,
            sources::text,
            attributions::date,
            attributions::episode_id,
            attributions::project_id,
            attributions::label,
            attributions::amount,
        ),
    )
}

pub(super) type AttributionRow =
    (Uuid, Uuid, Uuid, String, String, NaiveDate, Option<Uuid>, Option<Uuid>, String, Decimal);

pub(super) fn attribution(
    (id, record, source, side, text, date, episode, project, label, amount): AttributionRow,
    base: crate::rules::money::Currency,
) -> Result<AttributionKept, StoreError> {
    Ok(AttributionKept {
        id,
        record: RecordId(record),
        source: SourceId(source),
        side: read_as("sources.side", &side, Side::named)?,
        text,
        date,
        object: object_of(episode, project)?,
        label,
        amount: money("attributions.amount", amount, base)?,
    })
}

/// The object behind a pair of columns of which one is set.
pub(super) fn object_of(episode: Option<Uuid>, project: Option<Uuid>) -> Result<CostObject, StoreError> {
    match (episode, project) {
        (Some(episode), None) => Ok(CostObject::Episode(EpisodeId(episode))),
        (None, Some(project)) => Ok(CostObject::Project(ProjectId(project))),
        _ => {
            Err(StoreError::Unreadable { column: "episode_id, project_id", found: "not one of them".into() })
        }
    }
}
