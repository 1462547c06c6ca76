//! What goes back to the vendor, and what does not fit it.

use serde_json::{Value, json};
use uuid::Uuid;

use super::goods::on_shelf;
use super::*;
use crate::rules::journal::Stream;

/// Tiles for 60.00 that an episode bears.
fn tiles() -> PurchaseBought {
    as_bought(&receipt(
        json!([{ "text": "tiles", "amount": "60.00", "for": [{ "episode": episode(1) }],
                 "treatments": [{ "as": "expense", "class": "supplies" }] }]),
        "60.00",
    ))
}

fn goes_back(bought: &PurchaseBought, date: &str, line: Value) -> Result<Recording, Refusal> {
    let new = asked(json!({ "date": date, "refunded_to": bank().id, "lines": [line] }));
    write(|pen| give_back(pen, bought, bank(), &new))
}

#[test]
fn a_line_comes_back_to_its_last_cent_and_one_that_is_not_there_not_at_all() {
    let back = |line: Value| goes_back(&tiles(), "2025-03-10", line);
    let all = back(json!({ "line": 0, "amount": "60.00" })).unwrap();
    assert_eq!(balance(&all, Account::Expense(ExpenseClass::Supplies)), "-60.00");
    assert_eq!(all.attributions[0].amount, dollars("-60.00"));
    assert_eq!(
        findings(back(json!({ "line": 1, "amount": "1.00" }))),
        ["/lines/0/line: there is no line 1; the purchase has 1, counted from 0"]
    );
}

#[test]
fn where_goods_were_used_is_asked_only_of_stock_that_was_kept() {
    let boards = on_shelf(MaterialsTiming::WhenUsed, "4", "20.00");
    for place in ["episode", "project", "piece"] {
        for (bought, quantity) in [(&boards, Some("1")), (&tiles(), None)] {
            let line =
                json!({ "line": 0, "amount": "5.00", "quantity": quantity, place: Uuid::from_u128(701) });
            assert_eq!(
                findings(goes_back(bought, "2025-03-10", line)),
                [
                    "/lines/0/goods: it is said where the goods were used, and that is asked only of stock that did not go \
                     back"
                ],
                "{place}"
            );
        }
    }
}

// Pub. 525, recoveries: what was never deducted is no income when it comes back, whatever the year (from memory).
#[test]
fn boards_that_still_waited_on_the_shelf_go_back_at_cost_in_a_later_year_too() {
    let boards = on_shelf(MaterialsTiming::WhenUsed, "4", "20.00");
    let back = json!({ "line": 0, "amount": "20.00", "quantity": "4" });
    let got = goes_back(&boards, "2026-01-10", back).unwrap();
    assert_eq!(balance(&got, Account::MaterialsOnHand), "-20.00");
    assert_eq!(balance(&got, Account::Income(Stream::Other)), "0.00");
    assert!(got.notes.is_empty() && got.sources.is_empty(), "{:?}", got.notes);
}
