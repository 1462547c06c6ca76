//! Lists: filters, pages and the single read, the same for every word.

mod cursors;

use std::fmt::{self, Display};
use std::str::FromStr;

use actix_web::HttpResponse;
use actix_web::http::header::LINK;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

pub use cursors::{NextPage, SealedCursor, checked as cursor_checked};

use super::answer::{Answer, KeptBody};
use super::door::{Door, Reads};
use super::problem::{Problem, ProblemKind};
use crate::rules::ids::{EpisodeId, PartyId, ProjectId, RecordId};
use crate::rules::journal::Stream;
use crate::rules::recording::Word;
use crate::store::records::{After, RecordFilter, ThingFilter};

/// The largest page; a larger one is refused, not cut.
const LIMIT_MAX: i64 = 200;
const LIMIT_USUAL: i64 = 50;

/// What every list takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ListQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// Only what names this episode.
    pub episode: Option<EpisodeId>,
    /// Only what names this project itself; what names an episode of it is found by that.
    pub project: Option<ProjectId>,
    /// Only what was with this party.
    pub party: Option<PartyId>,
    /// Only what counts for this stream of income.
    pub stream: Option<Stream>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// What a list of tools, pieces or deals takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ThingsQuery {
    /// The first day, included: of those that came, or were agreed, from then on.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// Only what names this episode.
    pub episode: Option<EpisodeId>,
    /// Only what names this project itself; what names an episode of it is found by that.
    pub project: Option<ProjectId>,
    /// Only what was with this party.
    pub party: Option<PartyId>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// A page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct PageBody<T> {
    pub items: Vec<T>,
    /// The address of the next page; left out on the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<String>,
}

/// A text that names no place in the list.
#[derive(Clone, Copy, Debug)]
pub struct NoPlace;

/// Where a page ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cursor(pub After);

impl Display for Cursor {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}.{}", self.0.date, self.0.id.simple())
    }
}

impl FromStr for Cursor {
    type Err = NoPlace;

    fn from_str(text: &str) -> Result<Self, NoPlace> {
        let (date, id) = text.split_once('.').ok_or(NoPlace)?;
        let date = date.parse().ok().ok_or(NoPlace)?;
        Ok(Self(After { date, id: Uuid::try_parse(id).ok().ok_or(NoPlace)? }))
    }
}

/// How many, between 1 and 200.
/// # Errors
/// The problem to answer with.
pub fn limit_of(asked: Option<i64>) -> Result<i64, Problem> {
    let limit = asked.unwrap_or(LIMIT_USUAL);
    if (1..=LIMIT_MAX).contains(&limit) {
        return Ok(limit);
    }
    Err(Problem::new(ProblemKind::MalformedRequest)
        .with(format!("limit={limit} is not between 1 and {LIMIT_MAX}; ask for less and follow next")))
}

/// Where the page before ended, if there was one.
/// # Errors
/// The problem to answer with.
pub fn place_of<P: FromStr>(cursor: Option<&SealedCursor>) -> Result<Option<P>, Problem> {
    cursor.map(SealedCursor::place).transpose()
}

/// One page, with the same link in the body and in the `Link` header.
pub fn page<T: Serialize>(items: Vec<T>, next: Option<String>) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    if let Some(next) = &next {
        answer.insert_header((LINK, format!("<{next}>; rel=\"next\"")));
    }
    answer.json(PageBody { items, next })
}

impl ListQuery {
    pub fn filter(&self) -> RecordFilter {
        RecordFilter {
            from: self.from,
            to: self.to,
            episode: self.episode,
            project: self.project,
            party: self.party,
            stream: self.stream,
        }
    }

    /// The address of the page after that record, with the same filters.
    fn next(&self, path: &str, cursor: Cursor) -> NextPage {
        NextPage::after(path, cursor)
            .with("from", self.from)
            .with("to", self.to)
            .with("episode", self.episode)
            .with("project", self.project)
            .with("party", self.party)
            .with("stream", self.stream)
            .with("limit", self.limit)
    }
}

impl ThingsQuery {
    pub fn filter(&self) -> ThingFilter {
        ThingFilter {
            from: self.from,
            to: self.to,
            episode: self.episode,
            project: self.project,
            party: self.party,
        }
    }

    /// How many the page shows, and what it comes after.
    /// # Errors
    /// The problem to answer with.
    pub fn asked(&self) -> Result<(i64, Option<After>), Problem> {
        let after = place_of::<Cursor>(self.cursor.as_ref())?.map(|cursor| cursor.0);
        Ok((limit_of(self.limit)?, after))
    }

    /// The page of what was found, which is one more than `limit` where there are more.
    pub fn page<T: Serialize + Placed>(
        &self,
        door: &Door<Reads>,
        path: &str,
        limit: i64,
        mut found: Vec<T>,
    ) -> HttpResponse {
        let more = cut_to(&mut found, limit);
        let last = found.last().filter(|_| more).map(|last| Cursor(last.place()));
        let next = last.map(|cursor| {
            NextPage::after(path, cursor)
                .with("from", self.from)
                .with("to", self.to)
                .with("episode", self.episode)
                .with("project", self.project)
                .with("party", self.party)
                .with("limit", self.limit)
        });
        door.page(found, next)
    }
}

/// Something a list shows, which knows its place in it.
pub trait Placed {
    fn place(&self) -> After;
}

/// Whether there are more than `limit`: one more was asked for than a page shows, and is cut off again.
pub fn cut_to<T>(found: &mut Vec<T>, limit: i64) -> bool {
    let wanted = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = found.len() > wanted;
    found.truncate(wanted);
    more
}

impl Door<Reads> {
    /// A page of a list, its next address sealed for these books.
    pub fn page<T: Serialize>(&self, items: Vec<T>, next: Option<NextPage>) -> HttpResponse {
        page(items, next.map(|next| self.address_of(&next)))
    }

    /// The address of a next page, sealed for these books.
    pub fn address_of(&self, next: &NextPage) -> String {
        next.sealed(&self.holder.cursor_key)
    }

    /// A page of a word's records, oldest first.
    /// # Errors
    /// The problem to answer with.
    pub async fn list(self, word: Word, path: &str, query: ListQuery) -> Answer {
        let limit = limit_of(query.limit)?;
        let after = place_of::<Cursor>(query.cursor.as_ref())?.map(|cursor| cursor.0);
        let filter = query.filter();
        let mut found = self.look(async |tx| Ok(tx.records(word, &filter, after, limit + 1).await?)).await?;
        let more = cut_to(&mut found, limit);
        let last = found.last().map(|kept| Cursor(After { date: kept.date, id: kept.id.0 }));
        let next = last.filter(|_| more).map(|cursor| query.next(path, cursor));
        Ok(self.page(found.into_iter().map(KeptBody::listed).collect(), next))
    }

    /// One record with its entries and attributions.
    /// # Errors
    /// The problem to answer with.
    pub async fn one(self, word: Option<Word>, id: RecordId) -> Answer {
        let look = self.look(async |tx| {
            let kept = tx.record(word, id).await?;
            let entries = tx.entries_of(id).await?;
            let attributions = tx.attributions_of(id).await?;
            let documents = tx.documents_of(id).await?;
            let takes_back = tx.reversed_in(id).await?;
            Ok(KeptBody { takes_back, ..KeptBody::whole(kept, &entries, &attributions, documents) })
        });
        let body = look.await?;
        self.known.answer(body.version, &body)
    }
}

/// The list and the single read of a word, whose paths and names differ and nothing else.
macro_rules! listed {
    ($word:ident, $tag:literal, $list:ident $list_path:literal, $read:ident $read_path:literal) => {
        #[utoipa::path(tag = $tag, params(crate::api::lists::ListQuery), responses(
            (status = 200, description = "A page", body = crate::api::lists::PageBody<crate::api::answer::KeptBody>)
        ))]
        #[get($list_path)]
        pub async fn $list(
            door: crate::api::door::Door<crate::api::door::Reads>,
            query: actix_web::web::Query<crate::api::lists::ListQuery>,
        ) -> crate::api::answer::Answer {
            door.list(crate::rules::recording::Word::$word, $list_path, query.into_inner()).await
        }

        #[utoipa::path(tag = $tag, responses(
            (status = 200, description = "The record", body = crate::api::answer::KeptBody)
        ))]
        #[get($read_path)]
        pub async fn $read(
            door: crate::api::door::Door<crate::api::door::Reads>,
            id: actix_web::web::Path<crate::rules::ids::RecordId>,
        ) -> crate::api::answer::Answer {
            door.one(Some(crate::rules::recording::Word::$word), id.into_inner()).await
        }
    };
}
pub(super) use listed;
