//! How a material's cost leaves with its quantity: by layer, first in first out, or by average.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::super::money::{Currency, Money, MoneyFinding};
use super::super::recording::MaterialsFlow;
use super::super::refusal::{Explain, Refusal, Said};
use super::super::split::split_by_largest_remainder;

/// Quantities are kept to six decimals.
const QUANTITY_DIGITS: u32 = 6;

/// A quantity with its cost: what a lot still holds, or what leaves it. No unit cost is ever kept: rounding
/// one drifts from the ledger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layer {
    pub quantity: Decimal,
    pub cost: Money,
}

/// What a period's issues cost and what is left at its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Periodic {
    pub issued: Money,
    pub closing: Money,
}

/// Why nothing can be drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum FlowFinding {
    MoreThanThere { asked: Decimal, there: Decimal },
}

impl Explain for FlowFinding {
    fn say(&self) -> Said {
        match self {
            Self::MoreThanThere { asked, there } => Said::invalid(
                format!("{} is asked for, and {} is there", asked.normalize(), there.normalize()),
                "correct the quantity or give a later day; stock never goes below zero on any day",
            ),
        }
    }
}

impl Layer {
    pub fn none(base: Currency) -> Self {
        Self { quantity: Decimal::ZERO, cost: Money::zero(base) }
    }

    /// # Errors
    /// As [`Money::plus`]; [`MoneyFinding::TooLarge`] for a quantity beyond what the books hold.
    pub fn plus(self, other: Self) -> Result<Self, MoneyFinding> {
        let quantity = self.quantity.checked_add(other.quantity).ok_or(MoneyFinding::TooLarge)?;
        Ok(Self { quantity, cost: self.cost.plus(other.cost)? })
    }

    pub fn negated(self) -> Self {
        Self { quantity: -self.quantity, cost: self.cost.negated() }
    }

    /// `quantity` of it with cost × `quantity` / quantity there, rounded half up to the minor unit once; the
    /// last of it takes whatever cost is left.
    /// # Errors
    /// [`FlowFinding::MoreThanThere`].
    pub fn part(self, quantity: Decimal) -> Result<Self, Refusal> {
        if quantity > self.quantity {
            return Err(FlowFinding::MoreThanThere { asked: quantity, there: self.quantity }.into());
        }
        let cost = if quantity.is_zero() {
            Money::zero(self.cost.currency())
        } else if quantity == self.quantity {
            self.cost
        } else {
            self.cost.portion(quantity, self.quantity)?
        };
        Ok(Self { quantity, cost })
    }
}

/// What stands on `date` and is not taken by anything dated later: the least of the balances from that day
/// on. `changes` are added to `start` in order of their dates, ties in the order given.
/// # Errors
/// As [`Layer::plus`].
pub fn least_from(
    start: Layer,
    changes: &[(NaiveDate, Layer)],
    date: NaiveDate,
) -> Result<Layer, MoneyFinding> {
    let mut by_date = changes.to_vec();
    by_date.sort_by_key(|(day, _)| *day);
    let mut balance = start;
    let mut later = by_date.into_iter().peekable();
    while let Some((_, change)) = later.next_if(|(day, _)| *day <= date) {
        balance = balance.plus(change)?;
    }
    let mut least = balance;
    for (_, change) in later {
        balance = balance.plus(change)?;
        least.quantity = least.quantity.min(balance.quantity);
        least.cost = least.cost.at_most(balance.cost);
    }
    // The least cost can be of an earlier day than the least quantity, where what came back in between cost more.
    // Whoever took all of the quantity then would leave cost behind with nothing to carry it: the last of it waits
    // for a later day.
    if least.quantity == balance.quantity && least.cost != balance.cost {
        least.quantity -= Decimal::new(1, QUANTITY_DIGITS);
    }
    Ok(least)
}

/// Draws `quantity` from `layers`, one part a layer in the same order.
///
/// First in, first out empties the layers as they are given. The average draws from every layer: quantities
/// in proportion (largest remainder at six decimals), the cost once as total cost × quantity / total
/// quantity rounded half up, then shared over the layers by their cost. Whatever empties a layer takes all
/// of its cost.
/// # Errors
/// [`FlowFinding::MoreThanThere`] with both figures.
/// # Source
/// Open introductory accounting textbooks, chapter on inventory (from memory); the proportional draw is ours.
pub fn draw(
    flow: MaterialsFlow,
    layers: &[Layer],
    quantity: Decimal,
    base: Currency,
) -> Result<Vec<Layer>, Refusal> {
    let there = layers.iter().try_fold(Layer::none(base), |sum, layer| sum.plus(*layer))?;
    if quantity > there.quantity {
        return Err(FlowFinding::MoreThanThere { asked: quantity, there: there.quantity }.into());
    }
    match flow {
        MaterialsFlow::Fifo => draw_first_in_first_out(layers, quantity),
        MaterialsFlow::MovingAverage => draw_in_proportion(layers, there, quantity),
    }
}

/// What `quantity` issued over a whole period cost, and what the rest costs, with every layer of the period
/// counted as if it had been there from the start. First in, first out gives what issues one by one give;
/// the average is the period's weighted average, which the moving average is not.
/// # Errors
/// As [`draw`].
/// # Source
/// Open introductory accounting textbooks, chapter on inventory (figures seen in a page copying one).
pub fn periodic(
    flow: MaterialsFlow,
    layers: &[Layer],
    quantity: Decimal,
    base: Currency,
) -> Result<Periodic, Refusal> {
    let issued = Money::sum(base, draw(flow, layers, quantity, base)?.iter().map(|part| part.cost))?;
    let all = Money::sum(base, layers.iter().map(|layer| layer.cost))?;
    Ok(Periodic { issued, closing: all.minus(issued)? })
}

fn draw_first_in_first_out(layers: &[Layer], quantity: Decimal) -> Result<Vec<Layer>, Refusal> {
    let mut left = quantity;
    let mut parts = Vec::with_capacity(layers.len());
    for layer in layers {
        let part = layer.part(left.min(layer.quantity))?;
        left -= part.quantity;
        parts.push(part);
    }
    Ok(parts)
}

fn draw_in_proportion(layers: &[Layer], there: Layer, quantity: Decimal) -> Result<Vec<Layer>, Refusal> {
    let whole = there.part(quantity)?;
    let weights: Vec<_> = layers.iter().map(|layer| layer.quantity).collect();
    let quantities = split_quantity(quantity, &weights)?;
    // An emptied layer gives all its cost, or some would stay behind with nothing to carry it.
    let emptied = |layer: &Layer, taken: Decimal| taken == layer.quantity;
    let mut left = whole.cost;
    let mut by_cost = Vec::with_capacity(layers.len());
    for (layer, taken) in layers.iter().zip(&quantities) {
        if emptied(layer, *taken) {
            left = left.minus(layer.cost)?;
            by_cost.push(Decimal::ZERO);
        } else {
            by_cost.push(layer.cost.amount());
        }
    }
    let shared = if left.is_positive() && by_cost.iter().any(|weight| !weight.is_zero()) {
        split_by_largest_remainder(left, &by_cost)?
    } else {
        vec![Money::zero(there.cost.currency()); layers.len()]
    };
    let parts = layers.iter().zip(quantities).zip(shared);
    Ok(parts
        .map(|((layer, quantity), shared)| {
            let cost = if emptied(layer, quantity) { layer.cost } else { shared };
            Layer { quantity, cost }
        })
        .collect())
}

/// Splits a quantity by weights at six decimals: largest remainder, ties to the earlier.
/// # Errors
/// [`MoneyFinding::TooLarge`] where the product of quantity and weight leaves the decimal's range.
pub fn split_quantity(quantity: Decimal, weights: &[Decimal]) -> Result<Vec<Decimal>, MoneyFinding> {
    let unit = Decimal::new(1, QUANTITY_DIGITS);
    let mut total = Decimal::ZERO;
    for weight in weights {
        total = total.checked_add(*weight).ok_or(MoneyFinding::TooLarge)?;
    }
    if total.is_zero() {
        return Ok(vec![Decimal::ZERO; weights.len()]);
    }
    let mut left = quantity;
    let mut parts = Vec::with_capacity(weights.len());
    let mut remainders = Vec::with_capacity(weights.len());
    for (place, weight) in weights.iter().enumerate() {
        let exact = quantity
            .checked_mul(*weight)
            .and_then(|product| product.checked_div(total))
            .ok_or(MoneyFinding::TooLarge)?;
        let floor = exact.trunc_with_scale(QUANTITY_DIGITS);
        left -= floor;
        parts.push(floor);
        remainders.push((exact - floor, place));
    }
    remainders.sort_by(|(one, earlier), (other, later)| other.cmp(one).then(earlier.cmp(later)));
    for (_, place) in remainders {
        if left < unit {
            break;
        }
        if let Some(part) = parts.get_mut(place) {
            *part += unit;
            left -= unit;
        }
    }
    // Past 28 digits a product is no longer exact: refuse rather than lose a piece of the quantity.
    if left.is_zero() { Ok(parts) } else { Err(MoneyFinding::TooLarge) }
}
