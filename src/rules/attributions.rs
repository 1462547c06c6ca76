//! Attributions by hand: a cost that was put on the wrong episode moves on, one that was left over is given out, and
//! overhead is spread by a rule. All are dated rows; the ledger is not touched, and the source gives no more than it has.

mod give_out;
mod joint;
mod move_on;
mod overhead;
mod pool;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::ids::RecordId;
use super::journal::Stream;
use super::money::{Money, MoneyFinding};
use super::named::named;
use super::recording::{CostObject, Label, Side, Source};
use super::refusal::{Explain, Said};

pub use give_out::{NewAttribution, give_out};
pub use joint::{JointFacts, NewJoint, ObjectWeight, split_joint};
pub use move_on::{NewMove, move_on};
pub use overhead::{NewOverhead, OverheadFacts, OverheadFinding, spread_overhead};
pub use pool::{NewOverheadPool, PoolFinding, state_pool};

/// A source with everything that ever happened to it, reversed records and their reversals included.
#[derive(Clone, Debug)]
pub struct SourceStanding {
    pub source: Source,
    /// The record that opened it.
    pub record: RecordId,
    /// The thing whose cost it is, where it is one that has its own way to episodes.
    pub thing: Option<ThingBehind>,
    /// The streams of its record.
    pub streams: Vec<Stream>,
    pub movements: Vec<SourceMoved>,
    pub attributed: Vec<SourceGiven>,
    /// Of a lot: what the shelf holds of its cost, which nobody can be given. Empty for anything else.
    pub shelf: Vec<ShelfMoved>,
}

/// A change of what a lot holds, in money.
#[derive(Clone, Debug)]
pub struct ShelfMoved {
    pub record: RecordId,
    pub counts: Counts,
    pub date: NaiveDate,
    /// Negative as it leaves.
    pub cost: Money,
    pub way: ShelfWay,
}

/// What became of stock as it left a shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShelfWay {
    /// It came.
    Came,
    /// An episode, a project or a piece took it up, or gave it back.
    ForSomebody,
    /// Spoilt, missing at the count, used in general or lost as it went back: overhead.
    ForNobody,
}

named! {
    /// Things that reach episodes by events of their own; not a piece that was stock and is sold.
    pub enum ThingBehind { Lot => "lot", Tool => "tool", Piece => "piece" }
}

/// Whether the record of a row still counts by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    Live,
    /// Taken back, or taking back: both stand in the sums and cancel out.
    CancelledOut,
}

#[derive(Clone, Debug)]
pub struct SourceMoved {
    pub record: RecordId,
    pub counts: Counts,
    pub date: NaiveDate,
    pub amount: Money,
}

#[derive(Clone, Debug)]
pub struct SourceGiven {
    pub record: RecordId,
    pub counts: Counts,
    pub date: NaiveDate,
    pub object: CostObject,
    pub label: Label,
    pub amount: Money,
}

/// Why an attribution by hand is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum AttributionFinding {
    EndMissing { end: &'static str },
    EndTwice { end: &'static str },
    SameObject,
    NothingThere { source: String, date: NaiveDate },
    StillOnTheShelf { source: String },
    MoreThanThere { asked: Money, there: Money, date: NaiveDate },
    SeveralLabels { labels: Vec<Label> },
    NoSuchLabel { side: Side, label: String },
    LabelNeeded { side: Side, choices: Vec<String> },
    NoObject,
    HasItsOwnWay { thing: ThingBehind, source: String },
    NothingLeft { source: String, date: NaiveDate },
    MoreThanLeft { asked: Money, left: Money, date: NaiveDate },
}

impl Explain for AttributionFinding {
    fn say(&self) -> Said {
        match self {
            Self::EndMissing { end } => Said::invalid(
                format!("it is not said {end} which episode or project the amount moves"),
                format!("give {end}_episode or {end}_project"),
            ),
            Self::EndTwice { end } => Said::invalid(
                format!("{end}_episode and {end}_project are both given"),
                "give one of them; two moves serve two",
            ),
            Self::SameObject => {
                Said::invalid("the amount would move to where it stands", "name two different ones")
            }
            Self::NothingThere { source, date } => Said::conflict(
                format!("nothing of '{source}' stands there on {date}"),
                "see where it stands with GET /v1/attributions?source=…",
            ),
            Self::StillOnTheShelf { source } => Said::conflict(
                format!("nothing of '{source}' was issued there, and what is on the shelf does not move"),
                "issue it first (POST /v1/materials/{lot}/issues)",
            ),
            Self::MoreThanThere { asked, there, date } => Said::conflict(
                format!("{asked} is to move, and {there} stands there from {date} on"),
                "correct the amount or the date, or leave the amount out to move all of it",
            ),
            Self::SeveralLabels { labels } => Said::invalid(
                format!("it stands there as {}", in_words(labels.iter().map(|label| label.as_str()))),
                "say with category which of them moves, or leave the amount out to move all of it",
            ),
            Self::NoSuchLabel { side, label } => Said::invalid(
                format!("no {side} stands on a statement as '{label}'"),
                "a cost takes a category, an income and its fee take a stream",
            ),
            Self::LabelNeeded { side, choices } => Said::invalid(
                format!("it is not said under which line this {side} stands"),
                format!("give category: {}", in_words(choices.iter().map(String::as_str))),
            ),
            Self::NoObject => Said::invalid(
                "no episode and no project is named",
                "give for, a list of episodes and projects with their shares",
            ),
            Self::HasItsOwnWay { thing, source } => own_way(*thing, source),
            Self::NothingLeft { source, date } => Said::conflict(
                format!("nothing of '{source}' is left to attribute on {date}"),
                "move what stands elsewhere (POST /v1/attributions/moves), or correct the date",
            ),
            Self::MoreThanLeft { asked, left, date } => Said::conflict(
                format!("{asked} is to be attributed, and {left} is left from {date} on"),
                "correct the amount or the date, or leave the amount out to attribute all that is left",
            ),
        }
    }
}

fn own_way(thing: ThingBehind, source: &str) -> Said {
    let (detail, remedy) = match thing {
        ThingBehind::Lot => (
            format!("'{source}' is stock on the shelf: what is used of it is issued"),
            "issue it (POST /v1/materials/{lot}/issues)",
        ),
        ThingBehind::Tool => (
            format!("'{source}' is a tool: its uses carry its cost to episodes"),
            "log its uses (POST /v1/tools/{id}/uses)",
        ),
        ThingBehind::Piece => (
            format!(
                "'{source}' is a piece of furniture: it counts for the episode it was got for or sold for"
            ),
            "record its sale (POST /v1/furniture/{id}/sale), or reverse the piece and name its episode",
        ),
    };
    Said::conflict(detail, remedy)
}

fn in_words<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    names.into_iter().collect::<Vec<_>>().join(" or ")
}

/// The least that a running sum comes to at the end of `date` and of every later day: what can be taken on that
/// day without leaving a later one short.
fn least_from(
    changes: impl IntoIterator<Item = (NaiveDate, Money)>,
    date: NaiveDate,
    nothing: Money,
) -> Result<Money, MoneyFinding> {
    let mut days: BTreeMap<NaiveDate, Money> = BTreeMap::from([(date, nothing)]);
    for (on, amount) in changes {
        let day = days.entry(on.max(date)).or_insert(nothing);
        *day = day.plus(amount)?;
    }
    let mut sum = nothing;
    let mut least: Option<Money> = None;
    for amount in days.into_values() {
        sum = sum.plus(amount)?;
        least = Some(least.map_or(sum, |least| least.at_most(sum)));
    }
    Ok(least.unwrap_or(nothing))
}

/// The records that what is left of a source stands on: what brought it, and of stock what took it off the shelf.
fn stands_on(facts: &SourceStanding) -> impl Iterator<Item = RecordId> {
    let moved = facts.movements.iter().filter(|moved| moved.counts == Counts::Live).map(|moved| moved.record);
    let for_nobody = |moved: &&ShelfMoved| moved.counts == Counts::Live && moved.way == ShelfWay::ForNobody;
    let left = facts.shelf.iter().filter(for_nobody).map(|moved| moved.record);
    moved.chain(left).chain([facts.record])
}

/// Every record once, in order.
fn each_once(records: impl IntoIterator<Item = RecordId>) -> Vec<RecordId> {
    let mut once: Vec<_> = records.into_iter().collect();
    once.sort_unstable();
    once.dedup();
    once
}
