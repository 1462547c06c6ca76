//! What overhead is spread from, and what by.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::attributions::{NewOverhead, OverheadFacts};
use crate::rules::costing::{DatedAmount, OverheadCost, Period};
use crate::rules::ids::{EpisodeId, RecordId, SourceId};
use crate::rules::journal::ExpenseClass;
use crate::rules::recording::CostObject;
use crate::rules::rows::OverheadBasis;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::{money, read_as};

/// Stock that left a shelf for nobody, or came back from there.
const FOR_NOBODY: &str = "\
for_nobody AS (SELECT l.source_id, m.date, -m.cost AS amount, m.treatment FROM lot_moves m
    JOIN lots l ON l.books_id = m.books_id AND l.id = m.lot_id
    WHERE m.books_id = $1 AND num_nonnulls(m.episode_id, m.project_id, m.piece_id) = 0
    AND m.kind IN ('issued', 'wasted', 'counted_short', 'came_back', 'rebate_passed_on')
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = m.record_id))";

/// Costs of the business that may be overhead. Nothing of them is the owner's own: no line is treated as anything but an
/// expense, and no pay was a draw. Of stock: what left the shelf for nobody, again only where all of that is an expense.
const BUSINESS: &str = "\
s.books_id = $1 AND s.side = 'cost'
AND ((s.kind IN ('purchase_line', 'account_charge', 'exchange', 'paid_labour', 'trip')
        AND NOT EXISTS (SELECT FROM purchase_lines l
            JOIN purchase_line_treatments t
                ON t.books_id = l.books_id AND t.record_id = l.record_id AND t.position = l.position
                AND t.part = l.part
            WHERE l.books_id = $1 AND l.source_id = s.id AND t.treatment NOT LIKE 'expense%')
        AND NOT EXISTS (SELECT FROM movements m
            JOIN postings p ON p.books_id = m.books_id AND p.entry_number = m.entry_number
            WHERE m.books_id = $1 AND m.source_id = s.id AND s.kind = 'paid_labour' AND p.account LIKE 'draw:%'))
    OR (s.kind = 'lot' AND EXISTS (SELECT FROM for_nobody f WHERE f.source_id = s.id)
        AND NOT EXISTS (SELECT FROM for_nobody f
            WHERE f.source_id = s.id AND f.treatment NOT LIKE 'expense%')))";

/// Those of which something is left.
fn pool() -> String {
    format!(
        "WITH {FOR_NOBODY}
SELECT s.id FROM sources s
WHERE {BUSINESS}
AND coalesce((SELECT sum(m.amount) FROM movements m
    WHERE m.books_id = $1 AND m.source_id = s.id AND m.date <= $2), 0)
    > coalesce((SELECT sum(a.amount) FROM attributions a WHERE a.books_id = $1 AND a.source_id = s.id), 0)
ORDER BY s.id"
    )
}

/// What each of them came to more or less as overhead, day by day: what an episode took up by itself is less.
fn changes() -> String {
    format!(
        "WITH {FOR_NOBODY}, costs AS (SELECT s.id, s.record_id, s.kind FROM sources s WHERE {BUSINESS})
SELECT c.id AS source, c.record_id AS record, x.date, x.amount
FROM costs c JOIN (
    SELECT m.source_id, m.date, m.amount, false AS of_lot FROM movements m WHERE m.books_id = $1
    UNION ALL
    SELECT a.source_id, a.date, -a.amount, false FROM attributions a
        WHERE a.books_id = $1 AND a.label <> 'overhead'
    UNION ALL
    SELECT f.source_id, f.date, f.amount, true FROM for_nobody f
) x ON x.source_id = c.id AND x.of_lot = (c.kind = 'lot')
ORDER BY c.id, x.date"
    )
}

/// The classes of expense of each of them, by the account that carries it.
fn classes() -> String {
    format!(
        "WITH {FOR_NOBODY}, costs AS (SELECT s.id, s.kind FROM sources s WHERE {BUSINESS})
SELECT DISTINCT c.id AS source, x.account
FROM costs c JOIN (
    SELECT l.source_id, t.treatment AS account, 'purchase_line' AS of FROM purchase_lines l
        JOIN purchase_line_treatments t
            ON t.books_id = l.books_id AND t.record_id = l.record_id AND t.position = l.position AND t.part = l.part
        WHERE l.books_id = $1
    UNION ALL
    SELECT f.source_id, f.treatment, 'lot' FROM for_nobody f
    UNION ALL
    SELECT m.source_id, p.account, 'entry' FROM movements m
        JOIN postings p ON p.books_id = m.books_id AND p.entry_number = m.entry_number
        WHERE m.books_id = $1 AND p.account LIKE 'expense:%'
) x ON x.source_id = c.id AND x.of = CASE WHEN c.kind IN ('purchase_line', 'lot') THEN c.kind ELSE 'entry' END
ORDER BY c.id, x.account"
    )
}

const INCOME: &str = "\
SELECT a.episode_id AS episode, sum(a.amount) AS weight
FROM attributions a
JOIN sources s ON s.books_id = a.books_id AND s.id = a.source_id AND s.side IN ('income', 'in_kind')
WHERE a.books_id = $1 AND a.episode_id IS NOT NULL AND a.date BETWEEN $2 AND $3
GROUP BY a.episode_id
ORDER BY a.episode_id";

/// What each episode cost by then, overhead included.
const COSTS: &str = "\
SELECT a.episode_id AS episode, sum(a.amount) AS weight
FROM attributions a
JOIN sources s ON s.books_id = a.books_id AND s.id = a.source_id AND s.side = 'cost'
WHERE a.books_id = $1 AND a.episode_id IS NOT NULL AND a.date BETWEEN $2 AND $3
GROUP BY a.episode_id
ORDER BY a.episode_id";

#[derive(QueryableByName)]
struct ChangeRow {
    #[diesel(sql_type = SqlUuid)]
    source: Uuid,
    #[diesel(sql_type = SqlUuid)]
    record: Uuid,
    #[diesel(sql_type = Date)]
    date: NaiveDate,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

#[derive(QueryableByName)]
struct ClassRow {
    #[diesel(sql_type = SqlUuid)]
    source: Uuid,
    #[diesel(sql_type = Text)]
    account: String,
}

#[derive(QueryableByName)]
struct SourceRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

#[derive(QueryableByName)]
struct BasisRow {
    #[diesel(sql_type = SqlUuid)]
    episode: Uuid,
    #[diesel(sql_type = Numeric)]
    weight: Decimal,
}

impl Tx<'_> {
    /// What `asked` spreads, and by what.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn overhead_facts(&mut self, asked: &NewOverhead) -> Result<OverheadFacts, StoreError> {
        let mut stated = None;
        let mut sources = asked.sources.clone();
        if let Some(id) = asked.pool {
            let pools = self.overhead_pools().await?;
            let pool = pools.iter().find(|pool| pool.id == id);
            let pool =
                pool.ok_or_else(|| StoreError::UnknownId { what: "overhead_pools".to_owned(), id: id.0 })?;
            if sources.is_empty() {
                let costs = self.overhead_costs().await?.into_iter();
                let belongs = costs.filter(|(_, cost)| {
                    let in_time = |on: NaiveDate| pool.holds(on) && on <= asked.date;
                    cost.changes.iter().any(|change| in_time(change.date))
                        && pool.takes(&pools, cost.record, &cost.classes)
                });
                sources = belongs.map(|(source, _)| source).collect();
            }
            stated = Some(pool.clone());
        } else if sources.is_empty() {
            sources = self.overhead_pool(asked.date).await?;
        }
        let mut pool = Vec::with_capacity(sources.len());
        for source in sources {
            pool.push(self.source_standing(source).await?);
        }
        let basis = match asked.by {
            OverheadBasis::OwnHours => self.hours_of_episodes(asked).await?,
            OverheadBasis::Income => self.overhead_basis(INCOME, asked).await?,
            OverheadBasis::Costs => self.overhead_basis(COSTS, asked).await?,
            OverheadBasis::Equally => Vec::new(),
        };
        Ok(OverheadFacts { pool, basis, stated })
    }

    async fn overhead_pool(&mut self, date: NaiveDate) -> Result<Vec<SourceId>, StoreError> {
        let rows: Vec<SourceRow> = sql_query(pool())
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(date)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(|row| SourceId(row.id)).collect())
    }

    /// The same hours as on statements: those on a piece count for the episode that it was got for.
    async fn hours_of_episodes(
        &mut self,
        asked: &NewOverhead,
    ) -> Result<Vec<(EpisodeId, Decimal)>, StoreError> {
        let period = Period { from: Some(asked.from), to: Some(asked.to) };
        let mut sums: BTreeMap<EpisodeId, Decimal> = BTreeMap::new();
        for (object, own) in self.own_hours(None, period).await? {
            if let CostObject::Episode(episode) = object {
                let sum = sums.entry(episode).or_default();
                *sum = sum.saturating_add(own.hours);
            }
        }
        Ok(sums.into_iter().collect())
    }

    /// Every cost that is or was overhead, in the order they were recorded.
    pub(in crate::store) async fn overhead_costs(
        &mut self,
    ) -> Result<Vec<(SourceId, OverheadCost)>, StoreError> {
        let base = self.card().base;
        let rows: Vec<ClassRow> =
            sql_query(classes()).bind::<SqlUuid, _>(self.id.0).load(self.connection).await?;
        let mut of_source: BTreeMap<Uuid, Vec<ExpenseClass>> = BTreeMap::new();
        for row in rows {
            let named = |code: &str| code.strip_prefix("expense:").and_then(ExpenseClass::named);
            of_source.entry(row.source).or_default().push(read_as("postings.account", &row.account, named)?);
        }
        let rows: Vec<ChangeRow> =
            sql_query(changes()).bind::<SqlUuid, _>(self.id.0).load(self.connection).await?;
        let mut found: Vec<(SourceId, OverheadCost)> = Vec::new();
        for row in rows {
            let change = DatedAmount { date: row.date, amount: money("movements.amount", row.amount, base)? };
            match found.last_mut() {
                Some((source, cost)) if source.0 == row.source => cost.changes.push(change),
                _ => {
                    let classes = of_source.remove(&row.source).unwrap_or_default();
                    let record = RecordId(row.record);
                    found.push((
                        SourceId(row.source),
                        OverheadCost { record, classes, changes: vec![change] },
                    ));
                }
            }
        }
        Ok(found)
    }

    async fn overhead_basis(
        &mut self,
        query: &str,
        asked: &NewOverhead,
    ) -> Result<Vec<(EpisodeId, Decimal)>, StoreError> {
        let rows: Vec<BasisRow> = sql_query(query)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Date, _>(asked.from)
            .bind::<Date, _>(asked.to)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(|row| (EpisodeId(row.episode), row.weight)).collect())
    }
}
