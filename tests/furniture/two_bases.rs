//! Two bases through the door, down to the year's summary.

use serde_json::{Value, json};

use super::{Shop, all};

// Pub. 551, property received as a gift: donor's basis 10,000, value 8,000 (seen; the sale between from memory).
#[test]
fn a_gift_sold_between_its_two_bases_is_neither_a_gain_nor_a_loss_of_the_year() {
    let shop = Shop::open();
    let gift = json!({ "name": "aunt's bureau", "date": "2025-02-01", "origin": "gifted", "purpose": "personal",
                       "basis": "10000.00", "value": "8000.00", "evidence": "an appraisal of January" });
    let sells = |gross: &str| {
        let piece = shop.owner.makes("/v1/furniture", gift.clone());
        let sold = shop.owner.records(&format!("/v1/furniture/{piece}/sale"), shop.sale("2025-06-02", gross));
        assert!(all(&sold["notes"]).contains("It has two bases"), "{}", sold["notes"]);
        shop.owner.reads(&format!("/v1/furniture/{piece}/standing"))
    };
    for (gross, gain) in [("12000.00", "2000.00"), ("7000.00", "-1000.00"), ("9000.00", "0.00")] {
        let standing = sells(gross);
        assert_eq!(standing["sale"]["gain"], gain);
        assert_eq!((&standing["value"], &standing["sale"]["basis"]), (&json!("8000.00"), &json!("10000.00")));
        assert_eq!(standing["sale"]["basis_for_loss"], "8000.00");
    }
    let summary = shop.owner.reads("/v1/tax-years/2025/summary");
    let sales = &summary["personal_sales"];
    assert_eq!(
        (&sales["gains_taxed"], &sales["losses_not_deducted"]),
        (&json!("2000.00"), &json!("1000.00"))
    );
}

// Pub. 551, property changed to business use (from memory for stock): taken in at the lower, and asked.
#[test]
fn stock_that_came_in_under_what_it_had_cost_is_a_question_of_the_year_it_is_sold_in() {
    let shop = Shop::open();
    let own = json!({ "name": "hall mirror", "date": "2025-02-01", "origin": "already_owned", "purpose": "resale",
                      "basis": "150.00", "value": "60.00", "acquired_on": "2021-04-01" });
    let piece = shop.owner.makes("/v1/furniture", own);
    shop.owner.records(&format!("/v1/furniture/{piece}/sale"), shop.sale("2025-06-02", "200.00"));
    let summary = shop.owner.reads("/v1/tax-years/2025/summary");
    let questions: &Vec<Value> = summary["questions"].as_array().unwrap();
    let asked = questions.iter().find(|one| one["topic"] == "two_bases").unwrap();
    assert_eq!(asked["about"], json!([format!("/v1/furniture/{piece}/standing")]));
}

// Pub. 551, property changed to business use (seen): the lower of basis and value; figures derived.
#[test]
fn the_owners_own_chair_is_brought_into_stock_and_its_episode_has_its_cost_once() {
    let shop = Shop::open();
    let mut chair = shop.dresser();
    chair["purpose"] = json!("personal");
    let own = shop.owner.makes("/v1/furniture", chair);
    let path = format!("/v1/furniture/{own}/conversion");
    let into = json!({ "date": "2026-01-10", "purpose": "resale", "value": "50.00", "evidence": "an offer" });
    let into_stock = shop.owner.records(&path, into.clone());
    assert_eq!(
        crate::world::postings(&into_stock["entries"][0]),
        ["pieces_for_resale 50.00 resale_purchases", "draw:personal_items -50.00 personal"]
    );
    let stock = into_stock["id"].as_str().unwrap();
    assert_eq!(shop.owner.reads(&format!("/v1/furniture/{own}/standing"))["state"], "brought_in");
    shop.owner.is_refused(409, &path, into);
    shop.owner.records(&format!("/v1/furniture/{stock}/sale"), shop.sale("2026-03-02", "120.00"));
    let statement = shop.owner.reads(&format!("/v1/episodes/{}/statement", shop.episode));
    assert_eq!((&statement["cost_total"], &statement["reconciles"]), (&json!("80.00"), &json!(true)));
    let summary = shop.owner.reads("/v1/tax-years/2026/summary");
    let lines = summary["lines"].as_array().unwrap();
    let exact = |number: &str| lines.iter().find(|one| one["line"] == number).unwrap()["exact"].clone();
    assert_eq!((exact("36"), exact("42"), exact("1")), (json!("50.00"), json!("50.00"), json!("120.00")));
}
