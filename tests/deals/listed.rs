//! The list of deals: every one of them once, however it came.

use serde_json::{Value, json};

use super::{People, people};
use crate::world::World;

fn titles(page: &Value) -> Vec<String> {
    let items = page["items"].as_array().unwrap();
    let open = |one: &Value| {
        format!(
            "{} of {} {}",
            one["open"].as_str().unwrap(),
            one["agreed"].as_str().unwrap(),
            one["currency"].as_str().unwrap()
        )
    };
    items.iter().map(|one| format!("{}: {}", one["title"].as_str().unwrap(), open(one))).collect()
}

/// A series from before the books, a shelf for 1,200.00 and an oil for 1,000.00 euros; one taken back, and one of
/// somebody else.
fn three_deals(world: &World) -> (People, [String; 2]) {
    let people = people(world);
    let owner = &people.owner;
    let oil = json!({ "date": "2025-12-01", "sponsor": people.sponsor, "title": "Floor oil", "amount": "1000.00",
                      "currency": "EUR", "for": [{ "episode": people.episodes[1] }] });
    let oil = owner.makes("/v1/deals", oil);
    let shelf = owner.makes("/v1/deals", people.agreed());
    let other = owner.has_party("Hollin Tools", "sponsor");
    owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "deal",
                "deal": { "sponsor": other, "title": "spring series", "agreed_on": "2022-11-02",
                          "amount": "1500.00", "paid_before": "600.00" } }),
    );
    let never = json!({ "date": "2025-11-20", "sponsor": other, "title": "Never", "amount": "5.00" });
    let never = owner.makes("/v1/deals", never);
    owner.records(&format!("/v1/records/{never}/reversal"), json!({ "reason": "it was never agreed" }));
    let stranger = world.stranger();
    let theirs = stranger.has_party("Hollin Tools", "sponsor");
    let deal = json!({ "date": "2025-11-20", "sponsor": theirs, "title": "Theirs", "amount": "5.00" });
    stranger.records("/v1/deals", deal);
    (people, [shelf, oil])
}

const ALL: [&str; 3] = [
    "spring series: 900.00 of 1500.00 USD",
    "Bracket shelf: 1200.00 of 1200.00 USD",
    "Floor oil: 1000.00 of 1000.00 EUR",
];

// Common practice, no source.
#[test]
fn every_deal_is_listed_once_with_what_is_open_and_what_was_taken_back_or_is_anothers_is_not() {
    let world = World::open();
    let (people, [shelf, _]) = three_deals(&world);
    let owner = &people.owner;
    let list = owner.reads("/v1/deals");
    assert_eq!((titles(&list), list.get("next")), (ALL.map(str::to_owned).to_vec(), None));
    assert_eq!(
        list["items"][1],
        json!({ "id": shelf, "record": shelf, "title": "Bracket shelf", "sponsor": people.sponsor,
                "agency": people.agency, "agreed_on": "2025-11-03", "currency": "USD", "agreed": "1200.00",
                "open": "1200.00", "standing": format!("/v1/deals/{shelf}/standing") })
    );
    let sum = |sum: &str| json!({ "date": "2025-12-20", "gross": sum, "net": sum, "paid_into": people.bank });
    let first = owner.makes(&format!("/v1/deals/{shelf}/instalments"), sum("300.00"));
    owner.records(&format!("/v1/deals/{shelf}/instalments"), sum("500.00"));
    let back = json!({ "date": "2026-02-01", "amount": "80.00", "paid_from": people.bank });
    let back = owner.makes(&format!("/v1/deals/{shelf}/clawbacks"), back);
    let list = owner.reads("/v1/deals");
    assert_eq!(list["items"][1]["open"], "480.00");
    for one in list["items"].as_array().unwrap() {
        let shown = owner.reads(one["standing"].as_str().unwrap());
        assert_eq!(
            (&shown["id"], &shown["open"], &shown["record"]),
            (&one["id"], &one["open"], &one["record"])
        );
    }
    for record in [back, first] {
        owner.records(&format!("/v1/records/{record}/reversal"), json!({ "reason": "another deal's" }));
    }
    assert_eq!(owner.reads("/v1/deals")["items"][1]["open"], "700.00");
    // Records of deals are a list of their own, instalments among them.
    assert_eq!(owner.reads("/v1/deals/records?stream=sponsorship")["items"].as_array().unwrap().len(), 6);
    assert_eq!(world.nobody().get("/v1/deals").status, 401);
}

#[test]
fn deals_are_found_by_days_by_what_they_count_for_and_by_sponsor_or_agency_page_by_page() {
    let world = World::open();
    let (people, _) = three_deals(&world);
    let owner = &people.owner;
    let found = |query: &str| titles(&owner.reads(&format!("/v1/deals?{query}")));
    assert_eq!(found("from=2025-11-03&to=2025-11-30"), ALL[1..2]);
    assert_eq!(found(&format!("episode={}", people.episodes[1])), ALL[1..]);
    assert_eq!(found(&format!("party={}", people.sponsor)), ALL[1..]);
    assert_eq!(found(&format!("party={}", people.agency)), ALL[1..2]);
    let first = owner.reads("/v1/deals?limit=1");
    let second = owner.reads(first["next"].as_str().unwrap());
    let third = owner.reads(second["next"].as_str().unwrap());
    assert_eq!([titles(&first), titles(&second), titles(&third)].concat(), ALL);
    assert_eq!(third.get("next"), None);
    for query in ["cursor=yesterday", "limit=0", "limit=201", "stream=sponsorship"] {
        assert_eq!(owner.get(&format!("/v1/deals?{query}")).status, 400, "{query}");
    }
}
