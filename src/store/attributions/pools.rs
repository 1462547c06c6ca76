//! Overhead pools, each spreading, and the facts of the report on them.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::costing::{OverheadReportFacts, Period, SpreadFacts};
use crate::rules::ids::{EpisodeId, OverheadPoolId, RecordId};
use crate::rules::journal::ExpenseClass;
use crate::rules::money::{Currency, Money};
use crate::rules::rows::{OverheadBasis, OverheadEstimate, OverheadPool, OverheadRate, OverheadSpread};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{attributions, overhead_pool_records, overhead_pools, overhead_spreads};
use crate::store::{live, money, read_as};

#[derive(Queryable)]
struct PoolRow {
    id: Uuid,
    name: String,
    from: NaiveDate,
    to: NaiveDate,
    classes: Vec<String>,
    cost: Option<Decimal>,
    hours: Option<Decimal>,
}

impl PoolRow {
    fn read(self, records: Vec<RecordId>, base: Currency) -> Result<OverheadPool, StoreError> {
        let classes =
            self.classes.iter().map(|class| read_as("overhead_pools.classes", class, ExpenseClass::named));
        let cost = self.cost.map(|cost| money("overhead_pools.estimated_cost", cost, base)).transpose()?;
        Ok(OverheadPool {
            id: OverheadPoolId(self.id),
            name: self.name,
            from: self.from,
            to: self.to,
            classes: classes.collect::<Result<_, _>>()?,
            records,
            estimate: cost.zip(self.hours).map(|(cost, hours)| OverheadEstimate { cost, hours }),
        })
    }
}

#[derive(Queryable)]
struct SpreadRow {
    record: Uuid,
    pool: Option<Uuid>,
    date: NaiveDate,
    from: NaiveDate,
    to: NaiveDate,
    basis: String,
    rate: String,
    base: Decimal,
    applied: Decimal,
    there: Decimal,
    spread: Decimal,
}

impl SpreadRow {
    fn read(self, base: Currency) -> Result<OverheadSpread, StoreError> {
        Ok(OverheadSpread {
            pool: self.pool.map(OverheadPoolId),
            date: self.date,
            from: self.from,
            to: self.to,
            by: read_as("overhead_spreads.basis", &self.basis, OverheadBasis::named)?,
            rate: read_as("overhead_spreads.rate", &self.rate, OverheadRate::named)?,
            base: self.base,
            applied: money("overhead_spreads.applied", self.applied, base)?,
            there: money("overhead_spreads.there", self.there, base)?,
            spread: money("overhead_spreads.spread", self.spread, base)?,
        })
    }
}

impl Tx<'_> {
    pub(in crate::store) async fn add_overhead_pool(
        &mut self,
        record: RecordId,
        row: &OverheadPool,
    ) -> Result<(), StoreError> {
        let classes: Vec<&str> = row.classes.iter().map(|class| class.as_str()).collect();
        diesel::insert_into(overhead_pools::table)
            .values((
                overhead_pools::books_id.eq(self.id.0),
                overhead_pools::record_id.eq(record.0),
                overhead_pools::name.eq(&row.name),
                overhead_pools::from_date.eq(row.from),
                overhead_pools::to_date.eq(row.to),
                overhead_pools::classes.eq(classes),
                overhead_pools::estimated_cost.eq(row.estimate.map(|estimate| estimate.cost.amount())),
                overhead_pools::estimated_hours.eq(row.estimate.map(|estimate| estimate.hours)),
            ))
            .execute(self.connection)
            .await?;
        let mut records: Vec<RecordId> = row.records.clone();
        records.sort_unstable();
        records.dedup();
        let rows: Vec<_> = records
            .iter()
            .map(|named| {
                (
                    overhead_pool_records::books_id.eq(self.id.0),
                    overhead_pool_records::pool_id.eq(record.0),
                    overhead_pool_records::record_id.eq(named.0),
                )
            })
            .collect();
        diesel::insert_into(overhead_pool_records::table).values(rows).execute(self.connection).await?;
        Ok(())
    }

    pub(in crate::store) async fn add_overhead_spread(
        &mut self,
        record: RecordId,
        row: &OverheadSpread,
    ) -> Result<(), StoreError> {
        diesel::insert_into(overhead_spreads::table)
            .values((
                overhead_spreads::books_id.eq(self.id.0),
                overhead_spreads::record_id.eq(record.0),
                overhead_spreads::pool_id.eq(row.pool.map(|pool| pool.0)),
                overhead_spreads::date.eq(row.date),
                overhead_spreads::from_date.eq(row.from),
                overhead_spreads::to_date.eq(row.to),
                overhead_spreads::basis.eq(row.by.as_str()),
                overhead_spreads::rate.eq(row.rate.as_str()),
                overhead_spreads::base.eq(row.base),
                overhead_spreads::applied.eq(row.applied.amount()),
                overhead_spreads::there.eq(row.there.amount()),
                overhead_spreads::spread.eq(row.spread.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// Every pool that stands, in the order they were stated.
    /// # Errors
    /// What the database could not do; a row that does not fit.
    pub async fn overhead_pools(&mut self) -> Result<Vec<OverheadPool>, StoreError> {
        let named: Vec<(Uuid, Uuid)> = overhead_pool_records::table
            .filter(overhead_pool_records::books_id.eq(self.id.0))
            .order((overhead_pool_records::pool_id, overhead_pool_records::record_id))
            .select((overhead_pool_records::pool_id, overhead_pool_records::record_id))
            .load(self.connection)
            .await?;
        let mut records: HashMap<Uuid, Vec<RecordId>> = HashMap::new();
        for (pool, record) in named {
            records.entry(pool).or_default().push(RecordId(record));
        }
        let rows: Vec<PoolRow> = overhead_pools::table
            .filter(overhead_pools::books_id.eq(self.id.0))
            .filter(live!(overhead_pools))
            .order(overhead_pools::record_id)
            .select((
                overhead_pools::record_id,
                overhead_pools::name,
                overhead_pools::from_date,
                overhead_pools::to_date,
                overhead_pools::classes,
                overhead_pools::estimated_cost,
                overhead_pools::estimated_hours,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let each = rows.into_iter();
        each.map(|row| {
            let of_pool = records.remove(&row.id).unwrap_or_default();
            row.read(of_pool, base)
        })
        .collect()
    }

    /// What the report on overhead is worked out from.
    /// # Errors
    /// As [`Tx::overhead_pools`].
    pub async fn overhead_report_facts(&mut self, period: Period) -> Result<OverheadReportFacts, StoreError> {
        let currency = self.card().base;
        let pools = self.overhead_pools().await?;
        let costs = self.overhead_costs().await?.into_iter().map(|(_, cost)| cost).collect();
        let rows: Vec<SpreadRow> = overhead_spreads::table
            .filter(overhead_spreads::books_id.eq(self.id.0))
            .filter(live!(overhead_spreads))
            .order(overhead_spreads::record_id)
            .select((
                overhead_spreads::record_id,
                overhead_spreads::pool_id,
                overhead_spreads::date,
                overhead_spreads::from_date,
                overhead_spreads::to_date,
                overhead_spreads::basis,
                overhead_spreads::rate,
                overhead_spreads::base,
                overhead_spreads::applied,
                overhead_spreads::there,
                overhead_spreads::spread,
            ))
            .load(self.connection)
            .await?;
        let mut borne = self.borne_by_episodes(&rows).await?;
        let mut spreads = Vec::with_capacity(rows.len());
        for row in rows {
            let record = row.record;
            let borne = borne.remove(&record).unwrap_or_default();
            spreads.push(SpreadFacts { record: RecordId(record), row: row.read(currency)?, borne });
        }
        Ok(OverheadReportFacts { currency, period, pools, spreads, costs })
    }

    /// What each episode bore by each of those records.
    async fn borne_by_episodes(
        &mut self,
        spreads: &[SpreadRow],
    ) -> Result<HashMap<Uuid, Vec<(EpisodeId, Money)>>, StoreError> {
        let records: Vec<Uuid> = spreads.iter().map(|row| row.record).collect();
        let rows: Vec<(Uuid, Option<Uuid>, Option<Decimal>)> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::record_id.eq_any(records))
            .group_by((attributions::record_id, attributions::episode_id))
            .order((attributions::record_id, attributions::episode_id))
            .select((
                attributions::record_id,
                attributions::episode_id,
                diesel::dsl::sum(attributions::amount),
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut borne: HashMap<Uuid, Vec<(EpisodeId, Money)>> = HashMap::new();
        for (record, episode, amount) in rows {
            if let (Some(episode), Some(amount)) = (episode, amount) {
                let amount = money("attributions.amount", amount, base)?;
                borne.entry(record).or_default().push((EpisodeId(episode), amount));
            }
        }
        Ok(borne)
    }
}
