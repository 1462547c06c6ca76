//! Tools in their tax years.

use serde_json::{Value, json};

use super::Workshop;
use crate::world::postings;

#[test]
fn a_saw_of_june_2025_is_written_off_in_full_and_followed_to_its_receipt() {
    // Notice 2026-11 on IRC 168(k): acquired after 2025-01-19, 100 percent unless left (seen)
    let shop = Workshop::open();
    let saw = shop.buys_tool("2025-06-10", "3200.00", json!({}));
    let year = shop.year(2025);
    year.has_lines(&[("13", "3200.00"), ("31", "-3200.00")]);
    let schedule = &year.0["depreciation"];
    let row = &schedule["rows"][0];
    assert_eq!(
        (&row["special_allowance"], &row["left"], &row["tool"]),
        (&json!("3200.00"), &json!("0.00"), &json!(saw))
    );
    assert!(schedule["says"].as_str().unwrap().contains("none of it before the year is closed"));
    // From the line to the schedule, to the tool, to its record, to its entry.
    let line = year.0["lines"].as_array().unwrap().iter().find(|line| line["line"] == "13").unwrap();
    let (address, part) = line["drill_down"].as_str().unwrap().split_once('#').unwrap();
    assert_eq!(shop.owner.reads(address)[part], *schedule);
    let standing = shop.owner.reads(&format!("/v1/tools/{saw}/standing"));
    let record = shop.owner.reads(&format!("/v1/records/{}", standing["record"].as_str().unwrap()));
    assert_eq!(postings(&record["entries"][0]), ["tools_at_cost 3200.00", "money -3200.00"]);
    // Its life is over: the year after takes nothing more.
    shop.year(2026).has_lines(&[("13", "0.00")]);
}

#[test]
fn a_class_that_leaves_the_allowance_goes_by_the_published_table() {
    // Pub. 946 ch. 4, furniture of 10,000 placed in service in August (from memory), table A-1 (seen)
    let shop = Workshop::open();
    shop.buys_tool("2025-08-11", "10000.00", json!({ "name": "a wall of cupboards" }));
    shop.chooses(2025, json!({ "kind": "no_special_allowance", "class": "7" }));
    for (year, amount) in [(2025, "1429.00"), (2026, "2449.00")] {
        shop.year(year).has_lines(&[("13", amount)]);
    }
    let year = shop.year(2026);
    let row = &year.0["depreciation"]["rows"][0];
    assert_eq!((&row["prior"], &row["left"]), (&json!("1429.00"), &json!("6122.00")));
}

#[test]
fn a_tool_of_the_opening_position_goes_on_where_the_old_returns_left_it() {
    // Pub. 946 Appendix A, table A-1, seven years: 14.29, then 24.49 (seen)
    let shop = Workshop::open();
    let lathe = json!({
        "date": "2025-01-01", "what": "tool", "tool": {
            "terms": { "name": "lathe", "method": "equal_share" }, "acquired_on": "2024-05-02", "cost": "10000.00",
            "depreciation_taken": "1429.00", "convention": "half_year",
        },
    });
    shop.owner.records("/v1/openings", lathe);
    let year = shop.year(2025);
    year.has_lines(&[("13", "2449.00")]);
    assert!(year.asked("opening_position").is_empty() && year.asked("prior_depreciation").is_empty());
}

#[test]
fn a_van_for_people_of_6800_pounds_takes_31_300_under_section_179_and_the_rest_by_the_allowance() {
    // IRC 179(b)(5), 31,300 for 2025 (seen); Notice 2026-11 on IRC 168(k) (seen)
    let shop = Workshop::open();
    let terms = json!({ "class": "5", "choice": "section_179", "section_179": "80000.00",
                        "vehicle": { "gross_pounds": 6800, "body": "passenger" } });
    shop.buys_tool("2025-03-01", "80000.00", terms);
    let year = shop.year(2025);
    let row = &year.0["depreciation"]["rows"][0];
    assert_eq!((&row["section_179"], &row["special_allowance"]), (&json!("31300.00"), &json!("48700.00")));
    let asked = year.asked("section_179");
    assert!(asked.iter().any(|one| one["question"].as_str().unwrap().contains("31300.00 of it are allowed")));
    let body = json!({ "name": "van", "date": "2025-03-01", "origin": "bought", "cost": "1.00", "method": "equal_share",
                       "paid_from": shop.bank, "vehicle": { "gross_pounds": 0, "body": "boat" } });
    let refused = shop.owner.is_refused(422, "/v1/tools", body);
    assert!(
        !refused.error_at("/vehicle/gross_pounds").is_empty()
            && !refused.error_at("/vehicle/body").is_empty()
    );
}

#[test]
fn section_179_beyond_the_years_profit_waits_for_the_next_one() {
    // IRC 179(b)(3) (seen in a summary of the 2025 act)
    let shop = Workshop::since("2024-01-01");
    shop.buys_tool("2024-03-01", "3000.00", json!({ "choice": "section_179", "section_179": "3000.00" }));
    shop.earns("2024-06-01", "1100.00");
    shop.earns("2025-06-01", "5100.00");
    let first = shop.year(2024);
    first.has_lines(&[("5", "1000.00"), ("13", "1000.00"), ("31", "0.00")]);
    assert_eq!(first.0["section_179"]["carried_over"], "2000.00");
    let second = shop.year(2025);
    second.has_lines(&[("13", "2000.00"), ("31", "3000.00")]);
    assert_eq!(second.0["section_179"]["brought_forward"], "2000.00");
    assert_eq!(shop.year(2026).0["section_179"]["brought_forward"], "0.00");
}

#[test]
fn a_carry_over_from_before_the_books_is_allowed_as_far_as_the_income_of_each_year_reaches() {
    // IRC 179(b)(3) (seen in a summary of the 2025 act)
    let shop = Workshop::open();
    let stated = json!({ "date": "2025-01-01", "what": "section_179_carry_over", "amount": "1500.00" });
    shop.owner.records("/v1/openings", stated.clone());
    shop.owner.is_refused(409, "/v1/openings", stated);
    shop.earns("2025-06-01", "1100.00");
    shop.earns("2026-06-01", "5100.00");
    let first = shop.year(2025);
    first.has_lines(&[("13", "1000.00"), ("31", "0.00")]);
    assert_eq!(first.0["section_179"]["brought_forward"], "1500.00");
    shop.year(2026).has_lines(&[("13", "500.00"), ("31", "4500.00")]);
    // Closing posts what the year allowed, on no tool of these books.
    let closing = json!({ "through": "2025-12-31", "reason": "filed" });
    let closed = shop.owner.records("/v1/books/closing", closing);
    assert_eq!(
        postings(&closed["entries"][0]),
        ["expense:depreciation 1000.00 depreciation", "accumulated_depreciation -1000.00"]
    );
}

#[test]
fn a_thousand_miles_and_tolls_are_on_the_line_of_vehicles() {
    // Notice 2025-05: 70 cents a mile (seen); tolls and parking beside it (Pub. 463, seen)
    let shop = Workshop::open();
    let trip = |miles: &str, vehicle: &str| {
        json!({ "date": "2025-04-02", "vehicle": vehicle, "distance": miles, "unit": "mile",
                "purpose": "timber for the shelves", "for": [{ "episode": shop.episode }] })
    };
    shop.owner.records("/v1/trips", trip("600", "Van"));
    shop.owner.records("/v1/trips", trip("400", "van"));
    shop.pays("2025-04-02", "18.00", json!({ "as": "expense", "class": "vehicle" }));
    let year = shop.year(2025);
    year.has_lines(&[("9", "718.00"), ("44a", "1000")]);
    let mileage = &year.0["mileage"];
    assert_eq!(
        (mileage["rows"].as_array().unwrap().len(), &mileage["beside_the_rate"]),
        (1, &json!("18.00"))
    );
    assert_eq!(mileage["rows"][0]["depreciation_part"], "330.00");
}

#[test]
fn what_was_taken_back_is_in_no_line_of_its_year() {
    let shop = Workshop::open();
    let meal = shop.pays("2025-02-03", "82.00", json!({ "as": "expense", "class": "meals" }));
    let saw = shop.buys_tool("2025-06-10", "3200.00", json!({}));
    // Half of a meal, tax and tip included (IRC 274(n), seen for 2024).
    shop.year(2025).has_lines(&[("24b", "41.00"), ("13", "3200.00")]);
    shop.owner.records("/v1/books/closing", json!({ "through": "2025-12-31", "reason": "filed" }));
    let reversal = || -> Value { json!({ "reason": "entered by mistake" }) };
    let taken =
        shop.owner.records(&format!("/v1/records/{}/reversal", meal["id"].as_str().unwrap()), reversal());
    assert_eq!(taken["entries"][0]["date"], "2026-01-01");
    shop.owner.records(&format!("/v1/records/{saw}/reversal"), reversal());
    // The postings keep their tax year: the filed year is amended, the next one is not touched.
    shop.year(2025).has_lines(&[("24b", "0.00"), ("13", "0.00"), ("28", "0.00")]);
    shop.year(2026).has_lines(&[("24b", "0.00"), ("28", "0.00")]);
}

impl Workshop {
    /// A receipt of those lines, its tools named as the lines are.
    fn buys_on_one_invoice(&self, lines: &[(&str, &str)], tax: &str, delivery: &str, total: &str) {
        let line = |(name, amount): &(&str, &str)| json!({ "text": name, "amount": amount, "tool": { "name": name, "method": "equal_share" } });
        let lines: Vec<_> = lines.iter().map(line).collect();
        let receipt = json!({ "date": "2025-03-02", "paid_from": self.bank, "total": total, "tax": tax,
                              "delivery": delivery, "lines": lines });
        self.owner.records("/v1/purchases", receipt);
    }

    /// The planer and the jointer, for one price and worth 3 to 2.
    fn buys_kit(&self, price: &str) {
        let one = |name: &str, value: &str| json!({ "fair_value": value, "tool": { "name": name, "method": "equal_share" } });
        let kit = json!({ "date": "2025-03-02", "paid_from": self.bank, "total": price, "lines": [{
            "text": "planer and jointer", "amount": price, "tools": [one("planer", "3000.00"), one("jointer", "2000.00")] }] });
        self.owner.records("/v1/purchases", kit);
    }

    /// What the year writes off at once of each tool.
    fn expensed(&self) -> Vec<(String, String)> {
        let year = self.year(2025);
        let text = |value: &Value| value.as_str().unwrap().to_owned();
        let rows = year.0["depreciation"]["rows"].as_array().unwrap();
        rows.iter().map(|row| (text(&row["name"]), text(&row["expensed"]))).collect()
    }
}

fn owned(rows: &[(&str, &str)]) -> Vec<(String, String)> {
    rows.iter().map(|(name, amount)| ((*name).to_owned(), (*amount).to_owned())).collect()
}

// Reg. 1.263(a)-1(f): 2,500 an item as the invoice proves it, with its share of delivery, all or nothing (seen). Tax of
// 0 and delivery of 60.00 give the saw of 2,450 its 2,450/2,500: 58.80, together 2,508.80; of 50.00, 49.00: 2,499.00.
#[test]
fn delivery_of_60_makes_a_saw_of_2450_too_dear_for_the_safe_harbor_and_of_50_does_not() {
    for (delivery, total, expensed) in [("60.00", "2560.00", "0.00"), ("50.00", "2550.00", "2499.00")] {
        let shop = Workshop::open();
        shop.chooses(2025, json!({ "kind": "de_minimis" }));
        shop.buys_on_one_invoice(&[("saw", "2450.00"), ("vice", "50.00")], "0.00", delivery, total);
        let vice = if delivery == "60.00" { "51.20" } else { "51.00" };
        assert_eq!(shop.expensed(), owned(&[("saw", expensed), ("vice", vice)]), "{delivery}");
    }
}

// Reg. 1.263(a)-1(f) (seen): several items on one invoice are looked at one by one, tax spread over them first.
#[test]
fn an_invoice_of_five_thousand_with_two_prices_is_two_items_and_tax_counts_with_each() {
    let shop = Workshop::open();
    shop.chooses(2025, json!({ "kind": "de_minimis" }));
    shop.buys_on_one_invoice(&[("planer", "2300.00"), ("lathe", "2400.00")], "235.00", "0.00", "4935.00");
    // 5 %: 2,415.00 is within 2,500, 2,520.00 is not.
    assert_eq!(shop.expensed(), owned(&[("planer", "2415.00"), ("lathe", "0.00")]));
}

// Reg. 1.263(a)-1(f) (seen): what the invoice does not price by itself is not proved by it; so the price of the kit.
#[test]
fn the_tools_of_a_kit_are_small_tools_where_the_price_of_the_kit_is() {
    let shop = Workshop::open();
    shop.chooses(2025, json!({ "kind": "de_minimis" }));
    shop.buys_kit("2500.00");
    assert_eq!(shop.expensed(), owned(&[("planer", "1500.00"), ("jointer", "1000.00")]));
    let shop = Workshop::open();
    shop.chooses(2025, json!({ "kind": "de_minimis" }));
    shop.buys_kit("4000.00");
    assert_eq!(shop.expensed(), owned(&[("planer", "0.00"), ("jointer", "0.00")]));
    let year = shop.year(2025);
    // Notice 2026-11 on IRC 168(k): the whole 4,000 by the special allowance (seen)
    year.has_lines(&[("13", "4000.00"), ("48", "0.00")]);
    let asked = year.asked("de_minimis");
    assert!(asked[0]["question"].as_str().unwrap().contains("does it name a price for each?"), "{asked:?}");
    assert_eq!(asked[0]["about"].as_array().unwrap().len(), 2);
}

// Reg. 1.263(a)-1(f) and Notice 2015-82: 5,000 with an applicable financial statement (seen).
#[test]
fn with_an_applicable_financial_statement_the_safe_harbor_reaches_five_thousand() {
    let shop = Workshop::open();
    let made = shop.chooses(2025, json!({ "kind": "de_minimis_with_statement" }));
    assert!(made["notes"][0].as_str().unwrap().contains("no more than 5000 an item"));
    let path = "/v1/tax-years/2025/elections";
    let said = shop.owner.is_refused(409, path, json!({ "kind": "de_minimis" })).error_at("/kind");
    assert!(said.contains("the year has one limit of the safe harbor"), "{said}");
    shop.buys_on_one_invoice(&[("mill", "5000.00"), ("lathe", "5000.01")], "0.00", "0.00", "10000.01");
    shop.buys_kit("4000.00");
    assert_eq!(
        shop.expensed(),
        owned(&[("mill", "5000.00"), ("lathe", "0.00"), ("planer", "2400.00"), ("jointer", "1600.00")])
    );
}
