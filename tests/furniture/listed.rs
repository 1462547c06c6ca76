//! The list of pieces: every one of them once, however it came.

use serde_json::{Value, json};

use super::Shop;

/// Names with states, as a list shows them.
fn names(page: &Value) -> Vec<String> {
    let items = page["items"].as_array().unwrap();
    items
        .iter()
        .map(|one| format!("{}: {}", one["name"].as_str().unwrap(), one["state"].as_str().unwrap()))
        .collect()
}

/// A chair from before the books, a wardrobe of a receipt, a lamp stand for promotion, a dresser of its own record
/// and a stool sold in one call; a bench that was taken back, and somebody else's shelf.
struct Store {
    shop: Shop,
    dresser: String,
    wardrobe: [String; 2],
    giver: String,
}

fn store() -> Store {
    let shop = Shop::open();
    let owner = &shop.owner;
    let dresser = shop.buys_a_dresser();
    let giver = owner.has_party("Lanthorn & Daughters", "sponsor");
    owner.records(
        "/v1/gifts",
        json!({ "date": "2025-05-20", "party": giver, "what": "a lamp stand", "relation": "promotion",
                "value": "90.00", "fate": "kept_for_business", "kept_as": "piece", "piece_purpose": "set",
                "piece_name": "lamp stand", "for": [{ "episode": shop.episode }] }),
    );
    let bought = owner.records(
        "/v1/purchases",
        json!({ "date": "2025-04-10", "paid_from": shop.bank, "total": "60.00",
                "lines": [{ "text": "wardrobe", "amount": "60.00",
                            "new_piece": { "name": "wardrobe", "purpose": "resale" } }] }),
    );
    owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "piece",
                "piece": { "name": "grandmother's chair", "purpose": "personal" } }),
    );
    let stool = json!({ "name": "stool", "date": "2025-06-15", "gross": "18.00", "paid_into": shop.bank,
                        "episode": shop.episode });
    owner.records("/v1/furniture/sale", stool.clone());
    let bench = json!({ "name": "bench", "date": "2025-06-01", "origin": "found", "purpose": "set" });
    let bench = owner.makes("/v1/furniture", bench);
    owner.records(&format!("/v1/records/{bench}/reversal"), json!({ "reason": "it was fetched again" }));
    let stranger = shop.world.stranger();
    let shelf = json!({ "name": "shelf", "date": "2025-06-01", "origin": "found", "purpose": "set" });
    stranger.records("/v1/furniture", shelf);
    let id = |of: &Value| of["id"].as_str().unwrap().to_owned();
    Store { dresser, wardrobe: [id(&bought["things"][0]), id(&bought)], giver, shop }
}

const ALL: [&str; 5] =
    ["grandmother's chair: held", "wardrobe: held", "lamp stand: held", "stool: sold", "oak dresser: held"];

// Common practice, no source.
#[test]
fn every_piece_is_listed_once_however_it_came_and_what_was_taken_back_or_is_anothers_is_not() {
    let store = store();
    let owner = &store.shop.owner;
    let list = owner.reads("/v1/furniture");
    assert_eq!(names(&list), ALL);
    assert_eq!((list.get("next"), &list["items"][0]["basis"]), (None, &Value::Null));
    let [wardrobe, receipt] = &store.wardrobe;
    assert_eq!(
        list["items"][1],
        json!({ "id": wardrobe, "record": receipt, "name": "wardrobe", "origin": "bought", "purpose": "resale",
                "acquired_on": "2025-04-10", "basis": "60.00", "cost": "60.00", "state": "held",
                "standing": format!("/v1/furniture/{wardrobe}/standing") })
    );
    store.shop.strips(&store.dresser);
    let sale = store.shop.sale("2026-03-02", "390.00");
    let sold = owner.makes(&format!("/v1/furniture/{}/sale", store.dresser), sale);
    let list = owner.reads("/v1/furniture");
    let dresser = &list["items"][4];
    assert_eq!((&dresser["basis"], &dresser["cost"]), (&json!("80.00"), &json!("125.00")));
    assert_eq!((&dresser["state"], &dresser["sold_on"]), (&json!("sold"), &json!("2026-03-02")));
    for one in list["items"].as_array().unwrap() {
        let shown = owner.reads(one["standing"].as_str().unwrap());
        assert_eq!(
            (&shown["id"], &shown["cost"], &shown["record"]),
            (&one["id"], &one["cost"], &one["record"])
        );
        assert_eq!((&shown["basis"], &shown["sale"]["date"]), (&one["basis"], &one["sold_on"]));
    }
    owner.records(&format!("/v1/records/{sold}/reversal"), json!({ "reason": "the buyer did not come" }));
    assert_eq!(names(&owner.reads("/v1/furniture")), ALL);
    assert_eq!(store.shop.world.nobody().get("/v1/furniture").status, 401);
}

#[test]
fn pieces_are_found_by_days_by_the_episode_they_came_or_were_sold_for_and_by_where_they_came_from_or_went() {
    let store = store();
    let (shop, owner) = (&store.shop, &store.shop.owner);
    let found = |query: &str| names(&owner.reads(&format!("/v1/furniture?{query}")));
    assert_eq!(found("from=2025-04-10&to=2025-05-20"), ALL[1..3]);
    assert_eq!(found(&format!("episode={}", shop.episode)), ALL[2..]);
    let buyer = owner.has_party("Osric Venn", "buyer");
    let other = owner.has_episode(&owner.has_project("The landing"), "A wardrobe for the landing");
    let mut sale = shop.sale("2025-07-02", "150.00");
    (sale["party"], sale["episode"]) = (json!(buyer), json!(other));
    owner.records(&format!("/v1/furniture/{}/sale", store.wardrobe[0]), sale);
    assert_eq!(found(&format!("episode={other}")), ["wardrobe: sold"]);
    assert_eq!(found(&format!("party={buyer}")), ["wardrobe: sold"]);
    assert_eq!(found(&format!("party={}", store.giver)), ALL[2..3]);
}

#[test]
fn the_list_of_pieces_is_followed_page_by_page_and_a_cursor_that_is_none_is_refused() {
    let store = store();
    let owner = &store.shop.owner;
    let (mut path, mut seen) = ("/v1/furniture?limit=2".to_owned(), Vec::new());
    loop {
        let page = owner.reads(&path);
        seen.extend(names(&page));
        let Some(next) = page["next"].as_str() else { break };
        path = next.to_owned();
    }
    assert_eq!(seen, ALL);
    for query in ["cursor=yesterday", "limit=0", "limit=201", "stream=furniture", "party=anybody"] {
        assert_eq!(owner.get(&format!("/v1/furniture?{query}")).status, 400, "{query}");
    }
}
