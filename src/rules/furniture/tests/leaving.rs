//! Pieces that leave without a sale.

use super::super::super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::super::super::recording::{Category, Label, Side};
use super::super::super::rows::{PiecePurpose, Row};
use super::super::{LeavingAsked, NewLeaving};
use super::workshop::*;

pub(super) fn leaving(how: LeavingAsked) -> NewLeaving {
    let date = day(2025, 6, 1);
    NewLeaving { date, how, party: None, value: None, episode: None, project: None, note: None }
}

// Pub. 334 ch. 6 (from memory): stock that is gone leaves through the closing inventory.
#[test]
fn stock_dumped_or_lost_is_a_cost_of_goods_sold_at_what_it_had_cost() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    puts_into(&mut facts, "45.00", day(2025, 3, 9));
    for how in [LeavingAsked::Dumped, LeavingAsked::Lost] {
        let gone = shop.lets_go(&facts, &leaving(how)).unwrap();
        assert_eq!(posted(&gone, Account::CostOfPiecesSold), usd("125.00"));
        assert_eq!(posted(&gone, Account::PiecesForResale), usd("-125.00"));
        assert!(
            gone.entries[0].postings().iter().all(|one| one.class.is_none()),
            "the closing stock tells the form"
        );
        let row = &gone.attributions[0];
        assert_eq!((row.label, row.amount), (Label::Category(Category::PiecesSold), usd("125.00")));
        assert!(gone.streams.is_empty() && gone.depends_on.len() == 2);
    }
}

// Pub. 334 ch. 6, line 36 less personal withdrawals (seen); Pub. 526, donated inventory (from memory).
#[test]
fn stock_donated_or_taken_home_is_a_draw_and_less_of_the_purchases() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    for how in [LeavingAsked::Donated, LeavingAsked::TakenHome] {
        let mut ask = leaving(how);
        ask.value = Some(amount("140.00"));
        let gone = shop.lets_go(&facts, &ask).unwrap();
        assert_eq!(
            posted(&gone, Account::Draw(Draw::PersonalItems)),
            usd("80.00"),
            "at cost, never at value"
        );
        let credit = &gone.entries[0].postings()[1];
        assert_eq!(
            (credit.account, credit.class),
            (Account::PiecesForResale, Some(TaxClass::ResalePurchases))
        );
        let row = &gone.attributions[0];
        assert_eq!((row.object, row.label), (EPISODE, Label::Category(Category::Furniture)));
        let asked = gone
            .notes
            .iter()
            .any(|note| note.contains("a donation is the owner's own deduction") && note.contains("140.00"));
        assert_eq!(asked, how == LeavingAsked::Donated);
    }
}

// Common practice, no source: a prize for viewers is advertising at what it had cost.
#[test]
fn stock_given_to_viewers_is_advertising_at_cost_with_a_question() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    facts.attributed = usd("30.00");
    let mut ask = leaving(LeavingAsked::GivenAway);
    ask.project = Some(project());
    let gone = shop.lets_go(&facts, &ask).unwrap();
    assert_eq!(posted(&gone, Account::Expense(ExpenseClass::Advertising)), usd("80.00"));
    assert_eq!(gone.attributions[0].object, PROJECT);
    assert_eq!(attributed(&gone, Side::Cost), usd("50.00"), "what stands already is not given again");
    assert!(gone.notes[1].starts_with("Question to the preparer"));
}

// Pub. 526 and the rule that personal costs are not deducted (from memory): nothing of the owner's own is.
#[test]
fn what_the_owner_has_privately_and_what_was_deducted_leaves_without_an_entry() {
    let mut shop = Workshop::new();
    let own = facts_of(&shop.acquires(&owned_for_nothing(PiecePurpose::Personal)).unwrap());
    let mut set = for_resale("64.00", day(2025, 3, 1));
    set.purpose = PiecePurpose::Set;
    let set = facts_of(&shop.acquires(&set).unwrap());
    for how in [LeavingAsked::Dumped, LeavingAsked::Donated, LeavingAsked::TakenHome, LeavingAsked::GivenAway]
    {
        for (facts, says) in
            [(&own, "The owner's own: nothing is deducted"), (&set, "64.00 was deducted as it came")]
        {
            let gone = shop.lets_go(facts, &leaving(how)).unwrap();
            assert!(gone.entries.is_empty() && gone.attributions.is_empty() && gone.movements.is_empty());
            assert!(gone.notes[0].contains(says), "{:?}", gone.notes);
            let Some(Row::PieceLeaving(left)) = gone.rows.first() else { panic!("{:?}", gone.rows) };
            assert!(left.cost.is_zero());
        }
    }
    let gone = shop.lets_go(&set, &leaving(LeavingAsked::TakenHome)).unwrap();
    assert!(gone.notes[1].contains("Does something come back into income?"));
}

// Common practice, no source.
#[test]
fn a_piece_goes_once_and_not_before_it_came() {
    let mut shop = Workshop::new();
    let mut facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    let mut ask = leaving(LeavingAsked::Dumped);
    ask.date = day(2025, 2, 1);
    ask.value = Some(amount("-1"));
    assert_eq!(pointers(&shop.lets_go(&facts, &ask).unwrap_err()), ["/date", "/value"]);
    let gone = shop.lets_go(&facts, &leaving(LeavingAsked::Dumped)).unwrap();
    let Some(Row::PieceLeaving(left)) = gone.rows.first() else { panic!("{:?}", gone.rows) };
    facts.left = Some(left.clone());
    let refusal = shop.lets_go(&facts, &leaving(LeavingAsked::Donated)).unwrap_err();
    assert!(refusal.to_string().contains("oak dresser was already dumped on 2025-06-01"), "{refusal}");
}

#[test]
fn each_way_of_leaving_says_where_the_cost_of_stock_goes() {
    let mut shop = Workshop::new();
    let facts = facts_of(&shop.acquires(&for_resale("80.00", day(2025, 3, 1))).unwrap());
    for (how, words) in [
        (LeavingAsked::Dumped, "Stock that is gone: its cost of 80.00 is a cost of goods sold now"),
        (LeavingAsked::Lost, "Stock that is gone: its cost of 80.00 is a cost of goods sold now"),
        (LeavingAsked::GivenAway, "Stock given to viewers: its cost of 80.00 is advertising"),
        (LeavingAsked::Donated, "Stock donated: its cost of 80.00 leaves the business as a draw"),
        (LeavingAsked::TakenHome, "Stock taken home: its cost of 80.00 is the owner's draw"),
    ] {
        let notes = shop.lets_go(&facts, &leaving(how)).unwrap().notes;
        assert!(notes.iter().any(|note| note.starts_with(words)), "{how}: {notes:?}");
    }
}
