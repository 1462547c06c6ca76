//! How many have to be sold.

use serde_json::json;

use super::super::{BreakEven, BreakEvenAsked, break_even};
use crate::rules::refusal::Refusal;
use crate::rules::trial::{asked, findings, usd};

fn of(price: &str, variable: &str, fixed: &str, target: Option<&str>) -> Result<BreakEven, Refusal> {
    let mut body = json!({ "price": price, "variable_cost": variable, "fixed_cost": fixed });
    if let Some(target) = target {
        body["target_profit"] = json!(target);
    }
    let asked: BreakEvenAsked = asked(body);
    break_even(&asked, usd())
}

fn figures(found: &BreakEven) -> [String; 5] {
    [
        found.contribution.to_string(),
        found.ratio_percent.to_string(),
        found.units.to_string(),
        found.revenue.to_string(),
        found.revenue_at_units.to_string(),
    ]
}

// An open textbook of managerial accounting, ch. 7.2, break-even analysis (inputs seen).
#[test]
fn a_third_of_a_unit_more_than_133_is_134_units_to_sell() {
    let found = of("400.00", "250.00", "20000.00", None).unwrap();
    assert_eq!(figures(&found), ["150.00", "37.5", "134", "53333.33", "53600.00"]);
    assert_eq!(found.profit_at_units.to_string(), "100.00");
}

// Principles of Managerial Accounting, ch. 3.2 (from memory).
#[test]
fn at_225_units_nothing_is_lost_and_at_425_the_target_is_reached() {
    let found = of("100.00", "20.00", "18000.00", None).unwrap();
    assert_eq!(figures(&found), ["80.00", "80", "225", "22500.00", "22500.00"]);
    let found = of("100.00", "20.00", "18000.00", Some("16000.00")).unwrap();
    assert_eq!(figures(&found), ["80.00", "80", "425", "42500.00", "42500.00"]);
    assert_eq!(found.profit_at_units.to_string(), "16000.00");
    assert_eq!(found.notes[1], "16000.00 should be left beyond the costs; 16000.00 is.");
}

// A public answer page (inputs seen there); its 25,678 comes from a ratio that was rounded first.
#[test]
fn the_ratio_is_not_rounded_on_the_way_to_the_revenue() {
    let found = of("30.00", "14.50", "13268.00", None).unwrap();
    assert_eq!(figures(&found), ["15.50", "51.666667", "856", "25680.00", "25680.00"]);
}

// A public answer page (inputs seen there).
#[test]
fn a_bulk_of_fixed_costs_is_earned_by_1500_units() {
    assert_eq!(of("600.00", "420.00", "270000.00", None).unwrap().units.to_string(), "1500");
}

// Derived.
#[test]
fn a_price_that_leaves_nothing_has_no_break_even() {
    for (price, variable) in [("20.00", "20.00"), ("19.99", "20.00"), ("0.00", "0.00")] {
        let said = findings(of(price, variable, "100.00", None));
        assert_eq!(
            said,
            [format!(
                "/price: each sells for {price} and costs {variable}, so no number of them pays the fixed costs"
            )]
        );
    }
    assert_eq!(of("20.00", "5.00", "0.00", None).unwrap().units.to_string(), "0");
    let all = of("-1.00", "5.001", "-100.00", Some("-1.00")).unwrap_err();
    let pointers: Vec<_> = all.findings().map(|one| one.pointer.as_str()).collect();
    assert_eq!(pointers, ["/price", "/variable_cost", "/fixed_cost", "/target_profit"]);
}

// Arithmetic: large amounts, a cent beyond a whole number of units and a cent before.
#[test]
fn a_cent_more_than_a_whole_number_of_units_pays_takes_one_more_even_of_large_sums() {
    let units =
        |fixed: &str, contribution: &str| of(contribution, "0.00", fixed, None).unwrap().units.to_string();
    let most = "9999999999.99";
    assert_eq!((units(most, most), units(most, "9999999999.98")), ("1".to_owned(), "2".to_owned()));
    assert_eq!(units("9999999999.98", most), "1");
    assert_eq!(units("6000000000.01", "2000000000.00"), "4");
    assert_eq!(units("6000000000.00", "2000000000.00"), "3");
    assert_eq!(units(most, "0.01"), "999999999999");
}

proptest::proptest! {
    #[test]
    fn one_unit_fewer_would_not_pay_and_that_many_do(
        price in 1..9_999_999_i64, variable in 0..9_999_999_i64, fixed in 0..99_999_999_999_i64,
    ) {
        proptest::prop_assume!(price > variable);
        let text = |cents: i64| rust_decimal::Decimal::new(cents, 2).to_string();
        let found = of(&text(price), &text(variable), &text(fixed), None).unwrap();
        proptest::prop_assert!(!found.profit_at_units.is_negative());
        let fewer = found.profit_at_units.minus(found.contribution).unwrap();
        proptest::prop_assert!(fewer.is_negative() || found.units.is_zero());
    }
}
