//! The first and the last day of a deposit, and its last cent.

use uuid::Uuid;

use super::super::super::ids::{PartyId, RecordId};
use super::super::super::journal::{Account, Stream};
use super::super::super::recording::{Label, Side};
use super::super::super::rows::PiecePurpose;
use super::super::{DepositEnd, NewDeposit, NewDepositEnd, PieceFacts};
use super::workshop::*;

fn buyer() -> PartyId {
    PartyId(Uuid::from_u128(0xb0))
}

fn put_down(sum: &str, on: u32) -> NewDeposit {
    NewDeposit {
        date: day(2025, 4, on),
        amount: amount(sum),
        paid_into: bank().id,
        party: Some(buyer()),
        currency: None,
        rate: None,
        note: None,
    }
}

fn ends(how: DepositEnd, sum: Option<&str>, on: u32) -> NewDepositEnd {
    let paid_from = (how == DepositEnd::PaidBack).then(|| bank().id);
    let (date, amount) = (day(2025, 4, on), sum.map(amount));
    NewDepositEnd { date, how, amount, paid_from, party: Some(buyer()), note: None }
}

/// A dresser for resale with a deposit of 50.00 since 1 April.
fn with_deposit(shop: &mut Workshop) -> PieceFacts {
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    facts.deposits.held = usd("50.00");
    facts.deposits.records = vec![RecordId(Uuid::from_u128(0xd0))];
    facts.deposits.last = Some(day(2025, 4, 1));
    facts
}

// Common practice, no source.
#[test]
fn a_deposit_says_whose_it_is_and_that_it_is_no_income_yet() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let taken = shop.takes_deposit(&facts, &put_down("50.00", 1)).unwrap();
    assert_eq!((taken.kind, taken.text.as_str()), ("deposit", "deposit on oak dresser"));
    assert_eq!((taken.party, taken.depends_on.as_slice()), (Some(buyer()), [facts.record].as_slice()));
    assert_eq!(taken.about, [EPISODE]);
    assert_eq!(taken.notes, ["It is owed to the buyer until the piece is sold: no income yet."]);
}

// Common practice, no source.
#[test]
fn all_of_a_deposit_may_go_back_on_the_day_it_came_and_the_day_before_none_of_it() {
    let mut shop = Workshop::new();
    let facts = with_deposit(&mut shop);
    let back = shop.settles_deposit(&facts, &ends(DepositEnd::PaidBack, Some("50.00"), 1)).unwrap();
    assert_eq!((back.kind, back.text.as_str()), ("deposit_paid_back", "deposit on oak dresser paid back"));
    assert_eq!(posted(&back, Account::DepositsReceived), usd("50.00"));
    assert_eq!(back.depends_on, [facts.record, facts.deposits.records[0]]);
    assert_eq!((back.party, back.notes.len()), (Some(buyer()), 0));
    let mut early = ends(DepositEnd::PaidBack, None, 1);
    early.date = day(2025, 3, 31);
    assert_eq!(pointers(&shop.settles_deposit(&facts, &early).unwrap_err()), ["/date"]);
    let more = shop.settles_deposit(&facts, &ends(DepositEnd::PaidBack, Some("50.01"), 1)).unwrap_err();
    assert!(more.to_string().contains("50.01 are more than the 50.00 that are held"), "{more}");
}

// Schedule C instructions, line 6 (from memory).
#[test]
fn part_of_a_deposit_may_be_kept_and_earns_the_episode_of_the_piece() {
    let mut shop = Workshop::new();
    let facts = with_deposit(&mut shop);
    let kept = shop.settles_deposit(&facts, &ends(DepositEnd::Kept, Some("20.00"), 9)).unwrap();
    assert_eq!((kept.kind, kept.text.as_str()), ("deposit_kept", "deposit on oak dresser kept"));
    assert_eq!(
        (posted(&kept, Account::Income(Stream::Other)), attributed(&kept, Side::Income)),
        (usd("-20.00"), usd("20.00"))
    );
    assert_eq!(
        (kept.attributions[0].object, kept.attributions[0].label),
        (EPISODE, Label::Stream(Stream::Other))
    );
    assert_eq!(kept.streams, [Stream::Other]);
    assert_eq!(kept.notes, ["The buyer did not come: 20.00 are other income of that day."]);
    let mut set = facts;
    set.piece.purpose = PiecePurpose::Set;
    let kept = shop.settles_deposit(&set, &ends(DepositEnd::Kept, None, 9)).unwrap();
    assert_eq!(posted(&kept, Account::Income(Stream::Other)), usd("-50.00"), "a set piece is the business's");
}

// Common practice, no source.
#[test]
fn a_piece_goes_on_the_day_of_its_last_cost_and_on_the_day_its_sale_was_taken_back() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    puts_into(&mut facts, "12.00", day(2025, 4, 5));
    assert!(shop.takes_deposit(&facts, &put_down("50.00", 5)).is_ok());
    assert_eq!(pointers(&shop.takes_deposit(&facts, &put_down("50.00", 4)).unwrap_err()), ["/date"]);
    facts.gone_until = Some(day(2025, 4, 8));
    assert!(shop.takes_deposit(&facts, &put_down("50.00", 8)).is_ok());
    assert_eq!(pointers(&shop.takes_deposit(&facts, &put_down("50.00", 7)).unwrap_err()), ["/date"]);
}
