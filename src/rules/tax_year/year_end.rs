//! What a year writes off of each tool, as closing it posts it.

use super::super::money::Money;
use super::super::refusal::Refusal;
use super::super::rows::{ChargeKind, ToolCharge};
use super::depreciation::{self, Ground};
use super::facts::YearFacts;
use super::summary::YearSummary;

/// Splits the summary's write-offs by tool, with what comes back of earlier ones; together they come to
/// [`YearSummary::depreciation_to_post`], [`YearSummary::small_tools_to_post`] and the schedule's recaptured sum. What section 179 allows goes to the tools it was elected on, the longest in
/// service first, as far as `earlier` years have not posted it; what is left stands on no tool.
/// # Errors
/// [`MoneyFinding`](super::super::money::MoneyFinding) if a sum is too large.
pub fn charges(
    facts: &YearFacts,
    summary: &YearSummary,
    earlier: &[ToolCharge],
) -> Result<Vec<ToolCharge>, Refusal> {
    let zero = Money::zero(facts.books.base);
    let tax_year = facts.year();
    let kind = ChargeKind::Charged;
    let mut charges: Vec<ToolCharge> = Vec::new();
    for row in &summary.depreciation.rows {
        charges.push(ToolCharge {
            tool: Some(row.tool),
            tax_year,
            kind,
            small_tool: row.expensed,
            section_179: zero,
            depreciation: row.special_allowance.plus(row.yearly)?,
            recaptured: row.recaptured,
        });
    }
    let mut plans = depreciation::plans(&facts.tools, &Ground::of(facts))?;
    plans.retain(|plan| plan.opened.year() <= tax_year && plan.opened.section_179.is_positive());
    plans.sort_by_key(|plan| (plan.opened.tool.in_service_on, plan.opened.tool.id));
    let mut left = summary.section_179.allowed;
    for plan in plans {
        let tool = Some(plan.opened.tool.id);
        let of_tool = earlier.iter().filter(|one| one.tool == tool && one.kind == ChargeKind::Charged);
        let posted = Money::sum(facts.books.base, of_tool.map(|one| one.section_179))?;
        let given = plan.opened.section_179.minus(posted)?.at_most(left);
        if !given.is_positive() {
            continue;
        }
        left = left.minus(given)?;
        match charges.iter_mut().find(|charge| charge.tool == tool) {
            Some(charge) => charge.section_179 = given,
            None => charges.push(ToolCharge {
                tool,
                tax_year,
                kind,
                small_tool: zero,
                section_179: given,
                depreciation: zero,
                recaptured: zero,
            }),
        }
    }
    charges.push(ToolCharge {
        tool: None,
        tax_year,
        kind,
        small_tool: zero,
        section_179: left,
        depreciation: zero,
        recaptured: zero,
    });
    charges.retain(|charge| !charge.is_nothing());
    Ok(charges)
}
