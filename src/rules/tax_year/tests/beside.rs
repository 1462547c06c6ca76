//! What stands beside the form, and what is said of vehicles and homes.

use super::super::facts::{PostingSum, TripSum};
use super::super::questions::Topic;
use super::super::{YearFacts, summarise};
use super::{dec, posted, usd, year};
use crate::rules::journal::{Account, Draw, EntryKind, ExpenseClass, TaxClass};
use crate::rules::rows::DistanceUnit;

fn spent(class: ExpenseClass, amount: &str) -> PostingSum {
    posted(Account::Expense(class), class.tax_class(), amount)
}

fn asked(facts: &YearFacts, topic: Topic) -> Vec<String> {
    let questions = summarise(facts).unwrap().questions;
    questions.into_iter().filter(|one| one.topic == topic).map(|one| one.question).collect()
}

// FS-2023-06 (seen): proceeds are shown as they came, draws as they went.
#[test]
fn what_is_beside_the_form_is_shown_above_zero_whether_it_came_or_went() {
    let mut facts = year(2025);
    facts.postings = vec![
        posted(Account::OwnerContribution, TaxClass::PersonalPropertySale, "-180.00"),
        posted(Account::Draw(Draw::PersonalItems), TaxClass::Personal, "25.00"),
    ];
    let beside = summarise(&facts).unwrap().off_the_form;
    let shown: Vec<_> = beside.iter().map(|row| (row.label.as_str(), row.amount)).collect();
    assert_eq!(shown, [("Personal items", usd("25.00")), ("Private things sold", usd("180.00"))]);
}

// Standard mileage rate of 2025: 70 cents (seen).
#[test]
fn trips_a_dollar_apart_from_their_miles_are_rounding_and_costs_without_trips_are_a_question() {
    let posted_at = |amount: &str| {
        let trip = TripSum {
            vehicle: "Van".to_owned(),
            unit: DistanceUnit::Mile,
            distance: dec("100"),
            amount: usd(amount),
        };
        let postings = vec![spent(ExpenseClass::Vehicle, amount)];
        let facts = YearFacts { trips: vec![trip], postings, ..year(2025) };
        asked(&facts, Topic::Vehicle).iter().any(|one| one.contains("was another rate used"))
    };
    assert!(!posted_at("71.00") && !posted_at("69.00"));
    assert!(posted_at("71.01") && posted_at("68.99"));
    let actual = YearFacts { postings: vec![spent(ExpenseClass::Vehicle, "40.00")], ..year(2025) };
    assert_eq!(asked(&actual, Topic::Vehicle).len(), 1);
    assert!(asked(&year(2025), Topic::Vehicle).is_empty());
}

// Pub. 523 (seen): what went into the home is asked about where something did, on either side.
#[test]
fn the_home_is_asked_about_where_something_of_the_year_stayed_in_it() {
    let home = |class| YearFacts {
        postings: vec![posted(Account::Draw(Draw::HomeImprovements), class, "40.00")],
        ..year(2025)
    };
    assert_eq!(asked(&home(TaxClass::HomeImprovement), Topic::HomeImprovements).len(), 1);
    assert_eq!(asked(&home(TaxClass::HomeRepair), Topic::HomeImprovements).len(), 1);
    assert!(asked(&year(2025), Topic::HomeImprovements).is_empty());
    assert!(summarise(&year(2025)).unwrap().home.rows.is_empty(), "no row of nothing");
}

// Common practice, no source.
#[test]
fn the_line_of_business_miles_shows_them_whole_and_leads_to_the_trips() {
    let trip = TripSum {
        vehicle: "Van".to_owned(),
        unit: DistanceUnit::Mile,
        distance: dec("100.5"),
        amount: usd("70.35"),
    };
    let kind = EntryKind::Ordinary;
    let postings = vec![PostingSum { kind, ..spent(ExpenseClass::Vehicle, "70.35") }];
    let summary = summarise(&YearFacts { trips: vec![trip], postings, ..year(2025) }).unwrap();
    let miles = summary.lines.iter().find(|line| line.line == "44a").unwrap();
    assert_eq!((miles.exact, miles.whole), (Some(dec("100.5")), Some(dec("101"))));
    assert_eq!(miles.drill_down.as_deref(), Some("/v1/tax-years/2025/summary#mileage"));
}
