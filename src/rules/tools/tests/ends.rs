//! The last hour, month and cent of a tool, and what is said of it only where it is so.

use super::life::{BY_HOUR, BY_MONTH, leaving};
use super::*;
use crate::rules::money::Amount;
use crate::rules::rows::DisposalKind;
use crate::rules::tool_terms::MONTHS_AT_MOST;
use crate::rules::trial::findings;

const LENT: &str = r#"{ "method": "equal_share", "origin": "loan", "cost": null, "salvage": null }"#;
const CONVERTED: &str = r#"{ "method": "equal_share", "origin": "converted_from_personal", "value": "400.00",
                             "salvage": null }"#;

fn estimate(date: &str) -> NewEstimate {
    NewEstimate { date: day(date), hours_expected: None, months: None, salvage: None, note: None }
}

fn anew(facts: &ToolFacts, new: &NewEstimate) -> Result<Recording, Refusal> {
    write(|pen| estimate_anew(pen, facts, new))
}

fn goes(facts: &ToolFacts, kind: DisposalKind, proceeds: Option<&str>) -> Recording {
    let new = leaving("2025-06-01", kind, proceeds);
    let into = proceeds.map(|_| bank());
    write(|pen| dispose(pen, facts, carried(facts, "0"), into, &new)).unwrap()
}

fn says(notes: &[String], words: &str) -> bool {
    notes.iter().any(|note| note.contains(words))
}

fn comes(terms: &str) -> Result<Recording, Refusal> {
    let mut body: Value = serde_json::from_str(
        r#"{ "name": "table saw", "date": "2025-03-01", "origin": "bought", "cost": "649.00" }"#,
    )
    .unwrap();
    for (key, value) in serde_json::from_str::<Value>(terms).unwrap().as_object().unwrap() {
        body[key] = value.clone();
    }
    let new: NewTool = serde_json::from_value(body).unwrap();
    let paid_from = (new.origin == crate::rules::rows::ToolOrigin::Bought).then(bank);
    write(|pen| acquire(pen, paid_from, &VehiclesAtRate::none(), &new))
}

// Common practice, no source.
#[test]
fn a_used_saw_has_an_hour_left_in_it_or_is_refused() {
    let used = |before: &str| {
        let terms =
            format!(r#"{{ "method": "per_use_hour", "hours_expected": "400", "hours_before": "{before}" }}"#);
        comes(&terms)
    };
    assert!(used("399").is_ok());
    assert!(findings(used("400"))[0].starts_with("/hours_expected: "));
}

// Pub. 551, property changed to business use (from memory).
#[test]
fn a_tool_that_was_private_before_has_two_bases_and_one_that_was_bought_has_one() {
    let camera = comes(CONVERTED).unwrap();
    let facts = facts_of(&camera);
    assert_eq!((facts.tool.cost, facts.tool.basis_for_gain), (dollars("400.00"), dollars("649.00")));
    let two = "it has two bases: 649.00 counts for a gain, 400.00 for a loss";
    assert!(says(&camera.notes, two), "{:?}", camera.notes);
    assert!(!says(&comes(BY_HOUR).unwrap().notes, "two bases"));
    assert!(says(&goes(&facts, DisposalKind::Sold, Some("500.00")).notes, two));
    assert!(!says(&goes(&facts, DisposalKind::PersonalUse, None).notes, two), "it is no sale");
}

// Common practice, no source.
#[test]
fn a_tool_nothing_was_paid_for_may_say_so_and_its_uses_and_shares_change_nothing() {
    let lent = comes(r#"{ "method": "equal_share", "origin": "loan", "cost": "0" }"#).unwrap();
    assert!(lent.notes[0].starts_with("nothing was paid for it"), "{:?}", lent.notes);
    assert!(comes(BY_HOUR).unwrap().notes[0].starts_with("649.00 stands in tools at cost"));
    let facts = saw(LENT);
    let used = facts.tries(&books(), &[("2025-03-02", 1, "2")]).unwrap();
    assert_eq!(used.notes, ["a tool nothing was paid for: its uses are kept and cost nothing"]);
    let share: NewBusinessShare = asked_share(2026, "40");
    let notes = write(|pen| state_business_share(pen, &facts, &share)).unwrap().notes;
    assert_eq!(notes[1..], ["a tool nothing was paid for is not written off, so nothing changes"]);
}

fn asked_share(year: i32, share: &str) -> NewBusinessShare {
    serde_json::from_value(serde_json::json!({ "tax_year": year, "share": share })).unwrap()
}

// IRC 179(d)(10) and 280F(b)(2) (from memory): half or less, after a first year of more.
#[test]
fn a_share_is_said_to_bring_something_back_only_where_use_fell_to_half_after_the_first_year() {
    let back = |first: &str, year: i32, share: &str| {
        let facts = saw(&format!(r#"{{ "method": "equal_share", "business_share": "{first}" }}"#));
        let recording = write(|pen| state_business_share(pen, &facts, &asked_share(year, share))).unwrap();
        says(&recording.notes, "may come back into income")
    };
    assert!(back("80", 2026, "50"));
    assert!(!back("80", 2026, "50.01"));
    assert!(!back("50", 2026, "40"), "it never was more than half");
    assert!(!back("80", 2025, "40"), "the first year itself");
    let whole = saw(r#"{ "method": "equal_share", "business_share": "80" }"#);
    assert!(write(|pen| state_business_share(pen, &whole, &asked_share(2026, "100"))).is_ok());
}

// Common practice, no source.
#[test]
fn a_tool_that_gave_all_it_cost_leaves_nothing_behind_and_is_named_by_the_way_it_went() {
    let mut spent = saw(r#"{ "method": "percentages", "salvage": null }"#);
    spent.used(&[("2025-03-02", 1, "100")]);
    let gone = goes(&spent, DisposalKind::Scrapped, None);
    assert!(gone.movements.is_empty() && !says(&gone.notes, "had reached no episode"), "{:?}", gone.notes);
    assert_eq!(gone.text, "table saw: scrapped");
    assert_eq!(goes(&spent, DisposalKind::PersonalUse, None).text, "table saw: taken for private use");
}

// Common practice, no source: 600 over twelve months is 300 after six, whether it was used or not.
#[test]
fn a_life_by_months_ends_at_a_hundred_years_and_its_salvage_at_what_is_left() {
    let saw = saw(BY_MONTH);
    let months = |months| NewEstimate { months: Some(months), ..estimate("2025-09-01") };
    assert!(anew(&saw, &months(MONTHS_AT_MOST)).is_ok());
    assert!(findings(anew(&saw, &months(MONTHS_AT_MOST + 1)))[0].starts_with("/months: "));
    let worth = |salvage| NewEstimate { salvage: Amount::parse(salvage), ..estimate("2025-09-01") };
    assert!(anew(&saw, &worth("349.00")).unwrap().notes[0].starts_with("0.00 is left to spread"));
    let too_high = findings(anew(&saw, &worth("349.01")));
    assert!(too_high[0].starts_with("/salvage: a salvage of 349.01 leaves -0.01"), "{too_high:?}");
}

// Common practice, no source: 600 over 400 hours is 1.50, and what is left of it over 600 hours is 1.00.
#[test]
fn a_use_on_the_day_of_an_estimate_goes_by_it() {
    let mut saw = saw(BY_HOUR);
    let longer =
        NewEstimate { hours_expected: crate::rules::money::Hours::parse("600"), ..estimate("2025-05-10") };
    saw.take_up(&anew(&saw, &longer).unwrap());
    let used = saw.used(&[("2025-05-10", 1, "10")]);
    assert_eq!((amounts(&used), used.notes.len()), (vec!["10.00".to_owned()], 1), "{:?}", used.notes);
    assert_eq!(saw.hours_run().to_string(), "10");
    // An estimate of that day counts the hours of the days before it only.
    let again = anew(&saw, &NewEstimate { date: day("2025-05-11"), ..longer }).unwrap();
    assert!(again.notes[0].starts_with("590.00 is left"), "{:?}", again.notes);
    let all = saw.used(&[("2025-05-12", 1, "600")]);
    assert!(says(&all.notes, "the tool has given all it can: 600.00 in all"), "{:?}", all.notes);
    assert_eq!(saw.left_to_attribute().unwrap(), dollars("0.00"));
}

// Derived: a month is closed when its last day is.
#[test]
fn a_late_use_shares_in_its_month_until_the_last_day_of_that_is_closed() {
    let late = |first_open: &str| {
        let mut saw = saw(BY_MONTH);
        saw.used(&[("2025-04-02", 1, "")]);
        let closed = BooksFacts { first_open: day(first_open), ..books() };
        saw.used_in(&closed, &[("2025-04-20", 2, "")]);
        (saw.on(1), saw.on(2))
    };
    assert_eq!(late("2025-04-30"), ("25.00".to_owned(), "25.00".to_owned()));
    assert_eq!(late("2025-05-01"), ("50.00".to_owned(), "0.00".to_owned()));
}
