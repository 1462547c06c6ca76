//! Idempotency keys: the first answer to each is kept in the transaction of what it answers, and given again.

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use sha2::{Digest, Sha256};

use super::books::Tx;
use super::connect::Database;
use super::error::{Fault, StoreError};
use super::schema::idempotency_answers;
use crate::rules::ids::BooksId;
use crate::rules::refusal::{Explain, Said};

/// An `Idempotency-Key` with the hash of what came under it.
#[derive(Clone, Debug)]
pub struct IdempotencyKey {
    pub key: String,
    pub payload_hash: [u8; 32],
}

/// The answer that was kept under a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    pub status: u16,
    pub body: Vec<u8>,
}

/// A key that came before with another request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyUsedForSomethingElse;

impl Explain for KeyUsedForSomethingElse {
    fn say(&self) -> Said {
        Said::invalid(
            "this Idempotency-Key was used before for another request",
            "send a new key with a new request; send the same request to get its first answer again",
        )
    }
}

#[derive(QueryableByName)]
struct Claimed {
    #[diesel(sql_type = Bool)]
    claimed: bool,
}

#[derive(QueryableByName)]
struct Forgotten {
    #[diesel(sql_type = BigInt)]
    forgotten: i64,
}

/// Holds the key until the transaction ends; whoever comes with it meanwhile is told to come back.
pub(super) async fn claim(
    connection: &mut AsyncPgConnection,
    books: BooksId,
    key: &IdempotencyKey,
) -> Result<(), StoreError> {
    let row: Claimed = diesel::sql_query("SELECT pg_try_advisory_xact_lock($1) AS claimed")
        .bind::<BigInt, _>(lock_number(books, &key.key))
        .get_result(connection)
        .await?;
    if row.claimed { Ok(()) } else { Err(StoreError::StillRunning) }
}

/// Two keys share a number once in 2^64; then one of them waits for the other.
fn lock_number(books: BooksId, key: &str) -> i64 {
    let hash = Sha256::new().chain_update(books.0.as_bytes()).chain_update(key.as_bytes()).finalize();
    let mut first = [0; 8];
    first.iter_mut().zip(hash.iter()).for_each(|(to, from)| *to = *from);
    i64::from_be_bytes(first)
}

impl Tx<'_> {
    /// The answer that the key got before.
    /// # Errors
    /// [`KeyUsedForSomethingElse`]; what the database could not do.
    pub(super) async fn answered_before(
        &mut self,
        key: Option<&IdempotencyKey>,
    ) -> Result<Option<Kept>, Fault> {
        let Some(key) = key else { return Ok(None) };
        let row: Option<(Vec<u8>, i32, Vec<u8>)> = idempotency_answers::table
            .filter(idempotency_answers::books_id.eq(self.id.0))
            .filter(idempotency_answers::key.eq(&key.key))
            .select((
                idempotency_answers::payload_hash,
                idempotency_answers::status,
                idempotency_answers::body,
            ))
            .first(self.connection)
            .await
            .optional()?;
        match row {
            None => Ok(None),
            Some((hash, ..)) if hash != key.payload_hash => Err(Fault::of(KeyUsedForSomethingElse)),
            Some((_, status, body)) => {
                let status = u16::try_from(status).unwrap_or(200);
                Ok(Some(Kept { status, body }))
            }
        }
    }

    pub(super) async fn keep_answer(
        &mut self,
        key: Option<&IdempotencyKey>,
        answer: &Kept,
    ) -> Result<(), StoreError> {
        if let Some(key) = key {
            diesel::insert_into(idempotency_answers::table)
                .values((
                    idempotency_answers::books_id.eq(self.id.0),
                    idempotency_answers::key.eq(&key.key),
                    idempotency_answers::payload_hash.eq(key.payload_hash.to_vec()),
                    idempotency_answers::status.eq(i32::from(answer.status)),
                    idempotency_answers::body.eq(&answer.body),
                ))
                .execute(self.connection)
                .await?;
        }
        Ok(())
    }
}

impl Database {
    /// Forgets answers that are older than a week, of all books, five thousand at a time, and says how many.
    /// # Errors
    /// What the database could not do.
    pub async fn forget_old_answers(&self) -> Result<u64, StoreError> {
        let mut all = 0;
        loop {
            let forget = async |connection: &mut AsyncPgConnection| {
                let query = diesel::sql_query("SELECT forget_old_answers() AS forgotten");
                Ok(query.get_result(connection).await?)
            };
            let row: Forgotten = self.ask(forget).await?;
            match u64::try_from(row.forgotten) {
                Ok(0) | Err(_) => return Ok(all),
                Ok(some) => all += some,
            }
        }
    }
}
