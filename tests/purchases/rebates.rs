//! Rebates through the door: money back for stock that stays, and material that comes back from a piece of furniture.

use serde_json::{Value, json};

use crate::world::{Caller, World};

/// Twelve boards for 60.00: three for the shelves, two spoilt, one in a side table for resale, six left.
struct Boards {
    world: World,
    owner: Caller,
    bank: String,
    shelves: String,
    receipt: String,
    lot: String,
    table: String,
}

impl Boards {
    fn bought() -> Self {
        let world = World::open();
        let owner = world.owner();
        let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
        let shelves = owner.has_episode(&room, "Shelves");
        let stock = json!({ "material": "pine board", "unit": "piece", "quantity": "12" });
        let receipt = json!({ "date": "2025-03-02", "paid_from": bank, "total": "60.00",
                              "lines": [{ "text": "boards", "amount": "60.00", "stock": stock }] });
        let answer = owner.records("/v1/purchases", receipt);
        let lot = answer["things"].as_array().unwrap().iter().find(|one| one["what"] == "materials").unwrap();
        let (receipt, lot) =
            (answer["id"].as_str().unwrap().to_owned(), lot["id"].as_str().unwrap().to_owned());
        let table =
            json!({ "date": "2025-03-03", "name": "a side table", "purpose": "resale", "origin": "found" });
        let table = owner.makes("/v1/furniture", table);
        let boards = Self { world, owner, bank, shelves, receipt, lot, table };
        boards.moves("issues", json!({ "date": "2025-03-05", "quantity": "3", "episode": boards.shelves }));
        boards.moves("waste", json!({ "date": "2025-03-05", "quantity": "2" }));
        boards.moves("issues", json!({ "date": "2025-03-05", "quantity": "1", "piece": boards.table }));
        boards
    }

    fn moves(&self, way: &str, body: Value) -> Value {
        self.owner.records(&format!("/v1/materials/{}/{way}", self.lot), body)
    }

    fn refund(&self, date: &str, amount: &str, more: &Value) -> Value {
        let mut line = json!({ "line": 0, "amount": amount, "goods": "kept" });
        line.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        json!({ "date": date, "refunded_to": self.bank, "lines": [line] })
    }

    fn returns(&self) -> String {
        format!("/v1/purchases/{}/returns", self.receipt)
    }

    fn left(&self) -> (Value, Value) {
        let standing = self.owner.reads(&format!("/v1/materials/{}/standing", self.lot));
        (standing["remaining_quantity"].clone(), standing["remaining_cost"].clone())
    }

    fn cost(&self) -> Value {
        let statement = self.owner.reads(&format!("/v1/episodes/{}/statement", self.shelves));
        assert_eq!(statement["reconciles"], true);
        statement["cost_total"].clone()
    }

    fn of_source(&self, text: &str) -> Value {
        let roll = self.owner.reads("/v1/sources");
        assert_eq!(roll["reconciles"], true);
        let sources = roll["sources"].as_array().unwrap();
        sources.iter().find(|one| one["text"] == text).unwrap()["closing"].clone()
    }
}

// Derived: a fifth of the price comes back, and everybody bears a fifth less.
#[test]
fn a_rebate_makes_the_shelf_the_episode_and_the_piece_cheaper_and_what_leaves_later_too() {
    let boards = Boards::bought();
    let owner = &boards.owner;
    let refund = boards.refund("2025-04-01", "12.00", &json!({}));
    let rows = boards.world.rows_written();
    assert_eq!(owner.post(&format!("{}?dry_run=true", boards.returns()), &refund).status, 200);
    assert_eq!(boards.world.rows_written(), rows);
    let rebate = owner.records(&boards.returns(), refund);
    assert_eq!((boards.left(), boards.cost()), ((json!("6"), json!("24.00")), json!("12.00")));
    assert_eq!(boards.of_source("a side table"), "4.00");
    // On the shelf 24.00, for nobody 8.00.
    assert_eq!(boards.of_source("pine board"), "32.00");
    let issue =
        boards.moves("issues", json!({ "date": "2025-04-02", "quantity": "3", "episode": boards.shelves }));
    assert_eq!(boards.cost(), "24.00");
    let path = format!("/v1/records/{}/reversal", rebate["id"].as_str().unwrap());
    let said = owner.is_refused(409, &path, json!({ "reason": "it was for another" })).error_at("");
    assert!(said.contains("3 piece of pine board issued"), "{said}");
    let back = json!({ "date": "2025-04-03", "quantity": "6", "episode": boards.shelves });
    let back = boards.moves("returns", back);
    assert_eq!((boards.left(), boards.cost()), ((json!("9"), json!("36.00")), json!("0.00")));
    for record in [&back, &issue, &rebate] {
        let path = format!("/v1/records/{}/reversal", record["id"].as_str().unwrap());
        owner.records(&path, json!({ "reason": "it was for another" }));
    }
    assert_eq!((boards.left(), boards.cost()), ((json!("6"), json!("30.00")), json!("15.00")));
    assert_eq!(boards.of_source("a side table"), "5.00");
}

// Recovery of a cost deducted in an earlier year is income: IRC 111, from memory.
#[test]
fn money_back_in_a_later_year_for_boards_that_an_episode_used_is_income_of_that_episode() {
    let boards = Boards::bought();
    let owner = &boards.owner;
    let used = json!({ "episode": boards.shelves });
    let rebate = owner.records(&boards.returns(), boards.refund("2026-02-01", "4.00", &used));
    assert_eq!(rebate["entries"][0]["postings"][0]["account"], "income:other", "{rebate}");
    assert_eq!((boards.cost(), boards.left().1), (json!("15.00"), json!("30.00")));
    let statement = owner.reads(&format!("/v1/episodes/{}/statement", boards.shelves));
    assert_eq!(statement["income"][0], json!({ "stream": "other", "gross": "4.00", "in_kind": false }));
    let rows = boards.world.rows_written();
    let nobody = boards.refund("2026-02-02", "16.00", &used);
    owner.is_refused(422, &boards.returns(), nobody).error_at("/lines/0/amount");
    let away = json!({ "line": 0, "amount": "1.00", "episode": boards.shelves, "quantity": "1" });
    let away = json!({ "date": "2026-02-02", "refunded_to": boards.bank, "lines": [away] });
    owner.is_refused(422, &boards.returns(), away).error_at("/lines/0/goods");
    assert_eq!(boards.world.rows_written(), rows);
}

// Common practice, no source.
#[test]
fn a_board_comes_back_from_a_piece_and_not_from_one_that_is_sold() {
    let boards = Boards::bought();
    let owner = &boards.owner;
    boards.moves("issues", json!({ "date": "2025-03-06", "quantity": "2", "piece": boards.table }));
    assert_eq!((boards.of_source("a side table"), boards.left().1), (json!("15.00"), json!("20.00")));
    let back = |quantity: &str| json!({ "date": "2025-03-07", "quantity": quantity, "piece": boards.table });
    let path = format!("/v1/materials/{}/returns", boards.lot);
    let said = owner.is_refused(409, &path, back("4")).error_at("/quantity");
    assert!(said.contains("3 piece of this lot is there to come back"), "{said}");
    boards.moves("returns", back("1"));
    assert_eq!(
        (boards.of_source("a side table"), boards.left()),
        (json!("10.00"), (json!("5"), json!("25.00")))
    );
    let sale = json!({ "date": "2025-03-07", "gross": "90.00", "paid_into": boards.bank });
    owner.records(&format!("/v1/furniture/{}/sale", boards.table), sale);
    let said = owner.is_refused(409, &path, back("1")).error_at("/piece");
    assert!(
        said.contains("a side table was sold on 2025-03-07, and what it had cost by then went with it"),
        "{said}"
    );
    // A rebate on what went into it is other income of the year: its cost was settled by the sale.
    let rebate = owner
        .records(&boards.returns(), boards.refund("2025-04-01", "6.00", &json!({ "piece": boards.table })));
    assert_eq!(rebate["entries"][0]["postings"][0]["account"], "income:other", "{rebate}");
}

#[test]
fn a_set_piece_costs_its_episode_less_when_a_board_comes_back_from_it() {
    let boards = Boards::bought();
    let owner = &boards.owner;
    let stool = json!({ "date": "2025-03-03", "name": "a stool", "purpose": "set", "origin": "found",
                        "episode": boards.shelves });
    let stool = owner.makes("/v1/furniture", stool);
    boards.moves("issues", json!({ "date": "2025-03-06", "quantity": "2", "piece": stool }));
    assert_eq!(boards.cost(), "25.00");
    boards.moves("returns", json!({ "date": "2025-03-07", "quantity": "1", "piece": stool }));
    assert_eq!((boards.cost(), boards.of_source("a stool")), (json!("20.00"), json!("0.00")));
}
