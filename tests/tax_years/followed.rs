//! Each figure is followed down: line, postings, entry, record.

use serde_json::{Value, json};

use super::{Workshop, cents};

impl Workshop {
    /// A year with something on many lines: two reversals, a refund, a chair, a dresser for the owner, a van.
    fn busy_year() -> Self {
        let shop = Self::open();
        for class in ["supplies", "software", "meals", "advertising", "interest", "office", "bank_fees"] {
            shop.pays("2025-02-03", "81.99", json!({ "as": "expense", "class": class }));
        }
        let twice = shop.pays("2025-02-03", "81.99", json!({ "as": "expense", "class": "supplies" }));
        let reversal = format!("/v1/records/{}/reversal", twice["id"].as_str().unwrap());
        shop.owner.records(&reversal, json!({ "reason": "entered twice" }));
        let back = shop.pays("2024-12-03", "60.00", json!({ "as": "expense", "class": "supplies" }));
        shop.owner.records(
            &format!("/v1/purchases/{}/returns", back["id"].as_str().unwrap()),
            json!({ "date": "2025-01-09", "refunded_to": shop.bank, "lines": [{ "line": 0, "amount": "20.00" }] }),
        );
        shop.earns("2025-06-01", "1100.00");
        shop.is_given("2025-03-02", json!({ "value": "90.00", "fate": "kept_personally" }));
        shop.owner.records(
            "/v1/trips",
            json!({ "date": "2025-04-02", "vehicle": "Van", "distance": "100", "unit": "mile", "purpose": "timber",
                    "for": [{ "episode": shop.episode }] }),
        );
        shop.receives_money();
        shop
    }

    fn receives_money(&self) {
        let platform = self.owner.has_party("Lanternwide", "platform");
        self.owner.records(
            "/v1/payouts",
            json!({ "date": "2025-08-21", "platform": platform, "paid_into": self.bank, "net": "430.00",
                    "lines": [{ "stream": "advertising", "gross": "400.00" }, { "stream": "tips", "gross": "100.00" }],
                    "fees": "50.00", "tax_withheld": "20.00" }),
        );
        let sponsor = self.owner.has_party("Merrowbank Paints", "sponsor");
        let deal = json!({ "date": "2025-01-20", "sponsor": sponsor, "title": "Paint", "amount": "1200.00",
                           "for": [{ "episode": self.episode }] });
        let deal = self.owner.makes("/v1/deals", deal);
        self.owner.records(
            &format!("/v1/deals/{deal}/instalments"),
            json!({ "date": "2025-02-20", "gross": "600.00", "kept_by_bank": "5.00", "net": "595.00", "paid_into": self.bank }),
        );
    }
}

#[test]
fn every_entered_line_is_the_sum_of_the_postings_behind_it_and_each_leads_to_its_record() {
    let shop = Workshop::busy_year();
    let year = shop.year(2025);
    let mut followed = 0;
    for line in year.0["lines"].as_array().unwrap() {
        let Some(path) = line["drill_down"].as_str().filter(|path| path.starts_with("/v1/postings")) else {
            continue;
        };
        let postings = shop.all(path);
        let sum: i64 = postings.iter().map(|one| cents(&one["amount"])).sum();
        let expected = match (line["part"].as_str().unwrap(), line["line"].as_str().unwrap()) {
            ("I", "2") => sum,
            ("I", _) => -sum,
            (_, "24b") => (sum + 1) / 2,
            _ => sum,
        };
        assert_eq!(cents(&line["exact"]), expected, "{line}");
        for posting in postings {
            let record = shop.owner.reads(posting["link"].as_str().unwrap());
            let entries = record["entries"].as_array().unwrap();
            let entry = entries.iter().find(|entry| entry["number"] == posting["entry"]).unwrap();
            assert!(
                entry["postings"].as_array().unwrap().iter().any(|one| one["amount"] == posting["amount"])
            );
            assert_eq!(shop.owner.reads(&format!("/v1/entries/{}", posting["entry"]))["id"], record["id"]);
            followed += 1;
        }
    }
    assert!(followed > 15, "{followed}");
    // 2,290: sponsorship 600, advertising 400, tips 100, the chair 1,100 and the goods 90.
    year.has_lines(&[
        ("1", "2290.00"),
        ("6", "20.00"),
        ("9", "70.00"),
        ("22", "81.99"),
        ("24b", "41.00"),
        ("42", "100.00"),
    ]);
}

#[test]
fn every_address_in_a_summary_can_be_read() {
    let shop = Workshop::busy_year();
    shop.keeps_sander("2025-07-01");
    let sale = json!({ "name": "old dresser", "date": "2025-05-03", "gross": "180.00", "basis_unknown": true,
                       "paid_into": shop.bank, "episode": shop.episode });
    shop.owner.records("/v1/furniture/sale", sale);
    shop.pays("2025-03-07", "12.00", json!({ "as": "home_repair" }));
    let year = shop.year(2025);
    let mut addresses = Vec::new();
    gather(&year.0, &mut addresses);
    let csv = shop.owner.get("/v1/tax-years/2025/summary?format=csv").text;
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    for row in reader.records() {
        addresses.extend(row.unwrap()[5].split(' ').filter(|one| one.starts_with('/')).map(str::to_owned));
    }
    addresses.sort();
    addresses.dedup();
    for address in &addresses {
        let (path, part) = address.split_once('#').unwrap_or((address, ""));
        let found = shop.owner.reads(path);
        assert!(part.is_empty() || found.get(part).is_some(), "{address}");
    }
    assert!(addresses.len() > 25, "{addresses:#?}");
}

/// Every text that is an address of this service.
fn gather(value: &Value, into: &mut Vec<String>) {
    match value {
        Value::String(text) if text.starts_with("/v1/") && !text.contains(' ') => into.push(text.clone()),
        Value::Array(items) => items.iter().for_each(|item| gather(item, into)),
        Value::Object(fields) => fields.values().for_each(|field| gather(field, into)),
        _ => {}
    }
}

#[test]
fn gross_income_is_bridged_to_the_money_that_came_in() {
    // An information return shows gross, the bank net (FS-2023-06, seen).
    let shop = Workshop::open();
    shop.receives_money();
    shop.is_given("2025-03-02", json!({ "value": "90.00", "fate": "kept_personally" }));
    let bridge = &shop.year(2025).0["reconciliation"];
    let amount = |field: &str| bridge[field].as_str().unwrap();
    assert_eq!((amount("gross"), amount("received")), ("1190.00", "1025.00"));
    assert_eq!(
        (amount("by_statements"), amount("by_instalments"), amount("in_other_ways")),
        ("430.00", "595.00", "0.00")
    );
    assert_eq!(bridge["agrees"], true);
    let streams: Vec<_> =
        bridge["by_stream"].as_array().unwrap().iter().map(|one| one["class"].as_str().unwrap()).collect();
    assert_eq!(streams, ["sponsorship", "goods_for_promotion", "advertising_income", "tips"]);
}
