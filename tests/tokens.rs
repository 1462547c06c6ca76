//! Tokens: shown once, replaced without standing still, revoked for good, and every change of them in the audit.
#![cfg(test)]

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::world::{Caller, World};

fn holding(world: &World, made: &Value) -> Caller {
    Caller { address: world.address.clone(), token: made["token"].as_str().unwrap().to_owned() }
}

fn listed(owner: &Caller, id: &Value) -> Value {
    let all = owner.reads("/v1/tokens");
    all["items"].as_array().unwrap().iter().find(|one| one["id"] == *id).unwrap().clone()
}

#[test]
fn a_token_lives_a_year_and_its_use_is_listed_without_its_secret() {
    let world = World::open();
    let owner = world.owner();
    let made = owner.records("/v1/tokens", json!({ "name": "phone", "scope": "record" }));
    let before = listed(&owner, &made["id"]);
    assert_eq!(before["last_used_at"], Value::Null, "nobody came with it yet");
    let day = |at: &Value| at.as_str().unwrap().parse::<chrono::DateTime<chrono::Utc>>().unwrap();
    let life = day(&made["expires_at"]) - day(&before["created_at"]);
    assert_eq!((life + chrono::TimeDelta::minutes(1)).num_days(), 365);
    holding(&world, &made).reads("/v1/books");
    let after = listed(&owner, &made["id"]);
    assert!(after["last_used_at"].is_string(), "{after}");
    let text = owner.get("/v1/tokens").text;
    let secret = made["token"].as_str().unwrap();
    assert!(!text.contains(secret), "the secret is not listed");
    let kept = world.count(&format!("SELECT count(*) FROM tokens t WHERE t::text LIKE '%{secret}%'"));
    assert_eq!(kept, 0, "nor kept");
}

#[test]
fn a_token_ends_within_a_year_and_not_before_it_begins() {
    let world = World::open();
    let owner = world.owner();
    let asks = |at: &str| {
        let body = json!({ "name": "phone", "scope": "read", "expires_at": at });
        owner.is_refused(422, "/v1/tokens", body).error_at("/expires_at")
    };
    assert!(
        asks("2020-01-01T00:00:00Z").starts_with("2020-01-01 00:00:00 UTC has gone by | give a later time")
    );
    assert!(asks("2199-01-01T00:00:00Z").contains("is more than a year away | give a time up to "));
    // The fence of time itself: an end that has come is an end.
    let phone = owner.records("/v1/tokens", json!({ "name": "phone", "scope": "read" }));
    assert_eq!(holding(&world, &phone).get("/v1/books").status, 200);
    world.try_as_superuser("UPDATE tokens SET expires_at = now() WHERE name = 'phone'").unwrap();
    assert_eq!(holding(&world, &phone).get("/v1/books").status, 401);
}

#[test]
fn a_replaced_token_goes_on_beside_the_new_one_until_it_is_ended() {
    let world = World::open();
    let owner = world.owner();
    let old = owner.records("/v1/tokens", json!({ "name": "script", "scope": "record" }));
    let path = format!("/v1/tokens/{}/replacement", old["id"].as_str().unwrap());
    let new = owner.records(&path, json!({}));
    assert!(new["old_expires_at"].as_str().unwrap() < new["expires_at"].as_str().unwrap());
    let shown = listed(&owner, &new["id"]);
    assert_eq!((&shown["name"], &shown["scope"]), (&json!("script"), &json!("record")));
    assert_eq!(shown["replaces"], old["id"]);
    assert_eq!(holding(&world, &old).get("/v1/books").status, 200, "the old one goes on for a day");
    assert_eq!(holding(&world, &new).get("/v1/books").status, 200);
    let newest = owner.records(&path, json!({ "keep_old_for_hours": 0 }));
    assert_eq!(holding(&world, &old).get("/v1/books").status, 401, "ended at once");
    assert_eq!(holding(&world, &newest).get("/v1/books").status, 200);
    let long = owner.is_refused(422, &path, json!({ "keep_old_for_hours": 721 }));
    assert!(long.text.contains("/keep_old_for_hours"), "{}", long.text);
    let revoked = format!("/v1/tokens/{}/revocation", new["id"].as_str().unwrap());
    assert_eq!(owner.post_text(&revoked, "", &[]).status, 204);
    assert_eq!(holding(&world, &new).get("/v1/books").status, 401, "revoked within the second");
    let path = format!("/v1/tokens/{}/replacement", new["id"].as_str().unwrap());
    owner.is_refused(404, &path, json!({}));
}

#[test]
fn what_would_show_a_secret_takes_no_dry_run_and_then_changes_nothing() {
    let world = World::open();
    let owner = world.owner();
    let phone = owner.records("/v1/tokens", json!({ "name": "phone", "scope": "read" }));
    let id = phone["id"].as_str().unwrap();
    let before = world.count("SELECT count(*) FROM audit_lines");
    let new = json!({ "name": "desk", "scope": "read" });
    let books = json!({ "name": "Second", "base_currency": "USD", "began_on": "2025-01-01" });
    for (path, body) in [
        ("/v1/tokens".to_owned(), new),
        ("/v1/books".to_owned(), books),
        (format!("/v1/tokens/{id}/replacement"), json!({})),
        (format!("/v1/tokens/{id}/revocation"), json!({})),
    ] {
        let said = owner.is_refused(400, &format!("{path}?dry_run=true"), body);
        assert!(said.text.contains("takes no dry_run"), "{path}: {}", said.text);
    }
    assert_eq!(world.count("SELECT count(*) FROM audit_lines"), before);
    assert_eq!(holding(&world, &phone).get("/v1/books").status, 200, "it was not revoked");
}

#[test]
fn a_key_makes_one_token_and_the_second_request_is_told_why_it_is_not_shown_again() {
    let world = World::open();
    let owner = world.owner();
    let phone = json!({ "name": "phone", "scope": "read" });
    assert_eq!(owner.post_with_key("/v1/tokens", "t-1", &phone).status, 201);
    let again = owner.post_with_key("/v1/tokens", "t-1", &phone);
    assert_eq!(again.status, 409);
    assert!(
        again.json()["detail"].as_str().unwrap().contains("made the token and showed it"),
        "{}",
        again.text
    );
    let other = owner.post_with_key("/v1/tokens", "t-1", &json!({ "name": "desk", "scope": "read" }));
    assert_eq!(other.status, 422, "{}", other.text);
    assert_eq!(world.count("SELECT count(*) FROM tokens WHERE name IN ('phone', 'desk')"), 1);
    let books = json!({ "name": "Second", "base_currency": "USD", "began_on": "2025-01-01" });
    assert_eq!(owner.post_with_key("/v1/books", "b-1", &books).status, 201);
    assert_eq!(owner.post_with_key("/v1/books", "b-1", &books).status, 409);
    assert_eq!(world.count("SELECT count(*) FROM books WHERE name = 'Second'"), 1);
    let id = world.texts("SELECT id::text FROM tokens WHERE name = 'phone'").remove(0);
    let path = format!("/v1/tokens/{id}/revocation");
    let first = owner.post_text(&path, "", &[("Idempotency-Key", "r-1")]);
    let second = owner.post_text(&path, "", &[("Idempotency-Key", "r-1")]);
    assert_eq!((first.status, second.status), (204, 204));
    assert_eq!(
        (first.header("idempotency-replayed"), second.header("idempotency-replayed")),
        (None, Some("true"))
    );
}

/// A token with the prefix and the checksum that belong to that text.
fn sealed(text: &str) -> String {
    const DIGITS: &[u8; 62] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
    let sum = Sha256::digest(text);
    let checksum: String = sum[..6].iter().map(|byte| char::from(DIGITS[usize::from(byte % 62)])).collect();
    format!("lbt_{text}{checksum}")
}

#[test]
fn a_token_from_before_tokens_named_their_books_still_opens_them_by_the_directory() {
    let world = World::open();
    let books = world.owner().reads("/v1/books")["id"].as_str().unwrap().to_owned();
    // Nothing but 32 digits of secret between the prefix and the checksum.
    let token = sealed(&"Kiln7".repeat(7)[..32]);
    let hash: String = Sha256::digest(&token).iter().map(|byte| format!("{byte:02x}")).collect();
    let old = Caller { address: world.address.clone(), token };
    world
        .try_as_superuser(&format!(
            "INSERT INTO tokens (books_id, id, name, scope, hash) \
             VALUES ('{books}', gen_random_uuid(), 'old', 'read', '\\x{hash}')"
        ))
        .unwrap();
    assert_eq!(
        old.get("/v1/books").status,
        401,
        "a control: without a line in the directory it opens nothing"
    );
    world
        .try_as_superuser(&format!(
            "INSERT INTO token_directory (hash, books_id) VALUES ('\\x{hash}', '{books}')"
        ))
        .unwrap();
    assert_eq!(old.reads("/v1/books")["id"], json!(books));
}

#[test]
fn a_token_that_names_other_books_than_its_own_opens_neither() {
    let world = World::open();
    let (own, other) = (world.owner(), world.stranger());
    // The name of one set of books before the secret of the other.
    let swapped = sealed(&format!("{}{}", &other.token[4..26], &own.token[26..58]));
    let caller = Caller { address: world.address.clone(), token: swapped };
    let refused = caller.get("/v1/books");
    assert_eq!(refused.status, 401);
    assert!(refused.text.contains("unknown, expired or revoked"), "it reads like a token: {}", refused.text);
    assert_eq!(own.get("/v1/books").status, 200);
}
