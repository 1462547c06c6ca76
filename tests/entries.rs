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

impl Shoebox {
    fn record(&self, id: &Value) -> Value {
        self.owner.reads(&format!("/v1/records/{}", id.as_str().unwrap()))
    }

    /// The receipt as it should have been, in place of another record.
    fn in_place_of(&self, wrong: &str) -> (String, Value) {
        let line = json!({ "text": "something", "amount": "22.00", "for": [{ "episode": self.shelves }],
                           "treatments": [{ "as": "expense", "class": "supplies" }] });
        let receipt =
            json!({ "date": "2025-03-02", "paid_from": self.bank, "total": "22.00", "lines": [line] });
        (format!("/v1/purchases?replaces={wrong}"), receipt)
    }
}

// Derived from invariant 2: a correction is a reversal and a replacement, linked both ways.
#[test]
fn a_correction_names_what_it_stands_in_for_and_what_was_wrong_names_its_correction() {
    let shoebox = Shoebox::open();
    let wrong = shoebox.receipts[0].clone();
    let (path, right) = shoebox.in_place_of(&wrong);
    let said = shoebox.owner.is_refused(409, &path, right.clone()).error_at("");
    assert!(said.contains("stands, so nothing can stand in for it"), "{said}");
    let reversal = shoebox.owner.makes("/v1/entries/1/reversal", json!({ "reason": "22.00, not 20.00" }));
    let shown = shoebox.owner.post(&format!("{path}&dry_run=true"), &right);
    assert_eq!((shown.status, &shown.json()["recorded"]), (200, &json!(false)));
    assert_eq!(shoebox.record(&json!(wrong)).get("replaced_by"), None);
    let made = shoebox.owner.records(&path, right.clone());
    assert_eq!(made["notes"][0], "It stands in for a record that was taken back: something");
    let (was, is) = (shoebox.record(&json!(wrong)), shoebox.record(&made["id"]));
    assert_eq!((&was["reversed_by"], &was["replaced_by"]), (&json!(reversal), &made["id"]));
    assert_eq!((&is["replaces"], is.get("replaced_by")), (&json!(wrong), None));
    assert_eq!(shoebox.record(&json!(reversal))["takes_back"], json!([wrong]));
    let listed = shoebox.owner.reads("/v1/purchases");
    let links: Vec<_> =
        listed["items"].as_array().unwrap().iter().filter(|one| one["replaced_by"] == made["id"]).collect();
    assert_eq!((links.len(), &links[0]["id"]), (1, &json!(wrong)));
    // Once is enough; a further correction stands in for the correction.
    let said = shoebox.owner.is_refused(409, &path, right.clone()).error_at("");
    assert!(said.contains("stands in for it already"), "{said}");
    shoebox.owner.records(
        &format!("/v1/records/{}/reversal", made["id"].as_str().unwrap()),
        json!({ "reason": "21.00, not 22.00" }),
    );
    let (path, right) = shoebox.in_place_of(made["id"].as_str().unwrap());
    shoebox.owner.records(&path, right);
    // Records of other books are none of ours.
    let (path, right) = shoebox.in_place_of(&shoebox.world.stranger().has_account("bank"));
    assert_eq!(shoebox.owner.post(&path, &right).status, 404);
}

#[test]
fn only_one_record_that_is_right_stands_in_for_another() {
    let shoebox = Shoebox::open();
    let wrong = shoebox.receipts[0].clone();
    shoebox.owner.records("/v1/entries/1/reversal", json!({ "reason": "entered twice" }));
    let again = format!("/v1/entries/2/reversal?replaces={wrong}");
    let said = shoebox.owner.is_refused(409, &again, json!({ "reason": "no" })).error_at("");
    assert!(said.contains("a reversal stands in for nothing"), "{said}");
    let (_, right) = shoebox.in_place_of(&wrong);
    let many =
        shoebox.owner.post(&format!("/v1/purchases/batch?replaces={wrong}"), &json!({ "items": [right] }));
    assert_eq!((many.status, many.text.contains("takes no replaces")), (400, true), "{}", many.text);
    let (_, right) = shoebox.in_place_of(&wrong);
    let unclear = shoebox.owner.post("/v1/purchases?replaces=first", &right);
    assert_eq!((unclear.status, unclear.text.contains("replaces=<the id of a record>")), (400, true));
    assert!(unclear.text.contains("the query can not be read: UUID parsing failed"), "{}", unclear.text);
}

// A key stands for the whole request: the same body in place of another record is another request.
#[test]
fn a_key_used_for_a_correction_is_not_taken_for_another() {
    let shoebox = Shoebox::open();
    for entry in [1, 2] {
        let path = format!("/v1/entries/{entry}/reversal");
        shoebox.owner.records(&path, json!({ "reason": "entered twice" }));
    }
    let sent = |wrong: &str| {
        let (path, right) = shoebox.in_place_of(wrong);
        shoebox.owner.post_with_key(&path, "correction-1", &right)
    };
    let first = sent(&shoebox.receipts[0]);
    assert_eq!(first.status, 201);
    assert_eq!(sent(&shoebox.receipts[0]).text, first.text);
    assert_eq!(sent(&shoebox.receipts[1]).status, 422);
}
