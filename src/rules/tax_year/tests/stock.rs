//! Stock, the home, miles and statements: what is shown of them and what is asked.

use uuid::Uuid;

use super::super::facts::{HomeCost, TripSum};
use super::super::form::TaxLine;
use super::super::profile::Part;
use super::super::questions::Topic;
use super::super::{YearFacts, YearSummary, summarise};
use super::summaries::payout;
use super::{dec, posted, usd, year};
use crate::rules::ids::ProjectId;
use crate::rules::journal::{Account, Draw, TaxClass};
use crate::rules::rows::DistanceUnit;

/// What each question of the topic says.
fn asked(summary: &YearSummary, topic: Topic) -> Vec<&str> {
    let asked = summary.questions.iter().filter(|one| one.topic == topic);
    asked.map(|one| one.question.as_str()).collect()
}

// Pub. 334 ch. 6 (seen): purchases, labour, materials and other costs each have a line.
#[test]
fn what_came_to_stock_is_shown_by_kind_of_cost_and_a_kind_that_did_not_come_is_not() {
    let mut facts = year(2025);
    facts.postings = vec![
        posted(Account::PiecesForResale, TaxClass::ResalePurchases, "80.00"),
        posted(Account::PiecesForResale, TaxClass::ResaleMaterials, "45.00"),
    ];
    let stock = summarise(&facts).unwrap().inventory;
    let added: Vec<_> =
        stock.pieces_added.iter().map(|one| (one.class, one.amount, one.drill_down.as_str())).collect();
    assert_eq!(
        added,
        [
            (TaxClass::ResalePurchases, usd("80.00"), "/v1/postings?tax_year=2025&class=resale_purchases"),
            (TaxClass::ResaleMaterials, usd("45.00"), "/v1/postings?tax_year=2025&class=resale_materials"),
        ]
    );
}

/// Improvements and repairs of the year, and what of them one project bears.
fn at_home(posted_as: (&str, &str), borne: (&str, &str)) -> YearSummary {
    let draw = |draw, class, amount| posted(Account::Draw(draw), class, amount);
    let postings = vec![
        draw(Draw::HomeImprovements, TaxClass::HomeImprovement, posted_as.0),
        draw(Draw::HomeRepairs, TaxClass::HomeRepair, posted_as.1),
    ];
    let project = Some(ProjectId(Uuid::from_u128(5)));
    let (improvements, repairs) = (usd(borne.0), usd(borne.1));
    let home = vec![HomeCost { project, name: "Attic room".to_owned(), improvements, repairs }];
    summarise(&YearFacts { postings, home, ..year(2025) }).unwrap()
}

// Pub. 523 (seen): improvements add to the home's basis, repairs do not.
#[test]
fn what_no_project_explains_has_a_row_where_there_is_some_and_repairs_alone_are_asked_about_too() {
    let rows = |summary: &YearSummary| {
        let rows = summary.home.rows.iter();
        rows.map(|row| (row.name.clone(), row.improvements, row.repairs)).collect::<Vec<_>>()
    };
    let row = |name: &str, one: &str, other: &str| (name.to_owned(), usd(one), usd(other));
    let explained = at_home(("250.00", "40.00"), ("250.00", "40.00"));
    assert_eq!(rows(&explained), [row("Attic room", "250.00", "40.00")]);
    let repairs_alone = at_home(("0.00", "40.00"), ("0.00", "30.00"));
    assert_eq!(
        rows(&repairs_alone),
        [row("Attic room", "0.00", "30.00"), row("of no project", "0.00", "10.00")]
    );
    for (summary, begins) in [
        (&explained, "250.00 went into the owner's home as improvements and 40.00 as repairs"),
        (&repairs_alone, "0.00 went into the owner's home as improvements and 40.00 as repairs"),
    ] {
        let [question] = asked(summary, Topic::HomeImprovements)[..] else { panic!("asked once") };
        assert!(question.starts_with(begins), "{question}");
    }
}

fn driven(miles: &str, amount: &str) -> YearSummary {
    let (unit, distance) = (DistanceUnit::Mile, dec(miles));
    let trips = vec![TripSum { vehicle: "Van".to_owned(), unit, distance, amount: usd(amount) }];
    summarise(&YearFacts { trips, ..year(2025) }).unwrap()
}

// Notice 2025-05: 70 cents a mile (seen); that a dollar is the rounding of many trips is ours.
#[test]
fn trips_may_be_posted_a_dollar_apart_from_the_years_miles_and_no_more() {
    let rate_asked = |amount: &str| {
        let summary = driven("1000", amount);
        asked(&summary, Topic::Vehicle).iter().filter(|one| one.contains("was another rate used")).count()
    };
    assert_eq!(["699.00", "701.00", "698.99", "701.01"].map(rate_asked), [0, 0, 1, 1]);
}

// Schedule C, line 44a (from memory): miles, in whole numbers on the return.
#[test]
fn the_line_of_business_miles_has_them_to_the_tenth_and_whole_and_leads_to_the_vehicles() {
    let summary = driven("1204.50", "843.15");
    let line = summary.lines.iter().find(|line| line.line == "44a").unwrap();
    let expected = TaxLine {
        part: Part::Vehicle,
        line: "44a",
        label: "Business miles".to_owned(),
        exact: Some(dec("1204.5")),
        whole: Some(dec("1205")),
        drill_down: Some("/v1/tax-years/2025/summary#mileage".to_owned()),
        also_from: None,
        worked_out: None,
        words: None,
    };
    assert_eq!(line, &expected);
}

// Common practice, no source: 500.00 less 50.00, 4.00, 10.00 and 1.00, and 6.00 released.
#[test]
fn a_statement_that_does_not_come_to_what_was_received_is_asked_about() {
    let mut facts = year(2025);
    facts.postings = vec![posted(
        Account::Income(crate::rules::journal::Stream::Advertising),
        TaxClass::AdvertisingIncome,
        "-500.00",
    )];
    let mut apart = |net: &str| {
        facts.payouts = vec![payout("500.00", net)];
        let summary = summarise(&facts).unwrap();
        let questions = summary.questions.into_iter().filter(|one| one.topic == Topic::Statements);
        (summary.reconciliation.agrees, questions.map(|one| one.about).collect::<Vec<_>>())
    };
    assert_eq!(apart("441.00"), (true, vec![]));
    for net in ["440.99", "441.01"] {
        assert_eq!(apart(net), (false, vec![vec!["/v1/payouts, received 2025-05-02".to_owned()]]), "{net}");
    }
}
