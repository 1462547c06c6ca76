//! Books: closing a period and reopening it are explicit, recorded acts. Closing over the end of a tax year posts what
//! the year writes off of its tools and closes its result to equity; reopening takes that back.

mod choices;
mod year_end;

#[cfg(test)]
mod tests;

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::recording::{BooksFacts, Pen, RecordFinding, Recording, Word};
use super::refusal::{Explain, Refusal, Said};
use super::rows::{PeriodAct, PeriodActKind, Row};
use super::write_offs::last_day;

pub use choices::{ChoiceFinding, TaxProfile, TimeZone};
pub use year_end::{Departed, WorkedOut, YearEnd, YearEndPosted};

/// Closes every day up to and with `through`.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewClosing {
    /// The last day that is closed. Where it takes in the end of a tax year, that year's depreciation, its small
    /// tools and the closing of its result to equity are posted on the year's last day.
    pub through: NaiveDate,
    /// Why now, such as: agrees with the bank.
    #[schema(min_length = 1, max_length = 500, example = "the return for 2025 was filed")]
    pub reason: String,
}

/// Opens days again, from `from` on.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReopening {
    /// The first day that takes entries again. What a closing posted at the end of a year that is open again is
    /// taken back.
    pub from: NaiveDate,
    /// Why a closed period has to be opened.
    #[schema(min_length = 1, max_length = 500, example = "a receipt of November turned up")]
    pub reason: String,
}

/// What can be wrong with closing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PeriodFinding {
    ClosedAlready { first_open: NaiveDate },
    OpenAlready { first_open: NaiveDate },
    YearsAtOnce { first: i32, last: i32 },
}

impl Explain for PeriodFinding {
    fn say(&self) -> Said {
        match self {
            Self::ClosedAlready { first_open } => Said::conflict(
                format!("those days are closed already; the first open day is {first_open}"),
                "give a later day",
            ),
            Self::OpenAlready { first_open } => Said::conflict(
                format!("that day is open already; the first open day is {first_open}"),
                "give an earlier day, or leave the period as it is",
            ),
            Self::YearsAtOnce { first, last } => Said::conflict(
                format!(
                    "the years {first} to {last} would be closed at once, and each has entries of its own"
                ),
                format!("close through {} first, then the years after it one by one", last_day(*first)),
            ),
        }
    }
}

/// Whether a closing takes in the end of a tax year.
#[derive(Clone, Debug, PartialEq)]
pub enum Ending<T> {
    PartOfYear,
    Year(T),
}

/// What the journal holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Journal {
    Empty,
    /// The day of its earliest entry.
    Since(NaiveDate),
}

/// Which tax year ends within the days that `new` closes. Years before the first entry have nothing to end.
/// # Errors
/// [`PeriodFinding::YearsAtOnce`] at `/through`.
pub fn year_ending(books: &BooksFacts, journal: Journal, new: &NewClosing) -> Result<Ending<i32>, Refusal> {
    let Journal::Since(earliest) = journal else { return Ok(Ending::PartOfYear) };
    let first = books.first_open.max(earliest).year();
    let last =
        if new.through == last_day(new.through.year()) { new.through.year() } else { new.through.year() - 1 };
    match last - first {
        ..0 => Ok(Ending::PartOfYear),
        0 => Ok(Ending::Year(last)),
        1.. => Err(Refusal::new("/through", PeriodFinding::YearsAtOnce { first, last })),
    }
}

fn act(
    kind: PeriodActKind,
    date: NaiveDate,
    closed_through: NaiveDate,
    reason: &str,
) -> Result<Recording, Refusal> {
    if reason.trim().is_empty() {
        return Err(Refusal::new("/reason", RecordFinding::NeedsText { what: "reason" }));
    }
    let mut recording = Recording::new(Word::Books, kind.as_str(), date, reason);
    recording.rows.push(Row::PeriodAct(PeriodAct { kind, closed_through, reason: reason.to_owned() }));
    Ok(recording)
}

/// Closes a period and, at a year's end, posts its write-offs and closes its result.
/// # Errors
/// [`PeriodFinding::ClosedAlready`] at `/through`.
pub fn close(pen: &Pen<'_>, new: &NewClosing, ending: &Ending<YearEnd>) -> Result<Recording, Refusal> {
    let first_open = pen.books.first_open;
    if new.through < first_open {
        return Err(Refusal::new("/through", PeriodFinding::ClosedAlready { first_open }));
    }
    let mut recording = act(PeriodActKind::Closed, new.through, new.through, &new.reason)?;
    if let Ending::Year(end) = ending {
        year_end::post(pen, &mut recording, end)?;
    }
    Ok(recording)
}

/// Opens days again; `posted` is what closings posted for the years whose end is open again.
/// # Errors
/// [`PeriodFinding::OpenAlready`] at `/from`.
pub fn reopen(pen: &Pen<'_>, new: &NewReopening, posted: &[YearEndPosted]) -> Result<Recording, Refusal> {
    let first_open = pen.books.first_open;
    let Some(last_closed) = new.from.pred_opt().filter(|_| new.from < first_open) else {
        return Err(Refusal::new("/from", PeriodFinding::OpenAlready { first_open }));
    };
    let mut recording = act(PeriodActKind::Reopened, new.from, last_closed, &new.reason)?;
    for year in posted.iter().filter(|one| last_day(one.year) >= new.from) {
        year_end::take_back(pen, &mut recording, new.from, year)?;
    }
    Ok(recording)
}
