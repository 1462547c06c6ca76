//! Materials in the trade's sentences.

mod closed_days;
mod invariants;
mod losses;
mod one_day;
mod returns;
mod shelf;
mod units;

use rust_decimal::Decimal;

use super::super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::super::money::Share;
use super::super::objects::ObjectShare;
use super::super::recording::{Category, Label, MaterialsFlow, MovementKind};
use super::super::refusal::Standing;
use super::super::rows::{LotMoveKind, LotStanding, PiecePurpose, Target};
use super::super::split::split_by_largest_remainder;
use super::super::treatment::{Treatment, TreatmentAsked, TreatmentName};
use super::{Layer, NewCount, NewMaterialReturn, NewWaste, draw, periodic};
use shelf::*;

const SUPPLIES: Account = Account::Expense(ExpenseClass::Supplies);

fn layers() -> Vec<Layer> {
    let layer = |quantity: &str, cost: &str| Layer { quantity: dec(quantity), cost: usd(cost) };
    vec![layer("150", "3150.00"), layer("225", "6075.00"), layer("210", "6930.00")]
}

/// 150 at 21 on hand, 225 at 27 bought on 10 July, 210 at 33 on 25 July: an open textbook's exercise on
/// inventory (inputs seen in a page copying it, the book's figures from memory).
fn exercise(flow: MaterialsFlow) -> Shelf {
    let mut shelf = Shelf::new(flow);
    shelf.puts("tiles", "150", "3150.00", day(2025, 7, 1));
    shelf.puts("tiles", "225", "6075.00", day(2025, 7, 10));
    shelf
}

/// The sheet of plywood of 8 by 4 feet for 54.90 (derived).
fn plywood() -> Shelf {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    shelf.puts("plywood", "32", "54.90", day(2025, 3, 1));
    shelf
}

// Open textbook, inventory exercise: issues 120 on 5 July and 180 on 15 July (figures from memory).
#[test]
fn first_in_first_out_costs_the_same_issue_by_issue_and_at_the_periods_end() {
    let mut shelf = exercise(MaterialsFlow::Fifo);
    let early = shelf.issues_by_name("120", day(2025, 7, 5), EPISODE_A);
    shelf.puts("tiles", "210", "6930.00", day(2025, 7, 25));
    let late = shelf.issues_by_name("180", day(2025, 7, 15), EPISODE_A);
    assert_eq!((cost_out(&early), cost_out(&late)), (usd("2520.00"), usd("4680.00")));
    let at_the_end = periodic(MaterialsFlow::Fifo, &layers(), dec("300"), dollars()).unwrap();
    assert_eq!((at_the_end.issued, at_the_end.closing), (usd("7200.00"), usd("8955.00")));
    assert_eq!(shelf.cost_left(), at_the_end.closing);
    // Gross profit on sales of 120 at 36 and 180 at 39.
    assert_eq!(usd("11340.00").minus(at_the_end.issued).unwrap(), usd("4140.00"));
}

// The same exercise by specific identification (figures from memory).
#[test]
fn issues_from_named_lots_cost_what_those_lots_cost() {
    let mut shelf = exercise(MaterialsFlow::Fifo);
    shelf.issues(0, "120", day(2025, 7, 5), EPISODE_A).unwrap();
    assert_eq!(cost_out(&shelf.issues(0, "20", day(2025, 7, 15), EPISODE_A).unwrap()), usd("420.00"));
    shelf.issues(1, "160", day(2025, 7, 15), EPISODE_A).unwrap();
    shelf.puts("tiles", "210", "6930.00", day(2025, 7, 25));
    // 140 at 21 and 160 at 27: 2,940 + 4,320.
    assert_eq!(usd("11340.00").minus(usd("7260.00")).unwrap(), usd("4080.00"));
    assert_eq!(shelf.cost_left(), usd("8895.00"));
}

// The same exercise by the period's weighted average, exact (derived).
#[test]
fn the_periods_average_is_rounded_once_and_adds_up() {
    let average = periodic(MaterialsFlow::MovingAverage, &layers(), dec("300"), dollars()).unwrap();
    assert_eq!((average.issued, average.closing), (usd("8284.62"), usd("7870.38")));
    assert_eq!(usd("11340.00").minus(average.issued).unwrap(), usd("3055.38"));
    // A unit cost rounded to 27.62 would give 8,283.30 by the closing stock: 1.32 lost.
    let closing_at_rounded_cost = usd("27.62").times(dec("285")).unwrap();
    assert_eq!(usd("16155.00").minus(closing_at_rounded_cost).unwrap(), usd("8283.30"));
}

// The same exercise, one issue across two layers (figures from memory).
#[test]
fn an_issue_that_empties_the_oldest_lot_goes_on_with_the_next() {
    let mut shelf = exercise(MaterialsFlow::Fifo);
    let issue = shelf.issues_by_name("151", day(2025, 7, 12), EPISODE_A);
    assert_eq!(cost_out(&issue), usd("3177.00"));
    assert_eq!(moves(&issue).len(), 2);
    assert_eq!(issue.depends_on, [shelf.lots[0].record, shelf.lots[1].record]);
}

// Common practice, no source.
#[test]
fn the_moving_average_draws_a_part_of_every_lot() {
    let mut shelf = exercise(MaterialsFlow::MovingAverage);
    let issue = shelf.issues_by_name("75", day(2025, 7, 12), EPISODE_A);
    // (3,150 + 6,075) × 75 / 375
    assert_eq!(cost_out(&issue), usd("1845.00"));
    let parts: Vec<_> = moves(&issue).iter().map(|one| (one.quantity, one.cost)).collect();
    assert_eq!(parts, [(dec("-30"), usd("-630.00")), (dec("-45"), usd("-1215.00"))]);
    shelf.issues_by_name("300", day(2025, 7, 13), EPISODE_A);
    assert!(shelf.cost_left().is_zero());
}

// Derived: a millionth of a piece that the proportion rounds up to.
#[test]
fn a_lot_that_the_average_empties_gives_all_its_cost() {
    let layer = |quantity: &str, cost: &str| Layer { quantity: dec(quantity), cost: usd(cost) };
    let layers = [layer("0.000001", "5.00"), layer("10", "1.00")];
    let parts = draw(MaterialsFlow::MovingAverage, &layers, dec("9.9"), dollars()).unwrap();
    assert_eq!(parts, [layer("0.000001", "5.00"), layer("9.899999", "0.94")]);
}

// Common practice, no source: the day acquired decides, not the order of recording.
#[test]
fn the_oldest_lot_leaves_first_and_of_one_day_the_one_given_first() {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    shelf.puts("tiles", "1", "3.00", day(2025, 7, 10));
    shelf.puts("tiles", "1", "1.00", day(2025, 7, 1));
    shelf.puts("tiles", "1", "2.00", day(2025, 7, 1));
    let mut next = || cost_out(&shelf.issues_by_name("1", day(2025, 7, 12), EPISODE_A));
    assert_eq!([next(), next(), next()], [usd("1.00"), usd("2.00"), usd("3.00")]);
}

// Derived: 375 on hand.
#[test]
fn more_than_the_lots_hold_is_refused_with_both_figures() {
    let shelf = exercise(MaterialsFlow::Fifo);
    let refusal = shelf.refuses_by_name("376", day(2025, 7, 12));
    assert_eq!(refusal.standing(), Standing::Conflict);
    let found = refusal.findings().next().unwrap();
    assert_eq!(found.pointer, "/quantity");
    assert_eq!(found.said().detail, "376 piece is asked for, and 375 piece is there on 2025-07-12");
}

// Derived: a lot is not there before the day it came.
#[test]
fn a_back_dated_issue_finds_only_the_lots_of_that_day() {
    let shelf = exercise(MaterialsFlow::Fifo);
    let refusal = shelf.refuses_by_name("151", day(2025, 7, 9));
    assert!(refusal.to_string().contains("150 piece is there on 2025-07-09"), "{refusal}");
}

// Derived: what later records have taken is gone for an earlier day too.
#[test]
fn a_back_dated_issue_leaves_what_later_issues_took() {
    let mut shelf = plywood();
    shelf.issues(0, "30", day(2025, 4, 1), EPISODE_A).unwrap();
    shelf.comes_back("20", day(2025, 5, 1), EPISODE_A).unwrap();
    let refusal = shelf.issues(0, "3", day(2025, 3, 15), EPISODE_B).unwrap_err();
    assert!(refusal.to_string().contains("2 piece is there on 2025-03-15"), "{refusal}");
    shelf.issues(0, "22", day(2025, 5, 1), EPISODE_B).unwrap();
}

// Open textbook, inventory exercise (from memory): the layer is restored at its own cost.
#[test]
fn what_comes_back_restores_the_layer_it_left() {
    let mut shelf = exercise(MaterialsFlow::Fifo);
    shelf.issues_by_name("300", day(2025, 7, 15), EPISODE_A);
    let back = shelf.comes_back_to(1, "10", day(2025, 7, 20), EPISODE_A).unwrap();
    assert_eq!(posted(&back, SUPPLIES), usd("-270.00"));
    assert_eq!(posted(&back, Account::MaterialsOnHand), usd("270.00"));
    assert_eq!(attributed(&back, EPISODE_A), usd("-270.00"));
    assert_eq!(shelf.lots[1].remaining().unwrap(), Layer { quantity: dec("85"), cost: usd("2295.00") });
    let again = shelf.issues_by_name("85", day(2025, 7, 21), EPISODE_B);
    assert_eq!(cost_out(&again), usd("2295.00"));
    assert!(again.depends_on.contains(&back_record(&shelf, 1)), "it draws on what came back");
}

// Common practice, no source: stock loses what comes back from it, a kept piece's episode too; a sold piece keeps it.
#[test]
fn what_comes_back_from_a_piece_leaves_its_cost_unless_the_piece_is_gone() {
    let mut shelf = plywood();
    let mut table = piece(PiecePurpose::Resale, Treatment::Resale);
    shelf.issues_into(&table, "16", day(2025, 3, 2)).unwrap();
    let back = shelf.comes_back_from(&table, "8", day(2025, 3, 3)).unwrap();
    assert_eq!(posted(&back, Account::PiecesForResale), usd("-13.73"));
    let on_piece = back.movements.iter().find(|one| one.source == table.piece.source).unwrap();
    assert_eq!((on_piece.kind, on_piece.amount), (MovementKind::Returned, usd("-13.73")));
    assert!(back.attributions.is_empty());
    let more = shelf.comes_back_from(&table, "8.01", day(2025, 3, 3)).unwrap_err();
    assert!(more.to_string().contains("8 piece of this lot is there to come back"), "{more}");
    table.gone = Some(super::super::pieces::Gone { on: day(2025, 3, 4), how: "sold" });
    let refusal = shelf.comes_back_from(&table, "8", day(2025, 3, 5)).unwrap_err();
    assert!(refusal.to_string().contains("side table was sold on 2025-03-04"), "{refusal}");
    let mut shelf = plywood();
    let stool = piece(PiecePurpose::Set, Treatment::Expense(ExpenseClass::Supplies));
    shelf.issues_into(&stool, "16", day(2025, 3, 2)).unwrap();
    let back = shelf.comes_back_from(&stool, "16", day(2025, 3, 3)).unwrap();
    assert_eq!((attributed(&back, EPISODE_A), posted(&back, SUPPLIES)), (usd("-27.45"), usd("-27.45")));
    assert_eq!(shelf.lots[0].remaining().unwrap(), shelf.lots[0].whole());
}

// Derived: 54.90 / 32 sq ft = 1.715625 a square foot, never rounded.
#[test]
fn a_sheet_cut_for_two_episodes_and_scrap_adds_up_to_its_price() {
    let mut shelf = plywood();
    let a = shelf.issues(0, "18", day(2025, 3, 2), EPISODE_A).unwrap();
    let b = shelf.issues(0, "9", day(2025, 3, 3), EPISODE_B).unwrap();
    let scrap = shelf.wastes("5", day(2025, 3, 4)).unwrap();
    assert_eq!((cost_out(&a), cost_out(&b), cost_out(&scrap)), (usd("30.88"), usd("15.44"), usd("8.58")));
    assert_eq!(attributed(&a, EPISODE_A), usd("30.88"));
    assert_eq!((scrap.attributions.len(), moves(&scrap)[0].to), (0, Target::Overhead));
    assert_eq!(posted(&scrap, SUPPLIES), usd("8.58"));
    assert_eq!(shelf.lots[0].remaining().unwrap(), Layer::none(dollars()));
}

// Derived: freight of 24.00 on 100 at 1.50 and 50 at 3.00.
#[test]
fn freight_spreads_over_lots_by_value_or_by_quantity() {
    let spread = |weights: &[&str]| {
        let weights: Vec<Decimal> = weights.iter().map(|weight| dec(weight)).collect();
        split_by_largest_remainder(usd("24.00"), &weights).unwrap()
    };
    assert_eq!(spread(&["150.00", "150.00"]), [usd("12.00"), usd("12.00")]);
    assert_eq!(spread(&["100", "50"]), [usd("16.00"), usd("8.00")]);
}

// Common practice, no source: the treatment of stock is decided as it leaves.
#[test]
fn drywall_left_in_the_owners_room_is_a_draw_and_the_episodes_cost() {
    let mut shelf = plywood();
    let improvement = TreatmentAsked { name: TreatmentName::HomeImprovement, class: None };
    let mut ask = shelf.ask("16", day(2025, 3, 2), EPISODE_A);
    ask.treatment = Some(improvement);
    let issue = shelf.issues_as(0, &ask, None).unwrap();
    let posting = &issue.entries[0].postings()[0];
    assert_eq!(posting.account, Account::Draw(Draw::HomeImprovements));
    assert_eq!((posting.amount, posting.class), (usd("27.45"), Some(TaxClass::HomeImprovement)));
    assert_eq!(issue.attributions[0].label, Label::Category(Category::Materials));
    assert_eq!(attributed(&issue, EPISODE_A), usd("27.45"));
}

// Common practice, no source: what was deducted as it was paid is not deducted again.
#[test]
fn a_lot_expensed_when_paid_moves_only_where_its_treatment_changes() {
    let mut shelf = plywood();
    shelf.lots[0].lot.standing = LotStanding::Expensed;
    let plain = shelf.issues(0, "16", day(2025, 3, 2), EPISODE_A).unwrap();
    assert_eq!((plain.entries.len(), attributed(&plain, EPISODE_A)), (0, usd("27.45")));
    let mut ask = shelf.ask("8", day(2025, 3, 3), EPISODE_A);
    ask.treatment = Some(TreatmentAsked { name: TreatmentName::HomeRepair, class: None });
    let moved = shelf.issues_as(0, &ask, None).unwrap();
    assert_eq!(posted(&moved, SUPPLIES), usd("-13.73"));
    assert_eq!(posted(&moved, Account::Draw(Draw::HomeRepairs)), usd("13.73"));
}

// Common practice, no source.
#[test]
fn one_issue_serves_two_episodes_by_shares() {
    let mut shelf = plywood();
    let mut ask = shelf.ask("10", day(2025, 3, 2), EPISODE_A);
    ask.episode = None;
    let share =
        |episode, share| ObjectShare { episode: Some(episode), project: None, share: Share::parse(share) };
    ask.to = vec![share(episode_of(EPISODE_A), "66.6667"), share(episode_of(EPISODE_B), "33.3333")];
    let issue = shelf.issues_as(0, &ask, None).unwrap();
    assert_eq!(cost_out(&issue), usd("17.16"));
    assert_eq!((attributed(&issue, EPISODE_A), attributed(&issue, EPISODE_B)), (usd("11.44"), usd("5.72")));
    let quantities: Vec<_> = moves(&issue).iter().map(|one| one.quantity).collect();
    assert_eq!(quantities, [dec("-6.66667"), dec("-3.33333")]);
    ask.to.pop();
    let refusal = shelf.issues_as(0, &ask, None).unwrap_err();
    assert_eq!(refusal.findings().next().unwrap().pointer, "/to");
    ask.episode = Some(episode_of(EPISODE_A));
    assert!(shelf.issues_as(0, &ask, None).unwrap_err().to_string().contains("more than one"));
}

// Pub. 334 ch. 6 (from memory): materials put into goods for sale are part of their cost.
#[test]
fn paint_for_a_piece_to_resell_waits_in_the_piece_until_its_sale() {
    let mut shelf = plywood();
    let work = piece(PiecePurpose::Resale, Treatment::Resale);
    let issue = shelf.issues_into(&work, "16", day(2025, 3, 2)).unwrap();
    let posting = &issue.entries[0].postings()[0];
    assert_eq!((posting.account, posting.class), (Account::PiecesForResale, Some(TaxClass::ResaleMaterials)));
    let moved: Vec<_> = issue.movements.iter().map(|one| (one.source, one.kind, one.amount)).collect();
    let lot = shelf.lots[0].lot.source;
    assert_eq!(
        moved,
        [
            (lot, MovementKind::Removed, usd("-27.45")),
            (work.piece.source, MovementKind::Incurred, usd("27.45"))
        ]
    );
    assert!(issue.attributions.is_empty());
    assert!(issue.depends_on.contains(&work.record));
}

// Common practice, no source: a kept piece is a cost of its episode in full.
#[test]
fn paint_for_a_set_piece_is_its_episodes_furniture_at_once() {
    let mut shelf = plywood();
    let work = piece(PiecePurpose::Set, Treatment::Expense(ExpenseClass::Supplies));
    let issue = shelf.issues_into(&work, "16", day(2025, 3, 2)).unwrap();
    assert_eq!(posted(&issue, SUPPLIES), usd("27.45"));
    let row = &issue.attributions[0];
    assert_eq!((row.source, row.label), (work.piece.source, Label::Category(Category::Furniture)));
    assert_eq!(attributed(&issue, EPISODE_A), usd("27.45"));
    let work = piece(PiecePurpose::Personal, Treatment::Personal);
    let issue = shelf.issues_into(&work, "16", day(2025, 3, 2)).unwrap();
    assert_eq!(posted(&issue, Account::Draw(Draw::PersonalItems)), usd("27.45"));
}

// Common practice, no source.
#[test]
fn a_sold_piece_takes_no_more_materials_and_decides_its_treatment() {
    let mut shelf = plywood();
    let mut work = piece(PiecePurpose::Resale, Treatment::Resale);
    let mut ask = shelf.ask("1", day(2025, 3, 2), EPISODE_A);
    (ask.episode, ask.piece) = (None, Some(work.piece.id));
    ask.treatment = Some(TreatmentAsked { name: TreatmentName::Personal, class: None });
    ask.category = Some(Category::Other);
    let refusal = shelf.issues_as(0, &ask, Some(&work)).unwrap_err();
    let pointers: Vec<_> = refusal.findings().map(|found| found.pointer.clone()).collect();
    assert_eq!(pointers, ["/treatment", "/category"]);
    work.gone = Some(super::super::pieces::Gone { on: day(2025, 3, 1), how: "sold" });
    let refusal = shelf.issues_as(0, &ask, Some(&work)).unwrap_err();
    assert!(refusal.to_string().contains("was sold on 2025-03-01"), "{refusal}");
}

// Common practice, no source.
#[test]
fn stock_bought_for_resale_pieces_needs_the_piece_it_goes_into() {
    let mut shelf = plywood();
    shelf.lots[0].lot.treatment = Treatment::Resale;
    let refusal = shelf.issues(0, "1", day(2025, 3, 2), EPISODE_A).unwrap_err();
    assert_eq!(refusal.findings().next().unwrap().pointer, "/treatment");
    let spoilt = shelf.wastes("1", day(2025, 3, 2)).unwrap();
    assert_eq!(posted(&spoilt, SUPPLIES), usd("1.72"));
}

// Common practice, no source.
#[test]
fn no_more_comes_back_than_went_there() {
    let mut shelf = plywood();
    shelf.issues(0, "10", day(2025, 3, 2), EPISODE_A).unwrap();
    let refusal = shelf.comes_back("11", day(2025, 3, 5), EPISODE_A).unwrap_err();
    assert!(refusal.to_string().contains("11 piece is to come back, and 10 piece of this lot"), "{refusal}");
    assert!(shelf.comes_back("1", day(2025, 3, 5), EPISODE_B).is_err());
    assert!(shelf.comes_back("1", day(2025, 3, 1), EPISODE_A).is_err(), "nothing was there yet");
    let whole = shelf.comes_back("10", day(2025, 3, 5), EPISODE_A).unwrap();
    assert_eq!(attributed(&whole, EPISODE_A), usd("-17.16"));
    assert_eq!(shelf.lots[0].remaining().unwrap(), shelf.lots[0].whole());
}

// Common practice, no source.
#[test]
fn what_went_out_under_two_treatments_comes_back_under_the_one_named() {
    let mut shelf = plywood();
    shelf.issues(0, "10", day(2025, 3, 2), EPISODE_A).unwrap();
    let mut ask = shelf.ask("10", day(2025, 3, 2), EPISODE_A);
    ask.treatment = Some(TreatmentAsked { name: TreatmentName::Personal, class: None });
    ask.category = Some(Category::Other);
    shelf.issues_as(0, &ask, None).unwrap();
    let refusal = shelf.comes_back("4", day(2025, 3, 5), EPISODE_A).unwrap_err();
    assert!(refusal.to_string().contains("expense:supplies and as personal"), "{refusal}");
    let back = NewMaterialReturn {
        date: day(2025, 3, 5),
        quantity: quantity("10"),
        unit: None,
        episode: Some(episode_of(EPISODE_A)),
        project: None,
        piece: None,
        treatment: ask.treatment,
        note: None,
    };
    let back = shelf.comes_back_as(0, &back).unwrap();
    assert_eq!(posted(&back, Account::Draw(Draw::PersonalItems)), usd("-17.15"));
    assert_eq!(back.attributions[0].label, Label::Category(Category::Other), "the latest goes first");
}

// Common practice, no source.
#[test]
fn a_cost_moved_to_another_episode_does_not_come_back_from_the_first() {
    let mut shelf = plywood();
    shelf.issues(0, "10", day(2025, 3, 2), EPISODE_A).unwrap();
    shelf.attributed.clear();
    let refusal = shelf.comes_back("10", day(2025, 3, 5), EPISODE_A).unwrap_err();
    assert!(refusal.to_string().contains("17.16 would come back, and 0.00"), "{refusal}");
}

// Common practice, no source.
#[test]
fn a_count_settles_what_is_missing_and_what_is_over() {
    let mut shelf = plywood();
    shelf.issues(0, "12", day(2025, 3, 2), EPISODE_A).unwrap();
    let agrees = shelf.counts("20", day(2025, 12, 31)).unwrap();
    assert_eq!((agrees.entries.len(), agrees.rows.len()), (0, 0));
    let short = shelf.counts("15", day(2025, 12, 31)).unwrap();
    assert_eq!((moves(&short)[0].kind, cost_out(&short)), (LotMoveKind::CountedShort, usd("8.58")));
    assert_eq!((posted(&short, SUPPLIES), short.attributions.len()), (usd("8.58"), 0));
    let over = shelf.counts("16.5", day(2025, 12, 31)).unwrap();
    let row = &moves(&over)[0];
    assert_eq!((row.kind, row.quantity, row.cost), (LotMoveKind::CountedOver, dec("1.5"), usd("0.00")));
    assert!(over.entries.is_empty() && over.notes[0].contains("at no cost"));
    assert_eq!(shelf.lots[0].remaining().unwrap(), Layer { quantity: dec("16.5"), cost: usd("25.73") });
}

// Common practice, no source.
#[test]
fn a_count_of_a_past_day_does_not_take_what_was_used_since() {
    let mut shelf = plywood();
    shelf.issues(0, "30", day(2025, 3, 2), EPISODE_A).unwrap();
    let refusal = shelf.counts("5", day(2025, 3, 1)).unwrap_err();
    assert!(refusal.to_string().contains("27 piece is asked for, and 2 piece is there"), "{refusal}");
}

// Common practice, no source.
#[test]
fn every_finding_of_an_issue_is_said_at_once() {
    let mut shelf = plywood();
    let mut ask = shelf.ask("0", day(2024, 12, 31), EPISODE_A);
    ask.project = Some(project());
    ask.treatment = Some(TreatmentAsked { name: TreatmentName::Expense, class: None });
    let refusal = shelf.issues_as(0, &ask, None).unwrap_err();
    let pointers: Vec<_> = refusal.findings().map(|found| found.pointer.clone()).collect();
    assert_eq!(pointers, ["/date", "/date", "/quantity", "/treatment/class", ""]);
    assert_eq!(refusal.standing(), Standing::Invalid);
}

// Common practice, no source.
#[test]
fn a_material_nobody_has_and_lots_in_two_units_are_refused() {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    assert!(shelf.refuses_by_name("1", day(2025, 3, 2)).to_string().contains("no lot of 'tiles'"));
    shelf.puts("tiles", "10", "5.00", day(2025, 3, 1));
    shelf.puts("tiles", "10", "5.00", day(2025, 3, 1));
    shelf.lots[1].lot.unit = "box".to_owned();
    assert!(shelf.refuses_by_name("1", day(2025, 3, 2)).to_string().contains("kept in piece and box"));
}

// Common practice, no source.
#[test]
fn the_bodies_refuse_a_field_they_do_not_know_and_a_number_for_a_quantity() {
    let known = r#"{"date":"2025-03-02","quantity":"1.5","note":"offcut"}"#;
    assert!(serde_json::from_str::<NewWaste>(known).is_ok());
    assert!(serde_json::from_str::<NewWaste>(&known.replace("note", "remark")).is_err());
    assert!(serde_json::from_str::<NewWaste>(&known.replace("\"1.5\"", "1.5")).is_err());
    assert!(serde_json::from_str::<NewCount>(r#"{"date":"2025-03-02","counted":"0"}"#).is_ok());
}

#[test]
fn what_goes_into_a_piece_is_to_the_tax_office_what_the_piece_is() {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    shelf.puts("varnish", "4", "40.00", day(2025, 1, 2));
    let resale = piece(PiecePurpose::Resale, Treatment::Resale);
    let rec = shelf.issues_into(&resale, "1", day(2025, 2, 1)).unwrap();
    assert_eq!(moves(&rec)[0].treatment, Treatment::Resale);
    assert_eq!(posted(&rec, Account::PiecesForResale), usd("10.00"));
}

// Common practice, no source.
#[test]
fn a_shelf_counted_empty_takes_all_the_lot_out_at_its_whole_cost() {
    let mut shelf = plywood();
    let short = shelf.counts("0", day(2025, 3, 5)).unwrap();
    let row = moves(&short)[0].clone();
    assert_eq!((row.kind, row.quantity, row.cost), (LotMoveKind::CountedShort, dec("-32"), usd("-54.90")));
    assert_eq!(shelf.lots[0].remaining().unwrap(), Layer { quantity: dec("0"), cost: usd("0.00") });
}
