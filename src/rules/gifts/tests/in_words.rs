//! What is said of goods, whole: every note on the way in, and every reason why they can not be taken in so.

use super::*;
use crate::rules::trial::day;

const IN_INCOME: &str = "The goods are income at their value, 40.00, of 2026-02-03; that value is what they count for from now on.";
const NOT_VALUED: [&str; 2] = [
    "Nothing is posted before the goods are valued; give the value with POST /v1/gifts/{id}/fate.",
    "Question to the preparer: the goods are not valued.",
];
const OPEN: &str = "Nothing is posted before it is decided what becomes of the goods; say so with POST \
                    /v1/gifts/{id}/fate, and the income is dated the day they came.";
const UNASKED: &str =
    "Question to the preparer: a brand sent these unasked; they are treated like goods for promotion.";
const BACK: &str = "What goes back is not income: nothing is posted.";
const HOME: &str = "The owner took the goods: they are income all the same, and no cost of an episode.";
const VIEWERS: &str =
    "Goods given away to viewers are advertising; that is common practice, not a published rule.";
const PRESENT: &str = "A private present is not income and has no basis for the business: nothing is posted.";
const LOAN: &str = "A loan is not income and has no basis: nothing is posted.";

fn with(body: Value, more: Value) -> Value {
    let mut body = body;
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    body
}

fn noted(relation: &str, more: Value) -> Vec<String> {
    came(with(json!({ "relation": relation }), more)).unwrap().notes
}

#[test]
fn goods_for_promotion_are_income_whatever_becomes_of_them_once_they_are_kept_and_valued() {
    let valued = |fate: &str| noted("promotion", json!({ "value": "40.00", "fate": fate }));
    assert_eq!(valued("kept_personally"), [IN_INCOME, HOME]);
    assert_eq!(valued("given_away"), [IN_INCOME, VIEWERS]);
    assert_eq!(valued("undecided"), [OPEN]);
    assert_eq!(valued("returned"), [BACK]);
    let supplies = json!({ "value": "40.00", "fate": "kept_for_business", "kept_as": "supplies" });
    assert_eq!(noted("promotion", supplies), [IN_INCOME]);
}

#[test]
fn goods_for_promotion_without_a_value_are_asked_about_until_they_go_back() {
    let unvalued = |fate: &str| noted("promotion", json!({ "fate": fate }));
    assert_eq!(unvalued("kept_personally"), [NOT_VALUED[0], HOME, NOT_VALUED[1]]);
    assert_eq!(unvalued("given_away"), [NOT_VALUED[0], VIEWERS, NOT_VALUED[1]]);
    assert_eq!(unvalued("undecided"), [OPEN, NOT_VALUED[1]]);
    assert_eq!(unvalued("returned"), [BACK]);
}

#[test]
fn goods_a_brand_sent_unasked_raise_their_own_question_once_they_are_kept() {
    let unasked = |fate: &str| noted("unsolicited_brand_goods", json!({ "value": "40.00", "fate": fate }));
    assert_eq!(unasked("kept_personally"), [IN_INCOME, HOME, UNASKED]);
    assert_eq!(unasked("undecided"), [OPEN]);
    assert_eq!(unasked("returned"), [BACK]);
}

#[test]
fn a_present_and_a_loan_are_no_income_and_nobody_asks_for_their_value() {
    let present = |fate: &str| noted("personal_gift", json!({ "fate": fate }));
    assert_eq!(present("kept_personally"), [PRESENT]);
    assert_eq!(present("given_away"), [PRESENT]);
    assert!(present("undecided").is_empty());
    assert_eq!(present("returned"), [BACK]);
    let tool = json!({ "value": null, "fate": "kept_for_business" });
    assert_eq!(noted("loan", with(as_a_tool(), tool)), [LOAN]);
    assert!(noted("loan", json!({})).is_empty());
    assert_eq!(noted("loan", json!({ "fate": "returned" })), [BACK]);
}

#[test]
fn a_loan_may_go_back_at_once_and_is_not_kept_at_once() {
    assert!(came(json!({ "relation": "loan", "fate": "returned" })).is_ok());
    assert_eq!(
        findings(came(json!({ "relation": "loan", "fate": "kept_personally" }))),
        ["/fate: the goods are a loan, and their fate is kept_personally"]
    );
}

#[test]
fn what_has_gone_is_not_decided_about_again() {
    let gone = |more: Value| facts_of(&came(more).unwrap());
    let on = |facts: &GiftFacts, fate: &str| later(facts, json!({ "date": "2026-03-01", "fate": fate }));
    let back = gone(json!({ "fate": "returned" }));
    let valued = gone(json!({ "fate": "given_away", "value": "40.00" }));
    for fate in ["returned", "kept_personally", "given_away"] {
        assert_eq!(findings(on(&back, fate)), ["/fate: the goods were returned on 2026-02-03"], "{fate}");
        assert_eq!(findings(on(&valued, fate)), ["/fate: the goods were given_away on 2026-02-03"], "{fate}");
    }
    // Given away and not valued yet: the value is still to come, but the goods can not go back.
    let unvalued = gone(json!({ "fate": "given_away" }));
    assert_eq!(findings(on(&unvalued, "returned")), ["/fate: the goods were given_away on 2026-02-03"]);
    assert!(on(&unvalued, "given_away").is_ok());
}

#[test]
fn a_value_is_given_once_and_what_shows_it_stays_with_the_goods() {
    let facts = facts_of(&came(json!({ "evidence": "list price of the maker" })).unwrap());
    let decided = |more: Value| {
        let body = json!({ "date": "2026-04-01", "fate": "given_away", "value": "80.00" });
        later(&facts, with(body, more)).unwrap()
    };
    let got = decided(json!({}));
    let gift = facts_of(&got).gift;
    assert_eq!(gift.value, Some(dollars("80.00")));
    assert_eq!(gift.evidence.as_deref(), Some("list price of the maker"));
    assert!(
        got.sources.iter().any(|one| Some(one.id) == gift.source),
        "the goods name what was booked of them"
    );
    let gift = facts_of(&decided(json!({ "evidence": "three offers seen" }))).gift;
    assert_eq!(gift.evidence.as_deref(), Some("three offers seen"));
    let valued = facts_of(&came(json!({ "value": "80.00" })).unwrap());
    let again = json!({ "date": "2026-04-01", "fate": "given_away", "value": "80.00" });
    assert!(later(&valued, again).is_ok(), "the same value said twice is one value");
}

// A loan that was kept before anybody knew its value is income of the day it was kept, not of the day it was valued.
#[test]
fn a_loan_kept_in_may_and_valued_in_july_is_income_of_may() {
    let loan = facts_of(&came(json!({ "relation": "loan" })).unwrap());
    let may = later(&loan, json!({ "date": "2026-05-02", "fate": "kept_personally" })).unwrap();
    assert!(may.entries.is_empty());
    let kept = GiftFacts { gift: facts_of(&may).gift, ..loan.clone() };
    let valued = json!({ "date": "2026-07-09", "fate": "kept_personally", "value": "350.00" });
    assert_eq!(later(&kept, valued.clone()).unwrap().entries[0].date, day("2026-05-02"));
    // Kept and valued on one day, it is income of that day, though it had come and gone before.
    assert_eq!(later(&loan, valued).unwrap().entries[0].date, day("2026-07-09"));
}
