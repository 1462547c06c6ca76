//! Deposits and shops: what happens before a sale.

use uuid::Uuid;

use super::super::super::ids::{PartyId, RecordId};
use super::super::super::journal::{Account, ExpenseClass, Stream, TaxClass};
use super::super::super::money::Share;
use super::super::super::recording::{Recording, Side};
use super::super::super::rows::{ConsignmentAct, DepositAct, PieceConsignment, PiecePurpose, Row};
use super::super::{DepositEnd, NewConsignment, NewDeposit, NewDepositEnd, NewFetching, PieceFacts};
use super::workshop::*;

pub(super) fn deposit(sum: &str) -> NewDeposit {
    let (date, paid_into) = (day(2025, 4, 1), bank().id);
    NewDeposit { date, amount: amount(sum), paid_into, party: None, currency: None, rate: None, note: None }
}

pub(super) fn end(how: DepositEnd, sum: Option<&str>) -> NewDepositEnd {
    let paid_from = (how == DepositEnd::PaidBack).then(|| bank().id);
    NewDepositEnd { date: day(2025, 5, 1), how, amount: sum.map(amount), paid_from, party: None, note: None }
}

pub(super) fn with_deposit(mut facts: PieceFacts, held: &str) -> PieceFacts {
    facts.deposits.held = usd(held);
    facts.deposits.records = vec![RecordId(Uuid::from_u128(0xd0))];
    facts.deposits.last = Some(day(2025, 4, 1));
    facts
}

fn deposit_row(rec: &Recording) -> (DepositAct, String) {
    let row = rec.rows.iter().find_map(|row| match row {
        Row::PieceDeposit(row) => Some((row.act, row.amount.to_string())),
        _ => None,
    });
    row.unwrap()
}

// Common practice, no source: a deposit is owed until the sale, of which it is part.
#[test]
fn a_deposit_is_owed_until_the_sale_and_is_then_part_of_the_price() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let taken = shop.takes_deposit(&facts, &deposit("50.00")).unwrap();
    assert_eq!(posted(&taken, Account::DepositsReceived), usd("-50.00"));
    assert_eq!(posted(&taken, bank().receiving()), usd("50.00"));
    assert!(taken.sources.is_empty() && taken.streams.is_empty());
    let facts = with_deposit(facts, "50.00");
    let sold = shop.sells(&facts, &sale("390.00", "39.00", day(2025, 4, 2))).unwrap();
    assert_eq!(posted(&sold, Account::DepositsReceived), usd("50.00"));
    assert_eq!(posted(&sold, bank().receiving()), usd("301.00"));
    assert_eq!(posted(&sold, Account::Income(Stream::Furniture)), usd("-390.00"));
    assert_eq!(deposit_row(&sold), (DepositAct::Applied, "50.00".to_owned()));
    assert_eq!(sold.depends_on.last(), facts.deposits.records.last());
    let early = shop.sells(&facts, &sale("390.00", "0", day(2025, 3, 31))).unwrap_err();
    assert!(early.to_string().contains("2025-03-31 is before 2025-04-01"), "{early}");
    let cheap = shop.sells(&facts, &sale("50.00", "0.01", day(2025, 4, 2))).unwrap_err();
    assert!(cheap.to_string().contains("a deposit of 50.00 is held, and the sale brings 49.99"), "{cheap}");
}

// Schedule C instructions, line 6 (from memory): what a buyer forfeits is other income.
#[test]
fn a_deposit_of_a_buyer_who_did_not_come_is_other_income_and_one_paid_back_is_nothing() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let facts = with_deposit(facts, "50.00");
    let kept = shop.settles_deposit(&facts, &end(DepositEnd::Kept, None)).unwrap();
    let credit = &kept.entries[0].postings()[1];
    assert_eq!((credit.account, credit.class), (Account::Income(Stream::Other), Some(TaxClass::OtherIncome)));
    assert_eq!(attributed(&kept, Side::Income), usd("50.00"));
    assert_eq!(deposit_row(&kept), (DepositAct::Kept, "50.00".to_owned()));
    let back = shop.settles_deposit(&facts, &end(DepositEnd::PaidBack, Some("20.00"))).unwrap();
    assert_eq!(posted(&back, bank().paying()), usd("-20.00"));
    assert!(back.sources.is_empty());
    assert_eq!(deposit_row(&back), (DepositAct::PaidBack, "20.00".to_owned()));
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let kept = shop.settles_deposit(&with_deposit(own, "30.00"), &end(DepositEnd::Kept, None)).unwrap();
    assert_eq!(posted(&kept, Account::OwnerContribution), usd("-30.00"));
    assert!(kept.streams.is_empty() && kept.notes[0].contains("Question to the preparer"));
}

// Common practice, no source.
#[test]
fn no_more_of_a_deposit_is_given_back_than_was_taken() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let none = shop.settles_deposit(&facts, &end(DepositEnd::Kept, None)).unwrap_err();
    assert!(none.to_string().contains("no deposit on oak dresser is held"), "{none}");
    let facts = with_deposit(facts, "50.00");
    let mut ask = end(DepositEnd::PaidBack, Some("50.01"));
    ask.paid_from = None;
    assert_eq!(pointers(&shop.settles_deposit(&facts, &ask).unwrap_err()), ["/amount", "/paid_from"]);
    let mut ask = end(DepositEnd::Kept, None);
    (ask.paid_from, ask.date) = (Some(bank().id), day(2025, 3, 15));
    assert_eq!(pointers(&shop.settles_deposit(&facts, &ask).unwrap_err()), ["/date", "/paid_from"]);
    assert_eq!(pointers(&shop.takes_deposit(&facts, &deposit("0")).unwrap_err()), ["/amount"]);
}

pub(super) fn shop_party() -> PartyId {
    PartyId(Uuid::from_u128(0x50))
}

pub(super) fn handed_over(facts: &PieceFacts, rec: &Recording) -> PieceFacts {
    let at: PieceConsignment = rec
        .rows
        .iter()
        .find_map(|row| match row {
            Row::PieceConsignment(at) => Some(at.clone()),
            _ => None,
        })
        .unwrap();
    PieceFacts { consigned: Some((RecordId(Uuid::from_u128(0xc5)), at)), ..facts.clone() }
}

fn at_the_shop(facts: &PieceFacts) -> PieceConsignment {
    facts.consigned.clone().unwrap().1
}

// Pub. 334 ch. 6, goods out on consignment (from memory); figures derived: 390 at 33.3 %.
#[test]
fn a_piece_in_a_shop_stays_in_stock_and_its_sale_counts_in_full_with_the_commission_as_a_fee() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let (date, commission) = (day(2025, 4, 1), Share::parse("33.3").unwrap());
    let ask = NewConsignment { date, shop: shop_party(), commission, note: None };
    let there = shop.consigns(&facts, &ask).unwrap();
    assert!(there.entries.is_empty() && there.movements.is_empty());
    let facts = handed_over(&facts, &there);
    let mut ask_sale = sale("390.00", "0", day(2025, 5, 2));
    ask_sale.fees = None;
    let sold = shop.sells(&facts, &ask_sale).unwrap();
    assert_eq!(posted(&sold, Account::Expense(ExpenseClass::CommissionsFees)), usd("129.87"));
    assert_eq!(posted(&sold, bank().receiving()), usd("260.13"));
    assert_eq!(posted(&sold, Account::Income(Stream::Furniture)), usd("-390.00"));
    assert_eq!(sold.party, Some(shop_party()));
    assert!(sold.notes.iter().all(|note| !note.contains("was agreed")), "{:?}", sold.notes);
    let last =
        PieceConsignment { date: day(2025, 5, 2), act: ConsignmentAct::SoldThere, ..at_the_shop(&facts) };
    assert_eq!(handed_over(&facts, &sold).consigned.map(|(_, at)| at), Some(last));
    let stated = shop.sells(&facts, &sale("390.00", "100.00", day(2025, 5, 2))).unwrap();
    assert_eq!(
        posted(&stated, Account::Expense(ExpenseClass::CommissionsFees)),
        usd("100.00"),
        "as the shop said"
    );
    assert!(stated.notes.contains(
        &"33.3 % was agreed, which would be 129.87: ask the shop, or reverse the sale and give the fees that it kept."
            .to_owned()
    ));
    let early = shop.sells(&facts, &sale("390.00", "0", day(2025, 3, 31))).unwrap_err();
    assert_eq!(pointers(&early), ["/date"]);
    assert!(
        shop.consigns(&facts, &ask).unwrap_err().to_string().contains("stands in a shop since 2025-04-01")
    );
}

// Common practice, no source.
#[test]
fn a_piece_is_fetched_back_from_the_shop_it_stands_in() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let fetching = |date| NewFetching { date, note: None };
    let refusal = shop.fetches(&facts, &fetching(day(2025, 5, 1))).unwrap_err();
    assert!(refusal.to_string().contains("oak dresser stands in no shop"), "{refusal}");
    let ask = NewConsignment {
        date: day(2025, 4, 1),
        shop: shop_party(),
        commission: Share::parse("40").unwrap(),
        note: None,
    };
    let there = shop.consigns(&facts, &ask).unwrap();
    let facts = handed_over(&facts, &there);
    assert_eq!(pointers(&shop.fetches(&facts, &fetching(day(2025, 3, 31))).unwrap_err()), ["/date"]);
    let back = shop.fetches(&facts, &fetching(day(2025, 5, 1))).unwrap();
    assert!(back.entries.is_empty());
    assert_eq!(back.party, Some(shop_party()));
    let last =
        PieceConsignment { date: day(2025, 5, 1), act: ConsignmentAct::FetchedBack, ..at_the_shop(&facts) };
    assert_eq!(handed_over(&facts, &back).consigned.map(|(_, at)| at), Some(last));
    assert!(shop.fetches(&facts, &fetching(day(2025, 4, 1))).is_ok(), "on the day it was brought there");
}

#[test]
fn a_piece_with_a_deposit_is_sold_on_the_day_of_the_deposit_at_the_earliest() {
    let mut shop = Workshop::new();
    let facts =
        with_deposit(facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap()), "20.00");
    assert!(shop.sells(&facts, &sale("390.00", "0", day(2025, 4, 1))).is_ok());
    let early = shop.sells(&facts, &sale("390.00", "0", day(2025, 3, 31))).unwrap_err();
    assert_eq!(pointers(&early), ["/date"]);
    let mut settled = facts;
    settled.deposits.held = usd("0.00");
    assert!(shop.sells(&settled, &sale("390.00", "0", day(2025, 3, 31))).is_ok(), "nothing is held any more");
}
