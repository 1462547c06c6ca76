//! Repairs that name their tool: shown in its life, in neither its basis nor its depreciation.

use serde_json::{Value, json};

use super::{Workshop, by_hour};
use crate::world::postings;

impl Workshop {
    /// A receipt for new bearings, 100 with 8 of tax.
    fn repairs(&self, on: &str, tool: &str, class: &str) -> Value {
        json!({ "date": on, "paid_from": self.bank, "total": "108.00", "tax": "8.00", "lines": [{
            "text": "new bearings", "amount": "100.00", "repairs": tool, "for": [{ "episode": self.episodes[0] }],
            "treatments": [{ "as": "expense", "class": class }] }] })
    }

    /// What the year of a summary has on a line of the form.
    fn line(&self, year: i32, number: &str) -> Value {
        let summary = self.owner.reads(&format!("/v1/tax-years/{year}/summary"));
        let lines = summary["lines"].as_array().unwrap();
        lines.iter().find(|line| line["line"] == number).unwrap()["exact"].clone()
    }
}

// Reg. 1.162-4 (repairs) and Notice 2026-11 on IRC 168(k) (the saw of 649 in full), the first from memory.
#[test]
fn a_repair_of_a_saw_is_a_cost_of_its_day_and_in_neither_its_basis_nor_its_depreciation() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let before = (workshop.standing(&saw), workshop.line(2025, "13"));
    let body = workshop.repairs("2025-04-02", &saw, "repairs");
    let repaired = workshop.owner.records("/v1/purchases", body);
    assert_eq!(postings(&repaired["entries"][0]), ["expense:repairs 108.00 repairs", "money -108.00"]);
    let notes = repaired["notes"].to_string();
    assert!(
        notes.contains("A repair of table saw: a cost of its day") && notes.contains("improvement"),
        "{notes}"
    );
    let standing = workshop.standing(&saw);
    assert_eq!(
        standing["repairs"],
        json!([{ "record": repaired["id"], "date": "2025-04-02", "text": "new bearings", "amount": "108.00" }])
    );
    assert_eq!(standing["repaired"], "108.00");
    for field in ["cost", "left", "attributed", "uses"] {
        assert_eq!(standing[field], before.0[field], "{field}");
    }
    assert_eq!((workshop.line(2025, "13"), workshop.line(2025, "21")), (before.1, json!("108.00")));
    let summary = workshop.owner.reads("/v1/tax-years/2025/summary");
    assert_eq!(summary["depreciation"]["rows"][0]["basis"], "649.00");
    let asked =
        summary["questions"].as_array().unwrap().iter().find(|one| one["topic"] == "repairs").unwrap();
    assert!(asked["question"].as_str().unwrap().contains("better, restored it or fitted it for another use"));
    assert_eq!(asked["about"], json!([format!("/v1/tools/{saw}/standing")]));
    // The saw can not be taken back under its repair, and the repair taken back leaves its life.
    let back = json!({ "reason": "entered twice" });
    workshop.owner.is_refused(409, &format!("/v1/records/{saw}/reversal"), back.clone());
    workshop.owner.records(&format!("/v1/records/{}/reversal", repaired["id"].as_str().unwrap()), back);
    let standing = workshop.standing(&saw);
    assert_eq!((&standing["repairs"], &standing["repaired"]), (&json!([]), &json!("0.00")));
}

// Common practice, no source.
#[test]
fn a_repair_fits_its_tool_its_days_and_its_class_or_is_refused_and_nothing_is_written() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let gone = json!({ "date": "2025-06-01", "kind": "scrapped" });
    workshop.owner.records(&format!("/v1/tools/{saw}/disposal"), gone);
    let theirs = workshop.world.stranger().makes(
        "/v1/tools",
        json!({ "name": "saw", "date": "2025-03-01", "origin": "loan", "method": "equal_share" }),
    );
    let before = workshop.world.rows_written();
    let refused = |status, body, words: &str| {
        let said = workshop.owner.is_refused(status, "/v1/purchases", body).error_at("/lines/0/repairs");
        assert!(said.contains(words), "{said}");
    };
    refused(422, workshop.repairs("2025-02-01", &saw, "repairs"), "table saw came on 2025-03-01");
    refused(409, workshop.repairs("2025-06-02", &saw, "repairs"), "table saw left on 2025-06-01");
    refused(422, workshop.repairs("2025-04-02", &saw, "supplies"), "expense of class repairs");
    refused(422, workshop.repairs("2025-04-02", &theirs, "repairs"), "these books have no tools with the id");
    let mut both = workshop.repairs("2025-04-02", &saw, "repairs");
    both["lines"][0]["stock"] = json!({ "material": "grease", "unit": "l", "quantity": "1" });
    let said = workshop.owner.is_refused(422, "/v1/purchases", both).error_at("/lines/0");
    assert!(said.contains("more than one of stock, tool, tools, piece, new_piece, repairs"), "{said}");
    assert_eq!(workshop.world.rows_written(), before);
}

// Derived: 27 of 108 come back, so 81 is what the repair cost.
#[test]
fn what_comes_back_of_a_repair_is_off_it() {
    let workshop = Workshop::open();
    let saw = workshop.buys_saw(by_hour());
    let repaired = workshop.owner.records("/v1/purchases", workshop.repairs("2025-04-02", &saw, "repairs"));
    let back = json!({ "date": "2025-04-20", "refunded_to": workshop.bank, "lines": [{ "line": 0, "amount": "27.00" }] });
    workshop.owner.records(&format!("/v1/purchases/{}/returns", repaired["id"].as_str().unwrap()), back);
    assert_eq!(workshop.standing(&saw)["repaired"], "81.00");
}
