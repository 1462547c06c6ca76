//! How a tool stands.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::answer::split;
use crate::rules::ids::{EpisodeId, ProjectId, RecordId, ToolId};
use crate::rules::money::Money;
use crate::rules::recording::CostObject;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{AttributionPlan, BusinessShare, DisposalKind, ToolDisposal, ToolOrigin};
use crate::rules::tool_terms::PlanName;
use crate::rules::tools::{Logged, ToolFacts, ToolImproved, ToolRepaired, ToolState};
use crate::store::error::Fault;

/// A tool as it stands; money in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolStandingBody {
    pub id: ToolId,
    /// The record that brought it, a receipt or a gift perhaps: `GET /v1/records/{id}`.
    pub record: RecordId,
    pub name: String,
    pub origin: ToolOrigin,
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    /// What a gain is counted from, before depreciation, where that is more than `cost`: it was private before and had
    /// cost the owner more than it was worth on the day it came.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis_for_gain: Option<Money>,
    /// What the invoice proves for it, where one price bought it with others: the de minimis safe harbor goes by it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub invoice_price: Option<Money>,
    /// What it will still be worth in the end, by the latest estimate.
    pub salvage: Money,
    pub method: PlanName,
    /// With `per_use_hour`: the hours of its life in all, by the latest estimate.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub hours_expected: Option<Decimal>,
    /// With `straight_line`: the months of its life in all, by the latest estimate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub months: Option<u32>,
    /// How many uses are logged.
    pub uses: usize,
    /// Hours run so far, those before the books included.
    #[schema(value_type = String)]
    pub hours_run: Decimal,
    /// What of its cost reached episodes and projects.
    pub attributed: Money,
    /// What of it still may; never more than cost less salvage in all.
    pub left: Money,
    /// What each episode and project bears of it.
    pub shares: Vec<ToolShareBody>,
    /// Of its use, in percent, until a year's own is stated; touches tax only.
    #[schema(value_type = String)]
    pub business_share: Decimal,
    /// What was stated of its use, year by year; years after one go on with it.
    pub business_shares: Vec<BusinessShareBody>,
    /// The tool that it is an improvement of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub improves: Option<ToolId>,
    /// What was put into it: tools of their own, in the same class.
    pub improvements: Vec<ToolImprovedBody>,
    /// What kept it in working order: costs of their days, in neither `cost` nor its depreciation.
    pub repairs: Vec<ToolRepairedBody>,
    /// All of them.
    pub repaired: Money,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disposal: Option<ToolDisposalBody>,
}

/// An improvement of a tool; money in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolImprovedBody {
    pub id: ToolId,
    pub name: String,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    pub state: ToolState,
}

/// A line of a receipt that repaired a tool; money in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolRepairedBody {
    /// The receipt: `GET /v1/records/{id}`.
    pub record: RecordId,
    pub date: NaiveDate,
    pub text: String,
    /// With its share of tax and delivery, less what came back.
    pub amount: Money,
}

/// What one episode or project bears of a tool.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolShareBody {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    pub amount: Money,
}

/// How much of its use was business in a tax year.
#[derive(Debug, Serialize, ToSchema)]
pub struct BusinessShareBody {
    /// The record of it.
    pub record: RecordId,
    pub tax_year: i32,
    /// In percent.
    #[schema(value_type = String)]
    pub share: Decimal,
}

/// How a tool left.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolDisposalBody {
    /// The record of it.
    pub record: RecordId,
    pub date: NaiveDate,
    pub kind: DisposalKind,
    pub proceeds: Money,
}

impl ToolStandingBody {
    /// # Errors
    /// A sum that is too large.
    pub fn of(facts: &ToolFacts) -> Result<Self, Fault> {
        let (tool, plan) = (&facts.tool, facts.plan());
        let (hours_expected, months) = match plan {
            AttributionPlan::PerUseHour { hours_expected } => (Some(hours_expected), None),
            AttributionPlan::StraightLine { months } => (None, Some(months)),
            _ => (None, None),
        };
        let shares = facts.attributed_by_object().map_err(Refusal::from)?;
        Ok(Self {
            id: tool.id,
            record: facts.record,
            name: tool.name.clone(),
            origin: tool.origin,
            acquired_on: tool.acquired_on,
            in_service_on: tool.in_service_on,
            cost: tool.cost,
            basis_for_gain: Some(tool.basis_for_gain).filter(|basis| *basis != tool.cost),
            invoice_price: Some(tool.invoice_price).filter(|price| *price != tool.cost),
            salvage: facts.salvage(),
            method: PlanName::of(plan),
            hours_expected,
            months,
            uses: facts.uses.len(),
            hours_run: facts.hours_run().normalize(),
            attributed: facts.attributed_total().map_err(Refusal::from)?,
            left: facts.left_to_attribute().map_err(Refusal::from)?,
            shares: shares.into_iter().map(ToolShareBody::from).collect(),
            business_share: tool.business_share.normalize(),
            business_shares: facts.shares.iter().map(BusinessShareBody::from).collect(),
            improves: facts.improves,
            improvements: facts.improvements.iter().map(ToolImprovedBody::from).collect(),
            repaired: Money::sum(tool.cost.currency(), facts.repairs.iter().map(|one| one.amount))
                .map_err(Refusal::from)?,
            repairs: facts.repairs.iter().map(ToolRepairedBody::from).collect(),
            disposal: facts.disposal.as_ref().map(ToolDisposalBody::from),
        })
    }
}

impl From<(CostObject, Money)> for ToolShareBody {
    fn from((object, amount): (CostObject, Money)) -> Self {
        let (episode, project) = split(object);
        Self { episode, project, amount }
    }
}

impl From<&ToolImproved> for ToolImprovedBody {
    fn from(one: &ToolImproved) -> Self {
        Self {
            id: one.tool,
            name: one.name.clone(),
            in_service_on: one.in_service_on,
            cost: one.cost,
            state: ToolState::of(one.disposed_on),
        }
    }
}

impl From<&ToolRepaired> for ToolRepairedBody {
    fn from(one: &ToolRepaired) -> Self {
        Self { record: one.record, date: one.date, text: one.text.clone(), amount: one.amount }
    }
}

impl From<&Logged<BusinessShare>> for BusinessShareBody {
    fn from(logged: &Logged<BusinessShare>) -> Self {
        let BusinessShare { tax_year, share, .. } = logged.row;
        Self { record: logged.record, tax_year, share: share.normalize() }
    }
}

impl From<&Logged<ToolDisposal>> for ToolDisposalBody {
    fn from(logged: &Logged<ToolDisposal>) -> Self {
        let ToolDisposal { date, kind, proceeds, .. } = logged.row;
        Self { record: logged.record, date, kind, proceeds }
    }
}
