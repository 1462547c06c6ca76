//! Materials through the door: what a receipt puts on the shelf, what leaves it and comes back.
#![cfg(test)]

mod units;

use ledgerboard::rules::recording::{MaterialsFlow, MaterialsTiming};
use serde_json::{Value, json};

use crate::world::{Caller, Kept, World, postings};

/// A store room with money and two episodes.
struct StoreRoom {
    world: World,
    owner: Caller,
    bank: String,
    first: String,
    second: String,
}

impl StoreRoom {
    fn open() -> Self {
        Self::keeping(&Kept::usual())
    }

    fn keeping(kept: &Kept) -> Self {
        let world = World::keeping(kept);
        let owner = world.owner();
        let (bank, room) = (owner.has_account("bank"), owner.has_project("The reading room"));
        let (first, second) =
            (owner.has_episode(&room, "The floor"), owner.has_episode(&room, "The shelves"));
        Self { world, owner, bank, first, second }
    }

    /// A receipt of one line that goes to stock; the receipt's record and its lot.
    fn buys(&self, material: &str, date: &str, quantity: &str, total: &str) -> (String, String) {
        let receipt = json!({
            "date": date, "paid_from": self.bank, "total": total,
            "lines": [{ "text": material, "amount": total,
                        "stock": { "material": material, "unit": "piece", "quantity": quantity } }]
        });
        let answer = self.owner.records("/v1/purchases", receipt);
        let lot = answer["things"].as_array().unwrap().iter().find(|one| one["what"] == "materials").unwrap();
        (answer["id"].as_str().unwrap().to_owned(), lot["id"].as_str().unwrap().to_owned())
    }

    fn issues(&self, material: &str, date: &str, quantity: &str) -> Value {
        let body = json!({ "material": material, "date": date, "quantity": quantity, "episode": self.first });
        self.owner.records("/v1/materials/issues", body)
    }

    fn standing(&self, lot: &str) -> Value {
        self.owner.reads(&format!("/v1/materials/{lot}/standing"))
    }

    /// What is left in a lot: quantity and cost.
    fn left(&self, lot: &str) -> (String, String) {
        let standing = self.standing(lot);
        let text = |name: &str| standing[name].as_str().unwrap().to_owned();
        (text("remaining_quantity"), text("remaining_cost"))
    }

    fn takes_back(&self, record: &str, on: Option<&str>) -> Value {
        let mut body = json!({ "reason": "it was written down wrongly" });
        if let Some(day) = on {
            body["date"] = json!(day);
        }
        self.owner.records(&format!("/v1/records/{record}/reversal"), body)
    }

    /// At the end of every day every source has given at most what it had, and lots hold what the ledger says.
    fn rolls_forward(&self) {
        let out = "SELECT count(*) FROM ( \
            SELECT sum(sum(moved)) OVER days AS held, sum(sum(given)) OVER days AS given FROM ( \
                SELECT source_id, date, amount AS moved, 0 AS given FROM movements \
                UNION ALL SELECT source_id, date, 0, amount FROM attributions) changes \
            GROUP BY source_id, date WINDOW days AS (PARTITION BY source_id ORDER BY date)) standing \
            WHERE given > held OR given < 0";
        assert_eq!(self.world.count(out), 0, "a source does not roll forward");
        let apart = "SELECT count(*) FROM (SELECT \
            (SELECT coalesce(sum(amount), 0) FROM postings WHERE account = 'materials_on_hand') AS ledger, \
            (SELECT coalesce(sum(cost), 0) FROM lots WHERE standing = 'on_hand' AND NOT EXISTS \
                (SELECT FROM record_reversals r WHERE r.record_id = lots.record_id)) + \
            (SELECT coalesce(sum(m.cost), 0) FROM lot_moves m JOIN lots l ON l.id = m.lot_id \
                WHERE l.standing = 'on_hand' AND NOT EXISTS \
                (SELECT FROM record_reversals r WHERE r.record_id = m.record_id)) AS lots) both_sides \
            WHERE ledger <> lots";
        assert_eq!(self.world.count(apart), 0, "the lots are not what the ledger says");
    }
}

fn cost_out(answer: &Value) -> &str {
    answer["attributions"][0]["amount"].as_str().unwrap()
}

// An open textbook's exercise on inventory (inputs seen in a page copying it, its figures from memory): 150 at 21
// on hand, 225 at 27 bought on 10 July, 210 at 33 on 25 July; 120 leave on 5 July and 180 on 15 July.
#[test]
fn first_in_first_out_costs_issue_by_issue_what_the_exercise_says() {
    let room = StoreRoom::open();
    let (_, opening) = room.buys("oak board", "2025-07-01", "150", "3150.00");
    let early = room.issues("oak board", "2025-07-05", "120");
    assert_eq!(
        postings(&early["entries"][0]),
        ["expense:supplies 2520.00 supplies", "materials_on_hand -2520.00"]
    );
    let (_, second) = room.buys("oak board", "2025-07-10", "225", "6075.00");
    let late = room.issues("oak board", "2025-07-15", "180");
    assert_eq!(
        postings(&late["entries"][0]),
        ["expense:supplies 4680.00 supplies", "materials_on_hand -4680.00"]
    );
    let (_, third) = room.buys("oak board", "2025-07-25", "210", "6930.00");
    let list = room.owner.reads("/v1/materials?material=oak%20board");
    let lots: Vec<_> = list["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|lot| (&lot["id"], &lot["remaining_quantity"], &lot["remaining_cost"]))
        .map(|(id, quantity, cost)| [id, quantity, cost].map(|one| one.as_str().unwrap().to_owned()))
        .collect();
    assert_eq!(lots[0], [opening.as_str(), "0", "0.00"]);
    assert_eq!(lots[1], [second.as_str(), "75", "2025.00"]);
    assert_eq!(lots[2], [third.as_str(), "210", "6930.00"]);
    let on_hand = "SELECT (sum(amount) * 100)::bigint FROM postings WHERE account = 'materials_on_hand'";
    assert_eq!(room.world.count(on_hand), 895_500);
    let standing = room.standing(&opening);
    let moves: Vec<_> = standing["moves"].as_array().unwrap().iter().map(|one| &one["cost"]).collect();
    assert_eq!(moves, ["-2520.00", "-630.00"]);
    assert_eq!(standing["moves"][0]["episode"], json!(room.first));
    room.rolls_forward();
}

// Derived: a sheet of 8 by 4 feet for 54.90, of which one episode takes 18 square feet and another 9, and 5 are
// scrap: 30.88, 15.44 and 8.58 come to 54.90.
#[test]
fn a_sheet_of_plywood_is_cut_over_two_episodes_and_its_scrap_is_overhead() {
    let room = StoreRoom::open();
    let (_, sheet) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let cut = |quantity: &str, episode: &str| {
        let body = json!({ "date": "2025-03-08", "quantity": quantity, "episode": episode });
        room.owner.records(&format!("/v1/materials/{sheet}/issues"), body)
    };
    assert_eq!(cost_out(&cut("18", &room.first)), "30.88");
    assert_eq!(cost_out(&cut("9", &room.second)), "15.44");
    let waste = format!("/v1/materials/{sheet}/waste");
    let more = room.owner.is_refused(409, &waste, json!({ "date": "2025-03-09", "quantity": "5.5" }));
    assert!(
        more.error_at("/quantity").contains("5.5 piece is asked for, and 5 piece is there on 2025-03-09")
    );
    let scrap = room.owner.records(&waste, json!({ "date": "2025-03-09", "quantity": "5" }));
    assert_eq!(postings(&scrap["entries"][0]), ["expense:supplies 8.58 supplies", "materials_on_hand -8.58"]);
    assert_eq!(scrap["attributions"], json!([]));
    assert_eq!(room.left(&sheet), ("0".to_owned(), "0.00".to_owned()));
    let records = room.owner.reads("/v1/materials/records");
    let kinds: Vec<_> = records["items"].as_array().unwrap().iter().map(|one| &one["kind"]).collect();
    assert_eq!(kinds, ["issue", "issue", "waste"]);
    let path = format!("/v1/materials/records/{}", scrap["id"].as_str().unwrap());
    assert_eq!(room.owner.reads(&path)["record"]["quantity"], "5");
    room.rolls_forward();
}

// Common practice, no source: for stock the treatment is decided as it leaves; what comes back undoes the same.
#[test]
fn boards_left_in_the_owners_room_are_a_draw_and_what_comes_back_undoes_it() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("floor board", "2025-03-01", "10", "100.00");
    let issues = format!("/v1/materials/{lot}/issues");
    let laid = json!({ "date": "2025-03-02", "quantity": "6", "episode": room.first,
                       "treatment": { "as": "home_improvement" } });
    let laid = room.owner.records(&issues, laid);
    assert_eq!(
        postings(&laid["entries"][0]),
        ["draw:home_improvements 60.00 home_improvement", "materials_on_hand -60.00"]
    );
    room.owner.records(&issues, json!({ "date": "2025-03-02", "quantity": "2", "episode": room.first }));
    let returns = format!("/v1/materials/{lot}/returns");
    let back = |more: Value| {
        let mut body = json!({ "date": "2025-03-05", "quantity": "1.5", "episode": room.first });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        body
    };
    let which = room.owner.is_refused(422, &returns, back(json!({})));
    assert!(which.error_at("/treatment").contains("as home_improvement and as expense:supplies"));
    let improvement = json!({ "treatment": { "as": "home_improvement" } });
    let answer = room.owner.records(&returns, back(improvement.clone()));
    assert_eq!(
        postings(&answer["entries"][0]),
        ["materials_on_hand 15.00", "draw:home_improvements -15.00 home_improvement"]
    );
    assert_eq!(cost_out(&answer), "-15.00");
    assert_eq!(room.left(&lot), ("3.5".to_owned(), "35.00".to_owned()));
    let mut all = back(improvement);
    all["quantity"] = json!("4.6");
    let more = room.owner.is_refused(409, &returns, all);
    assert!(more.error_at("/quantity").contains("4.5 piece of this lot is there to come back"));
    // The issue stands behind its return.
    let path = format!("/v1/records/{}/reversal", laid["id"].as_str().unwrap());
    let refused = room.owner.is_refused(409, &path, json!({ "reason": "another room" }));
    assert!(refused.error_at("").contains("back in stock"), "{}", refused.text);
    room.rolls_forward();
}

#[test]
fn an_issue_that_is_shared_out_adds_up_to_the_cent() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("glue", "2025-03-01", "3", "10.00");
    let to = json!([{ "episode": room.first, "share": "33.3" }, { "episode": room.second, "share": "66.7" }]);
    let body = json!({ "date": "2025-03-02", "quantity": "3", "to": to });
    let shared = room.owner.records(&format!("/v1/materials/{lot}/issues"), body);
    let parts: Vec<_> = shared["attributions"].as_array().unwrap().iter().map(|one| &one["amount"]).collect();
    assert_eq!(parts, ["3.33", "6.67"]);
    let standing = room.standing(&lot);
    let moves: Vec<_> = standing["moves"].as_array().unwrap().iter().map(|one| &one["quantity"]).collect();
    assert_eq!(moves, ["-0.999", "-2.001"]);
    room.rolls_forward();
}

#[test]
fn a_count_adjusts_the_lot_and_is_taken_back_like_any_record() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("screws", "2025-03-01", "200", "12.00");
    let counts = format!("/v1/materials/{lot}/counts");
    let count =
        |counted: &str| room.owner.records(&counts, json!({ "date": "2025-12-31", "counted": counted }));
    assert_eq!(count("200")["entries"], json!([]));
    let short = count("150");
    assert_eq!(postings(&short["entries"][0]), ["expense:supplies 3.00 supplies", "materials_on_hand -3.00"]);
    assert_eq!(short["attributions"], json!([]));
    assert_eq!(room.left(&lot), ("150".to_owned(), "9.00".to_owned()));
    room.takes_back(short["id"].as_str().unwrap(), None);
    assert_eq!(room.left(&lot), ("200".to_owned(), "12.00".to_owned()));
    let over = count("240");
    assert_eq!(over["entries"], json!([]));
    assert_eq!(room.left(&lot), ("240".to_owned(), "12.00".to_owned()));
    let moves = room.standing(&lot)["moves"].clone();
    assert_eq!((moves.as_array().unwrap().len(), &moves[0]["kind"]), (1, &json!("counted_over")));
    room.rolls_forward();
}

#[test]
fn a_receipt_is_not_taken_back_while_something_was_issued_from_it() {
    let room = StoreRoom::open();
    let (receipt, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let issue = room.issues("plywood", "2025-03-08", "18");
    let path = format!("/v1/records/{receipt}/reversal");
    let refused = room.owner.is_refused(409, &path, json!({ "reason": "entered twice" }));
    assert!(refused.error_at("").contains("18 piece of plywood issued to an episode"), "{}", refused.text);
    let both = json!({ "reason": "entered twice", "dependants": "take_back" });
    room.owner.records(&path, both);
    assert_eq!(room.owner.reads("/v1/materials")["items"], json!([]));
    assert_eq!(room.owner.get(&format!("/v1/materials/{lot}/standing")).status, 404);
    let again = json!({ "date": "2025-03-08", "quantity": "1" });
    room.owner.is_refused(404, &format!("/v1/materials/{lot}/issues"), again);
    let kept = format!("/v1/materials/records/{}", issue["id"].as_str().unwrap());
    assert!(room.owner.reads(&kept)["reversed_by"].is_string());
    room.rolls_forward();
}

#[test]
fn the_vendor_takes_back_only_what_is_on_the_shelf_that_day() {
    let room = StoreRoom::open();
    let (receipt, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let issue = room.issues("plywood", "2025-03-20", "30");
    room.takes_back(issue["id"].as_str().unwrap(), Some("2025-04-10"));
    let returns = format!("/v1/purchases/{receipt}/returns");
    let back = |date: &str| {
        json!({ "date": date, "refunded_to": room.bank,
                "lines": [{ "line": 0, "quantity": "16", "amount": "27.45" }] })
    };
    let between = room.owner.is_refused(422, &returns, back("2025-03-25"));
    let said = between.error_at("/lines/0/quantity");
    assert!(said.contains("16 is to go back, but only 2 is on the shelf that day"), "{said}");
    room.owner.records(&returns, back("2025-04-10"));
    assert_eq!(room.left(&lot), ("16".to_owned(), "27.45".to_owned()));
    room.rolls_forward();
}

#[test]
fn a_lot_from_before_the_books_leaves_first_but_not_before_it_was_stated() {
    let room = StoreRoom::open();
    room.buys("oak board", "2025-02-01", "10", "50.00");
    let lot = json!({ "material": "oak board", "quantity": "4", "unit": "piece", "cost": "8.00",
                      "acquired_on": "2024-06-01" });
    let opening = json!({ "date": "2025-03-01", "what": "lot", "lot": lot });
    room.owner.records("/v1/openings", opening);
    assert_eq!(cost_out(&room.issues("oak board", "2025-02-10", "2")), "10.00");
    assert_eq!(cost_out(&room.issues("oak board", "2025-03-10", "4")), "8.00");
    room.rolls_forward();
}

#[test]
fn an_issue_taken_back_on_its_own_day_never_was() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let issue = room.issues("plywood", "2025-03-20", "32");
    room.takes_back(issue["id"].as_str().unwrap(), None);
    assert_eq!(room.left(&lot), ("32".to_owned(), "54.90".to_owned()));
    assert_eq!(room.standing(&lot)["moves"], json!([]));
    // All of it is there on an earlier day too.
    assert_eq!(cost_out(&room.issues("plywood", "2025-03-10", "32")), "54.90");
    room.rolls_forward();
}

#[test]
fn an_issue_taken_back_on_a_later_day_leaves_nothing_to_issue_in_between() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let issue = room.issues("plywood", "2025-03-20", "30");
    room.takes_back(issue["id"].as_str().unwrap(), Some("2025-04-10"));
    assert_eq!(room.left(&lot), ("32".to_owned(), "54.90".to_owned()));
    let between =
        json!({ "material": "plywood", "date": "2025-04-01", "quantity": "3", "episode": room.second });
    let refused = room.owner.is_refused(409, "/v1/materials/issues", between);
    assert!(refused.error_at("/quantity").contains("2 piece is there on 2025-04-01"), "{}", refused.text);
    assert_eq!(cost_out(&room.issues("plywood", "2025-04-10", "32")), "54.90");
    room.rolls_forward();
}

// Derived: (3,150 + 6,075) x 75 / 375.
#[test]
fn books_at_the_moving_average_draw_a_part_of_every_lot() {
    let kept = Kept { flow: MaterialsFlow::MovingAverage, ..Kept::usual() };
    let room = StoreRoom::keeping(&kept);
    let (_, one) = room.buys("tile", "2025-07-01", "150", "3150.00");
    let (_, other) = room.buys("tile", "2025-07-10", "225", "6075.00");
    let issue = room.issues("tile", "2025-07-12", "75");
    assert_eq!(
        postings(&issue["entries"][0]),
        ["expense:supplies 1845.00 supplies", "materials_on_hand -1845.00"]
    );
    assert_eq!(room.left(&one), ("120".to_owned(), "2520.00".to_owned()));
    assert_eq!(room.left(&other), ("180".to_owned(), "4860.00".to_owned()));
    room.rolls_forward();
}

// Common practice, no source: incidental materials are deducted as they are paid for.
#[test]
fn materials_deducted_when_paid_move_no_money_as_they_are_issued_but_count_for_the_episode() {
    let kept = Kept { timing: MaterialsTiming::WhenPaid, ..Kept::usual() };
    let room = StoreRoom::keeping(&kept);
    let (_, lot) = room.buys("sandpaper", "2025-03-01", "50", "25.00");
    let issue = room.issues("sandpaper", "2025-03-08", "10");
    assert_eq!((&issue["entries"], cost_out(&issue)), (&json!([]), "5.00"));
    assert_eq!(room.standing(&lot)["standing"], "expensed");
    let home = json!({ "date": "2025-03-09", "quantity": "4", "episode": room.first,
                       "treatment": { "as": "home_repair" } });
    let home = room.owner.records(&format!("/v1/materials/{lot}/issues"), home);
    assert_eq!(
        postings(&home["entries"][0]),
        ["draw:home_repairs 2.00 home_repair", "expense:supplies -2.00 supplies"]
    );
    room.rolls_forward();
}

#[test]
fn an_issue_that_can_not_be_is_refused_with_everything_wrong_at_once_and_nothing_is_written() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let issues = format!("/v1/materials/{lot}/issues");
    let before = room.world.rows_written();
    let bad = json!({ "date": "2025-02-28", "quantity": "0", "episode": room.first, "to": [{}],
                      "treatment": { "as": "expense" } });
    let refused = room.owner.is_refused(422, &issues, bad);
    assert!(refused.error_at("/date").contains("2025-02-28 is before 2025-03-01, the day the lot came"));
    refused.error_at("/quantity");
    refused.error_at("/to");
    assert!(refused.error_at("/treatment/class").contains("give class, such as supplies"));
    let number = json!({ "date": "2025-03-02", "quantity": 3 });
    assert!(room.owner.is_refused(422, &issues, number).error_at("/quantity").contains("\"3\""));
    let resale = json!({ "date": "2025-03-02", "quantity": "3", "treatment": { "as": "resale" } });
    room.owner.is_refused(422, &issues, resale).error_at("/treatment");
    let piece = json!({ "date": "2025-03-02", "quantity": "3", "piece": room.first });
    assert!(
        room.owner.is_refused(422, &issues, piece).error_at("/piece").contains("no furniture with the id")
    );
    let elsewhere = room.world.stranger().has_project("Somebody else's hall");
    let project = json!({ "date": "2025-03-02", "quantity": "3", "project": elsewhere });
    room.owner.is_refused(422, &issues, project).error_at("/project");
    let unheard = json!({ "material": "marble", "date": "2025-03-02", "quantity": "3" });
    let unheard = room.owner.is_refused(422, "/v1/materials/issues", unheard);
    assert!(unheard.error_at("/material").contains("no lot of 'marble'"), "{}", unheard.text);
    let dry =
        room.owner.post(&format!("{issues}?dry_run=true"), &json!({ "date": "2025-03-02", "quantity": "3" }));
    assert_eq!((dry.status, dry.json()["recorded"].as_bool()), (200, Some(false)));
    let left_over = room.world.rows_written() - before;
    // The stranger's hall: its record and its audit line.
    assert_eq!(left_over, 2);
    assert_eq!(room.left(&lot), ("32".to_owned(), "54.90".to_owned()));
}

#[test]
fn the_shelf_is_read_in_pages_and_by_name() {
    let room = StoreRoom::open();
    let name = "oak & ash, 20 mm";
    let (_, later) = room.buys(name, "2025-03-02", "1", "2.00");
    let (_, earlier) = room.buys(name, "2025-03-01", "1", "1.00");
    room.buys("glue", "2025-03-01", "1", "3.00");
    assert_eq!(room.owner.reads("/v1/materials")["items"].as_array().unwrap().len(), 3);
    let first = room.owner.reads("/v1/materials?limit=1&material=oak%20%26%20ash%2C%2020%20mm");
    assert_eq!(first["items"][0]["id"], json!(earlier));
    let second = room.owner.reads(first["next"].as_str().unwrap());
    assert_eq!((&second["items"][0]["id"], second.get("next")), (&json!(later), None));
    assert_eq!(room.owner.get("/v1/materials?limit=201").status, 400);
    assert_eq!(room.owner.get("/v1/materials?colour=green").status, 400);
}

#[test]
fn a_stranger_and_nobody_neither_see_nor_move_a_lot() {
    let room = StoreRoom::open();
    let (_, lot) = room.buys("plywood", "2025-03-01", "32", "54.90");
    let (stranger, nobody) = (room.world.stranger(), room.world.nobody());
    let before = room.world.rows_written();
    let standing = format!("/v1/materials/{lot}/standing");
    assert_eq!((stranger.get(&standing).status, nobody.get(&standing).status), (404, 401));
    let moved = json!({ "date": "2025-03-02", "quantity": "3" });
    for verb in ["issues", "returns", "waste"] {
        let path = format!("/v1/materials/{lot}/{verb}");
        stranger.is_refused(404, &path, moved.clone());
        nobody.is_refused(401, &path, moved.clone());
    }
    let counted = json!({ "date": "2025-03-02", "counted": "3" });
    stranger.is_refused(404, &format!("/v1/materials/{lot}/counts"), counted);
    let by_name = json!({ "material": "plywood", "date": "2025-03-02", "quantity": "3" });
    stranger.is_refused(422, "/v1/materials/issues", by_name).error_at("/material");
    assert_eq!(stranger.reads("/v1/materials")["items"], json!([]));
    assert_eq!(room.world.rows_written(), before);
}
