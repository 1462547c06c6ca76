//! Invariant 8: no sponsor's money on a closed day.

use super::invoices::accrual;
use super::*;
use crate::rules::trial::{keeps_out_of_closed_days, keeps_out_of_closed_days_of};

// What was agreed on a closed day moves nothing, so only what comes of it keeps to open days.
#[test]
fn no_instalment_comes_in_on_a_closed_day() {
    for books in [books(), accrual()] {
        keeps_out_of_closed_days_of(&books, "2025-12-01", |pen, date| {
            let body = json!({ "date": date, "paid_into": bank().id, "gross": "600.00", "kept_by_agency": "60.00",
                               "net": "540.00" });
            receive(pen, &deal("0"), bank(), &asked(body))
        });
    }
}

#[test]
fn no_invoice_is_written_on_a_closed_day() {
    for books in [books(), accrual()] {
        keeps_out_of_closed_days_of(&books, "2025-12-01", |pen, date| {
            let body = json!({ "date": date, "what": "on publishing", "amount": "600.00" });
            invoice(pen, &deal("0"), &asked(body))
        });
    }
}

#[test]
fn no_sponsor_gets_anything_back_on_a_closed_day() {
    let mut facts = deal("600.00");
    facts.incomes = vec![income(1, "2026-01-10", "600.00", &[(1, "450.00"), (2, "150.00")])];
    keeps_out_of_closed_days("2026-01-10", |pen, date| {
        let body = json!({ "date": date, "amount": "80.00", "paid_from": bank().id });
        claw_back(pen, &facts, bank(), &asked(body))
    });
}
