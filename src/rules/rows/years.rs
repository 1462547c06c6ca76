//! Choices and acts that belong to a year.

use chrono::NaiveDate;

use super::RecoveryClass;
use crate::rules::named::named;

named! {
    /// Choices a taxpayer records for a year.
    pub enum ElectionKind {
        /// Expense everything that qualifies under the de minimis safe harbour.
        DeMinimis => "de_minimis",
        /// Leave the special allowance for a class.
        NoSpecialAllowance => "no_special_allowance",
        /// Straight line for a class.
        StraightLine => "straight_line",
        /// The 2025-only lower allowance of 40 %.
        LowerAllowance2025 => "lower_allowance_2025",
        /// Treat inventory as materials and supplies that are not incidental.
        InventoryAsMaterials => "inventory_as_materials",
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Election {
    pub tax_year: i32,
    pub kind: ElectionKind,
    /// With elections by class.
    pub class: Option<RecoveryClass>,
}

named! {
    /// Closing and reopening are explicit, recorded acts.
    pub enum PeriodActKind { Closed => "closed", Reopened => "reopened" }
}

#[derive(Clone, Debug)]
pub struct PeriodAct {
    pub kind: PeriodActKind,
    /// The last closed day after this act.
    pub closed_through: NaiveDate,
    pub reason: String,
}
