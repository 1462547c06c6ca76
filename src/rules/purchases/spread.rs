//! Spreading: tax, delivery and discount over the lines, to the cent, and the receipt into the base currency.

use super::super::money::{Exchange, Money};
use super::super::refusal::{At, Findings, Refusal};
use super::super::split::split_by_largest_remainder;
use super::{NewPurchase, PurchaseFinding};

/// The total and each line's full amount, in the base currency; the lines add up to the total.
/// # Errors
/// [`PurchaseFinding::DoesNotAddUp`] at `/total` with both sums; negative or too exact amounts at their place.
pub(super) fn over_lines(exchange: Exchange, new: &NewPurchase) -> Result<(Money, Vec<Money>), Refusal> {
    let currency = exchange.currency;
    let mut findings = Findings::new();
    let total = findings.keep(new.total.not_negative(currency).at("/total"));
    let tax = findings.keep(exchange.part(new.tax).at("/tax"));
    let delivery = findings.keep(exchange.part(new.delivery).at("/delivery"));
    let discount = findings.keep(exchange.part(new.discount).at("/discount"));
    let mut amounts = Vec::with_capacity(new.lines.len());
    for (place, line) in new.lines.iter().enumerate() {
        let amount = line.amount.not_negative(currency).at(&format!("/lines/{place}/amount"));
        amounts.extend(findings.keep(amount));
    }
    findings.or_refuse()?;
    let (Some(total), Some(tax), Some(delivery), Some(discount)) = (total, tax, delivery, discount) else {
        return Ok((Money::zero(exchange.base), Vec::new()));
    };
    let lines = Money::sum(currency, amounts.iter().copied())?;
    let sum = lines.plus(tax)?.plus(delivery)?.minus(discount)?;
    if sum != total {
        let finding = PurchaseFinding::DoesNotAddUp { lines, tax, delivery, discount, sum, total };
        return Err(Refusal::new("/total", finding));
    }
    let full = with_shares(&amounts, &[tax, delivery, discount.negated()])?;
    let base_total = exchange.in_base(total)?;
    if base_total.is_zero() {
        return Ok((base_total, full.iter().map(|_| base_total).collect()));
    }
    let weights: Vec<_> = full.iter().map(|amount| amount.amount()).collect();
    Ok((base_total, split_by_largest_remainder(base_total, &weights)?))
}

fn with_shares(amounts: &[Money], extras: &[Money]) -> Result<Vec<Money>, Refusal> {
    let mut full = amounts.to_vec();
    let weights: Vec<_> = amounts.iter().map(|amount| amount.amount()).collect();
    for extra in extras.iter().filter(|extra| !extra.is_zero()) {
        if weights.iter().all(rust_decimal::Decimal::is_zero) {
            return Err(Refusal::new("/lines", PurchaseFinding::NothingToSpreadOver));
        }
        for (line, share) in full.iter_mut().zip(split_by_largest_remainder(*extra, &weights)?) {
            *line = line.plus(share)?;
        }
    }
    if full.iter().any(|line| line.is_negative()) {
        return Err(Refusal::new("/discount", PurchaseFinding::DiscountTakesAll));
    }
    Ok(full)
}
