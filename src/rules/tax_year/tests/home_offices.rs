//! A home office by the simplified method.

use uuid::Uuid;

use super::super::facts::HomeOfficeStated;
use super::super::home_office::{
    HomeOfficeFacts, NewHomeOffice, NewHomeOfficeArea, measure, use_home_office,
};
use super::super::profile::{Mark, Profile};
use super::super::questions::Topic;
use super::super::summarise;
use super::{books, day, dec, posted, tool, usd, year};
use crate::rules::ids::{IdSource, RecordId};
use crate::rules::journal::{Account, ExpenseClass, Stream, TaxClass};
use crate::rules::money::Quantity;
use crate::rules::recording::{BooksFacts, Pen, Recording};
use crate::rules::refusal::{Refusal, Standing};
use crate::rules::rows::{HomeOffice, HomeOfficeArea, Row};
use crate::rules::tax_year::YearFacts;

struct NoIds;

impl IdSource for NoIds {
    fn next(&mut self) -> Uuid {
        unreachable!("a home office makes nothing that needs an id")
    }
}

/// Areas as from, until (empty where it went on), square feet.
fn office(tax_year: i32, areas: &[(&str, &str, &str)]) -> HomeOffice {
    let area = |(from, until, feet): &(&str, &str, &str)| HomeOfficeArea {
        from: day(from),
        until: (!until.is_empty()).then(|| day(until)),
        square_feet: dec(feet),
    };
    HomeOffice { tax_year, areas: areas.iter().map(area).collect() }
}

/// What the areas come to in 2025.
fn comes_to(areas: &[(&str, &str, &str)]) -> String {
    let profile = Profile::find("us", 2025).unwrap();
    let measured = measure(&office(2025, areas), &profile.home_office, usd("0").currency()).unwrap();
    measured.allowable.to_string()
}

/// A year with that income, and a home office of 150 square feet on average.
fn earning(gross: &str) -> YearFacts {
    let mut facts = year(2025);
    let earned = posted(Account::Income(Stream::Sponsorship), TaxClass::Sponsorship, &format!("-{gross}"));
    facts.postings = vec![earned];
    facts.home_office = Some(HomeOfficeStated {
        record: RecordId(Uuid::from_u128(9)),
        office: office(2025, &[("2025-04-20", "2025-08-04", "100"), ("2025-08-05", "", "330")]),
    });
    facts
}

#[test]
fn an_office_that_grew_in_august_counts_with_its_average_over_twelve_months() {
    // IRS Publication 587, simplified method, example of part-year use and a changed area: 150 square feet (seen); the
    // amount is that times the rate (derived)
    let summary = summarise(&earning("20000.00")).unwrap();
    let office = summary.home_office.as_ref().unwrap();
    let counted: Vec<String> = office.months.iter().map(|month| month.counted.to_string()).collect();
    assert_eq!(
        counted,
        ["0", "0", "0", "0", "100", "100", "100", "300", "300", "300", "300", "300"].map(String::from)
    );
    assert_eq!(
        (office.square_feet, office.allowable, office.allowed),
        (dec("150"), usd("750.00"), usd("750.00"))
    );
    assert_eq!((summary.exact("30"), summary.exact("31")), ("750.00".to_owned(), "19250.00".to_owned()));
    assert_eq!(office.months[7].in_use, dec("330"));
    assert!(summary.asks(Topic::HomeOffice));
}

#[test]
fn more_than_three_hundred_square_feet_count_as_three_hundred() {
    // IRS Publication 587, simplified method (seen); a full year at the most (derived)
    assert_eq!(comes_to(&[("2020-01-01", "", "330")]), "1500.00");
    assert_eq!(comes_to(&[("2025-01-01", "2025-12-31", "300")]), "1500.00");
    let profile = Profile::find("us", 2025).unwrap().home_office;
    assert_eq!(
        (profile.per_square_foot.value, profile.per_square_foot.source.mark),
        (dec("5.00"), Mark::Seen)
    );
}

#[test]
fn a_month_counts_with_what_was_in_use_on_fifteen_of_its_days() {
    // IRS Publication 587, simplified method, part-year use (from memory)
    assert_eq!(comes_to(&[("2025-04-16", "2025-04-30", "120")]), "50.00");
    assert_eq!(comes_to(&[("2025-04-17", "2025-04-30", "120")]), "0.00");
    // two stretches of eight days in one month are sixteen days of it
    assert_eq!(
        comes_to(&[("2025-05-01", "2025-05-08", "120"), ("2025-05-20", "2025-05-27", "120")]),
        "50.00"
    );
    // fifteen days of a small office and sixteen of a larger one: the larger was there long enough
    assert_eq!(
        comes_to(&[("2025-05-01", "2025-05-15", "120"), ("2025-05-16", "2025-05-31", "240")]),
        "100.00"
    );
    // February has days enough
    assert_eq!(comes_to(&[("2025-02-14", "2025-02-28", "120")]), "50.00");
}

#[test]
fn rooms_in_use_on_the_same_days_are_added_up() {
    // the whole area used for the business: IRS Publication 587 (from memory)
    assert_eq!(comes_to(&[("2025-01-01", "", "120"), ("2025-07-01", "", "60")]), "750.00");
    assert_eq!(comes_to(&[("2025-01-01", "", "120"), ("2025-07-01", "2025-07-14", "60")]), "600.00");
    // together beyond the most
    assert_eq!(comes_to(&[("2025-01-01", "", "200"), ("2025-01-01", "", "150.5")]), "1500.00");
}

#[test]
fn a_home_office_takes_no_more_than_the_tentative_profit_and_the_rest_is_lost() {
    // IRS Publication 587, simplified method: limited to the gross income left, no carryover (from memory)
    let summary = summarise(&earning("400.40")).unwrap();
    let office = summary.home_office.as_ref().unwrap();
    assert_eq!((office.allowed, office.lost), (usd("400.40"), usd("349.60")));
    assert_eq!((summary.exact("30"), summary.whole("30")), ("400.40".to_owned(), "400".to_owned()));
    assert_eq!((summary.exact("31"), summary.whole("31")), ("0.00".to_owned(), "0".to_owned()));
    assert!(office.says.contains("not carried over"), "{}", office.says);
    assert_eq!(summary.not_deducted[0].amount, usd("349.60"));
    let mut lossy = earning("100.00");
    lossy.postings.push(posted(Account::Expense(ExpenseClass::Supplies), TaxClass::Supplies, "160.00"));
    let summary = summarise(&lossy).unwrap();
    assert_eq!((summary.exact("30"), summary.exact("31")), ("0.00".to_owned(), "-60.00".to_owned()));
}

#[test]
fn section_179_waits_for_the_home_office_and_carries_over_what_is_left_of_it() {
    // IRC 179(b)(3) and 280A(c)(5): neither says which goes first; our own choice, for only one of the two carries over
    let mut facts = earning("2000.00");
    facts.tools = vec![tool(1, "3000.00", "2025-03-01").section_179("3000.00")];
    let summary = summarise(&facts).unwrap();
    assert_eq!((summary.exact("13"), summary.exact("30")), ("1250.00".to_owned(), "750.00".to_owned()));
    assert_eq!((summary.exact("31"), summary.section_179.carried_over), ("0.00".to_owned(), usd("1750.00")));
}

#[test]
fn actual_costs_that_came_later_are_asked_about_and_not_added() {
    // one method a home and year: IRS Publication 587, simplified method (from memory)
    let mut facts = earning("20000.00");
    facts.postings.push(posted(Account::Expense(ExpenseClass::HomeOffice), TaxClass::HomeOffice, "910.00"));
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.exact("30"), "750.00");
    let asked: Vec<&str> = summary.questions.iter().map(|one| one.question.as_str()).collect();
    assert!(asked.iter().any(|one| one.contains("910.00 of actual costs")), "{asked:?}");
    let beside = summary.not_deducted.iter().find(|one| one.amount == usd("910.00")).unwrap();
    assert!(beside.label.contains("Actual costs"));
    // without the record, the costs are the line
    facts.home_office = None;
    let summary = summarise(&facts).unwrap();
    assert_eq!((summary.exact("30"), summary.home_office.is_none()), ("910.00".to_owned(), true));
    assert!(summary.asks(Topic::HomeOffice));
}

pub(super) fn new(areas: &[(&str, &str, &str)]) -> NewHomeOffice {
    let area = |(from, until, feet): &(&str, &str, &str)| NewHomeOfficeArea {
        from: day(from),
        until: (!until.is_empty()).then(|| day(until)),
        square_feet: Quantity::parse(feet).unwrap(),
    };
    NewHomeOffice { date: None, areas: areas.iter().map(area).collect(), note: None }
}

fn state(books: &BooksFacts, facts: &HomeOfficeFacts, new: &NewHomeOffice) -> Result<Recording, Refusal> {
    state_for(2025, books, facts, new)
}

pub(super) fn state_for(
    year: i32,
    books: &BooksFacts,
    facts: &HomeOfficeFacts,
    new: &NewHomeOffice,
) -> Result<Recording, Refusal> {
    use_home_office(&Pen { books, ids: &mut NoIds }, year, Profile::find("us", year).ok(), facts, new)
}

pub(super) fn nothing_yet() -> HomeOfficeFacts {
    HomeOfficeFacts { recorded: None, actual_costs: usd("0.00") }
}

fn refused(result: Result<Recording, Refusal>) -> Vec<(String, Standing)> {
    let refusal = result.unwrap_err();
    refusal.findings().map(|one| (one.pointer.clone(), one.said().standing)).collect()
}

#[test]
fn a_home_office_is_kept_under_the_last_day_of_its_year_and_says_what_it_comes_to() {
    let made = state(&books(), &nothing_yet(), &new(&[("2025-04-20", "", "150")])).unwrap();
    assert_eq!((made.kind, made.date, made.entries.len()), ("home_office", day("2025-12-31"), 0));
    assert!(matches!(made.rows.as_slice(), [Row::HomeOffice(HomeOffice { tax_year: 2025, .. })]));
    assert!(made.notes[0].contains("100 square feet on average"), "{:?}", made.notes);
    assert!(made.notes[0].contains("500.00, but no more than the tentative profit"), "{:?}", made.notes);
    let dated = NewHomeOffice { date: Some(day("2026-03-02")), ..new(&[("2025-04-20", "", "150")]) };
    assert_eq!(state(&books(), &nothing_yet(), &dated).unwrap().date, day("2026-03-02"));
}

#[test]
fn a_home_office_is_refused_with_everything_that_is_wrong_with_it() {
    let wrong = new(&[
        ("2025-05-01", "2025-04-01", "10"),
        ("2026-01-01", "", "10"),
        ("2025-01-01", "", "0"),
        ("2023-01-01", "2024-12-31", "10"),
    ]);
    let wrong = NewHomeOffice { date: Some(day("2024-12-31")), ..wrong };
    let expected = ["/date", "/areas/0/until", "/areas/1/from", "/areas/2/square_feet", "/areas/3/from"];
    let found = refused(state(&books(), &nothing_yet(), &wrong));
    assert_eq!(found, expected.map(|pointer| (pointer.to_owned(), Standing::Invalid)));
    assert_eq!(refused(state(&books(), &nothing_yet(), &new(&[])))[0].0, "/areas");
}

#[test]
fn a_home_office_is_stated_once_in_an_open_year_without_actual_costs() {
    let good = new(&[("2025-01-01", "", "150")]);
    let already = HomeOfficeFacts { recorded: Some(RecordId(Uuid::from_u128(4))), ..nothing_yet() };
    assert_eq!(refused(state(&books(), &already, &good)), [(String::new(), Standing::Conflict)]);
    let costs = HomeOfficeFacts { actual_costs: usd("910.00"), ..nothing_yet() };
    let why = state(&books(), &costs, &good).unwrap_err().to_string();
    assert!(why.contains("910.00 of actual costs") && why.contains("class=home_office"), "{why}");
    let closed = BooksFacts { first_open: day("2026-01-01"), ..books() };
    assert_eq!(refused(state(&closed, &nothing_yet(), &good)), [(String::new(), Standing::Conflict)]);
}

#[test]
fn the_form_says_how_line_30_was_worked_out_and_what_is_asked_of_the_other_method() {
    // Schedule C, line 30 (seen): simplified method, or Form 8829
    let summary = summarise(&earning("20000.00")).unwrap();
    let line = summary.lines.iter().find(|line| line.line == "30").unwrap();
    assert_eq!(line.worked_out.as_deref(), Some("simplified method, no more than 29"));
    assert_eq!(line.drill_down.as_deref(), Some("/v1/tax-years/2025/summary#home_office"));
    let asked = |cost: &str| {
        let mut facts = earning("1000.00");
        facts.home_office = None;
        facts.postings.push(posted(Account::Expense(ExpenseClass::HomeOffice), TaxClass::HomeOffice, cost));
        let questions = summarise(&facts).unwrap().questions;
        questions
            .into_iter()
            .filter(|one| one.topic == Topic::HomeOffice)
            .map(|one| one.question)
            .collect::<Vec<_>>()
    };
    let beyond = |question: &str| {
        question.ends_with("It is more than the tentative profit, beyond which it is not allowed.")
    };
    assert!(asked("0.00").is_empty());
    assert!(!beyond(&asked("1000.00")[0]), "as much as the profit is allowed");
    assert!(beyond(&asked("1000.01")[0]));
}

// IRS Publication 587, simplified method (seen): a place may be used for part of the year; the day of choosing is ours.
#[test]
fn a_home_office_may_be_used_for_one_day_and_chosen_within_its_year() {
    let dated = NewHomeOffice { date: Some(day("2025-01-01")), ..new(&[("2025-05-01", "2025-05-01", "10")]) };
    assert_eq!(state(&books(), &nothing_yet(), &dated).unwrap().date, day("2025-01-01"));
    let over_new_year = new(&[("2024-11-01", "2025-01-01", "10")]);
    assert!(state(&books(), &nothing_yet(), &over_new_year).is_ok());
}
