//! What the books hold of each tool on the last day of a year.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Bool, Date, Nullable, Numeric, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::ToolId;
use crate::rules::journal::Account;
use crate::rules::money::Money;
use crate::rules::tax_year::tools::{ToolAccounts, ToolBooked};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::ledger::{Counted, LedgerDays};
use crate::store::money;

/// A charge counts from the day of its entries, which carry its tax year: a closing's own day may be later. What no
/// entry stands behind and left a source belongs to episodes before the books. The row without a tool holds charges
/// that none stands behind.
const BOOKED: &str = "\
WITH charges AS (
    SELECT c.tool_id, c.small_tool, c.section_179 + c.depreciation - c.recaptured AS accumulated
    FROM tool_charges c
    WHERE c.books_id = $1 AND c.kind = 'charged'
    AND EXISTS (SELECT FROM entries e JOIN postings p ON p.books_id = e.books_id AND p.entry_number = e.number
                WHERE e.books_id = $1 AND e.record_id = c.record_id AND p.tax_year = c.tax_year AND e.date <= $3)
)
SELECT t.id AS tool,
    NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = t.record_id) AS stands,
    m.came, m.elsewhere, m.removed, m.posted_at_cost, a.before, a.in_year,
    CASE WHEN m.came = 0 THEN 0 ELSE coalesce(t.prior_taken, 0) END AS prior, c.small_tool, c.accumulated
FROM tools t
CROSS JOIN LATERAL (
    SELECT coalesce(sum(m.amount) FILTER (WHERE m.kind IN ('opening', 'incurred')), 0) AS came,
        coalesce(-sum(m.amount) FILTER (WHERE m.kind IN ('returned', 'removed') AND m.entry_number IS NULL), 0)
            AS elsewhere,
        coalesce(-sum(m.amount) FILTER (WHERE m.kind IN ('returned', 'removed') AND m.entry_number IS NOT NULL), 0)
            AS removed,
        coalesce(sum(m.amount) FILTER (WHERE m.entry_number IS NOT NULL), 0) AS posted_at_cost
    FROM movements m WHERE m.books_id = $1 AND m.source_id = t.source_id AND m.date <= $3
) m
CROSS JOIN LATERAL (
    SELECT coalesce(sum(a.amount) FILTER (WHERE a.date < $2), 0) AS before,
        coalesce(sum(a.amount) FILTER (WHERE a.date >= $2), 0) AS in_year
    FROM attributions a WHERE a.books_id = $1 AND a.source_id = t.source_id AND a.date <= $3
) a
CROSS JOIN LATERAL (
    SELECT coalesce(sum(c.small_tool), 0) AS small_tool, coalesce(sum(c.accumulated), 0) AS accumulated
    FROM charges c WHERE c.tool_id = t.id
) c
WHERE t.books_id = $1
UNION ALL
SELECT NULL, false, 0, 0, 0, 0, 0, 0, 0, 0, coalesce(sum(accumulated), 0) FROM charges WHERE tool_id IS NULL";

#[derive(QueryableByName)]
struct BookedRow {
    #[diesel(sql_type = Nullable<SqlUuid>)]
    tool: Option<Uuid>,
    #[diesel(sql_type = Bool)]
    stands: bool,
    #[diesel(sql_type = Numeric)]
    came: Decimal,
    #[diesel(sql_type = Numeric)]
    elsewhere: Decimal,
    #[diesel(sql_type = Numeric)]
    removed: Decimal,
    #[diesel(sql_type = Numeric)]
    posted_at_cost: Decimal,
    #[diesel(sql_type = Numeric)]
    before: Decimal,
    #[diesel(sql_type = Numeric)]
    in_year: Decimal,
    #[diesel(sql_type = Numeric)]
    prior: Decimal,
    #[diesel(sql_type = Numeric)]
    small_tool: Decimal,
    #[diesel(sql_type = Numeric)]
    accumulated: Decimal,
}

impl Tx<'_> {
    /// Every tool that was recorded, taken back or not, and what stands in the ledger, on the last day of the year.
    /// # Errors
    /// What the database could not do.
    pub async fn tools_booked(&mut self, year: i32) -> Result<(Vec<ToolBooked>, ToolAccounts), StoreError> {
        let days = Days::of(year);
        let rows: Vec<BookedRow> = sql_query(BOOKED)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let read = |column, amount| money(column, amount, base);
        let mut without_tool = Money::zero(base);
        let mut booked = Vec::with_capacity(rows.len());
        for row in rows {
            let accumulated = read("tool_charges.depreciation", row.accumulated)?;
            let Some(tool) = row.tool else {
                without_tool = accumulated;
                continue;
            };
            booked.push(ToolBooked {
                tool: ToolId(tool),
                stands: row.stands,
                came: read("movements.amount", row.came)?,
                attributed_before: read("attributions.amount", row.before + row.elsewhere)?,
                attributed_in_year: read("attributions.amount", row.in_year)?,
                removed: read("movements.amount", row.removed)?,
                posted_at_cost: read("movements.amount", row.posted_at_cost)?,
                prior: read("tools.prior_taken", row.prior)?,
                small_tool: read("tool_charges.small_tool", row.small_tool)?,
                accumulated,
            });
        }
        let (at_cost, accumulated) = self.tool_accounts(days.last).await?;
        Ok((booked, ToolAccounts { at_cost, accumulated, without_tool }))
    }

    async fn tool_accounts(&mut self, on: NaiveDate) -> Result<(Money, Money), StoreError> {
        let days = LedgerDays { from: None, to: Some(on) };
        let sums = self.account_sums(days, Counted::All).await?;
        let stands_on = |account: Account| {
            let found = sums.iter().find(|sum| sum.account == account).map(|sum| sum.amount);
            found.unwrap_or(Money::zero(self.card().base))
        };
        Ok((stands_on(Account::ToolsAtCost), stands_on(Account::AccumulatedDepreciation).negated()))
    }
}
