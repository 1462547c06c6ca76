//! Whom money passes to and from.

use serde_json::json;

use super::super::trial::{asked, books, day, findings, is_always_called_something, write};
use super::*;

#[test]
fn a_party_has_a_name_a_role_and_the_day_it_became_known() {
    let new = |more: serde_json::Value| {
        let mut body = json!({ "name": "Hollow Oak Timber", "role": "vendor" });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        write(|pen| add(pen, &asked(body)))
    };
    let got = new(json!({ "date": "2025-05-02" })).unwrap();
    assert_eq!(got.date, day("2025-05-02"));
    let [Row::Party(row)] = &got.rows[..] else { panic!("one party") };
    assert_eq!((row.name.as_str(), row.role), ("Hollow Oak Timber", PartyRole::Vendor));
    assert_eq!(new(json!({})).unwrap().date, books().began_on);
    assert_eq!(findings(new(json!({ "name": " " }))), ["/name: the name is empty"]);
}

#[test]
fn a_party_is_called_by_its_name_and_never_by_nothing() {
    is_always_called_something::<PartyLabels>("name");
}
