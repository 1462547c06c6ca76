//! A filed year as the books say it now: line by line, with the records that changed it since.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::CAUTION;
use super::TaxFinding;
use super::facts::{FiledYear, RecordNamed, RecordSince, YearFacts};
use super::form::TaxLine;
use super::profile::Profile;
use super::questions::{Questions, Topic};
use super::summary::YearSummary;
use crate::rules::ids::RecordId;
use crate::rules::journal::{EntryKind, Posting, TaxClass};
use crate::rules::money::{Currency, Money, MoneyFinding};
use crate::rules::refusal::Refusal;
use crate::rules::rows::FiledLine;

/// What a preparer needs for an amended return.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Amended {
    pub jurisdiction: &'static str,
    pub year: i32,
    pub currency: Currency,
    pub form: &'static str,
    pub caution: &'static str,
    /// The day of the last return that was filed: the lines are compared with that one.
    pub filed_on: NaiveDate,
    /// The record of that filing.
    pub filing: RecordId,
    /// How many returns of the year were filed.
    pub filed: usize,
    /// The ledger's last entry when it was filed.
    pub head_number: i64,
    /// Every line with a figure, in the order of the form.
    pub lines: Vec<AmendedLine>,
    /// What was recorded since and carries that tax year, in the order it was recorded.
    pub records: Vec<AmendedRecord>,
    /// What it comes to, in words.
    pub says: String,
}

/// A line of the form, as it was filed and as the books say it now. What is missing on one side counts as nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct AmendedLine {
    /// The part of the form.
    pub part: String,
    /// The line's number; `item` for a row of the list of other expenses.
    pub line: String,
    /// What the form calls the line.
    pub label: String,
    /// Whether the whole units differ.
    pub changed: bool,
    /// What was filed on it.
    #[schema(value_type = String)]
    pub filed: Decimal,
    /// What the books say now.
    #[schema(value_type = String)]
    pub now: Decimal,
    /// Now less filed.
    #[schema(value_type = String)]
    pub difference: Decimal,
    /// In whole units, as a return takes them.
    #[schema(value_type = String)]
    pub filed_whole: Decimal,
    /// The same in whole units, as a return takes them.
    #[schema(value_type = String)]
    pub now_whole: Decimal,
    /// The difference of the two in whole units.
    #[schema(value_type = String)]
    pub difference_whole: Decimal,
    /// Where the records behind the line are.
    pub drill_down: Option<String>,
}

/// A record made since.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct AmendedRecord {
    pub record: RecordId,
    /// The word under whose address it was made.
    pub word: String,
    /// Which of the word's records it is, such as `sale`.
    pub kind: String,
    pub date: NaiveDate,
    pub text: String,
    pub link: String,
    /// The records that it takes back.
    pub takes_back: Vec<OriginalRecord>,
    /// The record that took it back.
    pub taken_back_by: Option<RecordId>,
    /// Its entries with a posting of that tax year; none where it only states something.
    pub entries: Vec<AmendedEntry>,
}

/// A record that was taken back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct OriginalRecord {
    pub record: RecordId,
    pub date: NaiveDate,
    pub text: String,
    pub link: String,
}

/// An entry made since, with its postings of that tax year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct AmendedEntry {
    pub number: i64,
    pub date: NaiveDate,
    pub kind: EntryKind,
    pub text: String,
    /// The number of the entry that it takes back, and where that is.
    pub reverses: Option<i64>,
    /// Where the entry that it takes back is read.
    pub original: Option<String>,
    pub postings: Vec<AmendedPosting>,
}

/// A posting of the year, with the line of the form that it is entered on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct AmendedPosting {
    pub account: String,
    pub class: Option<TaxClass>,
    /// Debits positive, credits negative.
    pub amount: Money,
    /// None where no line of the form takes it.
    pub line: Option<&'static str>,
}

/// An entry that was made after a filing.
#[derive(Clone, Debug)]
pub struct EntrySince {
    pub number: i64,
    pub record: RecordId,
    pub date: NaiveDate,
    pub kind: EntryKind,
    pub text: String,
    pub reverses: Option<i64>,
    pub postings: Vec<Posting>,
}

/// Compares the year as it was filed last with what the books say now. `entries` are those since the filing.
/// # Errors
/// [`TaxFinding::NotFiled`]; [`MoneyFinding`] if a difference is too large.
pub fn amended(facts: &YearFacts, summary: &YearSummary, entries: &[EntrySince]) -> Result<Amended, Refusal> {
    let year = facts.year();
    let filed = facts.filed.as_ref().ok_or(TaxFinding::NotFiled { year })?;
    let lines = compare(&filed.lines, &summary.lines)?;
    let since = filed.since.iter().map(|one| record_of(one, entries, facts.profile, year)).collect();
    Ok(Amended {
        jurisdiction: summary.jurisdiction,
        year,
        currency: summary.currency,
        form: summary.form,
        caution: CAUTION,
        filed_on: filed.filed_on,
        filing: filed.record,
        filed: filed.times,
        head_number: filed.head_number,
        says: says(filed, &lines),
        lines,
        records: since,
    })
}

fn says(filed: &FiledYear, lines: &[AmendedLine]) -> String {
    let changed = changed_numbers(lines);
    match (changed.is_empty(), filed.since.is_empty()) {
        (true, true) => format!("Nothing has changed since the return was filed on {}.", filed.filed_on),
        (true, false) => format!(
            "Records made since the return was filed on {} carry this year, and no line of the form changed by them.",
            filed.filed_on
        ),
        (false, true) => format!(
            "These lines differ from the return filed on {}: {}. No record made since carries this year itself: an \
             earlier year's record or choice, or another version of the form, moved them.",
            filed.filed_on,
            changed.join(", ")
        ),
        (false, false) => {
            format!("These lines differ from the return filed on {}: {}.", filed.filed_on, changed.join(", "))
        }
    }
}

fn changed_numbers(lines: &[AmendedLine]) -> Vec<&str> {
    let mut numbers: Vec<&str> =
        lines.iter().filter(|line| line.changed).map(|line| line.line.as_str()).collect();
    numbers.dedup();
    numbers
}

/// Every line of either side: those of today's form in its order, then what only the filed one had.
fn compare(filed: &[FiledLine], now: &[TaxLine]) -> Result<Vec<AmendedLine>, MoneyFinding> {
    let mut lines = Vec::new();
    let same = |one: &FiledLine, line: &TaxLine| {
        one.part == line.part.as_str() && one.line == line.line && one.label == line.label
    };
    for line in now.iter().filter(|line| line.exact.is_some()) {
        let before = filed.iter().find(|one| same(one, line));
        let (exact, whole) = before.map_or((None, None), |one| (one.exact, one.whole));
        lines.push(AmendedLine {
            part: line.part.as_str().to_owned(),
            line: line.line.to_owned(),
            label: line.label.clone(),
            drill_down: line.drill_down.clone(),
            ..beside((exact, whole), (line.exact, line.whole))?
        });
    }
    for one in filed.iter().filter(|one| !now.iter().any(|line| same(one, line))) {
        lines.push(AmendedLine {
            part: one.part.clone(),
            line: one.line.clone(),
            label: one.label.clone(),
            ..beside((one.exact, one.whole), (None, None))?
        });
    }
    Ok(lines)
}

type Figures = (Option<Decimal>, Option<Decimal>);

fn beside(filed: Figures, now: Figures) -> Result<AmendedLine, MoneyFinding> {
    let figure = |one: Option<Decimal>| one.unwrap_or_default();
    // The database keeps one number of decimals for all: cents and miles are shown as the form shows them.
    let scale = now.0.map_or(2, |now| now.scale());
    let shown = |one: Option<Decimal>| {
        let mut one = figure(one).normalize();
        one.rescale(one.scale().max(scale));
        one
    };
    let less = |now: Decimal, filed: Decimal| now.checked_sub(filed).ok_or(MoneyFinding::TooLarge);
    let (filed_exact, now_exact) = (shown(filed.0), shown(now.0));
    let (filed_whole, now_whole) = (figure(filed.1).normalize(), figure(now.1).normalize());
    let (difference, difference_whole) = (less(now_exact, filed_exact)?, less(now_whole, filed_whole)?);
    Ok(AmendedLine {
        part: String::new(),
        line: String::new(),
        label: String::new(),
        changed: !difference.is_zero() || !difference_whole.is_zero(),
        filed: filed_exact,
        now: now_exact,
        difference,
        filed_whole,
        now_whole,
        difference_whole,
        drill_down: None,
    })
}

fn record_of(one: &RecordSince, entries: &[EntrySince], profile: &Profile, year: i32) -> AmendedRecord {
    let link = |record: RecordId| format!("/v1/records/{record}");
    let entry = |entry: &EntrySince| AmendedEntry {
        number: entry.number,
        date: entry.date,
        kind: entry.kind,
        text: entry.text.clone(),
        reverses: entry.reverses,
        original: entry.reverses.map(|number| format!("/v1/entries/{number}")),
        postings: entry
            .postings
            .iter()
            .filter(|posting| posting.tax_year == year)
            .map(|posting| AmendedPosting {
                account: posting.account.code(),
                class: posting.class,
                amount: posting.amount,
                line: posting.class.and_then(|class| profile.line_of(class)),
            })
            .collect(),
    };
    let original = |named: &RecordNamed| OriginalRecord {
        record: named.record,
        date: named.date,
        text: named.text.clone(),
        link: link(named.record),
    };
    AmendedRecord {
        record: one.record,
        word: one.word.clone(),
        kind: one.kind.clone(),
        date: one.date,
        text: one.text.clone(),
        link: link(one.record),
        takes_back: one.takes_back.iter().map(original).collect(),
        taken_back_by: one.taken_back_by,
        entries: entries.iter().filter(|entry| entry.record == one.record).map(entry).collect(),
    }
}

/// Asks for an amended return where the books say something else than what was filed.
/// # Errors
/// [`MoneyFinding`] if a difference is too large.
pub(super) fn ask(facts: &YearFacts, now: &[TaxLine], questions: &mut Questions) -> Result<(), MoneyFinding> {
    let Some(filed) = &facts.filed else { return Ok(()) };
    let lines = compare(&filed.lines, now)?;
    let changed = lines.iter().any(|line| line.changed);
    // Closing and reopening alone are no change of what the year is.
    let recorded = filed.since.iter().filter(|one| one.word != "books").count();
    if changed || recorded > 0 {
        let due = if changed { "Is an amended return due?" } else { "Does a schedule of the return change?" };
        questions.ask(
            Topic::AmendedReturn,
            format!("{} Records since that carry the year: {recorded}. {due}", says(filed, &lines)),
            [format!("/v1/tax-years/{}/amended", facts.year())],
        );
    }
    Ok(())
}
