//! Tools that were private before, down to the year's disposals: what a gain and what a loss is counted from.

use serde_json::{Value, json};

use super::Workshop;
use crate::world::postings;

impl Workshop {
    fn brings_in(&self, had_cost: &str, value: &str) -> Value {
        let body = json!({ "name": "camera", "date": "2025-03-01", "origin": "converted_from_personal",
                           "cost": had_cost, "value": value, "method": "equal_share" });
        self.owner.records("/v1/tools", body)
    }

    fn sells(&self, tool: &str, on: &str, price: &str) -> Value {
        let sale = json!({ "date": on, "kind": "sold", "proceeds": price, "paid_into": self.bank });
        self.owner.records(&format!("/v1/tools/{tool}/disposal"), sale)
    }

    /// The year's disposal of a tool: basis, basis for a loss, gain, loss.
    fn left_in(&self, year: i32, tool: &str) -> [Value; 4] {
        let summary = self.owner.reads(&format!("/v1/tax-years/{year}/summary"));
        let standing = format!("/v1/tools/{tool}/standing");
        let sales = summary["business_sales"].as_array().unwrap();
        let sale = sales.iter().find(|sale| sale["drill_down"] == *standing).unwrap();
        ["basis", "basis_for_loss", "gain", "loss"].map(|field| sale[field].clone())
    }
}

// Pub. 551, property changed to business or rental use (its sale seen); figures derived: 400 by table A-1 (seen) gives
// 57.16 in 2025 and half of 97.96 in the year of its sale, together 106.14.
#[test]
fn a_camera_of_900_brought_in_at_400_gives_a_gain_above_793_86_and_a_loss_below_293_86() {
    let workshop = Workshop::open();
    for (price, gain, loss) in
        [("500.00", "0.00", "0.00"), ("850.00", "56.14", "0.00"), ("200.00", "0.00", "93.86")]
    {
        let camera = workshop.brings_in("900.00", "400.00");
        assert_eq!(postings(&camera["entries"][0]), ["tools_at_cost 400.00", "owner_contribution -400.00"]);
        let camera = camera["id"].as_str().unwrap();
        let standing = workshop.standing(camera);
        assert_eq!((&standing["cost"], &standing["basis_for_gain"]), (&json!("400.00"), &json!("900.00")));
        let sold = workshop.sells(camera, "2026-05-20", price);
        let notes = sold["notes"].to_string();
        assert!(notes.contains("it has two bases: 900.00 counts for a gain, 400.00 for a loss"), "{notes}");
        assert_eq!(
            workshop.left_in(2026, camera),
            [json!("793.86"), json!("293.86"), json!(gain), json!(loss)],
            "{price}"
        );
    }
}

// Pub. 551, property received as a gift: giver's basis 10,000, value 8,000 (12,000 and 7,000 seen, 9,000 from memory).
#[test]
fn a_gift_of_a_tool_whose_givers_basis_is_known_has_its_two_bases_in_the_year_it_is_sold() {
    let workshop = Workshop::open();
    let given = json!({ "name": "lathe", "date": "2025-03-01", "origin": "personal_gift", "cost": "10000.00",
                        "method": "equal_share" });
    let refused = workshop.owner.is_refused(422, "/v1/tools", given);
    assert!(refused.error_at("/cost").contains("the giver's basis as cost, its value as value"));
    for (price, gain, loss) in
        [("12000.00", "2000.00", "0.00"), ("7000.00", "0.00", "1000.00"), ("9000.00", "0.00", "0.00")]
    {
        let lathe = workshop.brings_in("10000.00", "8000.00");
        let lathe = lathe["id"].as_str().unwrap();
        workshop.sells(lathe, "2025-09-01", price);
        assert_eq!(
            workshop.left_in(2025, lathe),
            [json!("10000.00"), json!("8000.00"), json!(gain), json!(loss)]
        );
    }
}

// Pub. 551, property changed to business or rental use (seen): 203,000 and 180,000, each less 37,500.
#[test]
fn an_old_tool_of_the_opening_position_brings_both_its_bases() {
    let workshop = Workshop::open();
    let opening = |tool: Value| {
        let mut it = json!({ "terms": { "name": "planer", "method": "equal_share" }, "acquired_on": "2012-05-01",
                             "cost": "180000.00", "depreciation_taken": "37500.00", "convention": "half_year" });
        it.as_object_mut().unwrap().extend(tool.as_object().unwrap().clone());
        json!({ "date": "2023-01-01", "what": "tool", "tool": it })
    };
    let bought = opening(json!({ "basis_for_gain": "203000.00" }));
    let refused = workshop.owner.is_refused(422, "/v1/openings", bought);
    assert!(refused.error_at("/tool/basis_for_gain").contains("the origin is bought"));
    let converted =
        |more: &str| opening(json!({ "origin": "converted_from_personal", "basis_for_gain": more }));
    let refused = workshop.owner.is_refused(422, "/v1/openings", converted("179999.99"));
    assert!(refused.error_at("/tool/basis_for_gain").contains("the lower of the two"));
    let opened = workshop.owner.records("/v1/openings", converted("203000.00"));
    let planer = opened["things"][0]["id"].as_str().unwrap();
    workshop.sells(planer, "2025-06-01", "150000.00");
    assert_eq!(
        workshop.left_in(2025, planer),
        [json!("165500.00"), json!("142500.00"), json!("0.00"), json!("0.00")]
    );
}
