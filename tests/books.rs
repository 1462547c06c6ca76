//! Books: what a token opens, further books, tokens that reach only so far, and periods.
#![cfg(test)]

mod closing;
mod moving;
mod new;
mod transfer;

use serde_json::json;

use crate::world::World;

#[test]
fn the_books_show_their_choices_and_the_head_of_their_journal() {
    let world = World::open();
    let owner = world.owner();
    let books = owner.reads("/v1/books");
    assert_eq!(books["base_currency"], "USD");
    assert_eq!(books["accounting_method"], "cash");
    assert_eq!(books["head_number"], 0);
    let bank = owner.has_account("bank");
    let put_in = json!({ "date": "2025-01-05", "into": bank, "amount": "10.00" });
    owner.records("/v1/accounts/contributions", put_in);
    let after = owner.reads("/v1/books");
    assert_eq!(after["head_number"], 1);
    assert_ne!(after["head_hash"], books["head_hash"]);
}

#[test]
fn further_books_are_opened_by_an_admin_and_know_nothing_of_the_first() {
    let world = World::open();
    let owner = world.owner();
    owner.has_project("The reading room");
    let new = json!({ "name": "A second workshop", "base_currency": "EUR", "began_on": "2025-01-01" });
    let made = owner.records("/v1/books", new);
    let mut second = owner.clone();
    second.token = made["token"].as_str().unwrap().to_owned();
    assert_eq!(second.reads("/v1/books")["base_currency"], "EUR");
    assert_eq!(second.reads("/v1/projects")["items"], json!([]));
}

/// ISO 4217 list one of 2026-01-01 (seen): the lev is withdrawn from that day on.
#[test]
fn books_are_kept_in_a_currency_that_there_was_on_their_first_day() {
    let world = World::open();
    let owner = world.owner();
    let of = |began_on: &str| json!({ "name": "Old", "base_currency": "BGN", "began_on": began_on });
    let refused = owner.is_refused(422, "/v1/books", of("2026-01-01"));
    assert!(refused.error_at("/base_currency").starts_with("BGN was withdrawn on 2026-01-01"));
    owner.records("/v1/books", of("2025-01-01"));
}

#[test]
fn a_token_reaches_as_far_as_its_scope_and_no_farther() {
    let world = World::open();
    let owner = world.owner();
    let project = json!({ "name": "The reading room", "place": "own_home" });
    let closing = json!({ "through": "2025-01-31", "reason": "month's end" });
    let may = |scope: &str| {
        let made = owner.records("/v1/tokens", json!({ "name": scope, "scope": scope }));
        let mut caller = owner.clone();
        caller.token = made["token"].as_str().unwrap().to_owned();
        [
            caller.get("/v1/books").status,
            caller.post("/v1/projects?dry_run=true", &project).status,
            caller.post("/v1/books/closing?dry_run=true", &closing).status,
            caller.get("/v1/tokens").status,
        ]
    };
    assert_eq!(may("read"), [200, 403, 403, 403]);
    assert_eq!(may("record"), [200, 200, 403, 403]);
    assert_eq!(may("close"), [200, 200, 200, 403]);
    assert_eq!(may("admin"), [200, 200, 200, 200]);
}

#[test]
fn a_revoked_token_opens_nothing_and_no_list_shows_it() {
    let world = World::open();
    let owner = world.owner();
    let made = owner.records("/v1/tokens", json!({ "name": "phone", "scope": "read" }));
    let mut phone = owner.clone();
    phone.token = made["token"].as_str().unwrap().to_owned();
    assert_eq!(phone.get("/v1/books").status, 200);
    let revoked = owner.post(&format!("/v1/tokens/{}/revocation", made["id"].as_str().unwrap()), &json!({}));
    assert_eq!(revoked.status, 204);
    assert_eq!(phone.get("/v1/books").status, 401);
    let listed = owner.reads("/v1/tokens").to_string();
    assert!(!listed.contains(&phone.token), "a list never shows a token again");
}

#[test]
fn no_door_opens_without_a_token_or_with_a_strangers() {
    let world = World::open();
    let (owner, nobody) = (world.owner(), world.nobody());
    let account = owner.has_account("bank");
    let stranger = world.stranger();
    let document = nobody.get("/openapi.json").json();
    let paths = document["paths"].as_object().unwrap();
    assert!(paths.len() > 60, "{}", paths.len());
    for (path, item) in paths {
        let filled = path.replace("{number}", "1").replace("{year}", "2025");
        let filled =
            filled.split('/').map(|part| if part.starts_with('{') { account.as_str() } else { part });
        let filled = filled.collect::<Vec<_>>().join("/");
        for method in item.as_object().unwrap().keys() {
            let ask = |caller: &crate::world::Caller| match method.as_str() {
                "get" => caller.get(&filled).status,
                "patch" => caller.patch(&filled, "\"1\"", &json!({})).status,
                _ => caller.post(&filled, &json!({})).status,
            };
            assert_eq!(ask(&nobody), 401, "{method} {path} without a good token");
            if path.contains("{id}") || path.contains("{lot}") || path.contains("{number}") {
                let found = ask(&stranger);
                assert!([404, 422].contains(&found), "{method} {path} with a stranger's token: {found}");
            }
        }
    }
}
