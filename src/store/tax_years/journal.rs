//! The journal's part of a year: sums of postings, stock before and after, what lies in other currencies.

use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Integer, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::MoneyAccountId;
use crate::rules::journal::{Account, EntryKind, TaxClass};
use crate::rules::money::Currency;
use crate::rules::tax_year::facts::{ForeignAccount, PostingSum, StockBalances};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::{money, read_as};

/// A reversal counts with the kind of what it takes back. That can be two steps away: goods that go back are an
/// entry against an entry, and the record of it can be taken back in its turn; a reversal by itself can not.
const POSTING_SUMS: &str = "\
SELECT p.account, p.tax_class, coalesce(o.kind, r.kind, e.kind) AS kind, sum(p.amount) AS amount
FROM postings p
JOIN entries e ON e.books_id = p.books_id AND e.number = p.entry_number
LEFT JOIN entries r ON r.books_id = e.books_id AND r.number = e.reverses
LEFT JOIN entries o ON o.books_id = r.books_id AND o.number = r.reverses
WHERE p.books_id = $1 AND p.tax_year = $2
GROUP BY p.account, p.tax_class, coalesce(o.kind, r.kind, e.kind)
HAVING sum(p.amount) <> 0";

#[derive(QueryableByName)]
struct SumRow {
    #[diesel(sql_type = Text)]
    account: String,
    #[diesel(sql_type = Nullable<Text>)]
    tax_class: Option<String>,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

const STOCK: &str = "\
SELECT account, sum(amount) FILTER (WHERE tax_year < $2) AS before, sum(amount) AS after
FROM postings
WHERE books_id = $1 AND account IN ('pieces_for_resale', 'materials_on_hand') AND tax_year <= $2
GROUP BY account";

#[derive(QueryableByName)]
struct StockRow {
    #[diesel(sql_type = Text)]
    account: String,
    #[diesel(sql_type = Nullable<Numeric>)]
    before: Option<Decimal>,
    #[diesel(sql_type = Numeric)]
    after: Decimal,
}

/// A reversal's postings count against those it takes back.
const FOREIGN_ACCOUNTS: &str = "\
SELECT a.id, a.name, a.currency, sum(p.amount) AS amount
FROM money_accounts a
JOIN postings p ON p.books_id = a.books_id AND p.account = 'money:' || a.id
JOIN entries e ON e.books_id = p.books_id AND e.number = p.entry_number
WHERE a.books_id = $1 AND a.currency <> $2 AND e.date <= $4
GROUP BY a.id, a.name, a.currency
HAVING sum(p.amount) <> 0 OR coalesce(sum(abs(p.amount)) FILTER (WHERE e.date >= $3), 0) <> 0
ORDER BY a.name COLLATE \"C\", a.id";

#[derive(QueryableByName)]
struct ForeignRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    currency: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

impl Tx<'_> {
    pub(super) async fn foreign_accounts(&mut self, days: Days) -> Result<Vec<ForeignAccount>, StoreError> {
        let base = self.card().base;
        let rows: Vec<ForeignRow> = sql_query(FOREIGN_ACCOUNTS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Text, _>(base.code())
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|row| {
                let currency =
                    read_as("money_accounts.currency", &row.currency, |code| Currency::find(code).ok())?;
                Ok(ForeignAccount {
                    account: MoneyAccountId(row.id),
                    name: row.name,
                    currency,
                    balance: money("postings.amount", row.amount, base)?,
                })
            })
            .collect()
    }

    pub(super) async fn posting_sums(&mut self, days: Days) -> Result<Vec<PostingSum>, StoreError> {
        let rows: Vec<SumRow> = sql_query(POSTING_SUMS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Integer, _>(days.year)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let sums = rows.into_iter().map(|row| {
            let class = row.tax_class.map(|class| read_as("postings.tax_class", &class, TaxClass::named));
            Ok(PostingSum {
                account: read_as("postings.account", &row.account, Account::of_code)?,
                class: class.transpose()?,
                kind: read_as("entries.kind", &row.kind, EntryKind::named)?,
                amount: money("postings.amount", row.amount, base)?,
            })
        });
        let mut sums: Vec<PostingSum> = sums.collect::<Result<_, StoreError>>()?;
        // Not by the database: its order of texts differs from server to server.
        sums.sort_by_key(|sum| (sum.account, sum.class, sum.kind));
        Ok(sums)
    }

    pub(super) async fn stock_balances(&mut self, days: Days) -> Result<StockBalances, StoreError> {
        let rows: Vec<StockRow> = sql_query(STOCK)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Integer, _>(days.year)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut stock = StockBalances::none(base);
        for row in rows {
            let before = money("postings.amount", row.before.unwrap_or_default(), base)?;
            let after = money("postings.amount", row.after, base)?;
            if row.account == Account::PiecesForResale.code() {
                (stock.pieces_before, stock.pieces_after) = (before, after);
            } else {
                (stock.materials_before, stock.materials_after) = (before, after);
            }
        }
        Ok(stock)
    }
}
