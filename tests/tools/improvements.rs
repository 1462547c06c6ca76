//! What is put into a tool, through the door.

use serde_json::json;

use super::{Workshop, amounts, by_hour};
use crate::world::postings;

// Pub. 946 ch. 4, additions and improvements: from memory.
#[test]
fn a_motor_put_into_a_saw_is_used_up_and_written_off_beside_the_saw() {
    let workshop = Workshop::open();
    let owner = &workshop.owner;
    let saw = workshop.buys_saw(by_hour());
    let path = format!("/v1/tools/{saw}/improvements");
    let motor = json!({ "name": "stronger motor", "date": "2025-09-01", "cost": "240.00", "paid_from": workshop.bank,
                        "method": "equal_share", "choice": "capitalise" });
    let before = workshop.world.rows_written();
    let shown = owner.post(&format!("{path}?dry_run=true"), &motor);
    assert_eq!((shown.status, shown.json()["recorded"].as_bool()), (200, Some(false)));
    let mut early = motor.clone();
    (early["date"], early["cost"]) = (json!("2025-02-01"), json!("0.00"));
    let refused = owner.is_refused(422, &path, early);
    assert!(refused.error_at("/date").contains("before 2025-03-01, the day the tool came"));
    assert!(!refused.error_at("/cost").is_empty());
    let mut unpaid = motor.clone();
    unpaid["paid_from"] = json!(saw);
    assert!(!owner.is_refused(422, &path, unpaid).error_at("/paid_from").is_empty());
    assert_eq!(workshop.world.rows_written(), before);
    let made = owner.records(&path, motor);
    assert_eq!(postings(&made["entries"][0]), ["tools_at_cost 240.00", "money -240.00"]);
    assert!(
        made["notes"].as_array().unwrap().iter().any(|note| note.as_str().unwrap().contains("is a repair"))
    );
    let id = made["things"][0]["id"].as_str().unwrap();
    let standing = workshop.standing(id);
    assert_eq!(
        (&standing["name"], &standing["improves"]),
        (&json!("table saw: stronger motor"), &json!(saw))
    );
    let improvements = workshop.standing(&saw)["improvements"].clone();
    assert_eq!((&improvements[0]["id"], &improvements[0]["state"]), (&json!(id), &json!("in_use")));
    assert_eq!(amounts(&workshop.logs(id, &[("2025-09-02", 0, "")])), ["240.00"]);
    // Each is a row of its own on the year's schedule; nothing leaves with the saw unsaid.
    let year = owner.reads("/v1/tax-years/2025/summary");
    let rows = year["depreciation"]["rows"].as_array().unwrap().clone();
    assert_eq!(
        (rows.len(), &rows[1]["in_service_on"], &rows[1]["class"]),
        (2, &json!("2025-09-01"), &json!("7"))
    );
    let gone = owner
        .records(&format!("/v1/tools/{saw}/disposal"), json!({ "date": "2025-12-01", "kind": "scrapped" }));
    let said = gone["notes"].as_array().unwrap().last().unwrap().as_str().unwrap();
    assert!(said.contains("did not leave with it: table saw: stronger motor"), "{said}");
    let mut late = json!({ "name": "fence", "date": "2025-12-02", "cost": "40.00", "method": "equal_share" });
    late["paid_from"] = json!(workshop.bank);
    let left = owner.is_refused(409, &path, late);
    assert!(left.error_at("/date").starts_with("the tool left on 2025-12-01"));
    workshop.takes_back(&gone, "refuse");
    // Taken back, it is an improvement no more.
    workshop.takes_back(&made, "take_back");
    assert_eq!(workshop.standing(&saw)["improvements"], json!([]));
}
