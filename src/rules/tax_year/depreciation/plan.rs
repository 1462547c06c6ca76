//! How one tool is written off over its life.

use chrono::Datelike;
use rust_decimal::Decimal;

use super::super::super::money::{Money, MoneyFinding};
use super::super::super::refusal::Refusal;
use super::super::super::rows::{Convention, ElectionKind, RecoveryClass, TaxChoice, ToolOrigin};
use super::super::macrs::{self, Averaging, Quarter};
use super::super::profile::{AllowanceRate, Cited};
use super::super::us::LOWER_ALLOWANCE_2025;
use super::{Ground, Opened, Standing};

/// How what is left after the first-year write-offs is spread over the years.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// The published percentages of the class.
    Table,
    StraightLine {
        years: u32,
        because: &'static str,
    },
}

/// What a tool gives one year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Charge {
    /// Written off at once as a small tool.
    pub expensed: Money,
    pub section_179: Money,
    pub special_allowance: Money,
    /// By the table or the straight line, the year's business share of it.
    pub yearly: Money,
    /// What of earlier years comes back into income.
    pub recaptured: Money,
}

impl Charge {
    pub fn nothing(zero: Money) -> Self {
        Self { expensed: zero, section_179: zero, special_allowance: zero, yearly: zero, recaptured: zero }
    }

    /// What the year deducts.
    /// # Errors
    /// [`MoneyFinding`] if the sum is too large.
    pub fn total(&self) -> Result<Money, MoneyFinding> {
        self.expensed.plus(self.section_179)?.plus(self.special_allowance)?.plus(self.yearly)
    }

    /// What it adds to all that was taken; negative where more comes back.
    /// # Errors
    /// As [`Charge::total`].
    pub fn net(&self) -> Result<Money, MoneyFinding> {
        self.total()?.minus(self.recaptured)
    }
}

/// One tool's way of being written off.
#[derive(Clone, Debug)]
pub struct Plan<'a> {
    pub opened: Opened<'a>,
    pub averaging: Averaging,
    pub pattern: Pattern,
    pub special_allowance: Money,
    /// Percent and source of the special allowance, where it was taken.
    pub allowance: Option<(Decimal, Cited)>,
    /// What the yearly percentages are applied to, by the first year's share.
    pub spread: Money,
    /// The tax year in which the books begin.
    pub(super) first_year: i32,
}

impl<'a> Plan<'a> {
    pub(super) fn of(opened: Opened<'a>, averaging: Averaging, ground: &Ground<'_>) -> Result<Self, Refusal> {
        let zero = Money::zero(ground.base);
        let pattern = pattern_of(&opened, ground);
        let first_year = ground.first_year;
        let plan = Self {
            opened,
            averaging,
            pattern,
            special_allowance: zero,
            allowance: None,
            spread: zero,
            first_year,
        };
        match opened.standing {
            Standing::NoBasis | Standing::Small(_) | Standing::SameYear => Ok(plan),
            Standing::Opening(prior) => {
                let averaging = match prior.convention {
                    Convention::HalfYear => Averaging::HalfYear,
                    Convention::MidQuarter => Averaging::MidQuarter(Quarter::of(opened.tool.in_service_on)),
                };
                let spread = opened.basis.minus(prior.first_year_write_off)?;
                let spread = if spread.is_negative() { zero } else { spread };
                Ok(Self { averaging, spread, ..plan })
            }
            Standing::Depreciable => {
                let after_179 = opened.basis.minus(opened.section_179)?;
                let allowance = allowance_rate(&opened, ground);
                let percent = allowance.map_or(Decimal::ZERO, |(percent, _)| percent);
                let special_allowance = after_179.portion(percent, Decimal::ONE_HUNDRED)?;
                let spread = after_179.minus(special_allowance)?;
                Ok(Self { special_allowance, allowance, spread, ..plan })
            }
        }
    }

    /// What the years of its life take of `spread`, the first year first; they add up to it.
    /// # Errors
    /// [`MoneyFinding`] if an amount is too large.
    pub(super) fn fitted(&self, spread: Money, pattern: Pattern) -> Result<Vec<Money>, MoneyFinding> {
        let amounts: Vec<Money> = match pattern {
            Pattern::Table => macrs::percentages(self.averaging, self.opened.tool.class)
                .map(|percent| spread.portion(percent, Decimal::ONE_HUNDRED))
                .collect::<Result<_, _>>()?,
            Pattern::StraightLine { years, .. } => self.straight_line(spread, years)?,
        };
        let mut left = spread;
        let last = amounts.len().saturating_sub(1);
        let mut fitted = Vec::with_capacity(amounts.len());
        for (place, amount) in amounts.into_iter().enumerate() {
            let amount = if place == last { left } else { amount.at_most(left) };
            left = left.minus(amount)?;
            fitted.push(amount);
        }
        Ok(fitted)
    }

    fn straight_line(&self, spread: Money, years: u32) -> Result<Vec<Money>, MoneyFinding> {
        let eighths = self.averaging.first_year_eighths();
        let whole = Decimal::from(years) * Decimal::from(8_u32);
        let mut amounts = vec![spread.portion(Decimal::from(eighths), whole)?];
        for _ in 1..=years {
            amounts.push(spread.portion(Decimal::ONE, Decimal::from(years))?);
        }
        Ok(amounts)
    }

    /// How much of a year's amount the tool's leaving lets it take, in eighths. In the last year of the half-year
    /// convention the life has run out by the day the tool counts as gone, so nothing is lost.
    pub(super) fn eighths_kept(&self, year: i32, pattern: Pattern) -> u32 {
        let Some(gone) = self.opened.disposal.filter(|gone| gone.date.year() <= year) else { return 8 };
        if gone.date.year() < year {
            return 0;
        }
        let eighths = self.averaging.disposal_year_eighths(gone.date);
        let life_ends_at = 8_u32.saturating_sub(self.averaging.first_year_eighths());
        if year == self.last_year_of(pattern) && eighths >= life_ends_at { 8 } else { eighths }
    }

    /// The year in which its recovery period ends.
    pub(super) fn last_year_of(&self, pattern: Pattern) -> i32 {
        let life = match pattern {
            Pattern::Table => macrs::years(self.opened.tool.class),
            Pattern::StraightLine { years, .. } => years,
        };
        self.opened.year().saturating_add_unsigned(life)
    }
}

/// Straight line over the longer life.
/// # Source
/// ADS life: five years for five-year property, twelve for personal property without a class life (IRC 168(g)(2)
/// and (3), from memory).
pub(super) const fn slower_way(class: RecoveryClass) -> Pattern {
    let years = match class {
        RecoveryClass::Seven => 12,
        RecoveryClass::Three | RecoveryClass::Five => 5,
    };
    Pattern::StraightLine { years, because: "listed property used for business half or less" }
}

/// # Source
/// Straight line by class: IRC 168(b)(5), from memory.
fn pattern_of(opened: &Opened<'_>, ground: &Ground<'_>) -> Pattern {
    let tool = opened.tool;
    let years = macrs::years(tool.class);
    if opened.is_restricted() {
        return slower_way(tool.class);
    }
    if tool.choice == TaxChoice::StraightLine {
        return Pattern::StraightLine { years, because: "chosen for this tool" };
    }
    let elected =
        ground.elections().chose_for(tool.in_service_on.year(), ElectionKind::StraightLine, tool.class);
    if elected { Pattern::StraightLine { years, because: "elected for its class" } } else { Pattern::Table }
}

/// The special allowance of a tool, unless it was left for its class, is closed to it, or no rule covers its days.
/// # Source
/// IRC 168(k): mandatory unless elected out by class (seen); not for things that were private before (Reg.
/// 1.168(k)-2(b)(3), from memory); 40 instead of 100 percent in 2025 by election (from memory).
fn allowance_rate(opened: &Opened<'_>, ground: &Ground<'_>) -> Option<(Decimal, Cited)> {
    let tool = opened.tool;
    let year = tool.in_service_on.year();
    let elections = ground.elections();
    if tool.origin == ToolOrigin::ConvertedFromPersonal
        || opened.is_restricted()
        || elections.chose_for(year, ElectionKind::NoSpecialAllowance, tool.class)
    {
        return None;
    }
    let AllowanceRate { percent, source, .. } =
        ground.profile.special_allowance(tool.acquired_on, tool.in_service_on)?;
    if *percent == 100 && year == 2025 && elections.chose(year, ElectionKind::LowerAllowance2025) {
        return Some((LOWER_ALLOWANCE_2025.value, LOWER_ALLOWANCE_2025.source));
    }
    (*percent > 0).then_some((Decimal::from(*percent), *source))
}
