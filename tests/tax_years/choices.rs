//! Choices through the door.

use serde_json::json;

use super::Workshop;

#[test]
fn a_choice_is_recorded_once_is_listed_and_can_be_taken_back() {
    let shop = Workshop::open();
    let owner = &shop.owner;
    let before = shop.world.rows_written();
    let shown = owner.post("/v1/tax-years/2025/elections?dry_run=true", &json!({ "kind": "de_minimis" }));
    assert_eq!((shown.status, shown.json()["recorded"].as_bool()), (200, Some(false)));
    assert_eq!(shop.world.rows_written(), before);
    let made = shop.chooses(2025, json!({ "kind": "de_minimis", "note": "as the preparer advised" }));
    assert_eq!(
        (&made["entries"], made["record"]["note"].as_str()),
        (&json!([]), Some("as the preparer advised"))
    );
    assert!(made["notes"][0].as_str().unwrap().contains("no more than 2500 an item"));
    let again = json!({ "kind": "de_minimis" });
    let said = owner.is_refused(409, "/v1/tax-years/2025/elections", again.clone()).error_at("/kind");
    assert!(said.contains("recorded for 2025 already"), "{said}");
    let listed = owner.reads("/v1/tax-years/records");
    assert_eq!(listed["items"][0]["id"], made["id"]);
    let id = made["id"].as_str().unwrap();
    assert_eq!(owner.reads(&format!("/v1/tax-years/records/{id}"))["date"], "2025-12-31");
    owner.records(&format!("/v1/records/{id}/reversal"), json!({ "reason": "the preparer says no" }));
    shop.chooses(2025, again);
}

#[test]
fn choices_that_the_law_does_not_know_are_refused_and_nothing_is_written() {
    let shop = Workshop::open();
    let owner = &shop.owner;
    let before = shop.world.rows_written();
    let path = "/v1/tax-years/2026/elections";
    for (body, pointer, words) in [
        (json!({ "kind": "straight_line" }), "/class", "give class"),
        (json!({ "kind": "de_minimis", "class": "7" }), "/class", "leave class out"),
        (json!({ "kind": "lower_allowance_2025" }), "/kind", "a choice of 2025 alone"),
        (json!({ "kind": "lifo" }), "/kind", "give one of"),
        (json!({ "kind": "de_minimis", "year": 2026 }), "/year", "not known here"),
    ] {
        let said = owner.is_refused(422, path, body).error_at(pointer);
        assert!(said.contains(words), "{said}");
    }
    owner.is_refused(422, "/v1/tax-years/1776/elections", json!({ "kind": "de_minimis" })).error_at("");
    owner.is_refused(404, "/v1/tax-years/02025/elections", json!({ "kind": "de_minimis" }));
    assert_eq!(shop.world.rows_written(), before);
    owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let said = owner.is_refused(409, "/v1/tax-years/2025/elections", json!({ "kind": "de_minimis" }));
    assert!(said.error_at("").contains("POST /v1/books/reopening"));
}

#[test]
fn another_books_choices_are_its_own() {
    let shop = Workshop::open();
    let id = shop.chooses(2025, json!({ "kind": "de_minimis" }))["id"].clone();
    let stranger = shop.world.stranger();
    assert_eq!(stranger.get(&format!("/v1/tax-years/records/{}", id.as_str().unwrap())).status, 404);
    assert_eq!(stranger.reads("/v1/tax-years/records")["items"], json!([]));
    let theirs = stranger.reads("/v1/tax-years/2025/summary");
    assert!(theirs["elections"].as_array().unwrap().iter().all(|one| one["chosen"] == false));
    for path in ["/v1/tax-years", "/v1/tax-years/2025/summary", "/v1/tax-years/records"] {
        assert_eq!(shop.world.nobody().get(path).status, 401, "{path}");
    }
}
