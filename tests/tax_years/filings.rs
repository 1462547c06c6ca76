//! Filing a return and amending it, through the door.

use serde_json::{Value, json};

use super::Workshop;

const FILING: &str = "/v1/tax-years/2025/filing";
const AMENDED: &str = "/v1/tax-years/2025/amended";

/// A year with a receipt of supplies, closed; the receipt's id.
fn closed() -> (Workshop, String) {
    let shop = Workshop::open();
    shop.earns("2025-03-01", "5100.00");
    let paid = shop.pays("2025-03-04", "81.99", json!({ "as": "expense", "class": "supplies" }));
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "looked through" }));
    let id = paid["id"].as_str().unwrap().to_owned();
    (shop, id)
}

fn asked(shop: &Workshop) -> Option<String> {
    let summary = shop.year(2025).0;
    let questions = summary["questions"].as_array().unwrap();
    let found = questions.iter().find(|one| one["topic"] == "amended_return");
    found.map(|one| one["question"].as_str().unwrap().to_owned())
}

fn changed(shown: &Value) -> Vec<[String; 4]> {
    let lines = shown["lines"].as_array().unwrap().iter().filter(|line| line["changed"] == true);
    let text = |line: &Value, name: &str| line[name].as_str().unwrap().to_owned();
    lines.map(|line| ["line", "filed", "now", "difference"].map(|name| text(line, name))).collect()
}

fn row(cells: [&str; 4]) -> [String; 4] {
    cells.map(str::to_owned)
}

#[test]
fn a_filed_year_is_amended_from_what_was_taken_back_and_filed_again() {
    let (shop, receipt) = closed();
    let before = shop.world.rows_written();
    let dry = shop.owner.post(&format!("{FILING}?dry_run=true"), &json!({ "date": "2026-04-10" }));
    assert_eq!((dry.status, dry.json()["recorded"].as_bool()), (200, Some(false)));
    assert_eq!(shop.world.rows_written(), before);
    let filing = shop.owner.records(FILING, json!({ "date": "2026-04-10", "note": "sent by the preparer" }));
    assert_eq!(filing["entries"], json!([]));
    let shown = shop.owner.reads(AMENDED);
    assert_eq!((changed(&shown), &shown["records"], asked(&shop)), (Vec::new(), &json!([]), None));
    assert_eq!((&shown["filing"], &shown["filed_on"]), (&filing["id"], &json!("2026-04-10")));

    let back = shop.owner.records(
        &format!("/v1/records/{receipt}/reversal"),
        json!({ "reason": "the household's tape", "date": "2026-05-02" }),
    );
    let shown = shop.owner.reads(AMENDED);
    let expected = [
        row(["22", "81.99", "0.00", "-81.99"]),
        row(["28", "81.99", "0.00", "-81.99"]),
        row(["29", "4918.01", "5000.00", "81.99"]),
        row(["31", "4918.01", "5000.00", "81.99"]),
    ];
    assert_eq!(changed(&shown), expected);
    let since = &shown["records"][0];
    assert_eq!((&since["record"], &since["takes_back"][0]["record"]), (&back["id"], &json!(receipt)));
    let entry = &since["entries"][0];
    let original = shop.owner.reads(entry["original"].as_str().unwrap());
    assert_eq!(original["id"], json!(receipt));
    assert_eq!(
        (&entry["postings"][0]["line"], &entry["number"]),
        (&json!("22"), &back["entries"][0]["number"])
    );
    let question = asked(&shop).unwrap();
    assert!(question.contains("22, 28, 29, 31") && question.contains("amended return"), "{question}");
    // Another year does not care.
    assert!(
        shop.year(2026).0["questions"].as_array().unwrap().iter().all(|one| one["topic"] != "amended_return")
    );
    shop.owner.is_refused(422, FILING, json!({ "date": "2026-04-09" })).error_at("/date");
    shop.owner.records(FILING, json!({ "date": "2026-06-01" }));
    let shown = shop.owner.reads(AMENDED);
    assert_eq!((changed(&shown), &shown["filed"], asked(&shop)), (Vec::new(), &json!(2), None));
}

#[test]
fn a_choice_taken_back_and_a_reopened_year_show_among_what_was_recorded_since() {
    let shop = Workshop::open();
    let tool = shop.buys_tool("2025-03-04", "900.00", json!({}));
    let choice = shop.chooses(2025, json!({ "kind": "de_minimis" }));
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "looked through" }));
    shop.owner.records(FILING, json!({ "date": "2026-04-10" }));
    shop.owner
        .records("/v1/books/reopening", json!({ "from": "2025-12-01", "reason": "a receipt turned up" }));
    let id = choice["id"].as_str().unwrap();
    shop.owner.records(&format!("/v1/records/{id}/reversal"), json!({ "reason": "not wanted" }));
    shop.pays("2025-12-03", "30.00", json!({ "as": "expense", "class": "supplies" }));
    shop.pays("2026-01-03", "40.00", json!({ "as": "expense", "class": "supplies" }));
    let shown = shop.owner.reads(AMENDED);
    let words: Vec<&str> =
        shown["records"].as_array().unwrap().iter().map(|one| one["word"].as_str().unwrap()).collect();
    assert_eq!(words, ["books", "entries", "purchases"]);
    let reversal = &shown["records"][1];
    assert_eq!((&reversal["takes_back"][0]["record"], &reversal["entries"]), (&choice["id"], &json!([])));
    assert!(changed(&shown).contains(&row(["22", "0.00", "30.00", "30.00"])));
    assert!(
        changed(&shown).contains(&row(["13", "0.00", "900.00", "900.00"])),
        "{:?} {tool}",
        changed(&shown)
    );
    let csv = shop.owner.get(&format!("{AMENDED}?format=csv"));
    assert!(csv.text.starts_with("section,line,label,filed,now,difference,filed_whole,"), "{}", csv.text);
    assert!(csv.text.contains("\r\nform,22,Supplies,0.00,30.00,30.00,0,30,30,"), "{}", csv.text);
    assert!(csv.text.contains("takes back: chosen for 2025: de_minimis"), "{}", csv.text);
    let text = shop.owner.get_accepting(AMENDED, "text/plain");
    assert!(
        text.text.contains("Lines that changed") && text.text.contains("Recorded since"),
        "{}",
        text.text
    );
    assert!(text.text.lines().all(|line| line.chars().count() <= 100), "{}", text.text);
}

#[test]
fn a_return_is_not_filed_before_its_year_is_closed_nor_compared_before_it_is_filed() {
    let shop = Workshop::open();
    let said = shop.owner.is_refused(409, FILING, json!({ "date": "2026-04-10" })).error_at("");
    assert!(said.contains("POST /v1/books/closing"), "{said}");
    let reply = shop.owner.get(AMENDED);
    assert_eq!(reply.status, 409, "{}", reply.text);
    assert!(reply.text.contains("POST /v1/tax-years/2025/filing"), "{}", reply.text);
    shop.owner.is_refused(422, "/v1/tax-years/2001/filing", json!({ "date": "2026-04-10" }));
    assert_eq!(shop.owner.get("/v1/tax-years/2001/amended").status, 422);
    assert_eq!(shop.world.nobody().post(FILING, &json!({ "date": "2026-04-10" })).status, 401);
    assert_eq!(shop.world.nobody().get(AMENDED).status, 401);
}

#[test]
fn anothers_filing_is_not_ours() {
    let (shop, _) = closed();
    shop.owner.records(FILING, json!({ "date": "2026-04-10" }));
    assert_eq!(shop.world.stranger().get(AMENDED).status, 409);
}

/// What the supplier gives back in May 2026 for the receipt of 2025.
fn refunded(shop: &Workshop, receipt: &str) -> Value {
    shop.owner.records(
        &format!("/v1/purchases/{receipt}/returns"),
        json!({ "date": "2026-05-04", "refunded_to": shop.bank, "lines": [{ "line": 0, "amount": "20.00" }] }),
    )
}

// Publication 525, recoveries (from memory): what comes back of a cost deducted in an earlier year belongs to the year in
// which it comes back; the return that deducted it stands.
#[test]
fn a_refund_of_the_next_year_leaves_the_filed_year_as_it_was() {
    let (shop, receipt) = closed();
    shop.owner.records(FILING, json!({ "date": "2026-04-10" }));
    refunded(&shop, &receipt);
    let shown = shop.owner.reads(AMENDED);
    assert_eq!((changed(&shown), asked(&shop)), (Vec::new(), None));
    assert_eq!(shop.year(2025).line("22"), "81.99");
    let next = shop.year(2026);
    assert_eq!((next.line("6"), next.line("22")), ("20.00", "0.00"));
}

// IRS Form 1040-X, columns A to C: as filed, the change, the correct amount (from memory).
#[test]
fn a_receipt_found_after_filing_waits_for_its_year_to_be_opened_and_then_amends_it() {
    let (shop, _) = closed();
    shop.owner.records(FILING, json!({ "date": "2026-04-10" }));
    let supplies = json!({ "as": "expense", "class": "supplies" });
    let late = json!({ "date": "2025-11-20", "paid_from": shop.bank, "total": "18.01", "lines": [
        { "text": "hinges", "amount": "18.01", "for": [{ "episode": shop.episode }], "treatments": [supplies] }] });
    let said = shop.owner.is_refused(409, "/v1/purchases", late.clone()).error_at("/date");
    assert!(said.contains("POST /v1/books/reopening"), "{said}");
    shop.owner
        .records("/v1/books/reopening", json!({ "from": "2025-11-01", "reason": "a receipt turned up" }));
    let found = shop.owner.records("/v1/purchases", late);
    let shown = shop.owner.reads(AMENDED);
    assert!(changed(&shown).contains(&row(["22", "81.99", "100.00", "18.01"])), "{:?}", changed(&shown));
    assert!(changed(&shown).contains(&row(["31", "4918.01", "4900.00", "-18.01"])), "{:?}", changed(&shown));
    let since: Vec<_> = shown["records"].as_array().unwrap().iter().map(|one| &one["record"]).collect();
    assert_eq!((since.len(), since[1]), (2, &found["id"]));
    assert!(asked(&shop).unwrap().contains("amended return"));
    // Closed and filed again, the amended figures are the filed ones.
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "amended" }));
    shop.owner.records(FILING, json!({ "date": "2026-06-01" }));
    let shown = shop.owner.reads(AMENDED);
    assert_eq!((changed(&shown), &shown["filed"], asked(&shop)), (Vec::new(), &json!(2), None));
}
