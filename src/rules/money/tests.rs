use std::collections::BTreeSet;

use chrono::NaiveDate;
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::{
    Amount, Currency, Exchange, Hours, MinorUnits, Money, MoneyFinding, Quantity, Rate, Share, parse_decimal,
};

fn usd(text: &str) -> Money {
    exact(text, "USD").unwrap()
}

fn exact(text: &str, code: &str) -> Result<Money, MoneyFinding> {
    Money::exact(text.parse().unwrap(), Currency::find(code).unwrap())
}

fn current_with(minor: MinorUnits) -> BTreeSet<&'static str> {
    let current = Currency::listed().filter(|(_, _, withdrawn)| withdrawn.is_none());
    current.filter(|(_, units, _)| *units == minor).map(|(code, ..)| code).collect()
}

fn codes(text: &str) -> BTreeSet<&str> {
    text.split(' ').collect()
}

// ISO 4217 list one of 2026-01-01 (seen): which codes have 0, 3, 4 and no minor units, and how many there are.
#[test]
fn the_currencies_are_those_of_list_one_with_its_minor_units() {
    let none = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF";
    assert_eq!(current_with(MinorUnits::Digits(0)), codes(none));
    assert_eq!(current_with(MinorUnits::Digits(3)), codes("BHD IQD JOD KWD LYD OMR TND"));
    assert_eq!(current_with(MinorUnits::Digits(4)), codes("CLF UYW"));
    let not_paid_in = "XAG XAU XBA XBB XBC XBD XDR XPD XPT XSU XTS XUA XXX";
    assert_eq!(current_with(MinorUnits::None), codes(not_paid_in));
    assert_eq!(current_with(MinorUnits::Digits(2)).len(), 139);
    let all: BTreeSet<_> = Currency::listed().map(|(code, ..)| code).collect();
    assert_eq!(all.len(), Currency::listed().count(), "no code stands twice");
    assert_eq!(Currency::listed().filter(|(_, _, withdrawn)| withdrawn.is_none()).count(), 178);
}

// ISO 4217 list one of 2026-01-01 (seen; AUD from memory).
#[test]
fn a_currency_keeps_the_leading_zeros_of_its_number() {
    let pairs = [
        ("USD", "840"),
        ("GBP", "826"),
        ("CAD", "124"),
        ("EUR", "978"),
        ("JPY", "392"),
        ("KWD", "414"),
        ("AUD", "036"),
    ];
    for (code, number) in pairs {
        assert_eq!(Currency::find(code).unwrap().number(), number);
    }
}

// ISO 4217 list one of 2026-01-01 (seen): the lev is gone, XCG and ZWG are there. Withdrawal dates from memory.
#[test]
fn a_withdrawn_currency_is_good_for_old_dates_only() {
    let day = |year, month, day| NaiveDate::from_ymd_opt(year, month, day).unwrap();
    assert!(Currency::find_on("BGN", day(2025, 12, 31)).is_ok());
    let end = day(2026, 1, 1);
    assert_eq!(Currency::find_on("BGN", end), Err(MoneyFinding::Withdrawn { code: "BGN", end }));
    assert!(Currency::find_on("HRK", day(2022, 12, 31)).is_ok());
    assert!(Currency::find_on("HRK", day(2023, 1, 1)).is_err());
    // The first twelve euro countries' money went out of use on the last day of February 2002.
    for code in ["ATS", "BEF", "DEM", "ESP", "FIM", "FRF", "GRD", "IEP", "ITL", "LUF", "NLG", "PTE"] {
        assert!(Currency::find_on(code, day(2002, 2, 28)).is_ok(), "{code}");
        assert!(Currency::find_on(code, day(2002, 3, 1)).is_err(), "{code}");
    }
    assert!(Currency::listed().filter(|(_, _, withdrawn)| withdrawn.is_some()).count() >= 30);
    assert!(Currency::find("XCG").is_ok() && Currency::find("ZWG").is_ok());
    for code in ["XAU", "XXX", "XTS", "usd", "US", "", "QQQ"] {
        assert!(Currency::find(code).is_err(), "{code}");
    }
}

// ISO 4217 minor units (seen); that the ariary and the ouguiya have 2 though their subunit is a fifth: seen.
#[test]
fn digits_beyond_the_minor_unit_are_refused_and_never_rounded() {
    for (text, code, kept) in [
        ("12", "JPY", "12"),
        ("12.00", "JPY", "12"),
        ("1.234", "KWD", "1.234"),
        ("1.2345", "CLF", "1.2345"),
        ("1.5", "USD", "1.50"),
        ("1.20", "MGA", "1.20"),
        ("1.20", "MRU", "1.20"),
        ("5", "UYI", "5"),
        ("5", "UYW", "5.0000"),
    ] {
        assert_eq!(exact(text, code).unwrap().to_string(), kept, "{text} {code}");
    }
    for (text, code) in
        [("12.345", "USD"), ("12.5", "JPY"), ("1.2345", "KWD"), ("0.00001", "CLF"), ("0.5", "CLP")]
    {
        assert!(matches!(exact(text, code), Err(MoneyFinding::TooManyDecimals { .. })), "{text} {code}");
    }
}

// The grammar is ours: RFC 8259 numbers less the exponent, as text. What is refused here was once seen accepted
// or rounded by a decimal library.
#[test]
fn money_on_the_wire_is_plain_decimal_text() {
    for good in ["0", "0.0", "1", "41.10", "-41.10", "999999999999999.9999", "0.0001"] {
        assert!(Amount::parse(good).is_some(), "{good}");
    }
    let wrong = [
        "",
        " ",
        "-",
        ".",
        "1_000",
        "1,000",
        "+1",
        "1.",
        ".5",
        "-.5",
        "1e3",
        "1E3",
        " 1",
        "1 ",
        "01",
        "-01",
        "-0",
        "-0.00",
        "-0.0000",
        "00",
        "--1",
        "1.2.3",
        "NaN",
        "nan",
        "inf",
        "Infinity",
        "0x1",
        "1.23456",
        "１",
        "1\n",
        "1000000000000000",
        "12345678901234567890123456789012345",
        "0.12345678901234567890123456789012345",
    ];
    for wrong in wrong {
        assert_eq!(Amount::parse(wrong), None, "{wrong:?}");
    }
}

#[test]
fn a_zero_that_is_computed_has_no_minus() {
    assert!(Amount::parse("-0.01").is_some(), "the control: a minus before more than zero is fine");
    assert_eq!(usd("0.00").negated().to_string(), "0.00");
    let nothing = Money::rounded("-0.004".parse().unwrap(), Currency::find("USD").unwrap()).unwrap();
    assert_eq!(nothing.to_string(), "0.00");
}

#[test]
fn a_json_number_is_refused_where_money_belongs() {
    for wrong in ["41.10", "41", "null", "true", "[\"41.10\"]", "\"41,10\""] {
        assert!(serde_json::from_str::<Amount>(wrong).is_err(), "{wrong}");
    }
    let amount: Amount = serde_json::from_str("\"41.10\"").unwrap();
    assert_eq!(serde_json::to_string(&amount).unwrap(), "\"41.10\"");
    assert_eq!(serde_json::to_string(&usd("41.1")).unwrap(), "\"41.10\"");
}

#[test]
fn each_kind_of_figure_has_its_own_scale() {
    assert!(Quantity::parse("1.715625").is_some() && Quantity::parse("1.7156251").is_none());
    assert!(
        Rate::parse("0.725").is_some()
            && Hours::parse("7.2501").is_some()
            && Hours::parse("7.25011").is_none()
    );
    assert!(Share::parse("62.5").is_some() && Share::parse("62.50001").is_none());
    assert_eq!(Hours::of(Decimal::new(72500, 4)).unwrap().to_string(), "7.25");
    assert_eq!(Hours::of(Decimal::new(1, 9)), None);
}

// Common practice, no source: half up, away from zero for amounts below it.
#[test]
fn money_is_rounded_half_up_and_away_from_zero() {
    let dollars = Currency::find("USD").unwrap();
    for (from, to) in
        [("0.005", "0.01"), ("0.0049", "0.00"), ("-0.005", "-0.01"), ("10.875", "10.88"), ("2.665", "2.67")]
    {
        assert_eq!(Money::rounded(from.parse().unwrap(), dollars).unwrap().to_string(), to);
    }
    assert_eq!(usd("100.00").portion(Decimal::ONE, Decimal::from(3)).unwrap().to_string(), "33.33");
    assert_eq!(usd("0.50").whole_units(), Decimal::ONE);
}

#[test]
fn an_amount_of_ten_to_the_fifteenth_is_refused_and_one_cent_less_is_kept() {
    let most = usd("999999999999999.99");
    assert_eq!(most.plus(usd("0.01")), Err(MoneyFinding::TooLarge));
    assert_eq!(most.negated().minus(usd("0.01")), Err(MoneyFinding::TooLarge));
    assert!(exact("1000000000000000", "USD").is_err());
    assert_eq!(most.times(Decimal::MAX), Err(MoneyFinding::TooLarge));
    assert_eq!(most.portion(Decimal::ONE, Decimal::ZERO), Err(MoneyFinding::DividedByZero));
}

#[test]
fn two_currencies_do_not_add() {
    let yen = exact("1", "JPY").unwrap();
    assert!(matches!(usd("1.00").plus(yen), Err(MoneyFinding::TwoCurrencies { .. })));
}

// Reference rates of the European Central Bank for 2025-04-04 and 2024-12-31 (seen); the cross rate is cut to six
// decimals as the books keep it, which moves none of these results.
#[test]
fn a_foreign_record_reaches_the_base_currency_at_its_rate_and_is_rounded_once() {
    let converted = |amount: &str, own: &str, base: &str, rate: &str| {
        let base = Currency::find(base).unwrap();
        let exchange = Exchange::of(Currency::find(own).ok(), Rate::parse(rate), base).unwrap();
        exchange.base_of(Amount::parse(amount).unwrap()).unwrap().to_string()
    };
    assert_eq!(converted("100.00", "USD", "CAD", "1.419553"), "141.96");
    assert_eq!(converted("250.00", "GBP", "USD", "1.252925"), "313.23");
    assert_eq!(converted("12.34", "EUR", "JPY", "163.06"), "2012");
}

#[test]
fn a_rate_is_asked_for_exactly_where_the_record_is_foreign() {
    let dollars = Currency::find("USD").unwrap();
    let euro = Currency::find("EUR").ok();
    assert!(Exchange::of(None, None, dollars).is_ok());
    assert!(Exchange::of(euro, Rate::parse("1.085"), dollars).is_ok());
    for (currency, rate) in [(euro, None), (None, Rate::parse("1.085")), (euro, Rate::parse("0"))] {
        let refusal = Exchange::of(currency, rate, dollars).unwrap_err();
        assert_eq!(refusal.findings().next().unwrap().pointer, "/rate");
    }
}

proptest! {
    #[test]
    fn every_amount_survives_the_wire(units in any::<i64>(), scale in 0_u32..=4) {
        let value = Decimal::new(units / 10_000, scale);
        let text = serde_json::to_string(&Amount::of(value).unwrap()).unwrap();
        let back: Amount = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(back.decimal(), value);
    }

    #[test]
    fn no_text_makes_the_parser_fail_or_keep_more_digits_than_it_may(text in "[-+0-9._eE ]{0,30}", scale in 0_usize..7) {
        if let Some(value) = parse_decimal(&text, scale) {
            prop_assert!(usize::try_from(value.scale()).unwrap() <= scale);
            prop_assert!(value.abs() < Decimal::from(10_i64.pow(15)));
            if !value.is_zero() {
                prop_assert_eq!(value.to_string(), text);
            }
        }
    }
}

#[test]
fn a_sum_is_shown_to_the_developer_with_its_currency() {
    assert_eq!(format!("{:?}", usd("85.00")), "85.00 USD");
    assert_eq!(format!("{:?}", exact("-7", "JPY").unwrap()), "-7 JPY");
}
