//! Choices are recorded for a year.

use proptest::prelude::*;

use super::super::elect::{NewElection, elect};
use super::super::profile::Profile;
use super::super::summarise;
use super::home_offices::{new, nothing_yet, state_for};
use super::{books, day, year};
use crate::rules::ids::IdSource;
use crate::rules::recording::{BooksFacts, Pen, Recording};
use crate::rules::refusal::{Refusal, Standing};
use crate::rules::rows::{Election, ElectionKind, RecoveryClass, Row};
use crate::rules::trial::holds_for_any;

struct NoIds;

impl IdSource for NoIds {
    fn next(&mut self) -> uuid::Uuid {
        unreachable!("a choice makes nothing that needs an id")
    }
}

fn choose(
    books: &BooksFacts,
    year: i32,
    chosen: &[Election],
    kind: ElectionKind,
    class: Option<RecoveryClass>,
) -> Result<Recording, Refusal> {
    let new = NewElection { kind, class, note: None };
    elect(&Pen { books, ids: &mut NoIds }, year, Profile::find("us", year).ok(), chosen, &new)
}

fn refused(result: Result<Recording, Refusal>) -> Vec<(String, Standing)> {
    let refusal = result.unwrap_err();
    refusal.findings().map(|one| (one.pointer.clone(), one.said().standing)).collect()
}

#[test]
fn a_choice_is_kept_under_the_last_day_of_its_year_and_posts_nothing() {
    let made = choose(&books(), 2025, &[], ElectionKind::DeMinimis, None).unwrap();
    assert_eq!((made.kind, made.date, made.entries.len()), ("election", day("2025-12-31"), 0));
    assert!(matches!(made.rows.as_slice(), [Row::Election(Election { tax_year: 2025, class: None, .. })]));
    assert!(made.notes[0].contains("no more than 2500 an item"), "{:?}", made.notes);
    // Before the books, and of a year without a profile: an opening position's tool may rest on it.
    let class = Some(RecoveryClass::Seven);
    let fresh = BooksFacts { began_on: day("2023-01-01"), ..books() };
    let older = choose(&fresh, 2021, &[], ElectionKind::StraightLine, class).unwrap();
    assert_eq!((older.date, older.notes.len()), (day("2021-12-31"), 0));
    let closed = BooksFacts { first_open: day("2023-01-02"), ..fresh };
    assert!(choose(&closed, 2021, &[], ElectionKind::StraightLine, class).is_err());
}

#[test]
fn a_class_is_needed_where_the_law_chooses_by_class_and_nowhere_else() {
    // IRC 168(k)(7), 168(b)(5); Reg. 1.263(a)-1(f)(5) (from memory)
    for kind in ElectionKind::ALL.iter().copied() {
        let by_class = matches!(kind, ElectionKind::NoSpecialAllowance | ElectionKind::StraightLine);
        let class = |given: bool| given.then_some(RecoveryClass::Five);
        assert!(choose(&books(), 2025, &[], kind, class(by_class)).is_ok(), "{kind}");
        let wrong = refused(choose(&books(), 2025, &[], kind, class(!by_class)));
        assert_eq!(wrong, [("/class".to_owned(), Standing::Invalid)], "{kind}");
    }
}

#[test]
fn the_lower_allowance_is_a_choice_of_2025_alone() {
    // IRC 168(k)(10) (from memory)
    let kind = ElectionKind::LowerAllowance2025;
    assert!(choose(&books(), 2025, &[], kind, None).is_ok());
    let both = refused(choose(&books(), 2026, &[], kind, Some(RecoveryClass::Three)));
    assert_eq!(both, [("/class".to_owned(), Standing::Invalid), ("/kind".to_owned(), Standing::Invalid)]);
}

#[test]
fn a_choice_is_recorded_once_a_year_and_class() {
    let kind = ElectionKind::NoSpecialAllowance;
    let one = Election { tax_year: 2025, kind, class: Some(RecoveryClass::Five) };
    let again = choose(&books(), 2025, &[one], kind, Some(RecoveryClass::Five));
    assert_eq!(refused(again), [("/kind".to_owned(), Standing::Conflict)]);
    assert!(choose(&books(), 2025, &[one], kind, Some(RecoveryClass::Seven)).is_ok());
    assert!(choose(&books(), 2026, &[one], kind, Some(RecoveryClass::Five)).is_ok());
}

#[test]
fn a_closed_year_takes_no_choice_until_it_is_reopened() {
    let closed = BooksFacts { first_open: day("2026-01-01"), ..books() };
    let refusal = refused(choose(&closed, 2025, &[], ElectionKind::DeMinimis, None));
    assert_eq!(refusal, [(String::new(), Standing::Conflict)]);
    assert!(choose(&closed, 2026, &[], ElectionKind::DeMinimis, None).is_ok());
    let far = refused(choose(&books(), 1787, &[], ElectionKind::DeMinimis, None));
    assert_eq!(far, [(String::new(), Standing::Invalid)]);
}

// Common practice, no source.
#[test]
fn a_choice_is_named_with_its_class_where_it_has_one() {
    let five = Some(RecoveryClass::Five);
    let by_class = choose(&books(), 2025, &[], ElectionKind::StraightLine, five).unwrap();
    assert_eq!(by_class.text, "chosen for 2025: straight_line for the 5-year class");
    let whole = choose(&books(), 2025, &[], ElectionKind::DeMinimis, None).unwrap();
    assert_eq!(whole.text, "chosen for 2025: de_minimis");
    let one = Election { tax_year: 2025, kind: ElectionKind::StraightLine, class: five };
    let again = choose(&books(), 2025, &[one], ElectionKind::StraightLine, five).unwrap_err();
    let said: Vec<_> = again.findings().map(|one| one.said().detail).collect();
    assert_eq!(said, ["straight_line for the 5-year class is recorded for 2025 already"]);
}

#[test]
fn each_choice_is_in_force_or_the_default_is_said() {
    let mut facts = year(2025);
    facts.elections = vec![Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None }];
    let summary = summarise(&facts).unwrap();
    // The safe harbor is listed once, with the limit that was chosen.
    assert_eq!(summary.elections.len(), ElectionKind::ALL.len() - 1);
    for one in &summary.elections {
        assert_eq!(one.chosen, one.kind == ElectionKind::DeMinimis);
        assert_eq!(one.says.starts_with("not chosen: the law's default is"), !one.chosen, "{}", one.says);
    }
    let of_2024 = summarise(&year(2024)).unwrap().elections;
    assert!(of_2024.iter().all(|one| one.kind != ElectionKind::LowerAllowance2025));
}

// Invariant 8: what is stated for a year changes its figures up to the last day, so that day decides.
#[test]
fn no_choice_is_made_and_no_home_office_stated_for_a_year_whose_last_day_is_closed() {
    holds_for_any(&(2023..2027_i32, -400..400_i64), |(year, apart)| {
        let last = chrono::NaiveDate::from_ymd_opt(year, 12, 31).unwrap();
        for apart in [0, 1, apart] {
            let first_open = last + chrono::TimeDelta::days(apart);
            let closed = BooksFacts { first_open, ..books() };
            let chosen = choose(&closed, year, &[], ElectionKind::DeMinimis, None);
            prop_assert_eq!(chosen.is_ok(), apart <= 0, "{} from {}", year, first_open);
            let area = format!("{year}-01-01");
            let office = new(&[(&area, "", "150")]);
            let stated = state_for(year, &closed, &nothing_yet(), &office);
            prop_assert_eq!(stated.is_ok(), apart <= 0, "{} from {}", year, first_open);
        }
        Ok(())
    });
}

// IRC 168(k), as of 2025 (seen): the day of acquisition decides between two rates.
#[test]
fn the_figures_of_2025_tell_the_allowance_of_what_was_acquired_by_january_from_that_of_later() {
    let figures = |year| Profile::find("us", year).unwrap().figures();
    let allowances = |year| -> Vec<(String, String)> {
        let of = figures(year).into_iter().filter(|one| one.what.starts_with("special allowance"));
        of.map(|one| (one.what.to_owned(), one.value.unwrap().to_string())).collect()
    };
    let earlier = "special allowance in percent, acquired through 2025-01-19".to_owned();
    let later = "special allowance in percent, acquired later".to_owned();
    assert_eq!(allowances(2025), [(earlier, "40".to_owned()), (later, "100".to_owned())]);
}

// Reg. 1.263(a)-1(f) and Notice 2015-82 (seen): one limit a year, by whether there is an applicable statement.
#[test]
fn a_year_has_one_limit_of_the_safe_harbor_whichever_was_chosen_first() {
    let (usual, with_statement) = (ElectionKind::DeMinimis, ElectionKind::DeMinimisWithStatement);
    for (first, second) in [(usual, with_statement), (with_statement, usual)] {
        let standing = [Election { tax_year: 2025, kind: first, class: None }];
        let refusal = choose(&books(), 2025, &standing, second, None).unwrap_err();
        let said: Vec<_> = refusal.findings().map(|one| one.said().detail).collect();
        assert_eq!(
            said,
            [format!("{first} is recorded for 2025, and the year has one limit of the safe harbor")]
        );
        assert!(choose(&books(), 2026, &standing, second, None).is_ok(), "another year");
    }
}

// The sources are those of `elections`: Reg. 1.162-3, IRC 168(k), Pub. 946 ch. 4, IRC 168(k)(10), IRC 471(c) (from
// memory), the amounts those of the profile of 2025.
#[test]
fn a_year_without_choices_says_what_the_law_does_instead_and_one_with_a_statement_names_its_limit_alone() {
    let listed = |elections: Vec<Election>| {
        let facts = crate::rules::tax_year::YearFacts { elections, ..year(2025) };
        let listed = summarise(&facts).unwrap().elections;
        listed.into_iter().map(|one| (one.kind, one.says)).collect::<Vec<_>>()
    };
    let default = |says: &str| format!("not chosen: the law's default is {says}");
    let others = [
        (
            ElectionKind::NoSpecialAllowance,
            default("that the special allowance is taken on everything that qualifies (IRC 168(k))"),
        ),
        (
            ElectionKind::StraightLine,
            default("the declining balance of the published tables (Pub. 946 ch. 4)"),
        ),
        (
            ElectionKind::LowerAllowance2025,
            default("100 % on what was acquired after 2025-01-19, not 40 % (IRC 168(k)(10), from memory)"),
        ),
        (
            ElectionKind::InventoryAsMaterials,
            default(
                "to keep stock at cost; a business whose gross receipts averaged 31000000 or less over three years \
                 may treat it as materials that are not incidental, deducted when sold (IRC 471(c))",
            ),
        ),
    ];
    let of = |kind, says: String| [vec![(kind, says)], others.to_vec()].concat();
    let none = default(
        "that tools are depreciated, except a thing of no more than 200 a unit, which is a supply (Reg. \
         1.162-3(c)(1)(iv))",
    );
    assert_eq!(listed(vec![]), of(ElectionKind::DeMinimis, none));
    let kind = ElectionKind::DeMinimisWithStatement;
    let statement = "everything of no more than 5000 an item is written off at once, for the year has an applicable \
        financial statement; a statement goes with the return (Reg. 1.263(a)-1(f), with an applicable financial \
        statement)";
    let chosen = vec![Election { tax_year: 2025, kind, class: None }];
    assert_eq!(listed(chosen), of(kind, statement.to_owned()));
}
