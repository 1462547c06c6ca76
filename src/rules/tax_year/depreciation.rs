//! What each tool gives a tax year: section 179, the special allowance, the table or the straight line, in that
//! order (Pub. 946, order of deductions, seen); or the whole cost at once where it is a small tool.
//!
//! The first year's business share decides what is written off in it and how a tool goes on; each later year takes its
//! own share of what the table gives (`life`). Amounts are rounded half up to the cent a year; the last year of a
//! column takes what is left, so that a life adds up to its basis.

mod asking;
mod life;
mod plan;
mod rows;

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;

use super::super::money::{Currency, Money, MoneyFinding};
use super::super::refusal::Refusal;
use super::super::rows::TaxChoice;
use super::super::rows::{
    BusinessShare, Election, PriorDepreciation, PropertyType, Tool, ToolDisposal, ToolOrigin, Vehicle,
};
use super::elections::Elections;
use super::facts::{ToolFacts, YearFacts};
use super::macrs::{Averaging, Quarter};
use super::profile::Profile;
use super::section_179;

pub(super) use asking::ask;
pub use life::AtYearEnd;
pub use plan::{Charge, Pattern, Plan};
pub(super) use rows::POSTED;
pub use rows::{DepreciationRow, DepreciationSchedule, schedule};

/// Half of the use, in percent: what is used for the business no more than that is held to a slower way.
const HALF: Decimal = Decimal::from_parts(50, 0, 0, false, 0);

/// Why a tool is written off at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SmallToolRule {
    /// The year elects the de minimis safe harbor.
    DeMinimis,
    /// So cheap that it is a material or supply, whether anything was elected or not.
    MaterialsAndSupplies,
}

/// How a tool starts out for tax.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Lent or given to the owner: nothing to write off.
    NoBasis,
    Small(SmallToolRule),
    /// Came and went within one tax year: no depreciation at all.
    SameYear,
    /// Was in service before the books began, with what was taken then.
    Opening(PriorDepreciation),
    Depreciable,
}

/// What deciding a tool's start needs beyond the tool.
#[derive(Clone, Copy, Debug)]
pub struct Ground<'a> {
    pub profile: &'static Profile,
    /// The elections of all years.
    pub elections: &'a [Election],
    /// The tax year in which the books begin.
    pub first_year: i32,
    pub base: Currency,
}

impl<'a> Ground<'a> {
    pub(super) fn of(facts: &'a YearFacts) -> Self {
        let YearFacts { profile, elections, first_year, books, .. } = facts;
        Self { profile, elections, first_year: *first_year, base: books.base }
    }

    fn elections(&self) -> Elections<'a> {
        Elections(self.elections)
    }
}

/// A tool with its start settled, before its year's convention is known.
#[derive(Clone, Copy, Debug)]
pub struct Opened<'a> {
    pub tool: &'a Tool,
    /// What was stated of its use, year by year.
    pub shares: &'a [BusinessShare],
    pub disposal: Option<&'a ToolDisposal>,
    pub standing: Standing,
    /// The first year's business share of the cost; zero without a basis.
    pub basis: Money,
    pub section_179: Money,
}

impl Opened<'_> {
    pub fn year(&self) -> i32 {
        self.tool.in_service_on.year()
    }

    /// In service by the end of a year, and not gone before it.
    fn stands_in(&self, year: i32) -> bool {
        let gone_before = self.disposal.is_some_and(|gone| gone.date.year() < year);
        self.year() <= year && !gone_before
    }

    /// The business share of a year's use, in percent.
    pub fn share_in(&self, year: i32) -> Decimal {
        self.tool.business_share_in(self.shares, year)
    }

    pub fn first_share(&self) -> Decimal {
        self.share_in(self.year())
    }

    /// Cameras and the like, used for the business half of the time or less from the start: no section 179, no
    /// allowance, straight line over the longer life.
    /// # Source
    /// Pub. 946 ch. 5, business-use requirement (seen).
    pub fn is_restricted(&self) -> bool {
        self.tool.property == PropertyType::Listed && self.first_share() <= HALF
    }
}

/// Works out how every tool is written off. Tools are settled year by year, for the convention and the limit of
/// section 179 look at all that came into service in a year.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub fn plans<'a>(tools: &'a [ToolFacts], ground: &Ground<'_>) -> Result<Vec<Plan<'a>>, Refusal> {
    let mut opened = Vec::with_capacity(tools.len());
    for facts in tools {
        opened.push(open(facts, ground)?);
    }
    let mut years: Vec<i32> = opened.iter().map(Opened::year).collect();
    years.sort_unstable();
    years.dedup();
    let mut averagings = Vec::with_capacity(years.len());
    for year in years {
        limit_section_179(&mut opened, year, ground)?;
        averagings.push((year, mid_quarter_applies(&opened, year)?));
    }
    let mut plans = Vec::with_capacity(opened.len());
    for one in opened {
        let mid_quarter = averagings.iter().any(|(year, applies)| *year == one.year() && *applies);
        let averaging = if mid_quarter {
            Averaging::MidQuarter(Quarter::of(one.tool.in_service_on))
        } else {
            Averaging::HalfYear
        };
        plans.push(Plan::of(one, averaging, ground)?);
    }
    Ok(plans)
}

fn open<'a>(facts: &'a ToolFacts, ground: &Ground<'_>) -> Result<Opened<'a>, Refusal> {
    let tool = &facts.tool;
    let disposal = facts.disposal.as_ref();
    let share = tool.business_share_in(&facts.shares, tool.in_service_on.year());
    let standing = standing(tool, disposal, ground);
    let basis = match standing {
        Standing::NoBasis => Money::zero(ground.base),
        _ => tool.cost.portion(share, Decimal::ONE_HUNDRED)?,
    };
    let section_179 = match standing {
        Standing::Depreciable if may_elect_section_179(tool) => {
            let most = section_179::eligible_cost(tool.cost, share)?;
            let capped = heavy_vehicle_cap(tool, ground)?.map_or(most, |cap| most.at_most(cap));
            tool.section_179.at_most(capped)
        }
        _ => Money::zero(ground.base),
    };
    Ok(Opened { tool, shares: &facts.shares, disposal, standing, basis, section_179 })
}

fn standing(tool: &Tool, disposal: Option<&ToolDisposal>, ground: &Ground<'_>) -> Standing {
    let year = tool.in_service_on.year();
    let older_than_books = year < ground.first_year;
    if matches!(tool.origin, ToolOrigin::PersonalGift | ToolOrigin::Loan) {
        return Standing::NoBasis;
    }
    if let Some(prior) = tool.prior.filter(|_| older_than_books) {
        return Standing::Opening(prior);
    }
    match small_tool_rule(tool, ground) {
        Some(rule) => Standing::Small(rule),
        // One that left before the year it was to come into service never came into service.
        None if disposal.is_some_and(|gone| gone.date.year() <= year) => Standing::SameYear,
        None => Standing::Depreciable,
    }
}

/// The limits look at the whole cost of the tool with its share of tax and delivery, all or nothing. The safe
/// harbor goes by what the invoice proves for an item: of several tools for one price, by that price. Where elected, it
/// takes everything that qualifies but a tool recorded as capitalised; the rule on supplies gives way to a recorded
/// choice. Things converted from private use were not bought by the business.
/// # Source
/// Reg. 1.263(a)-1(f) (seen); Reg. 1.162-3 (from memory).
fn small_tool_rule(tool: &Tool, ground: &Ground<'_>) -> Option<SmallToolRule> {
    if tool.origin == ToolOrigin::ConvertedFromPersonal || tool.choice == TaxChoice::Capitalise {
        return None;
    }
    let limit = ground.elections().de_minimis_limit(tool.in_service_on.year(), ground.profile);
    if limit.is_some_and(|limit| tool.invoice_price.amount() <= limit.value) {
        return Some(SmallToolRule::DeMinimis);
    }
    let cheap = tool.cost.amount() <= ground.profile.materials_per_unit.value;
    (cheap && tool.choice == TaxChoice::ByLaw).then_some(SmallToolRule::MaterialsAndSupplies)
}

/// Bought things, and goods received for promotion where the person chose it; never what was private before.
/// # Source
/// Pub. 946 ch. 2 (conversion seen; gifts from memory; promotion: judgement, so a question goes with it).
pub(super) fn may_elect_section_179(tool: &Tool) -> bool {
    tool.choice == TaxChoice::Section179
        && matches!(tool.origin, ToolOrigin::Bought | ToolOrigin::ForPromotion)
}

/// The most that section 179 takes of a heavy vehicle that carries people; none for any other tool, or without a profile.
/// # Errors
/// [`MoneyFinding`] if the figure does not fit the currency.
/// # Source
/// IRC 179(b)(5) (yearly figures seen; what it covers from memory).
pub(super) fn heavy_vehicle_cap(tool: &Tool, ground: &Ground<'_>) -> Result<Option<Money>, MoneyFinding> {
    let capped = tool.vehicle.is_some_and(Vehicle::is_heavy_and_capped);
    match Profile::find(ground.profile.jurisdiction, tool.in_service_on.year()) {
        Ok(profile) if capped => {
            Money::rounded(profile.section_179.heavy_vehicle.value, ground.base).map(Some)
        }
        _ => Ok(None),
    }
}

/// Cuts the elected amounts of a year to its dollar limit, the latest in service first. Years without a profile
/// are left as recorded.
fn limit_section_179(opened: &mut [Opened<'_>], year: i32, ground: &Ground<'_>) -> Result<(), Refusal> {
    let Some(limit) = section_179_limit(opened, year, ground)? else { return Ok(()) };
    let mut of_year: Vec<_> = opened.iter_mut().filter(|one| one.year() == year).collect();
    of_year.sort_by_key(|one| one.tool.in_service_on);
    let asked: Vec<_> = of_year.iter().map(|one| one.section_179).collect();
    for (one, given) in of_year.into_iter().zip(section_179::within_limit(limit, &asked)?) {
        one.section_179 = given;
    }
    Ok(())
}

/// The dollar limit of a year, by all that qualifies and came into service in it; none without a profile.
pub(super) fn section_179_limit(
    opened: &[Opened<'_>],
    year: i32,
    ground: &Ground<'_>,
) -> Result<Option<Money>, Refusal> {
    let Ok(profile) = Profile::find(ground.profile.jurisdiction, year) else { return Ok(None) };
    let mut qualifying = Money::zero(ground.base);
    for one in opened.iter().filter(|one| one.year() == year && one.standing == Standing::Depreciable) {
        if one.tool.origin != ToolOrigin::ConvertedFromPersonal {
            qualifying = qualifying.plus(section_179::eligible_cost(one.tool.cost, one.first_share())?)?;
        }
    }
    Ok(Some(section_179::dollar_limit(&profile.section_179, qualifying)?))
}

/// The dollar limit of the summary's own year.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(super) fn dollar_limit_of_year(
    plans: &[Plan<'_>],
    year: i32,
    ground: &Ground<'_>,
) -> Result<Money, Refusal> {
    let opened: Vec<Opened<'_>> = plans.iter().map(|plan| plan.opened).collect();
    Ok(section_179_limit(&opened, year, ground)?.unwrap_or_else(|| Money::zero(ground.base)))
}

/// More than 40 percent of the year's basis came into service in its last three months: then every tool of the
/// year counts by its quarter. Section 179 lowers the basis tested, the special allowance does not; what came and
/// went within the year and what was written off at once is left out.
/// # Source
/// Pub. 946 ch. 4, which convention applies (the 40 % seen; the basis tested: Reg. 1.168(d)-1(b)(4), from memory).
fn mid_quarter_applies(opened: &[Opened<'_>], year: i32) -> Result<bool, MoneyFinding> {
    let mut all = Decimal::ZERO;
    let mut late = Decimal::ZERO;
    for one in opened.iter().filter(|one| one.year() == year && one.standing == Standing::Depreciable) {
        let tested = one.basis.minus(one.section_179)?.amount();
        all += tested;
        if Quarter::of(one.tool.in_service_on) == Quarter::Fourth {
            late += tested;
        }
    }
    Ok(late * Decimal::ONE_HUNDRED > all * Decimal::from(40_u32))
}

fn in_year(date: NaiveDate, year: i32) -> bool {
    date.year() == year
}
