//! Opening positions: what was there on the day the books begin.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Kept, World, postings};

fn thing(recorded: &Value, what: &str) -> String {
    let things = recorded["things"].as_array().unwrap();
    let found = things.iter().find(|thing| thing["what"] == what).unwrap();
    found["id"].as_str().unwrap().to_owned()
}

#[test]
fn balances_stand_against_opening_equity_and_debts_on_the_other_side() {
    let world = World::open();
    let owner = world.owner();
    let (bank, card) = (owner.has_account("bank"), owner.has_account("card"));
    let stated = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "account", "account": bank, "balance": "812.35" }),
    );
    assert_eq!(postings(&stated["entries"][0]), ["money 812.35", "opening_equity -812.35"]);
    assert_eq!(stated["entries"][0]["kind"], "opening");
    owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "account", "account": card, "balance": "-64.10" }),
    );
    let debt = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "account", "standing": "loans", "balance": "900.00" }),
    );
    assert_eq!(postings(&debt["entries"][0]), ["loans -900.00", "opening_equity 900.00"]);
    let balance = |account: &str| owner.reads(&format!("/v1/accounts/{account}/standing"))["balance"].clone();
    assert_eq!((balance(&bank), balance(&card)), (json!("812.35"), json!("-64.10")));
}

#[test]
fn a_balance_is_stated_once_and_again_only_after_it_was_taken_back() {
    let world = World::open();
    let owner = world.owner();
    let euros = owner.makes("/v1/accounts", json!({ "name": "euros", "kind": "bank", "currency": "EUR" }));
    let body = json!({ "date": "2023-01-01", "what": "account", "account": euros,
                       "balance": "200.00", "rate": "1.07" });
    let stated = owner.records("/v1/openings", body.clone());
    assert_eq!(postings(&stated["entries"][0]), ["money 214.00", "opening_equity -214.00"]);
    let before = world.rows_written();
    let again = owner.is_refused(409, "/v1/openings", body.clone());
    assert!(
        again.error_at("").starts_with("an opening balance of this account stands already, of 2023-01-01")
    );
    assert_eq!(world.rows_written(), before);
    let number = stated["entries"][0]["number"].as_i64().unwrap();
    owner.records(&format!("/v1/entries/{number}/reversal"), json!({ "reason": "the wrong statement" }));
    owner.records("/v1/openings", body);
    assert_eq!(owner.reads(&format!("/v1/accounts/{euros}/standing"))["balance"], "214.00");
}

#[test]
fn a_tool_comes_in_with_its_depreciation_and_what_earlier_episodes_used_up() {
    let world = World::open();
    let owner = world.owner();
    let body = json!({ "date": "2023-01-01", "what": "tool", "tool": {
        "terms": { "name": "table saw", "method": "per_use_hour", "hours_expected": "200" },
        "acquired_on": "2021-05-10", "cost": "600.00", "depreciation_taken": "310.00",
        "convention": "half_year", "hours_before": "50.00", "attributed_before": "150.00" } });
    let before = world.rows_written();
    assert_eq!(owner.post("/v1/openings?dry_run=true", &body).status, 200);
    assert_eq!(world.rows_written(), before);
    let stated = owner.records("/v1/openings", body);
    assert_eq!(
        postings(&stated["entries"][0]),
        ["tools_at_cost 600.00", "accumulated_depreciation -310.00", "opening_equity -290.00"]
    );
    let tool = thing(&stated, "tools");
    assert_eq!(
        world.count(&format!("SELECT count(*) FROM tools WHERE id = '{tool}' AND hours_before = 50")),
        1
    );
    // What earlier episodes used up is gone from the source: 600.00 - 150.00 is left to attribute.
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM movements"), 450);
}

#[test]
fn a_lot_a_piece_and_a_deal_come_in_as_they_were() {
    let world = World::open();
    let owner = world.owner();
    let lot = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "lot",
                "lot": { "material": "oak board", "quantity": "12.5", "unit": "m", "cost": "96.40" } }),
    );
    assert_eq!(postings(&lot["entries"][0]), ["materials_on_hand 96.40", "opening_equity -96.40"]);
    thing(&lot, "materials");
    let piece = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "piece",
                "piece": { "name": "walnut dresser", "purpose": "resale", "basis": "45.00" } }),
    );
    assert_eq!(postings(&piece["entries"][0]), ["pieces_for_resale 45.00", "opening_equity -45.00"]);
    let unknown = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "piece",
                "piece": { "name": "grandmother's chair", "purpose": "personal" } }),
    );
    assert_eq!(unknown["entries"], json!([]));
    assert!(unknown["notes"][0].as_str().unwrap().contains("nobody knows what the piece cost"));
    let sponsor = owner.has_party("Quillon Paints", "sponsor");
    let deal = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "deal",
                "deal": { "sponsor": sponsor, "title": "spring series", "agreed_on": "2022-11-02",
                          "amount": "1500.00", "paid_before": "600.00" } }),
    );
    assert_eq!(deal["entries"], json!([]));
    assert!(deal["notes"][0].as_str().unwrap().contains("900.00 of 1500.00 is still to come"));
    let kinds: Vec<_> = owner.reads("/v1/openings")["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["kind"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(kinds, ["lot", "piece", "piece", "deal"]);
}

#[test]
fn a_lot_that_was_deducted_when_it_was_paid_posts_nothing() {
    let kept = Kept { timing: ledgerboard::rules::recording::MaterialsTiming::WhenPaid, ..Kept::usual() };
    let world = World::keeping(&kept);
    let owner = world.owner();
    let lot = owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "lot",
                "lot": { "material": "screws", "quantity": "400", "unit": "pcs", "cost": "18.00" } }),
    );
    assert_eq!(lot["entries"], json!([]));
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM movements"), 18);
}

#[test]
fn what_is_missing_or_does_not_belong_is_said_at_its_field() {
    let world = World::open();
    let owner = world.owner();
    let (bank, pocket) = (owner.has_account("bank"), owner.has_account("own_pocket"));
    let theirs = world.stranger().has_party("Quillon Paints", "sponsor");
    let before = world.rows_written();
    let refused = |body: Value| owner.is_refused(422, "/v1/openings", body);
    let mixed = refused(json!({ "date": "2023-01-01", "what": "tool", "account": bank, "balance": "1.00" }));
    assert!(mixed.error_at("/account").contains("leave account out"));
    assert!(mixed.error_at("/balance").contains("leave balance out"));
    let none = refused(json!({ "date": "2023-01-01", "what": "lot" }));
    assert!(none.error_at("/lot").contains("give lot"));
    let own = refused(json!({ "date": "2023-01-01", "what": "account", "account": pocket, "balance": "1" }));
    assert!(own.error_at("/account").contains("owner's purse"));
    let deal = refused(json!({ "date": "2023-01-01", "what": "deal",
        "deal": { "sponsor": theirs, "title": "spring", "agreed_on": "2022-11-02", "amount": "5.00" } }));
    assert!(deal.error_at("/deal/sponsor").contains("no parties with the id"));
    let tool = refused(json!({ "date": "2023-01-01", "what": "tool", "tool": {
        "terms": { "name": "saw", "method": "expense_now" }, "acquired_on": "2023-05-10", "cost": "60.00",
        "depreciation_taken": "61.00", "convention": "half_year" } }));
    assert!(tool.error_at("/tool/acquired_on").contains("the books begin on 2023-01-01"));
    assert!(tool.error_at("/tool/depreciation_taken").contains("61.00 was taken on a cost of 60.00"));
    assert_eq!(world.rows_written(), before);
}

#[test]
fn a_stranger_can_not_state_or_read_what_was_in_these_books() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let body = json!({ "date": "2023-01-01", "what": "account", "account": bank, "balance": "10.00" });
    world.stranger().is_refused(422, "/v1/openings", body.clone());
    let stated = owner.makes("/v1/openings", body);
    assert_eq!(world.stranger().get(&format!("/v1/openings/{stated}")).status, 404);
    assert_eq!(world.nobody().get("/v1/openings").status, 401);
}
