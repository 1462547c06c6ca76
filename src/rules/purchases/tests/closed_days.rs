//! Invariant 8: on a closed day nothing is bought, paid or sent back.

use super::goods::on_shelf;
use super::invoices::foreign;
use super::rebates::boards_used;
use super::*;
use crate::rules::recording::{AccountingMethod, BooksFacts};

fn accrual() -> BooksFacts {
    BooksFacts { method: AccountingMethod::Accrual, ..books() }
}

#[test]
fn nothing_is_bought_on_a_closed_day() {
    let lines = json!([
        { "text": "drywall", "amount": "96.00", "for": [{ "episode": episode(1) }],
          "treatments": [{ "as": "home_improvement" }] },
        { "text": "boards", "amount": "60.00", "stock": { "material": "boards", "quantity": "12", "unit": "piece" },
          "treatments": [{ "as": "expense", "class": "supplies" }] },
        { "text": "saw", "amount": "649.00", "tool": { "name": "saw", "method": "equal_share" } },
        { "text": "dresser", "amount": "85.00", "new_piece": { "name": "oak dresser", "purpose": "resale" } },
    ]);
    let new = receipt(lines, "890.00");
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        record(pen, &paid_by_bank(), &NewPurchase { date, ..new.clone() })
    });
    for books in [books(), accrual()] {
        keeps_out_of_closed_days_of(&books, "2025-01-01", |pen, date| {
            record(pen, &PurchaseFacts::default(), &NewPurchase { date, ..foreign() })
        });
    }
}

#[test]
fn no_invoice_is_paid_on_a_closed_day() {
    let invoice = PurchaseToPay {
        record: RecordId(uuid::Uuid::from_u128(5)),
        purchase: foreign(),
        paid_by: None,
        facts: paid_by_bank(),
    };
    for books in [books(), accrual()] {
        keeps_out_of_closed_days_of(&books, "2025-03-02", |pen, date| {
            pay(pen, &invoice, &asked(json!({ "date": date, "paid_from": bank().id, "rate": "1.12" })))
        });
    }
}

#[test]
fn nothing_goes_back_and_no_rebate_comes_on_a_closed_day() {
    for timing in [MaterialsTiming::WhenUsed, MaterialsTiming::WhenPaid] {
        let books = BooksFacts { timing, ..books() };
        let back = json!({ "line": 0, "amount": "5.00", "quantity": "1" });
        let rebate = json!({ "line": 0, "amount": "12.00", "goods": "kept" });
        for (bought, line) in [(on_shelf(timing, "4", "20.00"), back), (boards_used(timing), rebate)] {
            keeps_out_of_closed_days_of(&books, "2025-03-06", |pen, date| {
                let body = json!({ "date": date, "refunded_to": bank().id, "lines": [line] });
                give_back(pen, &bought, bank(), &asked(body))
            });
        }
    }
}
