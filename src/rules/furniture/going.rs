//! What stands against a piece's leaving on a day: a sale, a gift and taking a set apart share it.

use chrono::NaiveDate;

use super::super::ids::RecordId;
use super::super::recording::RecordFinding;
use super::super::refusal::{Explain, Findings, Refusal, Said};
use super::super::rows::LeavingKind;
use super::PieceFacts;

/// Why a piece can not leave.
#[derive(Clone, Debug, PartialEq)]
pub enum GoingFinding {
    AlreadySold { name: String, sold_on: NaiveDate },
    AlreadyLeft { name: String, how: LeavingKind, on: NaiveDate },
    CostAfter { last: NaiveDate, date: NaiveDate },
    GoneUntil { name: String, until: NaiveDate, date: NaiveDate },
}

impl Explain for GoingFinding {
    fn say(&self) -> Said {
        match self {
            Self::AlreadySold { name, sold_on } => Said::conflict(
                format!("{name} was already sold on {sold_on}"),
                "name another piece, or reverse that sale first",
            ),
            Self::AlreadyLeft { name, how, on } => Said::conflict(
                format!("{name} was already {} on {on}", left_in_words(*how)),
                "name another piece, or reverse that record first",
            ),
            Self::CostAfter { last, date } => Said::conflict(
                format!("a cost was put into the piece on {last}, after {date}, the day it is said to go"),
                "correct the date, or reverse that cost and record it where it belongs",
            ),
            Self::GoneUntil { name, until, date } => Said::conflict(
                format!(
                    "{name} is gone on {date} by the books: its earlier leaving was taken back on {until}"
                ),
                format!("give {until} or a later day"),
            ),
        }
    }
}

/// Such as `given away`.
pub const fn left_in_words(how: LeavingKind) -> &'static str {
    match how {
        LeavingKind::TakenApart => "taken apart",
        LeavingKind::GivenAway => "given away",
        LeavingKind::Donated => "donated",
        LeavingKind::Dumped => "dumped",
        LeavingKind::Lost => "lost",
        LeavingKind::TakenHome => "taken home",
    }
}

pub(super) fn after_it_came(date: NaiveDate, began: NaiveDate) -> Result<(), Refusal> {
    if date < began {
        return Err(Refusal::new("/date", RecordFinding::BeforeItBegan { what: "piece", began, date }));
    }
    Ok(())
}

impl PieceFacts {
    /// Adds all that stands against its leaving on `date`: it is gone, it had not come, a cost came later.
    pub(super) fn may_go(&self, date: NaiveDate, findings: &mut Findings) {
        let piece = &self.piece;
        if let Some(sold) = &self.sale {
            findings.add(GoingFinding::AlreadySold { name: piece.name.clone(), sold_on: sold.date });
        }
        if let Some(left) = &self.left {
            let (name, how, on) = (piece.name.clone(), left.how, left.date);
            findings.add(GoingFinding::AlreadyLeft { name, how, on });
        }
        findings.keep(after_it_came(date, piece.acquired_on));
        let last = self.costs.iter().map(|cost| cost.date).max();
        if let Some(last) = last.filter(|last| *last > date && date >= piece.acquired_on) {
            findings.add(Refusal::new("/date", GoingFinding::CostAfter { last, date }));
        }
        if let Some(until) = self.gone_until.filter(|until| date < *until) {
            let finding = GoingFinding::GoneUntil { name: piece.name.clone(), until, date };
            findings.add(Refusal::new("/date", finding));
        }
    }

    /// The record that brought the piece in and those that put something into it: none can go while it is gone.
    pub(super) fn records(&self) -> Vec<RecordId> {
        let mut records = vec![self.record];
        for cost in &self.costs {
            if !records.contains(&cost.record) {
                records.push(cost.record);
            }
        }
        records
    }
}
