//! New estimates of a tool's life, and how tools leave.

use serde_json::json;

use super::{Workshop, amounts, by_hour, owned};
use crate::world::postings;

// Common practice, no source: 150 charged for 100 hours; 450 over the 500 hours then left is 0.90 an hour.
#[test]
fn a_new_estimate_touches_later_uses_only_and_falls_after_them() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let path = format!("/v1/tools/{saw}/estimates");
    let early = workshop.logs(&saw, &[("2025-03-02", 0, "100")]);
    let before = workshop.world.rows_written();
    let refused = workshop.owner.is_refused(
        422,
        &path,
        json!({ "date": "2025-03-02", "months": 3, "salvage": "1.00" }),
    );
    assert!(refused.error_at("/date").starts_with("uses up to 2025-03-02 are charged already"));
    assert!(refused.error_at("/months").contains("method does not use it"));
    assert_eq!(workshop.world.rows_written(), before);
    let longer = workshop.owner.records(&path, json!({ "date": "2025-04-01", "hours_expected": "600" }));
    assert_eq!((&longer["entries"], &longer["attributions"]), (&json!([]), &json!([])));
    workshop.logs(&saw, &[("2025-03-20", 1, "10"), ("2025-04-02", 2, "10")]);
    assert_eq!(workshop.shares(&saw), owned(&[(0, "150.00"), (1, "15.00"), (2, "9.00")]));
    assert_eq!(workshop.standing(&saw)["hours_expected"], "600");
    // What was charged by the estimate falls before it, and what it counted with after it.
    for record in [&longer, &early] {
        let reversal = format!("/v1/records/{}/reversal", record["id"].as_str().unwrap());
        workshop.owner.is_refused(409, &reversal, json!({ "reason": "a slip" }));
    }
    workshop.takes_back(&longer, "take_back");
    let standing = workshop.standing(&saw);
    assert_eq!((&standing["hours_expected"], &standing["left"]), (&json!("400"), &json!("450.00")));
}

// Principles of Financial Accounting, 11.5, from memory: 649 on the books, sold for 400.
#[test]
fn a_saw_sold_leaves_what_its_episodes_bore_and_gives_its_loss_to_business_property() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    workshop.logs(&saw, &[("2025-03-02", 0, "12.5")]);
    let path = format!("/v1/tools/{saw}/disposal");
    let sale =
        json!({ "date": "2025-06-01", "kind": "sold", "proceeds": "400.00", "paid_into": workshop.bank });
    let before = workshop.world.rows_written();
    let shown = workshop.owner.post(&format!("{path}?dry_run=true"), &sale);
    assert_eq!((shown.status, workshop.world.rows_written()), (200, before));
    let sold = workshop.owner.records(&path, sale.clone());
    assert_eq!(
        postings(&sold["entries"][0]),
        ["money 400.00", "tools_at_cost -649.00", "business_property_sales 249.00 business_property_sale"]
    );
    assert_eq!((&sold["entries"][0]["kind"], &sold["attributions"]), (&json!("disposal"), &json!([])));
    assert!(sold["notes"][0].as_str().unwrap().starts_with("a loss of 249.00 against 649.00"));
    assert_eq!(sold["notes"][1], "630.25 of its cost had reached no episode and leaves with it");
    assert_eq!(workshop.shares(&saw), owned(&[(0, "18.75")]));
    assert_eq!(workshop.spent_and_left(&saw), ["18.75", "0.00"]);
    // Afterwards: no second sale, no use, and a late use of the time before bears nothing.
    let again = workshop.owner.is_refused(409, &path, sale);
    assert!(again.error_at("").starts_with("the tool left already on 2025-06-01 (sold)"));
    let uses = format!("/v1/tools/{saw}/uses");
    let after = workshop.owner.is_refused(409, &uses, workshop.uses(&[("2025-06-02", 1, "1")]));
    assert!(after.error_at("/uses/0/date").contains("after it left on 2025-06-01"));
    assert!(amounts(&workshop.logs(&saw, &[("2025-05-01", 1, "5")])).is_empty());
    // Taken back with that use, the tool is there again with all that was left in it.
    workshop.takes_back(&sold, "take_back");
    assert_eq!(workshop.spent_and_left(&saw), ["18.75", "581.25"]);
    assert_eq!(amounts(&workshop.logs(&saw, &[("2025-06-02", 1, "1")])), ["1.50"]);
}

// Principles of Financial Accounting, 11.5, from memory: 649 less the 200 taken before is 449; sold for 460.
#[test]
fn a_tool_from_before_the_books_gives_up_what_is_left_of_it_and_leaves_with_its_depreciation() {
    let workshop = Workshop::open();
    let opened = workshop.owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "tool", "tool": {
            "terms": { "name": "planer", "salvage": "49.00", "method": "equal_share" },
            "acquired_on": "2021-05-01", "cost": "649.00", "attributed_before": "100.00",
            "depreciation_taken": "200.00", "convention": "half_year", "first_year_write_off": "0.00" } }),
    );
    let planer = opened["things"][0]["id"].as_str().unwrap();
    assert_eq!(workshop.spent_and_left(planer), ["0.00", "500.00"]);
    let uses = format!("/v1/tools/{planer}/uses");
    let early = workshop.owner.is_refused(422, &uses, workshop.uses(&[("2022-12-31", 0, "")]));
    assert!(early.error_at("/uses/0/date").contains("before these books had it on 2023-01-01"));
    assert_eq!(amounts(&workshop.logs(planer, &[("2023-02-01", 0, "")])), ["500.00"]);
    let sale =
        json!({ "date": "2023-06-01", "kind": "sold", "proceeds": "460.00", "paid_into": workshop.bank });
    let sold = workshop.owner.records(&format!("/v1/tools/{planer}/disposal"), sale);
    assert_eq!(
        postings(&sold["entries"][0]),
        [
            "money 460.00",
            "accumulated_depreciation 200.00",
            "tools_at_cost -649.00",
            "business_property_sales -11.00 business_property_sale"
        ]
    );
}

// Common practice, no source.
#[test]
fn every_fault_of_a_disposal_is_told_at_once_and_nothing_is_written() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    workshop.logs(&saw, &[("2025-03-05", 0, "1")]);
    let path = format!("/v1/tools/{saw}/disposal");
    let before = workshop.world.rows_written();
    let early = workshop.owner.is_refused(422, &path, json!({ "date": "2025-02-01", "kind": "sold" }));
    assert!(early.error_at("/date").starts_with("2025-02-01 is before 2025-03-01, the day the tool came"));
    assert!(early.error_at("/proceeds").starts_with("the tool was sold, and no price is given"));
    let private = json!({ "date": "2025-06-01", "kind": "personal_use", "proceeds": "5.00" });
    let refused = workshop.owner.is_refused(422, &path, private);
    assert!(refused.error_at("/proceeds").contains("taken for private use, and proceeds are given"));
    let nowhere = json!({ "date": "2025-06-01", "kind": "sold", "proceeds": "5.00" });
    let refused = workshop.owner.is_refused(422, &path, nowhere);
    assert!(refused.error_at("/paid_into").starts_with("proceeds are given, but not where they went"));
    assert_eq!(workshop.world.rows_written(), before);
    let taken = workshop.owner.records(&path, json!({ "date": "2025-06-01", "kind": "personal_use" }));
    assert_eq!(
        postings(&taken["entries"][0]),
        ["tools_at_cost -649.00", "draw:personal_items 649.00 personal"]
    );
}

// Derived from invariant 6: the books of every day hold, which the workshop verifies as it closes.
#[test]
fn a_use_between_a_sale_and_the_day_it_was_taken_back_costs_from_that_day_on() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let sale =
        json!({ "date": "2025-04-03", "kind": "sold", "proceeds": "400.00", "paid_into": workshop.bank });
    let sale = workshop.owner.records(&format!("/v1/tools/{saw}/disposal"), sale);
    let reversal = format!("/v1/records/{}/reversal", sale["id"].as_str().unwrap());
    workshop.owner.records(&reversal, json!({ "reason": "it is still here", "date": "2025-04-09" }));
    let used = workshop.logs(&saw, &[("2025-04-06", 0, "10")]);
    assert_eq!(used["attributions"][0]["date"], "2025-04-09");
    assert_eq!(workshop.shares(&saw), owned(&[(0, "15.00")]));
    let scrapped = json!({ "date": "2025-04-08", "kind": "scrapped" });
    let said =
        workshop.owner.is_refused(409, &format!("/v1/tools/{saw}/disposal"), scrapped).error_at("/date");
    assert!(said.contains("its earlier leaving was taken back on 2025-04-09"), "{said}");
}
