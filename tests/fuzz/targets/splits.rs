//! Whatever is split adds up to what was split.
#![no_main]

use ledgerboard::rules::money::{Currency, Money};
use ledgerboard::rules::split::split_by_largest_remainder;
use libfuzzer_sys::fuzz_target;
use rust_decimal::Decimal;

fuzz_target!(|sent: (i64, u8, Vec<(i64, u8)>)| {
    let (units, which, weights) = sent;
    let codes = ["USD", "JPY", "KWD", "CLF"];
    let currency = Currency::find(codes[usize::from(which) % codes.len()]).unwrap();
    let Ok(amount) = Money::exact(Decimal::new(units, currency.minor_digits()), currency) else { return };
    let weights: Vec<Decimal> =
        weights.iter().map(|(weight, scale)| Decimal::new(*weight, u32::from(*scale % 28))).collect();
    let Ok(parts) = split_by_largest_remainder(amount, &weights) else { return };
    assert_eq!(parts.len(), weights.len());
    assert_eq!(Money::sum(currency, parts.iter().copied()).unwrap(), amount);
    for (part, weight) in parts.iter().zip(&weights) {
        assert!(part.is_zero() || part.is_negative() == amount.is_negative());
        assert!(!weight.is_zero() || part.is_zero(), "nothing goes to a weight of zero");
    }
});
