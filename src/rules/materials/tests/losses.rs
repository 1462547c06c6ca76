//! What is spoilt, and what the count does not find.

use super::super::super::refusal::Refusal;
use super::super::waste;
use super::*;

fn spoilt(much: &str, on: u32) -> NewWaste {
    NewWaste {
        date: day(2025, 3, on),
        quantity: quantity(much),
        unit: None,
        episode: None,
        project: None,
        treatment: None,
        category: None,
        note: None,
    }
}

fn pointers(refusal: &Refusal) -> Vec<String> {
    refusal.findings().map(|found| found.pointer.clone()).collect()
}

fn one_lot() -> Shelf {
    let mut shelf = plywood();
    shelf.lots[0].lot.treatment = Treatment::Resale;
    shelf
}

// Common practice, no source: stock that no piece took is supplies used up, not part of a piece.
#[test]
fn what_spoils_of_stock_for_pieces_is_supplies_and_what_was_the_owners_stays_the_owners() {
    let mut shelf = one_lot();
    let lost = shelf.wastes("8", day(2025, 3, 2)).unwrap();
    assert_eq!((posted(&lost, SUPPLIES), lost.attributions.len()), (usd("13.73"), 0));
    assert_eq!((moves(&lost)[0].kind, moves(&lost)[0].to), (LotMoveKind::Wasted, Target::Overhead));
    assert_eq!(lost.text, "8 piece of plywood spoilt");
    let mut own = plywood();
    own.lots[0].lot.treatment = Treatment::HomeImprovement;
    let lost = own.wastes("8", day(2025, 3, 2)).unwrap();
    assert_eq!(posted(&lost, Account::Draw(Draw::HomeImprovements)), usd("13.73"));
    let short = own.counts("0", day(2025, 3, 5)).unwrap();
    assert_eq!(posted(&short, Account::Draw(Draw::HomeImprovements)), usd("41.17"));
}

// Common practice, no source.
#[test]
fn a_lot_spoils_from_the_day_it_came_and_to_its_last_piece() {
    let mut shelf = plywood();
    assert!(shelf.wastes("32.000001", day(2025, 3, 1)).is_err());
    assert!(shelf.wastes("1", day(2025, 2, 28)).is_err());
    let all = shelf.wastes("32", day(2025, 3, 1)).unwrap();
    assert_eq!(cost_out(&all), usd("54.90"));
    assert!(shelf.wastes("0.000001", day(2025, 3, 1)).is_err(), "nothing is left");
}

// Common practice, no source.
#[test]
fn a_count_says_what_it_found_and_less_than_nothing_is_not_found() {
    let mut shelf = plywood();
    let agrees = shelf.counts("32", day(2025, 3, 1)).unwrap();
    assert_eq!(
        (agrees.notes.as_slice(), agrees.text.as_str()),
        (["The count agrees with the books: 32 piece.".to_owned()].as_slice(), "32 piece of plywood counted")
    );
    assert_eq!(agrees.depends_on, [shelf.lots[0].record]);
    let over = shelf.counts("33.5", day(2025, 3, 2)).unwrap();
    assert!(
        over.notes[0].starts_with("1.5 piece more than the books say: added at no cost"),
        "{:?}",
        over.notes
    );
    let short = shelf.counts("30", day(2025, 3, 3)).unwrap();
    let said = short.notes.last().unwrap();
    assert!(
        said.starts_with("3.5 piece less than the books say: taken out as overhead"),
        "{:?}",
        short.notes
    );
    assert_eq!(pointers(&shelf.counts("-1", day(2025, 3, 4)).unwrap_err()), ["/counted"]);
    assert_eq!(pointers(&shelf.counts("5", day(2025, 2, 28)).unwrap_err()), ["/date"]);
}

// Common practice, no source.
#[test]
fn what_is_spoilt_on_an_episode_is_a_cost_of_that_episode() {
    let mut shelf = plywood();
    let episode = Some(episode_of(EPISODE_B));
    let ask = NewWaste { episode, category: Some(Category::Other), ..spoilt("4", 2) };
    let rec = shelf.writes(|pen, lots| waste(pen, &lots[0], &ask)).unwrap();
    assert_eq!(attributed(&rec, EPISODE_B), usd("6.86"));
    assert_eq!(rec.attributions[0].label, Label::Category(Category::Other));
    let both = NewWaste { project: Some(project()), ..ask };
    assert!(shelf.writes(|pen, lots| waste(pen, &lots[0], &both)).is_err());
}
