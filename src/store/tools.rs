//! Tools, their uses and how they left; `tools/facts.rs` gives them back, `tools/improvements.rs` what
//! was put into them, `tools/repairs.rs` what kept them going, `tools/listed.rs` all of them.

mod facts;
mod improvements;
mod listed;
mod repairs;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::object_columns;
use super::schema::{
    tool_business_shares, tool_disposals, tool_estimates, tool_improvements, tool_uses, tools,
};
use crate::rules::ids::RecordId;
use crate::rules::rows::{
    AttributionPlan, BusinessShare, Tool, ToolDisposal, ToolEstimate, ToolImprovement, ToolUse,
};
use crate::rules::tool_terms::PlanName;

pub use listed::ToolListed;

/// The plan's name and its parameters, each in its own column.
fn plan_columns(plan: AttributionPlan) -> (&'static str, Option<rust_decimal::Decimal>, Option<i32>) {
    let (hours_expected, months) = match plan {
        AttributionPlan::PerUseHour { hours_expected } => (Some(hours_expected), None),
        AttributionPlan::StraightLine { months } => (None, Some(i32::try_from(months).unwrap_or(i32::MAX))),
        AttributionPlan::EqualShare | AttributionPlan::Percentages | AttributionPlan::ExpenseNow => {
            (None, None)
        }
    };
    (PlanName::of(plan).as_str(), hours_expected, months)
}

fn pounds(weight: u32) -> i32 {
    i32::try_from(weight).unwrap_or(i32::MAX)
}

impl Tx<'_> {
    pub(super) async fn add_tool(&mut self, record: RecordId, row: &Tool) -> Result<(), StoreError> {
        let (method, hours_expected, months) = plan_columns(row.plan);
        diesel::insert_into(tools::table)
            .values((
                tools::books_id.eq(self.id.0),
                tools::record_id.eq(record.0),
                tools::id.eq(row.id.0),
                tools::source_id.eq(row.source.0),
                tools::name.eq(&row.name),
                tools::origin.eq(row.origin.as_str()),
                tools::acquired_on.eq(row.acquired_on),
                tools::in_service_on.eq(row.in_service_on),
                tools::cost.eq(row.cost.amount()),
                tools::basis_for_gain.eq(row.basis_for_gain.amount()),
                tools::invoice_price.eq(row.invoice_price.amount()),
                tools::salvage.eq(row.salvage.amount()),
                tools::method.eq(method),
                tools::hours_expected.eq(hours_expected),
                tools::months.eq(months),
                tools::recovery_class.eq(row.class.as_str()),
                tools::property_type.eq(row.property.as_str()),
                tools::vehicle_pounds.eq(row.vehicle.map(|one| pounds(one.gross_pounds))),
                tools::vehicle_body.eq(row.vehicle.map(|one| one.body.as_str())),
                tools::tax_choice.eq(row.choice.as_str()),
                tools::section_179.eq(row.section_179.amount()),
                tools::business_share.eq(row.business_share),
                tools::prior_taken.eq(row.prior.map(|prior| prior.taken.amount())),
                tools::prior_convention.eq(row.prior.map(|prior| prior.convention.as_str())),
                tools::prior_first_year.eq(row.prior.map(|prior| prior.first_year_write_off.amount())),
                tools::hours_before.eq(row.hours_before),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_tool_use(&mut self, record: RecordId, row: &ToolUse) -> Result<(), StoreError> {
        let (episode, project) = object_columns(Some(row.object));
        diesel::insert_into(tool_uses::table)
            .values((
                tool_uses::books_id.eq(self.id.0),
                tool_uses::record_id.eq(record.0),
                tool_uses::id.eq(Uuid::now_v7()),
                tool_uses::tool_id.eq(row.tool.0),
                tool_uses::date.eq(row.date),
                tool_uses::episode_id.eq(episode),
                tool_uses::project_id.eq(project),
                tool_uses::hours.eq(row.hours),
                tool_uses::share.eq(row.share),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_tool_disposal(
        &mut self,
        record: RecordId,
        row: &ToolDisposal,
    ) -> Result<(), StoreError> {
        diesel::insert_into(tool_disposals::table)
            .values((
                tool_disposals::books_id.eq(self.id.0),
                tool_disposals::record_id.eq(record.0),
                tool_disposals::tool_id.eq(row.tool.0),
                tool_disposals::date.eq(row.date),
                tool_disposals::kind.eq(row.kind.as_str()),
                tool_disposals::proceeds.eq(row.proceeds.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_tool_estimate(
        &mut self,
        record: RecordId,
        row: &ToolEstimate,
    ) -> Result<(), StoreError> {
        let (method, hours_expected, months) = plan_columns(row.plan);
        diesel::insert_into(tool_estimates::table)
            .values((
                tool_estimates::books_id.eq(self.id.0),
                tool_estimates::record_id.eq(record.0),
                tool_estimates::tool_id.eq(row.tool.0),
                tool_estimates::date.eq(row.date),
                tool_estimates::method.eq(method),
                tool_estimates::hours_expected.eq(hours_expected),
                tool_estimates::months.eq(months),
                tool_estimates::hours_run.eq(row.hours_run),
                tool_estimates::salvage.eq(row.salvage.amount()),
                tool_estimates::left_to_attribute.eq(row.left.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_business_share(
        &mut self,
        record: RecordId,
        row: &BusinessShare,
    ) -> Result<(), StoreError> {
        diesel::insert_into(tool_business_shares::table)
            .values((
                tool_business_shares::books_id.eq(self.id.0),
                tool_business_shares::record_id.eq(record.0),
                tool_business_shares::tool_id.eq(row.tool.0),
                tool_business_shares::tax_year.eq(row.tax_year),
                tool_business_shares::share.eq(row.share),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_tool_improvement(
        &mut self,
        record: RecordId,
        row: &ToolImprovement,
    ) -> Result<(), StoreError> {
        diesel::insert_into(tool_improvements::table)
            .values((
                tool_improvements::books_id.eq(self.id.0),
                tool_improvements::record_id.eq(record.0),
                tool_improvements::tool_id.eq(row.tool.0),
                tool_improvements::improves.eq(row.improves.0),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
