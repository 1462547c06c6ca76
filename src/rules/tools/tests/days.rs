//! First and last days, and the last hour and month that still fit.

use super::life::{BY_HOUR, BY_MONTH, leaving};
use super::*;
use crate::rules::journal::{Account, EntryKind};
use crate::rules::money::{Amount, Hours};
use crate::rules::rows::DisposalKind;
use crate::rules::trial::{balance, findings, ties};

const BY_SHARE: &str = r#"{ "method": "percentages" }"#;

fn goes(facts: &ToolFacts, accumulated: &str, new: &NewDisposal) -> Result<Recording, Refusal> {
    let into = new.paid_into.map(|_| bank());
    write(|pen| dispose(pen, facts, carried(facts, accumulated), into, new))
}

fn scrapped(facts: &ToolFacts, date: &str) -> Result<Recording, Refusal> {
    goes(facts, "0", &leaving(date, DisposalKind::Scrapped, None))
}

fn estimate(date: &str) -> NewEstimate {
    NewEstimate { date: day(date), hours_expected: None, months: None, salvage: None, note: None }
}

fn hours(date: &str, hours: &str) -> NewEstimate {
    NewEstimate { hours_expected: Hours::parse(hours), ..estimate(date) }
}

fn months(date: &str, months: u32) -> NewEstimate {
    NewEstimate { months: Some(months), ..estimate(date) }
}

fn anew(facts: &ToolFacts, new: &NewEstimate) -> Result<Recording, Refusal> {
    write(|pen| estimate_anew(pen, facts, new))
}

// Common practice, no source: a saw can break on the day it came, or in the middle of its last cut.
#[test]
fn a_tool_may_leave_on_the_day_it_came_was_last_used_or_was_estimated_anew() {
    assert!(scrapped(&saw(BY_HOUR), "2025-03-01").is_ok());
    let mut used = saw(BY_HOUR);
    used.used(&[("2025-03-09", 1, "1"), ("2025-03-05", 1, "1")]);
    assert!(scrapped(&used, "2025-03-09").is_ok());
    assert_eq!(
        findings(scrapped(&used, "2025-03-08")),
        ["/date: a use of 2025-03-09 is logged, after the day it would leave"]
    );
    let mut estimated = saw(BY_HOUR);
    estimated.take_up(&anew(&estimated, &hours("2025-05-10", "600")).unwrap());
    assert!(scrapped(&estimated, "2025-05-10").is_ok());
    assert_eq!(
        findings(scrapped(&estimated, "2025-05-09")),
        ["/date: it was estimated anew on 2025-05-10, after the day it would leave"]
    );
}

// Principles of Financial Accounting, 11.5 (from memory); figures derived: 649 less 49 is 600 on the books.
#[test]
fn a_saw_sold_for_just_what_the_books_carry_gives_neither_gain_nor_loss() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "400")]);
    let buyer = crate::rules::trial::party(3);
    let new = NewDisposal { party: Some(buyer), ..leaving("2025-06-01", DisposalKind::Sold, Some("600.00")) };
    let sold = goes(&saw, "49", &new).unwrap();
    ties(&sold, &[(saw.tool.source, crate::rules::recording::Side::Cost)]);
    assert_eq!(balance(&sold, Account::BusinessPropertySales), "0.00");
    assert_eq!((sold.entries[0].kind, sold.party), (EntryKind::Disposal, Some(buyer)));
    assert_eq!(sold.depends_on, [saw.record, saw.uses[0].record]);
    assert_eq!(
        sold.notes,
        [
            "a gain of 0.00 against 600.00 on the books, before the year's depreciation; the year's summary works \
             out the tax figure",
            "49.00 of its cost had reached no episode and leaves with it",
        ]
    );
}

// Common practice, no source.
#[test]
fn scrap_may_bring_something_and_what_comes_in_is_never_less_than_nothing() {
    let saw = saw(BY_HOUR);
    let metal = goes(&saw, "0", &leaving("2025-06-01", DisposalKind::Scrapped, Some("12.00"))).unwrap();
    assert_eq!(balance(&metal, Account::BusinessPropertySales), "637.00");
    assert!(metal.notes[0].starts_with("a loss of 637.00 against 649.00"), "{:?}", metal.notes);
    assert_eq!(
        findings(goes(&saw, "0", &leaving("2025-06-01", DisposalKind::Scrapped, Some("-0.01")))),
        ["/proceeds: -0.01 is negative"]
    );
    let given =
        NewDisposal { paid_into: Some(bank().id), ..leaving("2025-06-01", DisposalKind::Scrapped, None) };
    assert_eq!(
        findings(goes(&saw, "0", &given)),
        ["/paid_into: a money account is named, but there are no proceeds"]
    );
}

// Common practice, no source.
#[test]
fn a_borrowed_tool_is_not_ours_to_sell_and_leaves_without_an_amount_when_it_goes_back() {
    let loan = saw(r#"{ "method": "equal_share", "origin": "loan", "cost": null, "salvage": null }"#);
    assert_eq!(
        findings(goes(&loan, "0", &leaving("2025-06-01", DisposalKind::Sold, Some("10.00")))),
        ["/kind: the tool is a loan: its lender owns it"]
    );
    let back = scrapped(&loan, "2025-06-01").unwrap();
    assert!(back.entries.is_empty() && back.movements.is_empty(), "{back:?}");
    assert_eq!(back.notes[1], "a tool nothing was paid for: it has no basis");
}

// Common practice, no source: 150 of 600 is charged for 100 hours.
#[test]
fn a_life_by_hours_is_estimated_from_the_day_after_the_last_use_and_above_the_hours_run() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "100")]);
    assert_eq!(
        findings(anew(&saw, &hours("2025-03-02", "600"))),
        ["/date: uses up to 2025-03-02 are charged already; the estimate is of 2025-03-02"]
    );
    let next_day = anew(&saw, &hours("2025-03-03", "100.01")).unwrap();
    assert_eq!(next_day.notes, ["450.00 is left to spread over the rest of its life, from 2025-03-03 on"]);
    assert_eq!(next_day.depends_on, [saw.record, saw.uses[0].record]);
    // All that was charged and not a cent more may be left: 649 less 499.
    let worth = |salvage| NewEstimate { salvage: Amount::parse(salvage), ..estimate("2025-04-01") };
    assert!(anew(&saw, &worth("499.00")).unwrap().notes[0].starts_with("0.00 is left to spread"));
    assert!(
        findings(anew(&saw, &worth("499.01")))[0].starts_with("/salvage: a salvage of 499.01 leaves -0.01")
    );
    saw.take_up(&anew(&saw, &hours("2025-05-10", "600")).unwrap());
    assert!(anew(&saw, &hours("2025-05-10", "700")).is_ok(), "thought better of it the same day");
    assert_eq!(
        findings(anew(&saw, &hours("2025-05-09", "700"))),
        ["/date: there is an estimate of 2025-05-10 already"]
    );
}

// Common practice, no source: the share of a month is split over its uses once.
#[test]
fn a_life_by_months_is_estimated_from_the_month_after_the_last_use_and_above_the_months_gone() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-04-02", 1, "")]);
    assert_eq!(
        findings(anew(&saw, &months("2025-04-30", 22))),
        ["/date: the month of 2025-04-02 is split over its uses already"]
    );
    assert!(anew(&saw, &months("2025-05-01", 22)).is_ok());
    assert_eq!(
        findings(anew(&saw, &months("2025-05-01", 2))),
        ["/months: 2 are expected in all, and 2 of them are gone already"]
    );
    let short = anew(&saw, &months("2025-05-01", 3)).unwrap();
    assert!(short.notes[0].starts_with("500.00 is left to spread"), "{:?}", short.notes);
    assert_eq!(
        findings(anew(&saw, &hours("2025-05-01", "600"))),
        ["/hours_expected: hours_expected is given, but the tool's method does not use it"]
    );
    let shared = super::saw(BY_SHARE);
    let worth = NewEstimate { salvage: Amount::parse("10.00"), ..estimate("2025-05-01") };
    assert_eq!(findings(anew(&shared, &worth)), [": the tool's method goes by no estimate of its life"]);
    saw.take_up(&scrapped(&saw, "2025-06-01").unwrap());
    assert_eq!(findings(anew(&saw, &months("2025-07-01", 22))), [": the tool left on 2025-06-01"]);
}

// Common practice, no source.
#[test]
fn a_tool_is_used_from_its_first_day_to_its_last_and_shared_out_to_the_last_percent() {
    let mut by_share = saw(BY_SHARE);
    by_share.used(&[("2025-03-01", 1, "60")]);
    assert_eq!(
        findings(by_share.tries(&books(), &[("2025-03-02", 2, "40"), ("2025-03-02", 3, "0")])),
        ["/uses/1/share: the share is zero"]
    );
    assert_eq!(
        findings(by_share.tries(&books(), &[("2025-03-02", 2, "")])),
        ["/uses/0/share: the tool is charged by percentages, and the use has none"]
    );
    by_share.used(&[("2025-03-02", 2, "40")]);
    assert_eq!((by_share.on(1).as_str(), by_share.on(2).as_str()), ("360.00", "240.00"));
    let mut saw = saw(BY_HOUR);
    saw.take_up(&scrapped(&saw, "2025-06-01").unwrap());
    assert!(saw.tries(&books(), &[("2025-06-01", 1, "1")]).is_ok());
    assert!(saw.tries(&books(), &[("2025-06-02", 1, "1")]).is_err());
}

// Common practice, no source.
#[test]
fn uses_are_told_in_one_sentence_and_each_episode_is_named_once() {
    let saw = saw(BY_HOUR);
    let one = saw.tries(&books(), &[("2025-03-02", 1, "1")]).unwrap();
    assert_eq!(one.text, "table saw: 1 use");
    let uses = [("2025-03-09", 1, "1"), ("2025-03-02", 2, "1"), ("2025-03-05", 1, "2")];
    let three = saw.tries(&books(), &uses).unwrap();
    assert_eq!((three.text.as_str(), three.date), ("table saw: 3 uses", day("2025-03-09")));
    assert_eq!(three.about, [CostObject::Episode(episode(2)), CostObject::Episode(episode(1))]);
    assert_eq!(three.notes[0], "6.00 of table saw reaches episodes and projects; the ledger is not touched");
}

// Derived: 100 of 400 hours had used up 150 of 600 before the books, and each further hour costs 1.50.
#[test]
fn hours_run_before_the_books_count_in_its_life_and_leave_less_to_attribute() {
    let mut saw = saw(BY_HOUR);
    saw.tool.hours_before = 100.into();
    assert_eq!(saw.cap().unwrap(), dollars("450.00"));
    saw.used(&[("2025-03-02", 1, "12.5")]);
    assert_eq!(saw.hours_run(), Decimal::new(1125, 1));
    assert_eq!(saw.left_to_attribute().unwrap(), dollars("431.25"));
    // Another life goes over what had not run by then.
    saw.take_up(&anew(&saw, &hours("2025-03-03", "200")).unwrap());
    assert_eq!(saw.estimates[0].row.hours_run, Decimal::new(1125, 1));
    assert_eq!(
        findings(anew(&saw, &hours("2025-03-03", "112.5"))),
        ["/hours_expected: 112.5 are expected in all, and 112.5 of them are gone already"]
    );
}

// Common practice, no source: what it will be worth is no part of what episodes bear.
#[test]
fn no_salvage_leaves_less_to_episodes_than_they_bear_or_is_above_the_cost() {
    let worth = |salvage| NewEstimate { salvage: Amount::parse(salvage), ..estimate("2025-04-01") };
    let left = |facts: &ToolFacts, salvage| {
        let made = anew(facts, &worth(salvage)).unwrap();
        let [Row::ToolEstimate(row)] = &made.rows[..] else { panic!("one estimate") };
        row.left.to_string()
    };
    let refused = |facts: &ToolFacts, salvage| findings(anew(facts, &worth(salvage)));
    for terms in [BY_HOUR, r#"{ "method": "straight_line", "months": 12, "in_service_on": "2025-04-01" }"#] {
        let idle = saw(terms);
        assert_eq!(left(&idle, "649.00"), "0.00", "{terms}");
        assert_eq!(
            refused(&idle, "649.01"),
            ["/salvage: a salvage of 649.01 leaves -0.01 to spread after what is charged already"]
        );
        // Earlier episodes had 180.00 of it before the books, and one had 50.00 since: that leaves 419.00.
        let mut opened = idle;
        opened.held = dollars("469.00");
        opened.attributed = vec![(day("2025-03-02"), CostObject::Episode(episode(1)), dollars("50.00"))];
        assert_eq!([left(&opened, "49.00"), left(&opened, "419.00")], ["370.00", "0.00"], "{terms}");
        assert_eq!(
            refused(&opened, "419.01"),
            ["/salvage: a salvage of 419.01 leaves -0.01 to spread after what is charged already"]
        );
    }
}

// Common practice, no source.
#[test]
fn a_life_by_months_lasts_a_century_at_most() {
    let saw = saw(BY_MONTH);
    let longest = anew(&saw, &months("2025-05-01", 1_200)).unwrap();
    let [Row::ToolEstimate(row)] = &longest.rows[..] else { panic!("one estimate") };
    assert_eq!(row.plan, AttributionPlan::StraightLine { months: 1_200 });
    assert_eq!(
        findings(anew(&saw, &months("2025-05-01", 1_201))),
        ["/months: 1201 months is no life of a tool"]
    );
}

// Pub. 551, property changed to business use, from memory.
#[test]
fn a_tool_with_two_bases_says_so_as_it_is_scrapped_and_not_as_it_is_taken_home() {
    let mut camera = saw(BY_HOUR);
    camera.tool.basis_for_gain = dollars("900.00");
    let notes = |kind| goes(&camera, "0", &leaving("2025-06-01", kind, None)).unwrap().notes;
    let unattributed = "649.00 of its cost had reached no episode and leaves with it";
    assert_eq!(
        notes(DisposalKind::Scrapped),
        [
            "a loss of 649.00 against 649.00 on the books, before the year's depreciation; the year's summary works out \
             the tax figure",
            unattributed,
            "it has two bases: 900.00 counts for a gain, 649.00 for a loss, each less depreciation; a sale between them \
             gives neither",
        ]
    );
    assert_eq!(
        notes(DisposalKind::PersonalUse),
        ["649.00 goes to the owner's draw; it is no sale", unattributed]
    );
}
