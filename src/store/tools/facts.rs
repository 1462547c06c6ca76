//! A tool with all that has happened to it, as the rules ask for it.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::books::Tx;
use super::super::error::StoreError;
use super::super::records::object_of;
use super::super::schema::{
    attributions, movements, records, tool_business_shares, tool_disposals, tool_estimates, tool_uses, tools,
};
use super::super::{live, money, read_as};
use crate::rules::ids::{RecordId, SourceId, ToolId};
use crate::rules::money::{Currency, Money};
use crate::rules::recording::CostObject;
use crate::rules::rows::{
    AttributionPlan, BusinessShare, Convention, DisposalKind, PriorDepreciation, PropertyType, RecoveryClass,
    TaxChoice, Tool, ToolDisposal, ToolEstimate, ToolOrigin, ToolUse, Vehicle, VehicleBody,
};
use crate::rules::tool_terms::PlanName;
use crate::rules::tools::{Carried, Logged, ToolFacts};

/// A row of the table, with the day of the record that brought the tool.
#[derive(Queryable)]
struct ToolRow {
    id: Uuid,
    record: Uuid,
    came_on: NaiveDate,
    source: Uuid,
    name: String,
    origin: String,
    acquired_on: NaiveDate,
    in_service_on: NaiveDate,
    cost: Decimal,
    basis_for_gain: Decimal,
    invoice_price: Decimal,
    salvage: Decimal,
    plan: PlanColumns,
    class: String,
    property: String,
    vehicle: (Option<i32>, Option<String>),
    choice: String,
    section_179: Decimal,
    business_share: Decimal,
    prior: (Option<Decimal>, Option<String>, Option<Decimal>),
    hours_before: Decimal,
}

/// The plan's name with its hours and its months.
type PlanColumns = (String, Option<Decimal>, Option<i32>);

fn plan_of((method, hours_expected, months): PlanColumns) -> Result<AttributionPlan, StoreError> {
    let months = months.and_then(|months| u32::try_from(months).ok());
    let hours_expected = hours_expected.map(|hours| hours.normalize());
    read_as("method", &method, |name| PlanName::named(name)?.with(hours_expected, months))
}

impl ToolRow {
    fn tool(self, base: Currency) -> Result<Tool, StoreError> {
        Ok(Tool {
            id: ToolId(self.id),
            source: SourceId(self.source),
            name: self.name,
            origin: read_as("tools.origin", &self.origin, ToolOrigin::named)?,
            acquired_on: self.acquired_on,
            in_service_on: self.in_service_on,
            cost: money("tools.cost", self.cost, base)?,
            basis_for_gain: money("tools.basis_for_gain", self.basis_for_gain, base)?,
            invoice_price: money("tools.invoice_price", self.invoice_price, base)?,
            salvage: money("tools.salvage", self.salvage, base)?,
            plan: plan_of(self.plan)?,
            class: read_as("tools.recovery_class", &self.class, RecoveryClass::named)?,
            property: read_as("tools.property_type", &self.property, PropertyType::named)?,
            vehicle: vehicle_of(self.vehicle)?,
            choice: read_as("tools.tax_choice", &self.choice, TaxChoice::named)?,
            section_179: money("tools.section_179", self.section_179, base)?,
            business_share: self.business_share.normalize(),
            prior: prior_of(self.prior, base)?,
            hours_before: self.hours_before.normalize(),
        })
    }
}

fn vehicle_of((pounds, body): (Option<i32>, Option<String>)) -> Result<Option<Vehicle>, StoreError> {
    let (Some(pounds), Some(body)) = (pounds, body) else { return Ok(None) };
    let body = read_as("tools.vehicle_body", &body, VehicleBody::named)?;
    Ok(Some(Vehicle { gross_pounds: u32::try_from(pounds).unwrap_or_default(), body }))
}

fn prior_of(
    columns: (Option<Decimal>, Option<String>, Option<Decimal>),
    base: Currency,
) -> Result<Option<PriorDepreciation>, StoreError> {
    let (Some(taken), Some(convention), Some(write_off)) = columns else { return Ok(None) };
    Ok(Some(PriorDepreciation {
        taken: money("tools.prior_taken", taken, base)?,
        convention: read_as("tools.prior_convention", &convention, Convention::named)?,
        first_year_write_off: money("tools.prior_first_year", write_off, base)?,
    }))
}

impl Tx<'_> {
    /// A tool, however it came, with its uses, estimates, disposal and what was attributed of it.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn tool(&mut self, id: ToolId) -> Result<ToolFacts, StoreError> {
        let row = self.tool_row(id).await?;
        let (record, came_on) = (RecordId(row.record), row.came_on);
        let tool = row.tool(self.card().base)?;
        Ok(ToolFacts {
            record,
            came_on,
            held: self.tool_held(tool.source, Behind::AnyMovement).await?,
            uses: self.tool_uses(id).await?,
            attributed: self.attributed_from(tool.source).await?,
            estimates: self.tool_estimates(id).await?,
            shares: self.business_shares(Some(id)).await?,
            improves: self.improved_by(id).await?,
            improvements: self.improvements_of(id).await?,
            repairs: self.repairs_of(id).await?,
            disposal: self.tool_disposal(id).await?,
            gone_until: self.tool_gone_until(id).await?,
            tool,
        })
    }

    /// What the ledger carries of a tool: the movements of its source that an entry stands behind are what was
    /// posted to tools at cost, and depreciation is what an opening position brought; closed years took their parts.
    /// # Errors
    /// What the database could not do.
    pub async fn tool_carried(&mut self, tool: &Tool) -> Result<Carried, StoreError> {
        let base = self.card().base;
        let before = tool.prior.map_or(Decimal::ZERO, |prior| prior.taken.amount());
        let written_off = self.written_off(tool.id).await?;
        let held = self.tool_held(tool.source, Behind::Entry).await?.amount();
        Ok(Carried {
            at_cost: money("movements.amount", held - written_off.at_once.amount(), base)?,
            accumulated: money("tool_charges.depreciation", before + written_off.accumulated.amount(), base)?,
        })
    }

    /// Every tool that stands, however it came, with its leaving if it left; the oldest record first.
    /// # Errors
    /// What the database could not do.
    pub async fn all_tools(&mut self) -> Result<Vec<(Tool, Option<ToolDisposal>)>, StoreError> {
        let mut gone: HashMap<ToolId, ToolDisposal> = HashMap::new();
        for logged in self.tool_disposals(None).await? {
            gone.insert(logged.row.tool, logged.row);
        }
        let base = self.card().base;
        let tools = self.tool_rows(None).await?.into_iter().map(|row| row.tool(base));
        tools
            .map(|tool| {
                let tool = tool?;
                let disposal = gone.remove(&tool.id);
                Ok((tool, disposal))
            })
            .collect()
    }

    async fn tool_row(&mut self, id: ToolId) -> Result<ToolRow, StoreError> {
        self.tool_rows(Some(id)).await?.pop().ok_or_else(|| Self::missing("tool", id))
    }

    /// One tool, or all of them.
    async fn tool_rows(&mut self, only: Option<ToolId>) -> Result<Vec<ToolRow>, StoreError> {
        let mut query = tools::table
            .inner_join(
                records::table
                    .on(records::books_id.eq(tools::books_id).and(records::id.eq(tools::record_id))),
            )
            .filter(tools::books_id.eq(self.id.0))
            .filter(live!(tools))
            .order(tools::id)
            .select((
                tools::id,
                tools::record_id,
                records::date,
                tools::source_id,
                tools::name,
                tools::origin,
                tools::acquired_on,
                tools::in_service_on,
                tools::cost,
                tools::basis_for_gain,
                tools::invoice_price,
                tools::salvage,
                (tools::method, tools::hours_expected, tools::months),
                tools::recovery_class,
                tools::property_type,
                (tools::vehicle_pounds, tools::vehicle_body),
                tools::tax_choice,
                tools::section_179,
                tools::business_share,
                (tools::prior_taken, tools::prior_convention, tools::prior_first_year),
                tools::hours_before,
            ))
            .into_boxed();
        if let Some(id) = only {
            query = query.filter(tools::id.eq(id.0));
        }
        Ok(query.load(self.connection).await?)
    }

    /// In the order they were logged, for their ids are given in the order of time.
    async fn tool_uses(&mut self, tool: ToolId) -> Result<Vec<Logged<ToolUse>>, StoreError> {
        type Row = (Uuid, NaiveDate, Option<Uuid>, Option<Uuid>, Option<Decimal>, Option<Decimal>);
        let rows: Vec<Row> = tool_uses::table
            .filter(tool_uses::books_id.eq(self.id.0))
            .filter(tool_uses::tool_id.eq(tool.0))
            .filter(live!(tool_uses))
            .order(tool_uses::id)
            .select((
                tool_uses::record_id,
                tool_uses::date,
                tool_uses::episode_id,
                tool_uses::project_id,
                tool_uses::hours,
                tool_uses::share,
            ))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(record, date, episode, project, hours, share)| {
                let row = ToolUse {
                    tool,
                    date,
                    object: object_of(episode, project)?,
                    hours: hours.map(|hours| hours.normalize()),
                    share: share.map(|share| share.normalize()),
                };
                Ok(Logged { record: RecordId(record), row })
            })
            .collect()
    }

    async fn tool_estimates(&mut self, tool: ToolId) -> Result<Vec<Logged<ToolEstimate>>, StoreError> {
        type Row = (Uuid, NaiveDate, PlanColumns, Decimal, Decimal, Decimal);
        let rows: Vec<Row> = tool_estimates::table
            .filter(tool_estimates::books_id.eq(self.id.0))
            .filter(tool_estimates::tool_id.eq(tool.0))
            .filter(live!(tool_estimates))
            .order(tool_estimates::record_id)
            .select((
                tool_estimates::record_id,
                tool_estimates::date,
                (tool_estimates::method, tool_estimates::hours_expected, tool_estimates::months),
                tool_estimates::hours_run,
                tool_estimates::salvage,
                tool_estimates::left_to_attribute,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(record, date, plan, hours_run, salvage, left)| {
                let row = ToolEstimate {
                    tool,
                    date,
                    plan: plan_of(plan)?,
                    hours_run: hours_run.normalize(),
                    salvage: money("tool_estimates.salvage", salvage, base)?,
                    left: money("tool_estimates.left_to_attribute", left, base)?,
                };
                Ok(Logged { record: RecordId(record), row })
            })
            .collect()
    }

    /// What was stated of the business use of one tool, or of all of them; in the order of the tax years.
    /// # Errors
    /// What the database could not do.
    pub(in crate::store) async fn business_shares(
        &mut self,
        only: Option<ToolId>,
    ) -> Result<Vec<Logged<BusinessShare>>, StoreError> {
        let mut query = tool_business_shares::table
            .filter(tool_business_shares::books_id.eq(self.id.0))
            .filter(live!(tool_business_shares))
            .order((tool_business_shares::tax_year, tool_business_shares::record_id))
            .select((
                tool_business_shares::tool_id,
                tool_business_shares::record_id,
                tool_business_shares::tax_year,
                tool_business_shares::share,
            ))
            .into_boxed();
        if let Some(tool) = only {
            query = query.filter(tool_business_shares::tool_id.eq(tool.0));
        }
        let rows: Vec<(Uuid, Uuid, i32, Decimal)> = query.load(self.connection).await?;
        let logged = rows.into_iter().map(|(tool, record, tax_year, share)| Logged {
            record: RecordId(record),
            row: BusinessShare { tool: ToolId(tool), tax_year, share: share.normalize() },
        });
        Ok(logged.collect())
    }

    /// The last day on which a leaving of the tool was taken back that is not its own.
    async fn tool_gone_until(&mut self, tool: ToolId) -> Result<Option<NaiveDate>, StoreError> {
        let went: Vec<(Uuid, NaiveDate)> = tool_disposals::table
            .filter(tool_disposals::books_id.eq(self.id.0))
            .filter(tool_disposals::tool_id.eq(tool.0))
            .select((tool_disposals::record_id, tool_disposals::date))
            .load(self.connection)
            .await?;
        self.back_after(&went).await
    }

    async fn tool_disposal(&mut self, tool: ToolId) -> Result<Option<Logged<ToolDisposal>>, StoreError> {
        Ok(self.tool_disposals(Some(tool)).await?.pop())
    }

    /// Of one tool, or of all of them.
    async fn tool_disposals(
        &mut self,
        only: Option<ToolId>,
    ) -> Result<Vec<Logged<ToolDisposal>>, StoreError> {
        let mut query = tool_disposals::table
            .filter(tool_disposals::books_id.eq(self.id.0))
            .filter(live!(tool_disposals))
            .select((
                tool_disposals::tool_id,
                tool_disposals::record_id,
                tool_disposals::date,
                tool_disposals::kind,
                tool_disposals::proceeds,
            ))
            .into_boxed();
        if let Some(tool) = only {
            query = query.filter(tool_disposals::tool_id.eq(tool.0));
        }
        let rows: Vec<(Uuid, Uuid, NaiveDate, String, Decimal)> = query.load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(tool, record, date, kind, proceeds)| {
                let row = ToolDisposal {
                    tool: ToolId(tool),
                    date,
                    kind: read_as("tool_disposals.kind", &kind, DisposalKind::named)?,
                    proceeds: money("tool_disposals.proceeds", proceeds, base)?,
                };
                Ok(Logged { record: RecordId(record), row })
            })
            .collect()
    }

    /// The sum of a source's movements; what a reversal took back stands in it with both signs.
    async fn tool_held(&mut self, source: SourceId, behind: Behind) -> Result<Money, StoreError> {
        let mut query = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq(source.0))
            .select(diesel::dsl::sum(movements::amount))
            .into_boxed();
        if behind == Behind::Entry {
            query = query.filter(movements::entry_number.is_not_null());
        }
        let sum: Option<Decimal> = query.first(self.connection).await?;
        money("movements.amount", sum.unwrap_or_default(), self.card().base)
    }

    /// Every attribution of a source, both signs, in the order they were made.
    async fn attributed_from(
        &mut self,
        source: SourceId,
    ) -> Result<Vec<(NaiveDate, CostObject, Money)>, StoreError> {
        let rows: Vec<(NaiveDate, Option<Uuid>, Option<Uuid>, Decimal)> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .order(attributions::id)
            .select((
                attributions::date,
                attributions::episode_id,
                attributions::project_id,
                attributions::amount,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(date, episode, project, amount)| {
                Ok((date, object_of(episode, project)?, money("attributions.amount", amount, base)?))
            })
            .collect()
    }
}

/// Which movements count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Behind {
    AnyMovement,
    /// Those that were posted.
    Entry,
}
