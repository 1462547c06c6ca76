//! Moving: what stands with one episode or project goes to another.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{AttributionFinding, Counts, SourceGiven, SourceStanding, ThingBehind, each_once, least_from};
use crate::rules::ids::{EpisodeId, ProjectId, SourceId};
use crate::rules::money::{Amount, Money};
use crate::rules::objects::{ObjectAsked, ObjectFinding};
use crate::rules::recording::{CostObject, Label, Pen, Recording, Side, Word};
use crate::rules::refusal::{At, Findings, Refusal};

/// Moves what one source gave to an episode or project on to another one, from a day on.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewMove {
    /// Statements of earlier days keep showing it where it stood.
    pub date: NaiveDate,
    /// Where the cost or income comes from, as an attribution of it says.
    pub source: SourceId,
    /// The episode that bore it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_episode: Option<EpisodeId>,
    /// The project that bore it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_project: Option<ProjectId>,
    /// The episode that bears it now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_episode: Option<EpisodeId>,
    /// The project that bears it now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_project: Option<ProjectId>,
    /// In the books' currency; all that stands there where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// The line of the statement it stands in, where it stands in more than one: a category of cost, a stream of
    /// income.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 40, example = "materials")]
    pub category: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

fn end(
    end: &'static str,
    episode: Option<EpisodeId>,
    project: Option<ProjectId>,
) -> Result<CostObject, Refusal> {
    let named = ObjectAsked { episode, project }.object();
    named.map_err(|finding| match finding {
        ObjectFinding::MoreThanOneNamed => {
            Refusal::new(format!("/{end}_project"), AttributionFinding::EndTwice { end })
        }
        _ => Refusal::new(format!("/{end}_episode"), AttributionFinding::EndMissing { end }),
    })
}

/// Two rows of one source and one line: less here, more there. What stands in several lines moves line by line.
///
/// # Errors
/// [`AttributionFinding`]: more than stands there on that day or any later one, with both figures; stock that was
/// not issued there; a closed day.
pub fn move_on(pen: &Pen<'_>, facts: &SourceStanding, new: &NewMove) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    let from = findings.keep(end("from", new.from_episode, new.from_project));
    let to = findings.keep(end("to", new.to_episode, new.to_project));
    let label = findings.keep(label_of(facts, new.category.as_deref()).at("/category")).flatten();
    let amount = new.amount.map(|amount| amount.positive(pen.base())).transpose();
    let amount = findings.keep(amount.at("/amount")).flatten();
    if from.is_some() && from == to {
        findings.add(Refusal::new("/to_episode", AttributionFinding::SameObject));
    }
    findings.or_refuse()?;
    let (Some(from), Some(to)) = (from, to) else { return Err(ObjectFinding::NeitherNamed.into()) };
    let there = standing_with(facts, from, label, new.date, Money::zero(pen.base()))?;
    let parts = match amount {
        Some(amount) => vec![part_of(&there, amount, facts, new.date)?],
        None if there.is_empty() => return Err(nothing_there(facts, new.date)),
        None => there,
    };
    let text = format!("moved on: {}", facts.source.text);
    let mut recording = Recording::new(Word::Attributions, "move", new.date, text);
    for (label, amount) in &parts {
        recording.attribute(facts.source.id, new.date, from, *label, amount.negated());
        recording.attribute(facts.source.id, new.date, to, *label, *amount);
        recording.notes.push(format!("{amount} moves as {}; the ledger is not touched", label.as_str()));
    }
    if facts.source.side == Side::Income {
        recording.notes.push(
            "what was kept of this income is a source of its own: move that too, if it is to follow".into(),
        );
    }
    let moved = |given: &&SourceGiven| {
        given.object == from
            && given.counts == Counts::Live
            && parts.iter().any(|(one, _)| *one == given.label)
    };
    let given = facts.attributed.iter().filter(moved).map(|given| given.record);
    recording.depends_on = each_once(given.chain([facts.record]));
    Ok(recording)
}

fn label_of(facts: &SourceStanding, asked: Option<&str>) -> Result<Option<Label>, AttributionFinding> {
    let Some(asked) = asked else { return Ok(None) };
    let side = facts.source.side;
    match Label::named(side, asked) {
        Some(label) => Ok(Some(label)),
        None => Err(AttributionFinding::NoSuchLabel { side, label: asked.to_owned() }),
    }
}

/// What of it stands with `object` from `date` on, line by line.
fn standing_with(
    facts: &SourceStanding,
    object: CostObject,
    label: Option<Label>,
    date: NaiveDate,
    nothing: Money,
) -> Result<Vec<(Label, Money)>, Refusal> {
    let mut lines: BTreeMap<Label, Vec<(NaiveDate, Money)>> = BTreeMap::new();
    for given in facts.attributed.iter().filter(|given| given.object == object) {
        lines.entry(given.label).or_default().push((given.date, given.amount));
    }
    let mut there = Vec::with_capacity(lines.len());
    for (line, changes) in lines.into_iter().filter(|(line, _)| label.is_none_or(|label| label == *line)) {
        let least = least_from(changes, date, nothing)?;
        if least.is_positive() {
            there.push((line, least));
        }
    }
    Ok(there)
}

fn part_of(
    there: &[(Label, Money)],
    asked: Money,
    facts: &SourceStanding,
    date: NaiveDate,
) -> Result<(Label, Money), Refusal> {
    match there {
        [] => Err(nothing_there(facts, date)),
        [(label, there)] if asked.amount() <= there.amount() => Ok((*label, asked)),
        [(_, there)] => {
            let why = AttributionFinding::MoreThanThere { asked, there: *there, date };
            Err(Refusal::new("/amount", why))
        }
        several => {
            let labels = several.iter().map(|(label, _)| *label).collect();
            Err(Refusal::new("/category", AttributionFinding::SeveralLabels { labels }))
        }
    }
}

fn nothing_there(facts: &SourceStanding, date: NaiveDate) -> Refusal {
    let source = facts.source.text.clone();
    let why = match facts.thing {
        Some(ThingBehind::Lot) => AttributionFinding::StillOnTheShelf { source },
        _ => AttributionFinding::NothingThere { source, date },
    };
    Refusal::new("/source", why)
}
