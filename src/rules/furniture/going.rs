//! What stands against a piece's leaving on a day: a sale, a gift and taking a set apart share it.

use chrono::NaiveDate;

use super::super::ids::RecordId;
use super::super::money::Money;
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
    DepositHeld { name: String, held: Money },
    BeforeDeposit { last: NaiveDate, date: NaiveDate },
    BeforeTheShop { since: NaiveDate, date: NaiveDate },
    AtShop { name: String, since: NaiveDate },
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
            Self::DepositHeld { name, held } => Said::conflict(
                format!("a buyer's deposit of {held} on {name} is still held"),
                "say first whether it is kept or paid back: POST /v1/furniture/{id}/deposits/settlement",
            ),
            Self::BeforeDeposit { last, date } => Said::invalid(
                format!("{date} is before {last}, the day a deposit on it was taken"),
                "correct the date",
            ),
            Self::BeforeTheShop { since, date } => Said::invalid(
                format!("{date} is before {since}, the day the shop got it"),
                "correct the date",
            ),
            Self::AtShop { name, since } => Said::conflict(
                format!("{name} stands in a shop since {since}"),
                "fetch it back first: POST /v1/furniture/{id}/consignment/return",
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
        LeavingKind::BroughtIn => "brought into the business",
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
        let began = self.since.map_or(piece.acquired_on, |since| since.max(piece.acquired_on));
        findings.keep(after_it_came(date, began));
        let last = self.costs.iter().map(|cost| cost.date).max();
        if let Some(last) = last.filter(|last| *last > date && date >= began) {
            findings.add(Refusal::new("/date", GoingFinding::CostAfter { last, date }));
        }
        if let Some(until) = self.gone_until.filter(|until| date < *until) {
            let finding = GoingFinding::GoneUntil { name: piece.name.clone(), until, date };
            findings.add(Refusal::new("/date", finding));
        }
    }

    /// The same for a sale: not before a deposit that is part of its price, nor before the shop that sold it got it.
    pub(super) fn may_be_sold(&self, date: NaiveDate, findings: &mut Findings) {
        self.may_go(date, findings);
        findings.keep(self.after_its_deposits(date));
        findings.keep(self.after_the_shop_got_it(date));
    }

    pub(super) fn after_its_deposits(&self, date: NaiveDate) -> Result<(), Refusal> {
        match self.deposits.last.filter(|last| date < *last && !self.deposits.held.is_zero()) {
            Some(last) => Err(Refusal::new("/date", GoingFinding::BeforeDeposit { last, date })),
            None => Ok(()),
        }
    }

    pub(super) fn after_the_shop_got_it(&self, date: NaiveDate) -> Result<(), Refusal> {
        match self.consigned.as_ref().map(|(_, at)| at.date).filter(|since| date < *since) {
            Some(since) => Err(Refusal::new("/date", GoingFinding::BeforeTheShop { since, date })),
            None => Ok(()),
        }
    }

    /// The same for a leaving that is no sale: no buyer has put anything down, and it is here.
    pub(super) fn may_go_unsold(&self, date: NaiveDate, findings: &mut Findings) {
        self.may_go(date, findings);
        let name = &self.piece.name;
        if !self.deposits.held.is_zero() {
            findings.add(GoingFinding::DepositHeld { name: name.clone(), held: self.deposits.held });
        }
        if let Some((_, at)) = &self.consigned {
            findings.add(GoingFinding::AtShop { name: name.clone(), since: at.date });
        }
    }

    /// The record that brought the piece in and those that put something into it: none can go while it is gone.
    pub(super) fn records(&self) -> Vec<RecordId> {
        let mut records = vec![self.record];
        let costs = self.costs.iter().map(|cost| cost.record);
        for record in costs.chain(self.came_back) {
            if !records.contains(&record) {
                records.push(record);
            }
        }
        records
    }
}
