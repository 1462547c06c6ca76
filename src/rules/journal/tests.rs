use std::collections::BTreeSet;

use chrono::NaiveDate;
use proptest::prelude::*;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::ids::MoneyAccountId;
use super::super::money::{Currency, Money};
use super::{Account, Entry, EntryDraft, EntryKind, ExpenseClass, TaxClass};

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

/// One line as a rule writes it: an account by its place among the starters, cents, whether it is a credit, its year.
type Line = (usize, i64, bool, i32);

fn any_lines() -> impl Strategy<Value = Vec<Line>> {
    let cents = prop_oneof![-999_999_999_i64..999_999_999, -2_i64..3];
    prop::collection::vec((0..Account::starters().len(), cents, any::<bool>(), 2020..2027_i32), 0..12)
}

/// The entry of those lines, and its sum in cents.
fn written(lines: &[Line]) -> (EntryDraft, i64) {
    let (mut entry, mut sum, accounts) = (draft(), 0, Account::starters());
    for (place, cents, credit, year) in lines {
        match (credit, year) {
            (true, _) => entry.credit(accounts[*place], usd(*cents), TaxClass::Supplies),
            (false, 2025) => entry.debit(accounts[*place], usd(*cents), None),
            (false, _) => entry.debit_for_year(accounts[*place], usd(*cents), None, *year),
        }
        sum += if *credit { -cents } else { *cents };
    }
    (entry, sum)
}

fn total(entry: &Entry) -> Decimal {
    entry.postings().iter().map(|posting| posting.amount.amount()).sum()
}

proptest! {
    // Invariant 1.
    #[test]
    fn lines_that_come_to_nothing_are_an_entry_and_any_others_are_refused_with_what_is_missing(lines in any_lines()) {
        let (entry, sum) = written(&lines);
        match entry.close() {
            Ok(entry) => {
                prop_assert_eq!(sum, 0);
                let moved = lines.iter().filter(|(_, cents, ..)| *cents != 0).count();
                prop_assert_eq!(entry.as_ref().map_or(0, |entry| entry.postings().len()), moved);
                prop_assert!(entry.is_none_or(|entry| total(&entry).is_zero()));
            }
            Err(refusal) => {
                prop_assert_ne!(sum, 0, "{}", refusal);
                let missing = format!("out of balance by {}", usd(sum));
                prop_assert!(refusal.to_string().contains(&missing), "{}", refusal);
            }
        }
    }

    // The same where one last line makes good what is missing: no cent more and no cent less is taken.
    #[test]
    fn only_the_exact_sum_on_the_other_side_closes_an_entry(lines in any_lines(), off in -2_i64..3) {
        let (mut entry, sum) = written(&lines);
        entry.credit(Account::OwnerContribution, usd(sum + off), None);
        let closed = entry.close();
        prop_assert_eq!(closed.is_ok(), off == 0, "off by {}", off);
        if let Ok(Some(entry)) = closed {
            prop_assert!(total(&entry).is_zero());
            prop_assert!(entry.postings().iter().all(|posting| !posting.amount.is_zero()));
        }
    }

    // Sums are of one currency; one that is not the books' would balance by its figures alone.
    #[test]
    fn no_line_in_a_strange_currency_is_ever_part_of_an_entry(lines in any_lines(), cents in 1_i64..999_999) {
        let (mut entry, sum) = written(&lines);
        entry.credit(Account::OwnerContribution, usd(sum), None);
        let strange = Money::exact(Decimal::new(cents, 2), Currency::find("CAD").unwrap()).unwrap();
        entry.debit(Account::MaterialsOnHand, strange, None);
        entry.credit(Account::OwnerContribution, strange, None);
        prop_assert!(entry.close().is_err());
    }
}
