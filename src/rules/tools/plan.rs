//! The five methods: what new uses of a tool cost the episodes they served, and what they take from others.

use chrono::{Days, Months, NaiveDate};
use rust_decimal::Decimal;

use super::ToolFacts;
use super::schedule::{Month, Stretch, units_of_use};
use super::spread::{Charge, Spread};
use crate::rules::money::{Money, MoneyFinding};
use crate::rules::recording::CostObject;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{AttributionPlan, ToolUse};
use crate::rules::split::split_by_largest_remainder;

/// What a call of uses attributes, with remarks in words.
#[derive(Debug)]
pub(super) struct Charges {
    pub rows: Vec<Charge>,
    pub notes: Vec<String>,
}

/// What `new` uses, checked and in order of their dates, cost whom.
/// # Errors
/// [`MoneyFinding`] if an amount is too large.
pub(super) fn charges(facts: &ToolFacts, new: &[ToolUse], first_open: NaiveDate) -> Result<Charges, Refusal> {
    let mut spread = Spread::over(&facts.attributed, facts.cap()?, first_open);
    let mut notes = Vec::new();
    match facts.tool.plan {
        AttributionPlan::PerUseHour { .. } => by_hours(facts, new, &mut spread, &mut notes)?,
        AttributionPlan::StraightLine { .. } => by_months(facts, new, &mut spread, &mut notes)?,
        AttributionPlan::EqualShare => equally(facts, new, &mut spread)?,
        AttributionPlan::Percentages => by_percentages(facts, new, &mut spread)?,
        AttributionPlan::ExpenseNow => at_once(facts, new, &mut spread, &mut notes)?,
    }
    Ok(Charges { rows: spread.into_new(), notes })
}

/// What is spread over how many hours, by the estimate in force on `date`.
fn life_on(facts: &ToolFacts, date: NaiveDate) -> Result<(Money, Decimal), MoneyFinding> {
    let estimates = facts.estimates.iter().map(|logged| &logged.row);
    let in_force = estimates.rev().find(|estimate| estimate.date <= date);
    let (amount, plan, hours_run) = match in_force {
        Some(estimate) => (estimate.left, estimate.plan, estimate.hours_run),
        None => (facts.tool.cost.minus(facts.tool.salvage)?, facts.tool.plan, Decimal::ZERO),
    };
    match plan {
        AttributionPlan::PerUseHour { hours_expected } => Ok((amount, hours_expected - hours_run)),
        _ => Err(MoneyFinding::DividedByZero),
    }
}

fn by_hours(
    facts: &ToolFacts,
    new: &[ToolUse],
    spread: &mut Spread,
    notes: &mut Vec<String>,
) -> Result<(), Refusal> {
    let mut cut_short = false;
    for one in new {
        let (amount, hours_expected) = life_on(facts, one.date)?;
        let wanted = units_of_use(amount, one.hours.unwrap_or_default(), hours_expected)?;
        let charged = spread.add(one.object, one.date, wanted)?;
        cut_short = cut_short || charged != wanted;
    }
    if cut_short {
        let cap = facts.cap()?;
        notes.push(format!(
            "the tool has given all it can: {cap} in all, its cost less salvage; the use that reached it costs \
             what was left, later ones nothing"
        ));
    }
    Ok(())
}

fn by_months(
    facts: &ToolFacts,
    new: &[ToolUse],
    spread: &mut Spread,
    notes: &mut Vec<String>,
) -> Result<(), Refusal> {
    let shares = shares_by_month(facts)?;
    let mut months: Vec<Month> = new.iter().map(|one| Month::of(one.date)).collect();
    months.dedup();
    for month in months {
        let in_month = |one: &&ToolUse| Month::of(one.date) == month;
        let before: Vec<_> = facts.uses().filter(in_month).collect();
        let added: Vec<_> = new.iter().filter(in_month).collect();
        let Some(first) = added.first().map(|one| one.date) else { continue };
        let last_day = end_of_month(first);
        if last_day < spread.first_open() && !before.is_empty() {
            notes.push(format!(
                "the month of {first} is closed and its share stands as it was split; the late use is kept and \
                 costs nothing"
            ));
            continue;
        }
        let share = shares.iter().find(|(of, _)| *of == month).map(|(_, share)| *share);
        let Some(share) = share else {
            notes.push(format!("in the month of {first} the tool's life is over: its use costs nothing"));
            continue;
        };
        let old = split_by_use(share, &before)?;
        let both: Vec<_> = before.iter().chain(&added).copied().collect();
        resplit(&old, &split_by_use(share, &both)?, &added, last_day, spread)?;
    }
    Ok(())
}

/// What each month of the tool's life bears, through all changes of estimate.
/// # Errors
/// [`MoneyFinding`] if an amount is too large.
pub(super) fn shares_by_month(facts: &ToolFacts) -> Result<Vec<(Month, Money)>, Refusal> {
    let in_service = Month::of(facts.tool.in_service_on);
    let mut shares = Vec::new();
    if let AttributionPlan::StraightLine { months } = facts.tool.plan {
        let amount = facts.tool.cost.minus(facts.tool.salvage)?;
        shares = Stretch { amount, from: in_service, months }.by_month()?;
    }
    for estimate in facts.estimates.iter().map(|logged| logged.row) {
        let from = Month::of(estimate.date).max(in_service);
        shares.retain(|(month, _)| *month < from);
        if let AttributionPlan::StraightLine { months } = estimate.plan {
            let months = months.saturating_sub(from.since(in_service));
            shares.extend(Stretch { amount: estimate.left, from, months }.by_month()?);
        }
    }
    Ok(shares)
}

fn end_of_month(day: NaiveDate) -> NaiveDate {
    let first = chrono::Datelike::with_day(&day, 1).unwrap_or(day);
    first
        .checked_add_months(Months::new(1))
        .and_then(|next| next.checked_sub_days(Days::new(1)))
        .unwrap_or(day)
}

/// A month's share over its uses: by hours where they have hours, else equally by use.
fn split_by_use(share: Money, uses: &[&ToolUse]) -> Result<Vec<(CostObject, Money)>, Refusal> {
    let mut weights: Vec<(CostObject, Decimal)> = Vec::new();
    for one in uses {
        let weight = one.hours.unwrap_or(Decimal::ONE);
        match weights.iter_mut().find(|(object, _)| *object == one.object) {
            Some((_, total)) => *total = total.saturating_add(weight),
            None => weights.push((one.object, weight)),
        }
    }
    split_over(share, &weights)
}

fn split_over(amount: Money, weights: &[(CostObject, Decimal)]) -> Result<Vec<(CostObject, Money)>, Refusal> {
    if weights.is_empty() {
        return Ok(Vec::new());
    }
    let plain: Vec<_> = weights.iter().map(|(_, weight)| *weight).collect();
    let parts = split_by_largest_remainder(amount, &plain)?;
    Ok(weights.iter().map(|(object, _)| *object).zip(parts).collect())
}

/// Writes the difference between two splits: first what the earlier users give back, then what is charged.
fn resplit(
    old: &[(CostObject, Money)],
    new: &[(CostObject, Money)],
    added: &[&ToolUse],
    until: NaiveDate,
    spread: &mut Spread,
) -> Result<(), Refusal> {
    let first_of = |object: Option<CostObject>| {
        added.iter().filter(|one| object.is_none_or(|wanted| one.object == wanted)).map(|one| one.date).min()
    };
    let Some(first) = first_of(None) else { return Ok(()) };
    let mut more = Vec::new();
    for (object, target) in new {
        let before = old.iter().find(|(one, _)| one == object).map(|(_, amount)| *amount);
        let change = before.map_or(Ok(*target), |before| target.minus(before))?;
        if change.is_negative() {
            spread.take_back(*object, first, until, change.negated())?;
        } else {
            more.push((*object, change));
        }
    }
    for (object, change) in more {
        let date = first_of(Some(object)).unwrap_or(first);
        spread.add(object, date, change)?;
    }
    Ok(())
}

fn equally(facts: &ToolFacts, new: &[ToolUse], spread: &mut Spread) -> Result<(), Refusal> {
    let mut users: Vec<(CostObject, Decimal)> = Vec::new();
    let join = |users: &mut Vec<(CostObject, Decimal)>, one: &ToolUse| {
        if users.iter().all(|(object, _)| *object != one.object) {
            users.push((one.object, Decimal::ONE));
        }
    };
    let cap = facts.cap()?;
    facts.uses().for_each(|one| join(&mut users, one));
    let old = split_over(cap, &users)?;
    new.iter().for_each(|one| join(&mut users, one));
    let added: Vec<_> = new.iter().collect();
    resplit(&old, &split_over(cap, &users)?, &added, NaiveDate::MAX, spread)
}

/// Each use is charged the difference it makes to the running total, so that 100 % is the whole to the cent.
fn by_percentages(facts: &ToolFacts, new: &[ToolUse], spread: &mut Spread) -> Result<(), Refusal> {
    let cap = facts.cap()?;
    let mut percent: Decimal = facts.uses().filter_map(|one| one.share).sum();
    for one in new {
        let before = cap.portion(percent, Decimal::ONE_HUNDRED)?;
        percent = percent.saturating_add(one.share.unwrap_or_default());
        let wanted = cap.portion(percent, Decimal::ONE_HUNDRED)?.minus(before)?;
        spread.add(one.object, one.date, wanted)?;
    }
    Ok(())
}

fn at_once(
    facts: &ToolFacts,
    new: &[ToolUse],
    spread: &mut Spread,
    notes: &mut Vec<String>,
) -> Result<(), Refusal> {
    if !facts.uses.is_empty() {
        notes.push("the tool was charged in full to its first uses; this one costs nothing".to_owned());
        return Ok(());
    }
    let weights: Vec<_> = new.iter().map(|one| (one.object, Decimal::ONE)).collect();
    for (one, (object, part)) in new.iter().zip(split_over(facts.cap()?, &weights)?) {
        spread.add(object, one.date, part)?;
    }
    Ok(())
}
