//! What stayed in the owner's home.

use serde_json::{Value, json};

use super::Workshop;

#[test]
fn home_improvements_stand_by_project_and_add_up_to_the_journal() {
    // Pub. 523: improvements add to the home's basis, repairs do not (seen)
    let shop = Workshop::open();
    let owner = &shop.owner;
    let porch = owner.has_project("The porch");
    let receipt = |amount: &str, objects: Value, treatments: Value| {
        json!({ "date": "2025-03-02", "paid_from": shop.bank, "total": amount, "lines": [{
            "text": "drywall", "amount": amount, "for": objects, "treatments": treatments }] })
    };
    let improvement = || json!([{ "as": "home_improvement" }]);
    // Shared by two projects, one through its episode; three quarters stayed.
    let mixed = json!([{ "as": "home_improvement", "share": "75" }, { "as": "expense", "class": "supplies", "share": "25" }]);
    let both = json!([{ "episode": shop.episode }, { "project": porch }]);
    let shared = owner.records("/v1/purchases", receipt("100.00", both, mixed));
    owner.records("/v1/purchases", receipt("30.00", json!([]), improvement()));
    let mistake =
        owner.records("/v1/purchases", receipt("70.00", json!([{ "project": porch }]), improvement()));
    let mistake = mistake["id"].as_str().unwrap();
    owner.records(&format!("/v1/records/{mistake}/reversal"), json!({ "reason": "entered twice" }));
    // Some of it went back: 20.00, of which 15.00 had stayed, half of it in each.
    owner.records(
        &format!("/v1/purchases/{}/returns", shared["id"].as_str().unwrap()),
        json!({ "date": "2025-03-09", "refunded_to": shop.bank, "lines": [{ "line": 0, "amount": "20.00" }] }),
    );
    // Tiles from the shelf, of which some came back; a helper; a repair.
    let tiles = owner.records(
        "/v1/purchases",
        json!({ "date": "2025-03-02", "paid_from": shop.bank, "total": "50.00", "lines": [{ "text": "tiles",
            "amount": "50.00", "stock": { "material": "tiles", "unit": "tile", "quantity": "50",
            "treatment": { "as": "home_improvement" } } }] }),
    );
    let tiles = tiles["things"][0]["id"].as_str().unwrap();
    owner.records(
        &format!("/v1/materials/{tiles}/issues"),
        json!({ "date": "2025-03-05", "quantity": "40", "to": [{ "project": porch }] }),
    );
    owner.records(
        "/v1/labour",
        json!({ "date": "2025-03-06", "person": "Ottoline Fenn", "standing": "paid", "hours": "2", "paid": "60.00",
                "paid_from": shop.bank, "episode": shop.episode, "treatment": { "as": "home_improvement" } }),
    );
    shop.pays("2025-03-07", "12.00", json!({ "as": "home_repair" }));
    let year = shop.year(2025);
    let home = &year.0["home"];
    let row = |row: &Value| {
        let text = |field: &str| row[field].as_str().unwrap().to_owned();
        (text("name"), text("improvements"), text("repairs"))
    };
    let rows: Vec<_> = home["rows"].as_array().unwrap().iter().map(row).collect();
    let expected = |name: &str, one: &str, other: &str| (name.to_owned(), one.to_owned(), other.to_owned());
    assert_eq!(
        rows,
        [
            expected("The porch", "70.00", "0.00"),
            expected("The reading room", "90.00", "12.00"),
            expected("of no project", "30.00", "0.00"),
        ]
    );
    assert_eq!((&home["improvements"], &home["repairs"]), (&json!("190.00"), &json!("12.00")));
    assert_eq!(home["rows"][1]["project"], json!(shop.project));
    // Of all that, the business deducts the supplies that did not go back.
    year.has_lines(&[("22", "20.00"), ("28", "20.00")]);
}
