//! Verifying: one set of books as it is stored, read without believing any of it.
//!
//! What does not fit its type is told apart instead of ending the reading: one spoilt row must not hide the rest.

mod journal;
mod sources;

use std::collections::HashSet;

use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::Uuid as SqlUuid;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::{Books, Tx};
use super::error::{Fault, StoreError};
use super::schema::record_reversals;
use crate::rules::ids::BooksId;
use crate::rules::money::{Currency, Money};
use crate::rules::verify::{BooksToVerify, Unreadable};

const CORRUPT_FILES: &str = "\
SELECT d.id FROM documents d
JOIN document_files f ON f.books_id = d.books_id AND f.sha256 = d.sha256
WHERE d.books_id = $1 AND sha256(f.bytes) <> d.sha256
ORDER BY d.id";

#[derive(QueryableByName)]
struct CorruptRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

impl Books {
    /// Everything that verifying looks at, as it stands at one instant.
    /// # Errors
    /// What the database could not do.
    pub async fn to_verify(&self) -> Result<BooksToVerify, Fault> {
        self.read(async |tx| Ok(tx.books_to_verify().await?)).await
    }
}

impl Tx<'_> {
    /// The same, in a transaction that is under way.
    pub(super) async fn books_to_verify(&mut self) -> Result<BooksToVerify, StoreError> {
        let card = self.card();
        let (base, first_open) = (card.base, card.facts().first_open);
        let head = card.head;
        let pairs = self.reversal_pairs().await?;
        let reversed: HashSet<Uuid> = pairs.iter().map(|(record, _)| *record).collect();
        let mut doubts = Doubts { base, found: Vec::new() };
        let entries = self.sealed_entries(&mut doubts).await?;
        let reversals = journal::reversal_links(&entries, &pairs);
        Ok(BooksToVerify {
            books: BooksId(self.id.0),
            base,
            head,
            first_open,
            entries,
            reversals,
            period_acts: self.stored_period_acts(&mut doubts).await?,
            sources: self.stored_sources(&mut doubts).await?,
            movements: self.stored_movements(&mut doubts).await?,
            attributions: self.stored_attributions(&mut doubts).await?,
            lots: self.stored_lots(&reversed, &mut doubts).await?,
            tools: self.stored_tools(&reversed, &mut doubts).await?,
            unreadable: {
                self.doubt_files(&mut doubts).await?;
                doubts.found
            },
        })
    }

    /// Files that are not what they were when they came. The database reads them; they are not fetched.
    async fn doubt_files(&mut self, doubts: &mut Doubts) -> Result<(), StoreError> {
        let rows: Vec<CorruptRow> =
            sql_query(CORRUPT_FILES).bind::<SqlUuid, _>(self.id.0).load(self.connection).await?;
        for row in rows {
            let what = "its file no longer fits the SHA-256 it came with".to_owned();
            doubts.tell(None, &format!("document {}", row.id), what);
        }
        Ok(())
    }

    /// Records and what took them back.
    async fn reversal_pairs(&mut self) -> Result<Vec<(Uuid, Uuid)>, StoreError> {
        Ok(record_reversals::table
            .filter(record_reversals::books_id.eq(self.id.0))
            .order(record_reversals::record_id)
            .select((record_reversals::record_id, record_reversals::reversal_id))
            .load(self.connection)
            .await?)
    }
}

/// What could not be read as what it should be, so far.
struct Doubts {
    base: Currency,
    found: Vec<Unreadable>,
}

impl Doubts {
    fn tell(&mut self, entry: Option<i64>, row: &str, what: String) {
        self.found.push(Unreadable { entry, row: row.to_owned(), what });
    }

    /// The amount in the books' currency, or none with the doubt told.
    fn money(&mut self, entry: Option<i64>, row: &str, amount: Decimal) -> Option<Money> {
        let money = Money::exact(amount, self.base).ok();
        if money.is_none() {
            let what = format!("{} is no amount of {}", amount.normalize(), self.base);
            self.tell(entry, row, what);
        }
        money
    }

    /// What the name stands for, or none with the doubt told.
    fn named<T>(
        &mut self,
        entry: Option<i64>,
        row: &str,
        (what, name): (&str, &str),
        named: impl FnOnce(&str) -> Option<T>,
    ) -> Option<T> {
        let found = named(name);
        if found.is_none() {
            self.tell(entry, row, format!("nobody knows the {what} '{name}'"));
        }
        found
    }
}
