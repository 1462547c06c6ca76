//! Batches: a thousand records in one request, all of them or none.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::World;

fn contributions_of(bank: &str) -> Value {
    let one = |text: &str, amount: &str| {
        json!({ "date": "2025-03-01", "paid_from": bank, "total": amount, "payment": "now",
                "lines": [{ "text": text, "amount": amount,
                            "treatments": [{ "as": "expense", "class": "supplies" }] }] })
    };
    json!({ "items": [one("sandpaper", "10.00"), one("wood filler", "12.50"), one("masking tape", "4.25")] })
}

#[test]
fn receipts_in_a_batch_are_recorded_in_their_order_with_an_answer_and_an_audit_line_each() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let body = contributions_of(&bank);
    let dry = owner.post("/v1/purchases/batch?dry_run=true", &body);
    assert_eq!(dry.status, 200, "{}", dry.text);
    assert_eq!(dry.json()["items"][2]["recorded"], false);
    let before = world.count("SELECT count(*) FROM audit_lines");
    let reply = owner.post_with_key("/v1/purchases/batch", "march", &body);
    assert_eq!(reply.status, 201, "{}", reply.text);
    let made = reply.json();
    let numbers: Vec<_> =
        made["items"].as_array().unwrap().iter().map(|one| one["entries"][0]["number"].clone()).collect();
    assert_eq!(numbers, [1, 2, 3]);
    let second = owner.reads(&format!("/v1/purchases/{}", made["items"][1]["id"].as_str().unwrap()));
    assert_eq!(second["record"]["lines"][0]["text"], "wood filler", "each record keeps its own words");
    assert_eq!(world.count("SELECT count(*) FROM audit_lines") - before, 3);
    let again = owner.post_with_key("/v1/purchases/batch", "march", &body);
    assert_eq!((again.status, again.header("idempotency-replayed")), (201, Some("true")));
    assert_eq!(again.text, reply.text);
    assert_eq!(world.count("SELECT count(*) FROM entries"), 3);
}

#[test]
fn one_wrong_receipt_keeps_the_whole_batch_out_and_every_finding_names_its_place() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let mut body = contributions_of(&bank);
    body["items"][0]["total"] = json!("11.00");
    body["items"][2]["lines"][0]["text"] = json!(" ");
    let before = world.rows_written();
    let refused = owner.is_refused(422, "/v1/purchases/batch", body);
    let problem = refused.json();
    let pointers: Vec<_> =
        problem["errors"].as_array().unwrap().iter().map(|one| one["pointer"].as_str().unwrap()).collect();
    assert!(pointers.iter().any(|one| one.starts_with("/items/0/")), "{pointers:?}");
    assert!(pointers.contains(&"/items/2/lines/0/text"), "{pointers:?}");
    let mut strange = contributions_of(&bank);
    strange["items"][1]["paid_from"] = json!("019af000-0000-7000-8000-000000000001");
    let refused = owner.is_refused(422, "/v1/purchases/batch", strange);
    refused.error_at("/items/1/paid_from");
    assert_eq!(world.rows_written(), before, "nothing of the three batches is there");
    // The control: the same batch, mended, is recorded.
    assert_eq!(owner.post("/v1/purchases/batch", &contributions_of(&bank)).status, 201);
}

#[test]
fn a_later_item_sees_the_ones_before_it() {
    let world = World::open();
    let owner = world.owner();
    let source = {
        let bank = owner.has_account("bank");
        let body = json!({ "date": "2025-03-01", "paid_from": bank, "total": "30.00",
            "lines": [{ "text": "primer", "amount": "30.00",
                        "treatments": [{ "as": "expense", "class": "supplies" }] }] });
        owner.records("/v1/purchases", body);
        owner.reads("/v1/sources")["sources"][0]["source"].as_str().unwrap().to_owned()
    };
    let project = owner.has_project("hallway");
    let episode = owner.has_episode(&project, "Hallway");
    let share = |amount: &str| json!({ "source": source, "date": "2025-03-02", "for": [{ "episode": episode }], "amount": amount });
    let over = json!({ "items": [share("20.00"), share("20.00")] });
    let refused = owner.post("/v1/attributions/batch", &over);
    assert!(refused.error_at("/items/1/amount").contains("10.00"), "{}", refused.text);
    let fits = json!({ "items": [share("20.00"), share("10.00")] });
    assert_eq!(owner.post("/v1/attributions/batch", &fits).status, 201);
}

#[test]
fn a_thousand_parties_fit_and_one_more_does_not() {
    let world = World::open();
    let owner = world.owner();
    let batch = |count: usize| {
        let items: Vec<_> =
            (0..count).map(|one| json!({ "name": format!("vendor {one}"), "role": "vendor" })).collect();
        json!({ "items": items })
    };
    owner.is_refused(422, "/v1/parties/batch", batch(1001)).error_at("/items");
    owner.is_refused(422, "/v1/parties/batch", batch(0)).error_at("/items");
    assert_eq!(world.count("SELECT count(*) FROM parties"), 0);
    assert_eq!(owner.post("/v1/parties/batch", &batch(1000)).status, 201);
    assert_eq!(world.count("SELECT count(*) FROM parties"), 1000);
}
