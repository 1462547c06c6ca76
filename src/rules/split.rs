//! Splitting: whatever is split adds up to what was split, to the last minor unit.

use std::cmp::Reverse;

use rust_decimal::Decimal;

use super::money::{Currency, Money, MoneyFinding, Share};
use super::refusal::{Explain, Refusal, Said};

#[cfg(test)]
mod tests;

/// Why a split is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum SplitFinding {
    NoWeight,
    NegativeWeight { weight: Decimal },
    SharesDoNotTotal { total: Decimal },
}

impl Explain for SplitFinding {
    fn say(&self) -> Said {
        match self {
            Self::NoWeight => Said::invalid(
                "there is nothing to split by: the weights are missing or sum to zero",
                "give at least one weight above zero",
            ),
            Self::NegativeWeight { weight } => {
                Said::invalid(format!("the weight {weight} is negative"), "give weights of zero or more")
            }
            Self::SharesDoNotTotal { total } => Said::invalid(
                format!("the shares come to {total} %, not to 100 %"),
                "correct a share, or add the one that is missing",
            ),
        }
    }
}

/// Spreads `amount` over `weights` to the minor unit; the parts add up to `amount`.
/// Left-over units go to the largest remainders, ties to the earlier weight.
///
/// # Errors
/// [`SplitFinding::NoWeight`] if the weights are empty or sum to zero, [`SplitFinding::NegativeWeight`];
/// [`MoneyFinding::TooLarge`] for weights of more than 38 digits.
///
/// ```
/// # use ledgerboard::rules::{money::{Currency, Money}, split::split_by_largest_remainder};
/// # use rust_decimal::Decimal;
/// let dollars = Currency::find("USD").unwrap();
/// let whole = Money::exact(Decimal::new(5, 2), dollars).unwrap();
/// let parts = split_by_largest_remainder(whole, &[Decimal::ONE, Decimal::ONE]).unwrap();
/// assert_eq!(parts.iter().map(|part| part.to_string()).collect::<Vec<_>>(), ["0.03", "0.02"]);
/// ```
pub fn split_by_largest_remainder(amount: Money, weights: &[Decimal]) -> Result<Vec<Money>, Refusal> {
    let weights = whole_weights(weights)?;
    let total = weights.iter().try_fold(0_u128, |sum, weight| sum.checked_add(*weight));
    let total = total.filter(|total| *total <= LARGEST_TOTAL).ok_or(MoneyFinding::TooLarge)?;
    if total == 0 {
        return Err(SplitFinding::NoWeight.into());
    }
    let units = units_of(amount);
    let mut parts = Vec::with_capacity(weights.len());
    let mut remainders = Vec::with_capacity(weights.len());
    let mut left = units;
    for (place, weight) in weights.iter().enumerate() {
        let (floor, remainder) = portion_exactly(units, *weight, total);
        left = left.saturating_sub(floor);
        parts.push(floor);
        remainders.push((remainder, place));
    }
    remainders.sort_by(|(one, earlier), (other, later)| other.cmp(one).then(earlier.cmp(later)));
    for (_, place) in remainders {
        if left == 0 {
            break;
        }
        if let Some(part) = parts.get_mut(place) {
            *part += 1;
            left -= 1;
        }
    }
    parts
        .into_iter()
        .map(|part| {
            let part = money_of(part, amount.currency())?;
            Ok(if amount.is_negative() { part.negated() } else { part })
        })
        .collect()
}

/// Spreads each of `amounts` over the same weights so that what each weight gets of all of them is what it gets of their
/// sum: the whole units first, then each amount's left-over units to the weights that are furthest behind.
///
/// # Errors
/// As [`split_by_largest_remainder`]; [`MoneyFinding::Negative`] for a negative amount.
pub fn split_each_by_weights(amounts: &[Money], weights: &[Decimal]) -> Result<Vec<Vec<Money>>, Refusal> {
    let Some(first) = amounts.first() else { return Ok(Vec::new()) };
    let currency = first.currency();
    if let Some(negative) = amounts.iter().find(|amount| amount.is_negative()) {
        return Err(MoneyFinding::Negative { amount: negative.amount() }.into());
    }
    let all = Money::sum(currency, amounts.iter().copied())?;
    let mut behind: Vec<u128> =
        split_by_largest_remainder(all, weights)?.iter().map(|part| units_of(*part)).collect();
    let weights = whole_weights(weights)?;
    let total = weights.iter().sum::<u128>();
    let mut rows = Vec::with_capacity(amounts.len());
    for amount in amounts {
        let units = units_of(*amount);
        let floors: Vec<u128> =
            weights.iter().map(|weight| portion_exactly(units, *weight, total).0).collect();
        for (column, floor) in behind.iter_mut().zip(&floors) {
            *column = column.saturating_sub(*floor);
        }
        rows.push(floors);
    }
    for (amount, row) in amounts.iter().zip(&mut rows) {
        let mut left = units_of(*amount).saturating_sub(row.iter().sum());
        let mut fresh = vec![true; row.len()];
        while left > 0 {
            let ranked = behind.iter().zip(&fresh).enumerate().filter(|(_, (column, _))| **column > 0);
            let furthest = ranked.max_by_key(|(place, (column, fresh))| (**fresh, **column, Reverse(*place)));
            let Some((place, _)) = furthest else { break };
            for one in row.iter_mut().skip(place).take(1) {
                *one += 1;
            }
            for column in behind.iter_mut().skip(place).take(1) {
                *column -= 1;
            }
            for one in fresh.iter_mut().skip(place).take(1) {
                *one = false;
            }
            left -= 1;
        }
    }
    rows.into_iter().map(|row| row.into_iter().map(|units| money_of(units, currency)).collect()).collect()
}

fn units_of(amount: Money) -> u128 {
    amount.amount().mantissa().unsigned_abs()
}

fn money_of(units: u128, currency: Currency) -> Result<Money, Refusal> {
    let units = i128::try_from(units).ok();
    let amount =
        units.and_then(|units| Decimal::try_from_i128_with_scale(units, currency.minor_digits()).ok());
    Ok(Money::exact(amount.ok_or(MoneyFinding::TooLarge)?, currency)?)
}

/// Twice a remainder below it still fits.
const LARGEST_TOTAL: u128 = u128::MAX / 2;

/// The weights as whole numbers in the same proportion: a product of two decimals is rounded at its 28th digit,
/// and a floor of what was rounded up would hand out more than there is.
fn whole_weights(weights: &[Decimal]) -> Result<Vec<u128>, Refusal> {
    if let Some(weight) = weights.iter().copied().find(|weight| *weight < Decimal::ZERO) {
        return Err(SplitFinding::NegativeWeight { weight }.into());
    }
    let weights: Vec<Decimal> = weights.iter().map(Decimal::normalize).collect();
    let scale = weights.iter().map(Decimal::scale).max().unwrap_or_default();
    weights
        .iter()
        .map(|weight| {
            let factor = 10_u128.checked_pow(scale - weight.scale());
            let whole = factor.and_then(|factor| weight.mantissa().unsigned_abs().checked_mul(factor));
            Ok(whole.ok_or(MoneyFinding::TooLarge)?)
        })
        .collect()
}

/// The whole part of `units` times `weight` / `total`, and what remains as a numerator over `total`. The product
/// may need more than 128 bits, so it is built and divided bit by bit.
fn portion_exactly(units: u128, weight: u128, total: u128) -> (u128, u128) {
    let (mut quotient, mut remainder) = (0_u128, 0_u128);
    for bit in (0..u128::BITS - units.leading_zeros()).rev() {
        let set = (units >> bit) & 1 == 1;
        quotient *= 2;
        for added in [remainder, if set { weight } else { 0 }] {
            remainder += added;
            if remainder >= total {
                remainder -= total;
                quotient += 1;
            }
        }
    }
    (quotient, remainder)
}

/// Spreads `amount` by percentages that total 100.
/// # Errors
/// [`SplitFinding::SharesDoNotTotal`], else as [`split_by_largest_remainder`].
pub fn split_by_shares(amount: Money, shares: &[Share]) -> Result<Vec<Money>, Refusal> {
    shares_total(shares)?;
    let weights: Vec<_> = shares.iter().map(|share| share.decimal()).collect();
    split_by_largest_remainder(amount, &weights)
}

/// # Errors
/// [`SplitFinding::SharesDoNotTotal`] unless the shares come to exactly 100.
pub fn shares_total(shares: &[Share]) -> Result<(), SplitFinding> {
    let total: Decimal = shares.iter().map(|share| share.decimal()).sum();
    if total == Decimal::ONE_HUNDRED { Ok(()) } else { Err(SplitFinding::SharesDoNotTotal { total }) }
}
