//! Overhead pools, and what was spread of them.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::rules::ids::{OverheadPoolId, RecordId};
use crate::rules::journal::ExpenseClass;
use crate::rules::money::Money;
use crate::rules::named::named;

named! {
    /// What overhead is spread by.
    pub enum OverheadBasis {
        /// The owner's own hours on each episode.
        OwnHours => "own_hours",
        Equally => "equally",
        /// What each episode earned, before fees, in money and in kind.
        Income => "income",
        /// What each episode cost by then, overhead included: what a difference at the year's end is spread by.
        Costs => "costs",
    }
}

named! {
    /// Whether episodes bear overhead at a rate that was estimated ahead, or share what there was.
    pub enum OverheadRate { Estimated => "estimated", Actual => "actual" }
}

/// Costs of some days that are spread together, such as the studio's rent of a year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OverheadPool {
    pub id: OverheadPoolId,
    pub name: String,
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// With neither classes nor records it is the whole of overhead that no other pool of those days names.
    pub classes: Vec<ExpenseClass>,
    pub records: Vec<RecordId>,
    pub estimate: Option<OverheadEstimate>,
}

/// What was estimated ahead: the rate for an hour is their quotient, and is never rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverheadEstimate {
    pub cost: Money,
    /// Above zero.
    pub hours: Decimal,
}

impl OverheadPool {
    pub const fn is_whole(&self) -> bool {
        self.classes.is_empty() && self.records.is_empty()
    }

    pub fn has_days_of(&self, other: &Self) -> bool {
        self.from <= other.to && other.from <= self.to
    }

    pub fn holds(&self, day: NaiveDate) -> bool {
        self.from <= day && day <= self.to
    }

    fn names(&self, classes: &[ExpenseClass]) -> bool {
        !classes.is_empty() && classes.iter().all(|class| self.classes.contains(class))
    }

    /// Whether a cost of that record and those classes belongs to it beside the `others`: a record that is named comes
    /// before a class, and a class before the whole of overhead.
    pub fn takes(&self, others: &[Self], record: RecordId, classes: &[ExpenseClass]) -> bool {
        if self.records.contains(&record) {
            return true;
        }
        let mut others = others.iter().filter(|other| other.id != self.id && other.has_days_of(self));
        if self.is_whole() {
            return !others.any(|other| other.records.contains(&record) || other.names(classes));
        }
        self.names(classes) && !others.any(|other| other.records.contains(&record))
    }
}

/// One spreading of overhead over episodes, as it was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverheadSpread {
    pub pool: Option<OverheadPoolId>,
    pub date: NaiveDate,
    /// The days whose hours, income or costs it went by.
    pub from: NaiveDate,
    pub to: NaiveDate,
    pub by: OverheadBasis,
    pub rate: OverheadRate,
    /// All hours, income or costs of those episodes; their number where it was spread equally.
    pub base: Decimal,
    /// What the base bears at the rate; with the actual rate all that was there.
    pub applied: Money,
    /// What was left of the costs to spread.
    pub there: Money,
    /// What was spread: never more than was there.
    pub spread: Money,
}
