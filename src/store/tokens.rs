//! Tokens: what opens the books over HTTP. Kept as SHA-256 only, shown once.

use chrono::{DateTime, Utc};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::sql_types::{Binary, Bool, Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::audit::{About, Act, Hand};
use super::books::{Books, CursorKey, NewBooks, Turn, Tx, begin_claimed, begin_fenced, fence, open_fenced};
use super::connect::Database;
use super::error::{Fault, StoreError};
use super::idempotency::{IdempotencyKey, Kept};
use super::read_as;
use super::recording::again_if_lost;
use super::schema::tokens;
use crate::rules::ids::{BooksId, TokenId};
use crate::rules::refusal::Refusal;
use crate::rules::tokens::{Scope, ShownToken, TokenFinding, TokenHash};

/// A live token: whose books it opens and how far.
#[derive(Clone)]
pub struct TokenHolder {
    pub token: TokenId,
    pub books: Books,
    pub scope: Scope,
    pub cursor_key: CursorKey,
}

/// One line of the list of tokens; the token itself is not kept.
#[derive(Clone, Debug)]
pub struct TokenListed {
    pub id: TokenId,
    pub name: String,
    pub scope: Scope,
    pub created_at: DateTime<Utc>,
    pub expires_at: Option<DateTime<Utc>>,
    pub revoked_at: Option<DateTime<Utc>>,
    /// To the minute.
    pub last_used_at: Option<DateTime<Utc>>,
    /// The token that this one was made in place of.
    pub replaces: Option<TokenId>,
}

/// Asked by every request: as a query with a type its statement is kept by the connection, and free SQL would be parsed
/// and planned anew each time.
#[derive(QueryId)]
struct HolderOf {
    hash: Vec<u8>,
    named: Option<Uuid>,
}

impl Query for HolderOf {
    type SqlType = (SqlUuid, SqlUuid, Text, Binary, Bool);
}

impl QueryFragment<Pg> for HolderOf {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("SELECT books_id, token_id, scope, cursor_key, use_is_noted FROM books_of_token(");
        out.push_bind_param::<Binary, _>(&self.hash)?;
        out.push_sql(", ");
        out.push_bind_param::<Nullable<SqlUuid>, _>(&self.named)?;
        out.push_sql(")");
        Ok(())
    }
}

impl Database {
    /// Whose books a token opens; none for one that is unknown, expired or revoked.
    /// # Errors
    /// What the database could not do.
    pub async fn holder_of(&self, shown: &ShownToken) -> Result<Option<TokenHolder>, StoreError> {
        type Row = (Uuid, Uuid, String, Vec<u8>, bool);
        let look_up = async |connection: &mut AsyncPgConnection| {
            let named = shown.books.map(|books| books.0);
            let asked = HolderOf { hash: shown.hash.bytes().to_vec(), named };
            let row: Option<Row> = asked.get_result(connection).await.optional()?;
            if let Some((books, token, .., false)) = &row {
                note_use(connection, BooksId(*books), TokenId(*token)).await;
            }
            Ok(row)
        };
        let Some((books, token, scope, cursor_key, _)) = self.ask(look_up).await? else { return Ok(None) };
        Ok(Some(TokenHolder {
            token: TokenId(token),
            books: Books::of(self.clone(), BooksId(books)),
            scope: read_as("tokens.scope", &scope, Scope::named)?,
            cursor_key: CursorKey::of(cursor_key.try_into().map_err(|found: Vec<u8>| {
                let found = format!("{} bytes", found.len());
                StoreError::Unreadable { column: "books.cursor_key", found }
            })?),
        }))
    }
}

/// Notes that the token was used. Nobody is refused because it could not be noted: on a standby nothing can be.
async fn note_use(connection: &mut AsyncPgConnection, books: BooksId, token: TokenId) {
    let noted = diesel::sql_query("SELECT note_token_use($1, $2)")
        .bind::<SqlUuid, _>(books.0)
        .bind::<SqlUuid, _>(token.0)
        .execute(connection)
        .await;
    if let Err(error) = noted {
        tracing::warn!(%error, "the last use of a token could not be noted");
    }
}

/// A token to keep.
#[derive(Clone, Debug)]
pub struct TokenToKeep {
    pub name: String,
    pub scope: Scope,
    pub expires_at: DateTime<Utc>,
    pub hash: TokenHash,
}

/// What administering came to: done now, or done before under the same key.
#[derive(Debug)]
pub enum Administered<T> {
    Done(T),
    Before,
}

/// A token in place of another.
#[derive(Clone, Copy, Debug)]
pub struct Replaced {
    pub id: TokenId,
    pub old_expires_at: DateTime<Utc>,
}

impl Books {
    /// Changes what is no record of the trade: with its audit line, and a mark under its key, in one transaction. The
    /// mark holds no answer: some answers show a secret, which nothing keeps, and the others are empty.
    async fn administer<T>(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        change: impl AsyncFn(&mut Tx<'_>) -> Result<(T, About), Fault>,
    ) -> Result<Administered<T>, Fault> {
        let _turn = self.database.turn(self.id, Turn::Writer, key).await?;
        again_if_lost(Fault::store_error, async || self.try_to_administer(act, key, &change).await).await
    }

    async fn try_to_administer<T>(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        change: &impl AsyncFn(&mut Tx<'_>) -> Result<(T, About), Fault>,
    ) -> Result<Administered<T>, Fault> {
        let books = self.id;
        let administer = async |connection: &mut AsyncPgConnection| {
            let mut tx = begin_claimed(connection, books, key).await?;
            if tx.answered_before(key).await?.is_some() {
                return Ok(Administered::Before);
            }
            tx.takes_changes()?;
            let (done, about) = change(&mut tx).await?;
            tx.note(act, about).await?;
            tx.keep_answer(key, &Kept { status: 204, body: Vec::new() }).await?;
            Ok(Administered::Done(done))
        };
        self.database.transaction(books, Turn::Writer, administer).await
    }

    /// Keeps a new token's hash.
    /// # Errors
    /// [`TokenFinding::ShownOnce`] where its key made one before; what the database could not do.
    pub async fn add_token(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        new: &TokenToKeep,
    ) -> Result<TokenId, Fault> {
        let made = self.administer(act, key, async |tx| {
            let id = tx.keep_token(new, None).await?;
            Ok((id, About::Token(id)))
        });
        shown_once(made.await?)
    }

    /// Opens further books beside these, under an id that nobody else has, with a first token of their own.
    /// # Errors
    /// As [`Books::add_token`].
    pub async fn open_beside(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        opened: BooksId,
        new: &NewBooks,
        token: &TokenToKeep,
    ) -> Result<(), Fault> {
        let made = self.administer(act, key, async |tx| {
            let own = tx.id;
            fence(tx.connection, opened).await?;
            open_fenced(tx.connection, opened, new).await?;
            let mut beside = begin_fenced(tx.connection, opened, Turn::Writer).await?;
            let first = beside.keep_token(token, None).await?;
            beside.note(&Act { by: Hand::Outside, ..act.clone() }, About::Token(first)).await?;
            fence(tx.connection, own).await?;
            Ok(((), About::Books(opened)))
        });
        shown_once(made.await?)
    }

    /// Keeps a new token of the same name and scope in place of one, which goes on until `ends` says.
    /// # Errors
    /// [`StoreError::NotFound`] for a token that is unknown or revoked; else as [`Books::add_token`].
    pub async fn replace_token(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        old: TokenId,
        hash: &TokenHash,
        ends: impl Fn(Option<DateTime<Utc>>) -> Result<Ends, Refusal>,
    ) -> Result<Replaced, Fault> {
        let made = self.administer(act, key, async |tx| {
            let listed = tx.tokens().await?.into_iter().find(|one| one.id == old);
            let found = listed.filter(|one| one.revoked_at.is_none());
            let found = found.ok_or_else(|| Tx::missing("token", old))?;
            let ends = ends(found.expires_at)?;
            let new = TokenToKeep { name: found.name, scope: found.scope, expires_at: ends.new, hash: *hash };
            let id = tx.keep_token(&new, Some(old)).await?;
            let books = tx.id.0;
            diesel::update(tokens::table.filter(tokens::books_id.eq(books)).filter(tokens::id.eq(old.0)))
                .set(tokens::expires_at.eq(ends.old))
                .execute(tx.connection)
                .await?;
            Ok((Replaced { id, old_expires_at: ends.old }, About::Token(id)))
        });
        shown_once(made.await?)
    }

    /// From this moment on the token opens nothing.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn revoke_token(
        &self,
        act: &Act,
        key: Option<&IdempotencyKey>,
        id: TokenId,
    ) -> Result<Administered<()>, Fault> {
        self.administer(act, key, async |tx| {
            let books = tx.id.0;
            let live = tokens::table.filter(tokens::books_id.eq(books)).filter(tokens::id.eq(id.0));
            let changed = diesel::update(live)
                .set(tokens::revoked_at.eq(diesel::dsl::now))
                .execute(tx.connection)
                .await?;
            if changed == 0 { Err(Tx::missing("token", id).into()) } else { Ok(((), About::Token(id))) }
        })
        .await
    }
}

/// When the new token ends, and the old one.
#[derive(Clone, Copy, Debug)]
pub struct Ends {
    pub new: DateTime<Utc>,
    pub old: DateTime<Utc>,
}

/// What was made now; what was made under the same key before is not shown again.
fn shown_once<T>(made: Administered<T>) -> Result<T, Fault> {
    match made {
        Administered::Done(made) => Ok(made),
        Administered::Before => Err(Fault::of(TokenFinding::ShownOnce)),
    }
}

impl Tx<'_> {
    async fn keep_token(
        &mut self,
        new: &TokenToKeep,
        replaces: Option<TokenId>,
    ) -> Result<TokenId, StoreError> {
        let id = TokenId(Uuid::now_v7());
        diesel::insert_into(tokens::table)
            .values((
                tokens::books_id.eq(self.id.0),
                tokens::id.eq(id.0),
                tokens::name.eq(&new.name),
                tokens::scope.eq(new.scope.as_str()),
                tokens::hash.eq(new.hash.bytes().to_vec()),
                tokens::expires_at.eq(new.expires_at),
                tokens::replaces.eq(replaces.map(|old| old.0)),
            ))
            .execute(self.connection)
            .await?;
        Ok(id)
    }

    /// # Errors
    /// What the database could not do.
    pub async fn tokens(&mut self) -> Result<Vec<TokenListed>, StoreError> {
        type Row = (
            Uuid,
            String,
            String,
            DateTime<Utc>,
            Option<DateTime<Utc>>,
            Option<DateTime<Utc>>,
            Option<DateTime<Utc>>,
            Option<Uuid>,
        );
        let rows: Vec<Row> = tokens::table
            .filter(tokens::books_id.eq(self.id.0))
            .order((tokens::created_at, tokens::id))
            .select((
                tokens::id,
                tokens::name,
                tokens::scope,
                tokens::created_at,
                tokens::expires_at,
                tokens::revoked_at,
                tokens::last_used_at,
                tokens::replaces,
            ))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(id, name, scope, created_at, expires_at, revoked_at, last_used_at, replaces)| {
                Ok(TokenListed {
                    id: TokenId(id),
                    name,
                    scope: read_as("tokens.scope", &scope, Scope::named)?,
                    created_at,
                    expires_at,
                    revoked_at,
                    last_used_at,
                    replaces: replaces.map(TokenId),
                })
            })
            .collect()
    }
}
