//! Answers: what was recorded, and what is kept, as JSON.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::ContentType;
use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::problem::Problem;
use crate::rules::ids::{DocumentId, EpisodeId, PartyId, ProjectId, RecordId, SourceId};
use crate::rules::journal::{Posting, TaxClass};
use crate::rules::money::Money;
use crate::rules::recording::CostObject;
use crate::rules::revisions::Version;
use crate::store::error::StoreError;
use crate::store::idempotency::Kept;
use crate::store::recording::{EntryShown, Mode, Recorded};
use crate::store::records::{AttributionKept, RecordKept};

/// What a handler gives back.
pub type Answer = Result<HttpResponse, Problem>;

/// The answer to a write.
#[derive(Debug, Serialize, ToSchema)]
pub struct RecordedBody {
    /// Left out in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<RecordId>,
    /// False in a dry run: nothing was written.
    pub recorded: bool,
    /// The record as it was understood.
    #[schema(value_type = Object)]
    pub record: Value,
    /// Things it made that later records name by their id: lots, tools, pieces, promises.
    pub things: Vec<ThingBody>,
    /// What it wrote into the journal.
    pub entries: Vec<EntryBody>,
    /// What it gave to episodes and projects.
    pub attributions: Vec<AttributionBody>,
    /// Remarks in words: the character of a sale and why, questions that stay open.
    pub notes: Vec<String>,
}

/// A thing that a record made.
#[derive(Debug, Serialize, ToSchema)]
pub struct ThingBody {
    /// Its word: materials, tools, furniture, deals; or promises, of a deal.
    pub what: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    pub text: String,
}

/// A journal entry.
#[derive(Debug, Serialize, ToSchema)]
pub struct EntryBody {
    /// Left out in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<i64>,
    pub date: NaiveDate,
    /// `ordinary`, or why else it stands in the journal.
    pub kind: String,
    pub text: String,
    /// The entry that this one takes back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reverses: Option<i64>,
    /// Its postings: they sum to zero.
    pub postings: Vec<PostingBody>,
}

/// A line of an entry: debits positive, credits negative, in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct PostingBody {
    #[schema(value_type = String, example = "expense:supplies")]
    pub account: String,
    pub amount: Money,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<TaxClass>,
    pub tax_year: i32,
}

/// An attributed amount.
#[derive(Debug, Serialize, ToSchema)]
pub struct AttributionBody {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// The record that made it; left out inside that record's own answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<SourceId>,
    pub date: NaiveDate,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    pub category: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
    pub amount: Money,
}

/// A record as it is kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptBody {
    pub id: RecordId,
    /// The word under whose address it was made.
    pub word: String,
    /// Which of the word's records it is, such as `sale`.
    pub kind: String,
    pub date: NaiveDate,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    pub text: String,
    /// As it was stated. Parties, projects, episodes and accounts are shown under their own addresses with the labels
    /// they have now.
    #[schema(value_type = Object)]
    pub record: Value,
    pub notes: Vec<String>,
    pub recorded_at: DateTime<Utc>,
    /// The record that took this one back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reversed_by: Option<RecordId>,
    /// The record that was taken back and that this one stands in for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaces: Option<RecordId>,
    /// The record that stands in for this one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaced_by: Option<RecordId>,
    /// Of a reversal: the records that it took back.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub takes_back: Vec<RecordId>,
    /// Of a thing with labels that can change, while it stands: the same as in its `ETag`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub version: Option<Version>,
    /// What it wrote into the journal; left out of lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entries: Option<Vec<EntryBody>>,
    /// What it gave to episodes and projects; left out of lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub attributions: Option<Vec<AttributionBody>>,
    /// The documents that prove it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub documents: Option<Vec<DocumentId>>,
}

/// The episode or the project of an object.
pub fn split(object: CostObject) -> (Option<EpisodeId>, Option<ProjectId>) {
    match object {
        CostObject::Episode(episode) => (Some(episode), None),
        CostObject::Project(project) => (None, Some(project)),
    }
}

impl From<&Posting> for PostingBody {
    fn from(posting: &Posting) -> Self {
        Self {
            account: posting.account.code(),
            amount: posting.amount,
            class: posting.class,
            tax_year: posting.tax_year,
        }
    }
}

impl From<&EntryShown> for EntryBody {
    fn from(entry: &EntryShown) -> Self {
        Self {
            number: entry.number,
            date: entry.date,
            kind: entry.kind.to_owned(),
            text: entry.text.clone(),
            reverses: entry.reverses,
            postings: entry.postings.iter().map(PostingBody::from).collect(),
        }
    }
}

impl From<&AttributionKept> for AttributionBody {
    fn from(kept: &AttributionKept) -> Self {
        let (episode, project) = split(kept.object);
        Self {
            id: Some(kept.id),
            record: Some(kept.record),
            source: Some(kept.source),
            date: kept.date,
            episode,
            project,
            category: kept.label.clone(),
            side: Some(kept.side.as_str().to_owned()),
            text: Some(kept.text.clone()),
            amount: kept.amount,
        }
    }
}

impl KeptBody {
    /// A line of a list: entries and attributions are in the single read.
    pub fn listed(kept: RecordKept) -> Self {
        Self {
            id: kept.id,
            word: kept.word,
            kind: kept.kind,
            date: kept.date,
            party: kept.party,
            text: kept.text,
            record: kept.facts,
            notes: kept.notes,
            recorded_at: kept.created_at,
            reversed_by: kept.reversed_by,
            replaces: kept.replaces,
            replaced_by: kept.replaced_by,
            takes_back: Vec::new(),
            version: kept.version,
            entries: None,
            attributions: None,
            documents: None,
        }
    }

    pub fn whole(
        kept: RecordKept,
        entries: &[EntryShown],
        attributions: &[AttributionKept],
        documents: Vec<DocumentId>,
    ) -> Self {
        Self {
            entries: Some(entries.iter().map(EntryBody::from).collect()),
            attributions: Some(attributions.iter().map(AttributionBody::from).collect()),
            documents: Some(documents),
            ..Self::listed(kept)
        }
    }
}

/// The answer to a write, as it is kept under its key.
/// # Errors
/// [`StoreError::Json`].
pub fn render(recorded: &Recorded) -> Result<Vec<u8>, StoreError> {
    Ok(serde_json::to_vec(&RecordedBody::from(recorded))?)
}

impl From<&Recorded> for RecordedBody {
    fn from(recorded: &Recorded) -> Self {
        let kept = recorded.mode == Mode::Record;
        let attributions = recorded.recording.attributions.iter().map(|one| {
            let (episode, project) = split(one.object);
            AttributionBody {
                id: None,
                record: None,
                source: kept.then_some(one.source),
                date: one.date,
                episode,
                project,
                category: one.label.as_str().to_owned(),
                side: None,
                text: None,
                amount: one.amount,
            }
        });
        let things = recorded.things.iter().map(|thing| ThingBody {
            what: thing.what.to_owned(),
            id: kept.then_some(thing.id),
            text: thing.text.clone(),
        });
        RecordedBody {
            id: kept.then_some(recorded.id),
            recorded: kept,
            record: recorded.facts.clone(),
            things: things.collect(),
            entries: recorded.entries.iter().map(EntryBody::from).collect(),
            attributions: attributions.collect(),
            notes: recorded.recording.notes.clone(),
        }
    }
}

/// What was recorded.
pub fn recorded(body: Vec<u8>) -> HttpResponse {
    HttpResponse::Created().insert_header(ContentType::json()).body(body)
}

/// What a dry run shows.
pub fn shown(body: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok().insert_header(ContentType::json()).body(body)
}

/// The first answer again, to the byte, and marked.
pub fn replayed(kept: Kept) -> HttpResponse {
    let mut answer = HttpResponse::build(StatusCode::from_u16(kept.status).unwrap_or(StatusCode::OK));
    answer.insert_header(("Idempotency-Replayed", "true"));
    if kept.body.is_empty() {
        return answer.finish();
    }
    answer.insert_header(ContentType::json()).body(kept.body)
}
