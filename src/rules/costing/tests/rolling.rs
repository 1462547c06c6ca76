use super::super::super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::super::super::tie::TieOf;
use super::*;

fn posted(account: Account, class: Option<TaxClass>, amount: &str) -> PostedSum {
    PostedSum { account, class, amount: usd(amount) }
}

fn rolled(sources: &[SourceFacts], ledger: &[PostedSum], as_of: Option<NaiveDate>) -> RollForward {
    roll_forward(sources, ledger, usd("0").currency(), as_of).unwrap()
}

fn attributed(facts: &mut SourceFacts, month: u32, amount: &str) {
    facts.attributed.push(DatedAmount { date: day(month, 10), amount: usd(amount) });
}

/// A lot bought for 60.00, of which 10.00 went back and 5.00 was spoilt for the owner's own wall.
fn lot() -> SourceFacts {
    let mut lot = source(1, Side::Cost, SourceKind::Lot, usd("60.00"));
    lot.movements.push(moved(3, MovementKind::Returned, usd("-10.00")));
    lot.movements.push(MovementFacts { entry_kind: None, ..moved(4, MovementKind::Removed, usd("-5.00")) });
    attributed(&mut lot, 2, "30.88");
    attributed(&mut lot, 5, "8.58");
    lot
}

// Common practice, no source: 60.00 - 10.00 - 5.00 - 39.46 = 5.54.
#[test]
fn a_lot_rolls_forward_from_what_was_bought_to_what_is_left() {
    let all = rolled(&[lot()], &[posted(Account::MaterialsOnHand, None, "50.00")], None);
    let sums = all.sources[0].sums;
    let shown = [sums.opening, sums.incurred, sums.returned, sums.removed, sums.attributed, sums.closing];
    let expected = ["0.00", "60.00", "10.00", "5.00", "39.46", "5.54"];
    assert_eq!(shown.map(|amount| amount.to_string()), expected);
    assert!(all.reconciles, "what left without an entry does not change the ledger");
    let left = all.unattributed();
    assert_eq!((left.len(), left[0].amount), (1, usd("5.54")));
}

#[test]
fn a_roll_forward_of_an_earlier_day_knows_nothing_of_what_came_later() {
    let february = rolled(&[lot()], &[posted(Account::MaterialsOnHand, None, "60.00")], Some(day(2, 28)));
    assert_eq!(february.sources[0].sums.closing, usd("29.12"));
    assert!(february.reconciles);
}

#[test]
fn more_attributed_than_there_was_shows_on_the_day_it_happened_even_if_it_came_right_later() {
    let mut early = source(1, Side::Cost, SourceKind::PurchaseLine, usd("60.00"));
    early.movements[0].date = day(6, 1);
    attributed(&mut early, 5, "60.00");
    let ledger = [posted(Account::Expense(ExpenseClass::Supplies), Some(TaxClass::Supplies), "60.00")];
    let all = rolled(&[early.clone()], &ledger, None);
    assert_eq!(all.sources[0].sums.closing, usd("0.00"));
    assert!(!all.sources[0].rolls_forward && !all.reconciles);
    assert!(rolled(&[early], &[], Some(day(4, 30))).reconciles);
}

#[test]
fn a_source_below_zero_is_attributed_downwards_and_no_further() {
    let mut adjustment = source(1, Side::Income, SourceKind::Payout, usd("-20.00"));
    attributed(&mut adjustment, 2, "-20.00");
    let ledger = [posted(Account::Income(Stream::Advertising), None, "20.00")];
    assert!(rolled(&[adjustment.clone()], &ledger, None).reconciles);
    attributed(&mut adjustment, 3, "-0.01");
    assert!(!rolled(&[adjustment], &ledger, None).reconciles);
}

/// One source a side, with what the journal holds for it.
fn a_bit_of_everything() -> (Vec<SourceFacts>, Vec<PostedSum>) {
    let sources = vec![
        source(1, Side::Cost, SourceKind::PurchaseLine, usd("41.10")),
        source(2, Side::Cost, SourceKind::PurchaseLine, usd("20.00")),
        source(3, Side::Income, SourceKind::Instalment, usd("600.00")),
        source(4, Side::Fee, SourceKind::Instalment, usd("90.00")),
        source(5, Side::InKind, SourceKind::Gift, usd("89.00")),
        source(6, Side::Recovery, SourceKind::PieceSold, usd("180.00")),
    ];
    let ledger = vec![
        posted(Account::Expense(ExpenseClass::Supplies), Some(TaxClass::Supplies), "41.10"),
        posted(Account::Draw(Draw::HomeImprovements), Some(TaxClass::HomeImprovement), "20.00"),
        posted(Account::Expense(ExpenseClass::CommissionsFees), Some(TaxClass::CommissionsFees), "90.00"),
        posted(Account::Income(Stream::Sponsorship), Some(TaxClass::Sponsorship), "-600.00"),
        posted(Account::GoodsForPromotion, Some(TaxClass::GoodsForPromotion), "-89.00"),
        posted(Account::OwnerContribution, Some(TaxClass::PersonalPropertySale), "-180.00"),
        posted(Account::OwnerContribution, None, "-41.10"),
        posted(Account::AccumulatedDepreciation, None, "-7.00"),
        posted(Account::Expense(ExpenseClass::Depreciation), Some(TaxClass::Depreciation), "7.00"),
        posted(Account::Draw(Draw::TaxPayments), Some(TaxClass::OwnerTax), "12.00"),
    ];
    (sources, ledger)
}

#[test]
fn costs_fees_income_gifts_and_proceeds_tie_to_the_journal() {
    let (sources, mut ledger) = a_bit_of_everything();
    let all = rolled(&sources, &ledger, None);
    assert!(all.reconciles);
    let ties: Vec<_> = all.ledger.iter().map(|tie| (tie.of, tie.ledger.to_string())).collect();
    let expected = [(TieOf::Costs, "151.10"), (TieOf::Income, "689.00"), (TieOf::Recoveries, "180.00")];
    assert_eq!(ties, expected.map(|(of, sum)| (of, sum.to_owned())));
    let costs = all.totals.iter().find(|total| total.side == Side::Cost && total.kind.is_none()).unwrap();
    assert_eq!(costs.sums.closing, usd("61.10"));

    ledger[1].amount = usd("20.01");
    let off = rolled(&sources, &ledger, None);
    assert_eq!(off.ledger[0].difference, usd("0.01"));
    assert!(!off.reconciles && off.sources.iter().all(|source| source.rolls_forward));
}

// A tool of which 40.00 was attributed is sold: the ledger loses its whole cost, the source only what was left.
#[test]
fn what_a_disposal_clears_is_bridged_and_not_held_against_the_sources() {
    let mut tool = source(1, Side::Cost, SourceKind::Tool, usd("100.00"));
    attributed(&mut tool, 2, "40.00");
    let disposed = MovementFacts {
        entry_kind: Some(EntryKind::Disposal),
        ..moved(3, MovementKind::Removed, usd("-60.00"))
    };
    tool.movements.push(disposed);
    let all = rolled(&[tool], &[posted(Account::ToolsAtCost, None, "100.00")], None);
    assert!(all.reconciles);
    assert!(all.unattributed().is_empty());
}

#[test]
fn what_is_unattributed_is_listed_by_side_with_the_largest_first() {
    let (sources, _) = a_bit_of_everything();
    let left = rolled(&sources, &[], None).unattributed();
    let listed: Vec<_> = left.iter().map(|one| (one.side, one.amount.to_string())).collect();
    let expected = [
        (Side::Cost, "41.10"),
        (Side::Cost, "20.00"),
        (Side::Income, "600.00"),
        (Side::InKind, "89.00"),
        (Side::Fee, "90.00"),
        (Side::Recovery, "180.00"),
    ];
    assert_eq!(listed, expected.map(|(side, amount)| (side, amount.to_owned())));
}

proptest::proptest! {
    // Invariant 6: opening + incurred - returned - removed - attributed = closing, of each source, each kind and each side.
    #[test]
    fn every_source_rolls_forward_and_the_sums_of_kinds_and_sides_are_the_sums_of_their_sources(
        sources in proptest::collection::vec(
            (0_usize..Side::ALL.len(), 0_usize..SourceKind::ALL.len(),
             proptest::collection::vec((0_usize..4, 0_i64..100_000, 1_u32..13), 0..6),
             proptest::collection::vec((-5_000_i64..20_000, 1_u32..13), 0..6)),
            0..8,
        ),
        last in 1_u32..13,
    ) {
        let cents = |cents: i64| Money::exact(rust_decimal::Decimal::new(cents, 2), usd("0.00").currency()).unwrap();
        let facts: Vec<SourceFacts> = (1_u128..).zip(&sources).map(|(number, (side, kind, moves, given))| {
            let mut facts = source(number, Side::ALL[*side], SourceKind::ALL[*kind], usd("0.00"));
            facts.movements = moves.iter().map(|(kind, size, month)| {
                let kind = MovementKind::ALL[*kind];
                let comes = matches!(kind, MovementKind::Opening | MovementKind::Incurred);
                moved(*month, kind, cents(if comes { *size } else { -*size }))
            }).collect();
            facts.attributed =
                given.iter().map(|(size, month)| DatedAmount { date: day(*month, 5), amount: cents(*size) }).collect();
            facts
        }).collect();
        let end = day(last, 5);
        let roll = roll_forward(&facts, &[], usd("0.00").currency(), Some(end)).unwrap();
        let closes = |sums: &Sums| {
            let left = sums.opening.plus(sums.incurred).unwrap().minus(sums.returned).unwrap();
            left.minus(sums.removed).unwrap().minus(sums.attributed).unwrap()
        };
        for rolled in &roll.sources {
            proptest::prop_assert_eq!(closes(&rolled.sums), rolled.sums.closing);
            let facts = facts.iter().find(|one| one.source.id == rolled.source).unwrap();
            let by_then: rust_decimal::Decimal = facts.movements.iter().filter(|one| one.date <= end)
                .map(|one| one.amount.amount()).sum();
            let given: rust_decimal::Decimal = facts.attributed.iter().filter(|one| one.date <= end)
                .map(|one| one.amount.amount()).sum();
            proptest::prop_assert_eq!(rolled.sums.closing.amount(), by_then - given);
        }
        for total in &roll.totals {
            proptest::prop_assert_eq!(closes(&total.sums), total.sums.closing);
            let of = roll.sources.iter().filter(|one| {
                one.side == total.side && total.kind.is_none_or(|kind| kind == one.kind)
            });
            let closing = Money::sum(usd("0.00").currency(), of.map(|one| one.sums.closing)).unwrap();
            proptest::prop_assert_eq!(closing, total.sums.closing);
        }
    }
}

#[test]
fn a_roll_forward_and_the_ledger_both_count_what_was_posted_on_their_last_day() {
    let source = source(1, Side::Cost, SourceKind::PurchaseLine, usd("60.00"));
    let ledger = [posted(Account::Expense(ExpenseClass::Supplies), Some(TaxClass::Supplies), "60.00")];
    assert!(rolled(std::slice::from_ref(&source), &ledger, Some(day(1, 5))).reconciles);
    assert!(rolled(&[source], &[], Some(day(1, 4))).reconciles, "the day before there was nothing");
}
