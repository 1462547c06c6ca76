//! Materials and pieces that were there before the books.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{OpeningFinding, came_before, open, post};
use crate::rules::ids::{EpisodeId, LotId, PieceId, ProjectId};
use crate::rules::journal::{Account, ExpenseClass};
use crate::rules::money::{Amount, Money, Quantity};
use crate::rules::objects::ObjectAsked;
use crate::rules::recording::{
    Category, MaterialsTiming, Pen, Recording, Side, Source, SourceKind, Word, words_of,
};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Basis, Lot, LotStanding, Piece, PieceOrigin, PiecePurpose, Row};
use crate::rules::treatment::{Treatment, TreatmentAsked};
use crate::rules::units::{Kept, KeptIn, kept_in};

/// A material on the shelf on the day the books begin; sums in the books' currency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LotOpening {
    /// What it is, such as "oak board 20 mm"; lots of the same name leave in the books' flow.
    #[schema(min_length = 1, max_length = 200)]
    pub material: String,
    /// What is left of it.
    pub quantity: Quantity,
    /// The unit of that quantity.
    #[schema(min_length = 1, max_length = 40)]
    pub unit: String,
    /// Another unit that it is kept and used in: two boxes with a factor of 12 pieces are 24 pieces on the shelf.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_in: Option<KeptIn>,
    /// What the quantity left did cost.
    pub cost: Amount,
    /// The day it was bought, where that is known; the day the books begin where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<NaiveDate>,
    /// What an issue of it is to the tax office; an expense of the class supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    /// Whether its cost still waits (`on_hand`) or was deducted when it was paid (`expensed`); by the books' timing of
    /// materials where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standing: Option<LotStanding>,
    /// Where its cost stands on a statement; materials where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
}

/// A piece of furniture on the day the books begin; sums in the books' currency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceOpening {
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    pub purpose: PiecePurpose,
    /// How it came; `already_owned` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<PieceOrigin>,
    /// The day it came, where that is known; the day the books begin where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<NaiveDate>,
    /// What it cost so far and was not deducted yet; left out where nobody knows, which is a question and never zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Amount>,
    /// What it was worth on the day it was given or came into the business; where that is less, it counts for a loss.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// The episode it was got for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    /// The project it was got for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
}

/// Materials on hand against opening equity; what was deducted when it was paid is a memo of its cost.
pub(super) fn state_lot(
    pen: &mut Pen<'_>,
    date: NaiveDate,
    asked: &LotOpening,
) -> Result<Recording, Refusal> {
    let acquired_on = asked.acquired_on.unwrap_or(date);
    let mut findings = Findings::new();
    let material = findings.keep(words_of("material", &asked.material).at("/material"));
    let quantity = asked.quantity.decimal();
    let kept = findings.keep(kept_in(&asked.unit, quantity, asked.kept_in.as_ref()));
    let cost = findings.keep(asked.cost.not_negative(pen.base()).at("/cost"));
    findings.keep(came_before(acquired_on, date).at("/acquired_on"));
    if quantity.is_zero() {
        findings.add(Refusal::new("/quantity", OpeningFinding::NoQuantity));
    }
    let supplies = Treatment::Expense(ExpenseClass::Supplies);
    let treatment = asked.treatment.map_or(Ok(supplies), TreatmentAsked::treatment);
    let treatment = findings.keep(treatment.at("/treatment"));
    findings.or_refuse()?;
    let kept = kept.unwrap_or(Kept { unit: String::new(), quantity, bought_in: None });
    let standing = asked.standing.unwrap_or(match pen.books.timing {
        MaterialsTiming::WhenUsed => LotStanding::OnHand,
        MaterialsTiming::WhenPaid => LotStanding::Expensed,
    });
    let (material, cost) = (material.unwrap_or_default(), cost.unwrap_or(Money::zero(pen.base())));
    let text = format!("opening position: {material}");
    let mut recording = Recording::new(Word::Openings, "lot", date, text);
    let entry = match standing {
        LotStanding::OnHand => post(pen, &mut recording, &[(Account::MaterialsOnHand, cost)])?,
        LotStanding::Expensed => None,
    };
    let (id, source) = (LotId(pen.ids.next()), pen.new_source());
    let of_lot = Source { id: source, side: Side::Cost, kind: SourceKind::Lot, text: material.clone() };
    open(&mut recording, of_lot, cost, entry);
    if standing == LotStanding::Expensed {
        recording.notes.push("It was deducted when it was paid: nothing is posted.".to_owned());
    }
    recording.rows.push(Row::Lot(Lot {
        id,
        source,
        material,
        unit: kept.unit,
        bought_in: kept.bought_in,
        quantity: kept.quantity,
        cost,
        acquired_on,
        treatment: treatment.unwrap_or(supplies),
        category: asked.category.unwrap_or(Category::Materials),
        standing,
    }));
    Ok(recording)
}

/// Only a resale piece stands in the books; a set piece's cost was deducted or used up before, and a personal piece is
/// the owner's. Their basis is kept for the day they are sold.
pub(super) fn state_piece(
    pen: &mut Pen<'_>,
    date: NaiveDate,
    asked: &PieceOpening,
) -> Result<Recording, Refusal> {
    let acquired_on = asked.acquired_on.unwrap_or(date);
    let mut findings = Findings::new();
    let name = findings.keep(words_of("name", &asked.name).at("/name"));
    findings.keep(came_before(acquired_on, date).at("/acquired_on"));
    let basis = asked.basis.map(|basis| basis.not_negative(pen.base())).transpose();
    let basis = findings.keep(basis.at("/basis")).flatten();
    let value = asked.value.map(|value| value.not_negative(pen.base())).transpose();
    let value = findings.keep(value.at("/value")).flatten();
    let named = ObjectAsked { episode: asked.episode, project: asked.project };
    let object = findings.keep(named.optional()).flatten();
    findings.or_refuse()?;
    let name = name.unwrap_or_default();
    let text = format!("opening position: {name}");
    let mut recording = Recording::new(Word::Openings, "piece", date, text);
    recording.about.extend(object);
    let (id, source) = (PieceId(pen.ids.next()), pen.new_source());
    let of_piece = Source { id: source, side: Side::Cost, kind: SourceKind::Piece, text: name.clone() };
    let in_stock = match (asked.purpose, basis) {
        (PiecePurpose::Resale, Some(basis)) => basis,
        _ => Money::zero(pen.base()),
    };
    let entry = post(pen, &mut recording, &[(Account::PiecesForResale, in_stock)])?;
    open(&mut recording, of_piece, in_stock, entry);
    if basis.is_none() {
        recording.notes.push("Question to the preparer: nobody knows what the piece cost.".to_owned());
    }
    if entry.is_none() {
        recording.notes.push("Nothing is posted: its basis is kept for the day it is sold.".to_owned());
    }
    recording.rows.push(Row::Piece(Piece {
        id,
        source,
        name,
        origin: asked.origin.unwrap_or(PieceOrigin::AlreadyOwned),
        purpose: asked.purpose,
        acquired_on,
        basis: basis.map_or(Basis::Unknown, Basis::Known),
        value,
        treatment: treatment_of(asked.purpose),
        object,
    }));
    Ok(recording)
}

const fn treatment_of(purpose: PiecePurpose) -> Treatment {
    match purpose {
        PiecePurpose::Resale => Treatment::Resale,
        PiecePurpose::Set => Treatment::Expense(ExpenseClass::Supplies),
        PiecePurpose::Personal => Treatment::Personal,
    }
}
