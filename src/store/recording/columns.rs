//! How places, objects and things stand in columns.

use uuid::Uuid;

use super::ThingMade;
use crate::rules::recording::{CostObject, Recording, Word};
use crate::rules::rows::{Row, Target};

/// A place in a list as the database counts; lists are bounded far below its limit.
pub(in crate::store) fn ordinal(place: usize) -> i32 {
    i32::try_from(place).unwrap_or(i32::MAX)
}

/// The episode's and the project's column of an object.
pub(in crate::store) fn object_columns(object: Option<CostObject>) -> (Option<Uuid>, Option<Uuid>) {
    match object {
        Some(CostObject::Episode(episode)) => (Some(episode.0), None),
        Some(CostObject::Project(project)) => (None, Some(project.0)),
        None => (None, None),
    }
}

/// The episode's, the project's and the piece's column of a target; overhead has none.
pub(in crate::store) fn target_columns(target: Target) -> (Option<Uuid>, Option<Uuid>, Option<Uuid>) {
    match target {
        Target::Object(object) => {
            let (episode, project) = object_columns(Some(object));
            (episode, project, None)
        }
        Target::Piece(piece) => (None, None, Some(piece.0)),
        Target::Overhead => (None, None, None),
    }
}

/// The thing a record is about has the record's own id, so that one id names both.
pub(super) fn main_thing(recording: &Recording) -> Option<Uuid> {
    let mut things = recording.rows.iter().filter_map(thing_made);
    things.find(|thing| thing.what == recording.word.as_str()).map(|thing| thing.id)
}

pub(super) fn thing_made(row: &Row) -> Option<ThingMade> {
    let (word, id, text) = match row {
        Row::MoneyAccount(one) => (Word::Accounts, one.id.0, &one.name),
        Row::Party(one) => (Word::Parties, one.id.0, &one.name),
        Row::Project(one) => (Word::Projects, one.id.0, &one.name),
        Row::Episode(one) => (Word::Episodes, one.id.0, &one.title),
        Row::Lot(one) => (Word::Materials, one.id.0, &one.material),
        Row::Tool(one) => (Word::Tools, one.id.0, &one.name),
        Row::Piece(one) => (Word::Furniture, one.id.0, &one.name),
        Row::Deal(one) => (Word::Deals, one.id.0, &one.title),
        Row::Document(one) => {
            let text = one.name.clone().unwrap_or_else(|| one.kind.as_str().to_owned());
            return Some(ThingMade { what: Word::Documents.as_str(), id: one.id.0, text });
        }
        Row::OverheadPool(one) => (Word::Attributions, one.id.0, &one.name),
        // No word of its own, but a deal's later records name it.
        Row::Promise(one) => {
            return Some(ThingMade { what: "promises", id: one.id.0, text: one.what.clone() });
        }
        Row::BudgetLine(_)
        | Row::PurchaseLine(_)
        | Row::LotMove(_)
        | Row::ToolUse(_)
        | Row::ToolDisposal(_)
        | Row::ToolEstimate(_)
        | Row::BusinessShare(_)
        | Row::ToolImprovement(_)
        | Row::ToolRepair(_)
        | Row::PieceSale(_)
        | Row::PieceLeaving(_)
        | Row::PieceConsignment(_)
        | Row::PieceDeposit(_)
        | Row::PieceRefund(_)
        | Row::Labour(_)
        | Row::Trip(_)
        | Row::Gift(_)
        | Row::DealShare(_)
        | Row::InstalmentDue(_)
        | Row::PromiseKept(_)
        | Row::Clawback(_)
        | Row::Instalment(_)
        | Row::Payout(_)
        | Row::Election(_)
        | Row::HomeOffice(_)
        | Row::Filing(_)
        | Row::PeriodAct(_)
        | Row::ToolCharge(_)
        | Row::CarryOver(_)
        | Row::OverheadSpread(_)
        | Row::Invoice(_)
        | Row::DocumentAttachment(_)
        | Row::Settlement(_) => return None,
    };
    Some(ThingMade { what: word.as_str(), id, text: text.clone() })
}
