//! Deals as they stand: what came in, what went back, what is due.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::dsl::sum;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::deals::{DealFacts, DealIncome, DealStandingFacts};
use crate::rules::ids::{DealId, PartyId, RecordId, SourceId};
use crate::rules::money::{Currency, Money};
use crate::rules::recording::{CostObject, Side, SourceKind};
use crate::rules::rows::{Clawback, Deal, InstalmentDue};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::object_of;
use crate::store::schema::{
    attributions, clawbacks, deal_shares, deals, instalments, instalments_due, invoices, movements, sources,
};
use crate::store::{live, money, read_as};

#[derive(Queryable, Selectable)]
#[diesel(table_name = deals)]
pub(super) struct DealRow {
    id: Uuid,
    record_id: Uuid,
    sponsor_id: Uuid,
    agency_id: Option<Uuid>,
    title: String,
    agreed_on: NaiveDate,
    currency: String,
    agreed: Decimal,
    paid_before: Decimal,
}

impl DealRow {
    pub(super) const fn id(&self) -> Uuid {
        self.id
    }

    pub(super) fn read(self) -> Result<(RecordId, Deal), StoreError> {
        let currency = read_as("deals.currency", &self.currency, |code| Currency::find(code).ok())?;
        let deal = Deal {
            id: DealId(self.id),
            sponsor: PartyId(self.sponsor_id),
            agency: self.agency_id.map(PartyId),
            title: self.title,
            agreed_on: self.agreed_on,
            agreed: money("deals.agreed", self.agreed, currency)?,
            paid_before: money("deals.paid_before", self.paid_before, currency)?,
        };
        Ok((RecordId(self.record_id), deal))
    }
}

/// What came in on some deals since the books began, less what went back, each in its deal's own currency.
pub(super) struct MovedOnDeals(HashMap<Uuid, Decimal>);

impl MovedOnDeals {
    /// With what was paid before the books began.
    pub(super) fn paid_on(&self, deal: &Deal) -> Result<Money, StoreError> {
        let moved = self.0.get(&deal.id.0).copied().unwrap_or_default();
        let paid = deal.paid_before.amount().saturating_add(moved);
        money("instalments.counts", paid, deal.agreed.currency())
    }
}

impl Tx<'_> {
    /// A deal that a request names in its body, with its record; nothing for none.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn deal_if_named(
        &mut self,
        id: Option<DealId>,
    ) -> Result<Option<(Deal, RecordId)>, StoreError> {
        let Some(id) = id else { return Ok(None) };
        let found = self.live_deal(id).await?;
        Ok(Some(found.ok_or_else(|| StoreError::UnknownId { what: "deals".to_owned(), id: id.0 })?))
    }

    /// A deal with what came in on it so far.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn deal(&mut self, id: DealId) -> Result<DealFacts, StoreError> {
        let (deal, record) = self.live_deal(id).await?.ok_or_else(|| Self::missing("deal", id))?;
        let gross_so_far = self.moved_on_deals(&[id.0]).await?.paid_on(&deal)?;
        let objects = self.deal_objects(id).await?;
        let incomes = self.deal_incomes(id).await?;
        let invoices = self.invoices_of(&deal).await?;
        Ok(DealFacts { deal, record, gross_so_far, objects, incomes, invoices })
    }

    /// A deal with everything that stands on it.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn deal_standing(&mut self, id: DealId) -> Result<DealStandingFacts, StoreError> {
        let deal = self.deal(id).await?;
        let instalments = self.instalments_of(id).await?;
        let clawbacks = self.clawbacks_of(&deal.deal).await?;
        let schedule = self.schedule_of(&deal.deal).await?;
        let promises = self.promises_of(id).await?;
        Ok(DealStandingFacts { deal, instalments, clawbacks, schedule, promises })
    }

    pub(super) async fn live_deal(&mut self, id: DealId) -> Result<Option<(Deal, RecordId)>, StoreError> {
        let row: Option<DealRow> = deals::table
            .filter(deals::books_id.eq(self.id.0))
            .filter(deals::id.eq(id.0))
            .filter(live!(deals))
            .select(DealRow::as_select())
            .first(self.connection)
            .await
            .optional()?;
        let Some(row) = row else { return Ok(None) };
        let (record, deal) = row.read()?;
        Ok(Some((deal, record)))
    }

    pub(super) async fn moved_on_deals(&mut self, ids: &[Uuid]) -> Result<MovedOnDeals, StoreError> {
        let came: Vec<(Uuid, Option<Decimal>)> = instalments::table
            .filter(instalments::books_id.eq(self.id.0))
            .filter(instalments::deal_id.eq_any(ids))
            .filter(live!(instalments))
            .group_by(instalments::deal_id)
            .select((instalments::deal_id, sum(instalments::counts)))
            .load(self.connection)
            .await?;
        let went: Vec<(Uuid, Option<Decimal>)> = clawbacks::table
            .filter(clawbacks::books_id.eq(self.id.0))
            .filter(clawbacks::deal_id.eq_any(ids))
            .filter(live!(clawbacks))
            .group_by(clawbacks::deal_id)
            .select((clawbacks::deal_id, sum(clawbacks::counts)))
            .load(self.connection)
            .await?;
        let mut moved: HashMap<Uuid, Decimal> =
            came.into_iter().map(|(deal, counts)| (deal, counts.unwrap_or_default())).collect();
        for (deal, counts) in went {
            let standing = moved.entry(deal).or_default();
            *standing = standing.saturating_sub(counts.unwrap_or_default());
        }
        Ok(MovedOnDeals(moved))
    }

    async fn deal_objects(&mut self, id: DealId) -> Result<Vec<(CostObject, Decimal)>, StoreError> {
        let rows: Vec<(Option<Uuid>, Option<Uuid>, Decimal)> = deal_shares::table
            .filter(deal_shares::books_id.eq(self.id.0))
            .filter(deal_shares::deal_id.eq(id.0))
            .filter(live!(deal_shares))
            .order(deal_shares::id)
            .select((deal_shares::episode_id, deal_shares::project_id, deal_shares::weight))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(episode, project, weight)| Ok((object_of(episode, project)?, weight)))
            .collect()
    }

    /// The income sources of the deal's invoices and instalments, the earliest recorded first; what an exchange gave
    /// is none of them.
    async fn deal_incomes(&mut self, id: DealId) -> Result<Vec<DealIncome>, StoreError> {
        let of_instalment =
            sources::books_id.eq(instalments::books_id).and(sources::record_id.eq(instalments::record_id));
        let mut rows: Vec<(Uuid, Uuid, NaiveDate)> = instalments::table
            .inner_join(sources::table.on(of_instalment))
            .filter(instalments::books_id.eq(self.id.0))
            .filter(instalments::deal_id.eq(id.0))
            .filter(sources::side.eq(Side::Income.as_str()))
            .filter(sources::kind.eq(SourceKind::Instalment.as_str()))
            .filter(live!(instalments))
            .select((instalments::record_id, sources::id, instalments::income_on))
            .load(self.connection)
            .await?;
        let of_invoice =
            sources::books_id.eq(invoices::books_id).and(sources::record_id.eq(invoices::record_id));
        let invoiced: Vec<(Uuid, Uuid, NaiveDate)> = invoices::table
            .inner_join(sources::table.on(of_invoice))
            .filter(invoices::books_id.eq(self.id.0))
            .filter(invoices::deal_id.eq(id.0))
            .filter(sources::kind.eq(SourceKind::Invoice.as_str()))
            .filter(live!(invoices))
            .select((invoices::record_id, sources::id, invoices::invoiced_on))
            .load(self.connection)
            .await?;
        rows.extend(invoiced);
        rows.sort_unstable();
        let mut incomes = Vec::with_capacity(rows.len());
        for (record, source, since) in rows {
            let left = self.income_left(source).await?;
            let attributed = self.income_attributed(source).await?;
            let (record, source) = (RecordId(record), SourceId(source));
            incomes.push(DealIncome { record, source, since, left, attributed });
        }
        Ok(incomes)
    }

    async fn income_left(&mut self, source: Uuid) -> Result<Money, StoreError> {
        let left: Option<Decimal> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq(source))
            .select(sum(movements::amount))
            .first(self.connection)
            .await?;
        money("movements.amount", left.unwrap_or_default(), self.card().base)
    }

    /// Corrections counted, so that an object that gave everything back is left out.
    async fn income_attributed(&mut self, source: Uuid) -> Result<Vec<(CostObject, Money)>, StoreError> {
        let rows: Vec<(Option<Uuid>, Option<Uuid>, Option<Decimal>)> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source))
            .group_by((attributions::episode_id, attributions::project_id))
            .order((attributions::episode_id, attributions::project_id))
            .select((attributions::episode_id, attributions::project_id, sum(attributions::amount)))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut given = Vec::with_capacity(rows.len());
        for (episode, project, amount) in rows {
            let amount = money("attributions.amount", amount.unwrap_or_default(), base)?;
            if !amount.is_zero() {
                given.push((object_of(episode, project)?, amount));
            }
        }
        Ok(given)
    }

    async fn clawbacks_of(&mut self, deal: &Deal) -> Result<Vec<Clawback>, StoreError> {
        let rows: Vec<(NaiveDate, Decimal, Decimal)> = clawbacks::table
            .filter(clawbacks::books_id.eq(self.id.0))
            .filter(clawbacks::deal_id.eq(deal.id.0))
            .filter(live!(clawbacks))
            .order(clawbacks::record_id)
            .select((clawbacks::paid_on, clawbacks::counts, clawbacks::amount))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(paid_on, counts, amount)| {
                Ok(Clawback {
                    deal: deal.id,
                    paid_on,
                    counts: money("clawbacks.counts", counts, deal.agreed.currency())?,
                    amount: money("clawbacks.amount", amount, base)?,
                })
            })
            .collect()
    }

    async fn schedule_of(&mut self, deal: &Deal) -> Result<Vec<InstalmentDue>, StoreError> {
        let rows: Vec<(NaiveDate, Decimal, String)> = instalments_due::table
            .filter(instalments_due::books_id.eq(self.id.0))
            .filter(instalments_due::deal_id.eq(deal.id.0))
            .filter(live!(instalments_due))
            .order((instalments_due::due_on, instalments_due::id))
            .select((instalments_due::due_on, instalments_due::amount, instalments_due::what))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(due_on, amount, what)| {
                let amount = money("instalments_due.amount", amount, deal.agreed.currency())?;
                Ok(InstalmentDue { deal: deal.id, due_on, amount, what })
            })
            .collect()
    }
}
