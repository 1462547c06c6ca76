//! Tokens: what opens the books over HTTP. Kept as SHA-256 only, shown once.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Binary, Text, Uuid as SqlUuid};
use diesel::{QueryableByName, sql_query};
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::{Books, Turn, Tx, begin_fenced, fence, transaction};
use super::connect::Database;
use super::error::{Fault, StoreError};
use super::read_as;
use super::schema::tokens;
use crate::rules::ids::{BooksId, TokenId};
use crate::rules::tokens::{Scope, TokenHash};

/// A live token: whose books it opens and how far.
#[derive(Clone)]
pub struct TokenHolder {
    pub token: TokenId,
    pub books: Books,
    pub scope: Scope,
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
}

#[derive(QueryableByName)]
struct HolderRow {
    #[diesel(sql_type = SqlUuid)]
    books_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    token_id: Uuid,
    #[diesel(sql_type = Text)]
    scope: String,
}

impl Database {
    /// Whose books a token opens; none for one that is unknown, expired or revoked.
    /// # Errors
    /// What the database could not do.
    pub async fn holder_of(&self, hash: &TokenHash) -> Result<Option<TokenHolder>, StoreError> {
        let mut connection = self.connection().await?;
        let row: Option<HolderRow> = sql_query("SELECT books_id, token_id, scope FROM books_of_token($1)")
            .bind::<Binary, _>(hash.bytes().to_vec())
            .get_result(&mut connection)
            .await
            .optional()?;
        row.map(|row| {
            Ok(TokenHolder {
                token: TokenId(row.token_id),
                books: Books::of(self.clone(), BooksId(row.books_id)),
                scope: read_as("tokens.scope", &row.scope, Scope::named)?,
            })
        })
        .transpose()
    }
}

impl Books {
    /// Keeps a new token's hash.
    /// # Errors
    /// What the database could not do.
    pub async fn add_token(
        &self,
        name: &str,
        scope: Scope,
        expires_at: Option<DateTime<Utc>>,
        hash: &TokenHash,
    ) -> Result<TokenId, StoreError> {
        let id = Uuid::now_v7();
        let mut connection = self.database.connection().await?;
        let books = self.id;
        transaction(&mut connection, Turn::Writer, async |connection| {
            fence(connection, books).await?;
            diesel::insert_into(tokens::table)
                .values((
                    tokens::books_id.eq(books.0),
                    tokens::id.eq(id),
                    tokens::name.eq(name),
                    tokens::scope.eq(scope.as_str()),
                    tokens::hash.eq(hash.bytes().to_vec()),
                    tokens::expires_at.eq(expires_at),
                ))
                .execute(connection)
                .await?;
            Ok::<_, StoreError>(())
        })
        .await?;
        Ok(TokenId(id))
    }

    /// From this moment on the token opens nothing.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn revoke_token(&self, id: TokenId) -> Result<(), Fault> {
        let mut connection = self.database.connection().await?;
        let books = self.id;
        transaction(&mut connection, Turn::Writer, async |connection| {
            let tx = begin_fenced(connection, books, Turn::Writer).await?;
            let changed = diesel::update(
                tokens::table.filter(tokens::books_id.eq(books.0)).filter(tokens::id.eq(id.0)),
            )
            .set(tokens::revoked_at.eq(diesel::dsl::now))
            .execute(tx.connection)
            .await?;
            if changed == 0 { Err(Tx::missing("token", id).into()) } else { Ok(()) }
        })
        .await
    }
}

impl Tx<'_> {
    /// # Errors
    /// What the database could not do.
    pub async fn tokens(&mut self) -> Result<Vec<TokenListed>, StoreError> {
        type Row = (Uuid, String, String, DateTime<Utc>, Option<DateTime<Utc>>, Option<DateTime<Utc>>);
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
            ))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(id, name, scope, created_at, expires_at, revoked_at)| {
                Ok(TokenListed {
                    id: TokenId(id),
                    name,
                    scope: read_as("tokens.scope", &scope, Scope::named)?,
                    created_at,
                    expires_at,
                    revoked_at,
                })
            })
            .collect()
    }
}
