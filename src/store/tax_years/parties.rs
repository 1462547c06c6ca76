//! What came from whom and went to whom in a year: statements and family; and what the year's records are there
//! at all.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{BigInt, Bool, Date, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::{DealId, MoneyAccountId, PartyId};
use crate::rules::money::Currency;
use crate::rules::recording::AccountingMethod;
use crate::rules::rows::Payout;
use crate::rules::tax_year::facts::{DueNotInvoiced, FamilyPayment, OpeningStated, Receivables};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::payouts;
use crate::store::{live, money, read_as};

/// What the year's costs with a party that is family came to; goods received are not paid for.
const FAMILY: &str = "\
SELECT p.name, sum(m.amount) AS amount
FROM records r
JOIN parties p ON p.books_id = r.books_id AND p.id = r.party_id AND p.role = 'family'
JOIN movements m ON m.books_id = r.books_id AND m.record_id = r.id AND m.kind IN ('incurred', 'returned')
JOIN sources s ON s.books_id = m.books_id AND s.id = m.source_id AND s.side = 'cost'
WHERE r.books_id = $1 AND r.date BETWEEN $2 AND $3 AND r.word <> 'gifts'
AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = r.id)
AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.reversal_id = r.id)
GROUP BY p.id, p.name
HAVING sum(m.amount) <> 0
ORDER BY p.name COLLATE \"C\", p.id";

#[derive(QueryableByName)]
struct FamilyRow {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

/// A count within a month of the year's end is a count of its end.
const MARKS: &str = "\
WITH standing AS (
    SELECT r.id, r.word, r.kind, r.date FROM records r
    WHERE r.books_id = $1
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = r.id)
)
SELECT EXISTS (SELECT FROM standing WHERE word = 'openings') AS opening,
    (SELECT max(date) FROM standing WHERE word = 'materials' AND kind = 'count' AND date BETWEEN $4 AND $5) AS counted_on,
    (SELECT count(*) FROM unproved_purchases u WHERE u.books_id = $1 AND u.date BETWEEN $2 AND $3) AS purchases";

/// What was invoiced in a year and what of invoices was paid in it; opening positions are invoices of years before.
const RECEIVABLES: &str = "\
SELECT
    (SELECT coalesce(sum(i.booked), 0) FROM invoices i
        JOIN records r ON r.books_id = i.books_id AND r.id = i.record_id AND r.word = 'deals'
        WHERE i.books_id = $1 AND i.invoiced_on BETWEEN $2 AND $3
        AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = i.record_id)) AS invoiced,
    coalesce(sum(n.settled), 0) AS settled,
    coalesce(sum(greatest(-n.exchange_gain, 0)), 0) AS exchange_losses
FROM instalments n
WHERE n.books_id = $1 AND n.income_on BETWEEN $2 AND $3
AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = n.record_id)";

#[derive(QueryableByName)]
struct ReceivablesRow {
    #[diesel(sql_type = Numeric)]
    invoiced: Decimal,
    #[diesel(sql_type = Numeric)]
    settled: Decimal,
    #[diesel(sql_type = Numeric)]
    exchange_losses: Decimal,
}

/// By deal: what was due by a day, less what was paid before the books, invoiced, or came in without an invoice by
/// then.
const DUE: &str = "\
WITH standing AS (
    SELECT r.id FROM records r WHERE r.books_id = $1
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = r.id)
)
SELECT d.id, d.title, d.currency, due.amount - d.paid_before - coalesce(invoiced.amount, 0) - coalesce(came.amount, 0)
    AS amount
FROM deals d
JOIN standing s ON s.id = d.record_id
JOIN (SELECT deal_id, sum(amount) AS amount FROM instalments_due WHERE books_id = $1 AND due_on <= $2
    GROUP BY deal_id) due ON due.deal_id = d.id
LEFT JOIN (SELECT i.deal_id, sum(i.counts) AS amount FROM invoices i JOIN standing s ON s.id = i.record_id
    WHERE i.books_id = $1 AND i.invoiced_on <= $2 GROUP BY i.deal_id) invoiced ON invoiced.deal_id = d.id
LEFT JOIN (SELECT n.deal_id, sum(n.counts - coalesce(paid.counts, 0)) AS amount FROM instalments n
    JOIN standing s ON s.id = n.record_id
    LEFT JOIN (SELECT record_id, sum(counts) AS counts FROM settlements WHERE books_id = $1 GROUP BY record_id) paid
        ON paid.record_id = n.record_id
    WHERE n.books_id = $1 AND n.income_on <= $2 GROUP BY n.deal_id) came ON came.deal_id = d.id
WHERE d.books_id = $1
AND due.amount > d.paid_before + coalesce(invoiced.amount, 0) + coalesce(came.amount, 0)
ORDER BY d.agreed_on, d.id";

#[derive(QueryableByName)]
struct DueRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    currency: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

#[derive(QueryableByName)]
struct MarksRow {
    #[diesel(sql_type = Bool)]
    opening: bool,
    #[diesel(sql_type = Nullable<Date>)]
    counted_on: Option<NaiveDate>,
    #[diesel(sql_type = BigInt)]
    purchases: i64,
}

/// What is there of a year at all.
pub(super) struct Marks {
    pub opening: OpeningStated,
    pub counted_on: Option<NaiveDate>,
    /// Documents are not stored yet, so that this is every purchase of the year.
    pub purchases: usize,
}

#[derive(Queryable)]
struct PayoutRow {
    platform: Uuid,
    account: Uuid,
    income_on: NaiveDate,
    received_on: NaiveDate,
    gross: Decimal,
    fees: Decimal,
    tax_withheld: Decimal,
    reserve_held: Decimal,
    reserve_released: Decimal,
    adjustments: Decimal,
    net: Decimal,
}

impl PayoutRow {
    fn payout(self, base: Currency) -> Result<Payout, StoreError> {
        Ok(Payout {
            platform: PartyId(self.platform),
            account: MoneyAccountId(self.account),
            income_on: self.income_on,
            received_on: self.received_on,
            gross: money("payouts.gross", self.gross, base)?,
            fees: money("payouts.fees", self.fees, base)?,
            tax_withheld: money("payouts.tax_withheld", self.tax_withheld, base)?,
            reserve_held: money("payouts.reserve_held", self.reserve_held, base)?,
            reserve_released: money("payouts.reserve_released", self.reserve_released, base)?,
            adjustments: money("payouts.adjustments", self.adjustments, base)?,
            net: money("payouts.net", self.net, base)?,
        })
    }
}

impl Tx<'_> {
    pub(super) async fn family_payments(&mut self, days: Days) -> Result<Vec<FamilyPayment>, StoreError> {
        let rows: Vec<FamilyRow> = sql_query(FAMILY)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                Ok(FamilyPayment { name: row.name, amount: money("movements.amount", row.amount, base)? })
            })
            .collect()
    }

    pub(super) async fn receivables_of_year(&mut self, days: Days) -> Result<Receivables, StoreError> {
        let base = self.card().base;
        if self.card().method == AccountingMethod::Cash {
            return Ok(Receivables::none(base));
        }
        let sums: ReceivablesRow = sql_query(RECEIVABLES)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .get_result(self.connection)
            .await?;
        let due: Vec<DueRow> = sql_query(DUE)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let due = due.into_iter().map(|row| {
            let currency = read_as("deals.currency", &row.currency, |code| Currency::find(code).ok())?;
            let amount = money("instalments_due.amount", row.amount, currency)?;
            Ok(DueNotInvoiced { deal: DealId(row.id), title: row.title, amount })
        });
        Ok(Receivables {
            invoiced: money("invoices.booked", sums.invoiced, base)?,
            settled: money("instalments.settled", sums.settled, base)?,
            exchange_losses: money("instalments.exchange_gain", sums.exchange_losses, base)?,
            due: due.collect::<Result<_, StoreError>>()?,
        })
    }

    pub(super) async fn marks_of_year(&mut self, days: Days) -> Result<Marks, StoreError> {
        let before = NaiveDate::from_ymd_opt(days.year, 12, 1).unwrap_or(days.last);
        let after = NaiveDate::from_ymd_opt(days.year + 1, 1, 31).unwrap_or(days.last);
        let row: MarksRow = sql_query(MARKS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .bind::<Date, _>(before)
            .bind::<Date, _>(after)
            .get_result(self.connection)
            .await?;
        Ok(Marks {
            opening: if row.opening { OpeningStated::Stated } else { OpeningStated::NotStated },
            counted_on: row.counted_on,
            purchases: usize::try_from(row.purchases).unwrap_or(usize::MAX),
        })
    }

    /// Those whose income is the year's.
    pub(super) async fn payouts_of_year(&mut self, days: Days) -> Result<Vec<Payout>, StoreError> {
        let rows: Vec<PayoutRow> = payouts::table
            .filter(payouts::books_id.eq(self.id.0))
            .filter(payouts::income_on.between(days.first, days.last))
            .filter(live!(payouts))
            .order((payouts::income_on, payouts::received_on, payouts::record_id))
            .select((
                payouts::platform_id,
                payouts::account_id,
                payouts::income_on,
                payouts::received_on,
                payouts::gross,
                payouts::fees,
                payouts::tax_withheld,
                payouts::reserve_held,
                payouts::reserve_released,
                payouts::adjustments,
                payouts::net,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter().map(|row| row.payout(base)).collect()
    }
}
