//! Any text may be sent as an amount, a rate, a share: it is read to the last digit or refused, never a panic.
#![no_main]

use ledgerboard::rules::money::{Amount, Currency, Hours, Quantity, Rate, Share};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|sent: (&str, &str)| {
    let (text, code) = sent;
    let currency = Currency::find(code).unwrap_or_else(|_| Currency::find("USD").unwrap());
    if let Some(amount) = Amount::parse(text) {
        if let Ok(money) = amount.money(currency) {
            assert_eq!(money.amount().scale(), currency.minor_digits());
            assert_eq!(money.amount(), amount.decimal());
            assert_eq!(money.negated().negated(), money);
            let _ = money.plus(money);
            let _ = money.times(amount.decimal());
            let _ = money.portion(amount.decimal(), amount.decimal());
            let _ = money.whole_units();
        }
        let _ = amount.positive(currency);
        let _ = amount.not_negative(currency);
    }
    let _ = (Quantity::parse(text), Rate::parse(text), Share::parse(text), Hours::parse(text));
    let quoted = serde_json::Value::String(text.to_owned());
    let _ = serde_json::from_value::<Amount>(quoted.clone());
    let _ = serde_json::from_value::<Currency>(quoted);
});
