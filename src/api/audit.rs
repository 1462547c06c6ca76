//! The audit over HTTP: who changed what, when, and by which request.

use std::str::FromStr;

use actix_web::{get, web};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::answer::Answer;
use super::door::{Door, Reads};
use super::lists::{NextPage, NoPlace, PageBody, SealedCursor, cut_to, limit_of, place_of};
use crate::rules::ids::{BooksId, RecordId, TokenId};
use crate::store::audit::{About, AuditFilter, AuditLine, Hand};

/// What the list of audit lines takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AuditQuery {
    /// The first instant, included.
    pub since: Option<DateTime<Utc>>,
    /// The last instant, included.
    pub until: Option<DateTime<Utc>>,
    /// Only what that token did.
    pub token: Option<TokenId>,
    /// Only what made that record.
    pub record: Option<RecordId>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// One change of the books.
#[derive(Debug, Serialize, ToSchema)]
pub struct AuditLineBody {
    pub id: Uuid,
    /// When it was asked for.
    pub at: DateTime<Utc>,
    /// Whose token it was; left out where it was none of these books: the command line, or books beside them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub token: Option<TokenId>,
    /// That token's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The request, as its answer's `X-Request-Id` named it.
    pub request: Uuid,
    /// What was asked for: the method and the address.
    pub action: String,
    /// The record that was made, or that brought the thing whose labels were changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordId>,
    /// The token that was made or revoked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about_token: Option<TokenId>,
    /// The books that were opened beside these, or these themselves where they moved to another server or came back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about_books: Option<BooksId>,
}

impl From<AuditLine> for AuditLineBody {
    fn from(line: AuditLine) -> Self {
        let token = match line.by {
            Hand::Token(token) => Some(token),
            Hand::Outside => None,
        };
        let (record, about_token, about_books) = match line.about {
            None => (None, None, None),
            Some(About::Record(record)) => (Some(record), None, None),
            Some(About::Token(token)) => (None, Some(token), None),
            Some(About::Books(books)) => (None, None, Some(books)),
        };
        let (request, by) = (line.request_id, line.name);
        let (id, at, action) = (line.id, line.at, line.action);
        Self { id, at, token, by, request, action, record, about_token, about_books }
    }
}

/// Where a page of audit lines ended: microseconds since 1970, as PostgreSQL keeps an instant, and the line.
struct AuditCursor(DateTime<Utc>, Uuid);

impl FromStr for AuditCursor {
    type Err = NoPlace;

    fn from_str(text: &str) -> Result<Self, NoPlace> {
        let read = || {
            let (at, id) = text.split_once('.')?;
            Some(Self(DateTime::from_timestamp_micros(at.parse().ok()?)?, Uuid::try_parse(id).ok()?))
        };
        read().ok_or(NoPlace)
    }
}

/// Lists who changed what, when and by which request, oldest first.
#[utoipa::path(tag = "audit", params(AuditQuery), responses(
    (status = 200, description = "A page", body = PageBody<AuditLineBody>)
))]
#[get("/v1/audit")]
pub async fn list_audit_lines(door: Door<Reads>, query: web::Query<AuditQuery>) -> Answer {
    let query = query.into_inner();
    let limit = limit_of(query.limit)?;
    let after = place_of::<AuditCursor>(query.cursor.as_ref())?.map(|one| (one.0, one.1));
    let AuditQuery { since, until, token, record, .. } = query;
    let filter = AuditFilter { since, until, token, record };
    let mut found = door.look(async |tx| Ok(tx.audit(&filter, after, limit + 1).await?)).await?;
    let more = cut_to(&mut found, limit);
    let last = found.last().filter(|_| more).map(|last| {
        NextPage::after("/v1/audit", format!("{}.{}", last.at.timestamp_micros(), last.id.simple()))
            .with("since", since.map(|at| at.to_rfc3339()))
            .with("until", until.map(|at| at.to_rfc3339()))
            .with("token", token)
            .with("record", record)
            .with("limit", query.limit)
    });
    Ok(door.page(found.into_iter().map(AuditLineBody::from).collect(), last))
}
