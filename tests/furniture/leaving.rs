//! Pieces that leave without a sale, through the door and down to the year's lines.

use serde_json::{Value, json};

use super::{Shop, all};
use crate::world::postings;

/// The exact amount of a line of a year's form.
pub fn line(shop: &Shop, year: i32, line: &str) -> String {
    let summary = shop.owner.reads(&format!("/v1/tax-years/{year}/summary"));
    let lines = summary["lines"].as_array().unwrap();
    lines.iter().find(|one| one["line"] == line).unwrap()["exact"].as_str().unwrap().to_owned()
}

fn topics(shop: &Shop, year: i32) -> Vec<Value> {
    let summary = shop.owner.reads(&format!("/v1/tax-years/{year}/summary"));
    summary["questions"].as_array().unwrap().iter().map(|one| one["topic"].clone()).collect()
}

// Pub. 334 ch. 6 and Pub. 526, donated inventory (from memory); figures derived: bought 2025 for 80, gone in 2026.
#[test]
fn stock_of_last_year_dumped_is_sold_for_nothing_and_donated_is_no_cost_at_all() {
    for (how, sold, purchases, topic) in
        [("dumped", "80.00", "0.00", "pieces_lost"), ("donated", "0.00", "-80.00", "donations")]
    {
        let shop = Shop::open();
        let piece = shop.buys_a_dresser();
        let gone = json!({ "date": "2026-02-01", "how": how, "value": "120.00" });
        let path = format!("/v1/furniture/{piece}/leaving");
        let left = shop.owner.records(&path, gone.clone());
        let accounts = postings(&left["entries"][0]);
        let expected = match how {
            "dumped" => ["cost_of_pieces_sold 80.00", "pieces_for_resale -80.00"],
            _ => ["draw:personal_items 80.00 personal", "pieces_for_resale -80.00 resale_purchases"],
        };
        assert_eq!(accounts, expected);
        assert_eq!(
            (line(&shop, 2026, "35"), line(&shop, 2026, "36")),
            ("80.00".to_owned(), purchases.to_owned())
        );
        assert_eq!((line(&shop, 2026, "41"), line(&shop, 2026, "42")), ("0.00".to_owned(), sold.to_owned()));
        let topics = topics(&shop, 2026);
        assert!(topics.contains(&json!(topic)) && !topics.contains(&json!("inventory")), "{topics:?}");
        assert_eq!(shop.owner.reads("/v1/furniture")["items"][0]["state"], how);
        assert!(
            shop.owner
                .is_refused(409, &path, gone)
                .error_at("")
                .contains(&format!("already {how} on 2026-02-01"))
        );
        let sale = format!("/v1/furniture/{piece}/sale");
        shop.owner.is_refused(409, &sale, shop.sale("2026-03-02", "390.00"));
        let record = left["id"].as_str().unwrap();
        shop.owner
            .records(&format!("/v1/records/{record}/reversal"), json!({ "reason": "it is still here" }));
        shop.owner.records(&sale, shop.sale("2026-03-02", "390.00"));
    }
}

// Common practice, no source: a prize for viewers.
#[test]
fn stock_given_to_viewers_is_advertising_and_no_cost_of_goods_sold() {
    let shop = Shop::open();
    let piece = shop.buys_a_dresser();
    let path = format!("/v1/furniture/{piece}/leaving");
    let gone = shop.owner.records(&path, json!({ "date": "2025-12-20", "how": "given_away" }));
    assert_eq!(gone["attributions"][0]["category"], "furniture");
    assert_eq!((line(&shop, 2025, "8"), line(&shop, 2025, "42")), ("80.00".to_owned(), "0.00".to_owned()));
    assert!(topics(&shop, 2025).contains(&json!("pieces_given_away")));
}

// Personal costs are not deducted (from memory).
#[test]
fn the_owners_own_chair_given_to_a_charity_posts_nothing_and_is_a_question() {
    let shop = Shop::open();
    let own = json!({ "name": "own chair", "date": "2025-02-01", "origin": "already_owned", "purpose": "personal",
                      "basis": "50.00" });
    let piece = shop.owner.makes("/v1/furniture", own);
    let path = format!("/v1/furniture/{piece}/leaving");
    let charity = shop.owner.has_party("The Open Door", "buyer");
    let gone = shop.owner.records(&path, json!({ "date": "2025-05-01", "how": "donated", "party": charity }));
    assert_eq!(gone["entries"], json!([]));
    assert!(all(&gone["notes"]).contains("nothing is deducted"));
    assert!(topics(&shop, 2025).contains(&json!("donations")));
    shop.world.stranger().is_refused(404, &path, json!({ "date": "2025-05-01", "how": "dumped" }));
    shop.owner.is_refused(422, &path, json!({ "date": "2025-05-01", "how": "taken_apart" }));
}
