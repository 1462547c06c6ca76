use std::collections::BTreeSet;

use rust_decimal::Decimal;
use uuid::Uuid;

use super::{csv, text};
use crate::rules::ids::{SourceId, ToolId};
use crate::rules::journal::{Account, EntryKind, ExpenseClass, Stream, TaxClass};
use crate::rules::money::{Currency, Money};
use crate::rules::recording::{AccountingMethod, BooksFacts, MaterialsFlow, MaterialsTiming};
use crate::rules::rows::{
    AttributionPlan, DistanceUnit, PropertyType, RecoveryClass, TaxChoice, Tool, ToolOrigin,
};
use crate::rules::tax_year::facts::{PostingSum, ToolFacts, TripSum};
use crate::rules::tax_year::{CAUTION, Profile, YearFacts, YearSummary, summarise};

fn usd(cents: i64) -> Money {
    Money::exact(Decimal::new(cents, 2), Currency::find("USD").unwrap()).unwrap()
}

fn posted(account: Account, class: TaxClass, cents: i64) -> PostingSum {
    PostingSum { account, class: Some(class), kind: EntryKind::Ordinary, amount: usd(cents) }
}

/// A year with a loss, a tool whose name is a formula, and a trip.
fn summary() -> YearSummary {
    let books = BooksFacts {
        base: Currency::find("USD").unwrap(),
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        began_on: "2025-01-01".parse().unwrap(),
        first_open: "2025-01-01".parse().unwrap(),
    };
    let mut facts = YearFacts::empty(Profile::find("us", 2025).unwrap(), books);
    facts.postings = vec![
        posted(Account::Income(Stream::Sponsorship), TaxClass::Sponsorship, -120_000),
        posted(Account::Expense(ExpenseClass::Supplies), TaxClass::Supplies, 4_110),
        posted(Account::Expense(ExpenseClass::Meals), TaxClass::Meals, 8_200),
        posted(Account::Expense(ExpenseClass::Vehicle), TaxClass::Vehicle, 71_800),
    ];
    let (unit, distance) = (DistanceUnit::Mile, Decimal::ONE_THOUSAND);
    facts.trips = vec![TripSum { vehicle: "Van".to_owned(), unit, distance, amount: usd(70_000) }];
    let tool = Tool {
        id: ToolId(Uuid::from_u128(1)),
        source: SourceId(Uuid::from_u128(2)),
        name: "=cmd|'saw'".to_owned(),
        origin: ToolOrigin::Bought,
        acquired_on: "2025-06-10".parse().unwrap(),
        in_service_on: "2025-06-10".parse().unwrap(),
        cost: usd(320_000),
        basis_for_gain: usd(320_000),
        invoice_price: usd(320_000),
        salvage: usd(0),
        plan: AttributionPlan::EqualShare,
        class: RecoveryClass::Seven,
        property: PropertyType::Ordinary,
        vehicle: None,
        choice: TaxChoice::ByLaw,
        section_179: usd(0),
        business_share: Decimal::ONE_HUNDRED,
        prior: None,
        hours_before: Decimal::ZERO,
    };
    facts.tools = vec![ToolFacts { tool, shares: Vec::new(), disposal: None }];
    summarise(&facts).unwrap()
}

#[test]
fn the_csv_has_every_line_of_the_form_with_exact_and_whole_amounts() {
    let bytes = csv(&summary()).unwrap();
    let written = String::from_utf8(bytes).unwrap();
    assert!(written.starts_with("section,line,label,exact,whole,drill_down\r\ncaution,,"));
    assert!(
        written.contains("\r\nform,22,Supplies,41.10,41,/v1/postings?tax_year=2025&class=supplies\r\n"),
        "{written}"
    );
    assert!(written.contains("\r\nform,31,Net profit or loss,-2800.10,-2800,\r\n"), "{written}");
    assert!(written.contains("\r\nform,33,Method of valuing closing inventory: cost,,,\r\n"));
    assert!(written.contains(CAUTION));
}

#[test]
fn the_csv_is_read_back_with_six_cells_a_row_and_all_sections() {
    let bytes = csv(&summary()).unwrap();
    let mut reader = ::csv::Reader::from_reader(bytes.as_slice());
    let mut sections = BTreeSet::new();
    for record in reader.records() {
        let record = record.unwrap();
        assert_eq!(record.len(), 6);
        sections.insert(record[0].to_owned());
    }
    for section in ["caution", "form", "depreciation", "mileage", "reconciliation", "elections", "questions"]
    {
        assert!(sections.contains(section), "{section}");
    }
}

#[test]
fn a_tool_named_like_a_formula_is_text_in_the_csv() {
    // OWASP, CSV Injection (seen)
    let written = String::from_utf8(csv(&summary()).unwrap()).unwrap();
    assert!(written.contains("\r\ndepreciation,,'=cmd|'saw': cost,3200.00,,/v1/tools/"), "{written}");
    assert!(!written.contains(",=cmd"));
}

#[test]
fn the_text_says_the_caution_first_and_last_and_fits_a_hundred_columns() {
    let page = text(&summary());
    assert!(page.lines().all(|line| line.chars().count() <= 100), "{page}");
    assert_eq!(page.matches("working paper").count(), 2);
    for title in ["Part I: income", "Part V: other expenses", "Business miles", "Questions to the preparer"] {
        assert!(page.contains(title), "{title}");
    }
    assert!(page.contains("class=sponsorship, goods_for_promotion"), "{page}");
    assert!(!page.contains("Private things sold"), "an empty schedule says nothing");
}

#[test]
fn the_same_figures_give_the_same_bytes() {
    assert_eq!(csv(&summary()).unwrap(), csv(&summary()).unwrap());
    assert_eq!(text(&summary()), text(&summary()));
}
