//! Materials: what a lot gives to an episode, a project or a piece, what comes back, what is spoilt, what the
//! count finds.
//!
//! For stock the tax treatment is decided as it leaves; the lot carries the default. A lot on hand waits in
//! materials on hand; a lot expensed as it was paid moves only where its treatment changes.

mod come_back;
mod count;
mod flow;
mod issue;
mod leave;
#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::RecordId;
use super::money::{Money, MoneyFinding, Quantity};
use super::recording::{Pen, RecordFinding};
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{Lot, LotMove, LotMoveKind};
use super::treatment::Treatment;
use super::units::UnitFinding;

pub use come_back::{NewMaterialReturn, come_back};
pub use count::{NewCount, NewWaste, count, waste};
pub use flow::{FlowFinding, Layer, Periodic, draw, least_from, periodic, split_quantity};
pub use issue::{NewIssue, NewMaterialIssue, issue, issue_by_name};

/// A lot and everything that has moved it.
#[derive(Clone, Debug)]
pub struct LotFacts {
    pub lot: Lot,
    /// The record that put it on the shelf.
    pub record: RecordId,
    /// The day of that record: an opening position is stated later than the lot was bought, and what left it before
    /// is no matter of these books.
    pub recorded_on: NaiveDate,
    /// In the order they were recorded, reversals included as opposite moves or left out with what they undo.
    pub moves: Vec<LotMoved>,
}

/// One move of a lot with the record it belongs to.
#[derive(Clone, Debug)]
pub struct LotMoved {
    pub record: RecordId,
    pub row: LotMove,
}

impl LotMoved {
    pub(crate) fn layer(&self) -> Layer {
        Layer { quantity: self.row.quantity, cost: self.row.cost }
    }
}

impl LotFacts {
    /// The first day on which something can leave it.
    fn began(&self) -> NaiveDate {
        self.lot.acquired_on.max(self.recorded_on)
    }

    /// As it came.
    pub fn whole(&self) -> Layer {
        Layer { quantity: self.lot.quantity, cost: self.lot.cost }
    }

    /// What is in it after everything recorded so far.
    /// # Errors
    /// As [`Layer::plus`].
    pub fn remaining(&self) -> Result<Layer, MoneyFinding> {
        self.moves.iter().try_fold(self.whole(), |sum, moved| sum.plus(moved.layer()))
    }

    /// What stood in it at the end of `date`.
    /// # Errors
    /// As [`Layer::plus`].
    pub fn on(&self, date: NaiveDate) -> Result<Layer, MoneyFinding> {
        let mut by_then = self.moves.iter().filter(|moved| moved.row.date <= date);
        by_then.try_fold(self.whole(), |sum, moved| sum.plus(moved.layer()))
    }

    /// What can leave it on `date`: a record dated back finds only what later ones have left it.
    /// # Errors
    /// As [`Layer::plus`].
    pub fn free_on(&self, date: NaiveDate) -> Result<Layer, MoneyFinding> {
        if date < self.began() {
            return Ok(Layer::none(self.lot.cost.currency()));
        }
        let changes: Vec<_> = self.moves.iter().map(|moved| (moved.row.date, moved.layer())).collect();
        least_from(self.whole(), &changes, date)
    }

    /// The records that an issue of `taken` out of `free` can not stand without: the lot's own, and those
    /// that put something back where it draws on that.
    fn depends_on(&self, free: Layer, taken: Decimal) -> Vec<RecordId> {
        let put_back: Vec<_> = self.moves.iter().filter(|moved| moved.row.quantity > Decimal::ZERO).collect();
        let sum: Decimal = put_back.iter().map(|moved| moved.row.quantity).sum();
        let mut records = vec![self.record];
        if taken > free.quantity - sum {
            records.extend(put_back.iter().map(|moved| moved.record));
        }
        // What leaves after a rebate leaves at the lower cost.
        records.extend(
            self.moves
                .iter()
                .filter(|moved| moved.row.kind == LotMoveKind::Rebated)
                .map(|moved| moved.record),
        );
        records
    }

    fn quantity_in_words(&self, quantity: Decimal) -> String {
        format!("{} {} of {}", quantity.normalize(), self.lot.unit, self.lot.material)
    }
}

/// What can be wrong with a record of materials.
#[derive(Clone, Debug, PartialEq)]
pub enum MaterialsFinding {
    Negative { quantity: Decimal },
    NoSuchMaterial { material: String },
    UnitsDiffer { material: String, units: Vec<String> },
    MoreThanThere { asked: Decimal, there: Decimal, unit: String, date: NaiveDate },
    MoreThanInLots { asked: Decimal, unit: String, there: Vec<String>, date: NaiveDate },
    PieceDecides { piece: String, treatment: Treatment },
    PieceHasItsCategory { piece: String },
    ResaleWithoutPiece,
    ToolIsNoMaterial,
    MoreThanIssuedThere { asked: Decimal, issued: Decimal, unit: String, date: NaiveDate },
    SeveralTreatments { treatments: Vec<Treatment> },
    CostMovedOn { cost: Money, left: Money },
    SpreadAlready { cost: Money, left: Money },
}

impl Explain for MaterialsFinding {
    fn say(&self) -> Said {
        match self {
            Self::Negative { quantity } => Said::invalid(
                format!("{quantity} can not have been counted"),
                "give zero or more: what was found on the shelf",
            ),
            Self::NoSuchMaterial { material } => Said::invalid(
                format!("no lot of '{material}' is in these books"),
                "look the name up with GET /v1/materials, or record the purchase to stock first",
            ),
            Self::UnitsDiffer { material, units } => Said::conflict(
                format!("the lots of '{material}' are kept in {}", units.join(" and ")),
                "give unit, one that all of them know, or issue from a named lot (POST /v1/materials/{lot}/issues)",
            ),
            Self::MoreThanInLots { asked, unit, there, date } => Said::conflict(
                format!(
                    "{} {unit} is asked for, and {} is there on {date}",
                    asked.normalize(),
                    there.join(", ")
                ),
                "correct the quantity or the date, or record the purchase or the count that is missing",
            ),
            Self::MoreThanThere { asked, there, unit, date } => Said::conflict(
                format!(
                    "{} {unit} is asked for, and {} {unit} is there on {date}",
                    asked.normalize(),
                    there.normalize()
                ),
                "correct the quantity or the date, or record the purchase or the count that is missing",
            ),
            Self::PieceDecides { piece, treatment } => Said::invalid(
                format!("{piece} takes its materials as {}, whatever the issue says", treatment.code()),
                "leave treatment out; the purpose of the piece decides it",
            ),
            Self::PieceHasItsCategory { piece } => Said::invalid(
                format!("what goes into {piece} stands with the piece on a statement"),
                "leave category out",
            ),
            Self::ResaleWithoutPiece => Said::invalid(
                "materials treated as resale need the piece that they go into",
                "name the piece, or say with treatment what they are to the tax office",
            ),
            Self::ToolIsNoMaterial => Said::invalid(
                "a material is used up and does not become a tool",
                "give another treatment, or record the tool (POST /v1/tools)",
            ),
            Self::MoreThanIssuedThere { asked, issued, unit, date } => Said::conflict(
                format!(
                    "{} {unit} is to come back, and {} {unit} of this lot is there to come back on {date}",
                    asked.normalize(),
                    issued.normalize()
                ),
                "correct the quantity or the date, or name the episode, project or lot it was issued to",
            ),
            Self::SeveralTreatments { treatments } => {
                let codes: Vec<_> = treatments.iter().map(|treatment| treatment.code()).collect();
                Said::invalid(
                    format!("it was issued there as {}", codes.join(" and as ")),
                    "say with treatment which of them comes back",
                )
            }
            Self::CostMovedOn { cost, left } | Self::SpreadAlready { cost, left } => {
                self.of_cost_elsewhere(*cost, *left)
            }
        }
    }
}

impl MaterialsFinding {
    fn of_cost_elsewhere(&self, cost: Money, left: Money) -> Said {
        if matches!(self, Self::CostMovedOn { .. }) {
            return Said::conflict(
                format!("{cost} would come back, and {left} of this lot still stands with it"),
                "move the cost back first (POST /v1/attributions/moves), or name where it went",
            );
        }
        Said::conflict(
            format!("{cost} would come back, and {left} of what nobody used is not given to an episode yet"),
            "take back what spread it (POST /v1/records/{id}/reversal), or name the episode it comes back from",
        )
    }
}

/// The quantity, above zero, at `/quantity`.
fn above_zero(quantity: Quantity) -> Result<Decimal, Refusal> {
    let quantity = quantity.decimal();
    if quantity > Decimal::ZERO {
        return Ok(quantity);
    }
    Err(UnitFinding::NotPositive { quantity }).at("/quantity")
}

/// The same in the lot's own unit; a unit that it does not know is found at `/unit`.
fn positive(facts: &LotFacts, quantity: Quantity, unit: Option<&str>) -> Result<Decimal, Refusal> {
    facts.lot.in_its_unit(above_zero(quantity)?, unit, "/quantity")
}

/// An open day on which the lot was already there, at `/date`.
fn day_of(pen: &Pen<'_>, facts: &LotFacts, date: NaiveDate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(date));
    let began = facts.began();
    if date < began {
        findings.add(Refusal::new("/date", RecordFinding::BeforeItBegan { what: "lot", began, date }));
    }
    findings.or_refuse()
}

/// Every record once, in the order they came.
fn each_once(records: impl IntoIterator<Item = RecordId>) -> Vec<RecordId> {
    let mut once = Vec::new();
    for record in records {
        if !once.contains(&record) {
            once.push(record);
        }
    }
    once
}
