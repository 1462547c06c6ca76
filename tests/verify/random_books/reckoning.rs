//! The arithmetic of the trade in whole numbers, written anew for these tests: cents, millionths of a unit, and one
//! rounding half up.

use serde_json::Value;

/// A decimal in text as a whole number of its `digits`-th decimals.
fn scaled(text: &str, digits: usize) -> i128 {
    let (negative, text) = text.strip_prefix('-').map_or((false, text), |rest| (true, rest));
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    assert!(rest.trim_end_matches('0').len() <= digits, "{text} has more than {digits} decimals");
    let rest = rest.get(..digits).unwrap_or(rest);
    let number: i128 = format!("{whole}{rest:0<digits$}").parse().unwrap();
    if negative { -number } else { number }
}

/// An amount that is left out is nothing.
pub(super) fn cents(amount: &Value) -> i64 {
    amount.as_str().map_or(0, |text| i64::try_from(scaled(text, 2)).unwrap())
}

/// A quantity, a share or a rate.
pub(super) fn millionths(number: &Value) -> i128 {
    scaled(number.as_str().unwrap(), 6)
}

/// `over` / `under`, to the nearest whole number, halves away from zero.
pub(super) fn half_up(over: i128, under: i128) -> i64 {
    let rounded = (2 * over.abs() + under) / (2 * under);
    i64::try_from(if over < 0 { -rounded } else { rounded }).unwrap()
}

/// What `name` says in a body, in the currency of the books: at the body's rate where it has one.
pub(super) fn in_base(body: &Value, name: &str) -> i64 {
    at_rate(cents(&body[name]), &body["rate"])
}

pub(super) fn at_rate(own: i64, rate: &Value) -> i64 {
    if rate.is_null() { own } else { half_up(i128::from(own) * millionths(rate), 1_000_000) }
}

/// Parts of `total` in proportion; what the floors leave goes to the largest remainders, ties to the earlier.
pub(super) fn shared(total: i128, weights: &[i128]) -> Vec<i128> {
    let whole: i128 = weights.iter().sum();
    let mut parts: Vec<i128> = weights.iter().map(|weight| total * weight / whole).collect();
    let mut by_remainder: Vec<usize> = (0..weights.len()).collect();
    by_remainder.sort_by_key(|place| std::cmp::Reverse(total * weights[*place] % whole));
    let left = usize::try_from(total - parts.iter().sum::<i128>()).unwrap();
    for place in by_remainder.into_iter().take(left) {
        parts[place] += 1;
    }
    parts
}

pub(super) fn shared_cents(total: i64, weights: &[i64]) -> Vec<i64> {
    let weights: Vec<i128> = weights.iter().map(|one| i128::from(*one)).collect();
    shared(i128::from(total), &weights).into_iter().map(|part| i64::try_from(part).unwrap()).collect()
}

/// What each line of a receipt costs in the end: tax, delivery and discount are each spread over the lines by their
/// amounts, then the total in the books' currency over the lines.
pub(super) fn lines_of(receipt: &Value, rate: &Value) -> Vec<i64> {
    // The dinar has three decimals: it is shared out in thousandths.
    let smallest = if receipt["currency"] == "KWD" { 10 } else { 1 };
    let own = |amount: &Value| cents(amount) * smallest;
    let lines: Vec<i64> =
        receipt["lines"].as_array().unwrap().iter().map(|line| own(&line["amount"])).collect();
    let mut full = lines.clone();
    for (extra, sign) in [("tax", 1), ("delivery", 1), ("discount", -1)] {
        for (line, part) in full.iter_mut().zip(shared_cents(own(&receipt[extra]), &lines)) {
            *line += sign * part;
        }
    }
    let total = at_rate(cents(&receipt["total"]), rate);
    if total == 0 { full.iter().map(|_| 0).collect() } else { shared_cents(total, &full) }
}
