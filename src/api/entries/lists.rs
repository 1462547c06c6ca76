//! The journal as lists: entries by number, postings by class, account and year.

use std::fmt;
use std::str::FromStr;

use actix_web::{get, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::api::answer::{Answer, EntryBody, PostingBody};
use crate::api::door::{Door, Reads};
use crate::api::lists::{NextPage, PageBody, SealedCursor, cut_to, limit_of, place_of};
use crate::api::problem::{Problem, ProblemKind};
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, TaxClass};
use crate::store::entries::{AfterLine, EntryListed, JournalFilter, PostingListed};

/// What the lists of the journal take in their query. Account, class and tax year are those of one posting.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JournalQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// An account by its code, such as `expense:supplies`.
    #[param(max_length = 60)]
    pub account: Option<String>,
    /// One tax class or several with commas between them, such as `supplies,office`.
    #[param(max_length = 600)]
    pub class: Option<String>,
    /// Only what belongs to the return of this calendar year.
    #[param(minimum = 1900, maximum = 2199)]
    pub tax_year: Option<i32>,
    /// The record that made it.
    pub record: Option<RecordId>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

fn not_known(what: &str, name: &str, remedy: &str) -> Problem {
    Problem::new(ProblemKind::MalformedRequest).with(format!("there is no {what} '{name}'; {remedy}"))
}

impl JournalQuery {
    fn filter(&self) -> Result<JournalFilter, Problem> {
        let account = self.account.as_deref().map(|code| {
            Account::of_code(code)
                .ok_or_else(|| not_known("account", code, "GET /v1/postings shows the codes"))
        });
        let classes = self.class.iter().flat_map(|list| list.split(',')).map(|name| {
            let classes = "the document lists them under TaxClass (/openapi.json)";
            TaxClass::named(name.trim()).ok_or_else(|| not_known("tax class", name, classes))
        });
        Ok(JournalFilter {
            from: self.from,
            to: self.to,
            account: account.transpose()?,
            classes: classes.collect::<Result<_, _>>()?,
            tax_year: self.tax_year,
            record: self.record,
        })
    }

    fn next(&self, path: &str, cursor: impl fmt::Display) -> NextPage {
        NextPage::after(path, cursor)
            .with("from", self.from)
            .with("to", self.to)
            .with("account", self.account.as_ref())
            .with("class", self.class.as_ref())
            .with("tax_year", self.tax_year)
            .with("record", self.record)
            .with("limit", self.limit)
    }
}

/// A line of an entry, counted from zero, on the wire.
struct LineCursor(AfterLine);

impl fmt::Display for LineCursor {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}.{}", self.0.entry, self.0.line)
    }
}

impl FromStr for LineCursor {
    type Err = std::num::ParseIntError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (entry, line) = text.split_once('.').unwrap_or((text, ""));
        Ok(Self(AfterLine { entry: entry.parse()?, line: line.parse()? }))
    }
}

/// A journal entry with the record that made it.
#[derive(Debug, Serialize, ToSchema)]
pub struct EntryListedBody {
    #[serde(flatten)]
    pub entry: EntryBody,
    pub record: RecordId,
    #[schema(example = "/v1/records/0192a1b2-0000-7000-8000-000000000001")]
    pub link: String,
}

/// A line of an entry with what is worth knowing of the entry.
#[derive(Debug, Serialize, ToSchema)]
pub struct PostingListedBody {
    /// The entry's number.
    pub entry: i64,
    pub date: NaiveDate,
    #[schema(example = "ordinary")]
    pub kind: String,
    pub text: String,
    #[serde(flatten)]
    pub posting: PostingBody,
    pub record: RecordId,
    #[schema(example = "/v1/records/0192a1b2-0000-7000-8000-000000000001")]
    pub link: String,
}

fn link_to(record: RecordId) -> String {
    format!("/v1/records/{record}")
}

impl From<&EntryListed> for EntryListedBody {
    fn from(listed: &EntryListed) -> Self {
        Self { entry: (&listed.entry).into(), record: listed.record, link: link_to(listed.record) }
    }
}

impl From<&PostingListed> for PostingListedBody {
    fn from(listed: &PostingListed) -> Self {
        Self {
            entry: listed.entry,
            date: listed.date,
            kind: listed.kind.as_str().to_owned(),
            text: listed.text.clone(),
            posting: (&listed.posting).into(),
            record: listed.record,
            link: link_to(listed.record),
        }
    }
}

/// Lists entries by their number.
#[utoipa::path(tag = "entries", params(JournalQuery), responses(
    (status = 200, description = "A page", body = PageBody<EntryListedBody>)
))]
#[get("/v1/entries")]
pub async fn list_entries(door: Door<Reads>, query: web::Query<JournalQuery>) -> Answer {
    let (limit, filter, after) =
        (limit_of(query.limit)?, query.filter()?, place_of::<i64>(query.cursor.as_ref())?);
    let mut found = door.look(async |tx| Ok(tx.entries(&filter, after, limit + 1).await?)).await?;
    let more = cut_to(&mut found, limit);
    let next = found.last().filter(|_| more).map(|last| query.next("/v1/entries", last.number));
    Ok(door.page(found.iter().map(EntryListedBody::from).collect(), next))
}

/// Lists postings in the order of the journal: what stands behind a figure of the year.
#[utoipa::path(tag = "entries", params(JournalQuery), responses(
    (status = 200, description = "A page", body = PageBody<PostingListedBody>)
))]
#[get("/v1/postings")]
pub async fn list_postings(door: Door<Reads>, query: web::Query<JournalQuery>) -> Answer {
    let (limit, filter, after) =
        (limit_of(query.limit)?, query.filter()?, place_of::<LineCursor>(query.cursor.as_ref())?);
    let after = after.map(|cursor| cursor.0);
    let mut found = door.look(async |tx| Ok(tx.postings(&filter, after, limit + 1).await?)).await?;
    let more = cut_to(&mut found, limit);
    let last = found.last().map(|one| LineCursor(AfterLine { entry: one.entry, line: one.line }));
    let next = last.filter(|_| more).map(|cursor| query.next("/v1/postings", cursor));
    Ok(door.page(found.iter().map(PostingListedBody::from).collect(), next))
}
