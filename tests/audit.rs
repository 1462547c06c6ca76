//! The audit: who, when, what and by which request, for every change.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::World;

fn lines(page: &Value) -> Vec<Value> {
    page["items"].as_array().unwrap().clone()
}

#[test]
fn every_change_has_a_line_with_its_token_its_request_and_what_it_made() {
    let world = World::open();
    let owner = world.owner();
    let made = owner.records("/v1/tokens", json!({ "name": "phone", "scope": "record" }));
    let phone = crate::world::Caller {
        address: world.address.clone(),
        token: made["token"].as_str().unwrap().to_owned(),
    };
    let reply = phone.post("/v1/parties", &json!({ "name": "Oakline Timber", "role": "vendor" }));
    let (record, request) = (reply.json()["id"].clone(), reply.header("x-request-id").unwrap().to_owned());
    let path = format!("/v1/tokens/{}/revocation", made["id"].as_str().unwrap());
    assert_eq!(owner.post_text(&path, "", &[]).status, 204);
    owner.records("/v1/books", json!({ "name": "Second", "base_currency": "USD", "began_on": "2025-01-01" }));
    let all = lines(&owner.reads("/v1/audit"));
    let actions: Vec<_> = all.iter().map(|line| line["action"].as_str().unwrap()).collect();
    assert_eq!(
        actions,
        ["a test", "POST /v1/tokens", "POST /v1/parties", &format!("POST {path}"), "POST /v1/books"]
    );
    assert_eq!(all[0]["token"], Value::Null, "the first token was made from outside");
    assert_eq!(all[1]["about_token"], made["id"]);
    let party = &all[2];
    assert_eq!((&party["record"], &party["token"], &party["by"]), (&record, &made["id"], &json!("phone")));
    assert_eq!(party["request"], request, "the answer named the request as the audit does");
    assert_eq!(all[3]["about_token"], made["id"]);
    assert!(all[4]["about_books"].is_string());
    assert_eq!(lines(&owner.reads(&format!("/v1/audit?record={}", record.as_str().unwrap()))).len(), 1);
    assert_eq!(lines(&owner.reads(&format!("/v1/audit?token={}", made["id"].as_str().unwrap()))).len(), 1);
    let since = party["at"].as_str().unwrap();
    assert_eq!(lines(&owner.reads(&format!("/v1/audit?since={since}"))).len(), 3);
    assert_eq!(lines(&owner.reads(&format!("/v1/audit?until={since}"))).len(), 3);
    let strange = lines(&world.stranger().reads("/v1/audit"));
    assert_eq!(strange.len(), 1, "other books show their own first token and nothing of these: {strange:?}");
}

#[test]
fn the_audit_is_walked_page_by_page_and_what_is_refused_leaves_no_line() {
    let world = World::open();
    let owner = world.owner();
    for name in ["one", "two", "three", "four"] {
        owner.has_party(name, "vendor");
    }
    owner.is_refused(422, "/v1/parties", json!({ "name": "", "role": "vendor" }));
    owner.post("/v1/parties?dry_run=true", &json!({ "name": "five", "role": "vendor" }));
    let (mut seen, mut next) = (Vec::new(), Some("/v1/audit?limit=2".to_owned()));
    while let Some(path) = next {
        let reply = owner.get(&path);
        let page = reply.json();
        seen.extend(lines(&page));
        next = page["next"].as_str().map(str::to_owned);
        let link = next.as_ref().map(|next| format!("<{next}>; rel=\"next\""));
        assert_eq!(reply.header("link").map(str::to_owned), link);
    }
    assert_eq!(seen.len(), 5, "the token and four parties");
    assert_eq!(owner.get("/v1/audit?cursor=yesterday").status, 400);
    assert_eq!(owner.get("/v1/audit?limit=201").status, 400);
}
