//! A set is taken apart, so that some of it can be sold and the rest kept.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::PieceId;
use super::super::money::{Amount, Money};
use super::super::recording::{MovementKind, Pen, Recording, Word, words_of};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{Basis, LeavingKind, Piece, PieceLeaving, PiecePurpose, Row};
use super::super::split::split_by_largest_remainder;
use super::PieceFacts;
use super::acquire::take_in;
use super::character::OnSale;

/// A set of furniture taken apart: six chairs of which two are sold, a dresser and its mirror.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewParts {
    pub date: NaiveDate,
    /// All of it: what it counts at is split over the parts by their values, and each is a piece of its own from then on.
    #[schema(min_items = 2, max_items = 100)]
    pub parts: Vec<PartAsked>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// One part of a set.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartAsked {
    /// Such as "two chairs with arms".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// What it would fetch by itself that day, in the books' currency; zero for what is worth nothing.
    pub value: Amount,
}

/// What can be wrong with taking a set apart.
#[derive(Clone, Debug, PartialEq)]
pub enum PartFinding {
    FewerThanTwo { parts: usize },
    StandsWithEpisodes { name: String, attributed: Money },
    GivenUntil { last: NaiveDate, date: NaiveDate },
}

impl Explain for PartFinding {
    fn say(&self) -> Said {
        match self {
            Self::FewerThanTwo { parts } => Said::invalid(
                format!("{parts} part is given, and a set has two or more"),
                "give every part, those that stay too",
            ),
            Self::StandsWithEpisodes { name, attributed } => Said::conflict(
                format!("of the cost of {name}, {attributed} already stand with episodes"),
                "take that attribution back first; what is for resale counts for its episode when it is sold",
            ),
            Self::GivenUntil { last, date } => Said::conflict(
                format!("something of it stood with an episode until {last}, after {date}"),
                format!("give {last} or a later day"),
            ),
        }
    }
}

/// Takes a set apart. What it counts at is split over its parts by their fair values to the last cent. Stock moves on
/// with its parts, at cost and without an entry; what a kept piece has cost stays with its episode, and only what a
/// sale may set against its proceeds is split.
/// # Errors
/// [`PartFinding`], [`GoingFinding`](super::GoingFinding), what is wrong with each part, all at once; a closed day.
/// # Source
/// IRS Publication 551 and Publication 544, a part sold of what was bought together: its share of the basis by fair
/// values (from memory).
pub fn take_apart(pen: &mut Pen<'_>, facts: &PieceFacts, new: &NewParts) -> Result<Recording, Refusal> {
    let (piece, base) = (&facts.piece, pen.base());
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go_unsold(new.date, &mut findings);
    let stock = piece.purpose == PiecePurpose::Resale;
    if stock && !facts.attributed.is_zero() {
        let (name, attributed) = (piece.name.clone(), facts.attributed);
        findings.add(PartFinding::StandsWithEpisodes { name, attributed });
    }
    if let Some(last) = facts.last_given.filter(|last| stock && new.date < *last) {
        findings.add(Refusal::new("/date", PartFinding::GivenUntil { last, date: new.date }));
    }
    if new.parts.len() < 2 {
        let parts = new.parts.len();
        findings.add(Refusal::new("/parts", PartFinding::FewerThanTwo { parts }));
    }
    let mut parts = Vec::with_capacity(new.parts.len());
    for (place, part) in new.parts.iter().enumerate() {
        let name = findings.keep(words_of("name", &part.name).at(&format!("/parts/{place}/name")));
        let value = part.value.not_negative(base).at(&format!("/parts/{place}/value"));
        parts.extend(name.zip(findings.keep(value)));
    }
    findings.or_refuse()?;
    let weights: Vec<Decimal> = parts.iter().map(|(_, value)| value.amount()).collect();
    let split = |amount: Money| split_by_largest_remainder(amount, &weights).at("/parts");
    let incurred = facts.incurred(base)?;
    let moving = if stock { incurred } else { Money::zero(base) };
    let (basis, value) = counts_at(facts, incurred, pen)?;
    let costs = split(moving)?;
    let bases = basis.map(split).transpose()?;
    let values = value.map(split).transpose()?;
    let text = format!("{} taken apart", piece.name);
    let mut rec = Recording::new(Word::Furniture, "parts", new.date, text);
    rec.depends_on = facts.records();
    rec.moves(piece.source, new.date, MovementKind::Removed, moving.negated(), None);
    for (place, ((name, worth), cost)) in parts.into_iter().zip(costs).enumerate() {
        let share = |of: &Option<Vec<Money>>| of.as_ref().and_then(|of| of.get(place).copied());
        let basis = share(&bases).map_or(Basis::Unknown, Basis::Known);
        rec.notes.push(match basis {
            Basis::Known(basis) => format!("{name}: {basis}, by its value of {worth}."),
            Basis::Unknown => format!("{name}: nobody knows what it cost, as of the whole."),
        });
        let part = Piece {
            id: PieceId(pen.ids.next()),
            source: pen.new_source(),
            name,
            basis,
            value: share(&values),
            ..piece.clone()
        };
        take_in(&mut rec, new.date, &part, cost, None);
    }
    let how = LeavingKind::TakenApart;
    rec.rows.push(Row::PieceLeaving(PieceLeaving { piece: piece.id, date: new.date, how, cost: moving }));
    if !stock && !incurred.is_zero() {
        rec.notes.push(format!("What {} had cost, {incurred}, stays where it is.", piece.name));
    }
    Ok(rec)
}

/// What is split: the basis for a gain, and the value that counts where there are two.
fn counts_at(
    facts: &PieceFacts,
    incurred: Money,
    pen: &Pen<'_>,
) -> Result<(Option<Money>, Option<Money>), Refusal> {
    let (piece, added) = (&facts.piece, facts.added(pen.base())?);
    let on_sale = OnSale { piece, incurred, added, attributed: facts.attributed };
    let basis = match (piece.purpose, piece.basis) {
        (PiecePurpose::Resale, Basis::Known(came_at)) => Some(came_at.plus(added)?),
        (PiecePurpose::Resale, Basis::Unknown) => None,
        _ => match on_sale.basis(pen.base())? {
            Basis::Known(basis) => Some(basis),
            Basis::Unknown => None,
        },
    };
    let value = match piece.purpose {
        PiecePurpose::Resale => piece.value.map(|value| value.plus(added)).transpose()?,
        _ => on_sale.basis_for_loss(pen.base())?,
    };
    Ok((basis, value))
}
