//! Goods received, as the preparer hears of them, and where stock can be looked up.

use uuid::Uuid;

use super::super::facts::GiftFacts;
use super::super::questions::Topic;
use super::super::summarise;
use super::{day, goods, usd, year};
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, TaxClass};
use crate::rules::rows::{GiftFate, GiftRelation};

fn came(what: &str, relation: GiftRelation, fate: GiftFate, fate_on: &str) -> GiftFacts {
    let mut facts = goods(what, relation, "2024-12-20", fate);
    facts.gift.value = Some(usd("40.00"));
    facts.gift.evidence = Some("price list".to_owned());
    facts.gift.fate_on = Some(day(fate_on));
    facts
}

// Common practice, no source.
#[test]
fn only_goods_for_promotion_that_went_back_in_a_later_year_are_asked_about() {
    let mut facts = year(2025);
    facts.gifts = vec![
        came("nailer", GiftRelation::Promotion, GiftFate::Returned, "2025-01-09"),
        came("router", GiftRelation::Promotion, GiftFate::Returned, "2024-12-28"),
        came("sander", GiftRelation::Promotion, GiftFate::KeptForBusiness, "2025-01-09"),
        came("level", GiftRelation::Loan, GiftFate::Returned, "2025-01-09"),
        came("clamp", GiftRelation::PersonalGift, GiftFate::KeptPersonally, "2025-01-09"),
    ];
    let summary = summarise(&facts).unwrap();
    let asked: Vec<_> = summary.questions.iter().filter(|one| one.topic == Topic::UndecidedGoods).collect();
    assert_eq!(asked.len(), 1, "{asked:?}");
    assert_eq!(asked[0].about, ["nailer, from Brandywell Tools, 2024-12-20"]);
}

// A loan that goes back is no income, one that is kept is: from memory.
#[test]
fn goods_lent_first_and_kept_by_a_later_decision_are_income_and_a_loan_is_not() {
    let kept_later = |fate| {
        let mut kept = came("planer", GiftRelation::Loan, fate, "2025-01-09");
        kept.gift.gift = Some(RecordId(Uuid::from_u128(8)));
        kept
    };
    let says = |one: GiftFacts| {
        let mut facts = year(2025);
        facts.gifts = vec![one];
        summarise(&facts).unwrap().gifts.rows[0].says.clone()
    };
    let income = "lent first and kept later: income at its value on the day it was kept";
    for fate in [GiftFate::KeptForBusiness, GiftFate::KeptPersonally, GiftFate::GivenAway] {
        assert_eq!(says(kept_later(fate)), income);
    }
    assert_eq!(says(kept_later(GiftFate::Returned)), "lent: not income");
    let used = came("planer", GiftRelation::Loan, GiftFate::KeptForBusiness, "2025-01-09");
    assert_eq!(says(used), "lent: not income");
}

#[test]
fn the_stock_of_a_year_is_looked_up_in_the_postings_through_its_last_day() {
    let stock = summarise(&year(2025)).unwrap().inventory;
    assert_eq!(stock.pieces_drill_down, "/v1/postings?account=pieces_for_resale&to=2025-12-31");
    assert_eq!(stock.materials_drill_down, "/v1/postings?account=materials_on_hand&to=2025-12-31");
}

#[test]
fn only_what_was_added_to_the_stock_in_the_year_is_listed_as_added() {
    let mut facts = year(2025);
    let posted = |class, amount| super::posted(Account::PiecesForResale, class, amount);
    facts.postings = vec![
        posted(TaxClass::ResalePurchases, "80.00"),
        posted(TaxClass::ResaleLabour, "5.00"),
        posted(TaxClass::ResaleLabour, "-5.00"),
    ];
    let added = summarise(&facts).unwrap().inventory.pieces_added;
    assert_eq!(added.iter().map(|one| one.class).collect::<Vec<_>>(), [TaxClass::ResalePurchases]);
    assert_eq!(added[0].amount, usd("80.00"));
}

// Product sent for promotion is income at its value, a loan that goes back is none (from memory); evidence: common
// practice, no source.
#[test]
fn each_question_about_goods_names_the_goods_that_it_is_about() {
    let mut facts = year(2025);
    let day = "2024-12-28";
    let unproved = |mut one: GiftFacts| {
        one.gift.evidence = None;
        one
    };
    let unvalued = |one| {
        let mut one = unproved(one);
        one.gift.value = None;
        one
    };
    facts.gifts = vec![
        came("nailer", GiftRelation::Promotion, GiftFate::KeptForBusiness, day),
        unproved(came("router", GiftRelation::Promotion, GiftFate::KeptForBusiness, day)),
        unvalued(came("sander", GiftRelation::Promotion, GiftFate::KeptForBusiness, day)),
        came("mug", GiftRelation::UnsolicitedBrandGoods, GiftFate::KeptPersonally, day),
        unproved(came("level", GiftRelation::Loan, GiftFate::Returned, day)),
        unproved(came("clamp", GiftRelation::PersonalGift, GiftFate::KeptPersonally, day)),
    ];
    let summary = summarise(&facts).unwrap();
    let asked: Vec<(Topic, &[String])> =
        summary.questions.iter().map(|one| (one.topic, one.about.as_slice())).collect();
    let named = |what: &str| vec![format!("{what}, from Brandywell Tools, 2024-12-20")];
    let (sander, router, mug) = (named("sander"), named("router"), named("mug"));
    let expected: [(Topic, &[String]); 4] = [
        (Topic::UnvaluedGifts, &sander),
        (Topic::UnvaluedGifts, &router),
        (Topic::UnsolicitedGoods, &mug),
        (Topic::PersonalGoods, &mug),
    ];
    assert_eq!(asked, expected);
}
