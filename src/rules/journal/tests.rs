use std::collections::BTreeSet;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::ids::MoneyAccountId;
use super::super::money::{Currency, Money};
use super::{Account, EntryDraft, EntryKind, ExpenseClass, TaxClass};

fn usd(cents: i64) -> Money {
    Money::exact(Decimal::new(cents, 2), Currency::find("USD").unwrap()).unwrap()
}

fn draft() -> EntryDraft {
    EntryDraft::on(NaiveDate::from_ymd_opt(2025, 12, 31).unwrap(), "Paint", usd(0).currency())
}

#[test]
fn every_account_is_found_again_by_its_code_and_no_two_share_one() {
    let mut accounts = Account::starters();
    accounts.push(Account::Money(MoneyAccountId(Uuid::from_u128(7))));
    let codes: BTreeSet<String> = accounts.iter().map(|account| account.code()).collect();
    assert_eq!(codes.len(), accounts.len());
    for account in accounts {
        assert!(!account.code().is_empty());
        assert_eq!(Account::of_code(&account.code()), Some(account));
    }
    for unknown in
        ["", "money:", "money:7", "expense:", "expense:paint", "draw:everything", "Loans", "loans:1"]
    {
        assert_eq!(Account::of_code(unknown), None, "{unknown}");
    }
}

#[test]
fn every_expense_class_has_the_tax_class_of_its_name() {
    for class in ExpenseClass::ALL {
        assert_eq!(class.tax_class().as_str(), class.as_str());
    }
    for class in TaxClass::ALL {
        assert_eq!(TaxClass::named(class.as_str()), Some(*class));
    }
}

#[test]
fn an_entry_out_of_balance_can_not_be_made_and_one_of_nothing_is_none() {
    let mut lame = draft();
    lame.debit(Account::MaterialsOnHand, usd(4110), None);
    lame.credit(Account::OwnerContribution, usd(4100), None);
    let said = lame.close().unwrap_err().to_string();
    assert!(said.contains("out of balance by 0.10"), "{said}");

    let mut nothing = draft();
    nothing.debit(Account::MaterialsOnHand, usd(0), None);
    assert_eq!(nothing.close().unwrap(), None);
}

#[test]
fn a_reversal_turns_the_sums_round_and_leaves_the_tax_years() {
    let mut draft = draft();
    draft.debit(Account::Expense(ExpenseClass::Supplies), usd(4110), TaxClass::Supplies);
    draft.credit(Account::OwnerContribution, usd(4110), None);
    let entry = draft.close().unwrap().unwrap();
    let later = NaiveDate::from_ymd_opt(2026, 1, 5).unwrap();
    let back = crate::rules::journal::Entry::taking_back(
        1,
        entry.postings(),
        later,
        "Takes back the paint".to_owned(),
    );
    assert_eq!((back.kind, back.date), (EntryKind::Reversal, later));
    for (one, other) in entry.postings().iter().zip(back.postings()) {
        assert_eq!(one.amount, other.amount.negated());
        assert_eq!((one.account, one.class, one.tax_year), (other.account, other.class, other.tax_year));
    }
    assert!(back.postings().iter().all(|posting| posting.tax_year == 2025));
}
