//! The ledger: a reader across all words that lays out what stands on every account. Trial balance, income statement,
//! balance sheet, the ledger of one account, and the proof that an entry is part of the chain.

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::chain::{Hash, Head, SealedEntry, canonical_form, seal};
use super::ids::{BooksId, RecordId};
use super::journal::{Account, AccountType};
use super::money::{Currency, Money, MoneyFinding};

/// What stands on one account, or moved on it in a period; debits positive.
#[derive(Clone, Debug)]
pub struct AccountSum {
    pub account: Account,
    /// What a reader knows it by: the name of a money account, the words of any other.
    pub name: String,
    pub amount: Money,
}

/// Every account with what stands on it, on the side it stands on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TrialBalance {
    /// The last day counted; none where all is.
    pub on: Option<NaiveDate>,
    pub currency: Currency,
    /// One account a line.
    pub lines: Vec<TrialLine>,
    pub debit_total: Money,
    pub credit_total: Money,
    /// Whether both sides come to the same.
    pub balances: bool,
}

/// An account of a trial balance; one of the two sides is zero.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct TrialLine {
    #[schema(value_type = String, example = "expense:supplies")]
    pub account: Account,
    pub name: String,
    /// `asset`, `liability`, `equity`, `income` or `expense`.
    #[serde(rename = "type")]
    #[schema(example = "expense")]
    pub kind: &'static str,
    pub debit: Money,
    pub credit: Money,
}

/// An account with its sum, positive on the side its kind usually stands on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct LedgerLine {
    #[schema(value_type = String, example = "expense:supplies")]
    pub account: Account,
    pub name: String,
    pub amount: Money,
}

/// What a period earned and what it cost in the journal. Closing entries are left out, so that a closed year shows what
/// an open one shows; own hours are no cost, and what a tax form makes of it is the year's summary.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct IncomeStatement {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub currency: Currency,
    /// One account a line.
    pub income: Vec<LedgerLine>,
    pub income_total: Money,
    /// One account a line.
    pub costs: Vec<LedgerLine>,
    pub cost_total: Money,
    pub result: Money,
}

/// What the business has and owes on a day, and what of it is the owner's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BalanceSheet {
    /// The last day counted; null for all that is recorded.
    pub on: Option<NaiveDate>,
    pub currency: Currency,
    /// What the business has, one account a line.
    pub assets: Vec<LedgerLine>,
    pub asset_total: Money,
    /// What it owes.
    pub liabilities: Vec<LedgerLine>,
    pub liability_total: Money,
    /// What of it is the owner's.
    pub equity: Vec<LedgerLine>,
    /// Income less costs that no closing has taken to equity yet.
    pub result_not_closed: Money,
    /// With the result not closed yet.
    pub equity_total: Money,
    /// Whether assets come to liabilities and equity.
    pub balances: bool,
}

/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// Principles of Financial Accounting, 3.6 (trial balance), from memory.
pub fn trial_balance(
    sums: &[AccountSum],
    on: Option<NaiveDate>,
    currency: Currency,
) -> Result<TrialBalance, MoneyFinding> {
    let zero = Money::zero(currency);
    let lines: Vec<_> = standing(sums)
        .map(|sum| {
            let amount = sum.amount.absolute();
            let (debit, credit) = if sum.amount.is_negative() { (zero, amount) } else { (amount, zero) };
            let kind = sum.account.kind().as_str();
            TrialLine { account: sum.account, name: sum.name.clone(), kind, debit, credit }
        })
        .collect();
    let debit_total = Money::sum(currency, lines.iter().map(|line| line.debit))?;
    let credit_total = Money::sum(currency, lines.iter().map(|line| line.credit))?;
    let balances = debit_total == credit_total;
    Ok(TrialBalance { on, currency, lines, debit_total, credit_total, balances })
}

/// `sums` are those of the period without closing entries.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// Principles of Financial Accounting, 2.2 (income statement), from memory.
pub fn income_statement(
    sums: &[AccountSum],
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
    currency: Currency,
) -> Result<IncomeStatement, MoneyFinding> {
    let income = of_kind(sums, AccountType::Income);
    let costs = of_kind(sums, AccountType::Expense);
    let income_total = total(&income, currency)?;
    let cost_total = total(&costs, currency)?;
    let result = income_total.minus(cost_total)?;
    Ok(IncomeStatement { from, to, currency, income, income_total, costs, cost_total, result })
}

/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// Principles of Financial Accounting, 2.3 (balance sheet: assets are liabilities and equity), from memory.
pub fn balance_sheet(
    sums: &[AccountSum],
    on: Option<NaiveDate>,
    currency: Currency,
) -> Result<BalanceSheet, MoneyFinding> {
    let assets = of_kind(sums, AccountType::Asset);
    let liabilities = of_kind(sums, AccountType::Liability);
    let equity = of_kind(sums, AccountType::Equity);
    let asset_total = total(&assets, currency)?;
    let liability_total = total(&liabilities, currency)?;
    let earned = total(&of_kind(sums, AccountType::Income), currency)?;
    let result_not_closed = earned.minus(total(&of_kind(sums, AccountType::Expense), currency)?)?;
    let equity_total = total(&equity, currency)?.plus(result_not_closed)?;
    let balances = asset_total == liability_total.plus(equity_total)?;
    Ok(BalanceSheet {
        on,
        currency,
        assets,
        asset_total,
        liabilities,
        liability_total,
        equity,
        result_not_closed,
        equity_total,
        balances,
    })
}

/// Accounts on which something stands, in the order of the chart.
fn standing(sums: &[AccountSum]) -> impl Iterator<Item = &AccountSum> {
    let mut sums: Vec<_> = sums.iter().filter(|sum| !sum.amount.is_zero()).collect();
    sums.sort_by_key(|sum| sum.account);
    sums.into_iter()
}

fn of_kind(sums: &[AccountSum], kind: AccountType) -> Vec<LedgerLine> {
    let of_kind = standing(sums).filter(|sum| sum.account.kind() == kind);
    let usual = |amount: Money| match kind {
        AccountType::Asset | AccountType::Expense => amount,
        AccountType::Liability | AccountType::Equity | AccountType::Income => amount.negated(),
    };
    of_kind
        .map(|sum| LedgerLine { account: sum.account, name: sum.name.clone(), amount: usual(sum.amount) })
        .collect()
}

fn total(lines: &[LedgerLine], currency: Currency) -> Result<Money, MoneyFinding> {
    Money::sum(currency, lines.iter().map(|line| line.amount))
}

/// A line of an account's ledger, before its running balance is known.
#[derive(Clone, Debug)]
pub struct Moved {
    pub date: NaiveDate,
    pub entry: i64,
    pub line: i32,
    pub text: String,
    pub record: RecordId,
    pub amount: Money,
}

/// A line of an account's ledger.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct AccountLine {
    pub date: NaiveDate,
    /// The entry's number.
    pub entry: i64,
    pub text: String,
    pub record: RecordId,
    /// Debits positive.
    pub amount: Money,
    /// What stands on the account after it.
    pub balance: Money,
}

/// Puts the running balance beside each line, from what stood there before the first.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub fn run(before: Money, moved: &[Moved]) -> Result<Vec<AccountLine>, MoneyFinding> {
    let mut balance = before;
    moved
        .iter()
        .map(|one| {
            balance = balance.plus(one.amount)?;
            Ok(AccountLine {
                date: one.date,
                entry: one.entry,
                text: one.text.clone(),
                record: one.record,
                amount: one.amount,
                balance,
            })
        })
        .collect()
}

/// That an entry is part of the chain: what was hashed, and both hashes. Whoever has the proofs of all later entries,
/// each of which names the hash before it, comes to the head.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct EntryProof {
    pub number: i64,
    /// The bytes the hash is taken of, as text: each field as its length in bytes, a colon, the field, a comma.
    pub canonical: String,
    /// `SHA-256`.
    pub algorithm: &'static str,
    /// The hash of the entry before, which is in the canonical form; of the books themselves before the first.
    pub hash_before: Hash,
    /// As it is stored with the entry.
    pub hash: Hash,
    /// Whether the stored hash is that of the canonical form.
    pub holds: bool,
    /// The last entry of the books.
    pub head: Head,
}

/// Proves one entry, given the hash before it.
pub fn prove(books: BooksId, before: Hash, entry: &SealedEntry, head: Head) -> EntryProof {
    let to_seal = entry.to_seal(books);
    EntryProof {
        number: entry.number,
        canonical: canonical_form(&before, &to_seal),
        algorithm: "SHA-256",
        hash_before: before,
        hash: entry.hash,
        holds: seal(&before, &to_seal) == entry.hash,
        head,
    }
}
