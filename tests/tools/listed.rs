//! The list of tools: every one of them once, however it came.

use serde_json::{Value, json};

use super::{Workshop, by_hour};

/// Names with states, as a list shows them.
fn names(page: &Value) -> Vec<String> {
    let items = page["items"].as_array().unwrap();
    items
        .iter()
        .map(|one| format!("{}: {}", one["name"].as_str().unwrap(), one["state"].as_str().unwrap()))
        .collect()
}

/// A band saw from before the books, a nailer of a receipt, a camera for promotion and a table saw of its own
/// record; a sander that was taken back, and somebody else's drill.
struct Rack {
    workshop: Workshop,
    nailer: String,
    receipt: String,
    giver: String,
}

fn rack() -> Rack {
    let workshop = Workshop::open();
    let owner = &workshop.owner;
    workshop.buys_saw(by_hour());
    let giver = owner.has_party("Brandywell Cameras", "sponsor");
    owner.records(
        "/v1/gifts",
        json!({ "date": "2025-02-20", "party": giver, "what": "a camera", "relation": "promotion",
                "value": "480.00", "fate": "kept_for_business", "kept_as": "tool",
                "tool": { "name": "camera", "method": "equal_share", "class": "5" } }),
    );
    let bought = owner.records(
        "/v1/purchases",
        json!({ "date": "2025-02-10", "paid_from": workshop.bank, "total": "120.00",
                "lines": [{ "text": "nailer", "amount": "100.00",
                            "tool": { "name": "nailer", "method": "equal_share" } },
                          { "text": "nails", "amount": "20.00",
                            "treatments": [{ "as": "expense", "class": "supplies" }] }] }),
    );
    owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "tool", "tool": {
            "terms": { "name": "band saw", "method": "equal_share" },
            "acquired_on": "2021-05-10", "cost": "600.00" } }),
    );
    let sander = owner.records(
        "/v1/tools",
        json!({ "name": "sander", "date": "2025-02-15", "origin": "bought", "cost": "80.00",
                "paid_from": workshop.bank, "method": "expense_now" }),
    );
    workshop.takes_back(&sander, "refuse");
    workshop.world.stranger().records(
        "/v1/tools",
        json!({ "name": "drill", "date": "2025-02-01", "origin": "loan", "method": "expense_now" }),
    );
    let of = |answer: &Value, field: &str| answer[field].as_str().unwrap().to_owned();
    Rack { nailer: of(&bought["things"][0], "id"), receipt: of(&bought, "id"), giver, workshop }
}

const ALL: [&str; 4] = ["band saw: in_use", "nailer: in_use", "camera: in_use", "table saw: in_use"];

// Common practice, no source.
#[test]
fn every_tool_is_listed_once_however_it_came_and_what_was_taken_back_or_is_anothers_is_not() {
    let rack = rack();
    let owner = &rack.workshop.owner;
    let list = owner.reads("/v1/tools");
    assert_eq!(names(&list), ALL);
    assert_eq!(list.get("next"), None);
    let standing = format!("/v1/tools/{}/standing", rack.nailer);
    assert_eq!(
        list["items"][1],
        json!({ "id": rack.nailer, "record": rack.receipt, "name": "nailer", "origin": "bought",
                "acquired_on": "2025-02-10", "in_service_on": "2025-02-10", "cost": "100.00", "state": "in_use",
                "standing": standing })
    );
    for one in list["items"].as_array().unwrap() {
        let shown = owner.reads(one["standing"].as_str().unwrap());
        assert_eq!(
            (&shown["id"], &shown["cost"], &shown["record"]),
            (&one["id"], &one["cost"], &one["record"])
        );
    }
    let gone = json!({ "date": "2025-06-01", "kind": "scrapped" });
    let scrapped = owner.records(&format!("/v1/tools/{}/disposal", rack.nailer), gone);
    let nailer = &owner.reads("/v1/tools")["items"][1];
    assert_eq!((&nailer["state"], &nailer["disposed_on"]), (&json!("disposed"), &json!("2025-06-01")));
    rack.workshop.takes_back(&scrapped, "refuse");
    assert_eq!(owner.reads("/v1/tools")["items"][1].get("disposed_on"), None);
    // Records of tools are a list of their own: the table saw's, the sander's, the scrapping.
    let kinds: Vec<_> = owner.reads("/v1/tools/records")["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["kind"].clone())
        .collect();
    assert_eq!(kinds, ["tool", "tool", "disposal"]);
    assert_eq!(rack.workshop.world.nobody().get("/v1/tools").status, 401);
}

#[test]
fn tools_are_found_by_days_by_the_episode_that_used_them_and_by_where_they_came_from_or_went() {
    let rack = rack();
    let (workshop, owner) = (&rack.workshop, &rack.workshop.owner);
    let found = |query: &str| names(&owner.reads(&format!("/v1/tools?{query}")));
    assert_eq!(found("from=2025-02-10&to=2025-02-20"), ALL[1..3]);
    let uses = workshop.logs(&rack.nailer, &[("2025-03-02", 1, "")]);
    let episode = format!("episode={}", workshop.episodes[1]);
    assert_eq!(found(&episode), ALL[1..2]);
    workshop.takes_back(&uses, "refuse");
    assert_eq!(found(&episode), Vec::<String>::new());
    assert_eq!(found(&format!("party={}", rack.giver)), ALL[2..3]);
    let buyer = owner.has_party("Osric Venn", "buyer");
    let sale = json!({ "date": "2025-06-01", "kind": "sold", "proceeds": "70.00", "paid_into": workshop.bank,
                       "party": buyer });
    owner.records(&format!("/v1/tools/{}/disposal", rack.nailer), sale);
    assert_eq!(found(&format!("party={buyer}")), ["nailer: disposed"]);
}

#[test]
fn the_list_of_tools_is_followed_page_by_page_and_a_cursor_that_is_none_is_refused() {
    let rack = rack();
    let owner = &rack.workshop.owner;
    let first = owner.get("/v1/tools?limit=3&from=2020-01-01");
    let next = first.json()["next"].as_str().unwrap().to_owned();
    assert_eq!(first.header("link"), Some(format!("<{next}>; rel=\"next\"").as_str()));
    assert!(next.starts_with("/v1/tools?cursor=") && next.ends_with("&from=2020-01-01&limit=3"), "{next}");
    assert_eq!(names(&first.json()), ALL[..3]);
    let last = owner.reads(&next);
    assert_eq!((names(&last).as_slice(), last.get("next")), (&[ALL[3].to_owned()][..], None));
    for query in ["cursor=yesterday", "limit=0", "limit=201", "stream=sponsorship", "episode=first"] {
        assert_eq!(owner.get(&format!("/v1/tools?{query}")).status, 400, "{query}");
    }
    let said = owner.get("/v1/tools?cursor=yesterday").json();
    assert!(said["detail"].as_str().unwrap().contains("follow the next link"), "{said}");
}
