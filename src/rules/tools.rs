//! Tools: durable things used on many episodes. Bought or brought in (`acquire`), improved (`improve`), used (`log_uses`), estimated
//! anew (`estimate_anew`) and disposed of (`dispose`); a year's share of business use is stated apart
//! (`state_business_share`), for tax alone. `schedule` has the plain book schedules.
//!
//! The ledger carries a tool at cost; what an episode bears of it are attributions, which post nothing.

mod acquire;
mod dispose;
mod estimate;
mod improve;
mod labels;
mod log_uses;
mod plan;
mod schedule;
mod share;
mod spread;

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::{RecordId, ToolId};
use super::money::{Money, MoneyFinding};
use super::named::named;
use super::recording::CostObject;
use super::rows::{AttributionPlan, BusinessShare, Tool, ToolDisposal, ToolEstimate, ToolOrigin, ToolUse};

pub use acquire::{AcquireFinding, NewTool, acquire};
pub use dispose::{Carried, DisposeFinding, NewDisposal, dispose};
pub use estimate::{EstimateFinding, NewEstimate, estimate_anew};
pub use improve::{ImproveFinding, NewImprovement, improve};
pub use labels::ToolLabels;
pub use log_uses::{NewUses, USES_AT_ONCE, UseAsked, UseFinding, log_uses};
pub use schedule::{BookYear, straight_line_by_year, units_of_use};
pub use share::{BusinessShareFinding, NewBusinessShare, state_business_share};

named! {
    /// Whether a tool is still there.
    pub enum ToolState { InUse => "in_use", Disposed => "disposed" }
}

impl ToolState {
    pub const fn of(disposed_on: Option<NaiveDate>) -> Self {
        match disposed_on {
            None => Self::InUse,
            Some(_) => Self::Disposed,
        }
    }
}

/// A row of a tool's history with the record that wrote it.
#[derive(Clone, Debug)]
pub struct Logged<T> {
    pub record: RecordId,
    pub row: T,
}

/// An improvement of a tool, as the tool knows of it.
#[derive(Clone, Debug)]
pub struct ToolImproved {
    pub tool: ToolId,
    pub name: String,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    pub disposed_on: Option<NaiveDate>,
}

/// What a repair of a tool cost, less what came back of it.
#[derive(Clone, Debug)]
pub struct ToolRepaired {
    /// The receipt.
    pub record: RecordId,
    pub date: NaiveDate,
    pub text: String,
    pub amount: Money,
}

/// A tool and all that has happened to it. Reversed records and their reversals leave no uses, estimates or
/// disposal here; their attributions stand here with both signs.
#[derive(Clone, Debug)]
pub struct ToolFacts {
    pub tool: Tool,
    /// The record that brought it.
    pub record: RecordId,
    /// That record's day.
    pub came_on: NaiveDate,
    /// The sum of its source's movements: opening and incurred, less returned and removed.
    pub held: Money,
    /// In the order they were logged.
    pub uses: Vec<Logged<ToolUse>>,
    /// Every attribution of its source, those that moved a cost by hand included.
    pub attributed: Vec<(NaiveDate, CostObject, Money)>,
    /// In the order they were made.
    pub estimates: Vec<Logged<ToolEstimate>>,
    /// What was stated of its business use, in the order of the tax years.
    pub shares: Vec<Logged<BusinessShare>>,
    /// The tool that it is an improvement of.
    pub improves: Option<ToolId>,
    /// The oldest first.
    pub improvements: Vec<ToolImproved>,
    /// Costs of their days, the oldest first: in neither what is `held` nor what is written off.
    pub repairs: Vec<ToolRepaired>,
    pub disposal: Option<Logged<ToolDisposal>>,
    /// The last day on which a leaving was taken back that is not its own: until then the books were without it.
    pub gone_until: Option<NaiveDate>,
}

impl ToolFacts {
    /// What it will still be worth in the end, by the latest estimate.
    pub fn salvage(&self) -> Money {
        self.last_estimate().map_or(self.tool.salvage, |estimate| estimate.salvage)
    }

    fn uses(&self) -> impl Iterator<Item = &ToolUse> {
        self.uses.iter().map(|logged| &logged.row)
    }

    fn last_estimate(&self) -> Option<&ToolEstimate> {
        self.estimates.last().map(|logged| &logged.row)
    }

    fn departure(&self) -> Option<&ToolDisposal> {
        self.disposal.as_ref().map(|logged| &logged.row)
    }

    /// What was used up of its cost before the books began.
    fn used_before(&self) -> Result<Money, MoneyFinding> {
        match self.tool.plan {
            AttributionPlan::PerUseHour { hours_expected } => {
                let cost_less_salvage = self.tool.cost.minus(self.tool.salvage)?;
                cost_less_salvage.portion(self.tool.hours_before, hours_expected)
            }
            _ => Ok(Money::zero(self.tool.cost.currency())),
        }
    }

    /// What it has to give in all, were its salvage `salvage`; less than nothing where that is more than stands in it.
    fn gives_at(&self, salvage: Money) -> Result<Money, MoneyFinding> {
        let by_cost = self.tool.cost.minus(salvage)?.minus(self.used_before()?)?;
        // After a disposal the salvage has been removed from what is held already.
        let by_source = if self.disposal.is_some() { self.held } else { self.held.minus(salvage)? };
        Ok(by_cost.at_most(by_source))
    }

    /// The most that may ever be attributed of it: never more than its cost less salvage; zero or more.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    pub fn cap(&self) -> Result<Money, MoneyFinding> {
        let cap = self.gives_at(self.salvage())?;
        Ok(if cap.is_negative() { Money::zero(cap.currency()) } else { cap })
    }

    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn attributed_total(&self) -> Result<Money, MoneyFinding> {
        Money::sum(self.tool.cost.currency(), self.attributed.iter().map(|(.., amount)| *amount))
    }

    /// What may still be attributed of it; zero or more.
    /// # Errors
    /// As [`ToolFacts::cap`].
    pub fn left_to_attribute(&self) -> Result<Money, MoneyFinding> {
        let left = self.cap()?.minus(self.attributed_total()?)?;
        Ok(if left.is_negative() { Money::zero(left.currency()) } else { left })
    }

    /// What each episode and project bears of it, in the order they first used it; none that bears nothing.
    /// # Errors
    /// As [`ToolFacts::attributed_total`].
    pub fn attributed_by_object(&self) -> Result<Vec<(CostObject, Money)>, MoneyFinding> {
        let mut borne: Vec<(CostObject, Money)> = Vec::new();
        for (_, object, amount) in &self.attributed {
            match borne.iter_mut().find(|(one, _)| one == object) {
                Some((_, total)) => *total = total.plus(*amount)?,
                None => borne.push((*object, *amount)),
            }
        }
        borne.retain(|(_, total)| !total.is_zero());
        Ok(borne)
    }

    /// Hours run so far, those before the books included.
    pub fn hours_run(&self) -> Decimal {
        let logged: Decimal = self.uses().filter_map(|one| one.hours).sum();
        logged.saturating_add(self.tool.hours_before)
    }

    /// How its cost reaches episodes, with its life in all by the latest estimate.
    pub fn plan(&self) -> AttributionPlan {
        self.last_estimate().map_or(self.tool.plan, |estimate| estimate.plan)
    }

    fn last_use(&self) -> Option<NaiveDate> {
        self.uses().map(|one| one.date).max()
    }

    fn has_no_basis(&self) -> bool {
        matches!(self.tool.origin, ToolOrigin::Loan | ToolOrigin::PersonalGift)
    }
}
