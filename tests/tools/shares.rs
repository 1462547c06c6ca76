//! A tool's share of business use by tax year, through the door.

use serde_json::json;

use super::{Workshop, by_hour, owned};

// Pub. 946 ch. 5, use is kept by tax year: from memory.
#[test]
fn a_years_share_of_business_use_is_stated_once_and_leaves_the_episodes_as_they_are() {
    let workshop = Workshop::open();
    let owner = &workshop.owner;
    let saw = workshop.buys_saw(by_hour());
    workshop.logs(&saw, &[("2025-03-02", 0, "100")]);
    let path = format!("/v1/tools/{saw}/business-shares");
    let before = workshop.world.rows_written();
    let share = json!({ "tax_year": 2026, "share": "40", "note": "the garage took it" });
    let shown = owner.post(&format!("{path}?dry_run=true"), &share);
    assert_eq!((shown.status, shown.json()["recorded"].as_bool()), (200, Some(false)));
    let wrong = owner.is_refused(422, &path, json!({ "tax_year": 2024, "share": "101" }));
    assert!(wrong.error_at("/tax_year").contains("came into service in 2025"));
    assert!(wrong.error_at("/share").starts_with("101 % is more than the whole"));
    assert_eq!(workshop.world.rows_written(), before);
    let stated = owner.records(&path, share.clone());
    assert_eq!(
        (&stated["record"]["note"], &stated["entries"], &stated["attributions"]),
        (&json!("the garage took it"), &json!([]), &json!([]))
    );
    let kept = owner.reads(&format!("/v1/tools/records/{}", stated["id"].as_str().unwrap()));
    assert_eq!((&kept["date"], &kept["kind"]), (&json!("2026-12-31"), &json!("business_share")));
    let standing = workshop.standing(&saw);
    assert_eq!(standing["business_share"], "100");
    assert_eq!(
        standing["business_shares"],
        json!([{ "record": stated["id"], "tax_year": 2026, "share": "40" }])
    );
    assert_eq!(workshop.shares(&saw), owned(&[(0, "150.00")]));
    // One a year: taken back first, then stated anew.
    let again = owner.is_refused(409, &path, json!({ "tax_year": 2026, "share": "55" }));
    assert!(again.error_at("/tax_year").starts_with("40 % is stated for 2026 already"));
    workshop.takes_back(&stated, "refuse");
    owner.records(&path, json!({ "tax_year": 2026, "share": "55" }));
    let years = workshop.standing(&saw)["business_shares"].as_array().unwrap().clone();
    assert_eq!((years.len(), &years[0]["share"]), (1, &json!("55")));
    // The tool itself goes only with what was stated of it.
    let brought = workshop.standing(&saw)["record"].as_str().unwrap().to_owned();
    let reversal = format!("/v1/records/{brought}/reversal");
    let held = owner.is_refused(409, &reversal, json!({ "reason": "never bought" }));
    assert!(held.error_at("").contains("55 % business use in 2026"), "{}", held.text);
    owner.records(&reversal, json!({ "reason": "never bought", "dependants": "take_back" }));
}

// Common practice, no source.
#[test]
fn no_share_is_stated_of_a_closed_year_or_after_the_tool_left() {
    let workshop = Workshop::open();
    let owner = &workshop.owner;
    let saw = workshop.buys_saw(by_hour());
    let path = format!("/v1/tools/{saw}/business-shares");
    owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "the return was filed" }));
    let closed = owner.is_refused(409, &path, json!({ "tax_year": 2025, "share": "60" }));
    assert!(closed.error_at("/tax_year").contains("the first open day is 2026-01-01"));
    owner.records(&format!("/v1/tools/{saw}/disposal"), json!({ "date": "2026-06-01", "kind": "scrapped" }));
    let gone = owner.is_refused(409, &path, json!({ "tax_year": 2027, "share": "60" }));
    assert!(gone.error_at("/tax_year").starts_with("the tool left in 2026"));
    owner.records(&path, json!({ "tax_year": 2026, "share": "60" }));
}
