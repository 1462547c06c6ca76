//! Giving out: what no episode has taken up yet is attributed by hand.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AttributionFinding, SourceStanding, ThingBehind, each_once, least_from, stands_on};
use crate::rules::ids::SourceId;
use crate::rules::journal::Stream;
use crate::rules::money::{Amount, Money, MoneyFinding};
use crate::rules::objects::{ObjectShare, split_over_objects};
use crate::rules::recording::{Category, Label, Pen, RecordFinding, Recording, Side, SourceKind, Word};
use crate::rules::refusal::{At, Findings, Refusal};

/// Attributes what is left of a source to episodes and projects.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAttribution {
    pub date: NaiveDate,
    /// Where the cost or income comes from; GET /v1/sources shows what is left of each.
    pub source: SourceId,
    /// The episodes and projects; shares that total 100, or none for equal parts.
    #[serde(rename = "for")]
    #[schema(min_items = 1, max_items = 100)]
    pub objects: Vec<ObjectShare>,
    /// In the books' currency; all that is left where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// The line of the statement. A cost left out stands where the source stands already, pay with paid labour, a
    /// trip with trips, a piece sold with pieces sold, anything else with overhead; an income names its stream where its record has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40, example = "overhead")]
    pub category: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Splits what is left of a source, or `new.amount` of it, to the minor unit.
///
/// # Errors
/// [`AttributionFinding`]: more than is left on that day or any later one, with both figures; tools, pieces and
/// stock on the shelf, which reach episodes by events of their own; the shares' own findings at `/for`; a closed day.
pub fn give_out(pen: &Pen<'_>, facts: &SourceStanding, new: &NewAttribution) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(no_other_way(facts, new.date, Money::zero(pen.base())).at("/source"));
    if let Some(began) =
        facts.movements.iter().map(|moved| moved.date).min().filter(|began| new.date < *began)
    {
        let why = RecordFinding::BeforeItBegan { what: "source", began, date: new.date };
        findings.add(Refusal::new("/date", why));
    }
    if new.objects.is_empty() {
        findings.add(Refusal::new("/for", AttributionFinding::NoObject));
    }
    let label = findings.keep(label_of(facts, new.category.as_deref()).at("/category"));
    let asked = new.amount.map(|amount| amount.positive(pen.base())).transpose();
    let asked = findings.keep(asked.at("/amount")).flatten();
    let shares =
        findings.keep(split_over_objects(asked.unwrap_or(Money::zero(pen.base())), &new.objects).at("/for"));
    findings.or_refuse()?;
    let (Some(label), Some(_)) = (label, shares) else { return Err(AttributionFinding::NoObject.into()) };
    let amount = amount_of(facts, asked, new.date, Money::zero(pen.base()))?;
    let text = format!("attributed: {}", facts.source.text);
    let mut recording = Recording::new(Word::Attributions, "attribution", new.date, text);
    for (object, part) in split_over_objects(amount, &new.objects).at("/for")? {
        recording.attribute(facts.source.id, new.date, object, label, part);
    }
    recording.notes.push(format!("{amount} is attributed as {}; the ledger is not touched", label.as_str()));
    recording.depends_on = each_once(stands_on(facts));
    Ok(recording)
}

/// Whether it may be given out: a lot's cost only where it left the shelf for nobody.
pub(super) fn no_other_way(facts: &SourceStanding, date: NaiveDate, nothing: Money) -> Result<(), Refusal> {
    let Some(thing) = facts.thing else { return Ok(()) };
    if thing == ThingBehind::Lot && left_from(facts, date, nothing)?.is_positive() {
        return Ok(());
    }
    let source = facts.source.text.clone();
    Err(AttributionFinding::HasItsOwnWay { thing, source }.into())
}

/// What is left of a source from `date` on; what waits on the shelf is not.
pub(super) fn left_from(
    facts: &SourceStanding,
    date: NaiveDate,
    nothing: Money,
) -> Result<Money, MoneyFinding> {
    let moved = facts.movements.iter().map(|moved| (moved.date, moved.amount));
    let given = facts.attributed.iter().map(|given| (given.date, given.amount.negated()));
    let shelf = facts.shelf.iter().map(|moved| (moved.date, moved.cost.negated()));
    least_from(moved.chain(given).chain(shelf), date, nothing)
}

/// What is asked for, at most what is left from `date` on; all that is left where nothing is asked for.
fn amount_of(
    facts: &SourceStanding,
    asked: Option<Money>,
    date: NaiveDate,
    nothing: Money,
) -> Result<Money, Refusal> {
    let left = left_from(facts, date, nothing)?;
    if !left.is_positive() {
        let source = facts.source.text.clone();
        return Err(Refusal::new("/source", AttributionFinding::NothingLeft { source, date }));
    }
    match asked {
        Some(asked) if asked.amount() > left.amount() => {
            Err(Refusal::new("/amount", AttributionFinding::MoreThanLeft { asked, left, date }))
        }
        Some(asked) => Ok(asked),
        None => Ok(left),
    }
}

/// The line it stands in: as asked, else as it stands already, else as is usual for such a source.
pub(super) fn label_of(facts: &SourceStanding, asked: Option<&str>) -> Result<Label, AttributionFinding> {
    let side = facts.source.side;
    if let Some(asked) = asked {
        let no_such = || AttributionFinding::NoSuchLabel { side, label: asked.to_owned() };
        let label = Label::named(side, asked).ok_or_else(no_such)?;
        // An income of one stream can not stand with another: the year's summary takes it from the journal.
        return match label {
            Label::Stream(stream) if !facts.streams.contains(&stream) => Err(no_such()),
            label => Ok(label),
        };
    }
    let mut standing: Vec<Label> = facts.attributed.iter().map(|given| given.label).collect();
    standing.sort_unstable();
    standing.dedup();
    if let [only] = standing.as_slice() {
        return Ok(*only);
    }
    usual_label(facts)
}

fn usual_label(facts: &SourceStanding) -> Result<Label, AttributionFinding> {
    let (side, kind) = (facts.source.side, facts.source.kind);
    let needed = |choices: Vec<String>| AttributionFinding::LabelNeeded { side, choices };
    match side {
        Side::Cost => Ok(Label::Category(match kind {
            SourceKind::Trip => Category::Trips,
            SourceKind::PaidLabour => Category::PaidLabour,
            // Pieces on hand do not come here: this one was stock and is sold.
            SourceKind::Piece => Category::PiecesSold,
            _ => Category::Overhead,
        })),
        Side::Income | Side::InKind | Side::Fee => match facts.streams.as_slice() {
            [only] => Ok(Label::Stream(*only)),
            several => Err(needed(several.iter().map(|one: &Stream| one.as_str().to_owned()).collect())),
        },
        Side::Recovery => {
            let kinds = [Label::PersonalPieceSold, Label::SetPieceSold];
            Err(needed(kinds.map(|label| label.as_str().to_owned()).to_vec()))
        }
    }
}
