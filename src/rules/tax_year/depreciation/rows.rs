//! The schedule of tools for one year.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::super::ids::ToolId;
use super::super::super::money::{Money, MoneyFinding};
use super::super::super::rows::{PropertyType, RecoveryClass, Vehicle};
use super::super::macrs::Averaging;
use super::super::profile::{Cited, Mark};
use super::{AtYearEnd, Charge, Pattern, Plan, SmallToolRule, Standing, in_year};

/// One tool in one year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct DepreciationRow {
    pub tool: ToolId,
    pub name: String,
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    /// Where it left by the end of the year.
    pub disposed_on: Option<NaiveDate>,
    /// Recovery class in years.
    pub class: RecoveryClass,
    pub property: PropertyType,
    pub cost: Money,
    /// Of the year's use, in percent.
    #[schema(value_type = String)]
    pub business_share: Decimal,
    /// That share of the cost; of what was written off at once, the first year's.
    pub basis: Money,
    /// In words.
    pub method: String,
    /// Written off at once as a small tool.
    pub expensed: Money,
    /// Elected this year, before the limit by income.
    pub section_179: Money,
    pub special_allowance: Money,
    /// By the table or the straight line, the year's business share of it.
    pub yearly: Money,
    /// All that the year deducts.
    pub total: Money,
    /// What of earlier years comes back into income, for the use fell to half or less.
    pub recaptured: Money,
    /// Taken in earlier years, less what came back of it.
    pub prior: Money,
    /// What is left to take at the end of the year, if its use stays what it was; where the share of use changed, that
    /// is not the basis less what was taken.
    pub left: Money,
    /// The rule's publication and how far it was checked.
    pub rule: String,
}

/// The year's write-offs of all tools.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct DepreciationSchedule {
    /// One tool a row.
    pub rows: Vec<DepreciationRow>,
    /// Small tools by the de minimis election; on the list of other expenses.
    pub small_tools_by_election: Money,
    /// Small tools that are materials and supplies; on the list of other expenses.
    pub small_tools_as_supplies: Money,
    /// Elected this year, before the limit by income.
    pub section_179: Money,
    pub special_allowance: Money,
    pub yearly: Money,
    /// What of earlier years comes back into income; on the line of other income.
    pub recaptured: Money,
    /// How far the journal has it.
    pub says: &'static str,
}

/// A reader who looks for these sums in the journal of an open year finds none.
const NOT_POSTED_YET: &str = "Worked out here from the tools and the recorded choices. The journal has none of it \
    before the year is closed: until then tools stand there at cost.";

/// The same once it stands there.
pub(in crate::rules::tax_year) const POSTED: &str = "Worked out here from the tools and the recorded choices, and posted when the year was \
    closed: the entries of kind depreciation on its last day.";

impl DepreciationSchedule {
    /// All that is written off at once, by whichever rule.
    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn small_tools(&self) -> Result<Money, MoneyFinding> {
        self.small_tools_by_election.plus(self.small_tools_as_supplies)
    }
}

/// The rows of `year`: tools in service that were not gone before it, by the day they came into service.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub fn schedule(plans: &[Plan<'_>], year: i32, zero: Money) -> Result<DepreciationSchedule, MoneyFinding> {
    let mut schedule = DepreciationSchedule {
        rows: Vec::new(),
        small_tools_by_election: zero,
        small_tools_as_supplies: zero,
        section_179: zero,
        special_allowance: zero,
        yearly: zero,
        recaptured: zero,
        says: NOT_POSTED_YET,
    };
    for plan in plans.iter().filter(|plan| plan.opened.stands_in(year)) {
        let row = row_of(plan, year)?;
        match plan.opened.standing {
            Standing::Small(SmallToolRule::DeMinimis) => {
                schedule.small_tools_by_election = schedule.small_tools_by_election.plus(row.expensed)?;
            }
            _ => schedule.small_tools_as_supplies = schedule.small_tools_as_supplies.plus(row.expensed)?,
        }
        schedule.section_179 = schedule.section_179.plus(row.section_179)?;
        schedule.special_allowance = schedule.special_allowance.plus(row.special_allowance)?;
        schedule.yearly = schedule.yearly.plus(row.yearly)?;
        schedule.recaptured = schedule.recaptured.plus(row.recaptured)?;
        schedule.rows.push(row);
    }
    schedule.rows.sort_by(|one, other| {
        one.in_service_on.cmp(&other.in_service_on).then_with(|| one.tool.cmp(&other.tool))
    });
    Ok(schedule)
}

fn row_of(plan: &Plan<'_>, year: i32) -> Result<DepreciationRow, MoneyFinding> {
    let tool = plan.opened.tool;
    let AtYearEnd { prior, charge, left } = plan.at(year)?;
    let business_share = plan.opened.share_in(year);
    let basis = match plan.opened.standing {
        Standing::Opening(_) | Standing::Depreciable => {
            tool.cost.portion(business_share, Decimal::ONE_HUNDRED)?
        }
        Standing::NoBasis | Standing::Small(_) | Standing::SameYear => plan.opened.basis,
    };
    Ok(DepreciationRow {
        tool: tool.id,
        name: tool.name.clone(),
        acquired_on: tool.acquired_on,
        in_service_on: tool.in_service_on,
        disposed_on: plan.opened.disposal.map(|gone| gone.date).filter(|date| in_year(*date, year)),
        class: tool.class,
        property: tool.property,
        cost: tool.cost,
        business_share,
        basis,
        method: method(plan, year),
        expensed: charge.expensed,
        section_179: charge.section_179,
        special_allowance: charge.special_allowance,
        yearly: charge.yearly,
        total: charge.total()?,
        recaptured: charge.recaptured,
        prior,
        left,
        rule: rule(plan, year, charge),
    })
}

/// How a tool is written off, in words.
fn method(plan: &Plan<'_>, year: i32) -> String {
    match plan.opened.standing {
        Standing::NoBasis => {
            return "not written off: lent or given, it cost the business nothing".to_owned();
        }
        Standing::SameYear => return "no depreciation: it came and went within the year".to_owned(),
        Standing::Small(SmallToolRule::DeMinimis) => {
            return "written off at once: de minimis safe harbor, elected".to_owned();
        }
        Standing::Small(SmallToolRule::MaterialsAndSupplies) => {
            return "written off at once: cheap enough to be a material or supply".to_owned();
        }
        Standing::Opening(_) | Standing::Depreciable => {}
    }
    let mut parts = Vec::new();
    if plan.opened.section_179.is_positive() {
        parts.push(format!("section 179 {}", plan.opened.section_179));
    }
    if let Some((percent, _)) = plan.allowance {
        parts.push(format!("special allowance {percent} %"));
    }
    let pattern = plan.pattern_in(year);
    if plan.spread.is_positive() || plan.has_fallen_by(year) {
        parts.push(spread_words(pattern, plan.averaging, plan.opened.tool.class));
    }
    parts.join(", then ")
}

fn spread_words(pattern: Pattern, averaging: Averaging, class: RecoveryClass) -> String {
    match pattern {
        Pattern::Table => format!("table {}, {class} years, {}", averaging.table(), averaging.words()),
        Pattern::StraightLine { years, because } => {
            format!("straight line over {years} years, {}, {because}", averaging.words())
        }
    }
}

/// The sources of those steps.
fn rule(plan: &Plan<'_>, year: i32, charge: Charge) -> String {
    let fixed = match plan.opened.standing {
        Standing::NoBasis => Some("IRC 1012: basis is cost (from memory)"),
        Standing::SameYear => Some("Pub. 946 ch. 1 (from memory)"),
        Standing::Small(SmallToolRule::DeMinimis) => Some("Reg. 1.263(a)-1(f) (seen)"),
        Standing::Small(SmallToolRule::MaterialsAndSupplies) => Some("Reg. 1.162-3 (from memory)"),
        Standing::Opening(_) | Standing::Depreciable => None,
    };
    if let Some(fixed) = fixed {
        return fixed.to_owned();
    }
    let mut parts = Vec::new();
    if plan.opened.section_179.is_positive() {
        parts.push("IRC 179, Pub. 946 ch. 2 (seen)".to_owned());
        if plan.opened.tool.vehicle.is_some_and(Vehicle::is_heavy_and_capped) {
            parts.push("IRC 179(b)(5), cap on heavy vehicles (seen)".to_owned());
        }
    }
    if let Some((_, source)) = plan.allowance {
        parts.push(cited(source));
    }
    let pattern = plan.pattern_in(year);
    if plan.spread.is_positive() || plan.has_fallen_by(year) {
        parts.push(match pattern {
            Pattern::Table => format!("Pub. 946 Appendix A, table {} (seen)", plan.averaging.table()),
            Pattern::StraightLine { because, .. } if because.starts_with("listed") => {
                "Pub. 946 ch. 5 (seen); life of IRC 168(g) (from memory)".to_owned()
            }
            Pattern::StraightLine { .. } => "IRC 168(b)(5) (from memory)".to_owned(),
        });
    }
    if charge.recaptured.is_positive() {
        parts.push(match plan.opened.tool.property {
            PropertyType::Listed => "IRC 280F(b)(2), Pub. 946 ch. 5 (seen)".to_owned(),
            PropertyType::Ordinary => "IRC 179(d)(10), Pub. 946 ch. 2 (seen)".to_owned(),
        });
    }
    parts.join("; ")
}

fn cited(source: Cited) -> String {
    let mark = match source.mark {
        Mark::Seen => "seen",
        Mark::FromMemory => "from memory",
    };
    format!("{} ({mark})", source.publication)
}
