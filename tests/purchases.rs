//! Receipts through the door: their postings, what they are refused for, returns and reversals.
#![cfg(test)]

mod rebates;

use serde_json::{Value, json};

use crate::world::{World, postings};

fn primer(account: &str, episode: &str) -> Value {
    json!({ "date": "2025-03-02", "paid_from": account, "total": "21.60", "tax": "1.60",
            "lines": [{ "text": "primer", "amount": "20.00", "for": [{ "episode": episode }],
                        "treatments": [{ "as": "expense", "class": "supplies" }] }] })
}

#[test]
fn a_receipt_is_a_cost_of_its_episode_and_an_expense_of_its_class() {
    let world = World::open();
    let owner = world.owner();
    let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let shelves = owner.has_episode(&room, "Shelves");
    let answer = owner.records("/v1/purchases", primer(&bank, &shelves));
    assert_eq!(postings(&answer["entries"][0]), ["expense:supplies 21.60 supplies", "money -21.60"]);
    assert_eq!(answer["entries"][0]["number"], 1);
    assert_eq!(answer["attributions"][0]["amount"], "21.60");
    assert_eq!(answer["attributions"][0]["episode"], json!(shelves));
    let found = owner.reads(&format!("/v1/purchases?episode={shelves}"));
    assert_eq!(found["items"][0]["id"], answer["id"]);
    assert_eq!(owner.reads("/v1/purchases?from=2025-03-03")["items"], json!([]));
}

#[test]
fn bad_receipts_are_refused_with_figures_and_nothing_is_written() {
    let world = World::open();
    let owner = world.owner();
    let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let shelves = owner.has_episode(&room, "Shelves");
    let before = world.rows_written();
    let mut wrong_sum = primer(&bank, &shelves);
    wrong_sum["total"] = json!("21.50");
    let said = owner.is_refused(422, "/v1/purchases", wrong_sum).error_at("/total");
    assert!(said.contains("come to 21.60, the total says 21.50"), "{said}");
    let mut too_exact = primer(&bank, &shelves);
    too_exact["lines"][0]["amount"] = json!("20.005");
    let said = owner.is_refused(422, "/v1/purchases", too_exact).error_at("/lines/0/amount");
    assert!(said.contains("more decimals than USD has"), "{said}");
    let mut negative = primer(&bank, &shelves);
    negative["lines"][0]["amount"] = json!("-20.00");
    owner.is_refused(422, "/v1/purchases", negative).error_at("/lines/0/amount");
    let mut unknown = primer(&bank, &shelves);
    unknown["paid_from"] = json!("0192a1b2-0000-7000-8000-000000000001");
    owner.is_refused(422, "/v1/purchases", unknown).error_at("/paid_from");
    let mut elsewhere = primer(&bank, &shelves);
    elsewhere["lines"][0]["for"][0]["episode"] = json!(bank);
    owner.is_refused(422, "/v1/purchases", elsewhere).error_at("/lines/0/for/0/episode");
    assert_eq!(world.rows_written(), before);
    // A control: the same receipt as it should be.
    owner.records("/v1/purchases", primer(&bank, &shelves));
    assert!(world.rows_written() > before);
}

#[test]
fn a_dry_run_shows_the_entry_without_a_number_and_writes_nothing() {
    let world = World::open();
    let owner = world.owner();
    let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let shelves = owner.has_episode(&room, "Shelves");
    let before = world.rows_written();
    let shown = owner.post("/v1/purchases?dry_run=true", &primer(&bank, &shelves));
    assert_eq!(shown.status, 200);
    let shown = shown.json();
    assert_eq!(shown["entries"][0].get("number"), None);
    assert_eq!(postings(&shown["entries"][0])[0], "expense:supplies 21.60 supplies");
    assert_eq!(world.rows_written(), before);
}

#[test]
fn stock_goes_back_to_the_vendor_in_part_and_the_rest_stays_on_the_shelf() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let bought = owner.records(
        "/v1/purchases",
        json!({ "date": "2025-03-02", "paid_from": bank, "total": "54.90",
                "lines": [{ "text": "plywood", "amount": "54.90",
                            "stock": { "material": "plywood", "unit": "square foot", "quantity": "32" } }] }),
    );
    let path = format!("/v1/purchases/{}/returns", bought["id"].as_str().unwrap());
    let back = json!({ "date": "2025-03-09", "refunded_to": bank,
                       "lines": [{ "line": 0, "amount": "13.73", "quantity": "8" }] });
    let answer = owner.records(&path, back.clone());
    assert_eq!(postings(&answer["entries"][0]), ["materials_on_hand -13.73", "money 13.73"]);
    let mut too_much = back.clone();
    too_much["lines"][0]["quantity"] = json!("24.5");
    let said = owner.is_refused(422, &path, too_much).error_at("/lines/0/quantity");
    assert!(said.contains("only 24"), "{said}");
    // What stands on a purchase keeps it from being taken back alone.
    let reversal = json!({ "reason": "entered twice" });
    let said = owner.is_refused(409, "/v1/entries/1/reversal", reversal).error_at("");
    assert!(said.contains("given back"), "{said}");
    let both = json!({ "reason": "entered twice", "dependants": "take_back" });
    let taken_back = owner.records("/v1/entries/1/reversal", both);
    assert_eq!(taken_back["entries"].as_array().unwrap().len(), 2);
    assert_eq!(taken_back["entries"][1]["reverses"], 1);
    owner.is_refused(409, "/v1/entries/1/reversal", json!({ "reason": "again" }));
}

#[test]
fn an_invoice_counts_on_the_day_it_is_paid() {
    let world = World::open();
    let owner = world.owner();
    let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let shelves = owner.has_episode(&room, "Shelves");
    let mut invoice = primer(&bank, &shelves);
    invoice.as_object_mut().unwrap().remove("paid_from");
    invoice["payment"] = json!("later");
    let kept = owner.records("/v1/purchases", invoice);
    assert_eq!(kept["entries"], json!([]));
    let path = format!("/v1/purchases/{}/payment", kept["id"].as_str().unwrap());
    let paid = owner.records(&path, json!({ "date": "2026-01-08", "paid_from": bank }));
    assert_eq!(paid["entries"][0]["date"], "2026-01-08");
    assert_eq!(paid["entries"][0]["postings"][0]["tax_year"], 2026);
    owner.is_refused(409, &path, json!({ "date": "2026-01-09", "paid_from": bank }));
}

#[test]
fn a_date_in_a_closed_period_is_refused_until_it_is_reopened_on_record() {
    let world = World::open();
    let owner = world.owner();
    let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let shelves = owner.has_episode(&room, "Shelves");
    owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let said = owner.is_refused(409, "/v1/purchases", primer(&bank, &shelves)).error_at("/date");
    assert!(said.contains("the first open day is 2026-01-01"), "{said}");
    owner.records("/v1/books/reopening", json!({ "from": "2025-03-01", "reason": "a receipt turned up" }));
    owner.records("/v1/purchases", primer(&bank, &shelves));
    let acts = owner.reads("/v1/books/acts");
    assert_eq!(acts["items"].as_array().unwrap().len(), 2);
}

#[test]
fn a_drill_and_driver_kit_becomes_two_tools_that_go_back_only_together() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let one = |name: &str, value: &str| json!({ "fair_value": value, "tool": { "name": name, "method": "equal_share" } });
    let kit = json!({ "date": "2025-03-02", "paid_from": bank, "total": "219.00", "lines": [
        { "text": "drill and driver kit", "amount": "199.00", "tools": [one("drill", "120.00"), one("driver", "80.00")] },
        { "text": "screws", "amount": "20.00", "treatments": [{ "as": "expense", "class": "supplies" }] } ] });
    let rows = world.rows_written();
    assert_eq!(owner.post("/v1/purchases?dry_run=true", &kit).status, 200);
    assert_eq!(world.rows_written(), rows);
    let answer = owner.records("/v1/purchases", kit.clone());
    assert_eq!(
        postings(&answer["entries"][0]),
        ["tools_at_cost 119.40", "tools_at_cost 79.60", "expense:supplies 20.00 supplies", "money -219.00"]
    );
    let tools = owner.reads("/v1/tools");
    let costs: Vec<_> =
        tools["items"].as_array().unwrap().iter().map(|tool| (&tool["name"], &tool["cost"])).collect();
    let (drill, driver) = ((json!("drill"), json!("119.40")), (json!("driver"), json!("79.60")));
    assert_eq!(costs, [(&drill.0, &drill.1), (&driver.0, &driver.1)]);
    // The lines keep the places that they have on the receipt.
    let path = format!("/v1/purchases/{}/returns", answer["id"].as_str().unwrap());
    let back = |line: u32| json!({ "date": "2025-03-03", "refunded_to": bank, "lines": [{ "line": line, "amount": "20.00" }] });
    let said = owner.is_refused(409, &path, back(0)).error_at("/lines/0");
    assert!(said.contains("a tool goes back whole"), "{said}");
    owner.is_refused(422, &path, back(2)).error_at("/lines/0/line");
    owner.records(&path, back(1));
    let mut worthless = kit;
    worthless["lines"][0]["tools"][1]["fair_value"] = json!("0.00");
    owner.is_refused(422, "/v1/purchases", worthless).error_at("/lines/0/tools/1/fair_value");
}

// Derived from invariant 6: on 10 March the episode had nothing of the tiles that it could give back.
#[test]
fn a_refund_waits_for_the_day_on_which_the_cost_was_given_to_the_episode() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let room = owner.has_project("The reading room");
    let floor = owner.has_episode(&room, "The floor");
    let bought = owner.makes(
        "/v1/purchases",
        json!({ "date": "2025-03-02", "paid_from": bank, "total": "60.00",
                "lines": [{ "text": "tiles", "amount": "60.00",
                            "treatments": [{ "as": "expense", "class": "supplies" }] }] }),
    );
    let source = owner.reads("/v1/sources")["sources"][0]["source"].clone();
    owner.records(
        "/v1/attributions",
        json!({ "date": "2025-03-11", "source": source, "for": [{ "episode": floor }] }),
    );
    let path = format!("/v1/purchases/{bought}/returns");
    let back = |date: &str| json!({ "date": date, "refunded_to": bank, "lines": [{ "line": 0, "amount": "15.00" }] });
    let said = owner.is_refused(409, &path, back("2025-03-10")).error_at("/lines/0");
    assert!(said.contains("2025-03-10 is before 2025-03-11"), "{said}");
    owner.records(&path, back("2025-03-11"));
    assert_eq!(owner.reads(&format!("/v1/episodes/{floor}/statement"))["cost_total"], "45.00");
}
