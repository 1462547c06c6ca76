//! Entries: taking a record back. A correction is a reversal and, where wanted, a new record that stands in for it.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::RecordId;
use super::journal::Posted;
use super::recording::{Attribution, Movement, Pen, Recording, Word};
use super::refusal::{Explain, Refusal, Said};
use super::rows::ToolCharge;
use super::write_offs;

#[cfg(test)]
mod tests;

/// Takes back the record that an entry belongs to, with all its entries.
#[derive(Clone, Debug, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewReversal {
    /// Why it is taken back.
    #[schema(min_length = 1, max_length = 500, example = "the receipt was entered twice")]
    pub reason: String,
    /// The day of the reversal, on an open day and not before the record; left out: every row goes on its own day
    /// where that is open, else on the first open day. What is of a later day goes on that later day in either
    /// case, so that no day holds less than nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// Records that stand on this one are refused, or taken back with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dependants: Option<Dependants>,
}

super::named::named! {
    /// What becomes of records that stand on the one taken back.
    pub enum Dependants { Refuse => "refuse", TakeBack => "take_back" }
}

/// A record to take back, with everything it wrote.
#[derive(Clone, Debug)]
pub struct RecordToTakeBack {
    pub record: RecordId,
    pub word: Word,
    pub text: String,
    pub date: NaiveDate,
    pub reversed_by: Option<RecordId>,
    /// Whether it is itself a reversal.
    pub takes_back: Vec<RecordId>,
    /// The last day on which records that stood on it were taken back: up to then they still drew on it.
    pub drawn_on_until: Option<NaiveDate>,
    pub entries: Vec<Posted>,
    /// With the number of the entry behind each.
    pub movements: Vec<(Movement, Option<i64>)>,
    pub attributions: Vec<Attribution>,
    /// What closed years wrote off of the tools it brought, and what of it they settled for tools it let go: the
    /// net of each tool and year.
    pub written_off: Vec<ToolCharge>,
}

impl RecordToTakeBack {
    /// The last day on which it moved anything.
    fn last_day(&self) -> NaiveDate {
        let entries = self.entries.iter().map(|entry| entry.date);
        let movements = self.movements.iter().map(|(movement, _)| movement.date);
        entries.chain(movements).fold(self.date, NaiveDate::max)
    }
}

/// What can be wrong with a reversal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReversalFinding {
    BeforeTheRecord { date: NaiveDate, last_day: NaiveDate },
    StillDrawnOn { date: NaiveDate, until: NaiveDate },
    TakenBackAlready { by: RecordId },
    IsAReversal,
    HasDependants { what: Vec<String> },
    KeepsNoAmounts,
}

impl Explain for ReversalFinding {
    fn say(&self) -> Said {
        match self {
            Self::BeforeTheRecord { date, last_day } => Said::invalid(
                format!("the reversal is dated {date}, and the record is of {last_day}"),
                "leave date out, or give a day that is not before the record",
            ),
            Self::StillDrawnOn { date, until } => Said::invalid(
                format!("the reversal is dated {date}, and records on it were taken back only on {until}"),
                format!("leave date out, or give {until} or a later day"),
            ),
            Self::TakenBackAlready { by } => Said::conflict(
                format!("the record was taken back before, by {by}"),
                "record what is right as a new record",
            ),
            Self::IsAReversal => Said::conflict(
                "the record is itself a reversal",
                "record what is right as a new record; a reversal is not reversed",
            ),
            Self::HasDependants { what } => Said::conflict(
                format!("other records stand on this one: {}", what.join("; ")),
                "take those back first, or send \"dependants\": \"take_back\"; ?dry_run=true shows it before",
            ),
            Self::KeepsNoAmounts => Said::conflict(
                "closing and reopening are not taken back",
                "reopen with POST /v1/books/reopening, or close with POST /v1/books/closing",
            ),
        }
    }
}

/// A record that was to be corrected: what became of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordToReplace {
    pub record: RecordId,
    pub text: String,
    pub reversed_by: Option<RecordId>,
    pub replaced_by: Option<RecordId>,
}

/// What can be wrong with a record that is to stand in for another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReplacementFinding {
    StillStands { record: RecordId },
    ReplacedAlready { by: RecordId },
    NothingToStandIn { kind: &'static str },
}

impl Explain for ReplacementFinding {
    fn say(&self) -> Said {
        match self {
            Self::StillStands { record } => Said::conflict(
                format!("record {record} stands, so nothing can stand in for it"),
                format!("take it back first, with POST /v1/records/{record}/reversal, or leave replaces out"),
            ),
            Self::ReplacedAlready { by } => Said::conflict(
                format!("record {by} stands in for it already"),
                format!("take {by} back and send replaces={by}, or leave replaces out"),
            ),
            Self::NothingToStandIn { kind } => Said::conflict(
                format!("a {kind} stands in for nothing"),
                "leave replaces out; send it with the record that is right",
            ),
        }
    }
}

/// Links a record with the one that it corrects: that one was taken back, and nothing stands in for it yet.
/// # Errors
/// [`ReplacementFinding`], of the whole request.
pub fn stand_in(recording: &mut Recording, wrong: &RecordToReplace) -> Result<(), Refusal> {
    if !recording.reverses.is_empty() || recording.word == Word::Books {
        return Err(ReplacementFinding::NothingToStandIn { kind: recording.kind }.into());
    }
    if let Some(by) = wrong.replaced_by {
        return Err(ReplacementFinding::ReplacedAlready { by }.into());
    }
    if wrong.reversed_by.is_none() {
        return Err(ReplacementFinding::StillStands { record: wrong.record }.into());
    }
    recording.replaces = Some(wrong.record);
    recording.notes.push(format!("It stands in for a record that was taken back: {}", wrong.text));
    Ok(())
}

/// Takes back `chosen` and, if asked, the records that stand on it. `dependants` come in the order in which they
/// were recorded; they are taken back latest first.
/// # Errors
/// [`ReversalFinding`]; a closed day, or one before the record, at `/date`.
pub fn take_back(
    pen: &Pen<'_>,
    chosen: &RecordToTakeBack,
    dependants: &[RecordToTakeBack],
    new: &NewReversal,
) -> Result<Recording, Refusal> {
    if let Some(by) = chosen.reversed_by {
        return Err(ReversalFinding::TakenBackAlready { by }.into());
    }
    if !chosen.takes_back.is_empty() {
        return Err(ReversalFinding::IsAReversal.into());
    }
    if chosen.word == Word::Books {
        return Err(ReversalFinding::KeepsNoAmounts.into());
    }
    if !dependants.is_empty() && new.dependants != Some(Dependants::TakeBack) {
        let what = dependants.iter().map(|one| format!("{} ({})", one.text, one.record)).collect();
        return Err(ReversalFinding::HasDependants { what }.into());
    }
    let first_open = pen.books.first_open;
    let from = first_day(pen, chosen, new)?;
    let text = format!("taken back: {}: {}", chosen.text, new.reason);
    let mut recording = Recording::new(Word::Entries, "reversal", chosen.date.max(from), text);
    for record in dependants.iter().rev().chain([chosen]) {
        mirror(pen, &mut recording, record, from)?;
    }
    if !dependants.is_empty() {
        recording
            .notes
            .push(format!("{} records that stood on it were taken back with it", dependants.len()));
    }
    let last_day = chosen.last_day();
    if last_day < first_open && new.date.is_none() {
        recording.notes.push(format!(
            "{last_day} is closed, so the reversal is dated {first_open}, the first open day; a filed year is \
             amended from it"
        ));
    } else if from > last_day && new.date.is_none() {
        recording.notes.push(format!(
            "records on it were taken back on {from}, so the reversal is dated on that day too"
        ));
    }
    Ok(recording)
}

/// The day from which on all is as if the record had not been.
fn first_day(pen: &Pen<'_>, chosen: &RecordToTakeBack, new: &NewReversal) -> Result<NaiveDate, Refusal> {
    let last_day = chosen.last_day();
    let until = chosen.drawn_on_until;
    let why = match (new.date, until) {
        (None, until) => return Ok(until.map_or(pen.books.first_open, |day| day.max(pen.books.first_open))),
        (Some(date), _) if date < last_day => ReversalFinding::BeforeTheRecord { date, last_day },
        (Some(date), Some(until)) if date < until => ReversalFinding::StillDrawnOn { date, until },
        (Some(date), _) => return pen.open_day(date),
    };
    Err(Refusal::new("/date", why))
}

/// The opposite of every row, on the row's own day or on `from` if that is later: from that day on, all is as if the
/// record had not been. What closed years wrote off of its tools goes back with it, in the tax years it was taken in.
fn mirror(
    pen: &Pen<'_>,
    recording: &mut Recording,
    record: &RecordToTakeBack,
    from: NaiveDate,
) -> Result<(), Refusal> {
    recording.reverses.push(record.record);
    let first = recording.entries.len();
    recording.entries.extend(record.entries.iter().map(|entry| entry.taken_back(from, &record.text)));
    for (movement, entry) in &record.movements {
        let place = entry.and_then(|number| record.entries.iter().position(|one| one.number == number));
        recording.movements.push(Movement {
            date: movement.date.max(from),
            amount: movement.amount.negated(),
            entry: place.map(|place| first + place),
            ..movement.clone()
        });
    }
    for attribution in &record.attributions {
        recording.attributions.push(Attribution {
            date: attribution.date.max(from),
            amount: attribution.amount.negated(),
            ..attribution.clone()
        });
    }
    for charge in &record.written_off {
        write_offs::post(pen, recording, from, &record.text, &[charge.negated()])?;
    }
    Ok(())
}
