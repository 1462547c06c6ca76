//! What stayed in the owner's home, by the projects that bear it.
//!
//! Postings carry no episode, so the journal alone can not say which project a home improvement belongs to. What
//! can: a purchase line knows which share of it stayed in the home, and its source who bears how much of it; a
//! material's move and a helper's pay went to one project as a whole.

use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::ProjectId;
use crate::rules::money::{Currency, Money};
use crate::rules::tax_year::facts::HomeCost;
use crate::rules::tax_year::home::{HomeLine, HomeProject, HomeSide, by_project};
use crate::store::books::Tx;
use crate::store::error::{Fault, StoreError};
use crate::store::{money, read_as};

/// One row for each cost and project. A purchase counts in its own year, whenever its cost was given to a project;
/// what went back to the vendor counts in the year it went. Stock counts as it is issued, not as it is bought.
const HOME: &str = "\
WITH counting AS (
    SELECT a.source_id, coalesce(a.project_id, e.project_id) AS project_id, a.amount,
        CASE WHEN r.word = 'purchases' AND r.kind = 'return' THEN r.date END AS went_back_on
    FROM attributions a
    JOIN records r ON r.books_id = a.books_id AND r.id = a.record_id
    LEFT JOIN episodes e ON e.books_id = a.books_id AND e.id = a.episode_id
    WHERE a.books_id = $1
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = a.record_id)
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.reversal_id = a.record_id)
), borne AS (
    SELECT 'line ' || l.record_id || ' ' || l.position || ' ' || t.place AS cost, t.treatment AS side,
        t.amount AS part, l.amount AS whole, c.project_id, c.amount
    FROM purchase_line_treatments t
    JOIN purchase_lines l ON l.books_id = t.books_id AND l.record_id = t.record_id AND l.position = t.position AND l.part = t.part
    JOIN records r ON r.books_id = l.books_id AND r.id = l.record_id
    JOIN sources s ON s.books_id = l.books_id AND s.id = l.source_id AND s.kind = 'purchase_line'
    JOIN counting c ON c.source_id = l.source_id
    WHERE t.books_id = $1 AND t.treatment IN ('home_improvement', 'home_repair')
    AND coalesce(c.went_back_on, r.date) BETWEEN $2 AND $3
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = l.record_id)
    UNION ALL
    SELECT 'pay ' || w.record_id, p.tax_class, w.paid, w.paid, c.project_id, c.amount
    FROM labour_entries w
    JOIN entries e ON e.books_id = w.books_id AND e.record_id = w.record_id
    JOIN postings p ON p.books_id = e.books_id AND p.entry_number = e.number
    JOIN sources s ON s.books_id = w.books_id AND s.record_id = w.record_id AND s.kind = 'paid_labour'
    JOIN counting c ON c.source_id = s.id
    WHERE w.books_id = $1 AND p.tax_class IN ('home_improvement', 'home_repair') AND w.date BETWEEN $2 AND $3
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = w.record_id)
    UNION ALL
    SELECT 'move ' || m.id, m.treatment, -m.cost, -m.cost, coalesce(m.project_id, e.project_id), -m.cost
    FROM lot_moves m
    LEFT JOIN episodes e ON e.books_id = m.books_id AND e.id = m.episode_id
    WHERE m.books_id = $1 AND m.treatment IN ('home_improvement', 'home_repair') AND m.date BETWEEN $2 AND $3
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = m.record_id)
)
SELECT b.cost, b.side, b.part, b.whole, b.project_id, p.name, sum(b.amount) AS amount
FROM borne b
JOIN projects p ON p.books_id = $1 AND p.id = b.project_id
GROUP BY b.cost, b.side, b.part, b.whole, b.project_id, p.name
ORDER BY b.cost COLLATE \"C\", b.project_id";

#[derive(QueryableByName)]
struct HomeRow {
    #[diesel(sql_type = Text)]
    cost: String,
    #[diesel(sql_type = Text)]
    side: String,
    #[diesel(sql_type = Numeric)]
    part: Decimal,
    #[diesel(sql_type = Numeric)]
    whole: Decimal,
    #[diesel(sql_type = SqlUuid)]
    project_id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

impl HomeRow {
    fn line(&self, base: Currency) -> Result<HomeLine, StoreError> {
        Ok(HomeLine {
            side: read_as("treatment", &self.side, HomeSide::named)?,
            part: money("amount", self.part, base)?,
            whole: money("amount", self.whole, base)?,
            borne: Vec::new(),
        })
    }

    fn borne(self, base: Currency) -> Result<(HomeProject, Money), StoreError> {
        let project = HomeProject { name: self.name, id: ProjectId(self.project_id) };
        Ok((project, money("attributions.amount", self.amount, base)?))
    }
}

impl Tx<'_> {
    pub(super) async fn home_costs(&mut self, days: Days) -> Result<Vec<HomeCost>, Fault> {
        let rows: Vec<HomeRow> = sql_query(HOME)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut lines: Vec<(String, HomeLine)> = Vec::new();
        for row in rows {
            if lines.last().is_none_or(|(cost, _)| *cost != row.cost) {
                lines.push((row.cost.clone(), row.line(base)?));
            }
            if let Some((_, line)) = lines.last_mut() {
                line.borne.push(row.borne(base)?);
            }
        }
        let lines: Vec<HomeLine> = lines.into_iter().map(|(_, line)| line).collect();
        Ok(by_project(&lines, base)?)
    }
}
