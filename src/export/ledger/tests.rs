use super::*;
use crate::rules::chain::Hash;
use crate::rules::journal::{Account, ExpenseClass, Stream};
use crate::rules::ledger::{AccountSum, balance_sheet, income_statement, trial_balance};
use crate::rules::trial::{bank, day, dollars, usd};

fn sums() -> Vec<AccountSum> {
    let sum = |account: Account, name: &str, amount| AccountSum {
        account,
        name: name.to_owned(),
        amount: dollars(amount),
    };
    vec![
        sum(bank().receiving(), "=Workshop account", "350.00"),
        sum(Account::Income(Stream::Tips), "income: tips", "-600.00"),
        sum(Account::Expense(ExpenseClass::Supplies), "expense: supplies", "250.00"),
    ]
}

const HEAD: Head = Head { number: 7, hash: Hash([0xab; 32]) };

// RFC 4180 (line ends, quoting); that a cell may not read as a formula: common practice, no source.
#[test]
fn a_trial_balance_is_a_table_that_a_spreadsheet_adds_up_and_can_not_be_tricked_with() {
    let trial = trial_balance(&sums(), Some(day("2025-03-31")), usd()).unwrap();
    let written = String::from_utf8(trial_balance_csv(&trial, &HEAD).unwrap()).unwrap();
    let rows: Vec<_> = written.split("\r\n").collect();
    assert_eq!(rows[0], "section,account,name,currency,debit,credit");
    assert!(rows[1].ends_with(",'=Workshop account,USD,350.00,0.00"), "{}", rows[1]);
    assert_eq!(rows[4], "total,,,USD,600.00,600.00");
    assert_eq!(rows[5], format!("head,7,{},,,", "ab".repeat(32)));
}

#[test]
fn statements_read_as_tables_with_their_totals_and_the_books_last_entry() {
    let earned = income_statement(&sums(), Some(day("2025-01-01")), None, usd()).unwrap();
    let shown = income_statement_text(&earned, &HEAD);
    assert!(shown.starts_with("Income statement, from 2025-01-01\n="), "{shown}");
    assert!(shown.contains("Books up to entry 7") && shown.contains("350.00"), "{shown}");
    let sheet = balance_sheet(&sums(), None, usd()).unwrap();
    let shown = balance_sheet_text(&sheet, &HEAD);
    assert!(shown.contains("result not closed yet"), "{shown}");
    assert_eq!(shown.lines().filter(|line| line.chars().count() > text::WIDTH).count(), 0);
    let written = String::from_utf8(balance_sheet_csv(&sheet, &HEAD).unwrap()).unwrap();
    assert!(written.contains("equity,,total,USD,350.00\r\n"), "{written}");
    assert!(income_statement_csv(&earned, &HEAD).is_ok());
    assert!(
        trial_balance_text(&trial_balance(&sums(), None, usd()).unwrap(), &HEAD)
            .contains("all that is recorded")
    );
}
