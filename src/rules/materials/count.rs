//! Spoilt material and the physical count.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, ProjectId};
use super::super::journal::ExpenseClass;
use super::super::money::{Money, Quantity};
use super::super::objects::ObjectAsked;
use super::super::recording::{Category, Pen, Recording, Word};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{LotMove, LotMoveKind, Row, Target};
use super::super::treatment::{Treatment, TreatmentAsked};
use super::issue::enough;
use super::leave::{Destination, Drawn, Leaving, leave};
use super::{LotFacts, MaterialsFinding, day_of, positive};

/// A quantity that was spoilt, broken or thrown away.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewWaste {
    pub date: NaiveDate,
    /// Above zero.
    pub quantity: Quantity,
    /// One of the lot's units; the one it is kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
    /// The episode that bears it; with neither episode nor project it is overhead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// What it is to the tax office; left out, the lot's own, and supplies where that is resale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    /// Where it stands on a statement; the lot's own where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What was found on the shelf.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCount {
    /// The evening of the count: everything of that day is taken as done.
    pub date: NaiveDate,
    /// Zero or more.
    pub counted: Quantity,
    /// One of the lot's units; the one it is kept in where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40)]
    pub unit: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Takes a spoilt quantity out of a lot, at the lot's cost.
/// # Errors
/// As [`issue`](super::issue()).
pub fn waste(pen: &Pen<'_>, facts: &LotFacts, waste: &NewWaste) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(day_of(pen, facts, waste.date));
    let quantity = findings.keep(positive(facts, waste.quantity, waste.unit.as_deref()));
    let treatment = waste.treatment.map(|asked| asked.treatment().at("/treatment"));
    let treatment = treatment.and_then(|read| findings.keep(read));
    let object = ObjectAsked { episode: waste.episode, project: waste.project }.optional();
    let object = findings.keep(object).flatten();
    findings.or_refuse()?;
    let quantity = quantity.unwrap_or_default();
    let free = facts.free_on(waste.date)?;
    enough(quantity, free.quantity, facts, waste.date)?;
    let taken = free.part(quantity).at("/quantity")?;
    let treatment = treatment.unwrap_or_else(|| lost_as(facts.lot.treatment));
    let leaving = Leaving {
        kind: LotMoveKind::Wasted,
        date: waste.date,
        to: object.map_or(Destination::Overhead, Destination::Object),
        category: waste.category,
    };
    let text = format!("{} spoilt", facts.quantity_in_words(quantity));
    let mut rec = Recording::new(Word::Materials, "waste", waste.date, text);
    leave(pen, &mut rec, &leaving, &[Drawn { facts, free, taken, treatment }])?;
    Ok(rec)
}

/// Sets a lot to what was counted. What is missing leaves as overhead at the lot's cost; what is over comes
/// in at no cost; an equal count is kept without a move or an entry.
/// # Errors
/// A negative count at `/counted`; a shortage that later records have already used up, at `/counted`.
pub fn count(pen: &Pen<'_>, facts: &LotFacts, count: &NewCount) -> Result<Recording, Refusal> {
    let counted = count.counted.decimal();
    let mut findings = Findings::new();
    findings.keep(day_of(pen, facts, count.date));
    if counted < Decimal::ZERO {
        findings.add(Refusal::new("/counted", MaterialsFinding::Negative { quantity: counted }));
    }
    let counted = findings.keep(facts.lot.in_its_unit(counted, count.unit.as_deref(), "/counted"));
    findings.or_refuse()?;
    let counted = counted.unwrap_or_default();
    let by_the_books = facts.on(count.date)?.quantity;
    let text = format!("{} counted", facts.quantity_in_words(counted));
    let mut rec = Recording::new(Word::Materials, "count", count.date, text);
    rec.depends_on.push(facts.record);
    let unit = &facts.lot.unit;
    if counted == by_the_books {
        rec.notes.push(format!("The count agrees with the books: {} {unit}.", counted.normalize()));
    } else if counted > by_the_books {
        found_over(pen, &mut rec, facts, count.date, counted - by_the_books);
    } else {
        found_short(pen, &mut rec, facts, count.date, by_the_books - counted)?;
    }
    Ok(rec)
}

fn found_over(pen: &Pen<'_>, rec: &mut Recording, facts: &LotFacts, date: NaiveDate, over: Decimal) {
    let lot = &facts.lot;
    rec.rows.push(Row::LotMove(LotMove {
        lot: lot.id,
        date,
        kind: LotMoveKind::CountedOver,
        quantity: over,
        cost: Money::zero(pen.base()),
        to: Target::Overhead,
        treatment: lot.treatment,
    }));
    rec.notes.push(format!(
        "{} {} more than the books say: added at no cost, so that the lot's cost spreads over more. If it \
         was bought and never recorded, reverse this count and record the purchase.",
        over.normalize(),
        lot.unit
    ));
}

fn found_short(
    pen: &Pen<'_>,
    rec: &mut Recording,
    facts: &LotFacts,
    date: NaiveDate,
    short: Decimal,
) -> Result<(), Refusal> {
    let free = facts.free_on(date)?;
    if short > free.quantity {
        let (asked, there, unit) = (short, free.quantity, facts.lot.unit.clone());
        return Err(MaterialsFinding::MoreThanThere { asked, there, unit, date }).at("/counted");
    }
    let taken = free.part(short).at("/counted")?;
    let (to, category) = (Destination::Overhead, None);
    let leaving = Leaving { kind: LotMoveKind::CountedShort, date, to, category };
    let treatment = lost_as(facts.lot.treatment);
    leave(pen, rec, &leaving, &[Drawn { facts, free, taken, treatment }])?;
    rec.notes.push(format!(
        "{} {} less than the books say: taken out as overhead. If an episode used it, reverse this count \
         and record the issue.",
        short.normalize(),
        facts.lot.unit
    ));
    Ok(())
}

/// What is lost is what the lot was; stock for resale pieces that no piece took is supplies.
fn lost_as(treatment: Treatment) -> Treatment {
    match treatment {
        Treatment::Resale | Treatment::Tool => Treatment::Expense(ExpenseClass::Supplies),
        kept => kept,
    }
}
