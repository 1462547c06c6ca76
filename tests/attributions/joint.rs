//! What one shoot cost, through the door.

use serde_json::json;

use super::Bench;

// Arithmetic: 300.00 by weights 4, 4, 1, 1, 1 (derived, largest remainder).
#[test]
fn one_shoot_day_feeds_two_episodes_and_three_shorts_and_is_taken_back_like_any_record() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let treatments = json!([{ "as": "expense", "class": "rent_equipment" }]);
    let day = json!({ "date": "2025-03-05", "paid_from": bench.bank, "total": "330.00", "lines": [
        { "text": "lights", "amount": "180.00", "treatments": treatments },
        { "text": "studio", "amount": "120.00", "treatments": treatments },
        { "text": "tape", "amount": "30.00", "stock": { "material": "tape", "unit": "roll", "quantity": "3" } } ] });
    let receipt = owner.makes("/v1/purchases", day);
    let shorts: Vec<_> = ["One", "Two", "Three"].map(|title| owner.has_episode(&bench.project, title)).into();
    let mut over = vec![
        json!({ "episode": bench.shelves, "weight": "4" }),
        json!({ "episode": bench.lamp, "weight": "4" }),
    ];
    over.extend(shorts.iter().map(|short| json!({ "episode": short, "weight": "1" })));
    let body = json!({ "date": "2025-03-31", "records": [receipt], "over": over, "category": "services" });
    let rows = bench.world.rows_written();
    let shown = owner.post("/v1/attributions/joint?dry_run=true", &body);
    assert_eq!((shown.status, bench.world.rows_written()), (200, rows));
    let split = owner.records("/v1/attributions/joint", body.clone());
    assert_eq!(split["entries"], json!([]));
    let services = |episode: &str| {
        let statement = owner.reads(&format!("/v1/episodes/{episode}/statement"));
        assert_eq!(statement["reconciles"], true);
        let lines = statement["costs"].as_array().unwrap();
        lines
            .iter()
            .find(|line| line["category"] == "services")
            .map(|line| line["amount"].as_str().unwrap().to_owned())
    };
    let got: Vec<_> =
        [&bench.shelves, &bench.lamp].into_iter().chain(&shorts).filter_map(|one| services(one)).collect();
    assert_eq!(got, ["109.09", "109.09", "27.28", "27.27", "27.27"]);
    let said = owner.is_refused(409, "/v1/attributions/joint", body.clone()).error_at("/records");
    assert!(said.contains("no cost of the business is left"), "{said}");
    bench.takes_back(split["id"].as_str().unwrap(), None);
    assert_eq!(services(&bench.shelves), None);
}

#[test]
fn a_joint_cost_that_can_not_be_is_refused_at_its_place_and_nothing_is_written() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let rows = bench.world.rows_written();
    let path = "/v1/attributions/joint";
    let over = json!([{ "episode": bench.shelves, "weight": "1" }]);
    let gone = json!({ "date": "2025-04-01", "sources": [bench.glue, bench.screws], "over": over });
    let said = owner.is_refused(409, path, gone).error_at("/sources/1");
    assert!(said.contains("nothing of 'screws' is left"), "{said}");
    let stranger = json!({ "date": "2025-04-01", "sources": [bench.glue], "over": over });
    bench.world.stranger().is_refused(422, path, stranger);
    bench.world.nobody().is_refused(401, path, json!({}));
    let unknown =
        json!({ "date": "2025-04-01", "records": ["0192a1b2-0000-7000-8000-000000000001"], "over": over });
    owner.is_refused(422, path, unknown).error_at("/records/0");
    let weightless = json!({ "date": "2025-04-01", "sources": [bench.glue],
                             "over": [{ "episode": bench.shelves, "weight": "0" }] });
    owner.is_refused(422, path, weightless).error_at("/over");
    assert_eq!(bench.world.rows_written(), rows);
}
