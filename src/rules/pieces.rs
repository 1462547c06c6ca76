//! What a cost has to know of the piece of furniture it goes into: materials, labour and purchases share it.

use chrono::NaiveDate;

use super::ids::RecordId;
use super::journal::{Account, TaxClass};
use super::money::Money;
use super::recording::{Category, Label, MovementKind, RecordFinding, Recording};
use super::refusal::{Explain, Refusal, Said};
use super::rows::{Piece, PiecePurpose};

/// A piece that something is spent on.
#[derive(Clone, Debug)]
pub struct PieceInWork {
    pub piece: Piece,
    /// The record that brought the piece in.
    pub record: RecordId,
    /// Set once it was sold or left in another way.
    pub gone: Option<Gone>,
}

/// When and how a piece left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gone {
    pub on: NaiveDate,
    /// Such as `sold` or `given away`.
    pub how: &'static str,
}

/// Why a piece takes no further cost.
#[derive(Clone, Debug, PartialEq)]
pub enum PieceFinding {
    Gone { name: String, gone: Gone },
}

impl Explain for PieceFinding {
    fn say(&self) -> Said {
        match self {
            Self::Gone { name, gone: Gone { on, how } } => Said::conflict(
                format!("{name} was {how} on {on}, and what it had cost by then went with it"),
                "name another piece or an episode, or take that record back first",
            ),
        }
    }
}

impl PieceInWork {
    /// # Errors
    /// [`PieceFinding::Gone`], or [`RecordFinding::BeforeItBegan`] for a day before the piece came.
    pub fn takes_costs_on(&self, date: NaiveDate) -> Result<(), Refusal> {
        if let Some(gone) = self.gone {
            return Err(PieceFinding::Gone { name: self.piece.name.clone(), gone }.into());
        }
        let began = self.piece.acquired_on;
        if date < began {
            return Err(RecordFinding::BeforeItBegan { what: "piece", began, date }.into());
        }
        Ok(())
    }

    /// The account to debit and its class; `resale_class` says what the cost is where the piece is stock.
    pub fn books_to(&self, resale_class: TaxClass) -> (Account, Option<TaxClass>) {
        self.piece.treatment.books_to(resale_class)
    }

    /// Adds `amount` to the piece's source. What a kept piece takes is a cost of its episode at once; what a
    /// piece for resale takes waits for the sale.
    pub fn take_cost(&self, rec: &mut Recording, date: NaiveDate, amount: Money, entry: Option<usize>) {
        let piece = &self.piece;
        rec.moves(piece.source, date, MovementKind::Incurred, amount, entry);
        if let (PiecePurpose::Set | PiecePurpose::Personal, Some(object)) = (piece.purpose, piece.object) {
            rec.attribute(piece.source, date, object, Label::Category(Category::Furniture), amount);
        }
    }
}
