//! Invoices that are paid later, in the currency of somebody else.

use serde_json::json;

use super::*;
use crate::rules::recording::SourceKind;

/// Ironmongery of 100.00 euros on 3 March at 1.10.
pub(super) fn foreign() -> NewPurchase {
    let mut new = receipt(
        json!([{ "text": "hinges", "amount": "100.00", "treatments": [{ "as": "expense", "class": "supplies" }] }]),
        "100.00",
    );
    (new.paid_from, new.payment) = (None, Some(PaymentTime::Later));
    new.currency = Some(Currency::find("EUR").unwrap());
    new.rate = Some(serde_json::from_value(json!("1.10")).unwrap());
    new
}

fn paid(method: AccountingMethod, rate: Option<&str>) -> Result<Recording, Refusal> {
    let mut books = books();
    books.method = method;
    let invoice = PurchaseToPay {
        record: RecordId(uuid::Uuid::from_u128(5)),
        purchase: foreign(),
        paid_by: None,
        facts: paid_by_bank(),
    };
    let mut body = json!({ "date": "2025-04-02", "paid_from": bank().id });
    if let Some(rate) = rate {
        body["rate"] = json!(rate);
    }
    write_in(&books, |pen| pay(pen, &invoice, &asked(body)))
}

// IAS 21 par. 28 (from memory); figures derived: 110.00 owed, paid with 112.00, 110.00 or 108.50.
#[test]
fn what_the_rate_moved_between_an_invoice_and_its_payment_is_a_gain_or_a_loss_of_that_day() {
    let money = Account::Money(bank().id);
    for (rate, out, account, moved) in [
        (Some("1.12"), "-112.00", Account::Expense(ExpenseClass::OtherExpense), "2.00"),
        (Some("1.085"), "-108.50", Account::Income(Stream::Other), "-1.50"),
        (Some("1.10"), "-110.00", Account::Income(Stream::Other), "0.00"),
        (None, "-110.00", Account::Income(Stream::Other), "0.00"),
    ] {
        let got = paid(AccountingMethod::Accrual, rate).unwrap();
        ties(&got, &[]);
        assert_eq!(balance(&got, Account::Payables), "110.00", "{rate:?}");
        assert_eq!(balance(&got, money), out, "{rate:?}");
        assert_eq!(balance(&got, account), moved, "{rate:?}");
        let sources: Vec<_> = got.sources.iter().map(|one| one.kind).collect();
        let expected = if moved == "0.00" { Vec::new() } else { vec![SourceKind::Exchange] };
        assert_eq!(sources, expected, "{rate:?}");
        // A loss is no income of any stream.
        let streams = if moved == "-1.50" { vec![Stream::Other] } else { Vec::new() };
        assert_eq!(got.streams, streams, "{rate:?}");
    }
    let note = paid(AccountingMethod::Accrual, Some("1.12")).unwrap().notes.remove(0);
    assert_eq!(note, "it was booked at 110.00 and paid with 112.00: 2.00 is an exchange loss, of no episode");
}

// Pub. 538, cash method: an expense counts as it is paid (from memory); figures derived.
#[test]
fn in_cash_books_a_foreign_invoice_costs_what_was_paid_for_it_on_the_day() {
    for (rate, cost) in [(Some("1.12"), "112.00"), (None, "110.00")] {
        let got = paid(AccountingMethod::Cash, rate).unwrap();
        assert_eq!(balance(&got, Account::Expense(ExpenseClass::Supplies)), cost);
        assert_eq!(got.kind, "payment");
    }
}

// ISO 4217: the lev gave way to the euro on 2026-01-01 (list one of that day, seen).
#[test]
fn a_withdrawn_currency_is_good_for_an_old_receipt_and_not_for_a_new_one() {
    let of = |date: &str| {
        let mut new = foreign();
        new.date = day(date);
        new.currency = Some(Currency::find("BGN").unwrap());
        let mut books = books();
        books.method = AccountingMethod::Accrual;
        write_in(&books, |pen| record(pen, &PurchaseFacts::default(), &new))
    };
    assert!(of("2025-12-31").is_ok());
    assert_eq!(findings(of("2026-01-01")), ["/currency: BGN was withdrawn on 2026-01-01"]);
}
