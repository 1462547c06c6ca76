//! Section 179: writing a tool off at once, by choice, within a yearly limit and the income of the business.

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::money::{Money, MoneyFinding};
use super::profile::Section179Limits;

/// The limit of a year in which property of `placed_in_service` came into service: it shrinks dollar for dollar
/// above the threshold, to nothing.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// IRC 179(b)(2); Pub. 946 ch. 2, reduced dollar limit (seen).
pub fn dollar_limit(limits: &Section179Limits, placed_in_service: Money) -> Result<Money, MoneyFinding> {
    let currency = placed_in_service.currency();
    let over = (placed_in_service.amount() - limits.shrinks_from.value).max(Decimal::ZERO);
    Money::rounded((limits.maximum.value - over).max(Decimal::ZERO), currency)
}

/// What of a cost qualifies: its business share, or nothing where that is half or less.
/// # Errors
/// [`MoneyFinding`] if the product is too large.
/// # Source
/// Pub. 946 ch. 2, partial business use (seen).
pub fn eligible_cost(cost: Money, business_share: Decimal) -> Result<Money, MoneyFinding> {
    if business_share <= Decimal::from(50_u32) {
        return Ok(Money::zero(cost.currency()));
    }
    cost.portion(business_share, Decimal::ONE_HUNDRED)
}

/// Gives each asked amount in turn until the limit is used up.
/// # Errors
/// [`MoneyFinding`] if amounts are of two currencies.
pub fn within_limit(limit: Money, asked: &[Money]) -> Result<Vec<Money>, MoneyFinding> {
    let mut left = limit;
    asked
        .iter()
        .map(|one| {
            let given = one.at_most(left);
            left = left.minus(given)?;
            Ok(given)
        })
        .collect()
}

/// The year's reckoning of section 179.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Section179 {
    /// Elected on this year's tools, within the dollar limit; it lowers their basis in full.
    pub elected: Money,
    pub dollar_limit: Money,
    pub brought_forward: Money,
    /// Net profit of this business before section 179; the preparer may know of other active income.
    pub business_income: Money,
    pub allowed: Money,
    /// Goes to next year; it does not expire.
    pub carried_over: Money,
}

impl Section179 {
    /// Elected and brought forward, as far as the income and the year's limit reach.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    /// # Source
    /// IRC 179(b)(3) (seen in a summary of the 2025 act).
    pub fn reckon(
        elected: Money,
        dollar_limit: Money,
        brought_forward: Money,
        business_income: Money,
    ) -> Result<Self, MoneyFinding> {
        let asked = elected.plus(brought_forward)?;
        let zero = Money::zero(elected.currency());
        let income = if business_income.is_negative() { zero } else { business_income };
        let allowed = asked.at_most(income).at_most(dollar_limit);
        let carried_over = asked.minus(allowed)?;
        Ok(Self { elected, dollar_limit, brought_forward, business_income, allowed, carried_over })
    }
}
