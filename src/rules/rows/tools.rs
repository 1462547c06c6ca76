//! Durable things, their uses, estimates and disposals.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::rules::ids::{SourceId, ToolId};
use crate::rules::money::Money;
use crate::rules::named::named;
use crate::rules::recording::CostObject;

/// How a tool's cost reaches episodes (design: five methods).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AttributionPlan {
    /// (cost - salvage) / expected hours, by logged hours.
    PerUseHour { hours_expected: Decimal },
    /// The month's share over the month's uses; idle months stay unattributed.
    StraightLine { months: u32 },
    /// Equally over the episodes that have used it.
    EqualShare,
    /// By percentages given with each use; together at most 100.
    Percentages,
    /// In full over the first uses given.
    ExpenseNow,
}

named! {
    /// How a tool came into the business.
    pub enum ToolOrigin {
        Bought => "bought",
        /// Taken into income at its value: that value is its basis.
        ForPromotion => "for_promotion",
        /// No basis for the business.
        PersonalGift => "personal_gift",
        Loan => "loan",
        /// Owned before and brought into the business: lower of basis and value; no section 179, no allowance.
        ConvertedFromPersonal => "converted_from_personal",
    }
}

named! {
    /// The recovery class of a tool (years).
    pub enum RecoveryClass { Three => "3", Five => "5", Seven => "7" }
}

named! {
    /// Whether the law lists the property by type (cameras and sound gear are).
    pub enum PropertyType { Ordinary => "ordinary", Listed => "listed" }
}

named! {
    /// What a vehicle is built for, as the cap of section 179 on heavy ones asks.
    pub enum VehicleBody {
        /// To carry people first: a car, a sport utility vehicle, a pickup with a short bed.
        Passenger => "passenger",
        /// A cargo bed of six feet or more inside that is not reached from the seats.
        LongCargoBed => "long_cargo_bed",
        /// Closed around driver and load, no seats behind the driver's, a short nose.
        CargoVan => "cargo_van",
        /// Seats for more than nine behind the driver's.
        OverNineSeats => "over_nine_seats",
    }
}

/// A tool that is a vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Vehicle {
    /// The gross vehicle weight on its plate, in pounds.
    pub gross_pounds: u32,
    pub body: VehicleBody,
}

impl Vehicle {
    /// Whether the law caps section 179 on it: above 6,000 and no more than 14,000 pounds, built to carry people.
    /// # Source
    /// IRC 179(b)(5)(B), from memory.
    pub const fn is_heavy_and_capped(self) -> bool {
        matches!(self.body, VehicleBody::Passenger)
            && self.gross_pounds > 6_000
            && self.gross_pounds <= 14_000
    }

    /// Whether it is a passenger car by weight, whose yearly depreciation is capped apart.
    /// # Source
    /// IRC 280F(d)(5), from memory.
    pub const fn is_light(self) -> bool {
        self.gross_pounds <= 6_000
    }
}

named! {
    /// The recorded tax choice of a tool; `by_law` is whatever the year's elections and the law give it.
    pub enum TaxChoice {
        ByLaw => "by_law",
        Section179 => "section_179",
        StraightLine => "straight_line",
        /// Never small-tool expensing, even where the year elects it.
        Capitalise => "capitalise",
    }
}

named! {
    /// The averaging convention that depreciation before the books began was taken under.
    pub enum Convention {
        HalfYear => "half_year",
        MidQuarter => "mid_quarter",
    }
}

/// What was taken on a tool before the books began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PriorDepreciation {
    pub taken: Money,
    pub convention: Convention,
    /// Of `taken`: section 179 and special allowance, which reduce the basis the tables are applied to.
    pub first_year_write_off: Money,
}

/// A durable thing used on many episodes.
#[derive(Clone, Debug)]
pub struct Tool {
    pub id: ToolId,
    pub source: SourceId,
    pub name: String,
    pub origin: ToolOrigin,
    /// The date of the binding contract where there was one: it selects the special allowance.
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    /// What it stands in the books at, is written off from and counts at for a loss.
    pub cost: Money,
    /// What a gain is counted from, before depreciation: `cost`, but more where it was private before and had cost the
    /// owner more than it was worth on the day it came.
    pub basis_for_gain: Money,
    /// What the invoice proves for it, with tax and delivery: its cost, or the price of the whole line where one price
    /// bought several tools.
    pub invoice_price: Money,
    pub salvage: Money,
    pub plan: AttributionPlan,
    pub class: RecoveryClass,
    pub property: PropertyType,
    /// Where it is a vehicle.
    pub vehicle: Option<Vehicle>,
    pub choice: TaxChoice,
    /// The amount elected under section 179; zero unless `choice` says so.
    pub section_179: Money,
    /// Business share of its use in percent, until a year's own is stated; touches tax only.
    pub business_share: Decimal,
    pub prior: Option<PriorDepreciation>,
    /// Hours run before the books began.
    pub hours_before: Decimal,
}

impl Tool {
    /// The business share of a year's use: what was `stated` for that year, or else for the last year before it
    /// that was stated; the tool's own before all of them.
    pub fn business_share_in(&self, stated: &[BusinessShare], year: i32) -> Decimal {
        let so_far = stated.iter().filter(|one| one.tool == self.id && one.tax_year <= year);
        so_far.max_by_key(|one| one.tax_year).map_or(self.business_share, |one| one.share)
    }
}

/// How much of a tool's use was business in a tax year, and in those after it until another is stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BusinessShare {
    pub tool: ToolId,
    pub tax_year: i32,
    /// In percent.
    pub share: Decimal,
}

/// A tool that is an improvement of another: written off by itself, from its own day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToolImprovement {
    pub tool: ToolId,
    pub improves: ToolId,
}

/// A receipt's line that repaired a tool: a cost of its day, in neither the tool's cost nor its depreciation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToolRepair {
    pub tool: ToolId,
    /// The line's.
    pub source: SourceId,
}

#[derive(Clone, Debug)]
pub struct ToolUse {
    pub tool: ToolId,
    pub date: NaiveDate,
    pub object: CostObject,
    pub hours: Option<Decimal>,
    /// Percent of the tool's cost, with the percentages plan.
    pub share: Option<Decimal>,
}

/// A change of estimate: it applies to uses from `date` on, and leaves what was charged before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToolEstimate {
    pub tool: ToolId,
    pub date: NaiveDate,
    /// Its life in all as it is seen from then on.
    pub plan: AttributionPlan,
    /// Hours it had run by then; what is left of its cost goes over the rest.
    pub hours_run: Decimal,
    pub salvage: Money,
    /// What of the cost less salvage was still to reach episodes from then on.
    pub left: Money,
}

named! {
    /// How a tool left.
    pub enum DisposalKind {
        Sold => "sold",
        Scrapped => "scrapped",
        Stolen => "stolen",
        PersonalUse => "personal_use",
    }
}

#[derive(Clone, Debug)]
pub struct ToolDisposal {
    pub tool: ToolId,
    pub date: NaiveDate,
    pub kind: DisposalKind,
    pub proceeds: Money,
}
