//! Overhead through the door: what left the shelf for nobody, hours on a piece of furniture, and pools with
//! a rate that was estimated ahead.

use serde_json::{Value, json};

use super::Bench;
use crate::world::Caller;

const PATH: &str = "/v1/attributions/overhead";

/// What stands as overhead on an episode's statement.
fn overhead(owner: &Caller, episode: &str) -> Option<Value> {
    let statement = owner.reads(&format!("/v1/episodes/{episode}/statement"));
    assert_eq!(statement["reconciles"], true);
    let lines = statement["costs"].as_array().unwrap();
    lines.iter().find(|line| line["category"] == "overhead").map(|line| line["amount"].clone())
}

fn works(owner: &Caller, whom: (&str, &str), hours: &str) {
    let mut body = json!({ "date": "2025-03-10", "person": "Orla", "standing": "own", "hours": hours });
    body[whom.0] = json!(whom.1);
    owner.records("/v1/labour", body);
}

fn by_hours() -> Value {
    json!({ "date": "2025-03-31", "from": "2025-03-01", "to": "2025-03-31", "by": "own_hours" })
}

/// Ten tins of varnish for 50.00 on a shelf; its lot.
fn varnish(bench: &Bench) -> String {
    let stock = json!({ "material": "varnish", "unit": "tin", "quantity": "10" });
    let receipt = json!({ "date": "2025-03-04", "paid_from": bench.bank, "total": "50.00",
                          "lines": [{ "text": "varnish", "amount": "50.00", "stock": stock }] });
    let answer = bench.owner.records("/v1/purchases", receipt);
    let lot = answer["things"].as_array().unwrap().iter().find(|one| one["what"] == "materials").unwrap();
    lot["id"].as_str().unwrap().to_owned()
}

// Common practice, no source: what is spoilt, missing or used in general is overhead; what is on the shelf is stock.
#[test]
fn stock_that_was_spoilt_missing_or_used_in_general_is_spread_like_the_rent() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let lot = varnish(&bench);
    let moves = |way: &str, body: Value| owner.records(&format!("/v1/materials/{lot}/{way}"), body);
    moves("issues", json!({ "date": "2025-03-05", "quantity": "2", "episode": bench.shelves }));
    let general = moves("issues", json!({ "date": "2025-03-05", "quantity": "1" }));
    moves("waste", json!({ "date": "2025-03-06", "quantity": "1" }));
    moves("counts", json!({ "date": "2025-03-07", "counted": "5" }));
    works(owner, ("episode", &bench.shelves), "1");
    works(owner, ("episode", &bench.lamp), "3");
    let spread = owner.records(PATH, by_hours());
    // The glue nobody took up, 10.00, and three tins of 5.00.
    assert_eq!(spread["notes"][0], "25.00 of 25.00 is spread; the ledger is not touched.");
    let (shelves, lamp) = (overhead(owner, &bench.shelves), overhead(owner, &bench.lamp));
    assert_eq!((shelves, lamp), (Some(json!("6.25")), Some(json!("18.75"))));
    let roll = owner.reads("/v1/sources");
    let of_lot = roll["sources"].as_array().unwrap().iter().find(|one| one["text"] == "varnish").unwrap();
    assert_eq!(of_lot["closing"], "25.00", "five tins are on the shelf");
    let said = owner.is_refused(409, PATH, by_hours()).error_at("/date");
    assert!(said.starts_with("no cost of the business is left"), "{said}");
    // What was spread can not come back to the shelf as well, and its waste can not be taken back alone.
    let back = json!({ "date": "2025-04-01", "quantity": "1" });
    let said = owner.is_refused(409, &format!("/v1/materials/{lot}/returns"), back).error_at("/quantity");
    assert!(said.starts_with("5.00 would come back, and 0.00 of what nobody used"), "{said}");
    let path = format!("/v1/records/{}/reversal", general["id"].as_str().unwrap());
    let said = owner.is_refused(409, &path, json!({ "reason": "for the lamp" })).error_at("");
    assert!(said.contains("overhead of 2025-03-01 to 2025-03-31"), "{said}");
    bench.takes_back(spread["id"].as_str().unwrap(), None);
    moves("returns", json!({ "date": "2025-04-01", "quantity": "1" }));
    assert_eq!(overhead(owner, &bench.lamp), None);
}

#[test]
fn stock_that_was_spoilt_at_home_is_not_overhead_of_the_business() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let lot = varnish(&bench);
    let private = json!({ "date": "2025-03-06", "quantity": "1", "treatment": { "as": "personal" } });
    owner.records(&format!("/v1/materials/{lot}/waste"), private);
    works(owner, ("episode", &bench.lamp), "1");
    let spread = owner.records(PATH, by_hours());
    assert_eq!(spread["notes"][0], "10.00 of 10.00 is spread; the ledger is not touched.");
    assert_eq!(overhead(owner, &bench.lamp), Some(json!("10.00")), "the glue alone");
}

// Common practice, no source.
#[test]
fn a_helper_and_a_drive_for_nobody_in_particular_are_overhead_and_what_the_owner_kept_is_not() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let pays = |paid: &str, treatment: Value| {
        let mut body = json!({ "date": "2025-03-08", "person": "Tam", "standing": "paid", "hours": "2",
                               "paid": paid, "paid_from": bench.bank });
        if !treatment.is_null() {
            body["treatment"] = treatment;
        }
        owner.records("/v1/labour", body);
    };
    pays("30.00", Value::Null);
    pays("90.00", json!({ "as": "home_repair" }));
    works(owner, ("episode", &bench.lamp), "1");
    owner.records(PATH, by_hours());
    assert_eq!(overhead(owner, &bench.lamp), Some(json!("40.00")), "the glue and the helper's 30.00");
}

// Own hours have one answer: an episode's statement and the overhead that it bears count the same ones.
#[test]
fn hours_on_a_piece_bear_overhead_for_the_episode_it_was_got_for() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let stool = owner.records(
        "/v1/furniture",
        json!({ "date": "2025-03-02", "name": "a stool", "purpose": "set", "origin": "found",
                "episode": bench.lamp }),
    );
    let stool = stool["things"][0]["id"].as_str().unwrap().to_owned();
    works(owner, ("episode", &bench.shelves), "2");
    works(owner, ("piece", &stool), "6");
    let hours =
        |episode: &str| owner.reads(&format!("/v1/episodes/{episode}/statement"))["own_hours"].clone();
    assert_eq!((hours(&bench.shelves), hours(&bench.lamp)), (json!("2.00"), json!("6.00")));
    owner.records(PATH, by_hours());
    let (shelves, lamp) = (overhead(owner, &bench.shelves), overhead(owner, &bench.lamp));
    assert_eq!((shelves, lamp), (Some(json!("2.50")), Some(json!("7.50"))));
}

/// A year's rent of the studio, stated ahead at 12.00 an hour; what was paid; and the hours of three episodes.
fn studio(bench: &Bench, paid: &str) -> String {
    let owner = &bench.owner;
    let pool = json!({ "name": "studio rent", "from": "2025-01-01", "to": "2025-12-31",
                       "classes": ["rent_property"], "estimated_cost": "7200.00", "estimated_hours": "600" });
    let pool = owner.makes("/v1/attributions/pools", pool);
    let rent = json!({ "text": "rent", "amount": paid, "treatments": [{ "as": "expense", "class": "rent_property" }] });
    owner.records(
        "/v1/purchases",
        json!({ "date": "2025-02-01", "paid_from": bench.bank, "total": paid, "lines": [rent] }),
    );
    works(owner, ("episode", &bench.shelves), "42.5");
    works(owner, ("episode", &bench.lamp), "537.5");
    pool
}

fn at_year_end(pool: &str, by: &str) -> Value {
    json!({ "date": "2025-12-31", "from": "2025-01-01", "to": "2025-12-31", "by": by, "pool": pool })
}

// Derived: 7,200 over 600 hours is 12.00 an hour; 42.5 hours bear 510.00 and 580 hours 6,960 of 7,134; 174 are left, which
// go by what the episodes cost by then.
#[test]
fn the_report_on_overhead_keeps_what_was_applied_what_there_was_and_what_became_of_the_difference() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let pool = studio(&bench, "7134.00");
    let ahead = owner.records(PATH, at_year_end(&pool, "own_hours"));
    assert_eq!(overhead(owner, &bench.shelves), Some(json!("510.00")));
    let report = || owner.reads("/v1/costing/overhead?from=2025-06-01&to=2025-06-30");
    let standing = report()["pools"][0].clone();
    let figures = |standing: &Value| {
        ["rate_per_hour", "applied", "actual", "difference", "over_or_under", "disposed", "left"]
            .map(|name| standing[name].as_str().unwrap().to_owned())
    };
    assert_eq!(figures(&standing), ["12", "6960.00", "7134.00", "174.00", "under", "0.00", "174.00"]);
    let rest = owner.records(PATH, at_year_end(&pool, "costs"));
    let standing = report()["pools"][0].clone();
    assert_eq!(figures(&standing), ["12", "6960.00", "7134.00", "174.00", "under", "174.00", "0.00"]);
    let spreads = standing["spreads"].as_array().unwrap();
    assert_eq!((&spreads[0]["record"], &spreads[1]["record"]), (&ahead["id"], &rest["id"]));
    // 174 by 570.00 (60.00 of screws among them) and 6,450.00: 14.13 and 159.87.
    assert_eq!(spreads[1]["base"], "7020");
    assert_eq!(overhead(owner, &bench.shelves), Some(json!("524.13")));
    let csv = owner.get("/v1/costing/overhead?format=csv").text;
    let line = ",2025-01-01,2025-12-31,,12 an hour,USD,600,6960.00,7134.00,174.00,7134.00,0.00,under";
    assert!(csv.contains(line), "{csv}");
    assert_eq!(owner.reads("/v1/costing/overhead?from=2026-01-01")["pools"], json!([]));
    assert_eq!(bench.world.stranger().reads("/v1/costing/overhead")["pools"], json!([]));
    assert_eq!(bench.world.nobody().get("/v1/costing/overhead").status, 401);
    assert_eq!(owner.get("/v1/costing/overhead?format=text").status, 406);
    // Taken back, the spreading is no longer in the report, and the pool can not go under it.
    let path = format!("/v1/records/{pool}/reversal");
    owner.is_refused(409, &path, json!({ "reason": "another rate" }));
    bench.takes_back(rest["id"].as_str().unwrap(), None);
    assert_eq!(figures(&report()["pools"][0])[6], "174.00");
}

#[test]
fn a_pool_takes_only_the_costs_of_its_classes_and_what_is_spread_without_one_is_in_the_report_too() {
    let bench = Bench::open();
    let owner = &bench.owner;
    let pool = studio(&bench, "600.00");
    let over = owner.records(PATH, at_year_end(&pool, "own_hours"));
    assert!(over["notes"][1].as_str().unwrap().starts_with("Over-attributed"), "{over}");
    let all = owner.records(PATH, by_hours());
    assert_eq!(all["notes"][0], "10.00 of 10.00 is spread; the ledger is not touched.", "the glue");
    let report = owner.reads("/v1/costing/overhead");
    let standing = &report["pools"][0];
    assert_eq!((&standing["difference"], &standing["left"]), (&json!("-6360.00"), &json!("0.00")));
    assert_eq!(report["without_pool"][0]["borne"], "10.00");
    let whole = json!({ "name": "the rest", "from": "2025-01-01", "to": "2025-12-31" });
    owner.makes("/v1/attributions/pools", whole.clone());
    let report = owner.reads("/v1/costing/overhead");
    assert_eq!(
        (&report["pools"][1]["actual"], &report["pools"][0]["actual"]),
        (&json!("10.00"), &json!("600.00"))
    );
    owner.is_refused(409, "/v1/attributions/pools", whole).error_at("/classes");
    let mut unknown = by_hours();
    unknown["pool"] = json!("0192a1b2-0000-7000-8000-000000000001");
    let said = owner.is_refused(422, PATH, unknown).error_at("/pool");
    assert!(said.contains("no overhead pools"), "{said}");
    let no_hours = json!({ "name": "insurance", "from": "2025-01-01", "to": "2025-12-31", "classes": ["insurance"],
                           "estimated_cost": "900.00", "estimated_hours": "0" });
    owner.is_refused(422, "/v1/attributions/pools", no_hours).error_at("/estimated_hours");
}
