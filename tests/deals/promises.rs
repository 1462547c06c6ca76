//! Promises to sponsors through the door: made with the deal, kept on a day.

use serde_json::{Value, json};

use super::{People, people};
use crate::world::World;

/// A deal with one promise: the deal's id and where it is said that the promise was kept.
fn promised(people: &People) -> (String, String) {
    let agreed = people.owner.records("/v1/deals", people.agreed());
    let things = agreed["things"].as_array().unwrap();
    let promise = things.iter().find(|thing| thing["what"] == "promises").unwrap();
    assert_eq!(promise["text"], "one minute in the episode");
    let deal = agreed["id"].as_str().unwrap().to_owned();
    let kept = format!("/v1/deals/{deal}/promises/{}/kept", promise["id"].as_str().unwrap());
    (deal, kept)
}

fn kept_on(date: &str) -> Value {
    json!({ "date": date, "where": "https://example.org/shelves" })
}

// Common practice, no source.
#[test]
fn a_promise_kept_stands_with_its_day_and_place_until_that_is_taken_back() {
    let world = World::open();
    let people = people(&world);
    let owner = &people.owner;
    let (deal, path) = promised(&people);
    let promise = || people.standing(&deal)["promises"][0].clone();
    assert!(path.contains(promise()["id"].as_str().unwrap()));
    assert_eq!(promise().get("kept_on"), None);
    let before = world.rows_written();
    assert_eq!(owner.post(&format!("{path}?dry_run=true"), &kept_on("2026-02-18")).status, 200);
    assert_eq!(world.rows_written(), before);
    let key = "the-minute-was-shown";
    let kept = owner.post_with_key(&path, key, &kept_on("2026-02-18"));
    assert_eq!(kept.status, 201, "{}", kept.text);
    let again = owner.post_with_key(&path, key, &kept_on("2026-02-18"));
    assert_eq!((again.status, &again.text), (201, &kept.text));
    let kept = kept.json();
    assert_eq!(
        (&kept["entries"], &kept["notes"]),
        (&json!([]), &json!(["In time: it was due on 2026-02-20."]))
    );
    let shown = promise();
    assert_eq!(
        (&shown["kept_on"], &shown["kept_where"], &shown["kept_record"]),
        (&json!("2026-02-18"), &json!("https://example.org/shelves"), &kept["id"])
    );
    let records =
        owner.reads(&format!("/v1/deals/records?episode={}&party={}", people.episodes[0], people.sponsor));
    let kinds: Vec<_> = records["items"].as_array().unwrap().iter().map(|one| one["kind"].clone()).collect();
    assert_eq!(kinds, ["deal", "promise_kept"]);
    let said = owner.is_refused(409, &path, kept_on("2026-02-19")).error_at("");
    assert!(
        said.starts_with("'one minute in the episode' was kept on 2026-02-18 | reverse that record"),
        "{said}"
    );
    // The deal holds while its promise is kept; taken back, the promise is open again and can be kept anew.
    let reason = json!({ "reason": "the minute was cut" });
    let held = owner.is_refused(409, &format!("/v1/records/{deal}/reversal"), reason.clone());
    assert!(held.error_at("").contains("promise kept: one minute in the episode"), "{}", held.text);
    let record = kept["id"].as_str().unwrap();
    owner.records(&format!("/v1/records/{record}/reversal"), reason);
    assert_eq!(promise().get("kept_on"), None);
    let late = owner.records(&path, json!({ "date": "2026-02-21" }));
    assert_eq!(late["notes"], json!(["One day late: it was due on 2026-02-20."]));
    assert_eq!((&promise()["kept_on"], promise().get("kept_where")), (&json!("2026-02-21"), None));
    let all = json!({ "reason": "it was never agreed", "dependants": "take_back" });
    owner.records(&format!("/v1/records/{deal}/reversal"), all);
    owner.is_refused(404, &path, kept_on("2026-02-22"));
}

#[test]
fn what_can_not_be_a_promise_kept_is_refused_and_another_deals_promise_is_not_found() {
    let world = World::open();
    let people = people(&world);
    let owner = &people.owner;
    let (_, path) = promised(&people);
    let (other, _) = promised(&people);
    let promise = path.split('/').nth(5).unwrap();
    let before = world.rows_written();
    let early = owner.is_refused(422, &path, json!({ "date": "2025-11-02", "where": " " }));
    assert!(early.error_at("/date").contains("before the deal was agreed on 2025-11-03"));
    assert!(early.error_at("/where").starts_with("the place is empty"));
    owner.is_refused(422, &path, json!({ "date": "2026-02-18", "amount": "5.00" }));
    owner.is_refused(404, &format!("/v1/deals/{other}/promises/{promise}/kept"), kept_on("2026-02-18"));
    owner.is_refused(404, &format!("/v1/deals/{other}/promises/{other}/kept"), kept_on("2026-02-18"));
    world.stranger().is_refused(404, &path, kept_on("2026-02-18"));
    assert_eq!(world.nobody().post(&path, &kept_on("2026-02-18")).status, 401);
    assert_eq!(world.rows_written(), before);
}

#[test]
fn the_database_itself_takes_no_second_keeping_and_changes_none() {
    let world = World::open();
    let people = people(&world);
    let (_, path) = promised(&people);
    people.owner.records(&path, kept_on("2026-02-18"));
    for (statement, why) in [
        (
            "INSERT INTO promises_kept SELECT k.books_id, k.promise_id, r.id, k.kept_on, NULL FROM promises_kept k \
             JOIN records r ON r.kind = 'deal'",
            "it is kept already",
        ),
        ("UPDATE promises_kept SET kept_on = kept_on + 1", "append-only"),
        ("DELETE FROM promises_kept", "append-only"),
    ] {
        assert!(world.try_as_superuser(statement).is_err(), "{statement}: {why}");
    }
}
