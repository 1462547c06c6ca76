//! First days, sums of nothing, and what is said only where it is so.

use super::super::super::journal::{Account, Draw, Stream};
use super::super::super::recording::{MoneyAccountKind, Side};
use super::super::super::rows::{Basis, PieceBack, PieceOrigin, PiecePurpose, Row};
use super::super::{
    BusinessPurpose, LeavingAsked, NewConversion, NewLeaving, NewParts, NewRefund, NewSwap, PartAsked,
    TakenForIt,
};
use super::workshop::*;

/// The owner's own pocket pays by a contribution and is paid by a draw.
fn paying_from_the_pocket() -> Workshop {
    let mut shop = Workshop::new();
    shop.paid_into.kind = MoneyAccountKind::OwnPocket;
    shop
}

fn back(sum: &str, fees_back: Option<&str>, date: chrono::NaiveDate) -> NewRefund {
    NewRefund {
        date,
        amount: amount(sum),
        paid_from: bank().id,
        piece: PieceBack::KeptByBuyer,
        fees_back: fees_back.map(amount),
        sales_tax_back: None,
        currency: None,
        rate: None,
        note: None,
    }
}

fn swap_for(value: &str, evidence: Option<&str>) -> NewSwap {
    let received = TakenForIt {
        name: "walnut desk".to_owned(),
        purpose: PiecePurpose::Resale,
        value: amount(value),
        episode: None,
        project: None,
        expense_class: None,
    };
    NewSwap {
        date: day(2025, 6, 1),
        received,
        evidence: evidence.map(str::to_owned),
        money_received: None,
        money_paid: None,
        money_account: Some(bank().id),
        party: None,
        episode: None,
        project: None,
        note: None,
    }
}

fn says(notes: &[String], words: &str) -> bool {
    notes.iter().any(|note| note.contains(words))
}

// Common practice, no source.
#[test]
fn a_piece_is_acquired_on_the_day_of_its_record_at_the_latest_and_is_worth_nothing_at_the_least() {
    let mut shop = Workshop::new();
    let mut ask = for_resale("80.00", day(2025, 3, 1));
    ask.acquired_on = Some(day(2025, 3, 1));
    assert!(shop.acquires(&ask).is_ok());
    let mut own = owned(PiecePurpose::Personal);
    (own.basis, own.value) = (Some(amount("10.00")), Some(amount("0")));
    assert_eq!(piece_row(&shop.acquires(&own).unwrap()).value, Some(usd("0.00")));
    own.value = Some(amount("-0.01"));
    assert_eq!(pointers(&shop.acquires(&own).unwrap_err()), ["/value"]);
}

// Common practice, no source: what was found or built cost nothing that anybody could know or not know.
#[test]
fn a_piece_found_or_built_takes_no_unknown_basis_and_is_called_what_it_is() {
    let mut shop = Workshop::new();
    for (origin, called) in [(PieceOrigin::Found, "found"), (PieceOrigin::Built, "built")] {
        let mut ask = owned_for_nothing(PiecePurpose::Resale);
        ask.origin = origin;
        let refusal = shop.acquires(&ask).unwrap_err();
        assert_eq!(pointers(&refusal), ["/basis"]);
        assert!(refusal.to_string().contains(called), "{refusal}");
    }
}

// Pub. 551, property received as a gift (rule seen): the value counts for a loss only where it is the lower.
#[test]
fn a_gift_has_two_bases_only_where_it_was_worth_less_than_it_had_cost() {
    let two = |value: &str| {
        let mut gift = owned(PiecePurpose::Personal);
        gift.origin = PieceOrigin::Gifted;
        (gift.basis, gift.value) = (Some(amount("300.00")), Some(amount(value)));
        says(&Workshop::new().acquires(&gift).unwrap().notes, "It has two bases")
    };
    assert!(two("299.99"));
    assert!(!two("300.00") && !two("300.01"));
}

// Derived from invariant 6: on the day it came there was less in it than later.
#[test]
fn a_piece_is_not_sold_on_the_day_it_came_if_work_went_into_it_later() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    assert!(shop.sells(&facts, &sale("100.00", "0", day(2025, 3, 1))).is_ok());
    puts_into(&mut facts, "5.00", day(2025, 3, 9));
    let refusal = shop.sells(&facts, &sale("100.00", "0", day(2025, 3, 1))).unwrap_err();
    assert_eq!(pointers(&refusal), ["/date"]);
    assert!(shop.sells(&facts, &sale("100.00", "0", day(2025, 3, 9))).is_ok());
}

// Common practice, no source.
#[test]
fn a_sale_without_fees_deposit_or_tax_opens_one_income_and_says_nothing_of_them() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("85.00", day(2025, 3, 1))).unwrap());
    let sold = shop.sells(&facts, &sale("100.00", "0", day(2025, 4, 2))).unwrap();
    assert_eq!(sold.sources.iter().map(|one| one.side).collect::<Vec<_>>(), [Side::Income]);
    assert!(sold.rows.iter().all(|row| !matches!(row, Row::PieceDeposit(_))));
    assert!(!says(&sold.notes, "deposit") && !says(&sold.notes, "counts for no episode"), "{:?}", sold.notes);
    // A deposit may be the whole price.
    let mut paid_down = facts.clone();
    paid_down.deposits.held = usd("100.00");
    let sold = shop.sells(&paid_down, &sale("100.00", "0", day(2025, 4, 2))).unwrap();
    assert_eq!(posted(&sold, bank().receiving()), usd("0.00"));
    paid_down.deposits.held = usd("100.01");
    assert!(shop.sells(&paid_down, &sale("100.00", "0", day(2025, 4, 2))).is_err());
}

// Common practice, no source.
#[test]
fn only_a_piece_whose_day_is_not_known_is_asked_when_it_was_acquired() {
    let mut ask = unrecorded("old dresser", "180.00", day(2025, 6, 1));
    let asked =
        |ask: &_| says(&Workshop::new().sells_unrecorded(ask).unwrap().notes, "when was it acquired?");
    assert!(asked(&ask));
    ask.acquired_on = Some(day(2020, 6, 1));
    assert!(!asked(&ask));
}

// Common practice, no source.
#[test]
fn a_value_that_rests_on_something_is_not_asked_about() {
    let mut shop = Workshop::new();
    let stock = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    for (evidence, expected) in [(None, true), (Some("  "), true), (Some("a price list"), false)] {
        let swapped = shop.swaps(&stock, &swap_for("100.00", evidence)).unwrap();
        assert_eq!(says(&swapped.notes, "what does the value rest on?"), expected, "{evidence:?}");
        let new = NewConversion {
            date: day(2025, 4, 1),
            purpose: BusinessPurpose::Set,
            value: amount("40.00"),
            evidence: evidence.map(str::to_owned),
            episode: None,
            project: None,
            expense_class: None,
            note: None,
        };
        let into = shop.converts(&own, &new).unwrap();
        assert_eq!(says(&into.notes, "what does the value rest on?"), expected, "{evidence:?}");
        assert_ne!(piece_row(&into).id, own.piece.id, "it is a piece of its own from now on");
    }
}

// Common practice, no source: what the owner's purse pays is put in, what it gets is taken out.
#[test]
fn money_beside_a_swap_and_money_back_go_through_the_owners_pocket_by_their_direction() {
    let mut shop = paying_from_the_pocket();
    let stock = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let (put_in, taken) = (Account::OwnerContribution, Account::Draw(Draw::Cash));
    let mut ask = swap_for("400.00", None);
    ask.money_paid = Some(amount("160.00"));
    let paid = shop.swaps(&stock, &ask).unwrap();
    assert_eq!((posted(&paid, put_in), posted(&paid, taken)), (usd("-160.00"), usd("0.00")));
    (ask.money_paid, ask.money_received) = (None, Some(amount("50.00")));
    let got = shop.swaps(&stock, &ask).unwrap();
    assert_eq!((posted(&got, put_in), posted(&got, taken)), (usd("0.00"), usd("50.00")));
    let rec = shop.sells(&stock, &sale("390.00", "39.00", day(2025, 4, 2))).unwrap();
    let sold = sold_facts_of(&rec);
    let less = shop.refunds(&stock, Some(&sold), &back("10.00", None, day(2025, 4, 9))).unwrap();
    assert_eq!((posted(&less, put_in), posted(&less, taken)), (usd("-10.00"), usd("0.00")));
    let more = shop.refunds(&stock, Some(&sold), &back("10.00", Some("39.00"), day(2025, 4, 9))).unwrap();
    assert_eq!((posted(&more, put_in), posted(&more, taken)), (usd("0.00"), usd("29.00")));
}

// Pub. 334 ch. 7 and Schedule C line 2 (seen): what is said of money back goes by the year and by the kind of sale.
#[test]
fn money_back_asks_of_an_earlier_years_gain_and_names_fees_only_where_they_came_back() {
    let mut shop = Workshop::new();
    let stock = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let mut goes_back = |facts, fees_back, year| {
        let sold = sold_facts_of(&shop.sells(facts, &sale("180.00", "18.00", day(2025, 4, 2))).unwrap());
        shop.refunds(facts, Some(&sold), &back("20.00", fees_back, day(year, 4, 9))).unwrap()
    };
    let (fees, gain) = ("were deducted in an earlier year", "Was a gain taxed that is smaller now?");
    let later = goes_back(&stock, Some("2.00"), 2026);
    assert!(says(&later.notes, fees) && !says(&later.notes, gain), "{:?}", later.notes);
    assert_eq!(later.streams, [Stream::Furniture, Stream::Other]);
    let without = goes_back(&stock, None, 2026);
    assert!(without.sources.is_empty() && without.streams == [Stream::Furniture]);
    assert!(!says(&without.notes, fees));
    let same = goes_back(&stock, Some("2.00"), 2025);
    assert!(!says(&same.notes, fees) && !says(&same.notes, gain), "{:?}", same.notes);
    let own_later = goes_back(&own, Some("2.00"), 2026);
    assert!(!says(&own_later.notes, fees) && says(&own_later.notes, gain), "{:?}", own_later.notes);
    assert!(!says(&goes_back(&own, None, 2025).notes, gain));
}

// FS-2023-06 (seen): a fee lost on the owner's own thing is no cost of an episode, one lost on a set piece is.
#[test]
fn a_fee_that_did_not_come_back_is_a_cost_only_with_a_piece_of_the_set() {
    let mut shop = Workshop::new();
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let mut set = for_resale("64.00", day(2025, 3, 1));
    set.purpose = PiecePurpose::Set;
    let set = facts_of(&shop.acquires(&set).unwrap());
    for (facts, costs) in [(&own, 0), (&set, 1)] {
        let sold = sold_facts_of(&shop.sells(facts, &sale("180.00", "18.00", day(2025, 4, 2))).unwrap());
        let whole = shop.refunds(facts, Some(&sold), &back("180.00", None, day(2025, 4, 9))).unwrap();
        assert!(says(&whole.notes, "18.00 of fees did not come back."), "{:?}", whole.notes);
        assert_eq!(whole.sources.len(), costs);
        let part = shop.refunds(facts, Some(&sold), &back("162.00", None, day(2025, 4, 9))).unwrap();
        assert!(!says(&part.notes, "did not come back") && part.sources.is_empty(), "{:?}", part.notes);
    }
}

// Derived from invariant 6.
#[test]
fn money_back_on_the_day_of_the_sale_waits_for_what_was_given_of_it_later() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let mut sold = sold_facts_of(&shop.sells(&facts, &sale("390.00", "0", day(2025, 4, 2))).unwrap());
    sold.last = Some(day(2025, 4, 15));
    let on = |date| back("10.00", None, date);
    assert_eq!(pointers(&shop.refunds(&facts, Some(&sold), &on(day(2025, 4, 2))).unwrap_err()), ["/date"]);
    assert!(shop.refunds(&facts, Some(&sold), &on(day(2025, 4, 15))).is_ok());
}

// Common practice, no source.
#[test]
fn what_the_set_lost_is_asked_about_insurance_and_what_cost_nothing_was_never_deducted() {
    let mut shop = Workshop::new();
    let mut set = for_resale("64.00", day(2025, 3, 1));
    set.purpose = PiecePurpose::Set;
    let bought = facts_of(&shop.acquires(&set).unwrap());
    let free = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Set)).unwrap());
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let mut lost = |facts| {
        let new = NewLeaving {
            date: day(2025, 6, 1),
            how: LeavingAsked::Lost,
            party: None,
            value: None,
            episode: None,
            project: None,
            note: None,
        };
        shop.lets_go(facts, &new).unwrap().notes
    };
    let insurance = "is an insurance payment still to come?";
    assert!(
        says(&lost(&bought), "Its cost of 64.00 was deducted as it came") && says(&lost(&bought), insurance)
    );
    assert!(says(&lost(&free), "nothing of it was deducted"));
    assert!(!says(&lost(&own), insurance));
}

// Derived from invariant 6: what an episode had of it until a day stays with it through that day.
#[test]
fn a_set_is_taken_apart_from_the_last_day_on_which_an_episode_had_its_cost() {
    let mut shop = Workshop::new();
    let two = |date| {
        let part = |name: &str| PartAsked { name: name.to_owned(), value: amount("1.00") };
        NewParts { date, parts: vec![part("table"), part("bench")], note: None }
    };
    let mut stock = facts_of(&shop.acquires(&for_resale("90.00", day(2025, 3, 1))).unwrap());
    stock.last_given = Some(day(2025, 4, 1));
    assert!(shop.takes_apart(&stock, &two(day(2025, 4, 1))).is_ok());
    assert!(shop.takes_apart(&stock, &two(day(2025, 4, 2))).is_ok());
    assert!(shop.takes_apart(&stock, &two(day(2025, 3, 31))).is_err());
    // What is kept leaves its cost where it is, on whatever day.
    let mut set = for_resale("90.00", day(2025, 3, 1));
    set.purpose = PiecePurpose::Set;
    let mut set = facts_of(&shop.acquires(&set).unwrap());
    set.last_given = Some(day(2025, 4, 1));
    assert!(shop.takes_apart(&set, &two(day(2025, 3, 31))).is_ok());
    // Stock of which nobody knows the cost has parts of which nobody does.
    let unknown = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Resale)).unwrap());
    let apart = shop.takes_apart(&unknown, &two(day(2025, 4, 1))).unwrap();
    assert!(all_facts_of(&apart).iter().all(|one| one.piece.basis == Basis::Unknown));
}
