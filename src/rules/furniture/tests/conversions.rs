//! The owner's own becomes the business's.

use super::super::super::journal::{Account, Draw, ExpenseClass};
use super::super::super::recording::{Label, MovementKind, Side};
use super::super::super::rows::{Basis, PieceOrigin, PiecePurpose};
use super::super::super::treatment::Treatment;
use super::super::{BusinessPurpose, NewConversion, Outcome, outcome};
use super::workshop::*;

pub(super) fn conversion(purpose: BusinessPurpose, value: &str) -> NewConversion {
    NewConversion {
        date: day(2025, 4, 1),
        purpose,
        value: amount(value),
        evidence: Some("an advertisement".to_owned()),
        episode: None,
        project: None,
        expense_class: None,
        note: None,
    }
}

// Pub. 551, property changed to business use (seen): the lower of basis and value; figures derived.
#[test]
fn the_owners_own_comes_into_stock_at_the_lower_of_basis_and_value_and_its_draw_comes_back() {
    let mut shop = Workshop::new();
    let mut ask = for_resale("60.00", day(2025, 3, 1));
    ask.purpose = PiecePurpose::Personal;
    let facts = facts_of(&shop.acquires(&ask).unwrap());
    assert_eq!(facts.attributed, usd("60.00"));
    for (value, carried) in [("45.00", "45.00"), ("60.00", "60.00"), ("90.00", "60.00")] {
        let into = shop.converts(&facts, &conversion(BusinessPurpose::Resale, value)).unwrap();
        assert_eq!(posted(&into, Account::PiecesForResale), usd(carried));
        assert_eq!(posted(&into, Account::Draw(Draw::PersonalItems)), usd(carried).negated());
        assert_eq!(posted(&into, Account::OwnerContribution), usd("0.00"));
        assert_eq!(
            (into.movements[0].kind, into.movements[0].amount),
            (MovementKind::Removed, usd(carried).negated())
        );
        assert_eq!(into.attributions.len(), 1);
        assert_eq!(
            attributed(&into, Side::Cost),
            usd(carried).negated(),
            "its episode has it again when it is sold"
        );
        let stock = facts_of(&into);
        assert_eq!(
            (stock.piece.origin, stock.piece.acquired_on),
            (PieceOrigin::AlreadyOwned, day(2025, 3, 1))
        );
        let sold = shop.sells(&stock, &sale("200.00", "0", day(2025, 9, 1))).unwrap();
        assert_eq!(posted(&sold, Account::CostOfPiecesSold), usd(carried));
    }
}

// Pub. 551, property changed to business use (seen); figures derived: 200 before the books, 15 of paint drawn since.
#[test]
fn what_was_never_drawn_through_the_books_is_contributed() {
    let mut shop = Workshop::new();
    let mut own = owned(PiecePurpose::Personal);
    own.basis = Some(amount("200.00"));
    let mut facts = facts_of(&shop.acquires(&own).unwrap());
    puts_into(&mut facts, "15.00", day(2025, 3, 9));
    let into = shop.converts(&facts, &conversion(BusinessPurpose::Resale, "180.00")).unwrap();
    assert_eq!(posted(&into, Account::PiecesForResale), usd("180.00"));
    assert_eq!(posted(&into, Account::Draw(Draw::PersonalItems)), usd("-15.00"));
    assert_eq!(posted(&into, Account::OwnerContribution), usd("-165.00"));
    assert_eq!(facts_of(&into).piece.basis, Basis::Known(usd("215.00")));
}

// Pub. 551, property changed to business use: gain from 203, loss from 180, nothing between (the sale's figures seen, here
// scaled).
#[test]
fn the_owners_own_put_on_the_set_has_two_bases_and_posts_nothing() {
    let mut shop = Workshop::new();
    let mut own = owned(PiecePurpose::Personal);
    own.basis = Some(amount("203.00"));
    let facts = facts_of(&shop.acquires(&own).unwrap());
    let into = shop.converts(&facts, &conversion(BusinessPurpose::Set, "180.00")).unwrap();
    assert!(into.entries.is_empty() && into.attributions.is_empty());
    let lamp = facts_of(&into);
    for (gross, expected) in [
        ("210.00", Outcome::Gain(usd("7.00"))),
        ("190.00", Outcome::Even),
        ("170.00", Outcome::Loss(usd("10.00"))),
    ] {
        let sold = shop.sells(&lamp, &sale(gross, "0", day(2025, 9, 1))).unwrap();
        assert_eq!(outcome(&sale_row(&sold)).unwrap(), expected);
        assert!(sold.attributions.iter().all(|one| one.label == Label::SetPieceSold));
    }
}

// Common practice, no source.
#[test]
fn only_what_is_the_owners_is_brought_in_and_not_before_its_cost_was_given() {
    let mut shop = Workshop::new();
    let stock = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let refusal = shop.converts(&stock, &conversion(BusinessPurpose::Set, "-1")).unwrap_err();
    assert_eq!(pointers(&refusal), ["", "/value"]);
    assert!(refusal.to_string().contains("the business's already: its purpose is resale"), "{refusal}");
    let mut own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    own.last_given = Some(day(2025, 4, 2));
    assert_eq!(
        pointers(&shop.converts(&own, &conversion(BusinessPurpose::Set, "1")).unwrap_err()),
        ["/date"]
    );
    own.last_given = None;
    let into = shop.converts(&own, &conversion(BusinessPurpose::Resale, "50.00")).unwrap();
    assert!(into.entries.is_empty() && into.notes[0].starts_with("Question: what did it cost?"));
}

// Pub. 551, property received as a gift and property changed to business use (rules seen); figures derived: the loss goes
// from the least of the value as it was given and the value on the day of the change.
#[test]
fn a_gift_put_on_the_set_keeps_the_lower_of_its_value_as_given_and_its_value_now_for_a_loss() {
    let mut shop = Workshop::new();
    let mut gift = owned(PiecePurpose::Personal);
    gift.origin = PieceOrigin::Gifted;
    (gift.basis, gift.value) = (Some(amount("300.00")), Some(amount("150.00")));
    let facts = facts_of(&shop.acquires(&gift).unwrap());
    for (now, for_a_loss) in [("80.00", "80.00"), ("150.00", "150.00"), ("200.00", "150.00")] {
        let lamp = facts_of(&shop.converts(&facts, &conversion(BusinessPurpose::Set, now)).unwrap());
        assert_eq!(lamp.piece.origin, PieceOrigin::Gifted);
        assert_eq!(lamp.piece.value, Some(usd(for_a_loss)), "worth {now} now");
    }
}

// Common practice, no source: on the last day that an episode had of it, it can be brought in.
#[test]
fn what_an_episode_was_given_that_very_day_can_still_be_brought_in() {
    let mut shop = Workshop::new();
    let mut own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    own.last_given = Some(day(2025, 4, 1));
    assert!(shop.converts(&own, &conversion(BusinessPurpose::Set, "1")).is_ok());
}

// Common practice, no source.
#[test]
fn what_is_brought_in_is_a_piece_of_its_own_treated_as_what_it_is_for_and_shown_where_it_is_said() {
    let mut shop = Workshop::new();
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let mut brought_in = |purpose, project, class| {
        let mut ask = conversion(purpose, "50.00");
        ask.expense_class = class;
        ask.project = project;
        facts_of(&shop.converts(&own, &ask).unwrap()).piece
    };
    let stock = brought_in(BusinessPurpose::Resale, None, None);
    assert_eq!((stock.treatment, stock.object), (Treatment::Resale, own.piece.object));
    let set = brought_in(BusinessPurpose::Set, Some(project()), Some(ExpenseClass::Repairs));
    assert_eq!((set.treatment, set.object), (Treatment::Expense(ExpenseClass::Repairs), Some(PROJECT)));
    assert_ne!((stock.id, stock.source), (own.piece.id, own.piece.source));
}
