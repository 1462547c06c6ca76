//! Write-offs: what a year's end posts for tools, and what is posted when it goes back.

use chrono::NaiveDate;

use super::journal::{Account, Draw, EntryKind, ExpenseClass, Stream, TaxClass};
use super::money::Money;
use super::recording::{Pen, Recording};
use super::refusal::Refusal;
use super::rows::{ChargeKind, Row, ToolCharge};

/// The last day of a tax year, which is the calendar's.
pub fn last_day(year: i32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, 12, 31).unwrap_or(NaiveDate::MAX)
}

/// Posts charges of one kind and one tax year as one entry, and keeps a row of each. It is dated on the year's last
/// day, or on `from` if that is later; its postings belong to the tax year in either case.
///
/// Depreciation is an expense against accumulated depreciation, a small tool one against its cost. What comes back of
/// earlier years is other income and goes the other way. What is settled takes the carried sum off a tool that had
/// gone before its year was closed.
/// # Errors
/// [`MoneyFinding`](super::money::MoneyFinding) if a sum is too large.
/// # Source
/// Principles of Financial Accounting, 11.3 (depreciation entries) and 11.5 (disposal), from memory.
pub fn post(
    pen: &Pen<'_>,
    recording: &mut Recording,
    from: NaiveDate,
    text: &str,
    charges: &[ToolCharge],
) -> Result<(), Refusal> {
    let Some(ToolCharge { tax_year, kind, .. }) = charges.first().cloned() else { return Ok(()) };
    let sum = |of: fn(&ToolCharge) -> Money| Money::sum(pen.base(), charges.iter().map(of));
    let small_tools = sum(|one| one.small_tool)?;
    let depreciation = sum(|one| one.section_179)?.plus(sum(|one| one.depreciation)?)?;
    let recaptured = sum(|one| one.recaptured)?;
    let accumulated = charges
        .iter()
        .try_fold(Money::zero(pen.base()), |so_far, charge| so_far.plus(charge.accumulates()?))?;
    let date = last_day(tax_year).max(from);
    let mut entry = pen.entry(date, text).of_kind(EntryKind::Depreciation);
    let mut post = |account, amount, class: Option<TaxClass>| {
        entry.debit_for_year(account, amount, class, tax_year);
    };
    match kind {
        ChargeKind::Charged => {
            let (year, small) = (ExpenseClass::Depreciation, ExpenseClass::SmallTools);
            post(Account::Expense(year), depreciation, Some(year.tax_class()));
            post(Account::Expense(small), small_tools, Some(small.tax_class()));
            post(Account::Income(Stream::Other), recaptured.negated(), Some(TaxClass::OtherIncome));
            post(Account::AccumulatedDepreciation, accumulated.negated(), None);
            post(Account::ToolsAtCost, small_tools.negated(), None);
        }
        ChargeKind::SettledBySale | ChargeKind::SettledByDraw => {
            let (account, class) = match kind {
                ChargeKind::SettledByDraw => (Account::Draw(Draw::PersonalItems), TaxClass::Personal),
                _ => (Account::BusinessPropertySales, TaxClass::BusinessPropertySale),
            };
            post(Account::AccumulatedDepreciation, accumulated, None);
            post(Account::ToolsAtCost, small_tools, None);
            post(account, accumulated.plus(small_tools)?.negated(), Some(class));
        }
    }
    recording.post(entry)?;
    recording.rows.extend(charges.iter().cloned().map(Row::ToolCharge));
    Ok(())
}
