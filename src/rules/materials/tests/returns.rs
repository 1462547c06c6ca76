//! What comes back from overhead, and under which category a cost leaves its episode.

use super::super::super::ids::SourceId;
use super::*;

fn back_from_overhead(much: &str, on: u32) -> NewMaterialReturn {
    NewMaterialReturn {
        date: day(2025, 3, on),
        quantity: quantity(much),
        unit: None,
        episode: None,
        project: None,
        piece: None,
        treatment: None,
        note: None,
    }
}

// Common practice, no source: 54.90 / 32 = 1.715625 a square foot; what a piece took is not overhead's.
#[test]
fn overhead_gives_back_what_was_not_spread_and_what_a_piece_took_is_not_in_it() {
    let mut shelf = plywood();
    let table = piece(PiecePurpose::Resale, Treatment::Resale);
    shelf.issues_into(&table, "8", day(2025, 3, 2)).unwrap();
    let mut ask = shelf.ask("16", day(2025, 3, 2), EPISODE_A);
    ask.episode = None;
    let out = shelf.issues_as(0, &ask, None).unwrap();
    assert_eq!((cost_out(&out), out.attributions.len()), (usd("27.45"), 0));
    let back = shelf.comes_back_as(0, &back_from_overhead("4", 3)).unwrap();
    assert_eq!(posted(&back, SUPPLIES), usd("-6.86"));
    // 20.59 are still there, of which 20.00 were given out to an episode since.
    let source = shelf.lots[0].lot.source;
    let mut given = shelf.issues(0, "1", day(2025, 3, 2), EPISODE_A).unwrap().attributions.remove(0);
    shelf.attributed.clear();
    (given.source, given.amount, given.date) = (source, usd("20.00"), day(2025, 3, 4));
    shelf.attributed.push(given);
    let refusal = shelf.comes_back_as(0, &back_from_overhead("12", 5)).unwrap_err();
    assert!(refusal.to_string().contains("20.59"), "{refusal}");
    assert_eq!(refusal.findings().next().unwrap().pointer, "/quantity");
    // What was given out of another lot is not taken from this one.
    shelf.attributed[0].source = SourceId(uuid::Uuid::from_u128(0xdd));
    assert!(shelf.comes_back_as(0, &back_from_overhead("12", 5)).is_ok());
}

// Derived: 20 of 24 square feet that stand at 13.72, 13.73 and 13.73; each issue was rounded by itself.
#[test]
fn a_cost_leaves_an_episode_from_the_category_it_stands_in_the_latest_first() {
    let mut shelf = plywood();
    let mut puts = |category: Category, on: u32| {
        let mut ask = shelf.ask("8", day(2025, 3, on), EPISODE_A);
        ask.category = Some(category);
        shelf.issues_as(0, &ask, None).unwrap();
    };
    puts(Category::Materials, 2);
    puts(Category::Other, 3);
    puts(Category::Materials, 4);
    let back = shelf.comes_back("20", day(2025, 3, 5), EPISODE_A).unwrap();
    let parts: Vec<_> = back.attributions.iter().map(|one| (one.label, one.amount.to_string())).collect();
    let (materials, other) = (Label::Category(Category::Materials), Label::Category(Category::Other));
    assert_eq!(parts, [(materials, "-27.46".to_owned()), (other, "-6.86".to_owned())]);
}

// Common practice, no source.
#[test]
fn what_came_back_whole_is_no_second_treatment_of_what_is_still_there() {
    let mut shelf = plywood();
    let mut home = shelf.ask("8", day(2025, 3, 2), EPISODE_A);
    home.treatment = Some(TreatmentAsked { name: TreatmentName::HomeRepair, class: None });
    shelf.issues_as(0, &home, None).unwrap();
    shelf.comes_back("8", day(2025, 3, 3), EPISODE_A).unwrap();
    shelf.issues(0, "8", day(2025, 3, 4), EPISODE_A).unwrap();
    let set = shelf.lots[0].moves.last().unwrap().record;
    let back = shelf.comes_back("2", day(2025, 3, 5), EPISODE_A).unwrap();
    assert_eq!(posted(&back, SUPPLIES), usd("-3.43"));
    // It stands on the issue it is taken out of, not on that of the repair.
    assert_eq!(back.depends_on, [shelf.lots[0].record, set]);
}

// Common practice, no source.
#[test]
fn stock_that_cost_nothing_leaves_the_shelf_all_the_same() {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    shelf.puts("offcuts", "8", "0.00", day(2025, 3, 1));
    let out = shelf.issues(0, "3", day(2025, 3, 2), EPISODE_A).unwrap();
    let left: Vec<_> = moves(&out).iter().map(|row| (row.quantity, row.cost)).collect();
    assert_eq!(left, [(dec("-3"), usd("0.00"))]);
    assert_eq!(shelf.lots[0].remaining().unwrap().quantity, dec("5"));
}

#[test]
fn stock_goes_into_the_piece_that_was_named_and_into_no_other() {
    let mut shelf = plywood();
    let work = piece(PiecePurpose::Resale, Treatment::Resale);
    let mut ask = shelf.ask("1", day(2025, 3, 2), EPISODE_A);
    (ask.episode, ask.piece) = (None, Some(super::super::super::ids::PieceId(uuid::Uuid::from_u128(0xee))));
    let refusal = shelf.issues_as(0, &ask, Some(&work)).unwrap_err();
    assert_eq!(refusal.findings().next().unwrap().pointer, "/piece");
    assert!(refusal.to_string().contains("furniture"), "{refusal}");
}
