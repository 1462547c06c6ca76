//! Invariants 2 and 8 of any record: a reversal is its mirror to the cent, on open days, linked with it both ways.

use std::collections::BTreeMap;

use chrono::{Days, TimeDelta};
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::super::super::ids::ToolId;
use super::super::super::journal::{Account, Entry, EntryKind, Posting, TaxClass};
use super::super::super::money::Money;
use super::super::super::recording::BooksFacts;
use super::super::super::rows::{ChargeKind, Row};
use super::super::super::trial::{cents, day, keeps_out_of_closed_days};
use super::*;

fn first_day() -> NaiveDate {
    day("2025-01-01")
}

/// What one entry posts: an account by its place among the starters, cents, a class or none, a tax year. What is
/// missing is the owner's, so that it balances.
fn any_entry() -> impl Strategy<Value = (u64, Vec<Posting>)> {
    let line = (0..Account::starters().len(), -99_999_i64..99_999, any::<bool>(), 2020..2027_i32);
    (0..60_u64, prop::collection::vec(line, 1..5)).prop_map(|(after, lines)| {
        let line = |(place, amount, classed, tax_year): &(usize, i64, bool, i32)| Posting {
            account: Account::starters()[*place],
            amount: cents(*amount),
            class: classed.then_some(TaxClass::Supplies),
            tax_year: *tax_year,
        };
        let mut postings: Vec<_> = lines.iter().map(line).collect();
        let missing = cents(-lines.iter().map(|(_, amount, ..)| amount).sum::<i64>());
        let account = Account::OwnerContribution;
        postings.push(Posting { account, amount: missing, class: None, tax_year: 2025 });
        (after, postings)
    })
}

/// A movement's source, day, kind, cents and whether an entry stands behind it, counted through the record's entries.
type AnyMovement = (u128, u64, usize, i64, Option<usize>);

/// What any word may have written: entries, movements with and without an entry, shares and what a closing wrote off.
fn any_record(number: u128) -> impl Strategy<Value = RecordToTakeBack> {
    let movement = (1..4_u128, 0..60_u64, 0..MovementKind::ALL.len(), -99_999_i64..99_999);
    let movement = (movement, prop::option::of(0..4_usize)).prop_map(
        |((source, after, kind, amount), entry)| -> AnyMovement { (source, after, kind, amount, entry) },
    );
    let share = (1..4_u128, 0..60_u64, 1..4_u128, -99_999_i64..99_999);
    let charge = (0..ChargeKind::ALL.len(), prop::array::uniform4(0_i64..99_999));
    let entries = prop::collection::vec(any_entry(), 0..4);
    let movements = prop::collection::vec(movement, 0..5);
    let (shares, charges) = (prop::collection::vec(share, 0..5), prop::collection::vec(charge, 0..3));
    (entries, movements, shares, charges).prop_map(move |(entries, movements, shares, charges)| {
        let mut record = record(number, "plywood", "2025-01-01");
        for (place, (after, postings)) in (0_i64..).zip(entries) {
            // Numbers of two records never meet.
            let number = 100 * i64::try_from(number).unwrap() + place;
            record.entries.push(Posted { number, date: first_day() + Days::new(after), postings });
        }
        record.movements = movements.iter().map(|one| moved(&record, one)).collect();
        record.attributions = shares.iter().map(given).collect();
        record.written_off = charges.into_iter().map(|(kind, sums)| written_off(kind, sums)).collect();
        record
    })
}

fn moved(record: &RecordToTakeBack, one: &AnyMovement) -> (Movement, Option<i64>) {
    let (source, after, kind, amount, entry) = *one;
    let entry = entry.and_then(|place| record.entries.get(place)).map(|entry| entry.number);
    let (source, date) = (SourceId(Uuid::from_u128(source)), first_day() + Days::new(after));
    (Movement { source, date, kind: MovementKind::ALL[kind], amount: cents(amount), entry: None }, entry)
}

fn given((source, after, number, amount): &(u128, u64, u128, i64)) -> Attribution {
    Attribution {
        source: SourceId(Uuid::from_u128(*source)),
        date: first_day() + Days::new(*after),
        object: CostObject::Episode(EpisodeId(Uuid::from_u128(*number))),
        label: Label::Category(Category::Materials),
        amount: cents(*amount),
    }
}

fn written_off(kind: usize, [small_tool, section_179, depreciation, recaptured]: [i64; 4]) -> ToolCharge {
    ToolCharge {
        tool: Some(ToolId(Uuid::from_u128(77))),
        tax_year: 2025,
        kind: ChargeKind::ALL[kind],
        small_tool: cents(small_tool),
        section_179: cents(section_179),
        depreciation: cents(depreciation),
        recaptured: cents(recaptured),
    }
}

/// A record, records that stand on it, and the first open day after its own day.
fn any_chain() -> impl Strategy<Value = (RecordToTakeBack, Vec<RecordToTakeBack>, u64)> {
    let dependants = (prop::option::of(any_record(2)), prop::option::of(any_record(3)));
    let dependants = dependants.prop_map(|(one, other)| one.into_iter().chain(other).collect());
    (any_record(1), dependants, 0..90_u64)
}

fn opened_after(days: u64) -> BooksFacts {
    BooksFacts { first_open: first_day() + Days::new(days), ..books() }
}

/// Each posting beside its mirror, and the entry that takes its own back by number, on its own day or the first open.
fn mirrors(entries: &[Entry], of: &RecordToTakeBack, first_open: NaiveDate) -> Result<(), TestCaseError> {
    for one in &of.entries {
        let back: Vec<_> = entries.iter().filter(|entry| entry.reverses() == Some(one.number)).collect();
        prop_assert_eq!(back.len(), 1, "entry {} is taken back once", one.number);
        prop_assert_eq!((back[0].kind, back[0].date), (EntryKind::Reversal, one.date.max(first_open)));
        prop_assert_eq!(back[0].postings().len(), one.postings.len());
        for (there, here) in one.postings.iter().zip(back[0].postings()) {
            let unchanged = Posting { amount: here.amount, ..there.clone() };
            prop_assert_eq!((here, here.amount), (&unchanged, there.amount.negated()));
        }
    }
    Ok(())
}

/// The sum that each key moves by, without those that come to nothing.
fn sums<K: Ord>(parts: impl IntoIterator<Item = (K, Money)>) -> BTreeMap<K, Decimal> {
    let mut sums = BTreeMap::new();
    for (key, amount) in parts {
        *sums.entry(key).or_insert(Decimal::ZERO) += amount.amount();
    }
    sums.retain(|_, sum| !sum.is_zero());
    sums
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn a_reversal_mirrors_every_posting_to_the_cent_and_names_the_entry_it_takes_back(
        (chosen, dependants, opens) in any_chain(),
    ) {
        let closed = opened_after(opens);
        let taken = write_in(&closed, |pen| take_back(pen, &chosen, &dependants, &asked(None))).unwrap();
        let all = || dependants.iter().chain([&chosen]);
        for one in all() {
            mirrors(&taken.entries, one, closed.first_open)?;
        }
        let mirrored = taken.entries.iter().filter(|entry| entry.reverses().is_some()).count();
        prop_assert_eq!(mirrored, all().map(|one| one.entries.len()).sum::<usize>());
        for entry in &taken.entries {
            prop_assert!(entry.date >= closed.first_open);
            prop_assert!(entry.postings().iter().map(|one| one.amount.amount()).sum::<Decimal>().is_zero());
            prop_assert!(entry.reverses().is_some() || entry.kind == EntryKind::Depreciation);
        }
        // The latest goes first; each record is named once, which is the link from the other end too.
        let expected: Vec<_> = dependants.iter().rev().chain([&chosen]).map(|one| one.record).collect();
        prop_assert_eq!(&taken.reverses, &expected);
    }

    #[test]
    fn every_source_and_every_episode_is_as_if_the_record_had_not_been(
        (chosen, dependants, opens) in any_chain(), after in 0..200_u64,
    ) {
        let closed = opened_after(opens);
        let taken = write_in(&closed, |pen| take_back(pen, &chosen, &dependants, &asked(None))).unwrap();
        let all = || dependants.iter().chain([&chosen]);
        // From the first open day on, whichever day it is asked on.
        let by = closed.first_open + Days::new(after);
        let moved = all().flat_map(|one| &one.movements).map(|(one, _)| one).chain(&taken.movements);
        let by_then = moved.filter(|one| one.date <= by);
        prop_assert!(sums(by_then.map(|one| ((one.source, one.kind.as_str()), one.amount))).is_empty());
        let given = all().flat_map(|one| &one.attributions).chain(&taken.attributions);
        let by_then = given.filter(|one| one.date <= by);
        let key = |one: &Attribution| (one.source, one.object, one.label.as_str());
        prop_assert!(sums(by_then.map(|one| (key(one), one.amount))).is_empty());
        let before = |date: NaiveDate| date < closed.first_open;
        prop_assert!(!taken.movements.iter().any(|one| before(one.date)));
        prop_assert!(!taken.attributions.iter().any(|one| before(one.date)));
        // What stood behind a movement was an entry, and what stands behind its opposite takes that very entry back.
        let behind = |one: &Movement| one.entry.map(|place| taken.entries[place].reverses().unwrap());
        let undone = taken.movements.iter().map(|one| (behind(one), one.source, one.amount.amount()));
        let mut undone: Vec<_> = undone.collect();
        let done = all().flat_map(|one| &one.movements);
        let mut done: Vec<_> = done.map(|(one, entry)| (*entry, one.source, -one.amount.amount())).collect();
        undone.sort();
        done.sort();
        prop_assert_eq!(undone, done);
    }

    // What closed years wrote off goes back whole: every account is left as before it, in its own tax year.
    #[test]
    fn what_was_written_off_is_taken_back_amount_by_amount(
        chosen in any_record(1), opens in 0..90_u64,
    ) {
        let closed = opened_after(opens);
        let mut posted = Recording::new(Word::Books, "closing", first_day(), "what the closing wrote off");
        write_in(&closed, |pen| {
            let mut each = chosen.written_off.iter().map(std::slice::from_ref);
            each.try_for_each(|one| write_offs::post(pen, &mut posted, closed.first_open, "write-off", one))
        }).unwrap();
        let taken = write_in(&closed, |pen| take_back(pen, &chosen, &[], &asked(None))).unwrap();
        let own = taken.entries.iter().filter(|entry| entry.reverses().is_none());
        let both = posted.entries.iter().chain(own).flat_map(Entry::postings);
        let key = |one: &Posting| (one.account.code(), one.class.map(TaxClass::as_str), one.tax_year);
        let left = sums(both.map(|one| (key(one), one.amount)));
        prop_assert!(left.is_empty(), "{:?}", left);
        let charges = |of: &Recording| of.rows.iter().filter(|row| matches!(row, Row::ToolCharge(_))).count();
        prop_assert_eq!(charges(&posted), charges(&taken));
    }

    // Invariant 2: linked both ways, and once.
    #[test]
    fn a_record_is_taken_back_once_and_replaced_once(chosen in any_record(1), apart in 0..40_i64) {
        let taken = write(|pen| take_back(pen, &chosen, &[], &asked(None))).unwrap();
        let by = RecordId(Uuid::from_u128(900));
        let gone = RecordToTakeBack { reversed_by: Some(by), ..chosen.clone() };
        prop_assert!(write(|pen| take_back(pen, &gone, &[], &asked(None))).is_err(), "taken back twice");
        let reversal = RecordToTakeBack { record: by, takes_back: taken.reverses.clone(), ..chosen.clone() };
        prop_assert!(write(|pen| take_back(pen, &reversal, &[], &asked(None))).is_err(), "a reversal reversed");
        let wrong = |reversed_by, replaced_by| RecordToReplace {
            record: chosen.record, text: chosen.text.clone(), reversed_by, replaced_by,
        };
        let date = chosen.date + TimeDelta::days(apart);
        let right = || Recording::new(Word::Purchases, "purchase", date, "birch plywood");
        let mut first = right();
        stand_in(&mut first, &wrong(Some(by), None)).unwrap();
        prop_assert_eq!(first.replaces, Some(taken.reverses[0]));
        for (reversed_by, replaced_by) in [(None, None), (Some(by), Some(by)), (None, Some(by))] {
            let mut again = right();
            prop_assert!(stand_in(&mut again, &wrong(reversed_by, replaced_by)).is_err());
            prop_assert_eq!(again.replaces, None);
        }
    }
}

#[test]
fn nothing_is_taken_back_on_a_closed_day() {
    keeps_out_of_closed_days("2025-03-08", |pen, date| {
        let on = NewReversal { date: Some(date), ..asked(None) };
        take_back(pen, &receipt(), &[issue()], &on)
    });
}
