//! Issuing: a lot, or a material by name, gives a quantity to what uses it.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, PieceId, ProjectId};
use super::super::money::{Money, Quantity};
use super::super::objects::{ObjectFinding, ObjectShare, TargetAsked, split_over_objects};
use super::super::pieces::PieceInWork;
use super::super::recording::{Category, CostObject, MaterialsFlow, Pen, RecordFinding, Recording, Word};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{LotMoveKind, Target};
use super::super::treatment::{Treatment, TreatmentAsked};
use super::super::units::{Fraction, UnitFinding};
use super::leave::{Destination, Drawn, Leaving, leave};
use super::{Layer, LotFacts, MaterialsFinding, above_zero, day_of, draw, positive};

/// A quantity that leaves one lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewIssue {
    pub date: NaiveDate,
    /// Above zero.
    pub quantity: Quantity,
    /// One of the lot's units; the one it is kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
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
    #[schema(min_length = 1, max_length = 200)]
    pub material: String,
    pub date: NaiveDate,
    /// Above zero.
    pub quantity: Quantity,
    /// A unit that every lot of it knows; the one they are kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
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
            unit: self.unit.clone(),
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
    /// In the unit that it was read into.
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
    let quantity = positive(facts, issue.quantity, issue.unit.as_deref());
    let asked = read(pen, piece, issue, quantity, &mut findings);
    findings.or_refuse()?;
    let free = facts.free_on(issue.date)?;
    enough(asked.quantity, free.quantity, facts, issue.date)?;
    let parts = vec![free.part(asked.quantity).at("/quantity")?];
    let what = said(issue.quantity, issue.unit.as_deref(), facts);
    write(pen, &asked, &what, vec![(facts, free)], parts)
}

/// As it was asked for, such as "2 box of tiles".
fn said(quantity: Quantity, unit: Option<&str>, facts: &LotFacts) -> String {
    let lot = &facts.lot;
    format!(
        "{} {} of {}",
        quantity.decimal().normalize(),
        unit.map_or(lot.unit.as_str(), str::trim),
        lot.material
    )
}

/// A material by its name gives the quantity from `lots`, all lots of that name, by the books' flow: first
/// in first out by the day acquired (ties in the order given), or a part of every lot at the moving average.
///
/// # Errors
/// As [`issue`]; besides, a name without lots and lots kept in different units, at `/material`, and a unit that a
/// lot does not know, at `/unit`.
pub fn issue_by_name(
    pen: &Pen<'_>,
    lots: &[LotFacts],
    piece: Option<&PieceInWork>,
    issue: &NewMaterialIssue,
) -> Result<Recording, Refusal> {
    let whole = issue.without_name();
    let unit = issue.unit.as_deref();
    let sources = oldest_first(lots, issue.date)?;
    let mut findings = Findings::new();
    findings.keep(pen.open_day(issue.date));
    let measure = findings.keep(measured(&issue.material, &sources, unit));
    let asked = read(pen, piece, &whole, above_zero(issue.quantity), &mut findings);
    findings.or_refuse()?;
    let (Some(measure), Some((first, _))) = (measure, sources.first().copied()) else {
        return Err(MaterialsFinding::NoSuchMaterial { material: issue.material.clone() }).at("/material");
    };
    let parts = match measure {
        Measure::One => {
            let quantity = first.lot.in_its_unit(asked.quantity, unit, "/quantity")?;
            let layers: Vec<_> = sources.iter().map(|(_, free)| *free).collect();
            let there = layers.iter().try_fold(Layer::none(pen.base()), |sum, layer| sum.plus(*layer))?;
            enough(quantity, there.quantity, first, issue.date)?;
            draw(pen.books.flow, &layers, quantity, pen.base()).at("/quantity")?
        }
        Measure::Several if pen.books.flow == MaterialsFlow::Fifo => {
            walk(&sources, asked.quantity, unit, issue.date)?
        }
        Measure::Several => return Err(units_differ(&issue.material, &sources)).at("/material"),
    };
    write(pen, &asked, &said(issue.quantity, unit, first), sources, parts)
}

/// The lots that have something on that day, the oldest first; all of them where none has.
fn oldest_first(lots: &[LotFacts], date: NaiveDate) -> Result<Vec<(&LotFacts, Layer)>, Refusal> {
    let mut sources = Vec::with_capacity(lots.len());
    for facts in lots {
        sources.push((facts, facts.free_on(date)?));
    }
    sources.sort_by_key(|(facts, _)| facts.lot.acquired_on);
    let something = |(_, free): &(&LotFacts, Layer)| free.quantity > Decimal::ZERO;
    if sources.iter().any(something) {
        sources.retain(something);
    }
    Ok(sources)
}

/// How the lots of a material measure what is asked for.
#[derive(Clone, Copy)]
enum Measure {
    /// All of them are kept in one unit and mean the same by the unit asked for.
    One,
    /// The unit asked for is something else in each.
    Several,
}

fn measured(material: &str, sources: &[(&LotFacts, Layer)], unit: Option<&str>) -> Result<Measure, Refusal> {
    let Some((first, _)) = sources.first() else {
        return Err(MaterialsFinding::NoSuchMaterial { material: material.to_owned() }).at("/material");
    };
    let one_unit = sources.iter().all(|(facts, _)| facts.lot.unit == first.lot.unit);
    let Some(unit) = unit.map(str::trim) else {
        return if one_unit {
            Ok(Measure::One)
        } else {
            Err(units_differ(material, sources)).at("/material")
        };
    };
    let knows = |facts: &LotFacts, unit: &str| facts.lot.factor_of(Some(unit)).is_ok();
    let by_all = |unit: &str| sources.iter().all(|(facts, _)| knows(facts, unit));
    if !by_all(unit) {
        let known: Vec<_> = first.lot.units().into_iter().map(|(name, _)| name.to_owned()).collect();
        let known: Vec<_> = known.into_iter().filter(|name| by_all(name)).collect();
        if known.is_empty() {
            return Err(units_differ(material, sources)).at("/material");
        }
        return Err(UnitFinding::Unknown { unit: unit.to_owned(), known }).at("/unit");
    }
    let factor = first.lot.factor_of(Some(unit))?;
    let one_factor = sources.iter().all(|(facts, _)| facts.lot.factor_of(Some(unit)) == Ok(factor));
    Ok(if one_unit && one_factor { Measure::One } else { Measure::Several })
}

fn units_differ(material: &str, sources: &[(&LotFacts, Layer)]) -> MaterialsFinding {
    let mut units: Vec<String> = Vec::new();
    for (facts, _) in sources {
        let unit = match &facts.lot.bought_in {
            Some(bought) => format!("{} ({} to the {})", facts.lot.unit, bought.factor, bought.unit),
            None => facts.lot.unit.clone(),
        };
        if !units.contains(&unit) {
            units.push(unit);
        }
    }
    MaterialsFinding::UnitsDiffer { material: material.to_owned(), units }
}

/// First in, first out over lots that are kept in different units: what is still asked for goes from lot to lot as an
/// exact fraction of the unit asked.
fn walk(
    sources: &[(&LotFacts, Layer)],
    quantity: Decimal,
    unit: Option<&str>,
    date: NaiveDate,
) -> Result<Vec<Layer>, Refusal> {
    let unit = unit.map(str::trim).unwrap_or_default();
    let beyond = || UnitFinding::OutOfReach { quantity, unit: unit.to_owned() };
    let mut left = Fraction::of(quantity).ok_or_else(beyond).at("/quantity")?;
    let mut parts = Vec::with_capacity(sources.len());
    for (facts, free) in sources {
        let factor = facts.lot.factor_of(Some(unit)).at("/unit")?;
        let there = Fraction::of(free.quantity.max(Decimal::ZERO)).and_then(|there| there.divided_by(factor));
        let there = there.ok_or_else(beyond).at("/quantity")?;
        let taken = if left.at_least(there).ok_or_else(beyond).at("/quantity")? {
            left = left.minus(there).ok_or_else(beyond).at("/quantity")?;
            free.quantity.max(Decimal::ZERO)
        } else {
            let own = facts.lot.of_it(left, unit, factor).at("/quantity")?;
            left = Fraction::ZERO;
            own
        };
        parts.push(free.part(taken).at("/quantity")?);
    }
    if left.is_zero() {
        return Ok(parts);
    }
    let there = sources.iter().map(|(facts, free)| facts.quantity_in_words(free.quantity)).collect();
    let unit = unit.to_owned();
    Err(MaterialsFinding::MoreThanInLots { asked: quantity, unit, there, date }).at("/quantity")
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
    quantity: Result<Decimal, Refusal>,
    findings: &mut Findings,
) -> Asked<'a> {
    let quantity = findings.keep(quantity);
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

fn write(
    pen: &Pen<'_>,
    asked: &Asked<'_>,
    what: &str,
    sources: Vec<(&LotFacts, Layer)>,
    parts: Vec<Layer>,
) -> Result<Recording, Refusal> {
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
