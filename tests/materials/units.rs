//! Bought by the box or gallon, used by the piece or pint.

use serde_json::json;

use super::StoreRoom;
use crate::world::Kept;

impl StoreRoom {
    /// Boxes of twelve tiles, kept by the piece.
    fn buys_boxes(&self, date: &str, boxes: &str, total: &str) -> (String, String) {
        let stock = json!({ "material": "tile", "unit": "box", "quantity": boxes,
                            "kept_in": { "unit": "piece", "factor": "12" } });
        let receipt = json!({ "date": date, "paid_from": self.bank, "total": total,
                              "lines": [{ "text": "tiles", "amount": total, "stock": stock }] });
        let answer = self.owner.records("/v1/purchases", receipt);
        let lot = answer["things"].as_array().unwrap().iter().find(|one| one["what"] == "materials").unwrap();
        (answer["id"].as_str().unwrap().to_owned(), lot["id"].as_str().unwrap().to_owned())
    }
}

#[test]
fn two_boxes_of_twelve_tiles_are_kept_by_the_piece_and_used_by_either() {
    let room = StoreRoom::open();
    let (receipt, lot) = room.buys_boxes("2025-03-01", "2", "50.00");
    let standing = room.standing(&lot);
    assert_eq!((&standing["unit"], &standing["quantity"]), (&json!("piece"), &json!("24")));
    let units = json!([{ "unit": "piece", "factor": "1" }, { "unit": "box", "factor": "12" }]);
    assert_eq!(standing["units"], units);
    assert_eq!(room.owner.reads("/v1/materials")["items"][0]["units"], units);
    let by_box = json!({ "date": "2025-03-02", "quantity": "1", "unit": "box", "episode": room.first });
    let issues = format!("/v1/materials/{lot}/issues");
    let rows = room.world.rows_written();
    let dry = room.owner.post(&format!("{issues}?dry_run=true"), &by_box).json();
    assert_eq!((cost(&dry), room.world.rows_written()), ("25.00".to_owned(), rows));
    let issued = room.owner.records(&issues, by_box);
    assert_eq!(issued["record"]["unit"], "box");
    let by_name = json!({ "material": "tile", "date": "2025-03-03", "quantity": "7", "unit": "piece",
                          "episode": room.second });
    assert_eq!(cost(&room.owner.records("/v1/materials/issues", by_name)), "14.58");
    let back = json!({ "date": "2025-03-04", "quantity": "0.5", "unit": "box", "episode": room.first });
    room.owner.records(&format!("/v1/materials/{lot}/returns"), back);
    let spoilt = json!({ "date": "2025-03-05", "quantity": "0.25", "unit": "box" });
    room.owner.records(&format!("/v1/materials/{lot}/waste"), spoilt);
    let counted = json!({ "date": "2025-03-05", "counted": "0.5", "unit": "box" });
    room.owner.records(&format!("/v1/materials/{lot}/counts"), counted);
    assert_eq!(room.left(&lot).0, "6");
    let vendor = json!({ "date": "2025-03-06", "refunded_to": room.bank,
                         "lines": [{ "line": 0, "amount": "10.00", "quantity": "0.5", "unit": "box" }] });
    room.owner.records(&format!("/v1/purchases/{receipt}/returns"), vendor);
    assert_eq!(room.left(&lot), ("0".to_owned(), "0.00".to_owned()));
    room.rolls_forward();
}

fn cost(answer: &serde_json::Value) -> String {
    answer["attributions"][0]["amount"].as_str().unwrap().to_owned()
}

#[test]
fn a_unit_that_nobody_knows_and_a_part_that_has_no_end_are_refused_at_their_field() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys_boxes("2025-03-01", "2", "50.00");
    let path = format!("/v1/materials/{lot}/issues");
    let asked = |unit: &str| json!({ "date": "2025-03-02", "quantity": "1", "unit": unit });
    let said = room.owner.is_refused(422, &path, asked("pallet")).error_at("/unit");
    assert!(said.contains("it is not known how much a pallet of it is"), "{said}");
    let opening = json!({ "date": "2025-01-01", "what": "lot", "lot": {
        "material": "linen", "quantity": "30", "unit": "foot", "cost": "30.00",
        "kept_in": { "unit": "yard", "factor": "1/3" } } });
    let opened = room.owner.records("/v1/openings", opening.clone());
    assert_eq!(opened["record"]["lot"]["kept_in"]["factor"], "1/3");
    let by_name = json!({ "material": "linen", "date": "2025-03-02", "quantity": "1", "unit": "foot" });
    let said = room.owner.is_refused(422, "/v1/materials/issues", by_name).error_at("/quantity");
    assert!(said.contains("nothing is rounded"), "{said}");
    let mut unending = opening;
    unending["lot"]["quantity"] = json!("31");
    room.owner.is_refused(422, "/v1/openings", unending.clone()).error_at("/lot/kept_in/factor");
    unending["lot"]["kept_in"]["factor"] = json!("0");
    assert!(room.owner.post("/v1/openings", &unending).status >= 400);
    unending["lot"]["kept_in"]["factor"] = json!("one third");
    assert!(room.owner.post("/v1/openings", &unending).status >= 400);
}

#[test]
fn the_moving_average_of_boxes_is_rounded_once() {
    let room = StoreRoom::keeping(&Kept { flow: super::MaterialsFlow::MovingAverage, ..Kept::usual() });
    room.buys_boxes("2025-03-01", "2", "50.00");
    room.buys_boxes("2025-03-02", "1", "31.00");
    let one = json!({ "material": "tile", "date": "2025-03-03", "quantity": "1", "unit": "box", "episode": room.first });
    let issued = room.owner.records("/v1/materials/issues", one);
    let parts: Vec<_> = issued["attributions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["amount"].as_str().unwrap())
        .collect();
    assert_eq!(parts, ["16.67", "10.33"]);
    room.rolls_forward();
}
