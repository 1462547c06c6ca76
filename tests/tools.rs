//! Tools through the service: how they come, and what every test of them shares.
#![cfg(test)]

mod improvements;
mod life;
mod listed;
mod repairs;
mod shares;
mod two_bases;
mod uses;

use serde_json::{Value, json};

use crate::world::{Caller, World, postings};

/// A workshop with a bank account and three episodes.
struct Workshop {
    world: World,
    owner: Caller,
    bank: String,
    episodes: [String; 3],
}

impl Workshop {
    fn open() -> Self {
        let world = World::open();
        let owner = world.owner();
        let bank = owner.has_account("bank");
        let project = owner.has_project("The reading room");
        let episodes =
            ["Shelves", "The window seat", "The lamp"].map(|title| owner.has_episode(&project, title));
        Self { world, owner, bank, episodes }
    }

    /// The table saw of the reference figures: 649 with 49 salvage.
    fn saw(&self, terms: Value) -> Value {
        let mut body = json!({
            "name": "table saw", "date": "2025-03-01", "origin": "bought",
            "cost": "649.00", "salvage": "49.00", "paid_from": self.bank,
        });
        body.as_object_mut().unwrap().extend(terms.as_object().unwrap().clone());
        body
    }

    fn buys_saw(&self, terms: Value) -> String {
        self.owner.makes("/v1/tools", self.saw(terms))
    }

    /// A use is a day, the episode's place and hours; `""` gives none.
    fn uses(&self, uses: &[(&str, usize, &str)]) -> Value {
        let one = |(date, episode, hours): &(&str, usize, &str)| {
            let mut one = json!({ "date": date, "episode": self.episodes[*episode] });
            if !hours.is_empty() {
                one["hours"] = json!(hours);
            }
            one
        };
        json!({ "uses": uses.iter().map(one).collect::<Vec<_>>() })
    }

    fn logs(&self, tool: &str, uses: &[(&str, usize, &str)]) -> Value {
        self.owner.records(&format!("/v1/tools/{tool}/uses"), self.uses(uses))
    }

    fn standing(&self, tool: &str) -> Value {
        self.owner.reads(&format!("/v1/tools/{tool}/standing"))
    }

    /// What has reached episodes, and what is left to.
    fn spent_and_left(&self, tool: &str) -> [String; 2] {
        let standing = self.standing(tool);
        ["attributed", "left"].map(|field| standing[field].as_str().unwrap().to_owned())
    }

    /// What each episode bears, by its place.
    fn shares(&self, tool: &str) -> Vec<(usize, String)> {
        let standing = self.standing(tool);
        let mut shares: Vec<_> = standing["shares"]
            .as_array()
            .unwrap()
            .iter()
            .map(|share| {
                let place = self.episodes.iter().position(|one| share["episode"] == **one).unwrap();
                (place, share["amount"].as_str().unwrap().to_owned())
            })
            .collect();
        shares.sort();
        shares
    }

    fn takes_back(&self, record: &Value, dependants: &str) -> Value {
        let path = format!("/v1/records/{}/reversal", record["id"].as_str().unwrap());
        self.owner.records(&path, json!({ "reason": "logged twice", "dependants": dependants }))
    }
}

fn amounts(answer: &Value) -> Vec<String> {
    let attributions = answer["attributions"].as_array().unwrap();
    attributions.iter().map(|one| one["amount"].as_str().unwrap().to_owned()).collect()
}

fn owned(shares: &[(usize, &str)]) -> Vec<(usize, String)> {
    shares.iter().map(|(place, amount)| (*place, (*amount).to_owned())).collect()
}

fn by_hour() -> Value {
    json!({ "method": "per_use_hour", "hours_expected": "400" })
}

// Common practice, no source.
#[test]
fn a_tool_bought_stands_at_cost_and_is_found_by_one_id() {
    let workshop = Workshop::open();
    let before = workshop.world.rows_written();
    let saw = workshop.saw(by_hour());
    let shown = workshop.owner.post("/v1/tools?dry_run=true", &saw);
    assert_eq!((shown.status, &shown.json()["recorded"]), (200, &json!(false)));
    assert_eq!(workshop.world.rows_written(), before);
    let bought = workshop.owner.records("/v1/tools", saw);
    assert_eq!(postings(&bought["entries"][0]), ["tools_at_cost 649.00", "money -649.00"]);
    assert_eq!(postings(&shown.json()["entries"][0]), postings(&bought["entries"][0]));
    assert_eq!(bought["things"][0]["id"], bought["id"]);
    let id = bought["id"].as_str().unwrap();
    let standing = workshop.standing(id);
    assert_eq!(standing["record"], *id);
    assert_eq!(
        (&standing["attributed"], &standing["left"], &standing["hours_expected"]),
        (&json!("0.00"), &json!("600.00"), &json!("400"))
    );
    assert_eq!(workshop.owner.reads(&format!("/v1/tools/records/{id}"))["record"]["cost"], "649.00");
}

// Lower of cost and value on conversion: Pub. 551, from memory. That a loan has no basis: common practice.
#[test]
fn a_tool_brought_in_counts_at_the_lower_of_cost_and_value_and_a_lent_one_at_nothing() {
    let workshop = Workshop::open();
    let brought = workshop.owner.records(
        "/v1/tools",
        json!({ "name": "old sander", "date": "2025-03-01", "origin": "converted_from_personal",
                "cost": "120.00", "value": "45.00", "method": "equal_share" }),
    );
    assert_eq!(postings(&brought["entries"][0]), ["tools_at_cost 45.00", "owner_contribution -45.00"]);
    let lent = workshop.owner.records(
        "/v1/tools",
        json!({ "name": "tile cutter", "date": "2025-03-01", "origin": "loan", "method": "expense_now" }),
    );
    assert_eq!(lent["entries"], json!([]));
    let id = lent["id"].as_str().unwrap();
    assert!(amounts(&workshop.logs(id, &[("2025-03-02", 0, "")])).is_empty());
    let sale =
        json!({ "date": "2025-04-01", "kind": "sold", "proceeds": "10.00", "paid_into": workshop.bank });
    let refused = workshop.owner.is_refused(409, &format!("/v1/tools/{id}/disposal"), sale);
    assert!(refused.error_at("/kind").starts_with("the tool is a loan: its lender owns it"));
    // It goes back: nothing was in the ledger, so nothing leaves it.
    let back = json!({ "date": "2025-04-01", "kind": "scrapped" });
    assert_eq!(workshop.owner.records(&format!("/v1/tools/{id}/disposal"), back)["entries"], json!([]));
    assert_eq!(workshop.standing(id)["disposal"]["kind"], "scrapped");
}

// Common practice, no source.
#[test]
fn every_fault_of_a_new_tool_is_told_at_once_and_nothing_is_written() {
    let workshop = Workshop::open();
    let before = workshop.world.rows_written();
    let refused = workshop.owner.is_refused(
        422,
        "/v1/tools",
        json!({ "name": "table saw", "date": "2025-03-01", "origin": "bought", "cost": "649.005",
                "method": "per_use_hour", "months": 12, "business_share": "101" }),
    );
    assert!(refused.error_at("/paid_from").starts_with("the tool was bought, and no money account"));
    assert!(refused.error_at("/cost").contains("more decimals than USD has"));
    let refused = workshop.owner.is_refused(
        422,
        "/v1/tools",
        workshop.saw(
            json!({ "method": "per_use_hour", "months": 12, "salvage": "700.00", "business_share": "101",
                             "in_service_on": "2025-02-01", "choice": "section_179" }),
        ),
    );
    for pointer in
        ["/hours_expected", "/months", "/salvage", "/business_share", "/in_service_on", "/section_179"]
    {
        assert!(!refused.error_at(pointer).is_empty());
    }
    let elsewhere = workshop.world.stranger().has_account("bank");
    let mut body = workshop.saw(by_hour());
    body["paid_from"] = json!(elsewhere);
    let refused = workshop.owner.is_refused(422, "/v1/tools", body);
    assert!(refused.error_at("/paid_from").starts_with("these books have no accounts with the id"));
    // The stranger's own account is the only thing that was written.
    assert_eq!(
        workshop.world.rows_written() - before,
        workshop.world.count("SELECT count(*) FROM audit_lines a JOIN records r ON r.id = a.record_id AND r.books_id = a.books_id WHERE r.word = 'accounts'")
    );
}

// Common practice, no source.
#[test]
fn another_books_token_finds_no_tool_to_read_or_to_use() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let (stranger, nobody) = (workshop.world.stranger(), workshop.world.nobody());
    let before = workshop.world.rows_written();
    let uses = workshop.uses(&[("2025-03-02", 0, "1")]);
    let gone = json!({ "date": "2025-04-01", "kind": "scrapped" });
    let longer = json!({ "date": "2025-04-01", "hours_expected": "500" });
    for path in [format!("/v1/tools/records/{saw}"), format!("/v1/tools/{saw}/standing")] {
        assert_eq!((stranger.get(&path).status, nobody.get(&path).status), (404, 401));
    }
    for (verb, body) in [("uses", uses), ("disposal", gone), ("estimates", longer)] {
        let path = format!("/v1/tools/{saw}/{verb}");
        assert_eq!((stranger.post(&path, &body).status, nobody.post(&path, &body).status), (404, 401));
    }
    for list in ["/v1/tools", "/v1/tools/records"] {
        assert_eq!(stranger.reads(list)["items"], json!([]));
    }
    assert_eq!(workshop.world.rows_written(), before);
}

// Common practice, no source: what is sent back of a receipt is no longer in the ledger to be sold.
#[test]
fn a_tool_of_a_receipt_is_used_and_sold_like_any_other() {
    let workshop = Workshop::open();
    let bought = workshop.owner.records(
        "/v1/purchases",
        json!({ "date": "2025-03-01", "paid_from": workshop.bank, "total": "129.60", "tax": "9.60",
                "lines": [{ "text": "nailer", "amount": "100.00",
                            "tool": { "name": "nailer", "method": "percentages", "salvage": "8.00" } },
                          { "text": "nails", "amount": "20.00",
                            "treatments": [{ "as": "expense", "class": "supplies" }] }] }),
    );
    let nailer = bought["things"][0]["id"].as_str().unwrap();
    let standing = workshop.standing(nailer);
    assert_eq!((&standing["record"], &standing["cost"]), (&bought["id"], &json!("108.00")));
    assert_eq!(workshop.spent_and_left(nailer), ["0.00", "100.00"]);
    let half = json!({ "uses": [{ "date": "2025-03-02", "episode": workshop.episodes[0], "share": "50" }] });
    let used = workshop.owner.records(&format!("/v1/tools/{nailer}/uses"), half);
    assert_eq!(amounts(&used), ["50.00"]);
    let sale =
        json!({ "date": "2025-06-01", "kind": "sold", "proceeds": "120.00", "paid_into": workshop.bank });
    let sold = workshop.owner.records(&format!("/v1/tools/{nailer}/disposal"), sale);
    assert_eq!(
        postings(&sold["entries"][0]),
        ["money 120.00", "tools_at_cost -108.00", "business_property_sales -12.00 business_property_sale"]
    );
    // Everything stands on the receipt.
    let path = format!("/v1/records/{}/reversal", bought["id"].as_str().unwrap());
    let refused = workshop.owner.is_refused(409, &path, json!({ "reason": "entered twice" }));
    assert!(refused.error_at("").contains("nailer: 1 use") && refused.error_at("").contains("nailer: sold"));
}
