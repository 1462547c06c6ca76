//! Bought by the box or gallon, used by the piece or pint.

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::super::super::recording::MaterialsFlow;
use super::super::super::rows::BoughtIn;
use super::super::super::units::Factor;
use super::super::{NewCount, NewIssue, NewMaterialReturn, NewWaste, count, waste};
use super::shelf::*;

const JULY: fn(u32) -> chrono::NaiveDate = |of_month| day(2025, 7, of_month);

/// Quantity, unit, cost, and the unit it was bought in with its factor.
type Given<'a> = (&'a str, &'a str, &'a str, Option<(&'a str, &'a str)>);

/// A shelf with tiles: each lot with its quantity, unit, cost, and the box it was bought in.
fn tiles(flow: MaterialsFlow, lots: &[Given<'_>]) -> Shelf {
    let mut shelf = Shelf::new(flow);
    for (place, (quantity, unit, cost, bought)) in lots.iter().enumerate() {
        shelf.puts("tiles", quantity, cost, JULY(u32::try_from(place).unwrap() + 1));
        let lot = &mut shelf.lots.last_mut().unwrap().lot;
        lot.unit = (*unit).to_owned();
        lot.bought_in = bought.map(|(unit, factor)| {
            let factor = Factor::parse(factor).unwrap();
            BoughtIn { unit: unit.to_owned(), factor }
        });
    }
    shelf
}

fn boxed() -> Shelf {
    tiles(MaterialsFlow::Fifo, &[("24", "piece", "50.00", Some(("box", "12")))])
}

fn in_unit(shelf: &Shelf, quantity: &str, unit: &str) -> NewIssue {
    NewIssue { unit: Some(unit.to_owned()), ..shelf.ask(quantity, JULY(9), EPISODE_A) }
}

fn left(shelf: &Shelf) -> Vec<String> {
    shelf.lots.iter().map(|facts| facts.remaining().unwrap().quantity.normalize().to_string()).collect()
}

// Derived: two boxes of twelve for 50.00, a box and then seven pieces of them.
#[test]
fn two_boxes_of_twelve_are_issued_by_the_box_and_by_the_piece() {
    let mut shelf = boxed();
    let by_box = shelf.issues_as(0, &in_unit(&shelf, "1", "box"), None).unwrap();
    assert_eq!(
        (cost_out(&by_box), by_box.text.as_str()),
        (usd("25.00"), "1 box of tiles issued to an episode")
    );
    assert_eq!(by_box.notes, ["12 piece of tiles, cost 25.00; 12 piece at 25.00 stay in that lot"]);
    let by_piece = shelf.issues_as(0, &in_unit(&shelf, "7", "piece"), None).unwrap();
    assert_eq!(cost_out(&by_piece), usd("14.58"));
    assert_eq!(cost_out(&shelf.issues(0, "5", JULY(10), EPISODE_A).unwrap()), usd("10.42"));
    assert!(shelf.cost_left().is_zero());
}

// Common practice, no source.
#[test]
fn a_unit_that_the_lot_does_not_know_is_refused_with_those_that_it_knows() {
    let mut shelf = boxed();
    let refusal = shelf.issues_as(0, &in_unit(&shelf, "1", "pallet"), None).unwrap_err();
    let finding = refusal.findings().next().unwrap();
    assert_eq!((finding.pointer.as_str(), finding.said().standing), ("/unit", super::Standing::Invalid));
    assert_eq!(finding.said().remedy, "give the quantity in piece or box");
    let refusal = shelf.refuses_by_name_in("1", "pallet", JULY(9));
    assert_eq!(refusal.findings().next().unwrap().said().remedy, "give the quantity in piece or box");
}

// Derived: a third of a yard has no end; a foot of it is refused, three feet are taken.
#[test]
fn a_foot_of_cloth_kept_by_the_yard_is_refused_and_never_rounded() {
    let mut shelf = tiles(MaterialsFlow::Fifo, &[("10", "yard", "30.00", Some(("foot", "1/3")))]);
    let refusal = shelf.issues_as(0, &in_unit(&shelf, "1", "foot"), None).unwrap_err();
    let finding = refusal.findings().next().unwrap();
    assert_eq!(finding.pointer, "/quantity");
    assert!(finding.said().remedy.contains("keep the lot in the finer unit"), "{}", finding.said().remedy);
    assert_eq!(cost_out(&shelf.issues_as(0, &in_unit(&shelf, "3", "foot"), None).unwrap()), usd("3.00"));
    let too_much = shelf.issues_as(0, &in_unit(&shelf, "28", "foot"), None);
    assert!(too_much.is_err());
}

// Common practice, no source.
#[test]
fn what_comes_back_is_spoilt_or_counted_may_be_said_by_the_box() {
    let mut shelf = boxed();
    let unit = Some("box".to_owned());
    shelf.issues(0, "18", JULY(2), EPISODE_A).unwrap();
    let back = NewMaterialReturn {
        date: JULY(3),
        quantity: quantity("1"),
        unit: unit.clone(),
        episode: Some(episode_of(EPISODE_A)),
        project: None,
        piece: None,
        treatment: None,
        note: None,
    };
    assert_eq!(cost_out(&shelf.comes_back_as(0, &back).unwrap()), usd("-25.00"));
    let date = JULY(4);
    let spoilt = NewWaste {
        date,
        quantity: quantity("0.5"),
        unit: unit.clone(),
        episode: None,
        project: None,
        treatment: None,
        category: None,
        note: None,
    };
    let spoilt = shelf.writes(|pen, lots| waste(pen, &lots[0], &spoilt)).unwrap();
    assert_eq!(moves(&spoilt)[0].quantity, dec("-6"));
    let counted = NewCount { date, counted: quantity("0.75"), unit, note: None };
    let counted = shelf.writes(|pen, lots| count(pen, &lots[0], &counted)).unwrap();
    assert_eq!(moves(&counted)[0].quantity, dec("-3"));
    assert_eq!(left(&shelf), ["9"]);
}

// Derived: an old lot by the gallon, a newer one by the pint at eight to the gallon.
#[test]
fn the_oldest_lot_leaves_first_whichever_unit_each_is_kept_in() {
    let mut shelf = tiles(
        MaterialsFlow::Fifo,
        &[("3", "gallon", "90.00", None), ("16", "pint", "64.00", Some(("gallon", "8")))],
    );
    let first = shelf.tries_by_name_in("2.5", "gallon", JULY(9)).unwrap();
    assert_eq!(cost_out(&first), usd("75.00"));
    let across = shelf.tries_by_name_in("1.25", "gallon", JULY(9)).unwrap();
    assert_eq!(cost_out(&across), usd("39.00"), "half a gallon for 15.00 and six pints for 24.00");
    assert_eq!(left(&shelf), ["0", "10"]);
    let refusal = shelf.refuses_by_name_in("2", "gallon", JULY(9)).to_string();
    assert!(refusal.contains("16 pint is asked for, and 10 pint is there"), "{refusal}");
    // The lot by the gallon is empty: the pint is known of what is left.
    assert_eq!(cost_out(&shelf.tries_by_name_in("10", "pint", JULY(9)).unwrap()), usd("40.00"));
}

// Derived: boxes of twelve and of ten.
#[test]
fn a_box_of_twelve_that_runs_out_goes_on_with_a_part_of_a_box_of_ten() {
    let lots = [("18", "piece", "18.00", Some(("box", "12"))), ("20", "piece", "40.00", Some(("box", "10")))];
    let mut shelf = tiles(MaterialsFlow::Fifo, &lots);
    let two = shelf.tries_by_name_in("2", "box", JULY(9)).unwrap();
    assert_eq!((cost_out(&two), left(&shelf)), (usd("28.00"), vec!["0".to_owned(), "15".to_owned()]));
    let refusal =
        tiles(MaterialsFlow::MovingAverage, &lots).refuses_by_name_in("2", "box", JULY(9)).to_string();
    assert!(refusal.contains("kept in piece (12 to the box) and piece (10 to the box)"), "{refusal}");
    let thirds = [("5", "piece", "5.00", Some(("box", "12"))), ("20", "piece", "40.00", Some(("box", "10")))];
    let refusal = tiles(MaterialsFlow::Fifo, &thirds).refuses_by_name_in("1", "box", JULY(9)).to_string();
    assert!(refusal.contains("0.583333 box at 10 piece each do not come out"), "{refusal}");
}

// Derived: 24 pieces for 50.00 and 12 for 31.00, all in boxes of twelve: 27.00 a box.
#[test]
fn the_moving_average_takes_a_box_as_its_pieces() {
    let lots = [("24", "piece", "50.00", Some(("box", "12"))), ("12", "piece", "31.00", Some(("box", "12")))];
    let mut shelf = tiles(MaterialsFlow::MovingAverage, &lots);
    let one = shelf.tries_by_name_in("1", "box", JULY(9)).unwrap();
    assert_eq!((cost_out(&one), left(&shelf)), (usd("27.00"), vec!["16".to_owned(), "8".to_owned()]));
    shelf.tries_by_name_in("2", "box", JULY(9)).unwrap();
    assert!(shelf.cost_left().is_zero());
}

proptest! {
    #[test]
    fn issuing_all_of_it_by_mixed_units_costs_the_lot_to_the_cent(
        boxes in 1..200_i64, over in 1..60_i64, under in 1..13_i64, cents in 0..9_000_000_i64,
        takes in prop::collection::vec((1..40_i64, any::<bool>()), 0..30), averaged in any::<bool>(),
    ) {
        let flow = if averaged { MaterialsFlow::MovingAverage } else { MaterialsFlow::Fifo };
        // As many boxes as come out whole.
        let pieces = Decimal::from(boxes * over).to_string();
        let cost = Decimal::new(cents, 2).to_string();
        let factor = format!("{over}/{under}");
        let mut shelf = tiles(flow, &[(&pieces, "piece", &cost, Some(("box", &factor)))]);
        let mut out = Decimal::ZERO;
        for (quantity, by_box) in takes {
            let unit = if by_box { "box" } else { "piece" };
            if let Ok(issued) = shelf.tries_by_name_in(&quantity.to_string(), unit, JULY(9)) {
                out += cost_out(&issued).amount();
            }
        }
        let rest = shelf.lots[0].remaining().unwrap().quantity;
        if !rest.is_zero() {
            let last = shelf.tries_by_name_in(&rest.normalize().to_string(), "piece", JULY(9)).unwrap();
            out += cost_out(&last).amount();
        }
        prop_assert_eq!(out, Decimal::new(cents, 2));
        prop_assert!(shelf.cost_left().is_zero());
    }

    #[test]
    fn over_several_lots_in_several_units_nothing_is_lost(
        lots in prop::collection::vec((1..50_i64, 1..13_i64, 1..13_i64, 0..90_000_i64), 1..6),
        takes in prop::collection::vec(1..400_i64, 1..20),
    ) {
        let written: Vec<_> = lots.iter().map(|(many, over, under, cents)| {
            (Decimal::from(*many).to_string(), Decimal::new(*cents, 2).to_string(), format!("{over}/{under}"))
        }).collect();
        let given: Vec<_> = written.iter().map(|(many, cost, factor)| (many.as_str(), "piece", cost.as_str(), Some(("box", factor.as_str())))).collect();
        let mut shelf = tiles(MaterialsFlow::Fifo, &given);
        let all = shelf.cost_left().amount();
        let mut out = Decimal::ZERO;
        for tenths in takes {
            if let Ok(issued) = shelf.tries_by_name_in(&Decimal::new(tenths, 1).to_string(), "box", JULY(19)) {
                out += cost_out(&issued).amount();
            }
        }
        for facts in &shelf.lots {
            let left = facts.remaining().unwrap();
            prop_assert!(left.quantity >= Decimal::ZERO && (!left.quantity.is_zero() || left.cost.is_zero()));
        }
        prop_assert_eq!(out + shelf.cost_left().amount(), all);
    }
}
