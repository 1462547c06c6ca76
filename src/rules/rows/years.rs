//! Choices and acts that belong to a year.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::RecoveryClass;
use crate::rules::ids::ToolId;
use crate::rules::money::{Money, MoneyFinding};
use crate::rules::named::named;

named! {
    /// Choices a taxpayer records for a year.
    pub enum ElectionKind {
        /// Expense everything that qualifies under the de minimis safe harbour.
        DeMinimis => "de_minimis",
        /// The same with its higher limit, in a year with an applicable financial statement.
        DeMinimisWithStatement => "de_minimis_with_statement",
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

/// A home office by the simplified method, for one tax year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HomeOffice {
    pub tax_year: i32,
    pub areas: Vec<HomeOfficeArea>,
}

/// An area of the home with the days of its use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HomeOfficeArea {
    pub from: NaiveDate,
    /// The last day; none where it went on.
    pub until: Option<NaiveDate>,
    pub square_feet: Decimal,
}

impl HomeOfficeArea {
    pub fn in_use_on(&self, day: NaiveDate) -> bool {
        self.from <= day && self.until.is_none_or(|until| day <= until)
    }
}

/// A return that was filed, with the form's lines as the books said them then.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Filing {
    pub tax_year: i32,
    pub filed_on: NaiveDate,
    /// The ledger's last entry then.
    pub head_number: i64,
    pub lines: Vec<FiledLine>,
}

/// A line of a filed form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FiledLine {
    pub part: String,
    pub line: String,
    pub label: String,
    pub exact: Option<Decimal>,
    /// In whole units.
    pub whole: Option<Decimal>,
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

named! {
    /// What a year's end did to what the ledger carries of a tool.
    pub enum ChargeKind {
        /// Written off: an expense of the year against what is carried.
        Charged => "charged",
        /// The tool was gone: what was written off goes to the gain or loss of its sale.
        SettledBySale => "settled_by_sale",
        /// The tool was gone: what was written off goes against the owner's draw.
        SettledByDraw => "settled_by_draw",
    }
}

/// What closing a tax year posted for one tool; negative where it was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolCharge {
    /// None for a carry-over of section 179 that no tool of these books stands behind.
    pub tool: Option<ToolId>,
    pub tax_year: i32,
    pub kind: ChargeKind,
    /// Written off at once, against the cost itself.
    pub small_tool: Money,
    /// Allowed in this year, of whichever year it was elected in.
    pub section_179: Money,
    /// The special allowance and the year's depreciation.
    pub depreciation: Money,
    /// What of earlier years came back into income, for the tool is used less for the business.
    pub recaptured: Money,
}

impl ToolCharge {
    /// What goes to accumulated depreciation; negative where more comes back than is written off.
    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn accumulates(&self) -> Result<Money, MoneyFinding> {
        self.section_179.plus(self.depreciation)?.minus(self.recaptured)
    }

    pub fn is_nothing(&self) -> bool {
        [self.small_tool, self.section_179, self.depreciation, self.recaptured]
            .iter()
            .all(|amount| amount.is_zero())
    }

    /// The same taken back.
    #[must_use]
    pub fn negated(&self) -> Self {
        Self {
            small_tool: self.small_tool.negated(),
            section_179: self.section_179.negated(),
            depreciation: self.depreciation.negated(),
            recaptured: self.recaptured.negated(),
            ..self.clone()
        }
    }
}

/// Section 179 that returns from before the books elected and their income did not allow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CarryOver {
    /// The first year it is brought forward to.
    pub tax_year: i32,
    pub amount: Money,
}
