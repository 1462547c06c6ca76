//! Coming back: what an episode did not use returns to its lot.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, PieceId, ProjectId, SourceId};
use super::super::journal::TaxClass;
use super::super::money::{Currency, Money, Quantity};
use super::super::objects::TargetAsked;
use super::super::pieces::PieceInWork;
use super::super::recording::{Attribution, CostObject, MovementKind, Pen, RecordFinding, Recording, Word};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{LotMove, LotMoveKind, PiecePurpose, Row, Target};
use super::super::treatment::{Treatment, TreatmentAsked};
use super::leave::{Transfers, account_of};
use super::{Layer, LotFacts, LotMoved, MaterialsFinding, day_of, each_once, least_from, positive};

/// A quantity that comes back into its lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMaterialReturn {
    pub date: NaiveDate,
    /// Above zero; at most what was issued there.
    pub quantity: Quantity,
    /// One of the lot's units; the one it is kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
    /// The episode it comes back from; with neither episode nor project it comes back from overhead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// The piece of furniture it comes back from; not one that was sold or left, for its cost went with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    /// Only where it was issued there under several treatments: which of them comes back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Puts a quantity back into its lot with the cost that the target still carries for it, in proportion
/// (rounded half up once; the last of it takes the rest), and takes that cost off the target again.
/// `attributed` are all attributions of the lot's source so far, and of the piece's where one is named.
///
/// # Errors
/// More than was issued there, with both figures, at `/quantity`; several treatments without a choice, at
/// `/treatment`; a cost that has been moved to another episode since; a piece that is sold or gone, at `/piece`.
pub fn come_back(
    pen: &Pen<'_>,
    facts: &LotFacts,
    piece: Option<&PieceInWork>,
    attributed: &[Attribution],
    back: &NewMaterialReturn,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(day_of(pen, facts, back.date));
    let quantity = findings.keep(positive(facts, back.quantity, back.unit.as_deref()));
    let treatment = back.treatment.map(|asked| asked.treatment().at("/treatment"));
    let treatment = treatment.and_then(|read| findings.keep(read));
    let from = TargetAsked { episode: back.episode, project: back.project, piece: back.piece }.target();
    let from = findings.keep(from);
    let work = findings.keep(piece_of(piece, back)).flatten();
    findings.or_refuse()?;
    let quantity = quantity.unwrap_or_default();
    let from = from.unwrap_or(Target::Overhead);
    let carried = carried_by(facts, from, pen.base(), back.date)?;
    let (treatment, carried) = one_treatment(carried, treatment, pen.base())?;
    if quantity > carried.quantity {
        let (asked, issued) = (quantity, carried.quantity);
        let (unit, date) = (facts.lot.unit.clone(), back.date);
        let finding = MaterialsFinding::MoreThanIssuedThere { asked, issued, unit, date };
        return Err(Refusal::new("/quantity", finding));
    }
    let part = carried.part(quantity).at("/quantity")?;
    if from == Target::Overhead {
        not_spread(facts, attributed, back.date, part.cost)?;
    }
    let text = format!("{} back in stock", facts.quantity_in_words(quantity));
    let mut rec = Recording::new(Word::Materials, "return", back.date, text);
    write(pen, &mut rec, facts, work, Back { part, treatment, from })?;
    if let Target::Object(object) = from {
        take_off(&mut rec, facts.lot.source, attributed, object, part.cost)?;
    }
    // A kept piece was a cost of its episode as it took the material; stock waits for its sale.
    if let Some(piece) = work.map(|work| &work.piece)
        && let (PiecePurpose::Set | PiecePurpose::Personal, Some(object)) = (piece.purpose, piece.object)
    {
        take_off(&mut rec, piece.source, attributed, object, part.cost)?;
    }
    Ok(rec)
}

fn piece_of<'a>(
    piece: Option<&'a PieceInWork>,
    back: &NewMaterialReturn,
) -> Result<Option<&'a PieceInWork>, Refusal> {
    let Some(id) = back.piece else { return Ok(None) };
    let work = piece.filter(|work| work.piece.id == id);
    let work = work.ok_or(RecordFinding::Unknown { what: "furniture" }).at("/piece")?;
    work.takes_costs_on(back.date).at("/piece")?;
    Ok(Some(work))
}

/// Overhead that was spread over episodes meanwhile stands there, and does not come back too.
fn not_spread(
    facts: &LotFacts,
    attributed: &[Attribution],
    date: NaiveDate,
    cost: Money,
) -> Result<(), Refusal> {
    let nothing = Layer::none(cost.currency());
    let out = facts.moves.iter().filter(|moved| !matches!(moved.row.to, Target::Piece(_)));
    let out =
        out.filter(|moved| !matches!(moved.row.kind, LotMoveKind::ReturnedToVendor | LotMoveKind::Rebated));
    let out = out.map(|moved| (moved.row.date, Layer { cost: moved.row.cost.negated(), ..nothing }));
    let of_lot = attributed.iter().filter(|one| one.source == facts.lot.source);
    let given = of_lot.map(|one| (one.date, Layer { cost: one.amount.negated(), ..nothing }));
    let changes: Vec<_> = out.chain(given).collect();
    let left = least_from(nothing, &changes, date)?.cost;
    if cost.amount() <= left.amount() {
        return Ok(());
    }
    Err(MaterialsFinding::SpreadAlready { cost, left }).at("/quantity")
}

struct Back {
    part: Layer,
    treatment: Treatment,
    from: Target,
}

fn write(
    pen: &Pen<'_>,
    rec: &mut Recording,
    facts: &LotFacts,
    work: Option<&PieceInWork>,
    back: Back,
) -> Result<(), Refusal> {
    let Back { part, treatment, from } = back;
    let mut transfers = Transfers::default();
    transfers.transfer(treatment.books_to(TaxClass::ResaleMaterials), account_of(facts), part.cost)?;
    let entry = transfers.post(pen, rec, rec.date, rec.text.clone())?;
    if let Some(work) = work {
        rec.moves(facts.lot.source, rec.date, MovementKind::Removed, part.cost, entry);
        rec.moves(work.piece.source, rec.date, MovementKind::Returned, part.cost.negated(), entry);
        rec.about.extend(work.piece.object);
    }
    rec.rows.push(Row::LotMove(LotMove {
        lot: facts.lot.id,
        date: rec.date,
        kind: LotMoveKind::CameBack,
        quantity: part.quantity,
        cost: part.cost,
        to: from,
        treatment,
    }));
    let issues = facts.moves.iter().filter(|moved| went_to(moved, from) && moved.row.treatment == treatment);
    rec.depends_on = each_once([facts.record].into_iter().chain(issues.map(|moved| moved.record)));
    let there = facts.remaining()?.plus(part)?;
    rec.notes.push(format!(
        "{} at {} came back; the lot holds {} {} at {}.",
        facts.quantity_in_words(part.quantity),
        part.cost,
        there.quantity.normalize(),
        facts.lot.unit,
        there.cost
    ));
    Ok(())
}

fn went_to(moved: &LotMoved, target: Target) -> bool {
    moved.row.to == target
        && matches!(moved.row.kind, LotMoveKind::Issued | LotMoveKind::CameBack | LotMoveKind::RebatePassedOn)
}

/// What `target` still carries of this lot on `date`, by treatment, in the order they were first issued.
fn carried_by(
    facts: &LotFacts,
    target: Target,
    base: Currency,
    date: NaiveDate,
) -> Result<Vec<(Treatment, Layer)>, Refusal> {
    let mut changes: Vec<(Treatment, Vec<(NaiveDate, Layer)>)> = Vec::new();
    for moved in facts.moves.iter().filter(|moved| went_to(moved, target)) {
        let change = (moved.row.date, moved.layer().negated());
        match changes.iter_mut().find(|(treatment, _)| *treatment == moved.row.treatment) {
            Some((_, list)) => list.push(change),
            None => changes.push((moved.row.treatment, vec![change])),
        }
    }
    let mut carried = Vec::with_capacity(changes.len());
    for (treatment, list) in changes {
        let left = least_from(Layer::none(base), &list, date)?;
        if left.quantity > Decimal::ZERO {
            carried.push((treatment, left));
        }
    }
    Ok(carried)
}

fn one_treatment(
    carried: Vec<(Treatment, Layer)>,
    asked: Option<Treatment>,
    base: Currency,
) -> Result<(Treatment, Layer), Refusal> {
    if let Some(asked) = asked {
        let found = carried.into_iter().find(|(treatment, _)| *treatment == asked);
        return Ok(found.unwrap_or((asked, Layer::none(base))));
    }
    let mut each = carried.iter();
    match (each.next(), each.next()) {
        (Some(only), None) => Ok(*only),
        (Some(_), Some(_)) => {
            let treatments = carried.iter().map(|(treatment, _)| *treatment).collect();
            Err(MaterialsFinding::SeveralTreatments { treatments }).at("/treatment")
        }
        // Nothing was issued there: the figures of the quantity say so.
        (None, _) => Ok((Treatment::Personal, Layer::none(base))),
    }
}

/// Undoes attributions of the lot or the piece to `object`, the latest first, each under the category it stood in.
fn take_off(
    rec: &mut Recording,
    source: SourceId,
    attributed: &[Attribution],
    object: CostObject,
    cost: Money,
) -> Result<(), Refusal> {
    let mut standing = Vec::new();
    for one in attributed.iter().rev().filter(|one| one.source == source && one.object == object) {
        match standing.iter_mut().find(|(label, _)| *label == one.label) {
            Some((_, sum)) => *sum = one.amount.plus(*sum)?,
            None => standing.push((one.label, one.amount)),
        }
    }
    let mut left = cost;
    for (label, sum) in standing {
        let part = if sum.is_positive() { sum.at_most(left) } else { Money::zero(cost.currency()) };
        rec.attribute(source, rec.date, object, label, part.negated());
        left = left.minus(part)?;
    }
    if left.is_zero() {
        return Ok(());
    }
    Err(MaterialsFinding::CostMovedOn { cost, left: cost.minus(left)? }.into())
}
