//! What stands on the accounts, in the trade's sentences.

use uuid::Uuid;

use super::*;
use crate::rules::chain::{Form, genesis};
use crate::rules::journal::{Draw, EntryKind, ExpenseClass, Posting, Stream};
use crate::rules::trial::{bank, day, dollars, usd};

fn sum(account: Account, amount: &str) -> AccountSum {
    AccountSum { account, name: account.code(), amount: dollars(amount) }
}

/// A workshop in its first months: 1,000 put in, 600 earned, 250 spent, a saw of 400, a loan of 300, 100 drawn.
fn workshop() -> Vec<AccountSum> {
    vec![
        sum(Account::Expense(ExpenseClass::Supplies), "250.00"),
        sum(bank().receiving(), "1150.00"),
        sum(Account::ToolsAtCost, "400.00"),
        sum(Account::Loans, "-300.00"),
        sum(Account::OwnerContribution, "-1000.00"),
        sum(Account::Draw(Draw::Cash), "100.00"),
        sum(Account::Income(Stream::Sponsorship), "-650.00"),
        sum(Account::ReturnsAllowances, "50.00"),
        sum(Account::MaterialsOnHand, "0.00"),
    ]
}

// Principles of Financial Accounting, 3.6, from memory: debits and credits come to the same.
#[test]
fn a_trial_balance_shows_each_account_on_its_side_and_both_sides_come_to_the_same() {
    let trial = trial_balance(&workshop(), Some(day("2025-03-31")), usd()).unwrap();
    assert!(trial.balances);
    assert_eq!((trial.debit_total, trial.credit_total), (dollars("1950.00"), dollars("1950.00")));
    let kinds: Vec<_> = trial.lines.iter().map(|line| line.kind).collect();
    // The empty shelf is left out.
    let expected = ["asset", "asset", "liability", "equity", "equity", "income", "income", "expense"];
    assert_eq!(kinds, expected);
    let mut torn = workshop();
    torn.pop();
    torn.pop();
    assert!(!trial_balance(&torn, None, usd()).unwrap().balances);
}

// Principles of Financial Accounting, 2.2 and 2.3, from memory: what was earned is the owner's.
#[test]
fn an_income_statement_and_a_balance_sheet_tell_the_same_result() {
    let earned = income_statement(&workshop(), None, None, usd()).unwrap();
    assert_eq!(earned.income_total, dollars("600.00"));
    assert_eq!((earned.cost_total, earned.result), (dollars("250.00"), dollars("350.00")));
    let returns = earned.income.iter().find(|line| line.account == Account::ReturnsAllowances).unwrap();
    assert_eq!(returns.amount, dollars("-50.00"));
    let sheet = balance_sheet(&workshop(), None, usd()).unwrap();
    assert_eq!((sheet.asset_total, sheet.liability_total), (dollars("1550.00"), dollars("300.00")));
    assert_eq!((sheet.result_not_closed, sheet.equity_total), (earned.result, dollars("1250.00")));
    assert!(sheet.balances);
}

// Common practice, no source.
#[test]
fn the_ledger_of_an_account_runs_from_what_stood_there_before() {
    let moved = |date: &str, entry, amount: &str| Moved {
        date: day(date),
        entry,
        line: 0,
        text: "paint".to_owned(),
        record: RecordId(Uuid::from_u128(1)),
        amount: dollars(amount),
    };
    let lines =
        run(dollars("20.00"), &[moved("2025-03-01", 4, "-5.00"), moved("2025-03-02", 3, "7.50")]).unwrap();
    let balances: Vec<_> = lines.iter().map(|line| line.balance.to_string()).collect();
    assert_eq!(balances, ["15.00", "22.50"]);
}

// FIPS 180-4 by way of the sha2 crate; the canonical form is our own and told in the chain's documentation.
#[test]
fn a_proof_holds_for_what_was_sealed_and_for_nothing_else() {
    let books = BooksId(Uuid::from_u128(9));
    let before = genesis(books);
    let posting =
        |account, amount: &str| Posting { account, amount: dollars(amount), class: None, tax_year: 2025 };
    let mut entry = SealedEntry {
        form: Form::First,
        number: 1,
        date: day("2025-03-01"),
        kind: EntryKind::Ordinary,
        text: "paint".to_owned(),
        record: RecordId(Uuid::from_u128(1)),
        reverses: None,
        postings: vec![
            posting(Account::MaterialsOnHand, "5.00"),
            posting(Account::OwnerContribution, "-5.00"),
        ],
        hash: before,
    };
    entry.hash = seal(&before, &entry.to_seal(books));
    let head = Head { number: 1, hash: entry.hash };
    let proof = prove(books, before, &entry, head);
    assert!(proof.holds);
    assert!(proof.canonical.starts_with("19:ledgerboard entry 1,64:"), "{}", proof.canonical);
    assert!(
        proof.canonical.ends_with("18:owner_contribution,5:-5.00,3:USD,0:,4:2025,"),
        "{}",
        proof.canonical
    );
    entry.text = "paint and a brush".to_owned();
    assert!(!prove(books, before, &entry, head).holds);
}
