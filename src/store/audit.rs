//! The audit: who changed the books, when, how and by which request. Each line is written in the transaction of the
//! change itself, so that there is none without the other.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{audit_lines, tokens};
use crate::rules::ids::{BooksId, RecordId, TokenId};

/// Whose hand changes the books.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    Token(TokenId),
    /// No token of these books: the command line of the machine, or the books beside which these were opened.
    Outside,
}

/// A change on its way: by whom, by which request, and what was asked for.
#[derive(Clone, Debug)]
pub struct Act {
    pub by: Hand,
    pub request_id: Uuid,
    pub action: String,
}

impl Act {
    /// What the command line does.
    pub fn outside(action: &str) -> Self {
        Self { by: Hand::Outside, request_id: Uuid::now_v7(), action: action.to_owned() }
    }
}

/// What a change is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    Record(RecordId),
    Token(TokenId),
    /// Books that were opened beside these.
    Books(BooksId),
}

/// One line as it is kept.
#[derive(Clone, Debug)]
pub struct AuditLine {
    pub id: Uuid,
    pub at: DateTime<Utc>,
    pub by: Hand,
    /// The token's name.
    pub name: Option<String>,
    pub request_id: Uuid,
    pub action: String,
    pub about: Option<About>,
}

/// Which lines a list shows.
#[derive(Clone, Copy, Debug, Default)]
pub struct AuditFilter {
    pub since: Option<DateTime<Utc>>,
    pub until: Option<DateTime<Utc>>,
    pub token: Option<TokenId>,
    pub record: Option<RecordId>,
}

impl Tx<'_> {
    /// Writes who did it, in the transaction of what was done; the line's id is given back.
    pub(super) async fn note(&mut self, act: &Act, about: About) -> Result<Uuid, StoreError> {
        let id = Uuid::now_v7();
        let (record, token, books) = match about {
            About::Record(record) => (Some(record.0), None, None),
            About::Token(token) => (None, Some(token.0), None),
            About::Books(books) => (None, None, Some(books.0)),
        };
        let by = match act.by {
            Hand::Token(by) => Some(by.0),
            Hand::Outside => None,
        };
        diesel::insert_into(audit_lines::table)
            .values((
                audit_lines::books_id.eq(self.id.0),
                audit_lines::id.eq(id),
                audit_lines::token_id.eq(by),
                audit_lines::request_id.eq(act.request_id),
                audit_lines::action.eq(&act.action),
                audit_lines::record_id.eq(record),
                audit_lines::about_token.eq(token),
                audit_lines::about_books.eq(books),
            ))
            .execute(self.connection)
            .await?;
        Ok(id)
    }

    /// The lines after `after`, oldest first, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn audit(
        &mut self,
        filter: &AuditFilter,
        after: Option<(DateTime<Utc>, Uuid)>,
        limit: i64,
    ) -> Result<Vec<AuditLine>, StoreError> {
        let holder =
            tokens::books_id.eq(audit_lines::books_id).and(audit_lines::token_id.eq(tokens::id.nullable()));
        let mut query = audit_lines::table
            .left_join(tokens::table.on(holder))
            .filter(audit_lines::books_id.eq(self.id.0))
            .into_boxed();
        if let Some(since) = filter.since {
            query = query.filter(audit_lines::at.ge(since));
        }
        if let Some(until) = filter.until {
            query = query.filter(audit_lines::at.le(until));
        }
        if let Some(token) = filter.token {
            query = query.filter(audit_lines::token_id.eq(token.0));
        }
        if let Some(record) = filter.record {
            query = query.filter(audit_lines::record_id.eq(record.0));
        }
        if let Some((at, id)) = after {
            query =
                query.filter(audit_lines::at.gt(at).or(audit_lines::at.eq(at).and(audit_lines::id.gt(id))));
        }
        let rows: Vec<LineRow> = query
            .order((audit_lines::at, audit_lines::id))
            .limit(limit)
            .select((
                audit_lines::id,
                audit_lines::at,
                audit_lines::token_id,
                tokens::name.nullable(),
                audit_lines::request_id,
                audit_lines::action,
                audit_lines::record_id,
                audit_lines::about_token,
                audit_lines::about_books,
            ))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(line).collect())
    }
}

type LineRow = (
    Uuid,
    DateTime<Utc>,
    Option<Uuid>,
    Option<String>,
    Uuid,
    String,
    Option<Uuid>,
    Option<Uuid>,
    Option<Uuid>,
);

fn line((id, at, by, name, request_id, action, record, token, books): LineRow) -> AuditLine {
    let about = record
        .map(|record| About::Record(RecordId(record)))
        .or(token.map(|token| About::Token(TokenId(token))))
        .or(books.map(|books| About::Books(BooksId(books))));
    let by = by.map_or(Hand::Outside, |by| Hand::Token(TokenId(by)));
    AuditLine { id, at, by, name, request_id, action, about }
}
