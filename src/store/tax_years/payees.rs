//! What helpers, trades and landlords were paid in a year, entry by entry.

use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::PartyId;
use crate::rules::tax_year::payees::{PaidFor, PaidToParty};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::{money, read_as};

/// By entry and kind. Who stays in the house is the owner's own affair: home classes are not among them. Books on
/// accrual count an invoice in the year they book it.
const PAID: &str = "\
WITH standing AS (
    SELECT r.id, r.party_id FROM records r
    WHERE r.books_id = $1 AND r.word IN ('labour', 'purchases') AND r.party_id IS NOT NULL
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = r.id)
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.reversal_id = r.id)
), said AS (
    SELECT s.party_id, e.number, p.amount, p.account,
        CASE WHEN p.tax_class IN ('contract_labour', 'resale_labour', 'legal_professional', 'commissions_fees')
                THEN 'services'
            WHEN p.tax_class IN ('rent_equipment', 'rent_property') THEN 'rent' END AS paid_for
    FROM standing s
    JOIN entries e ON e.books_id = $1 AND e.record_id = s.id AND e.date BETWEEN $2 AND $3
    JOIN postings p ON p.books_id = $1 AND p.entry_number = e.number
), whole AS (
    SELECT s.number, -sum(s.amount) FILTER (WHERE s.amount < 0) AS paid,
        -sum(s.amount) FILTER (WHERE s.amount < 0 AND a.kind = 'card') AS by_card
    FROM said s
    LEFT JOIN money_accounts a ON a.books_id = $1 AND s.account = 'money:' || a.id
    GROUP BY s.number
)
SELECT y.id AS party, y.name, s.paid_for, sum(s.amount) AS amount, coalesce(w.paid, 0) AS paid,
    coalesce(w.by_card, 0) AS by_card
FROM said s
JOIN whole w ON w.number = s.number
JOIN parties y ON y.books_id = $1 AND y.id = s.party_id
WHERE s.paid_for IS NOT NULL
GROUP BY y.id, y.name, s.paid_for, s.number, w.paid, w.by_card
ORDER BY s.number, s.paid_for COLLATE \"C\"";

#[derive(QueryableByName)]
struct PaidRow {
    #[diesel(sql_type = SqlUuid)]
    party: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    paid_for: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
    #[diesel(sql_type = Numeric)]
    paid: Decimal,
    #[diesel(sql_type = Numeric)]
    by_card: Decimal,
}

impl Tx<'_> {
    pub(super) async fn paid_to_parties(&mut self, days: Days) -> Result<Vec<PaidToParty>, StoreError> {
        let rows: Vec<PaidRow> = sql_query(PAID)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                Ok(PaidToParty {
                    party: PartyId(row.party),
                    name: row.name,
                    paid_for: read_as("paid_for", &row.paid_for, PaidFor::named)?,
                    amount: money("postings.amount", row.amount, base)?,
                    paid: money("postings.amount", row.paid, base)?,
                    by_card: money("postings.amount", row.by_card, base)?,
                })
            })
            .collect()
    }
}
