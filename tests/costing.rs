//! Statements and the roll-forward through the door, as JSON, as CSV and as text.
#![cfg(test)]

mod reckonings;
mod years;

use serde_json::{Value, json};

use crate::world::{Caller, World};

/// A reading room with an episode that cost and earned something of everything.
struct Room {
    world: World,
    owner: Caller,
    bank: String,
    project: String,
    shelves: String,
    lamp: String,
}

impl Room {
    fn open() -> Self {
        let world = World::open();
        let owner = world.owner();
        let bank = owner.has_account("bank");
        let project = owner.has_project("The reading room");
        let (shelves, lamp) =
            (owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "The lamp"));
        Self { world, owner, bank, project, shelves, lamp }
    }

    fn buys(&self, date: &str, amount: &str, whom: Value) -> Value {
        let line = json!({ "text": "primer", "amount": amount, "for": whom,
                           "treatments": [{ "as": "expense", "class": "supplies" }] });
        let receipt = json!({ "date": date, "paid_from": self.bank, "total": amount, "lines": [line] });
        self.owner.records("/v1/purchases", receipt)
    }

    /// Paint 21.60, a helper 50.00, ten miles, a platform's 200.00 less 20.00, the old dresser for 180.00.
    fn makes_shelves(&self) {
        let episode = json!([{ "episode": self.shelves }]);
        self.buys("2025-03-02", "21.60", episode.clone());
        let helper = json!({ "date": "2025-03-03", "person": "Mira", "standing": "paid", "hours": "2",
                             "paid": "50.00", "paid_from": self.bank, "episode": self.shelves });
        self.owner.records("/v1/labour", helper);
        let own = json!({ "date": "2025-03-04", "person": "me", "standing": "own", "hours": "4",
                          "episode": self.shelves });
        self.owner.records("/v1/labour", own);
        let trip = json!({ "date": "2025-03-05", "distance": "10", "unit": "mile", "purpose": "timber",
                           "vehicle": "the van", "for": episode });
        self.owner.records("/v1/trips", trip);
        let platform = self.owner.has_party("Tarnhill Pictures", "platform");
        let payout = json!({ "date": "2025-04-20", "platform": platform, "paid_into": self.bank, "for": episode,
                             "lines": [{ "stream": "advertising", "gross": "200.00" }],
                             "fees": "20.00", "net": "180.00" });
        self.owner.records("/v1/payouts", payout);
        let sale = json!({ "name": "the old dresser", "date": "2025-05-01", "gross": "180.00",
                           "paid_into": self.bank, "episode": self.shelves, "origin": "already_owned",
                           "basis": "400.00" });
        self.owner.records("/v1/furniture/sale", sale);
        let line = json!({ "category": "materials", "amount": "20.00", "episode": self.shelves });
        let budget = json!({ "date": "2025-02-01", "budget": [line] });
        self.owner.records(&format!("/v1/projects/{}/budget", self.project), budget);
    }

    fn statement(&self) -> String {
        format!("/v1/episodes/{}/statement", self.shelves)
    }
}

/// Derived by hand: 21.60 + 50.00 + 10 x 0.70 (standard rate of 2025, Notice 2025-5, from memory) = 78.60; less
/// 180.00 recovered = -101.40; 200.00 - 20.00 + 101.40 = 281.40; over 4 hours 70.35.
#[test]
fn an_episode_states_its_costs_recoveries_income_and_what_an_own_hour_earned() {
    let room = Room::open();
    room.makes_shelves();
    let link = |category: &str| format!("/v1/attributions?episode={}&category={category}", room.shelves);
    assert_eq!(
        room.owner.reads(&room.statement()),
        json!({
            "episode": room.shelves, "currency": "USD", "from": null, "to": null,
            "costs": [
                { "category": "materials", "amount": "21.60", "attributions": link("materials") },
                { "category": "paid_labour", "amount": "50.00", "attributions": link("paid_labour") },
                { "category": "trips", "amount": "7.00", "attributions": link("trips") },
            ],
            "cost_total": "78.60",
            "recoveries": [{ "kind": "personal_piece_sold", "amount": "180.00" }],
            "recovered_total": "180.00", "net_cost": "-101.40",
            "income": [{ "stream": "advertising", "gross": "200.00", "in_kind": false }],
            "income_total": "200.00", "income_fees": "20.00", "result": "281.40",
            "own_hours": "4.00", "pay_per_hour": "70.35",
            "budget": [{ "category": "materials", "budget": "20.00", "actual": "21.60", "variance": "1.60" }],
            "reconciles": true,
        })
    );
}

#[test]
fn every_line_of_costs_leads_to_attributions_that_add_up_to_it() {
    let room = Room::open();
    room.makes_shelves();
    // An income whose stream is named as a category is no cost of that category.
    let platform = room.owner.has_party("Quillshort Clips", "platform");
    let other = json!({ "date": "2025-04-21", "platform": platform, "paid_into": room.bank,
                        "for": [{ "episode": room.shelves }], "lines": [{ "stream": "other", "gross": "9.00" }],
                        "net": "9.00" });
    room.owner.records("/v1/payouts", other);
    let rates = json!({ "date": "2025-04-22", "paid_from": room.bank, "total": "3.00",
                        "lines": [{ "text": "a parcel", "amount": "3.00", "for": [{ "episode": room.shelves }],
                                    "category": "other",
                                    "treatments": [{ "as": "expense", "class": "office" }] }] });
    room.owner.records("/v1/purchases", rates);
    let statement = room.owner.reads(&room.statement());
    let costs = statement["costs"].as_array().unwrap();
    assert_eq!(costs.len(), 4);
    for line in costs {
        let behind = room.owner.reads(line["attributions"].as_str().unwrap());
        let items = behind["items"].as_array().unwrap();
        assert_eq!(items.len(), 1, "{line}");
        assert_eq!((&items[0]["amount"], &items[0]["side"]), (&line["amount"], &json!("cost")));
        let record = room.owner.reads(items[0]["link"].as_str().unwrap());
        assert_eq!(record["id"], items[0]["record"]);
    }
}

#[test]
fn a_statement_of_some_days_counts_those_days_and_links_to_them() {
    let room = Room::open();
    room.makes_shelves();
    let march = room.owner.reads(&format!("{}?from=2025-03-03&to=2025-03-31", room.statement()));
    assert_eq!((&march["from"], &march["to"]), (&json!("2025-03-03"), &json!("2025-03-31")));
    assert_eq!((&march["cost_total"], &march["income_total"]), (&json!("57.00"), &json!("0.00")));
    let link = march["costs"][0]["attributions"].as_str().unwrap();
    assert!(link.ends_with("&category=paid_labour&from=2025-03-03&to=2025-03-31"), "{link}");
    assert_eq!(room.owner.reads(link)["items"].as_array().unwrap().len(), 1);
    let backward = room.owner.get(&format!("{}?from=2025-04-01&to=2025-03-31", room.statement()));
    assert_eq!(backward.status, 400);
    assert!(backward.text.contains("from=2025-04-01 lies after to=2025-03-31"), "{}", backward.text);
}

#[test]
fn the_same_books_give_the_same_bytes_in_every_format() {
    let room = Room::open();
    room.makes_shelves();
    let (project, viewers) =
        (format!("/v1/projects/{}/statement", room.project), room.statement() + "/viewers");
    for path in [room.statement(), project, viewers] {
        for (format, media) in [
            ("json", "application/json"),
            ("csv", "text/csv; charset=utf-8"),
            ("text", "text/plain; charset=utf-8"),
        ] {
            let once = room.owner.get(&format!("{path}?format={format}"));
            assert_eq!((once.status, once.header("content-type")), (200, Some(media)), "{}", once.text);
            assert_eq!(room.owner.get(&format!("{path}?format={format}")).text, once.text);
            let plain = media.split(';').next().unwrap();
            assert_eq!(room.owner.get_accepting(&path, plain).text, once.text, "{path} as {plain}");
        }
    }
}

#[test]
fn a_statement_is_kept_as_a_table_that_names_the_last_entry() {
    let room = Room::open();
    room.makes_shelves();
    let csv = room.owner.get(&format!("{}?format=csv", room.statement()));
    let name = format!("attachment; filename=\"episode-{}-statement.csv\"", room.shelves);
    assert_eq!(csv.header("content-disposition"), Some(name.as_str()));
    let lines: Vec<&str> = csv.text.split("\r\n").collect();
    assert_eq!(lines[0], "part,section,line,currency,amount,budget,variance,attributions");
    let materials = format!("{},costs,materials,USD,21.60,,,/v1/attributions?episode=", room.shelves);
    assert!(lines[1].starts_with(&materials), "{}", lines[1]);
    let books = room.owner.reads("/v1/books");
    let head = format!("entry {} {}", books["head_number"], books["head_hash"].as_str().unwrap());
    assert!(csv.text.contains(&head), "{}", csv.text);
    let text = room.owner.get(&format!("{}?format=text", room.statement())).text;
    assert!(text.starts_with("What 'Shelves' cost and earned\n"), "{text}");
    assert!(text.contains("Own hours: 4.00; 70.35 USD for each."), "{text}");
}

#[test]
fn a_format_that_is_not_offered_is_told_which_are() {
    let room = Room::open();
    let pdf = room.owner.get(&format!("{}?format=pdf", room.statement()));
    assert_eq!((pdf.status, pdf.header("content-type")), (406, Some("application/problem+json")));
    assert!(pdf.text.contains("json, csv, text"), "{}", pdf.text);
    assert_eq!(room.owner.get_accepting(&room.statement(), "image/png").status, 406);
    assert_eq!(room.owner.get_accepting("/v1/sources", "text/plain").status, 406);
    // A browser's list ends in anything.
    let browser = room.owner.get_accepting(&room.statement(), "text/html,application/xml;q=0.9,*/*;q=0.8");
    assert_eq!(browser.header("content-type"), Some("application/json"));
    let rather = room.owner.get_accepting(&room.statement(), "text/csv;q=0.4, text/plain");
    assert_eq!(rather.header("content-type"), Some("text/plain; charset=utf-8"));
    assert_eq!(room.owner.get(&format!("{}?colour=green", room.statement())).status, 400);
}

#[test]
fn viewers_see_what_the_room_cost_at_the_till_and_nothing_private() {
    let room = Room::open();
    room.makes_shelves();
    let seen = room.owner.reads(&format!("{}/viewers", room.statement()));
    assert_eq!(seen["costs"], json!([{ "category": "materials", "amount": "21.60" }]));
    assert_eq!(seen["total"], "21.60");
    let said = seen.to_string();
    for private in ["income", "hours", "labour", "180.00", "200.00", "50.00"] {
        assert!(!said.contains(private), "{private} in {said}");
    }
}

/// Derived: 78.60 of one episode, 10.00 of the other and 5.00 of the project's own.
#[test]
fn a_projects_statement_is_its_episodes_and_its_own_both_shown() {
    let room = Room::open();
    room.makes_shelves();
    room.buys("2025-03-06", "10.00", json!([{ "episode": room.lamp }]));
    room.buys("2025-03-07", "5.00", json!([{ "project": room.project }]));
    let stated = room.owner.reads(&format!("/v1/projects/{}/statement", room.project));
    let totals: Vec<&Value> =
        stated["episodes"].as_array().unwrap().iter().map(|one| &one["cost_total"]).collect();
    assert_eq!(totals, ["78.60", "10.00"]);
    assert_eq!(stated["episodes"][0], room.owner.reads(&room.statement()));
    assert_eq!(
        (&stated["own"]["cost_total"], &stated["total"]["cost_total"]),
        (&json!("5.00"), &json!("93.60"))
    );
    assert_eq!(
        (&stated["total"]["own_hours"], &stated["total"]["reconciles"]),
        (&json!("4.00"), &json!(true))
    );
    let own = room.owner.reads(stated["own"]["costs"][0]["attributions"].as_str().unwrap());
    assert_eq!(own["items"][0]["amount"], "5.00");
}

#[test]
fn own_hours_on_a_piece_are_hours_of_the_episode_it_was_got_for() {
    let room = Room::open();
    let bench = json!({ "name": "a bench", "date": "2025-03-01", "purpose": "set", "origin": "bought",
                        "basis": "40.00", "paid_from": room.bank, "episode": room.shelves });
    let bench = room.owner.makes("/v1/furniture", bench);
    let hours = |piece: Option<&String>| {
        let mut body = json!({ "date": "2025-03-04", "person": "me", "standing": "own", "hours": "1.5" });
        match piece {
            Some(piece) => body["piece"] = json!(piece),
            None => body["episode"] = json!(room.shelves),
        }
        room.owner.makes("/v1/labour", body)
    };
    hours(Some(&bench));
    let mistaken = hours(None);
    assert_eq!(room.owner.reads(&room.statement())["own_hours"], "3.00");
    let reason = json!({ "reason": "that was another day" });
    room.owner.records(&format!("/v1/records/{mistaken}/reversal"), reason);
    assert_eq!(room.owner.reads(&room.statement())["own_hours"], "1.50");
}

#[test]
fn every_source_rolls_forward_to_a_day_and_ties_to_the_journal() {
    let room = Room::open();
    room.makes_shelves();
    room.buys("2025-06-01", "100.00", json!([]));
    let may = room.owner.reads("/v1/sources?as_of=2025-05-31");
    let june = room.owner.reads("/v1/sources");
    let costs = |roll: &Value| {
        let totals = roll["totals"].as_array().unwrap();
        let of_costs = totals.iter().find(|one| one["side"] == "cost" && one["kind"].is_null()).unwrap();
        ["incurred", "attributed", "closing"].map(|sum| of_costs[sum].as_str().unwrap().to_owned())
    };
    // The old dresser's 400.00 were spent before the business; only the proceeds stand in the books.
    assert_eq!(costs(&may), ["78.60", "78.60", "0.00"]);
    assert_eq!(costs(&june), ["178.60", "78.60", "100.00"]);
    for roll in [&may, &june] {
        assert_eq!(roll["reconciles"], true, "{roll:#}");
        assert!(roll["ledger"].as_array().unwrap().iter().all(|tie| tie["difference"] == "0.00"));
    }
    assert_eq!(
        june["ledger"][0],
        json!({ "of": "costs", "ledger": "198.60", "sources": "198.60", "difference": "0.00" })
    );
    let csv = room.owner.get("/v1/sources?format=csv");
    assert_eq!(csv.header("content-disposition"), Some("attachment; filename=\"sources.csv\""));
    assert!(
        csv.text.contains("tie,costs,,,\"journal 198.60, sources 198.60, difference 0.00\""),
        "{}",
        csv.text
    );
}

#[test]
fn a_stranger_sees_no_statement_and_no_source() {
    let room = Room::open();
    room.makes_shelves();
    let stranger = room.world.stranger();
    for path in
        [room.statement(), room.statement() + "/viewers", format!("/v1/projects/{}/statement", room.project)]
    {
        assert_eq!(stranger.get(&path).status, 404, "{path}");
        assert_eq!(room.world.nobody().get(&path).status, 401, "{path}");
    }
    assert_eq!(stranger.reads("/v1/sources")["sources"], json!([]));
    assert_eq!(stranger.reads(&format!("/v1/attributions?episode={}", room.shelves))["items"], json!([]));
}
