//! One piece given for another.

use super::super::super::journal::{Account, Draw, ExpenseClass, Stream, TaxClass};
use super::super::super::recording::{Category, Label, Side};
use super::super::super::rows::{Basis, PieceOrigin, PiecePurpose};
use super::super::{NewSwap, Outcome, TakenForIt, outcome};
use super::workshop::*;

pub(super) fn swap_for(value: &str, purpose: PiecePurpose) -> NewSwap {
    let received = TakenForIt {
        name: "walnut desk".to_owned(),
        purpose,
        value: amount(value),
        episode: None,
        project: Some(project()),
        expense_class: None,
    };
    NewSwap {
        date: day(2025, 6, 1),
        received,
        evidence: Some("the dealer's price".to_owned()),
        money_received: None,
        money_paid: None,
        money_account: None,
        party: None,
        episode: None,
        project: None,
        note: None,
    }
}

// Pub. 525, bartering (seen in Pub. 17): fair value of what comes; figures derived.
#[test]
fn a_swap_is_a_sale_at_the_fair_value_of_what_came_and_a_purchase_at_the_same() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    puts_into(&mut facts, "20.00", day(2025, 3, 9));
    let swapped = shop.swaps(&facts, &swap_for("240.00", PiecePurpose::Resale)).unwrap();
    assert_eq!(swapped.entries.len(), 1);
    assert_eq!(posted(&swapped, Account::Income(Stream::Furniture)), usd("-240.00"));
    assert_eq!(posted(&swapped, Account::CostOfPiecesSold), usd("100.00"));
    assert_eq!(posted(&swapped, Account::PiecesForResale), usd("140.00"), "240 came, 100 went");
    assert_eq!(posted(&swapped, bank().receiving()), usd("0.00"));
    assert_eq!(outcome(&sale_row(&swapped)).unwrap(), Outcome::Gain(usd("140.00")));
    let desk = facts_of(&swapped);
    assert_eq!((desk.piece.origin, desk.piece.basis), (PieceOrigin::Swapped, Basis::Known(usd("240.00"))));
    assert_eq!(desk.piece.object, Some(PROJECT));
    assert_eq!(attributed(&swapped, Side::Income), usd("240.00"));
    let sold = shop.sells(&desk, &sale("300.00", "0", day(2025, 8, 1))).unwrap();
    assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd("240.00"));
}

// Pub. 525, bartering (seen in Pub. 17); figures derived: traded in with 160 against a desk of 400.
#[test]
fn a_trade_in_counts_as_sold_for_what_the_desk_is_worth_less_the_money_paid() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let mut ask = swap_for("400.00", PiecePurpose::Set);
    (ask.money_paid, ask.money_account) = (Some(amount("160.00")), Some(bank().id));
    let swapped = shop.swaps(&facts, &ask).unwrap();
    assert_eq!(posted(&swapped, Account::Income(Stream::Furniture)), usd("-240.00"));
    assert_eq!(posted(&swapped, Account::Expense(ExpenseClass::Supplies)), usd("400.00"));
    assert_eq!(posted(&swapped, bank().paying()), usd("-160.00"));
    let desk = swapped.attributions.last().unwrap();
    assert_eq!(
        (desk.label, desk.amount, desk.object),
        (Label::Category(Category::Furniture), usd("400.00"), PROJECT)
    );
    let mut ask = swap_for("100.00", PiecePurpose::Resale);
    (ask.money_received, ask.money_account) = (Some(amount("50.00")), Some(bank().id));
    let swapped = shop.swaps(&facts, &ask).unwrap();
    assert_eq!(posted(&swapped, Account::Income(Stream::Furniture)), usd("-150.00"));
    assert_eq!(posted(&swapped, bank().receiving()), usd("50.00"));
}

// FS-2023-06 (seen) and Pub. 525: the owner's own thing given for another is no business income.
#[test]
fn the_owners_own_thing_swapped_stays_apart_from_the_business() {
    let mut shop = Workshop::new();
    let mut own = owned(PiecePurpose::Personal);
    own.basis = Some(amount("100.00"));
    let facts = facts_of(&shop.acquires(&own).unwrap());
    let swapped = shop.swaps(&facts, &swap_for("130.00", PiecePurpose::Personal)).unwrap();
    assert_eq!(posted(&swapped, Account::Draw(Draw::PersonalItems)), usd("130.00"));
    let credit = &swapped.entries[0].postings()[1];
    assert_eq!(
        (credit.account, credit.class),
        (Account::OwnerContribution, Some(TaxClass::PersonalPropertySale))
    );
    assert_eq!(outcome(&sale_row(&swapped)).unwrap(), Outcome::Gain(usd("30.00")));
    assert!(swapped.streams.is_empty());
}

// Common practice, no source.
#[test]
fn a_swap_that_can_not_be_is_refused_with_everything_at_once() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    facts.deposits.held = usd("20.00");
    let mut ask = swap_for("100.00", PiecePurpose::Resale);
    ask.received.name = " ".to_owned();
    ask.received.expense_class = Some(ExpenseClass::Office);
    (ask.money_received, ask.money_paid) = (Some(amount("10.00")), Some(amount("150.00")));
    let refusal = shop.swaps(&facts, &ask).unwrap_err();
    assert_eq!(
        pointers(&refusal),
        ["", "/received/name", "/received/expense_class", "", "/money_account", "/money_paid"]
    );
    assert!(
        refusal.to_string().contains("a buyer's deposit of 20.00 on oak dresser is still held"),
        "{refusal}"
    );
    let mut direct = for_resale("80.00", day(2025, 3, 1));
    (direct.origin, direct.paid_from) = (PieceOrigin::Swapped, None);
    assert_eq!(pointers(&shop.acquires(&direct).unwrap_err()), ["/origin"]);
}
