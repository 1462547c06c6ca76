//! Receipts of goods that stay: stock, tools and furniture; and stock that goes back.

use serde_json::{Value, json};

use super::*;
use crate::rules::ids::DocumentId;
use crate::rules::recording::{AccountingMethod, SourceKind};
use crate::rules::rows::{Basis, DocumentOnHand, Lot, Piece, PieceOrigin, Row};
use crate::rules::treatment::Treatment;

fn bought(line: Value) -> Result<Recording, Refusal> {
    bought_now(&receipt(json!([line]), "60.00"))
}

fn line(more: Value) -> Value {
    let mut line = json!({ "text": "from the salvage yard", "amount": "60.00" });
    line.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    line
}

fn piece_of(recording: &Recording) -> &Piece {
    recording
        .rows
        .iter()
        .find_map(|row| if let Row::Piece(piece) = row { Some(piece) } else { None })
        .unwrap()
}

fn lot_of(recording: &Recording) -> &Lot {
    recording.rows.iter().find_map(|row| if let Row::Lot(lot) = row { Some(lot) } else { None }).unwrap()
}

#[test]
fn a_dresser_for_resale_is_stock_at_its_price_and_belongs_to_the_episode_it_was_got_for() {
    let got = bought(line(json!({ "new_piece": { "name": "oak dresser", "purpose": "resale" },
                                  "for": [{ "episode": episode(1) }] })))
    .unwrap();
    ties(&got, &[]);
    let piece = piece_of(&got);
    assert_eq!((piece.origin, piece.treatment), (PieceOrigin::Bought, Treatment::Resale));
    assert_eq!(piece.basis, Basis::Known(dollars("60.00")));
    assert_eq!(balance(&got, Account::PiecesForResale), "60.00");
    assert_eq!(attributed(&got, Side::Cost, 1), "0.00", "stock costs an episode when it is sold");
}

#[test]
fn a_chair_for_the_set_is_a_cost_of_its_episode_in_full_and_a_chair_for_the_family_a_draw() {
    let set = bought(line(json!({ "new_piece": { "name": "chair", "purpose": "set", "class": "office" },
                                  "for": [{ "episode": episode(1) }] })))
    .unwrap();
    ties(&set, &[]);
    assert_eq!(balance(&set, Account::Expense(ExpenseClass::Office)), "60.00");
    assert_eq!(attributed(&set, Side::Cost, 1), "60.00");
    let own = bought(line(json!({ "new_piece": { "name": "chair", "purpose": "personal" } }))).unwrap();
    assert_eq!(balance(&own, Account::Draw(Draw::PersonalItems)), "60.00");
}

#[test]
fn a_piece_on_a_receipt_has_a_name_one_object_and_a_class_only_for_the_set() {
    let said = |more: Value| findings(bought(line(more)));
    assert_eq!(
        said(json!({ "new_piece": { "name": " ", "purpose": "resale" } })),
        ["/lines/0/new_piece/name: the name is empty"]
    );
    let class = said(json!({ "new_piece": { "name": "chair", "purpose": "resale", "class": "office" } }));
    assert_eq!(
        class,
        ["/lines/0/new_piece/class: a class of expense is given for a piece that is not a set piece"]
    );
    let two = said(json!({ "new_piece": { "name": "chair", "purpose": "set" },
                           "for": [{ "episode": episode(1) }, { "episode": episode(2) }] }));
    assert_eq!(two, ["/lines/0/for: more than one of episode, project and piece is named"]);
    let both = said(json!({ "new_piece": { "name": "chair", "purpose": "set" },
                            "stock": { "material": "glue", "unit": "piece", "quantity": "1" } }));
    assert_eq!(
        both,
        ["/lines/0: the line goes to more than one of stock, tool, tools, piece, new_piece, repairs"]
    );
}

#[test]
fn paint_for_a_dresser_in_work_goes_to_its_cost_and_a_dresser_nobody_has_takes_none() {
    let first = bought(line(json!({ "new_piece": { "name": "oak dresser", "purpose": "resale" } }))).unwrap();
    let piece = piece_of(&first).clone();
    let work = PieceInWork { piece: piece.clone(), record: RecordId(uuid::Uuid::from_u128(8)), gone: None };
    let facts = PurchaseFacts { accounts: vec![bank()], pieces: vec![work], ..PurchaseFacts::default() };
    let paint = receipt(json!([line(json!({ "piece": piece.id }))]), "60.00");
    let got = write(|pen| record(pen, &facts, &paint)).unwrap();
    ties(&got, &[(piece.source, Side::Cost)]);
    assert_eq!(balance(&got, Account::PiecesForResale), "60.00");
    assert_eq!(got.movements[0].source, piece.source);
    assert_eq!(got.depends_on, [RecordId(uuid::Uuid::from_u128(8))]);
    let unknown = findings(bought_now(&paint));
    assert_eq!(unknown, ["/lines/0/piece: these books have no furniture of that id"]);
    let treated =
        receipt(json!([line(json!({ "piece": piece.id, "treatments": [{ "as": "personal" }] }))]), "60.00");
    let treated = findings(write(|pen| record(pen, &facts, &treated)));
    assert_eq!(treated, ["/lines/0/treatments: the line is part of a piece, which has its own treatment"]);
}

#[test]
fn a_saw_on_a_receipt_is_a_tool_at_cost_and_its_uses_say_what_it_is_for() {
    let terms = json!({ "name": "saw", "method": "equal_share" });
    let got = bought(line(json!({ "tool": terms }))).unwrap();
    ties(&got, &[]);
    assert_eq!(balance(&got, Account::ToolsAtCost), "60.00");
    let named = findings(bought(line(json!({ "tool": terms, "for": [{ "episode": episode(1) }] }))));
    assert_eq!(
        named,
        ["/lines/0/for: the line is a tool; what it is used for is said as its uses are logged"]
    );
}

#[test]
fn stock_on_a_receipt_has_a_name_a_quantity_and_no_use_yet() {
    let said = |more: Value| findings(bought(line(more)));
    let nameless = said(json!({ "stock": { "material": " ", "unit": "piece", "quantity": "0" } }));
    assert_eq!(
        nameless,
        [
            "/lines/0/stock/material: the material is empty",
            "/lines/0/stock/quantity: a quantity of 0 moves nothing"
        ]
    );
    let used = said(json!({ "stock": { "material": "glue", "unit": "piece", "quantity": "1" },
                            "for": [{ "episode": episode(1) }] }));
    assert_eq!(used, ["/lines/0/for: the line is stock; what it is for is said as it is issued"]);
    let treated = said(json!({ "stock": { "material": "glue", "unit": "piece", "quantity": "1" },
                               "treatments": [{ "as": "personal" }] }));
    assert_eq!(treated, ["/lines/0/treatments: the line is stock, which has its own treatment"]);
}

#[test]
fn a_vehicle_is_named_only_for_what_is_a_cost_of_one() {
    let misplaced = findings(bought(line(json!({ "treatments": [{ "as": "personal" }], "vehicle": "van" }))));
    assert_eq!(
        misplaced,
        ["/lines/0/vehicle: a vehicle is named, but nothing of the line is an expense of class vehicle"]
    );
    let fuel = line(json!({ "treatments": [{ "as": "expense", "class": "vehicle" }], "vehicle": "van" }));
    assert_eq!(balance(&bought(fuel.clone()).unwrap(), Account::Expense(ExpenseClass::Vehicle)), "60.00");
    // The rate of a year covers the actual costs of that year and of no other.
    let beside_trips = |year: i32| {
        let at_rate = [("Van".to_owned(), year)].into_iter().collect();
        let facts = PurchaseFacts { at_rate, ..paid_by_bank() };
        write(|pen| record(pen, &facts, &receipt(json!([fuel]), "60.00")))
    };
    assert!(beside_trips(2024).is_ok() && beside_trips(2026).is_ok());
    assert_eq!(
        findings(beside_trips(2025)),
        ["/lines/0/vehicle: van has trips at the standard rate in 2025, which covers its actual costs"]
    );
}

fn boards(timing: MaterialsTiming) -> Recording {
    let mut books = books();
    books.timing = timing;
    let stock = json!({ "material": "pine board", "unit": "piece", "quantity": "12" });
    let new = receipt(json!([line(json!({ "stock": stock }))]), "60.00");
    write_in(&books, |pen| record(pen, &paid_by_bank(), &new)).unwrap()
}

#[test]
fn boards_wait_on_the_shelf_at_cost_or_are_supplies_at_once_as_the_books_say() {
    let kept = boards(MaterialsTiming::WhenUsed);
    ties(&kept, &[]);
    assert_eq!(balance(&kept, Account::MaterialsOnHand), "60.00");
    assert_eq!(lot_of(&kept).quantity.to_string(), "12");
    let spent = boards(MaterialsTiming::WhenPaid);
    assert_eq!(balance(&spent, Account::Expense(ExpenseClass::Supplies)), "60.00");
}

/// Twelve boards for 60.00 of which `left` are on the shelf still.
pub(super) fn on_shelf(timing: MaterialsTiming, left: &str, cost: &str) -> PurchaseBought {
    let recording = boards(timing);
    let lot = lot_of(&recording).clone();
    let row = recording
        .rows
        .iter()
        .find_map(|row| if let Row::PurchaseLine(line) = row { Some(line.clone()) } else { None });
    PurchaseBought {
        record: RecordId(uuid::Uuid::from_u128(1)),
        date: recording.date,
        text: "boards".to_owned(),
        lines: vec![LineBought {
            line: row.unwrap(),
            kind: SourceKind::Lot,
            held: dollars(cost),
            attributed: Vec::new(),
            last_given: None,
            lot: Some(LotBought {
                lot,
                left: left.parse().unwrap(),
                left_cost: dollars(cost),
                moves: Vec::new(),
                pieces: Vec::new(),
            }),
        }],
        returns: Vec::new(),
    }
}

fn sends_back(bought: &PurchaseBought, quantity: Option<&str>, sum: &str) -> Result<Recording, Refusal> {
    let mut body = json!({ "line": 0, "amount": sum });
    if let Some(quantity) = quantity {
        body["quantity"] = json!(quantity);
    }
    let new = asked(json!({ "date": "2025-03-10", "refunded_to": bank().id, "lines": [body] }));
    write(|pen| give_back(pen, bought, bank(), &new))
}

#[test]
fn boards_go_back_at_what_the_shop_refunds_and_exactly_what_is_left_may_go() {
    let bought = on_shelf(MaterialsTiming::WhenUsed, "4", "20.00");
    let some = sends_back(&bought, Some("1"), "5.00").unwrap();
    assert_eq!(balance(&some, Account::MaterialsOnHand), "-5.00");
    let left = some.rows.iter().find_map(|row| if let Row::LotMove(left) = row { Some(left) } else { None });
    let left = left.map(|left| (left.quantity.to_string(), left.cost.to_string()));
    assert_eq!(left, Some(("-1".to_owned(), "-5.00".to_owned())));
    let all = sends_back(&bought, Some("4"), "20.00").unwrap();
    assert_eq!(balance(&all, Account::MaterialsOnHand), "-20.00");
    assert!(all.notes.iter().all(|note| !note.contains("is lost")), "{:?}", all.notes);
    let cheap = sends_back(&bought, Some("4"), "18.00").unwrap();
    assert_eq!(balance(&cheap, Account::MaterialsOnHand), "-20.00");
    assert_eq!(balance(&cheap, Account::Expense(ExpenseClass::Supplies)), "2.00");
    assert!(cheap.notes.contains(&"2.00 of pine board was not refunded and is lost".to_owned()));
    let spent = on_shelf(MaterialsTiming::WhenPaid, "4", "20.00");
    let back = sends_back(&spent, Some("4"), "18.00").unwrap();
    assert_eq!(balance(&back, Account::Expense(ExpenseClass::Supplies)), "-18.00");
}

// Pub. 525, recoveries: what was deducted in an earlier year is income when it comes back (from memory); figures derived.
#[test]
fn boards_that_were_deducted_as_they_were_paid_are_income_when_they_go_back_in_a_later_year() {
    let spent = on_shelf(MaterialsTiming::WhenPaid, "4", "20.00");
    let back = |date: &str| {
        let line = json!({ "line": 0, "amount": "18.00", "quantity": "4" });
        let new = asked(json!({ "date": date, "refunded_to": bank().id, "lines": [line] }));
        write(|pen| give_back(pen, &spent, bank(), &new)).unwrap()
    };
    let supplies = Account::Expense(ExpenseClass::Supplies);
    let (same, later) = (back("2025-12-31"), back("2026-01-01"));
    assert_eq!((balance(&same, supplies), balance(&later, supplies)), ("-18.00".into(), "0.00".into()));
    let other = Account::Income(Stream::Other);
    assert_eq!((balance(&same, other), balance(&later, other)), ("0.00".into(), "-18.00".into()));
    ties(&later, &[]);
    assert_eq!(later.notes, ["18.00 was deducted in 2025, so it is other income of 2026"]);
}

#[test]
fn more_boards_or_more_money_than_is_left_does_not_come_back() {
    let bought = on_shelf(MaterialsTiming::WhenUsed, "4", "20.00");
    let said = |quantity: Option<&str>, sum: &str| findings(sends_back(&bought, quantity, sum)).remove(0);
    assert_eq!(said(None, "5.00"), "/lines/0/quantity: the line is stock, and no quantity is given");
    assert_eq!(
        said(Some("4.01"), "5.00"),
        "/lines/0/quantity: 4.01 is to go back, but only 4 is on the shelf that day"
    );
    assert_eq!(said(Some("0"), "5.00"), "/lines/0/quantity: a quantity of 0 moves nothing");
    assert_eq!(
        said(Some("4"), "20.01"),
        "/lines/0/amount: 20.01 is to come back, but only 20.00 is left of the line"
    );
}

#[test]
fn a_tool_or_a_piece_goes_back_whole_and_an_unpaid_invoice_not_at_all() {
    let mut bought = on_shelf(MaterialsTiming::WhenUsed, "4", "20.00");
    bought.lines[0].lot = None;
    for (kind, what) in [(SourceKind::Tool, "a tool"), (SourceKind::Piece, "a piece of furniture")] {
        bought.lines[0].kind = kind;
        let said = findings(sends_back(&bought, None, "5.00"));
        assert_eq!(said, [format!("/lines/0: {what} goes back whole")]);
    }
    bought.lines[0].kind = SourceKind::PurchaseLine;
    let said = findings(sends_back(&bought, Some("1"), "5.00"));
    assert_eq!(said, ["/lines/0/quantity: a quantity is given for a line that is not stock"]);
    bought.lines.clear();
    assert_eq!(
        findings(sends_back(&bought, None, "5.00")),
        [": the purchase is not paid yet, so nothing of it is in the books"]
    );
}

#[test]
fn a_receipt_says_one_way_in_which_it_is_paid() {
    let supplies = json!([line(json!({ "treatments": [{ "as": "expense", "class": "supplies" }] }))]);
    let paid = |change: &dyn Fn(&mut NewPurchase)| {
        let mut new = receipt(supplies.clone(), "60.00");
        change(&mut new);
        findings(bought_now(&new)).remove(0)
    };
    assert_eq!(paid(&|new| new.paid_from = None), "/paid_from: nothing says what paid for it");
    assert_eq!(
        paid(&|new| new.payment = Some(PaymentTime::Later)),
        "/payment: it is to be paid later, and yet an account is named"
    );
    let part = PaidPart { account: bank().id, amount: amount("60.00") };
    assert_eq!(paid(&|new| new.paid = vec![part]), "/paid: paid_from and paid are both given");
}

// Pub. 538, Accrual Method (from memory): the expense counts when it is owed, the payment only settles it.
#[test]
fn in_accrual_books_an_invoice_is_a_cost_and_a_debt_and_its_payment_settles_the_debt() {
    let mut accrual = books();
    accrual.method = AccountingMethod::Accrual;
    let mut new =
        receipt(json!([line(json!({ "treatments": [{ "as": "expense", "class": "supplies" }] }))]), "60.00");
    (new.paid_from, new.payment) = (None, Some(PaymentTime::Later));
    let invoice = write_in(&accrual, |pen| record(pen, &PurchaseFacts::default(), &new)).unwrap();
    assert_eq!(balance(&invoice, Account::Expense(ExpenseClass::Supplies)), "60.00");
    let owed = PurchaseToPay {
        record: RecordId(uuid::Uuid::from_u128(1)),
        purchase: new,
        paid_by: None,
        facts: paid_by_bank(),
    };
    let paying =
        |date: &str| NewPurchasePayment { date: day(date), paid_from: bank().id, rate: None, note: None };
    let paid = write_in(&accrual, |pen| pay(pen, &owed, &paying("2025-04-01"))).unwrap();
    assert_eq!(balance(&paid, Account::Money(bank().id)), "-60.00");
    assert_eq!(balance(&paid, Account::Expense(ExpenseClass::Supplies)), "0.00");
    assert_eq!(paid.depends_on, [owed.record]);
    let early = findings(write_in(&accrual, |pen| pay(pen, &owed, &paying("2025-03-01"))));
    assert_eq!(early, ["/date: that is before 2025-03-02, the day of the purchase"]);
    let at_once = PurchaseToPay { purchase: receipt(json!([]), "60.00"), ..owed.clone() };
    assert_eq!(
        findings(write_in(&accrual, |pen| pay(pen, &at_once, &paying("2025-04-01")))),
        [": the purchase was paid as it was recorded"]
    );
}

#[test]
fn a_discount_of_zero_on_a_free_sample_is_nothing_to_spread_and_tax_on_it_is_refused() {
    let free = json!([{ "text": "a sample tin", "amount": "0.00", "treatments": [{ "as": "personal" }] }]);
    let said = |tax: &str| {
        let mut new = receipt(free.clone(), tax);
        new.tax = Some(amount(tax));
        bought_now(&new)
    };
    let sample = said("0.00").unwrap();
    assert!(sample.entries.iter().all(|entry| entry.postings().is_empty()));
    assert!(findings(said("1.00")).iter().any(|one| one.starts_with("/lines: ")));
}

// Derived from invariant 6: an episode gives nothing back on a day on which it had nothing of the line.
#[test]
fn a_refund_is_not_dated_before_the_day_on_which_the_cost_was_given_to_an_episode() {
    let tiles = receipt(
        json!([line(json!({ "for": [{ "episode": episode(1) }],
                            "treatments": [{ "as": "expense", "class": "supplies" }] }))]),
        "60.00",
    );
    let mut bought = as_bought(&tiles);
    bought.lines[0].last_given = Some(day("2025-03-11"));
    assert_eq!(
        findings(sends_back(&bought, None, "15.00")),
        [
            "/lines/0: 2025-03-10 is before 2025-03-11, the day on which something of the line was last given or went back"
        ]
    );
    bought.lines[0].last_given = Some(day("2025-03-10"));
    assert!(sends_back(&bought, None, "15.00").is_ok());
}

#[test]
fn an_invoice_may_be_paid_and_goods_may_go_back_on_the_day_they_were_bought() {
    let mut new =
        receipt(json!([line(json!({ "treatments": [{ "as": "expense", "class": "supplies" }] }))]), "60.00");
    let bought = as_bought(&new);
    let returned = |date: &str| {
        let line = json!({ "line": 0, "amount": "15.00" });
        let new = asked(json!({ "date": date, "refunded_to": bank().id, "lines": [line] }));
        write(|pen| give_back(pen, &bought, bank(), &new))
    };
    assert_eq!(balance(&returned("2025-03-02").unwrap(), Account::Money(bank().id)), "15.00");
    let too_early = "/date: that is before 2025-03-02, the day of the purchase";
    assert_eq!(findings(returned("2025-03-01")), [too_early]);
    (new.paid_from, new.payment) = (None, Some(PaymentTime::Later));
    let record = RecordId(uuid::Uuid::from_u128(1));
    let owed = PurchaseToPay { record, purchase: new, paid_by: None, facts: paid_by_bank() };
    let paying = NewPurchasePayment { date: day("2025-03-02"), paid_from: bank().id, rate: None, note: None };
    let paid = write(|pen| pay(pen, &owed, &paying)).unwrap();
    assert_eq!(balance(&paid, Account::Money(bank().id)), "-60.00");
    let paid_already = PurchaseToPay { paid_by: Some(RecordId(uuid::Uuid::from_u128(6))), ..owed };
    assert_eq!(findings(write(|pen| pay(pen, &paid_already, &paying))), [": the purchase was paid already"]);
}

#[test]
fn a_document_that_was_taken_back_proves_no_purchase_and_the_refusal_names_what_took_it_back() {
    let supplies = line(json!({ "treatments": [{ "as": "expense", "class": "supplies" }] }));
    let with = |taken_back| {
        let (id, kept_by) = (DocumentId(uuid::Uuid::from_u128(30)), RecordId(uuid::Uuid::from_u128(31)));
        let paper = DocumentOnHand { id, record: kept_by, text: "receipt".to_owned(), taken_back };
        let facts = PurchaseFacts { documents: vec![paper], ..paid_by_bank() };
        write(|pen| record(pen, &facts, &receipt(json!([supplies.clone()]), "60.00")))
    };
    assert_eq!(with(None).unwrap().depends_on, [RecordId(uuid::Uuid::from_u128(31))]);
    let by = RecordId(uuid::Uuid::from_u128(7));
    let refused = with(Some(by)).unwrap_err();
    assert_eq!(refused.standing(), crate::rules::refusal::Standing::Conflict);
    assert_eq!(
        findings::<()>(Err(refused)),
        [format!("/documents/0: the document was taken back by the record {by}")]
    );
}

#[test]
fn all_that_a_line_cost_may_come_back_and_no_line_gives_back_that_there_is_not() {
    let tape =
        receipt(json!([line(json!({ "treatments": [{ "as": "expense", "class": "supplies" }] }))]), "60.00");
    let bought = as_bought(&tape);
    let back = |place: usize, sum: &str| {
        let new = json!({ "date": "2025-03-10", "refunded_to": bank().id,
                          "lines": [{ "line": place, "amount": sum }] });
        write(|pen| give_back(pen, &bought, bank(), &asked(new)))
    };
    assert_eq!(balance(&back(0, "60.00").unwrap(), Account::Expense(ExpenseClass::Supplies)), "-60.00");
    assert!(findings(back(0, "60.01"))[0].contains("but only 60.00 is left of the line"));
    let missing = findings(back(1, "1.00"));
    assert!(missing[0].contains("there is no line 1; the purchase has 1, counted from 0"), "{missing:?}");
}
