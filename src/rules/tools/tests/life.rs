use chrono::Datelike;

use super::*;
use crate::rules::journal::{Account, Draw, EntryKind};
use crate::rules::money::{Amount, Hours};
use crate::rules::recording::MovementKind;
use crate::rules::rows::DisposalKind;
use crate::rules::trial::{balance, findings, ties};

pub(super) const BY_HOUR: &str = r#"{ "method": "per_use_hour", "hours_expected": "400" }"#;
pub(super) const BY_MONTH: &str = r#"{ "method": "straight_line", "months": 12 }"#;

pub(super) fn leaving(date: &str, kind: DisposalKind, proceeds: Option<&str>) -> NewDisposal {
    NewDisposal {
        date: day(date),
        kind,
        proceeds: proceeds.and_then(Amount::parse),
        paid_into: proceeds.map(|_| bank().id),
        currency: None,
        rate: None,
        party: None,
        note: None,
    }
}

fn leaves(facts: &ToolFacts, accumulated: &str, new: &NewDisposal) -> Result<Recording, Refusal> {
    let into = new.paid_into.map(|_| bank());
    write(|pen| dispose(pen, facts, carried(facts, accumulated), into, new))
}

pub(super) fn estimate(date: &str) -> NewEstimate {
    NewEstimate { date: day(date), hours_expected: None, months: None, salvage: None, note: None }
}

// Principles of Financial Accounting, 11.3: from memory.
#[test]
fn straight_line_takes_the_same_each_year_down_to_salvage() {
    let years = straight_line_by_year(dollars("58000"), dollars("10000"), day("2020-01-01"), 60).unwrap();
    assert!(years.iter().all(|year| year.charge == dollars("9600")));
    let books: Vec<_> = years.iter().map(|year| year.book.to_string()).collect();
    assert_eq!(books, ["48400.00", "38800.00", "29200.00", "19600.00", "10000.00"]);
}

// Principles of Financial Accounting, 11.3: from memory.
#[test]
fn units_of_use_take_what_was_run() {
    let year_one = units_of_use(dollars("48000"), 180_000.into(), 960_000.into()).unwrap();
    assert_eq!(year_one, dollars("9000"));
}

// Accounting Principles: A Business Perspective (open text), p. 420, exhibit 83: seen.
#[test]
fn a_machine_of_ten_years_stands_at_its_salvage_in_the_tenth() {
    let years = straight_line_by_year(dollars("54000"), dollars("4000"), day("2015-01-01"), 120).unwrap();
    assert!(years.iter().all(|year| year.charge == dollars("5000")));
    let books: Vec<_> = years.iter().map(|year| year.book.amount()).collect();
    let expected: Vec<_> = (0..10).map(|year| rust_decimal::Decimal::from(49_000 - 5_000 * year)).collect();
    assert_eq!(books, expected);
}

// The same page: seen; the 50,000 units of its whole life are inferred.
#[test]
fn a_machine_of_50_000_units_takes_one_for_each_that_it_makes() {
    let taken = |units: i64| units_of_use(dollars("50000"), units.into(), 50_000.into()).unwrap();
    assert_eq!([taken(1_000), taken(2_500)], [dollars("1000"), dollars("2500")]);
}

// Derived.
#[test]
fn a_tool_in_service_in_october_bears_three_months_in_its_first_year() {
    let years = straight_line_by_year(dollars("1200"), dollars("0"), day("2025-10-01"), 36).unwrap();
    let charges: Vec<_> = years.iter().map(|year| (year.year, year.charge.to_string())).collect();
    let expected = [(2025, "100.00"), (2026, "400.00"), (2027, "400.00"), (2028, "300.00")];
    assert_eq!(charges, expected.map(|(year, charge)| (year, charge.to_owned())));
}

// Derived: the months of a year are that year, whatever the cents.
#[test]
fn the_months_of_a_schedule_come_to_its_years() {
    let mut tool = saw(r#"{ "cost": "1200.00", "salvage": "0.00", "in_service_on": "2025-10-01",
                           "method": "straight_line", "months": 36 }"#);
    for month in ["2025-10-05", "2025-11-05", "2025-12-05"] {
        tool.used(&[(month, u128::from(day(month).month()), "")]);
    }
    assert_eq!([tool.on(10), tool.on(11), tool.on(12)], ["33.34", "33.33", "33.33"]);
}

// Derived: 58,000 less 19,200 is 38,800 on the books; sold for 40,000.
#[test]
fn a_machine_sold_above_its_book_value_gives_a_gain_on_business_property() {
    let machine =
        saw(r#"{ "cost": "58000.00", "salvage": "10000.00", "method": "straight_line", "months": 60,
             "date": "2025-01-01" }"#);
    let sold = leaves(&machine, "19200", &leaving("2026-12-31", DisposalKind::Sold, Some("40000"))).unwrap();
    ties(&sold, &[(machine.tool.source, crate::rules::recording::Side::Cost)]);
    assert_eq!(sold.entries[0].kind, EntryKind::Disposal);
    assert_eq!(balance(&sold, Account::Money(bank().id)), "40000.00");
    assert_eq!(balance(&sold, Account::AccumulatedDepreciation), "19200.00");
    assert_eq!(balance(&sold, Account::ToolsAtCost), "-58000.00");
    assert_eq!(balance(&sold, Account::BusinessPropertySales), "-1200.00");
    assert_eq!(sold.movements[0].kind, MovementKind::Removed);
    assert_eq!(sold.movements[0].amount, dollars("-58000"));
    assert!(sold.notes[0].starts_with("a gain of 1200.00 against 38800.00"));
}

// Common practice, no source.
#[test]
fn what_was_attributed_stays_with_its_episodes_when_a_tool_is_stolen() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "100")]);
    let stolen = leaves(&saw, "0", &leaving("2025-06-01", DisposalKind::Stolen, None)).unwrap();
    assert_eq!(balance(&stolen, Account::BusinessPropertySales), "649.00");
    assert_eq!(stolen.movements[0].amount, dollars("-499.00"));
    saw.take_up(&stolen);
    assert_eq!((saw.on(1).as_str(), saw.held), ("150.00", dollars("150.00")));
    // A late use before that day is kept; there is nothing left that it could bear.
    assert!(amounts(&saw.used(&[("2025-05-01", 2, "5")])).is_empty());
    assert_eq!(
        findings(saw.tries(&books(), &[("2025-06-02", 2, "5")])),
        ["/uses/0/date: the tool is used on 2025-06-02, after it left on 2025-06-01"]
    );
    assert_eq!(
        findings(leaves(&saw, "0", &leaving("2025-06-02", DisposalKind::Scrapped, None))),
        [": the tool left already on 2025-06-01 (stolen)"]
    );
}

// Common practice, no source.
#[test]
fn a_tool_taken_for_private_use_is_a_draw_and_no_sale() {
    let saw = saw(BY_HOUR);
    let taken = leaves(&saw, "49", &leaving("2025-06-01", DisposalKind::PersonalUse, None)).unwrap();
    assert_eq!(balance(&taken, Account::Draw(Draw::PersonalItems)), "600.00");
    assert_eq!(balance(&taken, Account::BusinessPropertySales), "0.00");
}

// Common practice, no source.
#[test]
fn every_fault_of_a_disposal_is_told_at_once() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-05", 1, "1")]);
    assert_eq!(
        findings(leaves(&saw, "0", &leaving("2025-02-01", DisposalKind::Sold, None))),
        [
            "/date: 2025-02-01 is before 2025-03-01, the day the tool came",
            "/date: a use of 2025-03-05 is logged, after the day it would leave",
            "/proceeds: the tool was sold, and no price is given",
        ]
    );
    let private = leaving("2025-06-01", DisposalKind::PersonalUse, Some("10.00"));
    assert_eq!(
        findings(leaves(&saw, "0", &private)),
        ["/proceeds: the tool was taken for private use, and proceeds are given"]
    );
    let nowhere = NewDisposal { paid_into: None, ..leaving("2025-06-01", DisposalKind::Sold, Some("10.00")) };
    assert_eq!(
        findings(leaves(&saw, "0", &nowhere)),
        ["/paid_into: proceeds are given, but not where they went"]
    );
}

// Common practice, no source: 150 charged for 100 hours; 450 over the 500 hours then left is 0.90 an hour.
#[test]
fn a_new_estimate_touches_later_uses_only() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "100")]);
    let longer = NewEstimate { hours_expected: Hours::parse("600"), ..estimate("2025-04-01") };
    let recording = write(|pen| estimate_anew(pen, &saw, &longer)).unwrap();
    assert!(recording.entries.is_empty() && recording.attributions.is_empty());
    saw.take_up(&recording);
    saw.used(&[("2025-03-20", 2, "10"), ("2025-04-02", 3, "10")]);
    assert_eq!([saw.on(1), saw.on(2), saw.on(3)], ["150.00", "15.00", "9.00"]);
    // Another one that only sees a higher salvage: 649 - 109 - 174 over 480 hours left.
    let dearer = NewEstimate { salvage: Amount::parse("109.00"), ..estimate("2025-05-01") };
    saw.take_up(&write(|pen| estimate_anew(pen, &saw, &dearer)).unwrap());
    assert_eq!(saw.estimates[1].row.left, dollars("366.00"));
    assert_eq!(saw.estimates[1].row.plan, AttributionPlan::PerUseHour { hours_expected: 600.into() });
    saw.used(&[("2025-05-02", 4, "48")]);
    assert_eq!(saw.on(4), "36.60");
    saw.used(&[("2025-05-02", 4, "2000")]);
    assert_eq!(saw.in_all(), "540.00");
}

// Common practice, no source: 50 a month for two months, then 500 over the 20 months left.
#[test]
fn a_longer_life_lowers_the_months_to_come() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-02", 1, "")]);
    let longer = NewEstimate { months: Some(22), ..estimate("2025-05-10") };
    saw.take_up(&write(|pen| estimate_anew(pen, &saw, &longer)).unwrap());
    saw.used(&[("2025-04-02", 2, ""), ("2025-05-02", 3, ""), ("2026-12-02", 4, "")]);
    assert_eq!([saw.on(2), saw.on(3), saw.on(4)], ["50.00", "25.00", "25.00"]);
    assert!(amounts(&saw.used(&[("2027-01-02", 5, "")])).is_empty());
}

// Common practice, no source.
#[test]
fn an_estimate_that_contradicts_what_happened_is_refused() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "100")]);
    let refused = |new: NewEstimate| findings(write(|pen| estimate_anew(pen, &saw, &new)));
    assert_eq!(refused(estimate("2025-04-01")), [": nothing new is estimated"]);
    let run = NewEstimate { hours_expected: Hours::parse("100"), ..estimate("2025-04-01") };
    assert_eq!(refused(run), ["/hours_expected: 100 are expected in all, and 100 of them are gone already"]);
    let early = NewEstimate { months: Some(3), ..estimate("2025-03-02") };
    assert_eq!(
        refused(early),
        [
            "/date: uses up to 2025-03-02 are charged already; the estimate is of 2025-03-02",
            "/months: months is given, but the tool's method does not use it",
        ]
    );
    let worth = NewEstimate { salvage: Amount::parse("500.00"), ..estimate("2025-04-01") };
    assert_eq!(
        refused(worth),
        ["/salvage: a salvage of 500.00 leaves -1.00 to spread after what is charged already"]
    );
}

// Derived from invariant 6: from 3 to 9 April the sale stood, and the saw had nothing left to give.
#[test]
fn while_a_sale_stood_that_was_taken_back_later_a_use_costs_from_the_later_day_and_no_second_sale_is_dated() {
    let mut facts = saw(BY_HOUR);
    facts.gone_until = Some(day("2025-04-09"));
    let used = facts.used(&[("2025-04-06", 1, "10")]);
    assert_eq!(used.attributions[0].date, day("2025-04-09"));
    let Some(Row::ToolUse(row)) = used.rows.first() else { panic!("a use") };
    assert_eq!(row.date, day("2025-04-06"), "the use keeps its own day");
    let mut idle = saw(BY_HOUR);
    idle.gone_until = facts.gone_until;
    let early = leaving("2025-04-08", DisposalKind::Scrapped, None);
    assert_eq!(
        findings(leaves(&idle, "0", &early)),
        ["/date: the books are without it on 2025-04-08: its earlier leaving was taken back on 2025-04-09"]
    );
    assert!(leaves(&idle, "0", &leaving("2025-04-09", DisposalKind::Scrapped, None)).is_ok());
}

#[test]
fn a_tool_taken_home_is_no_sale_and_one_lost_says_what_it_stood_at() {
    let said = |kind| {
        let left = leaves(&saw(BY_HOUR), "0", &leaving("2025-04-09", kind, None)).unwrap();
        left.notes[0].clone()
    };
    assert_eq!(said(DisposalKind::PersonalUse), "649.00 goes to the owner's draw; it is no sale");
    assert!(said(DisposalKind::Stolen).starts_with("a loss of 649.00 against 649.00 on the books"));
}

// Derived: a use is charged by what was known of the tool's life by its month, and by nothing that was said later.
#[test]
fn a_use_stands_on_the_estimates_of_its_month_and_before_and_on_none_after() {
    let mut saw = saw(BY_HOUR);
    let hours = |date, hours| NewEstimate { hours_expected: Hours::parse(hours), ..estimate(date) };
    let made = write(|pen| estimate_anew(pen, &saw, &hours("2025-05-10", "600"))).unwrap();
    saw.take_up(&made);
    let said = saw.estimates[0].record;
    let stands_on = |date| saw.tries(&books(), &[(date, 1, "2")]).unwrap().depends_on;
    assert_eq!(stands_on("2025-04-30"), [saw.record]);
    assert_eq!(stands_on("2025-05-10"), [saw.record, said]);
    assert_eq!(stands_on("2025-06-01"), [saw.record, said]);
}
