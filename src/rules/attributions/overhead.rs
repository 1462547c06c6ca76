//! Overhead: what no episode took up is spread over episodes by a rule, and has a line of its own there.

use std::collections::VecDeque;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::give_out::left_from;
use super::{AttributionFinding, Counts, SourceStanding, each_once};
use crate::rules::ids::{EpisodeId, SourceId};
use crate::rules::money::{Amount, Money};
use crate::rules::named::named;
use crate::rules::recording::{Category, CostObject, Label, Pen, Recording, Side, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::split::split_by_largest_remainder;

named! {
    /// What overhead is spread by.
    pub enum OverheadBasis {
        /// The owner's own hours on each episode.
        OwnHours => "own_hours",
        Equally => "equally",
        /// What each episode earned, before fees, in money and in kind.
        Income => "income",
    }
}

/// Spreads overhead over episodes.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOverhead {
    /// The day of the attributions; costs up to then are spread.
    pub date: NaiveDate,
    /// The first day whose hours or income count.
    pub from: NaiveDate,
    /// The last day whose hours or income count.
    pub to: NaiveDate,
    pub by: OverheadBasis,
    /// The episodes that bear it; with hours and income, every episode that has some where it is left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub episodes: Vec<EpisodeId>,
    /// With own hours: what an hour bears, as estimated ahead. All that is left is spread where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_per_hour: Option<Amount>,
    /// The costs to spread; every business cost on a receipt or an account that no episode took up where it is left
    /// out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub sources: Vec<SourceId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What the rule must know of the period.
#[derive(Clone, Debug)]
pub struct OverheadFacts {
    /// The costs, in the order they were recorded.
    pub pool: Vec<SourceStanding>,
    /// Hours or income of each episode; what is not above zero bears nothing.
    pub basis: Vec<(EpisodeId, Decimal)>,
}

/// Why overhead is not spread.
#[derive(Clone, Debug, PartialEq)]
pub enum OverheadFinding {
    EndsBeforeItBegins { from: NaiveDate, to: NaiveDate },
    NoBasis { by: OverheadBasis },
    EpisodesNeeded,
    RateWithoutHours { by: OverheadBasis },
    NothingToSpread { date: NaiveDate },
    NotACost { source: String },
}

impl Explain for OverheadFinding {
    fn say(&self) -> Said {
        match self {
            Self::EndsBeforeItBegins { from, to } => Said::invalid(
                format!("the period would end on {to}, before it begins on {from}"),
                "give from and to the other way round",
            ),
            Self::NoBasis { by } => Said::conflict(
                format!("no episode has any {by} in the period, so there is nothing to spread by"),
                "choose another period or basis, or record the hours first",
            ),
            Self::EpisodesNeeded => Said::invalid(
                "it is not said over which episodes it is spread equally",
                "give episodes, a list of their ids",
            ),
            Self::RateWithoutHours { by } => Said::invalid(
                format!("a rate for an hour is given, and the overhead is spread by {by}"),
                "leave rate_per_hour out, or spread by own_hours",
            ),
            Self::NothingToSpread { date } => Said::conflict(
                format!("no cost of the business is left that no episode took up by {date}"),
                "see what is left of each cost with GET /v1/sources",
            ),
            Self::NotACost { source } => {
                Said::invalid(format!("'{source}' is no cost, and only costs are overhead"), "leave it out")
            }
        }
    }
}

/// Spreads what is left of the pool, or what the hours bear at the rate, by the basis; each cost is used up in the
/// order it was recorded. What a rate leaves, or would take beyond the pool, is said.
/// # Errors
/// [`OverheadFinding`]; lots, tools and pieces, which reach episodes by events of their own; a closed day.
/// # Source
/// Principles of Managerial Accounting, ch. 4 (rate times base; under- and over-applied overhead), from memory.
pub fn spread_overhead(
    pen: &Pen<'_>,
    facts: &OverheadFacts,
    new: &NewOverhead,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(shape_of(new));
    let rate = new.rate_per_hour.map(|rate| rate.positive(pen.base())).transpose().at("/rate_per_hour");
    let rate = findings.keep(rate).flatten();
    findings.keep(only_open_costs(facts));
    findings.or_refuse()?;
    let bearers = bearers(facts, new)?;
    let nothing = Money::zero(pen.base());
    let mut pool = VecDeque::new();
    for source in &facts.pool {
        let left = left_from(source, new.date, nothing)?;
        if left.is_positive() {
            pool.push_back((source, left));
        }
    }
    let there = Money::sum(pen.base(), pool.iter().map(|(_, left)| *left))?;
    if !there.is_positive() {
        return Err(Refusal::new("/date", OverheadFinding::NothingToSpread { date: new.date }));
    }
    let (parts, wanted) = parts_of(there, rate, &bearers)?;
    let text = format!("overhead of {} to {} by {}", new.from, new.to, new.by);
    let mut recording = Recording::new(Word::Attributions, "overhead", new.date, text);
    for ((episode, _), part) in bearers.iter().zip(parts) {
        bear(&mut recording, &mut pool, *episode, part)?;
    }
    remark(&mut recording, there, wanted)?;
    let used = recording.attributions.iter().map(|one| one.source).collect::<std::collections::BTreeSet<_>>();
    let used = facts.pool.iter().filter(|source| used.contains(&source.source.id));
    let records = used.flat_map(|source| {
        let live = source.movements.iter().filter(|moved| moved.counts == Counts::Live);
        live.map(|moved| moved.record).chain([source.record])
    });
    recording.depends_on = each_once(records);
    Ok(recording)
}

fn shape_of(new: &NewOverhead) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    let (from, to, by) = (new.from, new.to, new.by);
    if to < from {
        findings.add(Refusal::new("/to", OverheadFinding::EndsBeforeItBegins { from, to }));
    }
    if by == OverheadBasis::Equally && new.episodes.is_empty() {
        findings.add(Refusal::new("/episodes", OverheadFinding::EpisodesNeeded));
    }
    if by != OverheadBasis::OwnHours && new.rate_per_hour.is_some() {
        findings.add(Refusal::new("/rate_per_hour", OverheadFinding::RateWithoutHours { by }));
    }
    findings.or_refuse()
}

fn only_open_costs(facts: &OverheadFacts) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    for standing in &facts.pool {
        let source = standing.source.text.clone();
        if let Some(thing) = standing.thing {
            findings.add(Refusal::new("/sources", AttributionFinding::HasItsOwnWay { thing, source }));
        } else if standing.source.side != Side::Cost {
            findings.add(Refusal::new("/sources", OverheadFinding::NotACost { source }));
        }
    }
    findings.or_refuse()
}

/// The episodes that bear something, each with its weight.
fn bearers(facts: &OverheadFacts, new: &NewOverhead) -> Result<Vec<(EpisodeId, Decimal)>, Refusal> {
    if new.by == OverheadBasis::Equally {
        return Ok(new.episodes.iter().map(|episode| (*episode, Decimal::ONE)).collect());
    }
    let asked = |episode: &EpisodeId| new.episodes.is_empty() || new.episodes.contains(episode);
    let bearers: Vec<_> = facts
        .basis
        .iter()
        .filter(|(episode, weight)| asked(episode) && *weight > Decimal::ZERO)
        .copied()
        .collect();
    if bearers.is_empty() {
        return Err(Refusal::new("/by", OverheadFinding::NoBasis { by: new.by }));
    }
    Ok(bearers)
}

/// What each bears, and what all would bear at the rate if there were enough.
fn parts_of(
    there: Money,
    rate: Option<Money>,
    bearers: &[(EpisodeId, Decimal)],
) -> Result<(Vec<Money>, Money), Refusal> {
    let weights: Vec<Decimal> = bearers.iter().map(|(_, weight)| *weight).collect();
    let Some(rate) = rate else { return Ok((split_by_largest_remainder(there, &weights)?, there)) };
    let at_rate = weights.iter().map(|hours| rate.times(*hours)).collect::<Result<Vec<_>, _>>()?;
    let wanted = Money::sum(there.currency(), at_rate.iter().copied())?;
    if wanted.amount() > there.amount() {
        return Ok((split_by_largest_remainder(there, &weights)?, wanted));
    }
    Ok((at_rate, wanted))
}

/// Takes a part from the pool, the earliest cost first.
fn bear(
    recording: &mut Recording,
    pool: &mut VecDeque<(&SourceStanding, Money)>,
    episode: EpisodeId,
    part: Money,
) -> Result<(), Refusal> {
    let mut wanted = part;
    while wanted.is_positive() {
        let Some((source, left)) = pool.pop_front() else { break };
        let taken = wanted.at_most(left);
        let (object, label) = (CostObject::Episode(episode), Label::Category(Category::Overhead));
        recording.attribute(source.source.id, recording.date, object, label, taken);
        wanted = wanted.minus(taken)?;
        let left = left.minus(taken)?;
        if left.is_positive() {
            pool.push_front((source, left));
        }
    }
    Ok(())
}

fn remark(recording: &mut Recording, there: Money, wanted: Money) -> Result<(), Refusal> {
    let spread = wanted.at_most(there);
    recording.notes.push(format!("{spread} of {there} is spread; the ledger is not touched."));
    let under = there.minus(wanted)?;
    if under.is_positive() {
        recording.notes.push(format!(
            "Under-attributed: the hours bear {under} less at this rate than the overhead that is there; it stays \
             unattributed."
        ));
    } else if under.is_negative() {
        recording.notes.push(format!(
            "Over-attributed: at this rate the hours would bear {} more than there is; they bear what there is.",
            under.absolute()
        ));
    }
    Ok(())
}
