//! Invoices and what is paid of them.

use super::*;

pub(super) fn accrual() -> crate::rules::recording::BooksFacts {
    crate::rules::recording::BooksFacts {
        method: crate::rules::recording::AccountingMethod::Accrual,
        ..books()
    }
}

fn invoiced(facts: &DealFacts, more: Value) -> Result<Recording, Refusal> {
    let mut body = json!({ "date": "2025-12-10", "what": "on publishing" });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    write_in(&accrual(), |pen| invoice(pen, facts, &asked(body)))
}

/// An invoice that is booked with `booked`, of which nothing is paid.
fn open_invoice(number: u128, counts: &str, booked: &str) -> InvoiceFacts {
    InvoiceFacts {
        record: RecordId(Uuid::from_u128(600 + number)),
        invoiced_on: "2025-12-10".parse().unwrap(),
        what: "on publishing".to_owned(),
        counts: dollars(counts),
        open: dollars(counts),
        open_booked: dollars(booked),
    }
}

/// Pub. 538, Accrual Method and Cash Method, from memory; figures of our own.
#[test]
fn an_invoice_is_income_of_accrual_books_and_nothing_in_the_journal_on_the_cash_basis() {
    let facts = deal("0");
    let got = invoiced(&facts, json!({ "amount": "600.00" })).unwrap();
    assert_eq!(balance(&got, Account::SponsorReceivables), "600.00");
    assert_eq!(balance(&got, Account::Income(Stream::Sponsorship)), "-600.00");
    let of = |number| attributed(&got, Side::Income, number);
    assert_eq!([of(1), of(2)], ["450.00", "150.00"]);
    ties(&got, &[]);
    let body = json!({ "date": "2025-12-10", "what": "on publishing", "amount": "600.00" });
    let cash = write(|pen| invoice(pen, &facts, &asked(body))).unwrap();
    assert!(cash.entries.is_empty() && cash.sources.is_empty() && cash.attributions.is_empty());
    assert!(cash.notes[0].starts_with("Nothing is posted"), "{:?}", cash.notes);
}

/// The same from the other end: what was invoiced before is not income again when it is paid.
#[test]
fn an_instalment_pays_the_invoices_first_and_only_what_is_left_is_income_of_its_day() {
    let mut facts = deal("0");
    facts.invoices = vec![open_invoice(1, "400.00", "400.00"), open_invoice(2, "200.00", "200.00")];
    let body = || instalment(json!({ "gross": "700.00", "kept_by_agency": "70.00", "net": "630.00" }));
    let got = write_in(&accrual(), |pen| receive(pen, &facts, bank(), &body())).unwrap();
    assert_eq!(balance(&got, Account::SponsorReceivables), "-600.00");
    assert_eq!(balance(&got, Account::Income(Stream::Sponsorship)), "-100.00");
    assert_eq!(balance(&got, bank().receiving()), "630.00");
    let settled: Vec<_> = got
        .rows
        .iter()
        .filter_map(|row| match row {
            Row::Settlement(one) => Some((one.invoice, one.counts.to_string())),
            _ => None,
        })
        .collect();
    let invoices = [RecordId(Uuid::from_u128(601)), RecordId(Uuid::from_u128(602))];
    assert_eq!(settled, [(invoices[0], "400.00".to_owned()), (invoices[1], "200.00".to_owned())]);
    assert!(invoices.iter().all(|invoice| got.depends_on.contains(invoice)));
    ties(&got, &[]);
    // On the cash basis it is all income of its day, and the invoices are paid all the same.
    let cash = write(|pen| receive(pen, &facts, bank(), &body())).unwrap();
    assert_eq!(balance(&cash, Account::Income(Stream::Sponsorship)), "-700.00");
    assert_eq!(cash.rows.iter().filter(|row| matches!(row, Row::Settlement(_))).count(), 2);
}

/// IAS 21 par. 28, from memory: the difference between the rate of the invoice and that of its payment is a gain or
/// loss of the day it is paid; figures of our own.
#[test]
fn what_the_rate_moves_between_invoice_and_payment_is_a_gain_or_a_loss_beside_the_income() {
    let pounds = Currency::find("GBP").unwrap();
    let sterling = |text: &str| Amount::parse(text).unwrap().money(pounds).unwrap();
    let mut facts = deal("0");
    facts.deal.agreed = sterling("1000.00");
    facts.deal.paid_before = sterling("0");
    facts.gross_so_far = sterling("0");
    let of = |open: &str, booked: &str| InvoiceFacts {
        counts: sterling(open),
        open: sterling(open),
        ..open_invoice(1, "0", booked)
    };
    let paid = |facts: &DealFacts, rate: &str| {
        let body = instalment(json!({ "gross": "500.00", "net": "500.00", "rate": rate }));
        write_in(&accrual(), |pen| receive(pen, facts, bank(), &body)).unwrap()
    };
    // Invoiced at 1.25: 500 are 625. Paid at 1.30 they are 650, at 1.20 they are 600.
    facts.invoices = vec![of("500.00", "625.00")];
    let gain = paid(&facts, "1.30");
    assert_eq!(balance(&gain, Account::Income(Stream::Other)), "-25.00");
    assert_eq!(balance(&gain, Account::SponsorReceivables), "-625.00");
    ties(&gain, &[]);
    let loss = paid(&facts, "1.20");
    assert_eq!(balance(&loss, Account::Expense(ExpenseClass::OtherExpense)), "25.00");
    let costs = |number| attributed(&loss, Side::Cost, number);
    assert_eq!([costs(1), costs(2)], ["18.75", "6.25"]);
    ties(&loss, &[]);
    // Half of a bigger invoice takes half of what it was booked with; the rest of it waits.
    facts.invoices = vec![of("1000.00", "1250.01")];
    let half = paid(&facts, "1.25");
    assert_eq!(balance(&half, Account::SponsorReceivables), "-625.01");
    assert_eq!(balance(&half, Account::Expense(ExpenseClass::OtherExpense)), "0.01");
}

#[test]
fn more_than_agreed_is_not_invoiced_and_what_nobody_paid_does_not_go_back() {
    let mut facts = deal("500.00");
    facts.invoices = vec![open_invoice(1, "400.00", "400.00")];
    assert_eq!(
        findings(invoiced(
            &facts,
            json!({ "amount": "300.01", "date": "2025-11-30", "currency": "EUR", "what": " " })
        )),
        [
            "/date: 2025-11-30 is before the deal was agreed on 2025-12-01",
            "/currency: the deal is in USD, the record in EUR",
            "/what: the purpose is empty",
            "/amount: 1200.00 is agreed and 900.00 was invoiced or came in so far: 300.01 more is 0.01 too much",
        ]
    );
    assert!(invoiced(&facts, json!({ "amount": "300.01", "beyond": "agreed_extra" })).is_ok());
    facts.gross_so_far = dollars("100.00");
    facts.incomes = vec![DealIncome {
        record: RecordId(Uuid::from_u128(601)),
        source: SourceId(Uuid::from_u128(1)),
        since: "2025-12-10".parse().unwrap(),
        left: dollars("400.00"),
        attributed: Vec::new(),
    }];
    let back = json!({ "date": "2026-02-01", "amount": "150.00", "paid_from": bank().id });
    let refused = findings(write_in(&accrual(), |pen| claw_back(pen, &facts, bank(), &asked(back.clone()))));
    assert!(refused[0].contains("these books show 100.00 received"), "{refused:?}");
}

#[test]
fn income_may_be_of_the_first_open_day_and_of_no_day_before_it() {
    let mut closed = books();
    closed.first_open = "2026-01-10".parse().unwrap();
    let on = |day: &str| {
        let new = instalment(json!({ "income_on": day, "gross": "100.00", "net": "100.00" }));
        write_in(&closed, |pen| receive(pen, &deal("0"), bank(), &new))
    };
    assert!(on("2026-01-10").is_ok());
    let said = findings(on("2026-01-09"));
    assert!(said[0].starts_with("/income_on: "), "{said:?}");
}

#[test]
fn an_instalment_says_what_is_income_when_and_that_tax_withheld_is_the_owners() {
    let got =
        came_in(&deal("0"), json!({ "gross": "100.00", "tax_withheld": "10.00", "net": "90.00" })).unwrap();
    assert_eq!(
        got.notes[0],
        "Income is the gross, 100.00, dated 2026-01-20; 90.00 reached the account on 2026-01-20."
    );
    assert_eq!(got.notes[1], "The tax withheld, 10.00, is the owner's own tax paid ahead, not an expense.");
}

// Common practice, no source.
#[test]
fn a_sponsor_may_have_back_all_that_was_paid_of_an_invoice_and_not_a_cent_of_what_is_still_open() {
    let mut facts = deal("500.00");
    facts.gross_so_far = dollars("100.00");
    facts.incomes = vec![income(1, "2025-12-10", "400.00", &[(1, "400.00")])];
    let goes_back = |sum: &str| {
        let body = json!({ "date": "2026-02-10", "amount": sum, "paid_from": bank().id });
        write_in(&accrual(), |pen| claw_back(pen, &facts, bank(), &asked(body)))
    };
    assert_eq!(balance(&goes_back("100.00").unwrap(), Account::ReturnsAllowances), "100.00");
    assert_eq!(
        findings(goes_back("100.01")),
        ["/amount: 100.01 goes back, and by that day these books show 100.00 received on the deal"]
    );
}

// Derived: what was invoiced before is income of the invoice's day, so nothing new comes with its payment.
#[test]
fn an_instalment_that_pays_its_invoice_to_the_cent_is_no_income_of_its_day() {
    let mut facts = deal("0");
    facts.invoices = vec![open_invoice(1, "400.00", "400.00")];
    let body = instalment(json!({ "gross": "400.00", "net": "400.00" }));
    let got = write_in(&accrual(), |pen| receive(pen, &facts, bank(), &body)).unwrap();
    assert!(got.sources.is_empty() && got.attributions.is_empty());
    assert_eq!(
        got.notes,
        [
            "400.00 of it was invoiced before and is income of those days, 0.00 is income of 2026-01-20; 400.00 reached \
          the account on 2026-01-20."
        ]
    );
}

/// IAS 21 par. 28, from memory; figures of our own: 500 invoiced at 1.25 and paid at 1.30 or 1.20.
#[test]
fn the_answer_names_a_gain_a_gain_and_a_loss_a_loss_and_the_rate_of_a_foreign_payment() {
    let pounds = Currency::find("GBP").unwrap();
    let sterling = |text: &str| Amount::parse(text).unwrap().money(pounds).unwrap();
    let mut facts = deal("0");
    (facts.deal.agreed, facts.gross_so_far) = (sterling("1000.00"), sterling("0"));
    let (counts, open) = (sterling("500.00"), sterling("500.00"));
    facts.invoices = vec![InvoiceFacts { counts, open, ..open_invoice(1, "0", "625.00") }];
    let notes = |rate: &str| {
        let body = instalment(json!({ "gross": "500.00", "net": "500.00", "rate": rate }));
        write_in(&accrual(), |pen| receive(pen, &facts, bank(), &body)).unwrap().notes
    };
    let moved = "The rate moved between invoice and payment: 25.00 is";
    let brought = |rate: &str| {
        format!("Every figure was brought from GBP to USD at {rate}; the net is what they come to.")
    };
    assert_eq!(notes("1.3")[1..], [format!("{moved} a gain, other income."), brought("1.3")]);
    assert_eq!(notes("1.2")[1..], [format!("{moved} a loss, a cost."), brought("1.2")]);
    let at_home = came_in(&deal("0"), json!({ "gross": "1.00", "net": "1.00" })).unwrap();
    assert_eq!(at_home.notes.len(), 1, "{:?}", at_home.notes);
    let tiny = instalment(json!({ "gross": "0.01", "net": "0.01", "rate": "0.000001" }));
    let worthless = write(|pen| receive(pen, &DealFacts { invoices: Vec::new(), ..facts }, bank(), &tiny));
    assert_eq!(findings(worthless), ["/gross: 0.00 is not more than zero"]);
}

// Common practice, no source.
#[test]
fn an_instalment_pays_invoices_that_are_there_on_its_day_and_are_not_paid_yet() {
    let on = |number, date: &str, open: &str| InvoiceFacts {
        invoiced_on: date.parse().unwrap(),
        open: dollars(open),
        ..open_invoice(number, "100.00", "100.00")
    };
    let mut facts = deal("0");
    facts.invoices =
        vec![on(1, "2025-12-10", "0.00"), on(2, "2026-01-20", "100.00"), on(3, "2026-01-21", "100.00")];
    let body = instalment(json!({ "gross": "300.00", "net": "300.00" }));
    let got = write_in(&accrual(), |pen| receive(pen, &facts, bank(), &body)).unwrap();
    let paid: Vec<_> = got
        .rows
        .iter()
        .filter_map(|row| match row {
            Row::Settlement(one) => Some(one.invoice.0.as_u128()),
            _ => None,
        })
        .collect();
    assert_eq!(paid, [602]);
}
