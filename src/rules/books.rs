//! Books: closing a period and reopening it are explicit, recorded acts.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::recording::{Pen, RecordFinding, Recording, Word};
use super::refusal::{Explain, Refusal, Said};
use super::rows::{PeriodAct, PeriodActKind, Row};

/// Closes every day up to and with `through`.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewClosing {
    /// The last day that is closed.
    pub through: NaiveDate,
    #[schema(min_length = 1, max_length = 500, example = "the return for 2025 was filed")]
    pub reason: String,
}

/// Opens days again, from `from` on.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReopening {
    /// The first day that takes entries again.
    pub from: NaiveDate,
    #[schema(min_length = 1, max_length = 500, example = "a receipt of November turned up")]
    pub reason: String,
}

/// What can be wrong with closing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PeriodFinding {
    ClosedAlready { first_open: NaiveDate },
    OpenAlready { first_open: NaiveDate },
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
        }
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

/// # Errors
/// [`PeriodFinding::ClosedAlready`] at `/through`.
pub fn close(pen: &Pen<'_>, new: &NewClosing) -> Result<Recording, Refusal> {
    let first_open = pen.books.first_open;
    if new.through < first_open {
        return Err(Refusal::new("/through", PeriodFinding::ClosedAlready { first_open }));
    }
    act(PeriodActKind::Closed, new.through, new.through, &new.reason)
}

/// # Errors
/// [`PeriodFinding::OpenAlready`] at `/from`.
pub fn reopen(pen: &Pen<'_>, new: &NewReopening) -> Result<Recording, Refusal> {
    let first_open = pen.books.first_open;
    match new.from.pred_opt() {
        Some(last_closed) if new.from < first_open => {
            act(PeriodActKind::Reopened, new.from, last_closed, &new.reason)
        }
        _ => Err(Refusal::new("/from", PeriodFinding::OpenAlready { first_open })),
    }
}
