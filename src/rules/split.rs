//! Splitting: whatever is split adds up to what was split, to the last minor unit.

use rust_decimal::Decimal;

use super::money::{Money, MoneyFinding, Share};
use super::refusal::{Explain, Refusal, Said};

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
/// [`SplitFinding::NoWeight`] if the weights are empty or sum to zero, [`SplitFinding::NegativeWeight`].
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
    if let Some(weight) = weights.iter().copied().find(|weight| *weight < Decimal::ZERO) {
        return Err(SplitFinding::NegativeWeight { weight }.into());
    }
    let mut total = Decimal::ZERO;
    for weight in weights {
        total = total.checked_add(*weight).ok_or(MoneyFinding::TooLarge)?;
    }
    if total.is_zero() {
        return Err(SplitFinding::NoWeight.into());
    }
    let unit = amount.currency().minor_unit();
    let whole = amount.absolute().amount();
    let mut floors = Vec::with_capacity(weights.len());
    let mut remainders = Vec::with_capacity(weights.len());
    let mut left = whole;
    for (place, weight) in weights.iter().enumerate() {
        let exact = whole
            .checked_mul(*weight)
            .and_then(|product| product.checked_div(total))
            .ok_or(MoneyFinding::TooLarge)?;
        let floor = exact.trunc_with_scale(amount.currency().minor_digits());
        left = left.checked_sub(floor).ok_or(MoneyFinding::TooLarge)?;
        floors.push(floor);
        remainders.push((exact - floor, place));
    }
    remainders.sort_by(|(one, earlier), (other, later)| other.cmp(one).then(earlier.cmp(later)));
    for (_, place) in remainders {
        if left < unit {
            break;
        }
        if let Some(floor) = floors.get_mut(place) {
            *floor += unit;
            left -= unit;
        }
    }
    floors
        .into_iter()
        .map(|part| {
            let part = Money::exact(part, amount.currency())?;
            Ok(if amount.is_negative() { part.negated() } else { part })
        })
        .collect()
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
