//! Goods received in their tax years.

use serde_json::json;

use super::Workshop;

#[test]
fn a_tool_of_agreed_value_300_received_for_an_episode_is_300_of_gross_receipts() {
    // Pub. 525, bartering: income at the value agreed on, when received (seen)
    let shop = Workshop::open();
    let sander = shop.keeps_sander("2026-02-03");
    let year = shop.year(2026);
    year.has_lines(&[("1", "300.00"), ("7", "300.00")]);
    assert_eq!(year.0["gifts"]["in_income"], "300.00");
    let gift = &year.0["gifts"]["rows"][0];
    assert_eq!((&gift["from"], &gift["value"]), (&json!("Quillon Tools"), &json!("300.00")));
    let standing = shop.owner.reads(&format!("/v1/gifts/{}/standing", gift["gift"].as_str().unwrap()));
    assert_eq!(standing["income_entry"], 1);
    assert_eq!(year.0["reconciliation"]["steps"][0]["amount"], "-300.00", "no money came in");
    // Its value is also its cost, and whether that is deducted at once is asked: nobody paid for it.
    assert_eq!(year.0["depreciation"]["rows"][0]["cost"], "300.00");
    assert_eq!(year.asked("goods_nobody_paid_for")[0]["about"][0], format!("/v1/tools/{sander}/standing"));
    shop.year(2025).has_lines(&[("1", "0.00"), ("13", "0.00")]);
}

#[test]
fn a_gifted_sander_is_income_and_a_small_tool_and_its_whole_price_is_a_gain() {
    // Pub. 525 and Pub. 551 (seen); Reg. 1.263(a)-1(f) (seen); section 1245 on what was written off, Form 4797
    // (from memory)
    let shop = Workshop::open();
    let sander = shop.keeps_sander("2025-07-01");
    shop.chooses(2025, json!({ "kind": "de_minimis" }));
    let year = shop.year(2025);
    year.has_lines(&[("1", "300.00"), ("13", "0.00"), ("48", "300.00"), ("27b", "300.00"), ("31", "0.00")]);
    assert_eq!(year.item("De minimis safe harbor tools"), Some("300.00"));
    assert_eq!(year.0["depreciation"]["rows"][0]["left"], "0.00");
    assert_eq!(year.asked("goods_nobody_paid_for").len(), 1);
    shop.owner.records(
        &format!("/v1/tools/{sander}/disposal"),
        json!({ "date": "2026-05-10", "kind": "sold", "proceeds": "120.00", "paid_into": shop.bank }),
    );
    let sold = shop.year(2026);
    let sale = &sold.0["business_sales"][0];
    assert_eq!(
        (&sale["gain"], &sale["ordinary"], &sale["basis"]),
        (&json!("120.00"), &json!("120.00"), &json!("0.00"))
    );
    assert!(sale["says"].as_str().unwrap().contains("Form 4797"));
    sold.has_lines(&[("1", "0.00"), ("31", "0.00")]);
    let standing = shop.owner.reads(sale["drill_down"].as_str().unwrap());
    let record = standing["disposal"]["record"].as_str().unwrap();
    assert_eq!(shop.owner.reads(&format!("/v1/records/{record}"))["kind"], "disposal");
    shop.year(2025).has_lines(&[("48", "300.00"), ("31", "0.00")]);
}

#[test]
fn goods_nobody_has_valued_are_asked_for_until_they_are() {
    let shop = Workshop::open();
    let nailer = shop.is_given("2025-03-02", json!({ "what": "nailer" }));
    let year = shop.year(2025);
    year.has_lines(&[("1", "0.00")]);
    assert_eq!(year.asked("unvalued_gifts")[0]["about"][0], "nailer, from Quillon Tools, 2025-03-02");
    assert_eq!(year.asked("undecided_goods").len(), 1);
    shop.owner.records(
        &format!("/v1/gifts/{}/fate", nailer["id"].as_str().unwrap()),
        json!({ "date": "2025-04-01", "fate": "kept_personally", "value": "90.00", "evidence": "a shop's price" }),
    );
    let valued = shop.year(2025);
    valued.has_lines(&[("1", "90.00"), ("31", "90.00")]);
    assert!(valued.asked("unvalued_gifts").is_empty() && valued.asked("undecided_goods").is_empty());
    assert_eq!(valued.asked("personal_goods").len(), 1);
}

#[test]
fn a_loan_that_is_kept_is_income_of_the_year_it_is_kept_in() {
    // a loan that goes back is no income (from memory); received for good, it is barter: Pub. 525 (seen)
    let shop = Workshop::open();
    let lent = shop.is_given("2025-11-02", json!({ "what": "tile cutter", "relation": "loan" }));
    shop.owner.records(
        &format!("/v1/gifts/{}/fate", lent["id"].as_str().unwrap()),
        json!({ "date": "2026-01-15", "fate": "kept_personally", "value": "140.00" }),
    );
    shop.year(2025).has_lines(&[("1", "0.00")]);
    let kept = shop.year(2026);
    kept.has_lines(&[("1", "140.00")]);
    let says = kept.0["gifts"]["rows"][0]["says"].as_str().unwrap();
    assert!(says.starts_with("lent first and kept later"), "{says}");
    assert_eq!(kept.asked("unvalued_gifts")[0]["about"][0], "tile cutter, from Quillon Tools, 2025-11-02");
}
