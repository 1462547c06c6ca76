//! What overhead is spread from, and what by.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Numeric, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::attributions::{NewOverhead, OverheadBasis, OverheadFacts};
use crate::rules::ids::{EpisodeId, SourceId};
use crate::store::books::Tx;
use crate::store::error::StoreError;

/// Costs on receipts and accounts of which something is left and nothing is the owner's own: no line of theirs is
/// treated as anything but an expense.
const POOL: &str = "\
SELECT s.id
FROM sources s
WHERE s.books_id = $1 AND s.side = 'cost' AND s.kind IN ('purchase_line', 'account_charge', 'exchange')
AND coalesce((SELECT sum(m.amount) FROM movements m
    WHERE m.books_id = $1 AND m.source_id = s.id AND m.date <= $2), 0)
    > coalesce((SELECT sum(a.amount) FROM attributions a WHERE a.books_id = $1 AND a.source_id = s.id), 0)
AND NOT EXISTS (SELECT FROM purchase_lines l
    JOIN purchase_line_treatments t
        ON t.books_id = l.books_id AND t.record_id = l.record_id AND t.position = l.position AND t.part = l.part
    WHERE l.books_id = $1 AND l.source_id = s.id AND t.treatment NOT LIKE 'expense%')
ORDER BY s.id";

const OWN_HOURS: &str = "\
SELECT l.episode_id AS episode, sum(l.hours) AS weight
FROM labour_entries l
WHERE l.books_id = $1 AND l.standing = 'own' AND l.episode_id IS NOT NULL AND l.date BETWEEN $2 AND $3
AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = l.record_id)
GROUP BY l.episode_id
ORDER BY l.episode_id";

const INCOME: &str = "\
SELECT a.episode_id AS episode, sum(a.amount) AS weight
FROM attributions a
JOIN sources s ON s.books_id = a.books_id AND s.id = a.source_id AND s.side IN ('income', 'in_kind')
WHERE a.books_id = $1 AND a.episode_id IS NOT NULL AND a.date BETWEEN $2 AND $3
GROUP BY a.episode_id
ORDER BY a.episode_id";

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
        let mut sources = asked.sources.clone();
        if sources.is_empty() {
            sources = self.overhead_pool(asked.date).await?;
        }
        let mut pool = Vec::with_capacity(sources.len());
        for source in sources {
            pool.push(self.source_standing(source).await?);
        }
        let basis = match asked.by {
            OverheadBasis::OwnHours => self.overhead_basis(OWN_HOURS, asked).await?,
            OverheadBasis::Income => self.overhead_basis(INCOME, asked).await?,
            OverheadBasis::Equally => Vec::new(),
        };
        Ok(OverheadFacts { pool, basis })
    }

    async fn overhead_pool(&mut self, date: NaiveDate) -> Result<Vec<SourceId>, StoreError> {
        let rows: Vec<SourceRow> =
            sql_query(POOL).bind::<SqlUuid, _>(self.id.0).bind::<Date, _>(date).load(self.connection).await?;
        Ok(rows.into_iter().map(|row| SourceId(row.id)).collect())
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
