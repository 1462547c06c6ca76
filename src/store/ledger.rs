//! The ledger: what stands and what moved on the accounts, and an entry with the hash before it.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{BigInt, Bool, Date, Integer, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::entries;
use super::{money, read_as};
use crate::rules::chain::{Form, Hash, SealedEntry, genesis};
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, EntryKind};
use crate::rules::ledger::{AccountSum, Moved};
use crate::rules::money::Money;

/// Which days are added up, both ends included.
#[derive(Clone, Copy, Debug, Default)]
pub struct LedgerDays {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
}

/// Which entries are added up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    All,
    /// Those that close a year, and what takes them back, are left out.
    WithoutClosings,
}

const SUMS: &str = "\
SELECT p.account, sum(p.amount) AS amount
FROM postings p
JOIN entries e ON e.books_id = p.books_id AND e.number = p.entry_number
LEFT JOIN entries r ON r.books_id = e.books_id AND r.number = e.reverses
WHERE p.books_id = $1 AND ($2 IS NULL OR e.date >= $2) AND ($3 IS NULL OR e.date <= $3)
AND ($4 OR coalesce(r.kind, e.kind) <> 'closing')
GROUP BY p.account";

#[derive(QueryableByName)]
struct SumRow {
    #[diesel(sql_type = Text)]
    account: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

/// A place in the ledger of an account: after that line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AfterMoved {
    pub date: NaiveDate,
    pub entry: i64,
    pub line: i32,
}

impl AfterMoved {
    /// Before everything: the first day of our calendar, which the database knows too.
    pub fn nothing() -> Self {
        Self::day_before(NaiveDate::from_ymd_opt(1, 1, 1).unwrap_or_default())
    }

    /// Before everything of `date`.
    pub const fn day_before(date: NaiveDate) -> Self {
        Self { date, entry: 0, line: -1 }
    }
}

const BEFORE: &str = "\
SELECT coalesce(sum(p.amount), 0) AS amount
FROM postings p
JOIN entries e ON e.books_id = p.books_id AND e.number = p.entry_number
WHERE p.books_id = $1 AND p.account = $2 AND (e.date, e.number, p.line) <= ($3, $4, $5)";

#[derive(QueryableByName)]
struct BeforeRow {
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

const MOVED: &str = "\
SELECT e.date, e.number, p.line, e.text, e.record_id, p.amount
FROM postings p
JOIN entries e ON e.books_id = p.books_id AND e.number = p.entry_number
WHERE p.books_id = $1 AND p.account = $2 AND (e.date, e.number, p.line) > ($3, $4, $5)
AND ($6 IS NULL OR e.date <= $6)
ORDER BY e.date, e.number, p.line
LIMIT $7";

#[derive(QueryableByName)]
struct MovedRow {
    #[diesel(sql_type = Date)]
    date: NaiveDate,
    #[diesel(sql_type = BigInt)]
    number: i64,
    #[diesel(sql_type = Integer)]
    line: i32,
    #[diesel(sql_type = Text)]
    text: String,
    #[diesel(sql_type = SqlUuid)]
    record_id: Uuid,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

impl Tx<'_> {
    /// What stands on every account that anything was posted to, with its name.
    /// # Errors
    /// What the database could not do.
    pub async fn account_sums(
        &mut self,
        days: LedgerDays,
        counted: Counted,
    ) -> Result<Vec<AccountSum>, StoreError> {
        let rows: Vec<SumRow> = sql_query(SUMS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Nullable<Date>, _>(days.from)
            .bind::<Nullable<Date>, _>(days.to)
            .bind::<Bool, _>(counted == Counted::All)
            .load(self.connection)
            .await?;
        let names: HashMap<Uuid, String> = self.money_account_names().await?.into_iter().collect();
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let account = read_as("postings.account", &row.account, Account::of_code)?;
                let name = account_name(account, &names);
                Ok(AccountSum { account, name, amount: money("postings.amount", row.amount, base)? })
            })
            .collect()
    }

    /// What an account is called.
    /// # Errors
    /// What the database could not do.
    pub async fn account_name(&mut self, account: Account) -> Result<String, StoreError> {
        Ok(account_name(account, &self.money_account_names().await?.into_iter().collect()))
    }

    /// What stood on an account up to a place in its ledger.
    /// # Errors
    /// What the database could not do.
    pub async fn stood_on(&mut self, account: Account, at: AfterMoved) -> Result<Money, StoreError> {
        let row: BeforeRow = sql_query(BEFORE)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Text, _>(account.code())
            .bind::<Date, _>(at.date)
            .bind::<BigInt, _>(at.entry)
            .bind::<Integer, _>(at.line)
            .get_result(self.connection)
            .await?;
        money("postings.amount", row.amount, self.card().base)
    }

    /// A page of what moved on an account after a place in its ledger, by day and number.
    /// # Errors
    /// What the database could not do.
    pub async fn moved_on(
        &mut self,
        account: Account,
        after: AfterMoved,
        to: Option<NaiveDate>,
        limit: i64,
    ) -> Result<Vec<Moved>, StoreError> {
        let rows: Vec<MovedRow> = sql_query(MOVED)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Text, _>(account.code())
            .bind::<Date, _>(after.date)
            .bind::<BigInt, _>(after.entry)
            .bind::<Integer, _>(after.line)
            .bind::<Nullable<Date>, _>(to)
            .bind::<BigInt, _>(limit)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                Ok(Moved {
                    date: row.date,
                    entry: row.number,
                    line: row.line,
                    text: row.text,
                    record: RecordId(row.record_id),
                    amount: money("postings.amount", row.amount, base)?,
                })
            })
            .collect()
    }

    /// An entry as it is sealed, with the hash before it.
    /// # Errors
    /// [`StoreError::NotFound`]; [`StoreError::Unreadable`] where a row was changed past reading.
    pub async fn sealed_entry(&mut self, number: i64) -> Result<(Hash, SealedEntry), StoreError> {
        type Row = (NaiveDate, String, String, Uuid, Option<i64>, Vec<u8>, i32);
        let row: Option<Row> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::number.eq(number))
            .select((
                entries::date,
                entries::kind,
                entries::text,
                entries::record_id,
                entries::reverses,
                entries::hash,
                entries::form,
            ))
            .first(self.connection)
            .await
            .optional()?;
        let (date, kind, text, record, reverses, hash, form) =
            row.ok_or_else(|| Self::missing("entry", number))?;
        let before = self.hash_of(number - 1).await?;
        let entry = SealedEntry {
            form: read_as("entries.form", &form.to_string(), |_| Form::numbered(form))?,
            number,
            date,
            kind: read_as("entries.kind", &kind, EntryKind::named)?,
            text,
            record: RecordId(record),
            reverses,
            postings: self.postings_of(number).await?,
            hash: hash_of_bytes(&hash)?,
        };
        Ok((before, entry))
    }

    /// The hash of the entry of that number; of the books themselves before the first.
    async fn hash_of(&mut self, number: i64) -> Result<Hash, StoreError> {
        if number == 0 {
            return Ok(genesis(self.id));
        }
        let bytes: Option<Vec<u8>> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::number.eq(number))
            .select(entries::hash)
            .first(self.connection)
            .await
            .optional()?;
        hash_of_bytes(&bytes.ok_or_else(|| Self::missing("entry", number))?)
    }
}

fn hash_of_bytes(bytes: &[u8]) -> Result<Hash, StoreError> {
    let unreadable = || StoreError::Unreadable { column: "entries.hash", found: format!("{bytes:?}") };
    Hash::of_bytes(bytes).ok().ok_or_else(unreadable)
}

/// The name of a money account; the words of any other account's code.
fn account_name(account: Account, names: &HashMap<Uuid, String>) -> String {
    match account {
        Account::Money(id) => names.get(&id.0).cloned().unwrap_or_else(|| account.code()),
        other => other.code().replace('_', " ").replace(':', ": "),
    }
}
