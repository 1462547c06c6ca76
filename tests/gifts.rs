//! Gifts: what brought the goods, what they are worth, and what became of them.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Caller, World, postings};

struct People {
    owner: Caller,
    brand: String,
    episode: String,
}

fn people(world: &World) -> People {
    let owner = world.owner();
    let project = owner.has_project("The reading room");
    People {
        brand: owner.has_party("Quillon Tools", "sponsor"),
        episode: owner.has_episode(&project, "Shelves"),
        owner,
    }
}

impl People {
    fn goods(&self, more: Value) -> Value {
        let mut body = json!({ "date": "2025-07-01", "party": self.brand, "what": "a box of wood stain",
            "relation": "promotion", "for": [{ "episode": self.episode }] });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        body
    }

    fn came(&self, more: Value) -> Value {
        self.owner.records("/v1/gifts", self.goods(more))
    }

    fn standing(&self, gift: &str) -> Value {
        self.owner.reads(&format!("/v1/gifts/{gift}/standing"))
    }
}

fn id(recorded: &Value) -> String {
    recorded["id"].as_str().unwrap().to_owned()
}

fn sander() -> Value {
    json!({ "what": "belt sander", "value": "300.00", "evidence": "the shop price that day",
            "fate": "kept_for_business", "kept_as": "tool",
            "tool": { "name": "belt sander", "method": "equal_share" } })
}

/// Pub. 525, Bartering: income at the value agreed on, when received (seen). Basis at that value: Pub. 551 (seen).
#[test]
fn a_tool_of_agreed_value_300_received_for_one_episode_is_300_of_income_that_day() {
    let world = World::open();
    let people = people(&world);
    let mut body = sander();
    body["date"] = json!("2026-02-03");
    let before = world.rows_written();
    assert_eq!(people.owner.post("/v1/gifts?dry_run=true", &people.goods(body.clone())).status, 200);
    assert_eq!(world.rows_written(), before);
    let came = people.came(body);
    assert_eq!(came["entries"][0]["date"], "2026-02-03");
    assert_eq!(
        postings(&came["entries"][0]),
        ["tools_at_cost 300.00", "goods_for_promotion -300.00 goods_for_promotion"]
    );
    assert_eq!(came["entries"][0]["postings"][1]["tax_year"], 2026);
    // Income in kind of the episode; the tool's cost follows its uses.
    assert_eq!(came["attributions"].as_array().unwrap().len(), 1);
    let given = &came["attributions"][0];
    assert_eq!((&given["episode"], &given["amount"]), (&json!(people.episode), &json!("300.00")));
    let read = people.owner.reads(&format!("/v1/gifts/{}", id(&came)));
    assert_eq!(read["attributions"][0]["side"], "in_kind");
}

/// The first half of a gifted tool's life; derived from Pub. 525 and Pub. 551 (seen).
#[test]
fn a_sander_worth_300_kept_in_july_2025_is_income_of_2025_and_a_tool_of_that_basis() {
    let world = World::open();
    let people = people(&world);
    let came = people.came(sander());
    assert_eq!(
        came["entries"][0]["postings"][1],
        json!({ "account": "goods_for_promotion", "amount": "-300.00", "class": "goods_for_promotion",
                "tax_year": 2025 })
    );
    let tool = came["things"].as_array().unwrap().iter().find(|thing| thing["what"] == "tools").unwrap();
    let tool = tool["id"].as_str().unwrap();
    assert_eq!(
        world.count(&format!(
            "SELECT count(*) FROM tools WHERE id = '{tool}' AND cost = 300 AND origin = 'for_promotion'"
        )),
        1
    );
    let standing = people.standing(&id(&came));
    assert_eq!((&standing["became"], &standing["fate"]), (&json!("tool"), &json!("kept_for_business")));
    assert_eq!(standing["income_entry"], came["entries"][0]["number"]);
    let back = json!({ "date": "2025-08-01", "fate": "returned" });
    let refused = people.owner.is_refused(409, &format!("/v1/gifts/{}/fate", id(&came)), back);
    assert!(refused.error_at("/fate").contains("taken in as a tool"));
}

#[test]
fn goods_post_nothing_until_their_value_and_fate_are_known_and_then_on_the_day_they_came() {
    let world = World::open();
    let people = people(&world);
    let came = people.came(json!({}));
    assert_eq!((&came["entries"], &came["attributions"]), (&json!([]), &json!([])));
    let gift = id(&came);
    let fate = format!("/v1/gifts/{gift}/fate");
    // The fate without the value: still nothing, and a question that stays open.
    let kept = json!({ "date": "2025-08-01", "fate": "kept_for_business", "kept_as": "supplies" });
    let decided = people.owner.records(&fate, kept);
    assert_eq!(decided["entries"], json!([]));
    assert!(decided["notes"].to_string().contains("the goods are not valued"));
    let valued = people.owner.records(
        &fate,
        json!({ "date": "2025-09-01", "fate": "kept_for_business", "kept_as": "supplies", "value": "80.00" }),
    );
    assert_eq!(valued["entries"][0]["date"], "2025-07-01");
    assert_eq!(
        postings(&valued["entries"][0]),
        ["expense:supplies 80.00 supplies", "goods_for_promotion -80.00 goods_for_promotion"]
    );
    // Named with the goods, taken over by both decisions: income in kind and a cost of the episode.
    let given: Vec<_> = valued["attributions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["episode"].as_str().unwrap(), one["amount"].as_str().unwrap()))
        .collect();
    assert_eq!(given, [(people.episode.as_str(), "80.00"); 2]);
    let standing = people.standing(&gift);
    assert_eq!((&standing["value"], &standing["decided"]), (&json!("80.00"), &valued["id"]));
    // The decisions hold the goods fast, and the last one the one before.
    let reason = json!({ "reason": "wrong box" });
    people.owner.is_refused(409, &format!("/v1/records/{gift}/reversal"), reason.clone());
    people.owner.is_refused(409, &format!("/v1/records/{}/reversal", id(&decided)), reason.clone());
    people.owner.records(&format!("/v1/records/{}/reversal", id(&valued)), reason);
    let standing = people.standing(&gift);
    assert_eq!((standing.get("value"), standing.get("income_entry")), (None, None));
    assert_eq!(standing["decided"], decided["id"]);
}

#[test]
fn income_of_a_closed_year_is_posted_on_the_day_of_the_decision_and_stays_that_years() {
    let world = World::open();
    let people = people(&world);
    let gift = id(&people.came(json!({ "value": "80.00" })));
    people.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let decided = people.owner.records(
        &format!("/v1/gifts/{gift}/fate"),
        json!({ "date": "2026-02-01", "fate": "kept_personally" }),
    );
    let entry = &decided["entries"][0];
    assert_eq!(
        postings(entry),
        ["draw:personal_items 80.00 personal", "goods_for_promotion -80.00 goods_for_promotion"]
    );
    assert_eq!((&entry["date"], &entry["postings"][1]["tax_year"]), (&json!("2026-02-01"), &json!(2025)));
    assert!(decided["notes"].to_string().contains("belongs to the tax year 2025"));
}

/// Common practice, no source: goods that go back in the year they came are no income.
#[test]
fn what_goes_back_in_the_same_year_is_taken_out_of_income_and_of_its_episode() {
    let world = World::open();
    let people = people(&world);
    let came = people.came(json!({ "value": "80.00", "fate": "kept_for_business", "kept_as": "supplies" }));
    let gift = id(&came);
    let fate = format!("/v1/gifts/{gift}/fate");
    let before = world.rows_written();
    let late = json!({ "date": "2026-01-10", "fate": "returned" });
    let late = people.owner.is_refused(409, &fate, late);
    assert!(late.error_at("/fate").contains("ask the preparer"));
    assert_eq!(world.rows_written(), before);
    let returned = people.owner.records(&fate, json!({ "date": "2025-10-10", "fate": "returned" }));
    assert_eq!(
        postings(&returned["entries"][0]),
        ["expense:supplies -80.00 supplies", "goods_for_promotion 80.00 goods_for_promotion"]
    );
    // What took them in was right and stands: the return is an entry of its own.
    assert_eq!(returned["entries"][0].get("reverses"), None);
    assert_eq!(world.count("SELECT count(*) FROM attributions"), 4);
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM attributions"), 0);
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM movements"), 0);
    assert_eq!(people.standing(&gift).get("income_entry"), None);
    let again = json!({ "date": "2025-11-10", "fate": "given_away" });
    let again = people.owner.is_refused(409, &fate, again);
    assert!(again.error_at("/fate").contains("the goods were returned on 2025-10-10"));
    // Once the return is taken back, they are kept as before.
    let reason = json!({ "reason": "it never arrived there" });
    people.owner.records(&format!("/v1/records/{}/reversal", id(&returned)), reason);
    assert_eq!(people.standing(&gift)["income_entry"], came["entries"][0]["number"]);
}

/// A loan and a private present are no income (from memory); goods given away to viewers are advertising (common
/// practice, no source).
#[test]
fn what_brought_the_goods_and_what_became_of_them_decides_what_they_are() {
    let world = World::open();
    let people = people(&world);
    let loan = people.came(json!({ "relation": "loan", "value": "900.00", "fate": "kept_for_business",
        "kept_as": "tool", "tool": { "name": "planer", "method": "equal_share" } }));
    assert_eq!(loan["entries"], json!([]));
    assert_eq!(world.count("SELECT count(*) FROM tools WHERE cost = 0 AND origin = 'loan'"), 1);
    let present = people.came(json!({ "relation": "personal_gift", "value": "50.00",
        "fate": "kept_personally" }));
    assert_eq!(present["entries"], json!([]));
    let unasked = people.came(json!({ "relation": "unsolicited_brand_goods", "value": "25.00",
        "fate": "given_away" }));
    assert_eq!(
        postings(&unasked["entries"][0]),
        ["expense:advertising 25.00 advertising", "goods_for_promotion -25.00 goods_for_promotion"]
    );
    assert!(unasked["notes"].to_string().contains("sent these unasked"));
    let piece = people.came(json!({ "what": "oak sideboard", "value": "140.00", "fate": "kept_for_business",
        "kept_as": "piece", "piece_purpose": "resale" }));
    assert_eq!(postings(&piece["entries"][0])[0], "pieces_for_resale 140.00 resale_purchases");
    // A loan that need not go back is income of the day it is kept.
    let borrowed = id(&people.came(json!({ "relation": "loan" })));
    let kept = people.owner.records(
        &format!("/v1/gifts/{borrowed}/fate"),
        json!({ "date": "2025-11-05", "fate": "kept_personally", "value": "60.00" }),
    );
    assert_eq!(
        (&kept["entries"][0]["date"], kept["entries"].as_array().unwrap().len()),
        (&json!("2025-11-05"), 1)
    );
}

#[test]
fn goods_of_a_deal_come_from_its_sponsor_and_hold_the_deal_fast() {
    let world = World::open();
    let people = people(&world);
    let other = people.owner.has_party("Wren Adhesives", "sponsor");
    let deal = people.owner.makes(
        "/v1/deals",
        json!({ "date": "2025-06-01", "sponsor": people.brand, "title": "Stain series", "amount": "100.00" }),
    );
    let before = world.rows_written();
    let wrong = people.goods(json!({ "party": other, "deal": deal, "fate": "kept_for_business",
                                     "piece_purpose": "resale" }));
    let wrong = people.owner.is_refused(422, "/v1/gifts", wrong);
    assert!(wrong.error_at("/deal").contains("neither the sponsor nor the agency"));
    assert!(wrong.error_at("/kept_as").contains("nothing says as what"));
    assert_eq!(world.rows_written(), before);
    let gift = id(&people.came(json!({ "deal": deal, "value": "30.00" })));
    assert_eq!(people.standing(&gift)["deal"], json!(deal));
    let reversal = format!("/v1/records/{deal}/reversal");
    let refused = people.owner.is_refused(409, &reversal, json!({ "reason": "never agreed" }));
    assert!(refused.error_at("").contains("received: a box of wood stain"));
}

#[test]
fn a_stranger_neither_sees_goods_nor_decides_about_them() {
    let world = World::open();
    let people = people(&world);
    let gift = id(&people.came(json!({ "value": "80.00" })));
    let stranger = world.stranger();
    let before = world.rows_written();
    assert_eq!(stranger.get(&format!("/v1/gifts/{gift}")).status, 404);
    assert_eq!(stranger.get(&format!("/v1/gifts/{gift}/standing")).status, 404);
    let fate = json!({ "date": "2025-08-01", "fate": "kept_personally" });
    stranger.is_refused(404, &format!("/v1/gifts/{gift}/fate"), fate);
    stranger.is_refused(422, "/v1/gifts", people.goods(json!({}))).error_at("/party");
    assert_eq!(world.nobody().get("/v1/gifts").status, 401);
    assert_eq!(world.rows_written(), before);
}
