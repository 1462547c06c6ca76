//! Revisions: labels change in place, nobody's change is lost, and nothing with an effect on money or tax changes so.
#![cfg(test)]

mod writers;

use serde_json::{Value, json};

use crate::world::{Caller, World};

/// The addresses of things whose labels change, one of each word, with the field that names it.
pub(crate) fn one_of_each(owner: &Caller) -> Vec<(String, &'static str)> {
    let (bank, sponsor) = (owner.has_account("bank"), owner.has_party("Fir & Fern Paint", "sponsor"));
    let project = owner.has_project("The Fernbank reading room");
    let episode = owner.has_episode(&project, "Shelves from floor to ceiling");
    let tool = json!({ "name": "table saw", "date": "2025-01-10", "origin": "bought", "cost": "400.00",
                       "paid_from": bank, "method": "equal_share", "note": "with the long fence" });
    let tool = owner.makes("/v1/tools", tool);
    let piece = json!({ "name": "oak dresser", "date": "2025-02-01", "origin": "bought", "purpose": "resale",
                        "basis": "60.00", "paid_from": bank });
    let piece = owner.makes("/v1/furniture", piece);
    let deal = json!({ "date": "2025-01-15", "sponsor": sponsor, "title": "two episodes", "amount": "900.00",
                       "for": [{ "episode": episode, "share": "100" }] });
    let deal = owner.makes("/v1/deals", deal);
    vec![
        (format!("/v1/parties/{sponsor}"), "name"),
        (format!("/v1/projects/{project}"), "name"),
        (format!("/v1/episodes/{episode}"), "title"),
        (format!("/v1/accounts/{bank}"), "name"),
        (format!("/v1/tools/{tool}"), "name"),
        (format!("/v1/furniture/{piece}"), "name"),
        (format!("/v1/deals/{deal}"), "title"),
    ]
}

/// The labels that a read shows, wherever they stand in it.
fn labels(read: &Value) -> &Value {
    read.get("labels").unwrap_or(&read["record"])
}

#[test]
fn labels_of_every_word_change_and_are_read_with_the_next_version() {
    let world = World::open();
    let owner = world.owner();
    for (path, title) in one_of_each(&owner) {
        let before = owner.get(&path);
        assert_eq!(before.header("etag"), Some("\"1\""), "{path}");
        assert_eq!(before.json()["version"], 1, "{path}");
        let called = format!("{} anew", labels(&before.json())[title].as_str().unwrap());
        let change = json!({ title: called, "note": "as the neighbours call it" });
        let reply = owner.patch(&path, "\"1\"", &change);
        assert_eq!((reply.status, reply.header("etag")), (200, Some("\"2\"")), "{path}: {}", reply.text);
        assert_eq!(reply.json()["recorded"], true);
        let after = owner.get(&path);
        assert_eq!(after.header("etag"), Some("\"2\""), "{path}");
        assert_eq!(labels(&after.json())[title], json!(called), "{path}");
        assert_eq!(labels(&after.json())["note"], "as the neighbours call it", "{path}");
        // Taken away again, it is not there.
        owner.changes(&path, json!({ "note": null }));
        assert_eq!(labels(&owner.reads(&path))["note"], Value::Null, "{path}");
        // The list says the same.
        let word = path.split('/').nth(2).unwrap();
        assert!(owner.get(&format!("/v1/{word}")).text.contains(&called), "{path}");
    }
}

#[test]
fn a_party_is_reached_where_it_says_and_an_episode_is_planned_anew() {
    let world = World::open();
    let owner = world.owner();
    let new = json!({ "name": "Hollow Oak Timber", "role": "vendor", "phone": "555 0100" });
    let party = format!("/v1/parties/{}", owner.makes("/v1/parties", new));
    let change = json!({ "email": "yard@hollow-oak.example", "address": "4 Mill Lane\nFernbank" });
    let answer = owner.changes(&party, change);
    assert_eq!(answer["labels"]["phone"], "555 0100", "what the change does not name stays");
    let kept = owner.reads(&party);
    assert_eq!(kept["record"]["email"], "yard@hollow-oak.example");
    assert_eq!(kept["record"]["role"], "vendor");
    let project = owner.has_project("The attic");
    let new = json!({ "title": "The hatch", "project": project, "planned_on": "2025-05-01" });
    let episode = owner.makes("/v1/episodes", new);
    let path = format!("/v1/episodes/{episode}");
    owner.changes(&path, json!({ "planned_on": "2025-06-01" }));
    assert_eq!(owner.reads(&path)["record"]["planned_on"], "2025-06-01");
    let planned = "SELECT planned_on::text FROM episodes WHERE planned_on IS NOT NULL";
    assert_eq!(world.texts(planned), ["2025-06-01"]);
    // The record as it was stated stays readable.
    assert_eq!(owner.reads(&format!("/v1/records/{episode}"))["record"]["planned_on"], "2025-05-01");
}

#[test]
fn a_change_without_a_version_or_with_a_wrong_one_is_refused() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    owner.changes(&path, json!({ "phone": "555 0100" }));
    let before = world.rows_written();
    let change = json!({ "phone": "555 0199" });
    let none = owner.patch_text(&path, &change.to_string(), &[]);
    assert_eq!((none.status, none.json()["type"].as_str()), (428, Some("/problems/version-needed")));
    for (tag, status) in [
        ("\"1\"", 412),
        ("\"3\"", 412),
        ("W/\"2\"", 412),
        ("\"two\"", 412),
        ("\"1\", W/\"2\"", 412),
        ("*", 400),
        ("2", 400),
        ("", 400),
    ] {
        let reply = owner.patch(&path, tag, &change);
        assert_eq!(reply.status, status, "If-Match: {tag}: {}", reply.text);
        assert_eq!(reply.header("content-type"), Some("application/problem+json"));
        assert!(reply.json()["detail"].as_str().is_some_and(|detail| !detail.is_empty()));
    }
    assert_eq!(owner.patch(&path, "\"1\"", &change).error_at("").split(" | ").count(), 2);
    assert_eq!(world.rows_written(), before);
    // The control: one of several tags that is the one.
    assert_eq!(owner.patch(&path, "\"1\", \"2\"", &change).status, 200);
}

#[test]
fn who_has_the_version_gets_304_and_no_body() {
    let world = World::open();
    let owner = world.owner();
    for (path, title) in one_of_each(&owner) {
        for tag in ["\"1\"", "W/\"1\"", "\"7\", \"1\"", "*"] {
            let reply = owner.get_unless(&path, tag);
            assert_eq!((reply.status, reply.text.as_str()), (304, ""), "{path} unless {tag}");
            assert_eq!(reply.header("etag"), Some("\"1\""), "{path}");
        }
        owner.changes(&path, json!({ title: "another name" }));
        let reply = owner.get_unless(&path, "\"1\"");
        assert_eq!((reply.status, reply.header("etag")), (200, Some("\"2\"")), "{path}");
    }
}

#[test]
fn tags_that_can_not_be_read_are_refused_and_not_passed_over() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let long = format!("\"{}\"", "1".repeat(200));
    for tag in ["1", "\"1", "\"1\" \"2\"", "\"1\", 2", "", "one", &long] {
        let refused = owner.get_unless(&path, tag);
        assert_eq!(refused.status, 400, "{tag}: {}", refused.text);
        assert!(
            refused.json()["detail"].as_str().unwrap().starts_with("If-None-Match can not be read"),
            "{tag}"
        );
        let refused = owner.patch(&path, tag, &json!({ "phone": "555 0199" }));
        assert_eq!(refused.status, 400, "{tag}: {}", refused.text);
    }
    assert_eq!(owner.get_unless(&path, "\"2\",\"1\"").status, 304, "the control: two that can be read");
    let bank = owner.has_account("bank");
    let paid = owner
        .makes("/v1/accounts/contributions", json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" }));
    let unversioned = format!("/v1/records/{paid}");
    assert_eq!(owner.get_unless(&unversioned, "1").status, 400, "also where there is no version");
    assert_eq!(owner.get_unless(&unversioned, "\"1\"").status, 200);
}

#[test]
fn what_has_an_effect_on_money_or_tax_does_not_change_in_place() {
    let world = World::open();
    let owner = world.owner();
    let before = |path: &str| owner.reads(path);
    for (path, title) in one_of_each(&owner) {
        let stood = before(&path);
        for (field, value) in [
            ("amount", json!("1.00")),
            ("cost", json!("1.00")),
            ("role", json!("helper")),
            ("place", json!("rented_studio")),
            ("currency", json!("EUR")),
            ("id", json!("0192a1b2-0000-7000-8000-000000000001")),
            ("version", json!(9)),
            ("colour/hue", json!("green")),
        ] {
            let reply = owner.patch(&path, "\"1\"", &json!({ field: value, title: "" }));
            assert_eq!(reply.status, 422, "{path} {field}: {}", reply.text);
            let said = reply.error_at(&format!("/{}", field.replace('/', "~1")));
            assert!(said.contains("does not change in place") && said.contains("reversal"), "{said}");
            // All findings come at once.
            reply.error_at(&format!("/{title}"));
        }
        for (change, pointer) in [
            (json!({ title: null }), format!("/{title}")),
            (json!({ title: 7 }), format!("/{title}")),
            (json!({ title: "   " }), format!("/{title}")),
            (json!({ title: "x".repeat(201) }), format!("/{title}")),
            (json!({ "note": ["a", "b"] }), "/note".to_owned()),
            (json!(["note"]), String::new()),
        ] {
            let reply = owner.patch(&path, "\"1\"", &change);
            assert_eq!(reply.status, 422, "{path} {change}: {}", reply.text);
            reply.error_at(&pointer);
        }
        assert_eq!(before(&path), stood);
    }
}

#[test]
fn a_change_is_read_as_a_merge_patch_or_as_json_and_as_nothing_else() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let sent = |media: &str, tag: &str| {
        let headers = [("Content-Type", media), ("If-Match", tag)];
        owner.patch_text(&path, &json!({ "note": media }).to_string(), &headers)
    };
    assert_eq!(sent("application/merge-patch+json", "\"1\"").status, 200);
    assert_eq!(sent("application/json; charset=utf-8", "\"2\"").status, 200);
    for media in ["application/json-patch+json", "text/plain", ""] {
        assert_eq!(sent(media, "\"3\"").status, 415, "{media}");
    }
    let not_json = owner.patch_text(&path, "{", &[("If-Match", "\"3\"")]);
    assert_eq!(not_json.status, 400, "{}", not_json.text);
}

#[test]
fn a_dry_run_shows_a_change_and_makes_none() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let before = world.rows_written();
    let dry = format!("{path}?dry_run=true");
    let reply = owner.patch(&dry, "\"1\"", &json!({ "name": "Hollow Oak" }));
    assert_eq!((reply.status, reply.header("etag")), (200, None), "{}", reply.text);
    let shown = reply.json();
    assert_eq!((&shown["recorded"], &shown["version"]), (&json!(false), &Value::Null));
    assert_eq!(shown["labels"]["name"], "Hollow Oak");
    assert_eq!(owner.patch(&dry, "\"2\"", &json!({ "name": "Hollow Oak" })).status, 412);
    assert_eq!(world.rows_written(), before);
    assert_eq!(owner.reads(&path)["record"]["name"], "Hollow Oak Timber");
}

#[test]
fn a_repeated_key_gets_the_first_answer_again_though_the_version_has_moved() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let body = json!({ "name": "Hollow Oak" }).to_string();
    let sent = |tag: &str, body: &str| {
        owner.patch_text(&path, body, &[("If-Match", tag), ("Idempotency-Key", "rename-1")])
    };
    let first = sent("\"1\"", &body);
    assert_eq!(first.status, 200, "{}", first.text);
    let written = world.rows_written();
    let again = sent("\"1\"", &body);
    assert_eq!((again.status, &again.text), (200, &first.text));
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    assert_eq!(again.header("etag"), Some("\"2\""));
    // Another change or another version under the same key is another request.
    assert_eq!(sent("\"1\"", "{\"name\":\"Oak\"}").status, 422);
    assert_eq!(sent("\"2\"", &body).status, 422);
    assert_eq!(world.rows_written(), written);
}

#[test]
fn a_change_that_changes_nothing_makes_no_version() {
    let world = World::open();
    let owner = world.owner();
    let path = format!("/v1/parties/{}", owner.has_party("Hollow Oak Timber", "vendor"));
    let before = world.rows_written();
    for change in [json!({}), json!({ "name": "Hollow Oak Timber" }), json!({ "email": null })] {
        let reply = owner.patch(&path, "\"1\"", &change);
        assert_eq!((reply.status, reply.header("etag")), (200, Some("\"1\"")), "{}", reply.text);
        assert_eq!(reply.json()["recorded"], false);
    }
    assert_eq!(world.rows_written(), before);
}

#[test]
fn each_change_leaves_a_line_of_the_audit_and_what_was_before() {
    let world = World::open();
    let owner = world.owner();
    let party = owner.has_party("Hollow Oak Timber", "vendor");
    let path = format!("/v1/parties/{party}");
    owner.changes(&path, json!({ "name": "Hollow Oak" }));
    let lines = owner.reads(&format!("/v1/audit?record={party}"));
    let actions: Vec<_> = lines["items"].as_array().unwrap().iter().map(|line| &line["action"]).collect();
    assert_eq!(actions, [&json!("POST /v1/parties"), &json!(format!("PATCH {path}"))]);
    let kept = "SELECT before ->> 'name' || ' > ' || (changed ->> 'name') FROM revisions r \
                JOIN audit_lines a USING (books_id) WHERE a.id = r.audit_id";
    assert_eq!(world.texts(kept), ["Hollow Oak Timber > Hollow Oak"]);
}

#[test]
fn what_was_taken_back_has_no_version_and_does_not_change() {
    let world = World::open();
    let owner = world.owner();
    let party = owner.has_party("Hollow Oak Timber", "vendor");
    let path = format!("/v1/parties/{party}");
    owner.changes(&path, json!({ "name": "Hollow Oak" }));
    owner.records(&format!("/v1/records/{party}/reversal"), json!({ "reason": "never dealt with" }));
    let read = owner.get_unless(&path, "\"2\"");
    assert_eq!((read.status, read.header("etag")), (200, None));
    assert_eq!(read.json()["record"]["name"], "Hollow Oak");
    assert_eq!(owner.patch(&path, "\"2\"", &json!({ "note": "still here" })).status, 404);
}

#[test]
fn a_stranger_and_a_reader_change_nothing() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    let reader = json!({ "name": "eyes", "scope": "read" });
    let reader = owner.post("/v1/tokens", &reader);
    let token = reader.json()["token"].as_str().unwrap_or_else(|| panic!("{}", reader.text)).to_owned();
    let reader = Caller { token, ..owner.clone() };
    let things = one_of_each(&owner);
    let before = world.rows_written();
    for (path, title) in &things {
        let change = json!({ *title: "mine now" });
        assert_eq!(stranger.patch(path, "\"1\"", &change).status, 404, "{path}");
        assert_eq!(reader.patch(path, "\"1\"", &change).status, 403, "{path}");
        assert_eq!(world.nobody().patch(path, "\"1\"", &change).status, 401, "{path}");
        // Nobody learns of the fields before the door has let them in.
        assert_eq!(reader.patch_text(path, "{", &[]).status, 403, "{path}");
    }
    assert_eq!(world.rows_written(), before);
}

#[test]
fn the_database_refuses_a_change_that_skips_a_version_or_touches_more_than_labels() {
    let world = World::open();
    let owner = world.owner();
    for (path, _) in one_of_each(&owner) {
        owner.changes(&path, json!({ "note": "seen" }));
    }
    let books = owner.reads("/v1/books")["id"].as_str().unwrap().to_owned();
    let tables = [
        ("parties", "name", "role = 'helper'"),
        ("projects", "name", "place = 'rented_studio'"),
        ("episodes", "title", "published_on = '2025-01-01'"),
        ("money_accounts", "name", "currency = 'EUR'"),
        ("tools", "name", "cost = 1"),
        ("pieces", "name", "basis = 1"),
        ("deals", "title", "agreed = 1"),
    ];
    for (table, name, money) in tables {
        for (set, why) in [
            (format!("{name} = 'x'"), "no new version"),
            (format!("{name} = 'x', version = version + 2"), "a version is skipped"),
            (format!("{name} = 'x', version = version - 1"), "a version comes again"),
            (format!("{money}, version = version + 1"), "more than labels"),
            (format!("{name} = 'x', version = version + 1"), "no line in the history"),
        ] {
            let refused = world.try_as_superuser(&format!("UPDATE {table} SET {set}"));
            assert!(refused.is_err(), "{table} SET {set}: {why}");
        }
        assert!(world.try_as_superuser(&format!("DELETE FROM {table}")).is_err(), "{table}");
        let reaches = format!("UPDATE {table} SET {money} RETURNING id::text");
        assert!(
            world.as_the_service(&books, &reaches).is_err(),
            "{table}: the service's role may set {money}"
        );
    }
    for statement in [
        "UPDATE revisions SET changed = '{\"name\": \"x\"}'",
        "DELETE FROM revisions",
        "INSERT INTO revisions SELECT books_id, thing_id, version + 2, thing, audit_id, changed, before, labels \
         FROM revisions LIMIT 1",
    ] {
        assert!(world.try_as_superuser(statement).is_err(), "{statement}");
    }
    // The control: what the fences let through in one transaction.
    world
        .try_as_superuser(
            "INSERT INTO revisions SELECT r.books_id, thing_id, r.version + 1, thing, audit_id, changed, before, labels \
             FROM revisions r JOIN tools t ON t.id = thing_id; UPDATE tools SET name = 'x', version = version + 1",
        )
        .unwrap();
}

/// What changes in place is what the document says: the schema of the patch has the fields that a read shows.
#[test]
fn the_document_names_the_labels_that_a_change_shows() {
    let world = World::open();
    let owner = world.owner();
    let document = ledgerboard::api::document().unwrap();
    for (path, _) in one_of_each(&owner) {
        let shown = owner.patch(&format!("{path}?dry_run=true"), "\"1\"", &json!({})).json();
        let shown: Vec<&String> = shown["labels"].as_object().unwrap().keys().collect();
        let word = path.split('/').nth(2).unwrap();
        let operation = &document["paths"][format!("/v1/{word}/{{id}}")]["patch"];
        for media in ["application~1merge-patch+json", "application~1json"] {
            let body = operation.pointer(&format!("/requestBody/content/{media}/schema/$ref")).unwrap();
            let schema = document.pointer(body.as_str().unwrap().trim_start_matches('#')).unwrap();
            let mut named: Vec<&String> = schema["properties"].as_object().unwrap().keys().collect();
            let mut shown = shown.clone();
            named.sort();
            shown.sort();
            assert_eq!(named, shown, "{path}");
            assert_eq!(schema["additionalProperties"], false, "{path}");
            assert_eq!(schema.get("required"), None, "{path}");
        }
    }
}
