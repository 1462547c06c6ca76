//! Costing: what an episode or a project truly cost and earned, and how every source rolls forward.
//!
//! A reader across all words. Amounts come from attributions only; postings carry no episode. Nothing here asks
//! what day it is: the same books give the same bytes.

mod break_even;
mod overhead;
mod project;
mod rolling;
mod statement;
mod viewers;
mod year;

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::SourceId;
use super::journal::{Account, EntryKind, TaxClass};
use super::money::{Currency, Money};
use super::recording::{Category, CostObject, Label, MovementKind, Side, Source};
use super::refusal::{Explain, Refusal, Said};

pub use break_even::{BreakEven, BreakEvenAsked, BreakEvenFinding, break_even};
pub use overhead::{
    EpisodeBore, OverOrUnder, OverheadCost, OverheadReport, OverheadReportFacts, PoolStanding, SpreadFacts,
    Spreading, overhead_report,
};
pub use project::{EpisodeFacts, ProjectFacts, ProjectStatement, project_statement};
pub use rolling::{LedgerTie, RollForward, RolledSource, RolledTotal, Sums, Unattributed, roll_forward};
pub use statement::{
    BudgetVariance, CostLine, Figures, IncomeLine, RecoveryKind, RecoveryLine, Statement, StatementFacts,
    statement,
};
pub use viewers::{CostForViewers, StatementForViewers, statement_for_viewers};
pub use year::{
    EpisodeWork, ProjectOfYear, ProjectWork, StartMonth, Work, YearOfWork, fiscal_year, year_of_work,
};

/// The days a statement covers, both included; its whole life where they are not given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Period {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
}

impl Period {
    pub fn holds(self, day: NaiveDate) -> bool {
        self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
    }

    fn checked(self) -> Result<Self, Refusal> {
        match (self.from, self.to) {
            (Some(from), Some(to)) if to < from => {
                Err(Refusal::new("/from", CostingFinding::EndsBeforeItBegins { from, to }))
            }
            _ => Ok(self),
        }
    }
}

/// One attribution to the object that is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AttributedAmount {
    pub source: SourceId,
    pub side: Side,
    pub label: Label,
    pub date: NaiveDate,
    pub amount: Money,
}

/// Hours of the owner's own, unpaid work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OwnHours {
    pub date: NaiveDate,
    pub hours: Decimal,
}

/// A budget line of the object; several of one category are added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BudgetedAmount {
    pub category: Category,
    pub amount: Money,
}

/// What one episode, or one project for itself, has to show. Rows outside the statement's period are left out
/// here; budget lines carry no date and always count.
#[derive(Clone, Debug)]
pub struct ObjectFacts {
    pub object: CostObject,
    pub attributions: Vec<AttributedAmount>,
    pub own_hours: Vec<OwnHours>,
    pub budget: Vec<BudgetedAmount>,
}

/// A source with everything that ever happened to it, for any object.
#[derive(Clone, Debug)]
pub struct SourceFacts {
    pub source: Source,
    /// Goods nobody paid for: a gift's source.
    pub given: bool,
    pub movements: Vec<MovementFacts>,
    /// Its attributions to whatever object.
    pub attributed: Vec<DatedAmount>,
}

/// A movement with the entry behind it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MovementFacts {
    pub date: NaiveDate,
    pub kind: MovementKind,
    /// Positive for opening and incurred, negative for returned and removed.
    pub amount: Money,
    /// None for a memo record. For a reversal: the kind of the entry it takes back.
    pub entry_kind: Option<EntryKind>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DatedAmount {
    pub date: NaiveDate,
    pub amount: Money,
}

/// What the journal holds of one account and class, up to the day looked at: debits less credits, without the
/// entries whose kind does not tie to sources (a reversal counts as the entry it takes back).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PostedSum {
    pub account: Account,
    pub class: Option<TaxClass>,
    pub amount: Money,
}

/// Why there is no statement.
#[derive(Clone, Debug, PartialEq)]
pub enum CostingFinding {
    EndsBeforeItBegins { from: NaiveDate, to: NaiveDate },
    LabelOfAnotherSide { side: Side, label: Label, source: SourceId },
    NotInBase { amount: Money, base: Currency },
}

impl Explain for CostingFinding {
    fn say(&self) -> Said {
        match self {
            Self::EndsBeforeItBegins { from, to } => Said::invalid(
                format!("the statement would end on {to}, before it begins on {from}"),
                "give from and to the other way round",
            ),
            Self::LabelOfAnotherSide { side, label, source } => Said::conflict(
                format!(
                    "an attribution of source {source} is labelled {}, which no {side} is called",
                    label.as_str()
                ),
                "this is a fault of ours: run `ledgerboard verify` and report it",
            ),
            Self::NotInBase { amount, base } => Said::conflict(
                format!("an attribution of {amount:?} stands in books kept in {base}"),
                "this is a fault of ours: run `ledgerboard verify` and report it",
            ),
        }
    }
}
