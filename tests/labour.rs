//! Labour through the service: hours, and pay.
#![cfg(test)]

use serde_json::json;

use crate::world::{World, postings};

// Common practice, no source: an owner's own hours are never a cost.
#[test]
fn own_hours_are_kept_and_never_enter_the_ledger() {
    let world = World::open();
    let owner = world.owner();
    let episode = owner.has_episode(&owner.has_project("The reading room"), "Shelves");
    let body = json!({ "date": "2025-04-01", "person": "Ona Brell", "standing": "own", "hours": "31.5",
                       "episode": episode });
    let kept = owner.records("/v1/labour", body);
    assert_eq!((&kept["entries"], &kept["attributions"]), (&json!([]), &json!([])));
    assert_eq!(kept["notes"][0], "hours only: nothing enters the ledger");
    let found = owner.reads(&format!("/v1/labour?episode={episode}"));
    assert_eq!(found["items"][0]["record"]["hours"], "31.5");
    let path = format!("/v1/records/{}/reversal", kept["id"].as_str().unwrap());
    let taken = owner.records(&path, json!({ "reason": "counted twice" }));
    assert_eq!((&taken["reverses"], &taken["entries"]), (&json!(null), &json!([])));
    let read = owner.reads(&format!("/v1/labour/{}", kept["id"].as_str().unwrap()));
    assert_eq!(read["reversed_by"], taken["id"]);
}

// Common practice, no source.
#[test]
fn a_paid_helper_is_contract_labour_and_a_cost_of_the_episode() {
    let world = World::open();
    let owner = world.owner();
    let (bank, purse) = (owner.has_account("bank"), owner.has_account("own_pocket"));
    let project = owner.has_project("The reading room");
    let episode = owner.has_episode(&project, "Shelves");
    let helper = owner.has_party("Tamsin Roe", "helper");
    let mut body = json!({ "date": "2025-04-01", "person": "Tamsin Roe", "standing": "paid", "hours": "4",
                           "paid": "100.00", "paid_from": bank, "episode": episode, "party": helper });
    let before = world.rows_written();
    assert_eq!(owner.post("/v1/labour?dry_run=true", &body).status, 200);
    assert_eq!(world.rows_written(), before);
    let paid = owner.records("/v1/labour", body.clone());
    assert_eq!(
        postings(&paid["entries"][0]),
        ["expense:contract_labour 100.00 contract_labour", "money -100.00"]
    );
    let attributed = &paid["attributions"][0];
    assert_eq!((&attributed["category"], &attributed["amount"]), (&json!("paid_labour"), &json!("100.00")));
    assert_eq!(owner.reads(&format!("/v1/labour?party={helper}"))["items"].as_array().unwrap().len(), 1);
    // The owner's purse pays for work that stays in the home: a contribution against a draw.
    body["paid_from"] = json!(purse);
    body["treatment"] = json!({ "as": "home_improvement" });
    let at_home = owner.records("/v1/labour", body);
    assert_eq!(
        postings(&at_home["entries"][0]),
        ["draw:home_improvements 100.00 home_improvement", "owner_contribution -100.00"]
    );
    assert_eq!(at_home["attributions"][0]["amount"], "100.00");
}

// Common practice, no source: pay for a resale piece waits in the piece; once it is sold its cost is settled.
#[test]
fn pay_for_work_on_a_resale_piece_goes_into_the_piece_until_it_is_sold() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let dresser = owner.makes(
        "/v1/furniture",
        json!({ "name": "oak dresser", "date": "2025-03-01", "origin": "bought", "purpose": "resale",
                "basis": "85.00", "paid_from": bank }),
    );
    let hours = |date: &str, standing: &str| {
        let mut body = json!({ "date": date, "person": "Tamsin Roe", "standing": standing, "hours": "4",
                               "piece": dresser });
        if standing == "paid" {
            body["paid"] = json!("100.00");
            body["paid_from"] = json!(bank);
        }
        body
    };
    let paid = owner.records("/v1/labour", hours("2025-03-08", "paid"));
    assert_eq!(postings(&paid["entries"][0]), ["pieces_for_resale 100.00 resale_labour", "money -100.00"]);
    assert_eq!(paid["attributions"], json!([]));
    let standing = owner.reads(&format!("/v1/furniture/{dresser}/standing"));
    assert_eq!((&standing["cost"], &standing["added"]), (&json!("185.00"), &json!("100.00")));
    let early = owner.is_refused(422, "/v1/labour", hours("2025-02-28", "own"));
    assert!(early.error_at("/date").starts_with("2025-02-28 is before 2025-03-01, the day the piece came"));
    let sale = json!({ "date": "2025-04-01", "gross": "240.00", "paid_into": bank });
    owner.records(&format!("/v1/furniture/{dresser}/sale"), sale);
    let late = owner.is_refused(409, "/v1/labour", hours("2025-03-20", "paid"));
    assert!(late.error_at("/piece").starts_with("the piece was sold on 2025-04-01"));
    // Own hours of the time before are no cost, and may still be noted.
    owner.records("/v1/labour", hours("2025-03-20", "own"));
    owner.is_refused(409, "/v1/labour", hours("2025-04-02", "own"));
    // The sale stands on what went into the piece.
    let path = format!("/v1/records/{}/reversal", paid["id"].as_str().unwrap());
    owner.is_refused(409, &path, json!({ "reason": "paid twice" }));
}

// Common practice, no source.
#[test]
fn every_fault_of_hours_is_told_at_once_and_nothing_is_written() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let elsewhere = world.stranger().has_project("Somebody else's hall");
    let before = world.rows_written();
    let refused = owner.is_refused(
        422,
        "/v1/labour",
        json!({ "date": "2025-04-01", "person": " ", "standing": "own", "hours": "0", "paid": "10.00",
                "paid_from": bank, "treatment": { "as": "home_repair" } }),
    );
    for pointer in ["/person", "/hours", "/paid", "/paid_from", "/treatment"] {
        assert!(!refused.error_at(pointer).is_empty());
    }
    let refused = owner.is_refused(
        422,
        "/v1/labour",
        json!({ "date": "2025-04-01", "person": "Ona Brell", "standing": "paid", "hours": "2" }),
    );
    assert!(refused.error_at("/paid").starts_with("the helper is paid, and no pay is given"));
    assert!(refused.error_at("/paid_from").contains("no money account is named"));
    // A piece that is none, and a project of other books.
    let unknown = |field: &str| {
        let mut body =
            json!({ "date": "2025-04-01", "person": "Ona Brell", "standing": "own", "hours": "2" });
        body[field] = json!(elsewhere);
        owner.is_refused(422, "/v1/labour", body).error_at(&format!("/{field}"))
    };
    assert!(unknown("piece").starts_with("these books have no furniture with the id"));
    assert!(unknown("project").starts_with("these books have no projects with the id"));
    assert_eq!(world.rows_written(), before);
    let own = json!({ "date": "2025-04-01", "person": "Ona Brell", "standing": "own", "hours": "2" });
    assert_eq!(world.nobody().post("/v1/labour", &own).status, 401);
}
