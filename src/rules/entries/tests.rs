//! Taking back, in the trade's sentences.

mod mirrors;

use uuid::Uuid;

use super::super::ids::{EpisodeId, RecordId, SourceId};
use super::super::recording::{Category, CostObject, Label, MovementKind};
use super::super::refusal::Standing;
use super::super::trial::{books, day, dollars, write, write_in};
use super::*;

const SOURCE: SourceId = SourceId(Uuid::from_u128(1));
const EPISODE: CostObject = CostObject::Episode(EpisodeId(Uuid::from_u128(2)));

fn record(number: u128, text: &str, date: &str) -> RecordToTakeBack {
    RecordToTakeBack {
        record: RecordId(Uuid::from_u128(100 + number)),
        word: Word::Materials,
        text: text.to_owned(),
        date: day(date),
        reversed_by: None,
        takes_back: Vec::new(),
        drawn_on_until: None,
        entries: Vec::new(),
        movements: Vec::new(),
        attributions: Vec::new(),
        written_off: Vec::new(),
    }
}

/// Plywood of 1 March, bought for 54.90.
fn receipt() -> RecordToTakeBack {
    let mut receipt = record(1, "plywood", "2025-03-01");
    let movement = Movement {
        source: SOURCE,
        date: day("2025-03-01"),
        kind: MovementKind::Incurred,
        amount: dollars("54.90"),
        entry: None,
    };
    receipt.movements.push((movement, None));
    receipt
}

/// An issue of it on 8 March.
fn issue() -> RecordToTakeBack {
    let mut issue = record(2, "plywood issued", "2025-03-08");
    issue.attributions.push(Attribution {
        source: SOURCE,
        date: day("2025-03-08"),
        object: EPISODE,
        label: Label::Category(Category::Materials),
        amount: dollars("30.88"),
    });
    issue
}

fn asked(date: Option<&str>) -> NewReversal {
    NewReversal {
        reason: "entered twice".to_owned(),
        date: date.map(day),
        dependants: Some(Dependants::TakeBack),
    }
}

/// The days on which the receipt's cost and the issue's share are undone.
fn undone_on(asked: &NewReversal) -> (NaiveDate, NaiveDate) {
    let taken = write(|pen| take_back(pen, &receipt(), &[issue()], asked)).unwrap();
    (taken.movements[0].date, taken.attributions[0].date)
}

// Derived from invariant 6: between 1 and 8 March nothing was given that could be taken off.
#[test]
fn what_stood_on_a_record_is_undone_on_its_own_day_and_never_before() {
    assert_eq!(undone_on(&asked(None)), (day("2025-03-01"), day("2025-03-08")));
    assert_eq!(undone_on(&asked(Some("2025-03-05"))), (day("2025-03-05"), day("2025-03-08")));
    assert_eq!(undone_on(&asked(Some("2025-04-01"))), (day("2025-04-01"), day("2025-04-01")));
}

#[test]
fn a_reversal_is_not_dated_before_what_it_takes_back() {
    let refusal =
        write(|pen| take_back(pen, &receipt(), &[issue()], &asked(Some("2025-02-28")))).unwrap_err();
    let found = refusal.findings().next().unwrap();
    assert_eq!(found.pointer, "/date");
    assert_eq!(found.said().detail, "the reversal is dated 2025-02-28, and the record is of 2025-03-01");
    assert_eq!(refusal.standing(), Standing::Invalid);
}

#[test]
fn what_happened_in_a_closed_period_is_undone_on_the_first_open_day() {
    let mut closed = books();
    closed.first_open = day("2025-03-04");
    let taken = write_in(&closed, |pen| take_back(pen, &receipt(), &[issue()], &asked(None))).unwrap();
    assert_eq!((taken.movements[0].date, taken.attributions[0].date), (day("2025-03-04"), day("2025-03-08")));
    assert!(taken.notes.iter().any(|note| note.starts_with("2025-03-01 is closed")), "{:?}", taken.notes);
}

// A late use splits a month again by rows of several days.
#[test]
fn every_row_of_one_record_is_undone_on_its_own_day() {
    let mut uses = issue();
    uses.attributions.push(Attribution { date: day("2025-05-02"), ..uses.attributions[0].clone() });
    let days = |asked: &NewReversal| -> Vec<String> {
        let taken = write(|pen| take_back(pen, &uses, &[], asked)).unwrap();
        taken.attributions.iter().map(|one| one.date.to_string()).collect()
    };
    assert_eq!(days(&asked(None)), ["2025-03-08", "2025-05-02"]);
    assert_eq!(days(&asked(Some("2025-04-01"))), ["2025-04-01", "2025-05-02"]);
}

// Derived from invariant 6: until 2 April the issue still drew on the plywood.
#[test]
fn a_record_is_not_undone_before_what_drew_on_it_was() {
    let mut drawn_on = receipt();
    drawn_on.drawn_on_until = Some(day("2025-04-02"));
    let taken = write(|pen| take_back(pen, &drawn_on, &[], &asked(None))).unwrap();
    assert_eq!((taken.date, taken.movements[0].date), (day("2025-04-02"), day("2025-04-02")));
    let refusal = write(|pen| take_back(pen, &drawn_on, &[], &asked(Some("2025-04-01")))).unwrap_err();
    let said = refusal.findings().next().unwrap().said();
    assert_eq!(
        said.detail,
        "the reversal is dated 2025-04-01, and records on it were taken back only on 2025-04-02"
    );
}

// Derived from invariant 2: a reversal is the opposite of what it takes back, to the cent and by its own entry.
#[test]
fn every_movement_and_share_is_undone_by_its_own_amount_and_in_the_entry_that_posts_it() {
    let mut bought = receipt();
    bought.entries.push(Posted { number: 7, date: day("2025-03-01"), postings: Vec::new() });
    bought.movements[0].1 = Some(7);
    let taken = write(|pen| take_back(pen, &bought, &[issue()], &asked(None))).unwrap();
    let [movement] = &taken.movements[..] else { panic!("one movement") };
    assert_eq!((movement.amount, movement.entry), (dollars("-54.90"), Some(0)));
    let [share] = &taken.attributions[..] else { panic!("one share") };
    assert_eq!((share.amount, share.object), (dollars("-30.88"), EPISODE));
}

#[test]
fn a_reversal_says_how_many_records_went_with_it_and_why_it_is_dated_as_it_is() {
    let with = |dependants: &[RecordToTakeBack], asked: &NewReversal| {
        write(|pen| take_back(pen, &receipt(), dependants, asked)).unwrap().notes
    };
    assert_eq!(with(&[issue()], &asked(None)), ["1 records that stood on it were taken back with it"]);
    assert!(with(&[], &asked(None)).is_empty());
    let mut drawn_on = receipt();
    drawn_on.drawn_on_until = Some(day("2025-04-02"));
    let said = |date| write(|pen| take_back(pen, &drawn_on, &[], &asked(date))).unwrap().notes;
    assert_eq!(
        said(None),
        ["records on it were taken back on 2025-04-02, so the reversal is dated on that day too"]
    );
    assert!(said(Some("2025-04-03")).is_empty(), "the day was chosen, so nothing is to be explained");
    let mut closed = books();
    closed.first_open = day("2025-03-02");
    let chosen =
        write_in(&closed, |pen| take_back(pen, &receipt(), &[], &asked(Some("2025-03-02")))).unwrap();
    assert!(chosen.notes.is_empty(), "{:?}", chosen.notes);
}

// Common practice, no source.
#[test]
fn a_record_goes_alone_unless_others_stand_on_it_and_then_only_if_they_may_go_too() {
    let alone = NewReversal { dependants: None, ..asked(None) };
    let taken = write(|pen| take_back(pen, &receipt(), &[], &alone)).unwrap();
    assert_eq!(taken.movements[0].amount, dollars("-54.90"));
    let refusal = write(|pen| take_back(pen, &receipt(), &[issue()], &alone)).unwrap_err();
    assert_eq!(refusal.standing(), Standing::Conflict);
    let said = refusal.findings().next().unwrap().said();
    assert_eq!(
        said.detail,
        "other records stand on this one: plywood issued (00000000-0000-0000-0000-000000000066)"
    );
}

// Derived from invariant 6: what a later record draws on can be undone on the day of the last drawing and after it.
#[test]
fn what_was_drawn_on_is_undone_on_the_last_day_of_it_and_not_the_day_before() {
    let mut drawn_on = receipt();
    drawn_on.drawn_on_until = Some(day("2025-03-20"));
    let on = |date| write(|pen| take_back(pen, &drawn_on, &[], &asked(Some(date))));
    assert_eq!(on("2025-03-20").unwrap().date, day("2025-03-20"));
    let refusal = on("2025-03-19").unwrap_err();
    assert_eq!(refusal.findings().next().unwrap().pointer, "/date");
    // On the record's own day it is undone where nothing drew on it.
    assert!(write(|pen| take_back(pen, &receipt(), &[], &asked(Some("2025-03-01")))).is_ok());
}

fn wrong() -> RecordToReplace {
    RecordToReplace {
        record: receipt().record,
        text: "plywood".to_owned(),
        reversed_by: Some(RecordId(Uuid::from_u128(9))),
        replaced_by: None,
    }
}

fn right() -> Recording {
    Recording::new(Word::Purchases, "purchase", day("2025-03-01"), "birch plywood")
}

// Derived from invariant 2: a correction is a reversal and a replacement, linked both ways.
#[test]
fn what_is_right_stands_in_for_a_record_that_was_taken_back() {
    let mut right = right();
    stand_in(&mut right, &wrong()).unwrap();
    assert_eq!(right.replaces, Some(wrong().record));
    assert_eq!(right.notes, ["It stands in for a record that was taken back: plywood"]);
}

#[test]
fn nothing_stands_in_for_a_record_that_stands_or_has_its_replacement_and_no_reversal_or_closing_does() {
    let said = |mut recording: Recording, wrong: RecordToReplace| {
        let refusal = stand_in(&mut recording, &wrong).unwrap_err();
        assert_eq!((refusal.standing(), recording.replaces), (Standing::Conflict, None));
        let found = refusal.findings().next().unwrap();
        assert_eq!(found.pointer, "");
        found.said().detail
    };
    let (stood, by) = (wrong().record, RecordId(Uuid::from_u128(10)));
    let stands = RecordToReplace { reversed_by: None, ..wrong() };
    assert_eq!(said(right(), stands), format!("record {stood} stands, so nothing can stand in for it"));
    let replaced = RecordToReplace { replaced_by: Some(by), ..wrong() };
    assert_eq!(said(right(), replaced), format!("record {by} stands in for it already"));
    let reversal = write(|pen| take_back(pen, &receipt(), &[], &asked(None))).unwrap();
    assert_eq!(said(reversal, wrong()), "a reversal stands in for nothing");
    let closing = Recording::new(Word::Books, "closing", day("2025-12-31"), "filed");
    assert_eq!(said(closing, wrong()), "a closing stands in for nothing");
}

// Derived: the first open day is open, so there is nothing to explain.
#[test]
fn a_record_of_the_first_open_day_is_taken_back_on_its_own_day_without_a_word() {
    let mut opened = books();
    opened.first_open = day("2025-03-01");
    let taken = write_in(&opened, |pen| take_back(pen, &receipt(), &[], &asked(None))).unwrap();
    assert_eq!(taken.movements[0].date, day("2025-03-01"));
    assert!(taken.notes.is_empty(), "{:?}", taken.notes);
}
