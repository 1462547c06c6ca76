//! Furniture in its tax years.

use serde_json::json;

use super::{Workshop, cents};

#[test]
fn a_refrigerator_sold_at_a_loss_is_no_deduction_and_never_lowers_the_gain_on_another_thing() {
    // FS-2023-06, questions on information returns for private things (seen): 1,000 to 600, and 500 to 900
    let shop = Workshop::open();
    for (name, basis, gross) in
        [("old refrigerator", "1000.00", "600.00"), ("record cabinet", "500.00", "900.00")]
    {
        let sale = json!({ "name": name, "date": "2025-05-03", "gross": gross, "basis": basis,
                           "acquired_on": "2019-04-01", "paid_into": shop.bank, "episode": shop.episode });
        shop.owner.records("/v1/furniture/sale", sale);
    }
    let year = shop.year(2025);
    year.has_lines(&[("1", "0.00"), ("7", "0.00"), ("28", "0.00"), ("31", "0.00")]);
    let sales = &year.0["personal_sales"];
    assert_eq!((&sales["gains_taxed"], &sales["losses_not_deducted"]), (&json!("400.00"), &json!("400.00")));
    assert!(sales["says"].as_str().unwrap().contains("Form 8949"));
    let (fridge, cabinet) = (&sales["rows"][0], &sales["rows"][1]);
    assert_eq!((&fridge["loss"], &fridge["gain"]), (&json!("400.00"), &json!(null)));
    assert_eq!((&cabinet["gain"], &cabinet["loss"]), (&json!("400.00"), &json!(null)));
    let lost = &year.0["not_deducted"][0];
    assert_eq!((&lost["amount"], year.0["not_deducted"].as_array().unwrap().len()), (&json!("400.00"), 1));
    let beside = &year.0["off_the_form"][0];
    assert_eq!((&beside["label"], &beside["amount"]), (&json!("Private things sold"), &json!("1500.00")));
    // From the row to the piece, and from there to the record of its sale.
    let standing =
        shop.owner.reads(&format!("/v1/furniture/{}/standing", cabinet["piece"].as_str().unwrap()));
    let record = standing["sale"]["record"].as_str().unwrap();
    let record = shop.owner.reads(&format!("/v1/records/{record}"));
    assert_eq!(record["entries"][0]["postings"][1]["class"], "personal_property_sale");
}

impl Workshop {
    /// Bought in December for 80, refinished in January for 45 and nine own hours, sold in March for 390.
    fn turns_a_dresser_over(&self) {
        let owner = &self.owner;
        let dresser = owner.makes(
            "/v1/furniture",
            json!({ "name": "oak dresser", "date": "2025-12-10", "origin": "bought", "purpose": "resale",
                    "basis": "80.00", "paid_from": self.bank, "episode": self.episode }),
        );
        let bought = owner.records(
            "/v1/purchases",
            json!({ "date": "2026-01-04", "paid_from": self.bank, "total": "45.00", "lines": [{
                "text": "stripper and paint", "amount": "45.00",
                "stock": { "material": "stripper and paint", "unit": "set", "quantity": "1" } }] }),
        );
        let lot = bought["things"][0]["id"].as_str().unwrap();
        owner.records(
            &format!("/v1/materials/{lot}/issues"),
            json!({ "date": "2026-01-10", "quantity": "1", "piece": dresser }),
        );
        owner.records(
            "/v1/labour",
            json!({ "date": "2026-01-10", "person": "the owner", "standing": "own", "hours": "9", "piece": dresser }),
        );
        owner.records(
            &format!("/v1/furniture/{dresser}/sale"),
            json!({ "date": "2026-03-02", "gross": "390.00", "fees": "39.00", "paid_into": self.bank }),
        );
    }
}

#[test]
fn a_dresser_bought_in_december_and_sold_in_march_is_deducted_in_march() {
    // derived from Reg. 1.471-1(b)(4) (from memory) and Pub. 334 ch. 6 (seen)
    let shop = Workshop::open();
    shop.turns_a_dresser_over();
    let first = shop.year(2025);
    first.has_lines(&[
        ("35", "0.00"),
        ("36", "80.00"),
        ("40", "80.00"),
        ("41", "80.00"),
        ("42", "0.00"),
        ("31", "0.00"),
    ]);
    assert_eq!(first.asked("year_end_count").len(), 1);
    let second = shop.year(2026);
    second.has_lines(&[
        ("1", "390.00"),
        ("35", "80.00"),
        ("36", "0.00"),
        ("38", "45.00"),
        ("41", "0.00"),
        ("42", "125.00"),
        ("10", "39.00"),
        ("31", "226.00"),
    ]);
    assert!(second.asked("inventory").is_empty(), "{:?}", second.asked("inventory"));
    let stock = &second.0["inventory"];
    assert_eq!((&stock["pieces_opening"], &stock["pieces_sold"]), (&json!("80.00"), &json!("125.00")));
}

#[test]
fn each_figure_of_the_dresser_leads_down_to_its_record() {
    let shop = Workshop::open();
    shop.turns_a_dresser_over();
    let owner = &shop.owner;
    let (first, second) = (shop.year(2025), shop.year(2026));
    // What was bought and put in, the income, the fee.
    for (year, line, record) in
        [(&first, "36", "piece"), (&second, "38", "issue"), (&second, "1", "sale"), (&second, "10", "sale")]
    {
        let postings = shop.all(year.behind(line));
        assert_eq!(postings.len(), 1, "line {line}");
        assert_eq!(cents(&postings[0]["amount"]).abs(), cents(&json!(year.line(line))), "line {line}");
        assert_eq!(owner.reads(postings[0]["link"].as_str().unwrap())["kind"], record, "line {line}");
    }
    for (year, line, part, kinds) in [
        (&first, "41", "pieces_drill_down", vec!["piece"]),
        (&second, "41", "pieces_drill_down", vec!["piece", "issue", "sale"]),
    ] {
        let (address, schedule) = year.behind(line).split_once('#').unwrap();
        let stock = &owner.reads(address)[schedule];
        let postings = shop.all(stock[part].as_str().unwrap());
        let sum: i64 = postings.iter().map(|one| cents(&one["amount"])).sum();
        assert_eq!(sum, cents(&json!(year.line(line))));
        let link =
            |posting: &serde_json::Value| owner.reads(posting["link"].as_str().unwrap())["kind"].clone();
        assert_eq!(postings.iter().map(link).collect::<Vec<_>>(), kinds);
    }
    let stock = &second.0["inventory"];
    let (before, schedule) = stock["opening_drill_down"].as_str().unwrap().split_once('#').unwrap();
    assert_eq!(owner.reads(before)[schedule]["pieces_closing"], "80.00");
}
