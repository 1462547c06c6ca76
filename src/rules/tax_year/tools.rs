//! Tools in the books and for tax, side by side: what episodes and projects were charged beside what the years deduct,
//! and whether both agree with the ledger.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::CAUTION;
use super::depreciation::DepreciationRow;
use super::facts::{ToolFacts, YearFacts};
use super::summary::YearSummary;
use crate::rules::ids::ToolId;
use crate::rules::money::{Currency, Money, MoneyFinding};
use crate::rules::rows::{AttributionPlan, Tool};
use crate::rules::write_offs::last_day;

/// What the books hold of a tool by the last day of the year.
#[derive(Clone, Copy, Debug)]
pub struct ToolBooked {
    pub tool: ToolId,
    /// None of its records was taken back, by now.
    pub stands: bool,
    /// What came of it, at cost.
    pub came: Money,
    /// What episodes and projects were charged before the year, those before the books included.
    pub attributed_before: Money,
    pub attributed_in_year: Money,
    /// Sold, scrapped, stolen, gone back: what left without being charged.
    pub removed: Money,
    /// Of its cost, what was posted to tools at cost and not taken off again by its leaving.
    pub posted_at_cost: Money,
    /// Depreciation that the opening position brought.
    pub prior: Money,
    /// What closed years wrote off against its cost.
    pub small_tool: Money,
    /// What closed years wrote off against accumulated depreciation, less what came back.
    pub accumulated: Money,
}

/// What stands in the ledger on the last day of the year.
#[derive(Clone, Copy, Debug)]
pub struct ToolAccounts {
    /// Debits positive.
    pub at_cost: Money,
    /// Credits positive.
    pub accumulated: Money,
    /// Of the accumulated depreciation, what no tool of these books stands behind.
    pub without_tool: Money,
}

/// Cost and what became of it in the books.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BookView {
    pub cost: Money,
    /// As it was first estimated; never charged.
    pub salvage: Money,
    /// To episodes and projects before the year.
    pub attributed_before: Money,
    pub attributed_in_year: Money,
    /// Left without being charged: sold, scrapped, stolen, taken home.
    pub removed: Money,
    /// Idle, not yet used, or salvage.
    pub left_unattributed: Money,
}

/// What the years deduct.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TaxView {
    /// The business share of the cost.
    pub basis: Money,
    /// Before the year, less what came back into income.
    pub deducted_before: Money,
    pub small_tool: Money,
    /// As elected, before the limit by income.
    pub section_179: Money,
    pub special_allowance: Money,
    pub depreciation: Money,
    /// All that the year deducts.
    pub deducted_in_year: Money,
    /// What of earlier years comes back into income.
    pub recaptured: Money,
    pub left: Money,
}

/// What the ledger has of it on the last day of the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct LedgerView {
    /// What closed years posted of it so far, this year's included once it is closed.
    pub posted: Money,
    pub at_cost: Money,
    pub accumulated_depreciation: Money,
}

/// Tax less books; positive where tax is ahead.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Difference {
    pub of_year: Money,
    pub since_start: Money,
}

/// Both views of one tool, or of all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BothViews {
    pub book: BookView,
    pub tax: TaxView,
    pub ledger: LedgerView,
    pub difference: Difference,
}

/// One tool in one year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ToolBeside {
    pub tool: ToolId,
    pub name: String,
    pub in_service_on: NaiveDate,
    /// Where it left by the end of the year.
    pub disposed_on: Option<NaiveDate>,
    /// Of the year's use, in percent.
    #[schema(value_type = String)]
    pub business_share: Decimal,
    #[serde(flatten)]
    pub views: BothViews,
    /// Why the two differ, in words.
    pub reason: String,
    pub link: String,
}

/// An account of the ledger beside the tools that make it up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ToolAccount {
    pub account: &'static str,
    /// By the tools listed.
    pub by_tools: Money,
    /// Of tools whose record was taken back on a later day, and of section 179 that no tool stands behind.
    pub besides: Money,
    pub in_ledger: Money,
    /// In the ledger, less by tools and besides.
    pub difference: Money,
    /// Whether the difference is zero.
    pub agrees: bool,
}

/// All tools of a year, in the books and for tax.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ToolsBeside {
    pub jurisdiction: &'static str,
    pub year: i32,
    pub currency: Currency,
    pub caution: &'static str,
    /// The day that the ledger is looked at.
    pub on: NaiveDate,
    /// By the day they came into service.
    pub tools: Vec<ToolBeside>,
    pub total: BothViews,
    /// Of section 179, what the year's income does not allow: elected above, deducted and posted in a later year.
    pub section_179_carried_over: Money,
    /// The accounts of the ledger that tools stand on.
    pub accounts: Vec<ToolAccount>,
    /// Whether the sums agree with the ledger, in words.
    pub says: String,
}

/// Puts both views of every tool side by side that was there in the year.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// Common practice, no source: a fixed-asset register kept for the books and for tax, with its timing differences.
pub fn side_by_side(
    facts: &YearFacts,
    summary: &YearSummary,
    booked: &[ToolBooked],
    ledger: ToolAccounts,
) -> Result<ToolsBeside, MoneyFinding> {
    let base = facts.books.base;
    let on = last_day(facts.year());
    let mut tools = Vec::new();
    for one in &facts.tools {
        let of_tool = booked.iter().find(|booked| booked.tool == one.tool.id && booked.stands);
        let row = summary.depreciation.rows.iter().find(|row| row.tool == one.tool.id);
        let gone_before = one.disposal.as_ref().is_some_and(|gone| gone.date <= last_day(facts.year() - 1));
        let came = of_tool.is_some_and(|booked| !booked.came.is_zero());
        if !gone_before && (came || row.is_some()) {
            tools.push(beside(one, of_tool, row, on)?);
        }
    }
    tools.sort_by_key(|row| (row.in_service_on, row.tool));
    let total = tools.iter().try_fold(BothViews::nothing(base), |sum, row| sum.plus(&row.views))?;
    let later = || booked.iter().filter(|one| !one.stands);
    let at_cost_later =
        later().map(|one| one.posted_at_cost.minus(one.small_tool)).collect::<Result<Vec<_>, _>>()?;
    let accumulated_later =
        later().map(|one| one.prior.plus(one.accumulated)).collect::<Result<Vec<_>, _>>()?;
    let accounts = vec![
        account("tools_at_cost", total.ledger.at_cost, Money::sum(base, at_cost_later)?, ledger.at_cost)?,
        account(
            "accumulated_depreciation",
            total.ledger.accumulated_depreciation,
            Money::sum(base, accumulated_later)?.plus(ledger.without_tool)?,
            ledger.accumulated,
        )?,
    ];
    Ok(ToolsBeside {
        jurisdiction: summary.jurisdiction,
        year: facts.year(),
        currency: base,
        caution: CAUTION,
        on,
        tools,
        total,
        section_179_carried_over: summary.section_179.carried_over,
        says: says(&accounts, on),
        accounts,
    })
}

fn account(
    account: &'static str,
    by_tools: Money,
    besides: Money,
    in_ledger: Money,
) -> Result<ToolAccount, MoneyFinding> {
    let difference = in_ledger.minus(by_tools)?.minus(besides)?;
    Ok(ToolAccount { account, by_tools, besides, in_ledger, difference, agrees: difference.is_zero() })
}

fn says(accounts: &[ToolAccount], on: NaiveDate) -> String {
    let apart: Vec<String> = accounts
        .iter()
        .filter(|account| !account.agrees)
        .map(|account| format!("{} by {}", account.account, account.difference))
        .collect();
    if apart.is_empty() {
        format!("The tools agree with the ledger's tools at cost and accumulated depreciation on {on}.")
    } else {
        format!(
            "The tools do not agree with the ledger on {on}: it differs on {}. A disposal that was taken back later, or \
             a correction dated after that day, does that; GET /v1/ledger/accounts/tools_at_cost shows what moved.",
            apart.join(" and on ")
        )
    }
}

fn beside(
    facts: &ToolFacts,
    booked: Option<&ToolBooked>,
    row: Option<&DepreciationRow>,
    on: NaiveDate,
) -> Result<ToolBeside, MoneyFinding> {
    let tool = &facts.tool;
    let gone = facts.disposal.as_ref().filter(|gone| gone.date <= on).map(|gone| gone.date);
    let views = BothViews::of(tool, booked, row, gone)?;
    let share = row.map_or(tool.business_share, |row| row.business_share).normalize();
    Ok(ToolBeside {
        tool: tool.id,
        name: tool.name.clone(),
        in_service_on: tool.in_service_on,
        disposed_on: gone,
        business_share: share,
        reason: reason(tool, row, &views, share, gone)?,
        views,
        link: format!("/v1/tools/{}/standing", tool.id),
    })
}

impl BothViews {
    fn nothing(base: Currency) -> Self {
        let zero = Money::zero(base);
        Self {
            book: BookView {
                cost: zero,
                salvage: zero,
                attributed_before: zero,
                attributed_in_year: zero,
                removed: zero,
                left_unattributed: zero,
            },
            tax: TaxView::nothing(zero),
            ledger: LedgerView { posted: zero, at_cost: zero, accumulated_depreciation: zero },
            difference: Difference { of_year: zero, since_start: zero },
        }
    }

    fn of(
        tool: &Tool,
        booked: Option<&ToolBooked>,
        row: Option<&DepreciationRow>,
        gone: Option<NaiveDate>,
    ) -> Result<Self, MoneyFinding> {
        let zero = Money::zero(tool.cost.currency());
        let tax = row.map_or(TaxView::nothing(zero), TaxView::of);
        let mut views = Self { tax, ..Self::nothing(zero.currency()) };
        views.book.salvage = tool.salvage;
        if let Some(booked) = booked {
            let attributed = booked.attributed_before.plus(booked.attributed_in_year)?;
            views.book = BookView {
                cost: booked.came,
                salvage: tool.salvage,
                attributed_before: booked.attributed_before,
                attributed_in_year: booked.attributed_in_year,
                removed: booked.removed,
                left_unattributed: booked.came.minus(booked.removed)?.minus(attributed)?,
            };
            views.ledger.posted = booked.small_tool.plus(booked.accumulated)?;
            // Its leaving took off what was carried of it, and closing its year what was written off after that.
            if gone.is_none() {
                views.ledger.at_cost = booked.posted_at_cost.minus(booked.small_tool)?;
                views.ledger.accumulated_depreciation = booked.prior.plus(booked.accumulated)?;
            }
        }
        let net = tax.deducted_in_year.minus(tax.recaptured)?;
        let of_year = net.minus(views.book.attributed_in_year)?;
        let before = tax.deducted_before.minus(views.book.attributed_before)?;
        views.difference = Difference { of_year, since_start: of_year.plus(before)? };
        Ok(views)
    }

    fn plus(self, other: &Self) -> Result<Self, MoneyFinding> {
        let (book, tax, ledger) = (self.book, self.tax, self.ledger);
        Ok(Self {
            book: BookView {
                cost: book.cost.plus(other.book.cost)?,
                salvage: book.salvage.plus(other.book.salvage)?,
                attributed_before: book.attributed_before.plus(other.book.attributed_before)?,
                attributed_in_year: book.attributed_in_year.plus(other.book.attributed_in_year)?,
                removed: book.removed.plus(other.book.removed)?,
                left_unattributed: book.left_unattributed.plus(other.book.left_unattributed)?,
            },
            tax: TaxView {
                basis: tax.basis.plus(other.tax.basis)?,
                deducted_before: tax.deducted_before.plus(other.tax.deducted_before)?,
                small_tool: tax.small_tool.plus(other.tax.small_tool)?,
                section_179: tax.section_179.plus(other.tax.section_179)?,
                special_allowance: tax.special_allowance.plus(other.tax.special_allowance)?,
                depreciation: tax.depreciation.plus(other.tax.depreciation)?,
                deducted_in_year: tax.deducted_in_year.plus(other.tax.deducted_in_year)?,
                recaptured: tax.recaptured.plus(other.tax.recaptured)?,
                left: tax.left.plus(other.tax.left)?,
            },
            ledger: LedgerView {
                posted: ledger.posted.plus(other.ledger.posted)?,
                at_cost: ledger.at_cost.plus(other.ledger.at_cost)?,
                accumulated_depreciation: ledger
                    .accumulated_depreciation
                    .plus(other.ledger.accumulated_depreciation)?,
            },
            difference: Difference {
                of_year: self.difference.of_year.plus(other.difference.of_year)?,
                since_start: self.difference.since_start.plus(other.difference.since_start)?,
            },
        })
    }
}

impl TaxView {
    const fn nothing(zero: Money) -> Self {
        Self {
            basis: zero,
            deducted_before: zero,
            small_tool: zero,
            section_179: zero,
            special_allowance: zero,
            depreciation: zero,
            deducted_in_year: zero,
            recaptured: zero,
            left: zero,
        }
    }

    fn of(row: &DepreciationRow) -> Self {
        Self {
            basis: row.basis,
            deducted_before: row.prior,
            small_tool: row.expensed,
            section_179: row.section_179,
            special_allowance: row.special_allowance,
            depreciation: row.yearly,
            deducted_in_year: row.total,
            recaptured: row.recaptured,
            left: row.left,
        }
    }
}

const fn charged(plan: AttributionPlan) -> &'static str {
    match plan {
        AttributionPlan::PerUseHour { .. } => "by its hours of use",
        AttributionPlan::StraightLine { .. } => "month by month over the uses",
        AttributionPlan::EqualShare => "equally to what used it",
        AttributionPlan::Percentages => "by the percentages of its uses",
        AttributionPlan::ExpenseNow => "in full to its first uses",
    }
}

/// Why tax and books differ over a tool's life so far.
fn reason(
    tool: &Tool,
    row: Option<&DepreciationRow>,
    views: &BothViews,
    share: Decimal,
    gone: Option<NaiveDate>,
) -> Result<String, MoneyFinding> {
    let BothViews { book, difference, .. } = views;
    if book.cost.is_zero() && views.tax.basis.is_zero() {
        return Ok("It cost the business nothing: nothing to charge and nothing to deduct.".to_owned());
    }
    let ahead = difference.since_start;
    let mut parts = vec![match (ahead.is_zero(), ahead.is_negative()) {
        (true, _) => "Tax and books have taken the same so far.".to_owned(),
        (false, false) => format!("Tax is ahead of the books by {ahead}."),
        (false, true) => format!("Tax is behind the books by {}.", ahead.absolute()),
    }];
    let method = row.map_or("not in service by the end of the year", |row| row.method.as_str());
    parts.push(format!("Tax: {method}. Books: charged {}.", charged(tool.plan)));
    let idle = book.left_unattributed.minus(tool.salvage)?;
    if gone.is_none() && idle.is_positive() {
        parts.push(format!("{idle} has reached no episode or project: idle or not yet used."));
    }
    if gone.is_none() && tool.salvage.is_positive() {
        parts.push(format!(
            "Its salvage of {} is never charged, and tax takes no notice of it.",
            tool.salvage
        ));
    }
    if share < Decimal::ONE_HUNDRED {
        let private = Decimal::ONE_HUNDRED - share;
        parts.push(format!(
            "{private} % of the year's use is private: the books charge it, and tax never deducts it, so that part does \
             not even out."
        ));
    }
    if let Some(gone) = gone {
        parts.push(format!(
            "It left on {gone}: {} left with it uncharged, and what tax had not deducted counts in its gain or loss.",
            book.removed
        ));
    } else if !ahead.is_zero() && share == Decimal::ONE_HUNDRED {
        parts.push("A difference of time: it evens out over its life, salvage aside.".to_owned());
    }
    Ok(parts.join(" "))
}
