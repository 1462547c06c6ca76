//! The joint costs of one shoot.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::rules::ids::EpisodeId;
use crate::rules::trial::{any_weights, cents, cut_to_the_cent, hundredths};

fn over(weights: &[&str]) -> Value {
    let numbered = (1..).zip(weights);
    numbered
        .map(|(number, weight): (u128, _)| json!({ "episode": episode(number), "weight": weight }))
        .collect()
}

fn splits(named: Vec<SourceStanding>, weights: &[&str], more: Value) -> Result<Recording, Refusal> {
    let sources: Vec<_> = named.iter().map(|one| one.source.id).collect();
    let mut body = json!({ "date": "2025-04-01", "sources": sources, "over": over(weights) });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    let facts = JointFacts { named, of_records: Vec::new() };
    write(|pen| split_joint(pen, &facts, &asked(body)))
}

fn gets(recording: &Recording, number: u128) -> String {
    let object = CostObject::Episode(EpisodeId(episode(number).0));
    let parts = recording.attributions.iter().filter(|one| one.object == object);
    parts.map(|one| one.amount.amount()).sum::<rust_decimal::Decimal>().to_string()
}

// Arithmetic: 300.00 by weights 4, 4, 1, 1, 1 (derived, largest remainder).
#[test]
fn one_shoot_day_of_300_feeds_two_episodes_and_three_shorts() {
    let got = splits(vec![not_taken_up(1, "300.00")], &["4", "4", "1", "1", "1"], json!({})).unwrap();
    let parts: Vec<_> = (1..6).map(|number| gets(&got, number)).collect();
    assert_eq!(parts, ["109.09", "109.09", "27.28", "27.27", "27.27"]);
    assert!(got.entries.is_empty() && got.movements.is_empty());
    assert_eq!(got.depends_on, [RecordId(Uuid::from_u128(51))]);
    let said = "300.00 is split: 109.09, 109.09, 27.28, 27.27, 27.27; the ledger is not touched.";
    assert_eq!(got.notes, [said]);
}

// Derived: the same day as a studio, a helper and lunch; the sum is split once, and each cost adds up too.
#[test]
fn several_costs_of_a_shoot_are_split_over_their_sum_and_each_adds_up() {
    let costs = || vec![not_taken_up(1, "100.01"), not_taken_up(2, "99.99"), not_taken_up(3, "100.00")];
    let got = splits(costs(), &["4", "4", "1", "1", "1"], json!({})).unwrap();
    let parts: Vec<_> = (1..6).map(|number| gets(&got, number)).collect();
    assert_eq!(parts, ["109.09", "109.09", "27.28", "27.27", "27.27"]);
    for one in costs() {
        let of = got.attributions.iter().filter(|given| given.source == one.source.id);
        let sum: rust_decimal::Decimal = of.map(|given| given.amount.amount()).sum();
        assert_eq!(sum, one.movements[0].amount.amount());
    }
}

// Common practice, no source.
#[test]
fn only_what_is_left_is_split_and_it_stands_where_it_stood_or_where_it_is_said() {
    let got = splits(vec![screws()], &["1", "1"], json!({})).unwrap();
    assert_eq!((gets(&got, 1), gets(&got, 2)), ("20.00".to_owned(), "20.00".to_owned()));
    assert!(got.attributions.iter().all(|one| one.label == MATERIALS));
    let twice = splits(vec![screws(), screws()], &["1"], json!({})).unwrap();
    assert_eq!(gets(&twice, 1), "40.00");
    let got = splits(vec![not_taken_up(1, "9.00")], &["1"], json!({ "category": "services" })).unwrap();
    assert_eq!(got.attributions[0].label, Label::Category(Category::Services));
}

// Common practice, no source.
#[test]
fn everything_that_can_not_be_split_is_said_at_its_place() {
    let mut stock = not_taken_up(1, "10.00");
    stock.thing = Some(ThingBehind::Lot);
    stock.shelf = vec![shelf(stock.record, ShelfWay::Came, "2025-03-03", "10.00")];
    let mut income = not_taken_up(2, "10.00");
    income.source.side = Side::Income;
    let mut gone = screws();
    gone.attributed[0].amount = dollars("100.00");
    let body = json!({ "over": [{ "weight": "1" }, { "episode": episode(1), "weight": "0" }] });
    let refusal = splits(vec![stock, income, gone], &["1"], body).unwrap_err();
    let pointers: Vec<_> = refusal.findings().map(|one| one.pointer.as_str()).collect();
    assert_eq!(pointers, ["/over/0", "/sources/0", "/sources/1", "/sources/2"]);
    let weightless = splits(vec![not_taken_up(1, "10.00")], &["0", "0"], json!({}));
    assert!(findings(weightless)[0].starts_with("/over: there is nothing to split by"));
    let none = splits(Vec::new(), &["1"], json!({ "sources": [] }));
    assert_eq!(
        findings(none),
        ["/sources: no cost of the business is left that no episode took up by 2025-04-01"]
    );
    let early = splits(vec![not_taken_up(1, "10.00")], &["1"], json!({ "date": "2025-03-02" }));
    assert_eq!(findings(early), ["/sources/0: nothing of 'screws' is left to attribute on 2025-03-02"]);
}

// Common practice, no source.
#[test]
fn stock_and_tools_on_a_receipt_of_the_shoot_stay_where_they_are() {
    let mut stock = not_taken_up(1, "10.00");
    stock.thing = Some(ThingBehind::Lot);
    let facts = JointFacts { named: Vec::new(), of_records: vec![stock, not_taken_up(2, "7.00")] };
    let body = json!({ "date": "2025-04-01", "records": [Uuid::from_u128(52)], "over": over(&["1"]) });
    let got = write(|pen| split_joint(pen, &facts, &asked(body))).unwrap();
    assert_eq!((got.attributions.len(), gets(&got, 1)), (1, "7.00".to_owned()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    // Invariant 5, both ways: the shoot over its episodes, and every cost of it.
    #[test]
    fn a_shoot_is_split_to_the_cent_and_every_cost_of_it_is_used_up(
        costs in prop::collection::vec(1..500_000_i64, 1..5), weights in any_weights(),
    ) {
        let named: Vec<_> = (1..).zip(&costs).map(|(number, cost)| not_taken_up(number, &hundredths(*cost))).collect();
        let texts: Vec<_> = weights.iter().map(|weight| hundredths(*weight)).collect();
        let over: Vec<_> = texts.iter().map(String::as_str).collect();
        let got = splits(named.clone(), &over, json!({})).unwrap();
        let parts: Vec<_> = (1..).take(weights.len()).map(|number| dollars(&gets(&got, number))).collect();
        cut_to_the_cent(cents(costs.iter().sum()), &weights, &parts)?;
        for one in &named {
            let of = got.attributions.iter().filter(|given| given.source == one.source.id);
            let sum: rust_decimal::Decimal = of.map(|given| given.amount.amount()).sum();
            prop_assert_eq!(sum, one.movements[0].amount.amount());
        }
    }
}

// Common practice, no source.
#[test]
fn a_cost_of_a_receipt_that_is_used_up_is_left_out_and_a_receipt_used_up_whole_is_refused() {
    let mut gone = screws();
    gone.attributed[0].amount = dollars("100.00");
    let body = json!({ "date": "2025-04-01", "records": [Uuid::from_u128(52)], "over": over(&["1"]) });
    let split = |of_records| {
        let facts = JointFacts { named: Vec::new(), of_records };
        write(|pen| split_joint(pen, &facts, &asked(body.clone())))
    };
    let got = split(vec![gone.clone(), not_taken_up(2, "7.00")]).unwrap();
    assert_eq!((got.attributions.len(), gets(&got, 1)), (1, "7.00".to_owned()));
    let mut income = not_taken_up(3, "5.00");
    income.source.side = Side::Income;
    assert_eq!(
        findings(split(vec![gone, income])),
        ["/records: no cost of the business is left that no episode took up by 2025-04-01"]
    );
    let nobody = splits(vec![not_taken_up(1, "7.00")], &[], json!({}));
    assert_eq!(findings(nobody), ["/over: no episode and no project is named"]);
}
