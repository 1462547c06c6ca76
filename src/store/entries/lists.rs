//! The journal as lists: entries with their postings, and postings with their entry.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, EntryKind, Posting, TaxClass};
use crate::rules::money::Currency;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::recording::EntryShown;
use crate::store::schema::{entries, postings};
use crate::store::{money, read_as};

/// Which part of the journal a list shows. Account, class and year are asked of one and the same posting.
#[derive(Clone, Debug, Default)]
pub struct JournalFilter {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub account: Option<Account>,
    /// Any of them.
    pub classes: Vec<TaxClass>,
    pub tax_year: Option<i32>,
    pub record: Option<RecordId>,
}

/// An entry and the record that made it.
#[derive(Clone, Debug)]
pub struct EntryListed {
    pub number: i64,
    pub record: RecordId,
    pub entry: EntryShown,
}

/// Where a page of postings begins: after that line of that entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AfterLine {
    pub entry: i64,
    pub line: i32,
}

/// A posting with what is worth knowing of its entry.
#[derive(Clone, Debug)]
pub struct PostingListed {
    pub entry: i64,
    pub line: i32,
    pub date: NaiveDate,
    pub kind: EntryKind,
    pub text: String,
    pub record: RecordId,
    pub posting: Posting,
}

type PostingRow = (String, Decimal, Option<String>, i32);

fn posting_of((account, amount, class, tax_year): PostingRow, base: Currency) -> Result<Posting, StoreError> {
    Ok(Posting {
        account: read_as("postings.account", &account, Account::of_code)?,
        amount: money("postings.amount", amount, base)?,
        class: class.map(|class| read_as("postings.tax_class", &class, TaxClass::named)).transpose()?,
        tax_year,
    })
}

fn names_of(classes: &[TaxClass]) -> Vec<&'static str> {
    classes.iter().map(|class| class.as_str()).collect()
}

impl JournalFilter {
    fn asks_for_postings(&self) -> bool {
        self.account.is_some() || !self.classes.is_empty() || self.tax_year.is_some()
    }
}

impl Tx<'_> {
    /// A page of entries by their number, at most `limit`, after the entry of that number.
    /// # Errors
    /// What the database could not do.
    pub async fn entries(
        &mut self,
        filter: &JournalFilter,
        after: Option<i64>,
        limit: i64,
    ) -> Result<Vec<EntryListed>, StoreError> {
        type Row = (i64, Uuid, NaiveDate, String, String, Option<i64>);
        let mut query = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .order(entries::number)
            .limit(limit)
            .select((
                entries::number,
                entries::record_id,
                entries::date,
                entries::text,
                entries::kind,
                entries::reverses,
            ))
            .into_boxed();
        if let Some(after) = after {
            query = query.filter(entries::number.gt(after));
        }
        if let Some(from) = filter.from {
            query = query.filter(entries::date.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(entries::date.le(to));
        }
        if let Some(record) = filter.record {
            query = query.filter(entries::record_id.eq(record.0));
        }
        if filter.asks_for_postings() {
            let mut with_posting = postings::table
                .filter(postings::books_id.eq(self.id.0))
                .select(postings::entry_number)
                .into_boxed::<diesel::pg::Pg>();
            if let Some(account) = filter.account {
                with_posting = with_posting.filter(postings::account.eq(account.code()));
            }
            if !filter.classes.is_empty() {
                with_posting = with_posting.filter(postings::tax_class.eq_any(names_of(&filter.classes)));
            }
            if let Some(year) = filter.tax_year {
                with_posting = with_posting.filter(postings::tax_year.eq(year));
            }
            query = query.filter(entries::number.eq_any(with_posting));
        }
        let rows: Vec<Row> = query.load(self.connection).await?;
        let mut of_entries = self.postings_of_entries(rows.iter().map(|row| row.0).collect()).await?;
        rows.into_iter()
            .map(|(number, record, date, text, kind, reverses)| {
                let entry = EntryShown {
                    number: Some(number),
                    date,
                    text,
                    kind: read_as("entries.kind", &kind, EntryKind::named)?.as_str(),
                    reverses,
                    postings: of_entries.remove(&number).unwrap_or_default(),
                };
                Ok(EntryListed { number, record: RecordId(record), entry })
            })
            .collect()
    }

    async fn postings_of_entries(
        &mut self,
        numbers: Vec<i64>,
    ) -> Result<BTreeMap<i64, Vec<Posting>>, StoreError> {
        let rows: Vec<(i64, PostingRow)> = postings::table
            .filter(postings::books_id.eq(self.id.0))
            .filter(postings::entry_number.eq_any(numbers))
            .order((postings::entry_number, postings::line))
            .select((
                postings::entry_number,
                (postings::account, postings::amount, postings::tax_class, postings::tax_year),
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut found: BTreeMap<i64, Vec<Posting>> = BTreeMap::new();
        for (number, row) in rows {
            found.entry(number).or_default().push(posting_of(row, base)?);
        }
        Ok(found)
    }

    /// A page of postings in the order of the journal, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn postings(
        &mut self,
        filter: &JournalFilter,
        after: Option<AfterLine>,
        limit: i64,
    ) -> Result<Vec<PostingListed>, StoreError> {
        type Row = (i64, i32, NaiveDate, String, String, Uuid, PostingRow);
        let of_entry =
            entries::books_id.eq(postings::books_id).and(entries::number.eq(postings::entry_number));
        let mut query = postings::table
            .inner_join(entries::table.on(of_entry))
            .filter(postings::books_id.eq(self.id.0))
            .order((postings::entry_number, postings::line))
            .limit(limit)
            .select((
                postings::entry_number,
                postings::line,
                entries::date,
                entries::kind,
                entries::text,
                entries::record_id,
                (postings::account, postings::amount, postings::tax_class, postings::tax_year),
            ))
            .into_boxed();
        if let Some(AfterLine { entry, line }) = after {
            let same_entry = postings::entry_number.eq(entry).and(postings::line.gt(line));
            query = query.filter(postings::entry_number.gt(entry).or(same_entry));
        }
        if let Some(from) = filter.from {
            query = query.filter(entries::date.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(entries::date.le(to));
        }
        if let Some(record) = filter.record {
            query = query.filter(entries::record_id.eq(record.0));
        }
        if let Some(account) = filter.account {
            query = query.filter(postings::account.eq(account.code()));
        }
        if !filter.classes.is_empty() {
            query = query.filter(postings::tax_class.eq_any(names_of(&filter.classes)));
        }
        if let Some(year) = filter.tax_year {
            query = query.filter(postings::tax_year.eq(year));
        }
        let rows: Vec<Row> = query.load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(entry, line, date, kind, text, record, row)| {
                Ok(PostingListed {
                    entry,
                    line,
                    date,
                    kind: read_as("entries.kind", &kind, EntryKind::named)?,
                    text,
                    record: RecordId(record),
                    posting: posting_of(row, base)?,
                })
            })
            .collect()
    }
}
