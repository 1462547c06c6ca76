//! Verifying: every invariant that shows in the data, recomputed over one set of books.
//!
//! A reader across all words. It takes rows as they are stored and believes none of them; it says what it looked
//! at, how many there were, and names the entry or the row of every breach. One pass over each kind of row.

mod journal;
mod sources;

#[cfg(test)]
mod tests;

use std::fmt;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::chain::{Head, SealedEntry};
use super::ids::{BooksId, SourceId};
use super::money::{Currency, Money};
use super::named::named;
use super::recording::{MovementKind, Source};
use super::rows::PeriodActKind;

/// One set of books as it is stored.
#[derive(Clone, Debug)]
pub struct BooksToVerify {
    pub books: BooksId,
    pub base: Currency,
    /// The last entry's number and hash, as the books keep them.
    pub head: Head,
    /// The first day that takes entries, as the books keep it; the first of all days where nothing was ever closed.
    pub first_open: NaiveDate,
    /// In any order; each entry's postings in the order of their lines.
    pub entries: Vec<SealedEntry>,
    /// The other way round than [`SealedEntry::reverses`]: what stands with the entry that was taken back.
    pub reversals: Vec<ReversalLink>,
    /// In the order they were recorded in.
    pub period_acts: Vec<StoredPeriodAct>,
    pub sources: Vec<Source>,
    pub movements: Vec<StoredMovement>,
    pub attributions: Vec<StoredAttribution>,
    pub lots: Vec<StoredLot>,
    pub tools: Vec<StoredTool>,
    /// What the store could not read as what it should be: an amount beyond the currency's scale, an account or
    /// a class that nobody knows.
    pub unreadable: Vec<Unreadable>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReversalLink {
    pub entry: i64,
    pub reversed_by: i64,
}

#[derive(Clone, Debug)]
pub struct StoredPeriodAct {
    pub kind: PeriodActKind,
    /// The last closed day after this act.
    pub closed_through: NaiveDate,
    /// The books' last entry when the days were closed or opened: a closing's own entries are before it, what a
    /// reopening takes back after it. None where nobody knows:
    /// then entries before the next act that does are not judged.
    pub after: Option<i64>,
}

#[derive(Clone, Debug)]
pub struct StoredMovement {
    /// What the row is called in the database.
    pub row: String,
    pub source: SourceId,
    pub date: NaiveDate,
    pub kind: MovementKind,
    pub amount: Money,
    /// The number of the entry behind it.
    pub entry: Option<i64>,
}

#[derive(Clone, Debug)]
pub struct StoredAttribution {
    /// What the row is called in the database.
    pub row: String,
    pub source: SourceId,
    pub date: NaiveDate,
    pub amount: Money,
    /// Which of the things it names beside its source is not there.
    pub missing: Option<&'static str>,
}

/// A lot and what has moved it; a lot whose record was taken back holds nothing.
#[derive(Clone, Debug)]
pub struct StoredLot {
    /// What the row is called in the database.
    pub row: String,
    pub material: String,
    pub unit: String,
    pub acquired_on: NaiveDate,
    pub quantity: Decimal,
    pub cost: Money,
    /// Those of records that nobody took back.
    pub moves: Vec<StoredLotMove>,
}

#[derive(Clone, Copy, Debug)]
pub struct StoredLotMove {
    pub date: NaiveDate,
    /// Negative when it leaves, as is the cost.
    pub quantity: Decimal,
    pub cost: Money,
}

#[derive(Clone, Debug)]
pub struct StoredTool {
    /// What the row is called in the database.
    pub row: String,
    pub source: SourceId,
    pub name: String,
    pub cost: Money,
    /// What a gain is counted from.
    pub basis_for_gain: Money,
    /// The least it was ever estimated at.
    pub salvage: Money,
}

#[derive(Clone, Debug)]
pub struct Unreadable {
    pub entry: Option<i64>,
    pub row: String,
    /// What is wrong with it, in words.
    pub what: String,
}

named! {
    /// What is looked at.
    pub enum Checked {
        Readable => "readable",
        Numbers => "numbers",
        Chain => "chain",
        Head => "head",
        Balance => "balance",
        Currency => "currency",
        Reversals => "reversals",
        ClosedPeriods => "closed_periods",
        Orphans => "orphans",
        Dates => "dates",
        Tie => "tie",
        RollForward => "roll_forward",
        Lots => "lots",
        Tools => "tools",
    }
}

/// One check over all the books.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Check {
    pub of: Checked,
    /// How many were looked at.
    pub looked_at: usize,
    /// How many breaches it found.
    pub breaches: usize,
    /// Such as `1,204 entries balance`.
    pub says: String,
}

/// One thing that is not as it must be.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Breach {
    pub of: Checked,
    /// The entry it is about.
    pub entry: Option<i64>,
    /// The row it is about, where it is no entry.
    pub row: Option<String>,
    pub says: String,
}

impl fmt::Display for Breach {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.entry, &self.row) {
            (Some(entry), Some(row)) => write!(out, "entry {entry}, {row}: {}", self.says),
            (Some(entry), None) => write!(out, "entry {entry}: {}", self.says),
            (None, Some(row)) => write!(out, "{row}: {}", self.says),
            (None, None) => out.write_str(&self.says),
        }
    }
}

/// What was looked at and what was found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct Verdict {
    pub checks: Vec<Check>,
    pub breaches: Vec<Breach>,
}

impl Verdict {
    /// Whether nothing is wrong.
    pub fn holds(&self) -> bool {
        self.breaches.is_empty()
    }
}

/// Recomputes every invariant that shows in the data.
pub fn verify(facts: &BooksToVerify) -> Verdict {
    let mut verdict = Verdict::default();
    let mut readable = Inquiry::new(Checked::Readable);
    for row in &facts.unreadable {
        readable.finds(row.entry, Some(row.row.clone()), row.what.clone());
    }
    readable.looked_at = rows_of(facts);
    readable.tell(&mut verdict, "row can be read", "rows can be read");
    journal::verify(facts, &mut verdict);
    sources::verify(facts, &mut verdict);
    verdict
}

/// How many rows were read or should have been; the postings are counted with their currency.
fn rows_of(facts: &BooksToVerify) -> usize {
    let moves: usize = facts.lots.iter().map(|lot| lot.moves.len()).sum();
    facts.entries.len()
        + facts.period_acts.len()
        + facts.sources.len()
        + facts.movements.len()
        + facts.attributions.len()
        + facts.lots.len()
        + moves
        + facts.tools.len()
        + facts.unreadable.len()
}

/// A check on its way.
struct Inquiry {
    of: Checked,
    looked_at: usize,
    breaches: Vec<Breach>,
}

impl Inquiry {
    fn new(of: Checked) -> Self {
        Self { of, looked_at: 0, breaches: Vec::new() }
    }

    fn looks(&mut self) {
        self.looked_at += 1;
    }

    fn finds(&mut self, entry: Option<i64>, row: Option<String>, says: impl Into<String>) {
        self.breaches.push(Breach { of: self.of, entry, row, says: says.into() });
    }

    fn finds_in_entry(&mut self, entry: i64, says: impl Into<String>) {
        self.finds(Some(entry), None, says);
    }

    fn finds_in_row(&mut self, row: impl Into<String>, says: impl Into<String>) {
        self.finds(None, Some(row.into()), says);
    }

    /// Ends it with the words for one and for many that are as they must be.
    fn tell(self, verdict: &mut Verdict, one: &str, many: &str) {
        let phrase = if self.looked_at == 1 { one } else { many };
        let says = match self.breaches.len() {
            0 => format!("{} {phrase}", grouped(self.looked_at)),
            found => format!("{} {phrase}, but for {}", grouped(self.looked_at), breaches_in_words(found)),
        };
        verdict.checks.push(Check {
            of: self.of,
            looked_at: self.looked_at,
            breaches: self.breaches.len(),
            says,
        });
        verdict.breaches.extend(self.breaches);
    }
}

fn breaches_in_words(count: usize) -> String {
    if count == 1 { "1 breach".to_owned() } else { format!("{} breaches", grouped(count)) }
}

/// 1204 is said as 1,204.
fn grouped(count: usize) -> String {
    let digits = count.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Sums of what is stored never fail: past what a decimal holds they stay at its end, and are out of balance.
fn total(amounts: impl IntoIterator<Item = Decimal>) -> Decimal {
    amounts.into_iter().fold(Decimal::ZERO, Decimal::saturating_add)
}
