//! What an own hour of the year brought.

use serde_json::json;

use crate::world::World;

#[test]
fn a_year_of_work_says_what_an_hour_brought_and_adds_up_to_the_statements() {
    let world = World::open();
    let owner = world.owner();
    let (bank, project) = (owner.has_account("bank"), owner.has_project("The reading room"));
    let (shelves, lamp) = (owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "The lamp"));
    let pays = |on: &str, episode: &str, amount: &str| {
        let line = json!({ "text": "wood", "amount": amount, "for": [{ "episode": episode }],
                           "treatments": [{ "as": "expense", "class": "supplies" }] });
        owner.records(
            "/v1/purchases",
            json!({ "date": on, "paid_from": bank, "total": amount, "lines": [line] }),
        );
    };
    let works = |on: &str, about: &str, id: &str, hours: &str| {
        let mut hours = json!({ "date": on, "person": "Orla", "standing": "own", "hours": hours });
        hours[about] = json!(id);
        owner.records("/v1/labour", hours);
    };
    pays("2025-03-01", &shelves, "100.00");
    pays("2026-01-01", &shelves, "7.00");
    works("2025-03-02", "episode", &shelves, "8");
    works("2025-12-31", "project", &project, "2");
    works("2026-01-01", "episode", &lamp, "1.5");
    let year = owner.reads("/v1/costing/years/2025");
    assert_eq!(
        (&year["from"], &year["to"], &year["reconciles"]),
        (&json!("2025-01-01"), &json!("2025-12-31"), &json!(true))
    );
    let one = &year["projects"][0];
    assert_eq!(
        (&one["episodes"][0]["result"], &one["episodes"][0]["pay_per_hour"]),
        (&json!("-100.00"), &json!("-12.50"))
    );
    assert_eq!(one["episodes"].as_array().unwrap().len(), 1, "the lamp had nothing in 2025");
    assert_eq!(
        (&one["own"]["own_hours"], &year["total"]["pay_per_hour"]),
        (&json!("2.00"), &json!("-10.00"))
    );
    // Followed to the statement of the same days.
    let statement = owner.reads(one["statement"].as_str().unwrap());
    assert_eq!(
        (&statement["total"]["result"], &statement["total"]["own_hours"]),
        (&json!("-100.00"), &json!("10.00"))
    );
    let next = owner.reads("/v1/costing/years/2026");
    assert_eq!((&next["total"]["result"], &next["total"]["own_hours"]), (&json!("-7.00"), &json!("1.50")));
    let shelves_of_2026 = &next["projects"][0]["episodes"][0];
    assert_eq!(
        (&shelves_of_2026["title"], &shelves_of_2026["pay_per_hour"]),
        (&json!("Shelves"), &json!(null))
    );
    let csv = owner.get("/v1/costing/years/2025?format=csv").text;
    let row = format!("episode,{shelves},Shelves,USD,8.00,0.00,0.00,100.00,0.00,-100.00,-12.50,");
    assert!(csv.contains(&row), "{csv}");
    let text = owner.get_accepting("/v1/costing/years/2025", "text/plain").text;
    assert!(
        text.starts_with("What the hours of 2025 brought\n") && text.contains("The parts add up"),
        "{text}"
    );
    assert_eq!(world.nobody().get("/v1/costing/years/2025").status, 401);
    assert_eq!(world.stranger().reads("/v1/costing/years/2025")["projects"], json!([]));
    assert_eq!(owner.get("/v1/costing/years/2025?format=pdf").status, 406);
    assert_eq!(owner.get("/v1/costing/years/soon").status, 404);
    assert_eq!(owner.get("/v1/costing/years/1776").status, 422);
}

// Common practice, no source: a year of one's own reckoning; the tax year stays the calendar year.
#[test]
fn a_year_of_work_is_the_books_own_year_and_the_tax_year_is_not() {
    let world = World::open();
    let made = world.owner().post(
        "/v1/books",
        &json!({ "name": "Second shop", "base_currency": "USD", "began_on": "2025-01-01",
                 "fiscal_year_begins": "april" }),
    );
    let mut owner = world.owner();
    owner.token = made.json()["token"].as_str().unwrap().to_owned();
    assert_eq!(owner.reads("/v1/books")["fiscal_year_begins"], "april");
    let project = owner.has_project("The reading room");
    for (on, hours) in [("2025-03-31", "1"), ("2025-04-01", "2"), ("2026-03-31", "4"), ("2026-04-01", "8")] {
        owner.records(
            "/v1/labour",
            json!({ "date": on, "person": "Orla", "standing": "own", "hours": hours, "project": project }),
        );
    }
    let year = owner.reads("/v1/costing/years/2025");
    assert_eq!((&year["from"], &year["to"]), (&json!("2025-04-01"), &json!("2026-03-31")));
    assert_eq!(year["total"]["own_hours"], "6.00");
    let summary = owner.reads("/v1/tax-years/2025/summary");
    assert_eq!(summary["year"], 2025);
    let no_month = json!({ "name": "Third shop", "base_currency": "USD", "began_on": "2025-01-01",
                           "fiscal_year_begins": "thirteen" });
    let said = world.owner().is_refused(422, "/v1/books", no_month).error_at("/fiscal_year_begins");
    assert!(said.contains("january"), "{said}");
}
