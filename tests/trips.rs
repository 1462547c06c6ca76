//! Trips through the service.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Kept, World, postings};

fn trip(date: &str, distance: &str) -> Value {
    json!({ "date": date, "distance": distance, "unit": "mile", "purpose": "lumber for the shelves",
            "vehicle": "green van" })
}

// Standard mileage rates of 2023 to 2026, Notices 2024-08, 2025-05 and 2026-10: seen, in summaries of them.
#[test]
fn a_thousand_business_miles_are_deducted_at_the_standard_rate_of_their_year() {
    let world = World::open();
    let owner = world.owner();
    let before = world.rows_written();
    assert_eq!(owner.post("/v1/trips?dry_run=true", &trip("2025-04-01", "1000")).status, 200);
    assert_eq!(world.rows_written(), before);
    let rates = [("2023", "655.00"), ("2024", "670.00"), ("2025", "700.00"), ("2026", "725.00")];
    for (year, amount) in rates {
        let driven = owner.records("/v1/trips", trip(&format!("{year}-04-01"), "1000"));
        assert_eq!(
            postings(&driven["entries"][0]),
            [format!("expense:vehicle {amount} vehicle"), format!("owner_contribution -{amount}")]
        );
        assert_eq!(driven["entries"][0]["postings"][0]["tax_year"].to_string(), year);
    }
    let of_2025 = owner.reads("/v1/trips?from=2025-01-01&to=2025-12-31");
    let notes = of_2025["items"][0]["notes"][0].as_str().unwrap();
    assert!(notes.starts_with("700.00 at the standard rate of 0.70 a mile"), "{notes}");
}

// Common practice, no source: 31.5 miles at 0.70 are 22.05, an odd cent to the first; 100 km are 43.50.
#[test]
fn a_trip_for_two_episodes_is_shared_to_the_cent_and_falls_whole() {
    let world = World::open();
    let owner = world.owner();
    let project = owner.has_project("The reading room");
    let episodes = ["Shelves", "The window seat"].map(|title| owner.has_episode(&project, title));
    let mut body = trip("2025-04-01", "31.5");
    body["for"] = json!([{ "episode": episodes[0] }, { "episode": episodes[1] }]);
    let driven = owner.records("/v1/trips", body.clone());
    let amounts: Vec<_> =
        driven["attributions"].as_array().unwrap().iter().map(|one| one["amount"].clone()).collect();
    assert_eq!(amounts, ["11.03", "11.02"]);
    let number = driven["entries"][0]["number"].as_i64().unwrap();
    let taken = owner.records(&format!("/v1/entries/{number}/reversal"), json!({ "reason": "not driven" }));
    assert_eq!(
        postings(&taken["entries"][0]),
        ["expense:vehicle -22.05 vehicle", "owner_contribution 22.05"]
    );
    assert_eq!(taken["attributions"][0]["amount"], "-11.03");
    body["distance"] = json!("100");
    body["unit"] = json!("kilometre");
    let abroad = owner.records("/v1/trips", body);
    assert_eq!(abroad["entries"][0]["postings"][0]["amount"], "43.50");
}

// Pub. 463 ch. 4, from memory: depreciation is an actual cost, and so the rate is not for that vehicle.
#[test]
fn the_standard_rate_is_refused_for_a_van_that_is_kept_as_a_tool_until_it_has_left() {
    let world = World::open();
    let owner = world.owner();
    let van = owner.makes(
        "/v1/tools",
        json!({ "name": "Green Van", "date": "2024-05-01", "origin": "converted_from_personal",
                "cost": "9000.00", "value": "6000.00", "class": "5", "method": "equal_share" }),
    );
    let before = world.rows_written();
    let refused = owner.is_refused(409, "/v1/trips", trip("2025-04-01", "10"));
    assert!(refused.error_at("/vehicle").starts_with("'green van' is kept as a tool"));
    assert_eq!(world.rows_written(), before);
    // Before it came, for another vehicle and after the year it left, the rate is there.
    owner.records("/v1/trips", trip("2023-04-01", "10"));
    let mut other = trip("2025-04-01", "10");
    other["vehicle"] = json!("grey estate");
    owner.records("/v1/trips", other);
    let gone = json!({ "date": "2025-06-01", "kind": "personal_use" });
    owner.records(&format!("/v1/tools/{van}/disposal"), gone);
    owner.is_refused(409, "/v1/trips", trip("2025-12-01", "10"));
    owner.records("/v1/trips", trip("2026-04-01", "10"));
}

/// The green van as each way in of a tool asks for it: where, the pointer of its name, and the body.
fn ways_in(bank: &str, giver: &str) -> [(&'static str, &'static str, Value); 4] {
    let van = json!({ "name": "Green Van", "method": "equal_share", "class": "5" });
    let line = json!({ "text": "a van", "amount": "6000.00", "tool": van });
    [
        (
            "/v1/tools",
            "/name",
            json!({ "name": "Green Van", "date": "2025-02-01", "origin": "converted_from_personal",
                    "cost": "9000.00", "value": "6000.00", "class": "5", "method": "equal_share" }),
        ),
        (
            "/v1/purchases",
            "/lines/0/tool/name",
            json!({ "date": "2025-02-01", "paid_from": bank, "total": "6000.00", "lines": [line] }),
        ),
        (
            "/v1/gifts",
            "/tool/name",
            json!({ "date": "2025-02-01", "party": giver, "what": "a van", "relation": "promotion",
                    "value": "6000.00", "fate": "kept_for_business", "kept_as": "tool", "tool": van }),
        ),
        (
            "/v1/openings",
            "/tool/terms/name",
            json!({ "date": "2023-01-01", "what": "tool",
                    "tool": { "terms": van, "acquired_on": "2021-05-10", "cost": "6000.00" } }),
        ),
    ]
}

// Pub. 463 ch. 4, from memory: the same from the other side.
#[test]
fn a_van_with_trips_at_the_standard_rate_is_taken_in_as_a_tool_by_no_way_until_they_are_taken_back() {
    let world = World::open();
    let owner = world.owner();
    let (bank, giver) = (owner.has_account("bank"), owner.has_party("Brandywell Motors", "sponsor"));
    let ways = ways_in(&bank, &giver);
    let mut undecided = ways[2].2.clone();
    for field in ["fate", "kept_as", "tool"] {
        undecided.as_object_mut().unwrap().remove(field);
    }
    let gift = owner.makes("/v1/gifts", undecided);
    let fate = format!("/v1/gifts/{gift}/fate");
    let kept = json!({ "date": "2025-05-01", "fate": "kept_for_business", "kept_as": "tool",
                       "tool": ways[2].2["tool"] });
    let mut invoice = ways[1].2.clone();
    invoice.as_object_mut().unwrap().remove("paid_from");
    invoice["payment"] = json!("later");
    let invoice = owner.makes("/v1/purchases", invoice);
    let payment = format!("/v1/purchases/{invoice}/payment");
    let paid = json!({ "date": "2025-05-01", "paid_from": bank });
    let driven = owner.makes("/v1/trips", trip("2025-04-01", "10"));
    let before = world.rows_written();
    let late = [(fate.as_str(), "/tool/name", kept.clone()), (&payment, "/lines/0/tool/name", paid)];
    for (path, pointer, body) in ways.iter().cloned().chain(late) {
        let said = owner.is_refused(409, path, body).error_at(pointer);
        assert!(said.starts_with("'Green Van' has trips at the standard rate in 2025"), "{path}: {said}");
    }
    assert_eq!(world.rows_written(), before);
    // Another books' trips are not in the way, nor the owner's where the van has no basis or serves later.
    let stranger = world.stranger();
    let theirs = ways_in(&stranger.has_account("bank"), &giver);
    stranger.records("/v1/tools", theirs[0].2.clone());
    owner.records(
        "/v1/tools",
        json!({ "name": "Green Van", "date": "2025-02-01", "origin": "loan", "method": "equal_share" }),
    );
    let mut later = ways[0].2.clone();
    later["in_service_on"] = json!("2026-01-01");
    let later = owner.makes("/v1/tools", later);
    let reason = json!({ "reason": "the year goes by actual costs" });
    for record in [later, driven] {
        owner.records(&format!("/v1/records/{record}/reversal"), reason.clone());
    }
    owner.records(&fate, kept);
    owner.is_refused(409, "/v1/trips", trip("2025-04-01", "10")).error_at("/vehicle");
}

// Common practice, no source.
#[test]
fn every_fault_of_a_trip_is_told_at_once_and_nothing_is_written() {
    let world = World::open();
    let owner = world.owner();
    owner.records("/v1/books/closing", json!({ "through": "2024-12-31", "reason": "the year is done" }));
    let before = world.rows_written();
    let mut body = trip("2024-12-31", "0");
    body["purpose"] = json!(" ");
    body["for"] = json!([{}]);
    let refused = owner.is_refused(422, "/v1/trips", body);
    assert!(refused.error_at("/date").starts_with("2024-12-31 lies in a closed period"));
    assert!(refused.error_at("/purpose").starts_with("the purpose is empty"));
    assert!(refused.error_at("/distance").starts_with("the distance is zero"));
    assert!(refused.error_at("/for/0").starts_with("neither an episode nor a project"));
    let refused = owner.is_refused(409, "/v1/trips", trip("2031-01-01", "10"));
    assert!(refused.error_at("/date").starts_with("the books' tax profile has no standard rate for 2031"));
    assert_eq!(world.rows_written(), before);
    assert_eq!(world.nobody().get("/v1/trips").status, 401);
    let abroad = World::keeping(&Kept { currency: "EUR", ..Kept::usual() });
    let refused = abroad.owner().is_refused(409, "/v1/trips", trip("2025-04-01", "10"));
    assert!(refused.error_at("/date").starts_with("the standard rate is in USD"));
}

// Pub. 463 ch. 4, from memory.
#[test]
fn fuel_for_the_van_and_the_standard_rate_do_not_go_together_in_one_year_whichever_came_first() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let fuel = |date: &str, vehicle: Value| {
        let mut line = json!({ "text": "fuel", "amount": "40.00",
                               "treatments": [{ "as": "expense", "class": "vehicle" }] });
        line["vehicle"] = vehicle;
        json!({ "date": date, "paid_from": bank, "total": "40.00", "lines": [line] })
    };
    let bought = owner.records("/v1/purchases", fuel("2025-02-01", json!("Green van")));
    let before = world.rows_written();
    let refused = owner.is_refused(409, "/v1/trips", trip("2025-04-01", "10"));
    assert!(refused.error_at("/vehicle").starts_with("actual costs of 'green van' are recorded in 2025"));
    assert_eq!(world.rows_written(), before);
    owner.records("/v1/trips", trip("2024-04-01", "10"));
    let path = format!("/v1/records/{}/reversal", bought["id"].as_str().unwrap());
    owner.records(&path, json!({ "reason": "the year goes by the rate" }));
    owner.records("/v1/trips", trip("2025-04-01", "10"));
    let refused = owner.is_refused(422, "/v1/purchases", fuel("2025-05-01", json!("Green van ")));
    assert!(refused.error_at("/lines/0/vehicle").contains("has trips at the standard rate in 2025"));
    // An invoice counts in the year it is paid.
    let mut invoice = fuel("2026-12-20", json!("green van"));
    invoice["payment"] = json!("later");
    invoice.as_object_mut().unwrap().remove("paid_from");
    owner.records("/v1/purchases", invoice);
    owner.records("/v1/trips", trip("2026-12-21", "10"));
}
