//! The report on overhead: what each pool was estimated to cost, what episodes bore of it, what there was, and what was
//! done with the difference.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use utoipa::ToSchema;

use chrono::NaiveDate;

use super::{DatedAmount, Period};
use crate::rules::ids::{EpisodeId, OverheadPoolId, RecordId};
use crate::rules::journal::ExpenseClass;
use crate::rules::money::{Currency, Money, MoneyFinding};
use crate::rules::named::named;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{OverheadBasis, OverheadPool, OverheadRate, OverheadSpread};

/// A cost that no episode took up as anything but overhead.
#[derive(Clone, Debug)]
pub struct OverheadCost {
    pub record: RecordId,
    pub classes: Vec<ExpenseClass>,
    /// What it came to more or less on a day.
    pub changes: Vec<DatedAmount>,
}

/// A spreading that stands, with what each episode bore.
#[derive(Clone, Debug)]
pub struct SpreadFacts {
    pub record: RecordId,
    pub row: OverheadSpread,
    pub borne: Vec<(EpisodeId, Money)>,
}

/// What the report is worked out from.
#[derive(Clone, Debug)]
pub struct OverheadReportFacts {
    pub currency: Currency,
    pub period: Period,
    /// Those that stand.
    pub pools: Vec<OverheadPool>,
    /// In the order they were recorded.
    pub spreads: Vec<SpreadFacts>,
    pub costs: Vec<OverheadCost>,
}

/// Overhead by pools, those whose days have one of the period's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct OverheadReport {
    /// The first day looked at; null for all.
    pub from: Option<NaiveDate>,
    /// The last day looked at; null for all.
    pub to: Option<NaiveDate>,
    pub currency: Currency,
    /// One pool each.
    pub pools: Vec<PoolStanding>,
    /// What was spread without a pool.
    pub without_pool: Vec<Spreading>,
}

named! {
    /// Which of the two was more: what there was, or what the hours bore.
    pub enum OverOrUnder {
        /// There was more: the rest waits to be spread.
        Under => "under",
        /// The hours bore more than there was; episodes bear what there was.
        Over => "over",
        Even => "even",
    }
}

/// One pool with what became of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct PoolStanding {
    pub pool: OverheadPoolId,
    pub name: String,
    /// The first day whose costs belong to it.
    pub from: NaiveDate,
    /// The last day whose costs belong to it.
    pub to: NaiveDate,
    /// The classes of cost it takes.
    pub classes: Vec<ExpenseClass>,
    /// The records it takes beside them.
    pub records: Vec<RecordId>,
    pub estimated_cost: Option<Money>,
    /// The own hours that were expected.
    #[schema(value_type = Option<String>, example = "600")]
    pub estimated_hours: Option<Decimal>,
    /// Cost over hours, shown rounded half up to six decimals; it is used unrounded.
    #[schema(value_type = Option<String>, example = "12")]
    pub rate_per_hour: Option<Decimal>,
    /// With an estimate: what the hours bear at its rate. Without one: what was spread.
    pub applied: Money,
    /// What the costs of its days came to.
    pub actual: Money,
    /// Actual less applied: positive where too little was applied.
    pub difference: Money,
    pub over_or_under: OverOrUnder,
    /// What episodes bear in all, never more than there was when it was spread.
    pub borne: Money,
    /// What of that is the difference, spread afterwards at what there was.
    pub disposed: Money,
    /// Actual less borne: no episode bears it yet. Negative where costs went back after they were spread, or costs of
    /// earlier days were spread too.
    pub left: Money,
    /// How it was spread, the earliest first.
    pub spreads: Vec<Spreading>,
    /// What was done with the difference, in words.
    pub notes: Vec<String>,
}

/// One spreading, as it was done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Spreading {
    pub record: RecordId,
    #[schema(example = "/v1/records/0192a1b2-0000-7000-8000-000000000001")]
    pub link: String,
    pub date: NaiveDate,
    /// The first day whose hours, income or costs count.
    pub from: NaiveDate,
    /// The last day whose hours, income or costs count.
    pub to: NaiveDate,
    pub by: OverheadBasis,
    pub rate: OverheadRate,
    /// All hours, income or costs of those episodes; their number where it was spread equally.
    #[schema(value_type = String, example = "580")]
    pub base: Decimal,
    /// What the base bears at the rate.
    pub applied: Money,
    /// What was there to be spread on that day.
    pub there: Money,
    /// There less applied: positive where too little was applied.
    pub difference: Money,
    pub borne: Money,
    /// What each episode bore.
    pub episodes: Vec<EpisodeBore>,
}

/// What one episode bore of a spreading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct EpisodeBore {
    pub episode: EpisodeId,
    pub amount: Money,
}

/// Holds what was applied against what there was, pool by pool.
/// # Errors
/// [`CostingFinding::EndsBeforeItBegins`](super::CostingFinding); [`MoneyFinding::TooLarge`].
/// # Source
/// Principles of Managerial Accounting, ch. 4 (under- and over-applied overhead), from memory.
pub fn overhead_report(facts: &OverheadReportFacts) -> Result<OverheadReport, Refusal> {
    let period = facts.period.checked()?;
    let shares_a_day = |from: NaiveDate, to: NaiveDate| {
        period.to.is_none_or(|end| from <= end) && period.from.is_none_or(|begin| begin <= to)
    };
    let pools = facts.pools.iter().filter(|pool| shares_a_day(pool.from, pool.to));
    let alone = facts.spreads.iter().filter(|one| one.row.pool.is_none());
    let alone = alone.filter(|one| shares_a_day(one.row.from, one.row.to));
    Ok(OverheadReport {
        from: period.from,
        to: period.to,
        currency: facts.currency,
        pools: pools.map(|pool| standing(facts, pool)).collect::<Result<_, _>>()?,
        without_pool: alone.map(spreading).collect::<Result<_, _>>()?,
    })
}

fn standing(facts: &OverheadReportFacts, pool: &OverheadPool) -> Result<PoolStanding, MoneyFinding> {
    let sum = |parts: &mut dyn Iterator<Item = Money>| Money::sum(facts.currency, parts);
    let costs = facts.costs.iter().filter(|cost| pool.takes(&facts.pools, cost.record, &cost.classes));
    let changes = costs.flat_map(|cost| &cost.changes).filter(|change| pool.holds(change.date));
    let actual = sum(&mut changes.map(|change| change.amount))?;
    let spreads: Vec<&SpreadFacts> =
        facts.spreads.iter().filter(|one| one.row.pool == Some(pool.id)).collect();
    let at_estimate = |one: &&&SpreadFacts| one.row.rate == OverheadRate::Estimated;
    let borne = sum(&mut spreads.iter().map(|one| one.row.spread))?;
    let ahead = sum(&mut spreads.iter().filter(at_estimate).map(|one| one.row.spread))?;
    let (applied, disposed) = match pool.estimate {
        Some(_) => {
            let applied = sum(&mut spreads.iter().filter(at_estimate).map(|one| one.row.applied))?;
            (applied, borne.minus(ahead)?)
        }
        None => (borne, Money::zero(facts.currency)),
    };
    let difference = actual.minus(applied)?;
    let rate = pool.estimate.map(|estimate| {
        let rate = estimate.cost.amount().checked_div(estimate.hours).ok_or(MoneyFinding::TooLarge)?;
        Ok(rate.round_dp_with_strategy(6, RoundingStrategy::MidpointAwayFromZero).normalize())
    });
    let mut found = PoolStanding {
        pool: pool.id,
        name: pool.name.clone(),
        from: pool.from,
        to: pool.to,
        classes: pool.classes.clone(),
        records: pool.records.clone(),
        estimated_cost: pool.estimate.map(|estimate| estimate.cost),
        estimated_hours: pool.estimate.map(|estimate| estimate.hours.normalize()),
        rate_per_hour: rate.transpose()?,
        applied,
        actual,
        difference,
        over_or_under: over_or_under(difference),
        borne,
        disposed,
        left: actual.minus(borne)?,
        spreads: spreads.into_iter().map(spreading).collect::<Result<_, _>>()?,
        notes: Vec::new(),
    };
    found.notes = in_words(&found);
    Ok(found)
}

fn over_or_under(difference: Money) -> OverOrUnder {
    if difference.is_positive() {
        OverOrUnder::Under
    } else if difference.is_negative() {
        OverOrUnder::Over
    } else {
        OverOrUnder::Even
    }
}

fn spreading(facts: &SpreadFacts) -> Result<Spreading, MoneyFinding> {
    let row = &facts.row;
    Ok(Spreading {
        record: facts.record,
        link: format!("/v1/records/{}", facts.record),
        date: row.date,
        from: row.from,
        to: row.to,
        by: row.by,
        rate: row.rate,
        base: row.base.normalize(),
        applied: row.applied,
        there: row.there,
        difference: row.there.minus(row.applied)?,
        borne: row.spread,
        episodes: facts
            .borne
            .iter()
            .map(|(episode, amount)| EpisodeBore { episode: *episode, amount: *amount })
            .collect(),
    })
}

fn in_words(pool: &PoolStanding) -> Vec<String> {
    let mut said = Vec::new();
    if pool.estimated_cost.is_none() {
        said.push("Nothing was estimated: what there is is spread.".to_owned());
    }
    let size = pool.difference.absolute();
    match (pool.estimated_cost, pool.over_or_under) {
        (Some(_), OverOrUnder::Under) => said.push(format!("Under-applied by {size}.")),
        (Some(_), OverOrUnder::Over) => said.push(format!(
            "Over-applied by {size}: the hours would bear more than there was. Episodes bear what there was, so there \
             is nothing to take back from them."
        )),
        _ => {}
    }
    for one in pool.spreads.iter().filter(|one| one.rate == OverheadRate::Actual) {
        let which = if pool.estimated_cost.is_some() { " of the difference" } else { "" };
        said.push(format!("{}{which} was spread by {} on {}.", one.borne, one.by, one.date));
    }
    if pool.left.is_positive() {
        said.push(format!("{} is left that no episode bears.", pool.left));
    }
    said
}
