//! A lower price afterwards: a rebate, or money back for what was used up.

use uuid::Uuid;

use super::goods::on_shelf;
use super::*;
use crate::rules::ids::{PieceId, SourceId};
use crate::rules::journal::Stream;
use crate::rules::pieces::{Gone, PieceInWork};
use crate::rules::recording::{Category, CostObject, Label, MaterialsTiming, Side};
use crate::rules::rows::{Basis, LotMove, LotMoveKind, Piece, PieceOrigin, Row, Target};
use crate::rules::treatment::Treatment;

const ISSUE: RecordId = RecordId(Uuid::from_u128(2));
const TABLE: PieceId = PieceId(Uuid::from_u128(0xd0));
const BOARDS_COST: SourceId = SourceId(Uuid::from_u128(0xd2));
const TABLES_COST: SourceId = SourceId(Uuid::from_u128(0xd1));
const SUPPLIES: Treatment = Treatment::Expense(ExpenseClass::Supplies);
const MATERIALS: Label = Label::Category(Category::Materials);

fn table(gone: Option<Gone>) -> PieceInWork {
    let piece = Piece {
        id: TABLE,
        source: TABLES_COST,
        name: "side table".to_owned(),
        origin: PieceOrigin::Found,
        purpose: PiecePurpose::Resale,
        acquired_on: day("2025-01-05"),
        basis: Basis::Known(dollars("0.00")),
        value: None,
        treatment: Treatment::Resale,
        object: Some(CostObject::Episode(episode(2))),
    };
    PieceInWork { piece, record: RecordId(Uuid::from_u128(3)), gone }
}

/// Twelve boards for 60.00: three for the first episode, two spoilt, one in a side table, six on the shelf.
pub(super) fn boards_used(timing: MaterialsTiming) -> PurchaseBought {
    let mut bought = on_shelf(timing, "6", "30.00");
    let line = &mut bought.lines[0];
    // Apart from what the next pen gives out.
    line.line.source = BOARDS_COST;
    line.held = dollars("55.00");
    line.attributed = vec![(CostObject::Episode(episode(1)), MATERIALS, dollars("15.00"))];
    line.last_given = Some(day("2025-03-06"));
    let lot = line.lot.as_mut().unwrap();
    lot.lot.source = BOARDS_COST;
    let moved = |kind, quantity: &str, cost: &str, to, treatment| {
        let (lot, date) = (lot.lot.id, day("2025-03-06"));
        let (quantity, cost) = (quantity.parse().unwrap(), dollars(cost));
        (ISSUE, LotMove { lot, date, kind, quantity, cost, to, treatment })
    };
    let first = Target::Object(CostObject::Episode(episode(1)));
    let moves = vec![
        moved(LotMoveKind::Issued, "-3", "-15.00", first, SUPPLIES),
        moved(LotMoveKind::Wasted, "-2", "-10.00", Target::Overhead, SUPPLIES),
        moved(LotMoveKind::Issued, "-1", "-5.00", Target::Piece(TABLE), Treatment::Resale),
    ];
    lot.moves = moves;
    lot.pieces = vec![table(None)];
    bought
}

fn refunds(bought: &PurchaseBought, sum: &str, more: serde_json::Value) -> Result<Recording, Refusal> {
    let date = more.get("date").cloned().unwrap_or(json!("2025-03-10"));
    let mut line = json!({ "line": 0, "amount": sum, "goods": "kept" });
    line.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    line.as_object_mut().unwrap().remove("date");
    let new = asked(json!({ "date": date, "refunded_to": bank().id, "lines": [line] }));
    let rec = write(|pen| give_back(pen, bought, bank(), &new))?;
    ties(&rec, &[(bought.lines[0].line.source, Side::Cost), (TABLES_COST, Side::Cost)]);
    Ok(rec)
}

fn given(rec: &Recording, source: SourceId) -> Vec<String> {
    let of = rec.attributions.iter().filter(|one| one.source == source);
    of.map(|one| {
        let number = (1..10).find(|number| one.object == CostObject::Episode(episode(*number))).unwrap();
        format!("{number} {} {}", one.label.as_str(), one.amount)
    })
    .collect()
}

fn moved(rec: &Recording, source: SourceId) -> String {
    let of = rec.movements.iter().filter(|one| one.source == source);
    of.map(|one| one.amount.amount()).sum::<rust_decimal::Decimal>().to_string()
}

fn lot_moves(rec: &Recording) -> Vec<(LotMoveKind, String)> {
    let rows = rec.rows.iter();
    rows.filter_map(|row| match row {
        Row::LotMove(row) => Some((row.kind, row.cost.to_string())),
        _ => None,
    })
    .collect()
}

// Derived: a fifth of 60.00 comes back, so each bears a fifth less: the shelf 6.00, the episode 3.00, what was spoilt 2.00,
// the table 1.00.
#[test]
fn a_rebate_lowers_the_shelf_the_episode_the_waste_and_the_piece_by_what_each_carries() {
    let bought = boards_used(MaterialsTiming::WhenUsed);
    let source = bought.lines[0].line.source;
    let rec = refunds(&bought, "12.00", json!({})).unwrap();
    let balances =
        [Account::MaterialsOnHand, Account::Expense(ExpenseClass::Supplies), Account::PiecesForResale];
    assert_eq!(balances.map(|account| balance(&rec, account)), ["-6.00", "-5.00", "-1.00"]);
    assert_eq!(balance(&rec, Account::Money(bank().id)), "12.00");
    assert_eq!(given(&rec, source), ["1 materials -3.00"]);
    assert_eq!((moved(&rec, source), moved(&rec, TABLES_COST)), ("-11.00".to_owned(), "-1.00".to_owned()));
    let passed = LotMoveKind::RebatePassedOn;
    let rows = [(passed, "3.00"), (passed, "2.00"), (passed, "1.00"), (LotMoveKind::Rebated, "-12.00")];
    assert_eq!(lot_moves(&rec), rows.map(|(kind, cost)| (kind, cost.to_owned())));
    assert!(rec.depends_on.contains(&ISSUE), "the issue is not taken back under it");
}

// Common practice, no source.
#[test]
fn money_back_for_boards_that_one_episode_used_up_lowers_that_episode_alone() {
    let bought = boards_used(MaterialsTiming::WhenUsed);
    let source = bought.lines[0].line.source;
    let there = json!({ "episode": episode(1) });
    let rec = refunds(&bought, "15.00", there.clone()).unwrap();
    assert_eq!(given(&rec, source), ["1 materials -15.00"]);
    assert_eq!(balance(&rec, Account::Expense(ExpenseClass::Supplies)), "-15.00");
    assert_eq!(
        findings(refunds(&bought, "15.01", there)),
        ["/lines/0/amount: 15.01 is to come back, but only 15.00 is left of the line"]
    );
    assert_eq!(
        findings(refunds(&bought, "1.00", json!({ "episode": episode(2) }))),
        ["/lines/0/episode: nothing of this line was used there"]
    );
    let piece = refunds(&bought, "5.00", json!({ "piece": TABLE })).unwrap();
    assert_eq!((moved(&piece, TABLES_COST), moved(&piece, source)), ("-5.00".to_owned(), "0".to_owned()));
}

// Recovery of a cost deducted in an earlier year is income, what was not deducted lowers the basis: IRC 111, from memory.
#[test]
fn a_rebate_of_a_later_year_is_income_where_boards_were_deducted_and_lowers_what_still_waits() {
    let bought = boards_used(MaterialsTiming::WhenUsed);
    let source = bought.lines[0].line.source;
    let rec = refunds(&bought, "12.00", json!({ "date": "2026-02-01" })).unwrap();
    assert_eq!(balance(&rec, Account::Income(Stream::Other)), "-5.00");
    assert_eq!(balance(&rec, Account::Expense(ExpenseClass::Supplies)), "0.00");
    assert_eq!(
        (balance(&rec, Account::MaterialsOnHand), moved(&rec, source)),
        ("-6.00".into(), "-6.00".into())
    );
    assert_eq!(given(&rec, source), [""; 0]);
    assert_eq!(given(&rec, rec.sources[0].id), ["1 other 3.00"]);
    // Boards that were deducted as they were paid: their part on the shelf is income too.
    let rec =
        refunds(&boards_used(MaterialsTiming::WhenPaid), "12.00", json!({ "date": "2026-02-01" })).unwrap();
    assert_eq!(balance(&rec, Account::Income(Stream::Other)), "-11.00");
    assert_eq!(
        lot_moves(&rec),
        [(LotMoveKind::RebatePassedOn, "1.00".into()), (LotMoveKind::Rebated, "-1.00".into())]
    );
}

// Derived: boards on the shelf that were deducted as they were paid are supplies of that year still.
#[test]
fn a_rebate_of_the_same_year_lowers_supplies_where_boards_on_the_shelf_were_deducted() {
    let rec = refunds(&boards_used(MaterialsTiming::WhenPaid), "12.00", json!({})).unwrap();
    let balances =
        [Account::MaterialsOnHand, Account::Expense(ExpenseClass::Supplies), Account::PiecesForResale];
    assert_eq!(balances.map(|account| balance(&rec, account)), ["0.00", "-11.00", "-1.00"]);
    assert!(rec.streams.is_empty(), "nothing of it is income");
}

// Common practice, no source; that a deduction of an earlier year is income: IRC 111, from memory.
#[test]
fn boards_that_came_back_to_the_shelf_are_less_of_the_last_year_they_were_used_in() {
    let refunded = |(boards, worth): (&str, &str), left: &str, cost: &str, bears: &str, sum: &str| {
        let mut bought = boards_used(MaterialsTiming::WhenUsed);
        let line = &mut bought.lines[0];
        line.held = dollars("60.00");
        line.attributed = vec![(CostObject::Episode(episode(1)), MATERIALS, dollars(bears))];
        line.last_given = Some(day("2026-01-20"));
        let lot = line.lot.as_mut().unwrap();
        (lot.left, lot.left_cost) = (left.parse().unwrap(), dollars(cost));
        lot.moves.truncate(1);
        let used = lot.moves[0].1.clone();
        let again = |date: &str, kind, quantity: &str, cost: &str| {
            let (quantity, cost) = (quantity.parse().unwrap(), dollars(cost));
            (ISSUE, LotMove { date: day(date), kind, quantity, cost, ..used.clone() })
        };
        lot.moves.extend([
            again("2026-01-10", LotMoveKind::Issued, "-2", "-10.00"),
            again("2026-01-20", LotMoveKind::CameBack, boards, worth),
        ]);
        refunds(&bought, sum, json!({ "date": "2026-02-01", "episode": episode(1) }))
    };
    let amounts = |rec: &Recording| {
        [Account::Income(Stream::Other), Account::Expense(ExpenseClass::Supplies)]
            .map(|account| balance(rec, account))
    };
    // Used for 15.00 in 2025 and for 10.00 in 2026, of which 5.00 came back: three parts in four are of 2025.
    let some = refunded(("1", "5.00"), "8", "40.00", "20.00", "4.00").unwrap();
    assert_eq!(amounts(&some), ["-3.00", "-1.00"]);
    assert_eq!(given(&some, BOARDS_COST), ["1 materials -1.00"]);
    assert_eq!(
        findings(refunded(("1", "5.00"), "8", "40.00", "20.00", "20.01")),
        ["/lines/0/amount: 20.01 is to come back, but only 20.00 is left of the line"]
    );
    // All of 2026 came back, and some of 2025 too.
    let most = refunded(("3", "15.00"), "10", "50.00", "10.00", "4.00").unwrap();
    assert_eq!(amounts(&most), ["-4.00", "0.00"]);
}

// Common practice, no source.
#[test]
fn a_rebate_for_one_episode_is_less_where_its_boards_stand_before_it_is_less_elsewhere() {
    let stands = |number, label, sum: &str| (CostObject::Episode(episode(number)), label, dollars(sum));
    let overhead = Label::Category(Category::Overhead);
    let less = |attributed: Vec<(CostObject, Label, Money)>| {
        let mut bought = boards_used(MaterialsTiming::WhenUsed);
        bought.lines[0].attributed = attributed;
        let rec = refunds(&bought, "5.00", json!({ "episode": episode(1) })).unwrap();
        given(&rec, BOARDS_COST)
    };
    let both = vec![stands(3, MATERIALS, "6.00"), stands(1, MATERIALS, "15.00")];
    assert_eq!(less(both), ["1 materials -5.00"]);
    let moved_on = vec![stands(3, MATERIALS, "12.00"), stands(1, MATERIALS, "3.00")];
    assert_eq!(less(moved_on), ["3 materials -2.00", "1 materials -3.00"]);
    // What stands as overhead is less last, its own before that of others.
    let spread = vec![stands(1, MATERIALS, "1.00"), stands(2, overhead, "6.00"), stands(1, overhead, "4.00")];
    assert_eq!(less(spread), ["1 materials -1.00", "1 overhead -4.00"]);
}

// Common practice, no source.
#[test]
fn a_rebate_on_what_went_into_a_piece_that_is_sold_is_other_income() {
    let mut bought = boards_used(MaterialsTiming::WhenUsed);
    let gone = Some(Gone { on: day("2025-03-08"), how: "sold" });
    bought.lines[0].lot.as_mut().unwrap().pieces = vec![table(gone)];
    let rec = refunds(&bought, "12.00", json!({})).unwrap();
    assert_eq!(
        (moved(&rec, TABLES_COST), balance(&rec, Account::PiecesForResale)),
        ("0".into(), "0.00".into())
    );
    assert_eq!(balance(&rec, Account::Income(Stream::Other)), "-1.00");
    assert_eq!(given(&rec, rec.sources[0].id), ["2 other 1.00"]);
    assert!(rec.notes[0].contains("side table, whose cost was settled"), "{:?}", rec.notes);
}

// Common practice, no source: what was moved on or spread since is less where it stands now.
#[test]
fn a_rebate_follows_a_cost_to_where_it_was_moved_and_overhead_to_where_it_was_spread() {
    let mut bought = boards_used(MaterialsTiming::WhenUsed);
    let source = bought.lines[0].line.source;
    let overhead = Label::Category(Category::Overhead);
    let stands = |number, label, sum: &str| (CostObject::Episode(episode(number)), label, dollars(sum));
    bought.lines[0].attributed =
        vec![stands(2, MATERIALS, "15.00"), stands(1, overhead, "6.00"), stands(2, overhead, "4.00")];
    let rec = refunds(&bought, "12.00", json!({})).unwrap();
    assert_eq!(given(&rec, source), ["2 materials -3.00", "1 overhead -1.20", "2 overhead -0.80"]);
}

#[test]
fn a_rebate_is_for_goods_that_stay_and_not_before_they_were_last_moved() {
    let bought = boards_used(MaterialsTiming::WhenUsed);
    assert_eq!(
        findings(refunds(&bought, "1.00", json!({ "quantity": "1" }))),
        ["/lines/0/quantity: the goods stay, and yet a quantity goes back"]
    );
    let early = findings(refunds(&bought, "1.00", json!({ "date": "2025-03-05" })));
    assert!(early[0].starts_with("/lines/0: 2025-03-05 is before 2025-03-06"), "{early:?}");
    assert!(refunds(&bought, "1.00", json!({ "date": "2025-03-06" })).is_ok(), "on the day itself");
    let back = findings(refunds(
        &bought,
        "1.00",
        json!({ "goods": "went_back", "episode": episode(1), "quantity": "1" }),
    ));
    assert!(back[0].starts_with("/lines/0/goods: it is said where the goods were used"), "{back:?}");
    assert!(findings(refunds(&bought, "60.01", json!({})))[0].contains("only 60.00 is left"), "all of it");
}

proptest::proptest! {
    // Invariant: whatever comes back is less somewhere or income, to the cent, and nobody bears less than nothing.
    #[test]
    fn every_cent_of_a_rebate_lowers_a_cost_or_is_income(
        cents in 1..6_000_i64, later in proptest::bool::ANY, sold in proptest::bool::ANY, moved_on in 0..1_501_i64,
    ) {
        let mut bought = boards_used(MaterialsTiming::WhenUsed);
        let cost = |cents: i64| Money::exact(rust_decimal::Decimal::new(cents, 2), usd()).unwrap();
        let object = |number| CostObject::Episode(episode(number));
        bought.lines[0].attributed =
            vec![(object(1), MATERIALS, cost(1_500 - moved_on)), (object(2), MATERIALS, cost(moved_on))];
        let gone = sold.then_some(Gone { on: day("2025-03-08"), how: "sold" });
        bought.lines[0].lot.as_mut().unwrap().pieces = vec![table(gone)];
        let date = if later { "2026-02-01" } else { "2025-03-10" };
        let rec = refunds(&bought, &cost(cents).to_string(), json!({ "date": date })).unwrap();
        let source = bought.lines[0].line.source;
        let sum = |of: SourceId| -> rust_decimal::Decimal {
            rec.movements.iter().filter(|one| one.source == of).map(|one| one.amount.amount()).sum()
        };
        let earned: rust_decimal::Decimal = rec.sources.iter().map(|one| sum(one.id)).sum();
        proptest::prop_assert_eq!(earned - sum(source) - sum(TABLES_COST), cost(cents).amount());
        let layer: rust_decimal::Decimal = lot_moves(&rec)
            .iter().map(|(_, cost)| cost.parse::<rust_decimal::Decimal>().unwrap()).sum();
        proptest::prop_assert!(layer <= rust_decimal::Decimal::ZERO && layer >= -dollars("30.00").amount());
        for (place, (number, _, before)) in bought.lines[0].attributed.iter().enumerate() {
            let less: rust_decimal::Decimal = rec.attributions.iter()
                .filter(|one| one.source == source && one.object == *number).map(|one| one.amount.amount()).sum();
            proptest::prop_assert!(before.amount() + less >= rust_decimal::Decimal::ZERO, "{}", place);
        }
    }
}
