//! Tools: durable things used on many episodes. Bought or brought in (`acquire`), used (`log_uses`), estimated
//! anew (`estimate_anew`) and disposed of (`dispose`); `schedule` has the plain book schedules.
//!
//! The ledger carries a tool at cost; what an episode bears of it are attributions, which post nothing.

mod acquire;
mod dispose;
mod estimate;
mod log_uses;
mod plan;
mod schedule;
mod spread;

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::RecordId;
use super::money::{Money, MoneyFinding};
use super::recording::CostObject;
use super::rows::{AttributionPlan, Tool, ToolDisposal, ToolEstimate, ToolOrigin, ToolUse};

pub use acquire::{AcquireFinding, NewTool, acquire};
pub use dispose::{Carried, DisposeFinding, NewDisposal, dispose};
pub use estimate::{EstimateFinding, NewEstimate, estimate_anew};
pub use log_uses::{NewUses, USES_AT_ONCE, UseAsked, UseFinding, log_uses};
pub use schedule::{BookYear, straight_line_by_year, units_of_use};

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
    pub uses: Vec<ToolUse>,
    /// The records that logged them: none is reversed while a later one has re-split its shares.
    pub use_records: Vec<RecordId>,
    /// Every attribution of its source, those that moved a cost by hand included.
    pub attributed: Vec<(NaiveDate, CostObject, Money)>,
    /// In the order they were made.
    pub estimates: Vec<ToolEstimate>,
    pub disposal: Option<ToolDisposal>,
}

impl ToolFacts {
    /// What it will still be worth in the end, by the latest estimate.
    pub fn salvage(&self) -> Money {
        self.estimates.last().map_or(self.tool.salvage, |estimate| estimate.salvage)
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

    /// The most that may ever be attributed of it, were its salvage `salvage`; zero or more.
    fn cap_at(&self, salvage: Money) -> Result<Money, MoneyFinding> {
        let by_cost = self.tool.cost.minus(salvage)?.minus(self.used_before()?)?;
        // After a disposal the salvage has been removed from what is held already.
        let by_source = if self.disposal.is_some() { self.held } else { self.held.minus(salvage)? };
        let cap = by_cost.at_most(by_source);
        Ok(if cap.is_negative() { Money::zero(cap.currency()) } else { cap })
    }

    /// The most that may ever be attributed of it: never more than its cost less salvage.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    pub fn cap(&self) -> Result<Money, MoneyFinding> {
        self.cap_at(self.salvage())
    }

    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn attributed_total(&self) -> Result<Money, MoneyFinding> {
        Money::sum(self.tool.cost.currency(), self.attributed.iter().map(|(.., amount)| *amount))
    }

    /// Hours run before that day, those before the books included.
    fn hours_run_before(&self, day: NaiveDate) -> Decimal {
        let earlier = self.uses.iter().filter(|one| one.date < day);
        let logged: Decimal = earlier.filter_map(|one| one.hours).sum();
        logged.saturating_add(self.tool.hours_before)
    }

    /// How its cost reaches episodes, with its life in all by the latest estimate.
    pub fn plan(&self) -> AttributionPlan {
        self.estimates.last().map_or(self.tool.plan, |estimate| estimate.plan)
    }

    fn last_use(&self) -> Option<NaiveDate> {
        self.uses.iter().map(|one| one.date).max()
    }

    fn has_no_basis(&self) -> bool {
        matches!(self.tool.origin, ToolOrigin::Loan | ToolOrigin::PersonalGift)
    }
}
