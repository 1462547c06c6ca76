//! Break-even: how many have to be sold until the fixed costs are earned.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::money::{Amount, Currency, Money, MoneyFinding};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};

/// What the break-even is worked out from, each for one unit: a print, a chair, a plan that viewers buy.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BreakEvenAsked {
    /// What one sells for.
    pub price: Amount,
    /// What one costs more than none: material, fees, postage.
    pub variable_cost: Amount,
    /// What it costs whether one is sold or not.
    pub fixed_cost: Amount,
    /// What should be left beyond the costs; nothing where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_profit: Option<Amount>,
    /// The books' own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
}

/// The answer; nothing is recorded.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BreakEven {
    pub currency: Currency,
    /// What one leaves towards the fixed costs: price less variable cost.
    pub contribution: Money,
    /// The same in percent of the price, rounded half up to six decimals.
    #[schema(value_type = String, example = "37.5")]
    pub ratio_percent: Decimal,
    /// How many have to be sold, rounded up to whole ones.
    #[schema(value_type = String, example = "134")]
    pub units: Decimal,
    /// Fixed costs and target over the exact ratio, rounded half up to the minor unit once.
    pub revenue: Money,
    /// What that many whole ones sell for.
    pub revenue_at_units: Money,
    /// What they leave after variable and fixed costs.
    pub profit_at_units: Money,
    /// How it comes about, in words.
    pub notes: Vec<String>,
}

/// Why there is no break-even.
#[derive(Clone, Debug, PartialEq)]
pub enum BreakEvenFinding {
    NothingContributed { price: Money, variable: Money },
}

impl Explain for BreakEvenFinding {
    fn say(&self) -> Said {
        match self {
            Self::NothingContributed { price, variable } => Said::invalid(
                format!(
                    "each sells for {price} and costs {variable}, so no number of them pays the fixed costs"
                ),
                "give a price above the variable cost",
            ),
        }
    }
}

/// Units = (F + T) / (P - V), rounded up; revenue = (F + T) / ((P - V) / P), rounded half up once.
///
/// P is the price, V the variable cost, F the fixed cost, T the target. The ratio is never rounded on the way.
/// # Errors
/// [`BreakEvenFinding`] at `/price`; negative amounts and such of too many decimals, all at once;
/// [`MoneyFinding::TooLarge`].
/// # Source
/// Principles of Managerial Accounting, ch. 3.2, break-even analysis (from memory).
pub fn break_even(asked: &BreakEvenAsked, base: Currency) -> Result<BreakEven, Refusal> {
    let currency = asked.currency.unwrap_or(base);
    let nothing = Money::zero(currency);
    let mut findings = Findings::new();
    let mut read = |amount: Amount, pointer: &str| {
        findings.keep(amount.not_negative(currency).at(pointer)).unwrap_or(nothing)
    };
    let price = read(asked.price, "/price");
    let variable = read(asked.variable_cost, "/variable_cost");
    let fixed = read(asked.fixed_cost, "/fixed_cost");
    let target = asked.target_profit.map_or(nothing, |target| read(target, "/target_profit"));
    findings.or_refuse()?;
    let contribution = price.minus(variable)?;
    if !contribution.is_positive() {
        return Err(Refusal::new("/price", BreakEvenFinding::NothingContributed { price, variable }));
    }
    let wanted = fixed.plus(target)?;
    let units = rounded_up(wanted.amount(), contribution.amount()).ok_or(MoneyFinding::TooLarge)?;
    let ratio = contribution.amount().checked_mul(Decimal::ONE_HUNDRED);
    let ratio = ratio.and_then(|above| above.checked_div(price.amount())).ok_or(MoneyFinding::TooLarge)?;
    let ratio_percent = ratio.round_dp_with_strategy(6, RoundingStrategy::MidpointAwayFromZero).normalize();
    let revenue = price.portion(wanted.amount(), contribution.amount())?;
    let revenue_at_units = price.times(units)?;
    let profit_at_units = contribution.times(units)?.minus(fixed)?;
    let note = format!(
        "Each leaves {contribution} of {price}; {units} of them leave {} for {fixed} of fixed costs.",
        contribution.times(units)?
    );
    let mut notes = vec![note];
    if !target.is_zero() {
        notes.push(format!("{target} should be left beyond the costs; {profit_at_units} is."));
    }
    Ok(BreakEven {
        currency,
        contribution,
        ratio_percent,
        units,
        revenue,
        revenue_at_units,
        profit_at_units,
        notes,
    })
}

/// The least whole number that is no less than the quotient; none where the digits do not suffice.
fn rounded_up(above: Decimal, below: Decimal) -> Option<Decimal> {
    // Amounts have at most 20 digits: a quotient that is not whole shows it within the 28 that are kept.
    Some(above.checked_div(below)?.ceil().normalize())
}
