//! Issuing: a lot, or a material by name, gives a quantity to what uses it.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, PieceId, ProjectId};
use super::super::money::{Money, Quantity};
use super::super::objects::{ObjectFinding, ObjectShare, TargetAsked, split_over_objects};
use super::super::pieces::PieceInWork;
use super::super::recording::{Category, CostObject, Pen, RecordFinding, Recording, Word};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{LotMoveKind, Target};
use super::super::treatment::{Treatment, TreatmentAsked};
use super::leave::{Destination, Drawn, Leaving, leave};
use super::{Layer, LotFacts, MaterialsFinding, day_of, draw, positive};

/// A quantity that leaves one lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewIssue {
    pub date: NaiveDate,
    /// In the lot's unit, above zero.
    pub quantity: Quantity,
    /// The episode that uses it; with neither episode, project, piece nor `to` it goes to overhead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// The piece of furniture it goes into; the piece's purpose decides the treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    /// Several episodes or projects with their shares, instead of one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub to: Vec<ObjectShare>,
    /// What it is to the tax office; the lot's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    /// Where it stands on a statement; the lot's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// A quantity of a material that leaves by the books' flow: the oldest lot first, or a part of each.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMaterialIssue {
    /// The material's name, as on its lots.
    pub material: String,
    pub date: NaiveDate,
    /// In the unit of the material's lots, above zero.
    pub quantity: Quantity,
    /// The episode that uses it; with neither episode, project, piece nor `to` it goes to overhead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// The piece of furniture it goes into; the piece's purpose decides the treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    /// Several episodes or projects with their shares, instead of one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub to: Vec<ObjectShare>,
    /// What it is to the tax office; each lot's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    /// Where it stands on a statement; each lot's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl NewMaterialIssue {
    fn without_name(&self) -> NewIssue {
        NewIssue {
            date: self.date,
            quantity: self.quantity,
            episode: self.episode,
            project: self.project,
            piece: self.piece,
            to: self.to.clone(),
            treatment: self.treatment,
            category: self.category,
            note: self.note.clone(),
        }
    }
}

/// What an issue asks for, once read.
struct Asked<'a> {
    quantity: Decimal,
    treatment: Option<Treatment>,
    leaving: Leaving<'a>,
}

/// A lot gives `issue.quantity`; its cost is remaining cost × quantity / remaining quantity, rounded half up
/// once, and the last issue takes what is left. `piece` is the piece that the issue names, if any.
///
/// # Errors
/// [`MaterialsFinding`] and the ground's findings at their fields, all at once; more than the lot holds on that
/// day is refused with both figures.
pub fn issue(
    pen: &Pen<'_>,
    facts: &LotFacts,
    piece: Option<&PieceInWork>,
    issue: &NewIssue,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(day_of(pen, facts, issue.date));
    let asked = read(pen, piece, issue, &mut findings);
    findings.or_refuse()?;
    let free = facts.free_on(issue.date)?;
    enough(asked.quantity, free.quantity, facts, issue.date)?;
    write(pen, asked, vec![(facts, free)])
}

/// A material by its name gives the quantity from `lots`, all lots of that name, by the books' flow: first
/// in first out by the day acquired (ties in the order given), or a part of every lot at the moving average.
///
/// # Errors
/// As [`issue`]; besides, a name without lots and lots kept in different units, at `/material`.
pub fn issue_by_name(
    pen: &Pen<'_>,
    lots: &[LotFacts],
    piece: Option<&PieceInWork>,
    issue: &NewMaterialIssue,
) -> Result<Recording, Refusal> {
    let whole = issue.without_name();
    let mut findings = Findings::new();
    findings.keep(pen.open_day(issue.date));
    findings.keep(one_unit(&issue.material, lots).at("/material"));
    let asked = read(pen, piece, &whole, &mut findings);
    findings.or_refuse()?;
    let mut oldest_first: Vec<&LotFacts> = lots.iter().collect();
    oldest_first.sort_by_key(|facts| facts.lot.acquired_on);
    let mut sources = Vec::with_capacity(lots.len());
    let mut there = Layer::none(pen.base());
    for facts in oldest_first {
        let free = facts.free_on(issue.date)?;
        there = there.plus(free)?;
        sources.push((facts, free));
    }
    if let Some(first) = lots.first() {
        enough(asked.quantity, there.quantity, first, issue.date)?;
    }
    write(pen, asked, sources)
}

fn one_unit(material: &str, lots: &[LotFacts]) -> Result<(), MaterialsFinding> {
    let mut units: Vec<String> = Vec::new();
    for facts in lots {
        if !units.contains(&facts.lot.unit) {
            units.push(facts.lot.unit.clone());
        }
    }
    match units.len() {
        0 => Err(MaterialsFinding::NoSuchMaterial { material: material.to_owned() }),
        1 => Ok(()),
        _ => Err(MaterialsFinding::UnitsDiffer { material: material.to_owned(), units }),
    }
}

pub(super) fn enough(
    asked: Decimal,
    there: Decimal,
    facts: &LotFacts,
    date: NaiveDate,
) -> Result<(), Refusal> {
    if asked <= there {
        return Ok(());
    }
    let unit = facts.lot.unit.clone();
    Err(MaterialsFinding::MoreThanThere { asked, there, unit, date }).at("/quantity")
}

/// Reads what is asked; what is wrong with it goes to `findings`.
fn read<'a>(
    pen: &Pen<'_>,
    piece: Option<&'a PieceInWork>,
    issue: &'a NewIssue,
    findings: &mut Findings,
) -> Asked<'a> {
    let quantity = findings.keep(positive(issue.quantity));
    let treatment = issue.treatment.map(|asked| asked.treatment().at("/treatment"));
    let treatment = treatment.and_then(|read| findings.keep(read));
    let to = findings.keep(destination(pen, piece, issue));
    if let (Some(Destination::Piece(work)), Some(treatment)) = (to, treatment)
        && treatment != work.piece.treatment
    {
        let (piece, treatment) = (work.piece.name.clone(), work.piece.treatment);
        findings.add(Refusal::new("/treatment", MaterialsFinding::PieceDecides { piece, treatment }));
    }
    if let (Some(Destination::Piece(work)), Some(_)) = (to, issue.category) {
        let piece = work.piece.name.clone();
        findings.add(Refusal::new("/category", MaterialsFinding::PieceHasItsCategory { piece }));
    }
    let to = to.unwrap_or(Destination::Overhead);
    let leaving = Leaving { kind: LotMoveKind::Issued, date: issue.date, to, category: issue.category };
    Asked { quantity: quantity.unwrap_or_default(), treatment, leaving }
}

fn destination<'a>(
    pen: &Pen<'_>,
    piece: Option<&'a PieceInWork>,
    issue: &'a NewIssue,
) -> Result<Destination<'a>, Refusal> {
    let named = TargetAsked { episode: issue.episode, project: issue.project, piece: issue.piece };
    let target = named.target()?;
    if !issue.to.is_empty() {
        if target != Target::Overhead {
            return Err(ObjectFinding::MoreThanOneNamed).at("/to");
        }
        split_over_objects(Money::zero(pen.base()), &issue.to).at("/to")?;
        return Ok(Destination::Objects(&issue.to));
    }
    match (target, piece) {
        (Target::Object(object), _) => Ok(Destination::Object(object)),
        (Target::Overhead, _) => Ok(Destination::Overhead),
        (Target::Piece(id), Some(work)) if work.piece.id == id => {
            work.takes_costs_on(issue.date).at("/piece")?;
            Ok(Destination::Piece(work))
        }
        (Target::Piece(_), _) => Err(RecordFinding::Unknown { what: "furniture" }).at("/piece"),
    }
}

fn write(pen: &Pen<'_>, asked: Asked<'_>, sources: Vec<(&LotFacts, Layer)>) -> Result<Recording, Refusal> {
    let layers: Vec<_> = sources.iter().map(|(_, free)| *free).collect();
    let parts = draw(pen.books.flow, &layers, asked.quantity, pen.base()).at("/quantity")?;
    let mut drawn = Vec::with_capacity(sources.len());
    for ((facts, free), taken) in sources.into_iter().zip(parts) {
        if taken.quantity.is_zero() && taken.cost.is_zero() {
            continue;
        }
        let treatment = match asked.leaving.to {
            Destination::Piece(work) => work.piece.treatment,
            _ => asked.treatment.unwrap_or(facts.lot.treatment),
        };
        drawn.push(Drawn { facts, free, taken, treatment });
    }
    let what = drawn.first().map(|one| one.facts.quantity_in_words(asked.quantity)).unwrap_or_default();
    let to = match asked.leaving.to {
        Destination::Piece(work) => format!("to {}", work.piece.name),
        Destination::Overhead => "to overhead".to_owned(),
        Destination::Object(CostObject::Episode(_)) => "to an episode".to_owned(),
        Destination::Object(CostObject::Project(_)) => "to a project".to_owned(),
        Destination::Objects(objects) => format!("to {} objects", objects.len()),
    };
    let text = format!("{what} issued {to}");
    let mut rec = Recording::new(Word::Materials, "issue", asked.leaving.date, text);
    leave(pen, &mut rec, &asked.leaving, &drawn)?;
    Ok(rec)
}
