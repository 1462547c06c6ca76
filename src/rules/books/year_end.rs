//! The end of a tax year in the journal: write-offs of tools, and the year's result to equity.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::rules::ids::{RecordId, ToolId};
use crate::rules::journal::{Account, AccountType, EntryKind, Posted};
use crate::rules::money::Money;
use crate::rules::recording::{Pen, Recording};
use crate::rules::refusal::Refusal;
use crate::rules::rows::{ChargeKind, DisposalKind, Row, ToolCharge};
use crate::rules::write_offs::{self, last_day};

/// Whether the year's write-offs are known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WorkedOut {
    Yes,
    /// Why not, in words: no profile for the year, or one in another currency.
    No(String),
}

/// What closing a year must know of it.
#[derive(Clone, Debug)]
pub struct YearEnd {
    pub year: i32,
    pub worked_out: WorkedOut,
    /// What the year's summary writes off, tool by tool.
    pub charges: Vec<ToolCharge>,
    /// The tools among them that are gone by the day of closing.
    pub departed: Vec<Departed>,
    /// What stands on each account on the year's last day, debits positive.
    pub balances: Vec<(Account, Money)>,
}

/// A tool that is gone.
#[derive(Clone, Debug)]
pub struct Departed {
    pub tool: ToolId,
    pub name: String,
    pub date: NaiveDate,
    pub kind: DisposalKind,
}

/// What stands in the journal of a year's end.
#[derive(Clone, Debug)]
pub struct YearEndPosted {
    pub year: i32,
    /// The closing that posted it.
    pub closing: RecordId,
    /// Its entries, in the order of their numbers.
    pub entries: Vec<Posted>,
    /// What it wrote off and settled, tool by tool.
    pub charges: Vec<ToolCharge>,
    /// What was posted of it since, as records of tools were taken back.
    pub corrections: Vec<ToolCharge>,
}

/// Income, expenses, draws and contributions are of one year and begin the next at nothing.
fn belongs_to_a_year(account: Account) -> bool {
    match account {
        Account::OwnerContribution | Account::Draw(_) => true,
        other => matches!(other.kind(), AccountType::Income | AccountType::Expense),
    }
}

pub(super) fn post(pen: &Pen<'_>, recording: &mut Recording, end: &YearEnd) -> Result<(), Refusal> {
    let date = last_day(end.year);
    let text = format!("write-offs of {}", end.year);
    write_offs::post(pen, recording, date, &text, &end.charges)?;
    for gone in &end.departed {
        settle(pen, recording, end, gone)?;
    }
    let written_off = Money::sum(
        pen.base(),
        end.charges.iter().flat_map(|one| [one.small_tool, one.section_179, one.depreciation]),
    )?;
    let recaptured = Money::sum(pen.base(), end.charges.iter().map(|one| one.recaptured))?;
    let kept = close_result(pen, recording, end)?;
    recording.notes.push(match &end.worked_out {
        WorkedOut::Yes => {
            format!("{written_off} was written off of tools for {}, as its summary works it out.", end.year)
        }
        WorkedOut::No(why) => format!("Nothing was written off of tools for {}: {why}.", end.year),
    });
    if recaptured.is_positive() {
        recording.notes.push(format!(
            "{recaptured} of earlier write-offs comes back into income, for tools used less for the business."
        ));
    }
    recording.notes.push(format!(
        "The accounts of the year were closed to retained earnings with {kept}. Close a year once its summary was \
         looked through: what changes afterwards is a correction."
    ));
    Ok(())
}

/// What was written off of a tool that had gone before its year was closed comes off what its sale compared with.
fn settle(pen: &Pen<'_>, recording: &mut Recording, end: &YearEnd, gone: &Departed) -> Result<(), Refusal> {
    let kind = match gone.kind {
        DisposalKind::PersonalUse => ChargeKind::SettledByDraw,
        _ => ChargeKind::SettledBySale,
    };
    let of_tool = end.charges.iter().filter(|charge| charge.tool == Some(gone.tool));
    let settled: Vec<_> = of_tool.map(|charge| ToolCharge { kind, ..charge.clone() }).collect();
    let text = format!("write-off of {} settled: {} ({})", end.year, gone.name, gone.kind);
    write_offs::post(pen, recording, gone.date, &text, &settled)
}

/// Closes the year's accounts and says what went to retained earnings: the result with draws and contributions.
/// # Source
/// Principles of Financial Accounting, 5.1 (closing entries), from memory.
fn close_result(pen: &Pen<'_>, recording: &mut Recording, end: &YearEnd) -> Result<Money, Refusal> {
    let date = last_day(end.year);
    let mut balances: BTreeMap<Account, Money> = BTreeMap::new();
    let posted = recording.entries.iter().filter(|entry| entry.date <= date);
    let posted = posted.flat_map(|entry| entry.postings()).map(|posting| (posting.account, posting.amount));
    for (account, amount) in end.balances.iter().copied().chain(posted) {
        if belongs_to_a_year(account) {
            let so_far = balances.get(&account).copied().unwrap_or(Money::zero(pen.base()));
            balances.insert(account, so_far.plus(amount)?);
        }
    }
    let mut entry = pen.entry(date, format!("closing of {}", end.year)).of_kind(EntryKind::Closing);
    let mut kept = Money::zero(pen.base());
    for (account, balance) in balances {
        entry.credit(account, balance, None);
        kept = kept.minus(balance)?;
    }
    entry.credit(Account::RetainedEarnings, kept, None);
    recording.post(entry)?;
    Ok(kept)
}

/// Takes back what a year's end posted, latest first, and what corrected it since.
pub(super) fn take_back(
    pen: &Pen<'_>,
    recording: &mut Recording,
    from: NaiveDate,
    posted: &YearEndPosted,
) -> Result<(), Refusal> {
    let what = format!("{} is open again", posted.year);
    for correction in posted.corrections.iter().rev() {
        let text = format!("correction of the write-offs of {} taken back: {what}", posted.year);
        write_offs::post(pen, recording, from, &text, &[correction.negated()])?;
    }
    recording.reverses.push(posted.closing);
    recording.entries.extend(posted.entries.iter().rev().map(|entry| entry.taken_back(from, &what)));
    recording.rows.extend(posted.charges.iter().map(|charge| Row::ToolCharge(charge.negated())));
    recording.notes.push(format!(
        "What was posted at the end of {} is taken back; closing it again posts it anew.",
        posted.year
    ));
    Ok(())
}
