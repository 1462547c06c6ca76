use proptest::prelude::*;
use rust_decimal::Decimal;

use super::super::money::{Currency, Money, Share};
use super::super::refusal::Standing;
use super::{split_by_largest_remainder, split_by_shares, split_each_by_weights};

fn money(text: &str, code: &str) -> Money {
    Money::exact(text.parse().unwrap(), Currency::find(code).unwrap()).unwrap()
}

fn weights(texts: &[&str]) -> Vec<Decimal> {
    texts.iter().map(|text| text.parse().unwrap()).collect()
}

fn split(amount: &str, by: &[&str]) -> Vec<String> {
    let parts = split_by_largest_remainder(money(amount, "USD"), &weights(by)).unwrap();
    parts.iter().map(Money::to_string).collect()
}

// Largest remainder, ties to the earlier: common practice, no source; the figures were worked out in exact
// arithmetic by another program.
#[test]
fn what_does_not_divide_goes_to_the_largest_remainder_and_then_to_the_earlier() {
    assert_eq!(split("100.00", &["1", "1", "1"]), ["33.34", "33.33", "33.33"]);
    assert_eq!(split("0.05", &["1", "1"]), ["0.03", "0.02"]);
    assert_eq!(split("1000.00", &["45", "30", "20", "5"]), ["450.00", "300.00", "200.00", "50.00"]);
    assert_eq!(split("189.97", &["12.5", "7.25", "3"]), ["104.38", "60.54", "25.05"]);
    assert_eq!(split("87.43", &["3", "3", "3", "1"]), ["26.23", "26.23", "26.23", "8.74"]);
    assert_eq!(split("10.00", &["1"; 7]), ["1.43", "1.43", "1.43", "1.43", "1.43", "1.43", "1.42"]);
    assert_eq!(split("-0.05", &["1", "1"]), ["-0.03", "-0.02"]);
    assert_eq!(split("0.01", &["0", "1", "0"]), ["0.00", "0.01", "0.00"]);
    assert_eq!(split("0.00", &["2", "1"]), ["0.00", "0.00"]);
}

// Derived, standard joint-cost arithmetic; no source.
#[test]
fn one_shoot_day_feeds_two_episodes_and_three_shorts() {
    assert_eq!(split("300.00", &["4", "4", "1", "1", "1"]), ["109.09", "109.09", "27.28", "27.27", "27.27"]);
}

// Derived, standard arithmetic; no source.
#[test]
fn freight_goes_over_two_lots_by_value_or_by_quantity() {
    assert_eq!(split("24.00", &["150.00", "150.00"]), ["12.00", "12.00"]);
    assert_eq!(split("24.00", &["100", "50"]), ["16.00", "8.00"]);
}

// Derived, standard joint-cost arithmetic; no source.
#[test]
fn a_salvaged_dresser_that_becomes_two_pieces_is_split_by_worth_or_by_board_feet() {
    assert_eq!(split("540.00", &["1200", "600"]), ["360.00", "180.00"]);
    assert_eq!(split("540.00", &["18", "27"]), ["216.00", "324.00"]);
}

// Principles of Managerial Accounting, ch. 4 (disposing of under-applied overhead), from memory; figures derived.
#[test]
fn overhead_that_was_not_applied_goes_to_work_in_progress_unsold_and_sold_by_their_balances() {
    assert_eq!(split("174.00", &["1500.00", "2500.00", "6000.00"]), ["26.10", "43.50", "104.40"]);
}

// A public question page on joint costs (inputs seen there): by the values at the split-off.
#[test]
fn a_joint_cost_is_split_by_what_each_product_is_worth_as_they_part() {
    assert_eq!(split("1500.00", &["2000.00", "3000.00"]), ["600.00", "900.00"]);
}

// Derived.
#[test]
fn a_cost_spread_over_three_years_by_20_30_and_50_in_a_hundred() {
    let shares: Vec<Share> = ["20", "30", "50"].iter().map(|text| Share::parse(text).unwrap()).collect();
    let parts = split_by_shares(money("10800.00", "USD"), &shares).unwrap();
    assert_eq!(parts, [money("2160.00", "USD"), money("3240.00", "USD"), money("5400.00", "USD")]);
}

#[test]
fn each_currency_is_split_to_its_own_minor_unit() {
    let parts = |amount, code| -> Vec<String> {
        let parts = split_by_largest_remainder(money(amount, code), &weights(&["1", "1", "1"])).unwrap();
        parts.iter().map(Money::to_string).collect()
    };
    assert_eq!(parts("100", "JPY"), ["34", "33", "33"]);
    assert_eq!(parts("1.000", "KWD"), ["0.334", "0.333", "0.333"]);
    assert_eq!(parts("1.0000", "CLF"), ["0.3334", "0.3333", "0.3333"]);
}

#[test]
fn shares_that_do_not_total_one_hundred_are_refused_with_their_sum() {
    let shares: Vec<Share> = ["62.5", "37.4"].iter().map(|text| Share::parse(text).unwrap()).collect();
    let refusal = split_by_shares(money("10.00", "USD"), &shares).unwrap_err();
    let said = refusal.findings().next().unwrap().said();
    assert_eq!(said.detail, "the shares come to 99.9 %, not to 100 %");
    assert_eq!(said.standing, Standing::Invalid);
    let shares: Vec<Share> = ["62.5", "37.5"].iter().map(|text| Share::parse(text).unwrap()).collect();
    let parts = split_by_shares(money("10.00", "USD"), &shares).unwrap();
    assert_eq!(parts, [money("6.25", "USD"), money("3.75", "USD")]);
}

#[test]
fn nothing_to_split_by_is_refused() {
    for wrong in [vec![], weights(&["0", "0"]), weights(&["1", "-1"])] {
        assert!(split_by_largest_remainder(money("1.00", "USD"), &wrong).is_err(), "{wrong:?}");
    }
}

// Multiplied out, each of these products needs more than 28 digits: rounded up there, three floors would hand
// out more than the whole.
#[test]
fn the_largest_amounts_and_the_longest_weights_still_add_up() {
    let amount = money("999999999999999.9999", "CLF");
    let thirds = weights(&["0.3333333333333333333333333333"; 3]);
    let parts = split_by_largest_remainder(amount, &thirds).unwrap();
    assert_eq!(Money::sum(amount.currency(), parts.iter().copied()).unwrap(), amount);
    assert_eq!(parts[0].to_string(), "333333333333333.3333");

    let nearly_all = weights(&["9999999999999999999999999999", "1"]);
    let parts = split_by_largest_remainder(money("0.01", "USD"), &nearly_all).unwrap();
    assert_eq!(parts, [money("0.01", "USD"), money("0.00", "USD")]);
    let parts = split_by_largest_remainder(money("999999999999999.99", "USD"), &nearly_all).unwrap();
    assert_eq!(parts, [money("999999999999999.99", "USD"), money("0.00", "USD")]);

    let too_far_apart = weights(&["79228162514264337593543950335", "0.0000000000000000000000000001"]);
    assert!(split_by_largest_remainder(amount, &too_far_apart).is_err());
}

prop_compose! {
    fn any_money()(
        code in proptest::sample::select(vec!["JPY", "USD", "KWD", "CLF"]),
        units in prop_oneof![-1_000_000_i64..1_000_000, -999_999_999_999_999_i64..999_999_999_999_999],
    ) -> Money {
        let currency = Currency::find(code).unwrap();
        Money::exact(Decimal::new(units, currency.minor_digits()), currency).unwrap()
    }
}

fn any_weight() -> impl Strategy<Value = Decimal> {
    let long = (0_i128..9_999_999_999_999_999_999_999_999_999, 0_u32..=28)
        .prop_map(|(digits, scale)| Decimal::from_i128_with_scale(digits, scale));
    prop_oneof![
        Just(Decimal::ZERO),
        (0_i64..10_000).prop_map(|hundredths| Decimal::new(hundredths, 2)),
        long.prop_filter("beyond what is promised", |weight| *weight < Decimal::from(10_000_000_000_i64)),
    ]
}

// Derived: three odd cents that would all go to the first weight if each amount were split alone.
#[test]
fn amounts_split_together_come_to_the_split_of_their_sum() {
    let amounts = [money("0.01", "USD"), money("0.01", "USD"), money("0.01", "USD")];
    let rows = split_each_by_weights(&amounts, &weights(&["1", "1", "1"])).unwrap();
    let shown: Vec<Vec<_>> = rows.iter().map(|row| row.iter().map(Money::to_string).collect()).collect();
    assert_eq!(shown, [["0.01", "0.00", "0.00"], ["0.00", "0.01", "0.00"], ["0.00", "0.00", "0.01"]]);
    assert!(split_each_by_weights(&[], &weights(&["1"])).unwrap().is_empty());
    assert!(split_each_by_weights(&[money("-0.01", "USD")], &weights(&["1"])).is_err());
    assert!(split_each_by_weights(&amounts, &weights(&["0"])).is_err());
}

proptest! {
    #[test]
    fn amounts_split_together_add_up_both_ways(
        cents in proptest::collection::vec(0_i64..100_000_000, 1..8),
        weights in proptest::collection::vec(any_weight(), 1..12),
    ) {
        prop_assume!(weights.iter().any(|weight| !weight.is_zero()));
        prop_assume!(weights.iter().sum::<Decimal>() < Decimal::from(10_000_000_000_i64));
        let dollars = Currency::find("USD").unwrap();
        let amounts: Vec<_> =
            cents.iter().map(|cents| Money::exact(Decimal::new(*cents, 2), dollars).unwrap()).collect();
        let rows = split_each_by_weights(&amounts, &weights).unwrap();
        for (row, amount) in rows.iter().zip(&amounts) {
            prop_assert_eq!(Money::sum(dollars, row.iter().copied()).unwrap(), *amount);
        }
        let all = Money::sum(dollars, amounts.iter().copied()).unwrap();
        let wanted = split_by_largest_remainder(all, &weights).unwrap();
        for (place, wanted) in wanted.iter().enumerate() {
            let column = Money::sum(dollars, rows.iter().map(|row| row[place])).unwrap();
            prop_assert_eq!(column, *wanted);
        }
    }

    #[test]
    fn the_parts_of_any_split_add_up_to_the_last_minor_unit(
        amount in any_money(),
        weights in proptest::collection::vec(any_weight(), 1..12),
    ) {
        prop_assume!(weights.iter().any(|weight| !weight.is_zero()));
        prop_assume!(weights.iter().sum::<Decimal>() < Decimal::from(10_000_000_000_i64));
        let parts = split_by_largest_remainder(amount, &weights).unwrap();
        prop_assert_eq!(parts.len(), weights.len());
        prop_assert_eq!(Money::sum(amount.currency(), parts.iter().copied()).unwrap(), amount);
        for (part, weight) in parts.iter().zip(&weights) {
            prop_assert!(part.is_zero() || part.is_negative() == amount.is_negative());
            prop_assert!(!weight.is_zero() || part.is_zero());
        }
    }

    #[test]
    fn no_part_is_a_minor_unit_or_more_away_from_its_exact_share(
        amount in any_money(),
        weights in proptest::collection::vec(0_i64..10_000, 1..8),
    ) {
        let total: i64 = weights.iter().sum();
        prop_assume!(total > 0);
        let weights: Vec<Decimal> = weights.into_iter().map(Decimal::from).collect();
        let parts = split_by_largest_remainder(amount, &weights).unwrap();
        for (part, weight) in parts.iter().zip(weights) {
            let exact = amount.amount() * weight / Decimal::from(total);
            prop_assert!((part.amount() - exact).abs() < amount.currency().minor_unit());
        }
    }

    #[test]
    fn a_larger_weight_never_gets_less(amount in any_money(), small in 0_i64..100, more in 0_i64..100) {
        prop_assume!(small + more > 0);
        let parts = split_by_largest_remainder(amount, &[Decimal::from(small + more), Decimal::from(small)]).unwrap();
        prop_assert!(parts[0].absolute().amount() >= parts[1].absolute().amount());
    }
}
