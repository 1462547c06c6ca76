use proptest::prelude::*;
use serde_json::json;

use super::*;
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, Draw, ExpenseClass, Stream, TaxClass};
use crate::rules::recording::{Side, SourceKind};
use crate::rules::trial::{
    account, asked, balance, bank, books, findings, is_always_called_something, keeps_out_of_closed_days,
    ties, write, write_in,
};

fn move_money(from: MoneyAccount, to: MoneyAccount, more: serde_json::Value) -> Result<Recording, Refusal> {
    let mut body = json!({ "date": "2026-03-02", "from": from.id, "to": to.id });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    write(|pen| transfer(pen, from, to, &asked(body)))
}

#[test]
fn an_account_is_opened_on_the_day_the_books_begin_and_posts_nothing() {
    let opened = write(|pen| open(pen, &asked(json!({ "name": " checking ", "kind": "bank" })))).unwrap();
    assert!(opened.entries.is_empty());
    assert_eq!(opened.date, books().began_on);
    assert!(matches!(&opened.rows[..], [Row::MoneyAccount(row)] if row.name == "checking"));
    assert_eq!(
        findings(write(|pen| open(pen, &asked(json!({ "name": " ", "kind": "bank" }))))),
        ["/name: the name is empty"]
    );
}

#[test]
fn a_card_paid_off_from_the_bank_costs_nothing_but_the_fee() {
    let card = account(2, MoneyAccountKind::Card, "USD");
    let moved = move_money(bank(), card, json!({ "amount": "100.00", "fee": "1.50" })).unwrap();
    assert_eq!(balance(&moved, Account::Money(bank().id)), "-101.50");
    assert_eq!(balance(&moved, Account::Money(card.id)), "100.00");
    assert_eq!(balance(&moved, Account::Expense(ExpenseClass::BankFees)), "1.50");
    assert!(moved.sources.iter().all(|one| one.side == Side::Cost && one.kind == SourceKind::AccountCharge));
    assert!(moved.attributions.is_empty());
    ties(&moved, &[]);
}

#[test]
fn between_two_currencies_the_sum_in_the_books_currency_is_the_value() {
    let euros = account(3, MoneyAccountKind::Bank, "EUR");
    let out = json!({ "amount": "200.00", "fee": "2.00", "received": "217.00" });
    let home = move_money(euros, bank(), out).unwrap();
    // 2.00 of 200.00 euros is one hundredth of the 217.00 dollars that arrived.
    assert_eq!(balance(&home, Account::Money(euros.id)), "-219.17");
    assert_eq!(balance(&home, Account::Money(bank().id)), "217.00");
    let abroad = move_money(bank(), euros, json!({ "amount": "217.00", "received": "200.00" })).unwrap();
    assert_eq!(balance(&abroad, Account::Money(euros.id)), "217.00");
    let pounds = account(4, MoneyAccountKind::Bank, "GBP");
    let both = json!({ "amount": "100.00", "received": "86.00", "rate": "1.085" });
    let both = move_money(euros, pounds, both).unwrap();
    assert_eq!(balance(&both, Account::Money(pounds.id)), "108.50");
}

#[test]
fn a_transfer_that_can_not_be_says_why() {
    let euros = account(3, MoneyAccountKind::Bank, "EUR");
    assert_eq!(
        findings(move_money(bank(), bank(), json!({ "amount": "0" }))),
        ["/to: the money goes to the account it comes from", "/amount: 0 is not more than zero"]
    );
    assert_eq!(
        findings(move_money(bank(), euros, json!({ "amount": "1.00" }))),
        ["/received: USD goes out and EUR comes in, and no sum received is given"]
    );
    assert_eq!(
        findings(move_money(bank(), euros, json!({ "amount": "1.00", "received": "1.00", "rate": "1.1" }))),
        ["/rate: one of the accounts is in USD, so its own sum says what the transfer was worth"]
    );
    let card = account(2, MoneyAccountKind::Card, "USD");
    assert_eq!(
        findings(move_money(bank(), card, json!({ "amount": "1.00", "received": "1.00" }))),
        ["/received: both accounts are in USD, so what arrives is the amount"]
    );
    assert_eq!(
        findings(move_money(bank(), card, json!({ "amount": "1.005" }))),
        ["/amount: 1.005 has more decimals than USD has (2)"]
    );
}

#[test]
fn money_between_the_own_pocket_and_the_bank_is_a_contribution_and_a_draw() {
    let pocket = account(5, MoneyAccountKind::OwnPocket, "USD");
    let put_in = move_money(pocket, bank(), json!({ "amount": "50.00" })).unwrap();
    assert_eq!(balance(&put_in, Account::OwnerContribution), "-50.00");
    let taken = move_money(bank(), pocket, json!({ "amount": "50.00" })).unwrap();
    assert_eq!(balance(&taken, Account::Draw(Draw::Cash)), "50.00");
}

#[test]
fn what_the_owner_puts_in_or_takes_out_is_neither_income_nor_expense() {
    let body = json!({ "date": "2026-03-02", "into": bank().id, "amount": "500.00" });
    let put_in = write(|pen| contribute(pen, bank(), &asked(body.clone()))).unwrap();
    assert_eq!(balance(&put_in, Account::OwnerContribution), "-500.00");
    let out = json!({ "date": "2026-03-02", "from": bank().id, "amount": "500.00" });
    let taken = write(|pen| draw(pen, bank(), &asked(out))).unwrap();
    assert_eq!(balance(&taken, Account::Draw(Draw::Cash)), "500.00");
    let pocket = account(5, MoneyAccountKind::OwnPocket, "USD");
    assert_eq!(
        findings(write(|pen| contribute(pen, pocket, &asked(body)))),
        ["/into: an own pocket is the owner's purse, not money of the business"]
    );
}

/// Pub. 505 ch. 2: the fourth payment for a year falls in the January after it; from memory.
#[test]
fn the_fourth_estimated_payment_belongs_to_the_year_before_its_day() {
    let body = json!({
        "date": "2026-01-15", "from": bank().id, "amount": "800.00", "tax_year": 2025, "period": "fourth quarter",
    });
    let paid = write(|pen| pay_tax(pen, bank(), &asked(body.clone()))).unwrap();
    let tax = paid.entries[0].postings().iter().find(|one| one.class == Some(TaxClass::OwnerTax)).unwrap();
    assert_eq!((tax.account, tax.tax_year), (Account::Draw(Draw::TaxPayments), 2025));
    assert_eq!(tax.amount.to_string(), "800.00");
    assert_eq!(paid.text, "estimated tax for 2025, fourth quarter");
    ties(&paid, &[]);
    let mut unsaid = body.clone();
    unsaid["period"] = json!("  ");
    let paid = write(|pen| pay_tax(pen, bank(), &asked(unsaid))).unwrap();
    assert_eq!(paid.text, "estimated tax for 2025");
    let mut early = body;
    early["tax_year"] = json!(2028);
    assert_eq!(
        findings(write(|pen| pay_tax(pen, bank(), &asked(early)))),
        ["/tax_year: a payment of 2026-01-15 for the tax year 2028 is more than a year early"]
    );
}

#[test]
fn a_loan_is_a_debt_and_only_its_interest_is_a_cost() {
    let body = json!({ "date": "2026-01-10", "into": bank().id, "amount": "1000.00" });
    let lent = write(|pen| borrow(pen, bank(), &asked(body))).unwrap();
    assert_eq!(balance(&lent, Account::Loans), "-1000.00");
    let body = json!({ "date": "2026-02-10", "from": bank().id, "principal": "90.00", "interest": "10.00" });
    let paid = write(|pen| repay(pen, bank(), &LoanRepaid::Unnamed, &asked(body))).unwrap();
    assert_eq!(balance(&paid, Account::Loans), "90.00");
    assert_eq!(balance(&paid, Account::Expense(ExpenseClass::Interest)), "10.00");
    assert_eq!(balance(&paid, Account::Money(bank().id)), "-100.00");
    ties(&paid, &[]);
    let none = json!({ "date": "2026-02-10", "from": bank().id });
    assert_eq!(
        findings(write(|pen| repay(pen, bank(), &LoanRepaid::Unnamed, &asked(none)))),
        ["/principal: neither a part of the loan nor interest is paid"]
    );
}

#[test]
fn a_closed_day_takes_no_money() {
    let mut closed = books();
    closed.first_open = "2026-04-01".parse().unwrap();
    let body = json!({ "date": "2026-03-02", "from": bank().id, "amount": "5.00" });
    assert_eq!(
        findings(write_in(&closed, |pen| draw(pen, bank(), &asked(body)))),
        ["/date: 2026-03-02 lies in a closed period; the first open day is 2026-04-01"]
    );
}

proptest! {
    #[test]
    fn a_transfer_always_balances(amount in 1_u32..10_000_000, fee in 0_u32..100_000, received in 1_u32..10_000_000) {
        let euros = account(3, MoneyAccountKind::Bank, "EUR");
        let text = |cents: u32| rust_decimal::Decimal::new(cents.into(), 2).to_string();
        let sums = json!({ "amount": text(amount), "fee": text(fee), "received": text(received) });
        for (from, to) in [(bank(), euros), (euros, bank())] {
            ties(&move_money(from, to, sums.clone()).unwrap(), &[]);
        }
    }
}

#[test]
fn a_transfer_says_where_it_touches_the_owners_own_pocket() {
    let pocket = account(5, MoneyAccountKind::OwnPocket, "USD");
    let ten = || json!({ "amount": "10.00" });
    let notes = |from, to| move_money(from, to, ten()).unwrap().notes;
    assert_eq!(
        notes(pocket, bank()),
        ["The money came from the owner's own pocket: an owner's contribution."]
    );
    assert_eq!(notes(bank(), pocket), ["The money went to the owner's own pocket: an owner's draw."]);
    assert!(notes(bank(), account(2, MoneyAccountKind::Card, "USD")).is_empty());
}

// Invariant 8.
#[test]
fn no_money_moves_on_a_closed_day() {
    let card = account(2, MoneyAccountKind::Card, "USD");
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        let body =
            json!({ "date": date, "from": bank().id, "to": card.id, "amount": "100.00", "fee": "1.50" });
        transfer(pen, bank(), card, &asked(body))
    });
    let into = |date| json!({ "date": date, "into": bank().id, "amount": "500.00" });
    keeps_out_of_closed_days("2025-01-01", |pen, date| contribute(pen, bank(), &asked(into(date))));
    keeps_out_of_closed_days("2025-01-01", |pen, date| borrow(pen, bank(), &asked(into(date))));
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        draw(pen, bank(), &asked(json!({ "date": date, "from": bank().id, "amount": "500.00" })))
    });
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        let body = json!({ "date": date, "from": bank().id, "principal": "90.00", "interest": "10.00" });
        repay(pen, bank(), &LoanRepaid::Unnamed, &asked(body))
    });
    // The tax of a year that is closed is paid on an open day.
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        let body = json!({ "date": date, "from": bank().id, "amount": "800.00", "tax_year": 2024 });
        pay_tax(pen, bank(), &asked(body))
    });
}

#[test]
fn an_account_is_called_by_its_name_and_never_by_nothing() {
    is_always_called_something::<AccountLabels>("name");
}

#[test]
fn a_loan_is_paid_back_by_principal_alone_or_by_interest_alone() {
    let paid = |part: &str| {
        let body = json!({ "date": "2026-02-10", "from": bank().id, part: "10.00" });
        let paid = write(|pen| repay(pen, bank(), &LoanRepaid::Unnamed, &asked(body))).unwrap();
        ties(&paid, &[]);
        (balance(&paid, Account::Loans), balance(&paid, Account::Expense(ExpenseClass::Interest)))
    };
    assert_eq!(paid("principal"), ("10.00".to_owned(), "0.00".to_owned()));
    assert_eq!(paid("interest"), ("0.00".to_owned(), "10.00".to_owned()));
}

#[test]
fn tax_may_be_paid_a_year_ahead_and_no_earlier() {
    let ahead = |tax_year: i32| {
        let body =
            json!({ "date": "2026-12-31", "from": bank().id, "amount": "800.00", "tax_year": tax_year });
        write(|pen| pay_tax(pen, bank(), &asked(body)))
    };
    assert_eq!(ahead(2027).unwrap().text, "estimated tax for 2027");
    assert_eq!(findings(ahead(2028)).len(), 1);
}

fn euros() -> MoneyAccount {
    account(3, MoneyAccountKind::Bank, "EUR")
}

fn lender_record() -> RecordId {
    asked(json!("0192a1b2-0000-7000-8000-00000000000a"))
}

/// A thousand euros, taken in at 1.10 on 10 January, and what was paid back of it since.
fn thousand_euros(repaid: &[&str]) -> LoanRepaid {
    let loan = json!({ "date": "2026-01-10", "into": euros().id, "amount": "1000.00", "rate": "1.10" });
    let repaid = repaid.iter().map(|principal| {
        asked(json!({ "date": "2026-02-01", "from": euros().id, "principal": principal, "rate": "1.10" }))
    });
    let (record, currency, repaid) = (lender_record(), euros().currency, repaid.collect());
    LoanRepaid::Named(Box::new(LoanOwed { record, loan: asked(loan), currency, repaid }))
}

fn pays_back(which: &LoanRepaid, principal: &str, rate: &str) -> Result<Recording, Refusal> {
    let body = json!({ "date": "2026-03-10", "from": euros().id, "principal": principal, "rate": rate,
                       "loan": lender_record() });
    write(|pen| repay(pen, euros(), which, &asked(body)))
}

// IAS 21 par. 28: a difference on settlement goes to profit or loss (from memory); figures derived: 400 euros were booked
// at 440.00 and cost 460.00 at 1.15, or 420.00 at 1.05.
#[test]
fn what_the_rate_moved_between_a_loan_and_its_repayment_is_a_gain_or_a_loss() {
    let dearer = pays_back(&thousand_euros(&[]), "400.00", "1.15").unwrap();
    assert_eq!(balance(&dearer, Account::Loans), "440.00");
    assert_eq!(balance(&dearer, Account::Expense(ExpenseClass::OtherExpense)), "20.00");
    assert_eq!(balance(&dearer, Account::Money(euros().id)), "-460.00");
    ties(&dearer, &[]);
    assert_eq!(
        dearer.notes,
        ["it was booked at 440.00 and paid back with 460.00: 20.00 is an exchange loss, of no episode"]
    );
    assert_eq!(dearer.depends_on, [lender_record()]);
    let cheaper = pays_back(&thousand_euros(&[]), "400.00", "1.05").unwrap();
    assert_eq!(balance(&cheaper, Account::Loans), "440.00");
    assert_eq!(balance(&cheaper, Account::Income(Stream::Other)), "-20.00");
    ties(&cheaper, &[]);
    assert_eq!(cheaper.streams, [Stream::Other]);
    let as_it_was = pays_back(&thousand_euros(&[]), "400.00", "1.10").unwrap();
    assert_eq!((as_it_was.sources.len(), as_it_was.notes.len()), (0, 0));
}

#[test]
fn a_loan_that_is_not_named_goes_down_by_what_is_paid_at_the_rate_of_the_day() {
    let paid = pays_back(&LoanRepaid::Unnamed, "400.00", "1.15").unwrap();
    assert_eq!(balance(&paid, Account::Loans), "460.00");
    assert_eq!((paid.sources.len(), paid.depends_on.len()), (0, 0));
}

proptest! {
    /// However a loan is cut, its parts leave nothing of what it was booked at.
    #[test]
    fn a_loan_paid_back_in_parts_leaves_no_cent(parts in proptest::collection::vec(1_u32..4_000, 1..12), rate in 1_u32..30_000) {
        let cents = |cents: u32| format!("{}.{:02}", cents / 100, cents % 100);
        let (rate, whole) = (format!("{}.{:04}", rate / 10_000, rate % 10_000), cents(parts.iter().sum()));
        let loan = json!({ "date": "2026-01-10", "into": euros().id, "amount": whole, "rate": rate });
        let lent = write(|pen| borrow(pen, euros(), &asked(loan.clone())));
        // A rate that brings the loan to less than a cent is refused.
        prop_assume!(lent.is_ok());
        let mut owed = LoanOwed {
            record: lender_record(), loan: asked(loan), currency: euros().currency, repaid: Vec::new(),
        };
        let mut back = Money::zero(books().base);
        for part in parts {
            let named = LoanRepaid::Named(Box::new(owed.clone()));
            let paid = pays_back(&named, &cents(part), "1.2345").unwrap();
            let gone = paid.entries.iter().flat_map(|entry| entry.postings());
            let gone: Vec<_> = gone.filter(|one| one.account == Account::Loans).map(|one| one.amount).collect();
            for amount in gone {
                back = back.plus(amount).unwrap();
            }
            owed.repaid.push(asked(json!({
                "date": "2026-03-10", "from": euros().id, "principal": cents(part), "rate": "1.2345",
            })));
        }
        let lent = lent.unwrap();
        let booked = lent.entries.iter().flat_map(|entry| entry.postings());
        let booked: Vec<_> = booked.filter(|one| one.account == Account::Loans).map(|one| one.amount).collect();
        prop_assert_eq!(booked.first().copied().unwrap_or(back).negated(), back);
    }
}

#[test]
fn a_loan_takes_no_more_than_it_was_in_its_own_currency_and_not_before_it_came() {
    let refused = |which: &LoanRepaid, body: serde_json::Value| {
        let from = if body["from"] == json!(euros().id) { euros() } else { bank() };
        findings(write(|pen| repay(pen, from, which, &asked(body))))
    };
    let mut body = json!({ "date": "2026-03-10", "from": euros().id, "principal": "400.01", "rate": "1.10" });
    let most = thousand_euros(&["350.00", "250.00"]);
    assert_eq!(refused(&most, body.clone()), ["/principal: 400.00 is left of the loan"]);
    assert_eq!(balance(&pays_back(&most, "400.00", "1.10").unwrap(), Account::Loans), "440.00");
    body["principal"] = json!("1.00");
    body["date"] = json!("2026-01-09");
    assert_eq!(refused(&most, body.clone()), ["/date: the loan came in on 2026-01-10, after this day"]);
    let dollars = json!({ "date": "2026-03-10", "from": bank().id, "principal": "1.00" });
    assert_eq!(
        refused(&most, dollars),
        ["/from: the loan came in in EUR, and this account is in another currency"]
    );
}
