//! Furniture: how a piece came, and what its sale is to the tax office.
//!
//! The purpose of a piece decides: what is for resale is stock in trade, what is on the set is a business
//! expense, what is personal stays the owner's own.

mod acquire;
mod character;
mod consign;
mod convert;
mod deposit;
mod going;
mod labels;
mod leave;
mod lot;
mod part;
mod refund;
mod sell;
mod swap;
#[cfg(test)]
mod tests;
mod unrecorded;

use chrono::NaiveDate;

use super::ids::RecordId;
use super::money::{Currency, Money, MoneyFinding};
use super::named::named;
use super::recording::{CostObject, Label};
use super::rows::{LeavingKind, Piece, PieceConsignment, PieceLeaving, PieceSale};

pub use acquire::{AcquireFinding, NewPiece, acquire};
pub use character::{Outcome, outcome};
pub use consign::{ConsignFinding, NewConsignment, NewFetching, consign, fetch_back};
pub use convert::{BusinessPurpose, ConvertFinding, NewConversion, convert};
pub use deposit::{DepositEnd, DepositFinding, NewDeposit, NewDepositEnd, settle_deposit, take_deposit};
pub use going::{GoingFinding, left_in_words};
pub use labels::PieceLabels;
pub use leave::{LeavingAsked, NewLeaving, leave};
pub use lot::{NewPieceLot, PieceInLot, acquire_lot};
pub use part::{NewParts, PartAsked, PartFinding, take_apart};
pub use refund::{NewRefund, RefundFinding, SoldFacts, SoldSource, refund};
pub use sell::{NewSale, SellFinding, sell};
pub use swap::{NewSwap, SwapFinding, TakenForIt, swap};
pub use unrecorded::{NewPieceAndSale, sell_unrecorded};

named! {
    /// Whether a piece is still there.
    pub enum PieceState {
        Held => "held",
        Sold => "sold",
        TakenApart => "taken_apart",
        GivenAway => "given_away",
        Donated => "donated",
        Dumped => "dumped",
        Lost => "lost",
        TakenHome => "taken_home",
        BroughtIn => "brought_in",
    }
}

impl PieceState {
    pub const fn of(sold_on: Option<NaiveDate>, left: Option<LeavingKind>) -> Self {
        match (sold_on, left) {
            (Some(_), _) => Self::Sold,
            (None, None) => Self::Held,
            (None, Some(LeavingKind::TakenApart)) => Self::TakenApart,
            (None, Some(LeavingKind::GivenAway)) => Self::GivenAway,
            (None, Some(LeavingKind::Donated)) => Self::Donated,
            (None, Some(LeavingKind::Dumped)) => Self::Dumped,
            (None, Some(LeavingKind::Lost)) => Self::Lost,
            (None, Some(LeavingKind::TakenHome)) => Self::TakenHome,
            (None, Some(LeavingKind::BroughtIn)) => Self::BroughtIn,
        }
    }
}

/// A piece and what happened to it so far.
#[doc(alias = "dresser")]
#[derive(Clone, Debug)]
pub struct PieceFacts {
    pub piece: Piece,
    /// The record that brought it in.
    pub record: RecordId,
    /// The day it became a piece of its own, where it was part of another or the owner's before.
    pub since: Option<NaiveDate>,
    /// Every movement of its source: the purchase, materials, paid labour.
    pub costs: Vec<PieceCost>,
    /// Of those, what stands with episodes and projects.
    pub attributed: Money,
    /// The same by whom and as what.
    pub given: Vec<(CostObject, Label, Money)>,
    /// The last day on which anything of it was given to episodes or taken back from them.
    pub last_given: Option<NaiveDate>,
    pub sale: Option<PieceSale>,
    /// How it left without a sale.
    pub left: Option<PieceLeaving>,
    /// The day on which an earlier sale or leaving was taken back, where that is later than its own: until then the
    /// journal has the piece as gone.
    pub gone_until: Option<NaiveDate>,
    /// The record by which its last buyer gave it back, where one did.
    pub came_back: Option<RecordId>,
    pub deposits: Deposits,
    /// The shop it stands in, with the record that brought it there.
    pub consigned: Option<(RecordId, PieceConsignment)>,
}

/// What buyers put down on a piece.
#[derive(Clone, Debug)]
pub struct Deposits {
    /// What is still theirs.
    pub held: Money,
    /// The records that took them in.
    pub records: Vec<RecordId>,
    /// The day of the last of them.
    pub last: Option<NaiveDate>,
}

/// One movement of a piece's source and the record behind it.
#[derive(Clone, Copy, Debug)]
pub struct PieceCost {
    pub record: RecordId,
    pub date: NaiveDate,
    pub amount: Money,
}

impl PieceFacts {
    /// All that the books have on it.
    /// # Errors
    /// As [`Money::sum`].
    pub fn incurred(&self, base: Currency) -> Result<Money, MoneyFinding> {
        Money::sum(base, self.costs.iter().map(|cost| cost.amount))
    }

    /// What other records than the one that brought it in put into it: refinishing.
    /// # Errors
    /// As [`Money::sum`].
    pub fn added(&self, base: Currency) -> Result<Money, MoneyFinding> {
        let added = self.costs.iter().filter(|cost| cost.record != self.record);
        Money::sum(base, added.map(|cost| cost.amount))
    }
}
