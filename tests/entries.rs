//! The journal through the door: its lists, and what is taken back when.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Caller, World, postings};

/// Two receipts of 2025 and one of 2026.
struct Shoebox {
    world: World,
    owner: Caller,
    bank: String,
    shelves: String,
    receipts: Vec<String>,
}

impl Shoebox {
    fn open() -> Self {
        let world = World::open();
        let owner = world.owner();
        let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
        let shelves = owner.has_episode(&room, "Shelves");
        let mut shoebox = Self { world, owner, bank, shelves, receipts: Vec::new() };
        for (date, class) in
            [("2025-03-02", "supplies"), ("2025-11-30", "office"), ("2026-01-15", "supplies")]
        {
            let receipt = shoebox.buys(date, class);
            shoebox.receipts.push(receipt["id"].as_str().unwrap().to_owned());
        }
        shoebox
    }

    fn buys(&self, date: &str, class: &str) -> Value {
        let line = json!({ "text": "something", "amount": "20.00", "for": [{ "episode": self.shelves }],
                           "treatments": [{ "as": "expense", "class": class }] });
        let receipt = json!({ "date": date, "paid_from": self.bank, "total": "20.00", "lines": [line] });
        self.owner.records("/v1/purchases", receipt)
    }

    /// What a list shows, by one field.
    fn shown(&self, path: &str, field: &str) -> Vec<String> {
        let page = self.owner.reads(path);
        let items = page["items"].as_array().unwrap();
        items.iter().map(|one| one[field].to_string().replace('"', "")).collect()
    }
}

#[test]
fn entries_are_found_by_day_account_class_year_and_record() {
    let shoebox = Shoebox::open();
    let found = |query: &str| shoebox.shown(&format!("/v1/entries?{query}"), "number");
    assert_eq!(found(""), ["1", "2", "3"]);
    assert_eq!(found("from=2025-04-01&to=2025-12-31"), ["2"]);
    assert_eq!(found("account=expense:supplies"), ["1", "3"]);
    assert_eq!(found("class=office"), ["2"]);
    assert_eq!(found("class=office,supplies&tax_year=2025"), ["1", "2"]);
    assert_eq!(found(&format!("record={}", shoebox.receipts[2])), ["3"]);
    // Account and class are asked of one and the same posting.
    assert_eq!(found("account=expense:supplies&class=office"), [""; 0]);
    let first = &shoebox.owner.reads("/v1/entries?limit=1")["items"][0];
    assert_eq!(postings(first), ["expense:supplies 20.00 supplies", "money -20.00"]);
    assert_eq!(first["link"], format!("/v1/records/{}", shoebox.receipts[0]));
    let unknown = shoebox.owner.get("/v1/entries?class=paint");
    assert_eq!((unknown.status, unknown.text.contains("there is no tax class 'paint'")), (400, true));
    assert_eq!(shoebox.owner.get("/v1/entries?account=paint").status, 400);
}

#[test]
fn postings_lead_from_a_figure_of_the_year_to_its_records() {
    let shoebox = Shoebox::open();
    let path = "/v1/postings?tax_year=2025&class=supplies,office";
    assert_eq!(shoebox.shown(path, "amount"), ["20.00", "20.00"]);
    let first = &shoebox.owner.reads(path)["items"][0];
    assert_eq!((&first["entry"], &first["date"]), (&json!(1), &json!("2025-03-02")));
    assert_eq!((&first["account"], &first["class"]), (&json!("expense:supplies"), &json!("supplies")));
    let record = shoebox.owner.reads(first["link"].as_str().unwrap());
    assert_eq!((&record["id"], &record["word"]), (&json!(shoebox.receipts[0]), &json!("purchases")));
    assert_eq!(
        shoebox.shown(&format!("/v1/postings?account=money:{}", shoebox.bank), "amount"),
        ["-20.00"; 3]
    );
    let stranger = shoebox.world.stranger();
    assert_eq!(stranger.reads("/v1/postings")["items"], json!([]));
    assert_eq!(stranger.reads("/v1/entries")["items"], json!([]));
    assert_eq!(stranger.get("/v1/entries/1").status, 404);
}

#[test]
fn pages_of_the_journal_follow_each_other_without_a_gap() {
    let shoebox = Shoebox::open();
    for (path, field, all) in [
        ("/v1/entries?limit=2&class=supplies,office", "number", vec!["1", "2", "3"]),
        ("/v1/postings?limit=1&from=2025-03-01", "entry", vec!["1", "1", "2", "2", "3", "3"]),
    ] {
        let (mut seen, mut next) = (Vec::new(), Some(path.to_owned()));
        while let Some(path) = next {
            seen.extend(shoebox.shown(&path, field));
            next = shoebox.owner.reads(&path)["next"].as_str().map(str::to_owned);
        }
        assert_eq!(seen, all, "{path}");
    }
    assert_eq!(shoebox.owner.get("/v1/postings?cursor=7").status, 400);
    assert_eq!(shoebox.owner.get("/v1/entries?cursor=nonsense").status, 400);
}

// Design: a reversal takes the first open day, or the original date after a recorded reopening; the tax year stays
// with the posting.
#[test]
fn what_is_of_a_closed_period_is_taken_back_on_the_first_open_day_or_after_a_reopening_on_its_own() {
    let shoebox = Shoebox::open();
    shoebox.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let reason = json!({ "reason": "entered twice" });
    let late = shoebox.owner.records("/v1/entries/1/reversal", reason.clone());
    assert_eq!(
        (&late["entries"][0]["date"], &late["entries"][0]["reverses"]),
        (&json!("2026-01-01"), &json!(1))
    );
    assert_eq!(late["entries"][0]["postings"][0]["tax_year"], 2025);
    assert!(late["notes"][0].as_str().unwrap().contains("2025-03-02 is closed"), "{late}");
    let closed = json!({ "reason": "entered twice", "date": "2025-12-01" });
    let said = shoebox.owner.is_refused(409, "/v1/entries/2/reversal", closed).error_at("/date");
    assert!(said.contains("the first open day is 2026-01-01"), "{said}");
    shoebox.owner.records("/v1/books/reopening", json!({ "from": "2025-11-01", "reason": "a mistake" }));
    let own_day = shoebox.owner.records("/v1/entries/2/reversal", reason);
    assert_eq!(own_day["entries"][0]["date"], "2025-11-30");
    let taken_back = shoebox.owner.reads(&format!("/v1/records/{}", shoebox.receipts[1]));
    assert_eq!(taken_back["reversed_by"], own_day["id"]);
}

#[test]
fn a_record_is_taken_back_once_and_neither_reversals_nor_closings_are() {
    let shoebox = Shoebox::open();
    let reason = json!({ "reason": "entered twice" });
    let before = shoebox.owner.reads(&format!("/v1/episodes/{}/statement", shoebox.shelves));
    assert_eq!(before["cost_total"], "60.00");
    let reversal = shoebox.owner.makes("/v1/entries/1/reversal", reason.clone());
    let after = shoebox.owner.reads(&format!("/v1/episodes/{}/statement", shoebox.shelves));
    assert_eq!((&after["cost_total"], &after["reconciles"]), (&json!("40.00"), &json!(true)));
    let said = shoebox.owner.is_refused(409, "/v1/entries/1/reversal", reason.clone()).error_at("");
    assert!(said.contains("taken back before"), "{said}");
    let of_reversal = format!("/v1/records/{reversal}/reversal");
    let said = shoebox.owner.is_refused(409, &of_reversal, reason.clone()).error_at("");
    assert!(said.contains("itself a reversal"), "{said}");
    let closing =
        shoebox.owner.makes("/v1/books/closing", json!({ "through": "2024-12-31", "reason": "filed" }));
    let said = shoebox
        .owner
        .is_refused(409, &format!("/v1/records/{closing}/reversal"), reason.clone())
        .error_at("");
    assert!(said.contains("/v1/books/reopening"), "{said}");
    shoebox.owner.is_refused(404, "/v1/entries/99/reversal", reason);
}

#[test]
fn an_episode_goes_back_only_with_what_counts_for_it() {
    let shoebox = Shoebox::open();
    let path = format!("/v1/records/{}/reversal", shoebox.shelves);
    let said = shoebox.owner.is_refused(409, &path, json!({ "reason": "never made" })).error_at("");
    assert!(said.contains("something"), "{said}");
    let with_all = json!({ "reason": "never made", "dependants": "take_back" });
    let dry = shoebox.owner.post(&format!("{path}?dry_run=true"), &with_all).json();
    assert_eq!(dry["entries"].as_array().unwrap().len(), 3);
    shoebox.owner.records(&path, with_all);
    assert_eq!(shoebox.owner.get(&format!("/v1/episodes/{}/statement", shoebox.shelves)).status, 404);
    assert_eq!(shoebox.owner.reads("/v1/sources")["reconciles"], true);
}

// Derived from invariant 6: the issue drew on the lot until it was taken back in May.
#[test]
fn a_receipt_is_not_taken_back_before_the_day_on_which_its_issue_was() {
    let shoebox = Shoebox::open();
    let stock = json!({ "material": "plywood", "unit": "piece", "quantity": "4" });
    let receipt = json!({ "date": "2025-04-01", "paid_from": shoebox.bank, "total": "80.00",
                          "lines": [{ "text": "plywood", "amount": "80.00", "stock": stock }] });
    let receipt = shoebox.owner.makes("/v1/purchases", receipt);
    let issue =
        json!({ "material": "plywood", "date": "2025-04-05", "quantity": "1", "episode": shoebox.shelves });
    let issue = shoebox.owner.makes("/v1/materials/issues", issue);
    let in_may = json!({ "reason": "for another room", "date": "2025-05-10" });
    shoebox.owner.records(&format!("/v1/records/{issue}/reversal"), in_may);
    let path = format!("/v1/records/{receipt}/reversal");
    let early = json!({ "reason": "never came", "date": "2025-05-09" });
    let said = shoebox.owner.is_refused(422, &path, early).error_at("/date");
    assert!(said.contains("taken back only on 2025-05-10"), "{said}");
    let back = shoebox.owner.records(&path, json!({ "reason": "never came" }));
    assert_eq!(back["entries"][0]["date"], "2025-05-10");
}
