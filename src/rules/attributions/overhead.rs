//! Overhead: what no episode took up is spread over episodes by a rule, and has a line of its own there.

use std::collections::VecDeque;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::give_out::{left_from, no_other_way};
use super::{SourceStanding, each_once, stands_on};
use crate::rules::ids::{EpisodeId, OverheadPoolId, RecordId, SourceId};
use crate::rules::money::{Amount, Money, MoneyFinding};
use crate::rules::recording::{Category, CostObject, Label, Pen, Recording, Side, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{OverheadBasis, OverheadEstimate, OverheadPool, OverheadRate, OverheadSpread, Row};
use crate::rules::split::split_by_largest_remainder;

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
    /// The pool whose costs of its days are spread, as it was stated (POST /v1/attributions/pools); instead of `sources`
    /// and `rate_per_hour`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pool: Option<OverheadPoolId>,
    /// With a pool: `estimated` lets each hour bear what was estimated ahead, `actual` spreads all that is left. Left
    /// out: estimated where the pool has an estimate and it goes by own hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<OverheadRate>,
    /// The episodes that bear it; with hours and income, every episode that has some where it is left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub episodes: Vec<EpisodeId>,
    /// With own hours: what an hour bears, as estimated ahead. All that is left is spread where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_per_hour: Option<Amount>,
    /// The costs to spread. Left out: every cost of the business that no episode took up, on a receipt or an account,
    /// pay and trips for nobody in particular, and stock that was spoilt, missing at the count or used in general.
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
    /// Hours, income or costs of each episode; what is not above zero bears nothing.
    pub basis: Vec<(EpisodeId, Decimal)>,
    /// The pool that is named.
    pub stated: Option<OverheadPool>,
}

/// Why overhead is not spread.
#[derive(Clone, Debug, PartialEq)]
pub enum OverheadFinding {
    EndsBeforeItBegins { from: NaiveDate, to: NaiveDate },
    NoBasis { by: OverheadBasis },
    EpisodesNeeded,
    RateWithoutHours { by: OverheadBasis },
    PoolHasItsOwn { what: &'static str },
    RateWithoutPool,
    NoEstimate { by: OverheadBasis },
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
            Self::PoolHasItsOwn { what } => Said::invalid(
                format!("a pool is named, which has its own {what}"),
                format!("leave {what} out, or leave pool out"),
            ),
            Self::RateWithoutPool => Said::invalid(
                "rate says how a pool is spread, and no pool is named",
                "leave rate out, or name the pool; a rate of your own is rate_per_hour",
            ),
            Self::NoEstimate { by } => Said::invalid(
                format!("nothing was estimated for an hour that could be spread by {by}"),
                "spread a pool with an estimate by own_hours, or leave rate out",
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
/// [`OverheadFinding`]; tools, pieces and stock on the shelf, which reach episodes by events of their own; a closed day.
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
    let rate = findings.keep(rate_of(pen, facts, new)).unwrap_or(Rate::Actual);
    findings.keep(only_open_costs(pen, facts, new));
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
    let what = facts.stated.as_ref().map_or("overhead", |pool| pool.name.as_str());
    let text = format!("{what} of {} to {} by {}", new.from, new.to, new.by);
    let mut recording = Recording::new(Word::Attributions, "overhead", new.date, text);
    for ((episode, _), part) in bearers.iter().zip(parts) {
        bear(&mut recording, &mut pool, *episode, part)?;
    }
    remark(&mut recording, there, wanted)?;
    recording.rows.push(Row::OverheadSpread(OverheadSpread {
        pool: new.pool,
        date: new.date,
        from: new.from,
        to: new.to,
        by: new.by,
        rate: if matches!(rate, Rate::Actual) { OverheadRate::Actual } else { OverheadRate::Estimated },
        base: bearers.iter().map(|(_, weight)| *weight).sum(),
        applied: wanted,
        there,
        spread: wanted.at_most(there),
    }));
    let used = recording.attributions.iter().map(|one| one.source).collect::<std::collections::BTreeSet<_>>();
    let used = facts.pool.iter().filter(|source| used.contains(&source.source.id));
    let pool = new.pool.map(|pool| RecordId(pool.0));
    recording.depends_on = each_once(used.flat_map(stands_on).chain(pool));
    Ok(recording)
}

/// What the hours bear.
#[derive(Clone, Copy)]
enum Rate {
    /// All that is left.
    Actual,
    /// So much an hour, as the request says.
    Hour(Money),
    /// As the pool was estimated ahead.
    Estimated(OverheadEstimate),
}

impl Rate {
    /// Rounded half up once.
    fn borne(self, hours: Decimal) -> Result<Money, MoneyFinding> {
        match self {
            Self::Hour(rate) => rate.times(hours),
            Self::Estimated(estimate) => estimate.cost.portion(hours, estimate.hours),
            Self::Actual => Err(MoneyFinding::DividedByZero),
        }
    }
}

fn rate_of(pen: &Pen<'_>, facts: &OverheadFacts, new: &NewOverhead) -> Result<Rate, Refusal> {
    let Some(pool) = &facts.stated else {
        if new.rate.is_some() {
            return Err(Refusal::new("/rate", OverheadFinding::RateWithoutPool));
        }
        let rate =
            new.rate_per_hour.map(|rate| rate.positive(pen.base())).transpose().at("/rate_per_hour")?;
        return Ok(rate.map_or(Rate::Actual, Rate::Hour));
    };
    let mut findings = Findings::new();
    if new.rate_per_hour.is_some() {
        findings
            .add(Refusal::new("/rate_per_hour", OverheadFinding::PoolHasItsOwn { what: "rate_per_hour" }));
    }
    if !new.sources.is_empty() {
        findings.add(Refusal::new("/sources", OverheadFinding::PoolHasItsOwn { what: "sources" }));
    }
    findings.or_refuse()?;
    let estimate = pool.estimate.filter(|_| new.by == OverheadBasis::OwnHours);
    match (new.rate, estimate) {
        (Some(OverheadRate::Actual), _) | (None, None) => Ok(Rate::Actual),
        (_, Some(estimate)) => Ok(Rate::Estimated(estimate)),
        (Some(OverheadRate::Estimated), None) => {
            Err(Refusal::new("/rate", OverheadFinding::NoEstimate { by: new.by }))
        }
    }
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

/// What is named has to be a cost that something is left of; what was looked up is left out where it is used up.
fn only_open_costs(pen: &Pen<'_>, facts: &OverheadFacts, new: &NewOverhead) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    for source in &facts.pool {
        let text = source.source.text.clone();
        if !new.sources.is_empty() {
            findings.keep(no_other_way(source, new.date, Money::zero(pen.base())).at("/sources"));
        }
        if source.source.side != Side::Cost {
            findings.add(Refusal::new("/sources", OverheadFinding::NotACost { source: text }));
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
    rate: Rate,
    bearers: &[(EpisodeId, Decimal)],
) -> Result<(Vec<Money>, Money), Refusal> {
    let weights: Vec<Decimal> = bearers.iter().map(|(_, weight)| *weight).collect();
    if matches!(rate, Rate::Actual) {
        return Ok((split_by_largest_remainder(there, &weights)?, there));
    }
    let at_rate = weights.iter().map(|hours| rate.borne(*hours)).collect::<Result<Vec<_>, _>>()?;
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
