//! A change of estimate: how long a tool will last, or what it will be worth in the end, is seen anew.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ToolFacts;
use super::plan::shares_by_month;
use super::schedule::Month;
use crate::rules::money::{Amount, Hours, Money};
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{AttributionPlan, Row, ToolEstimate};
use crate::rules::tool_terms::{MONTHS_AT_MOST, ToolTermsFinding};

/// A new estimate; it applies to uses from `date` on, and what was charged before stays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewEstimate {
    pub date: NaiveDate,
    /// With `per_use_hour`: the hours it will have run in all, those so far included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_expected: Option<Hours>,
    /// With `straight_line`: the months it will have lasted in all, those so far included. The change takes
    /// effect with the month of `date`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub months: Option<u32>,
    /// What it will still be worth in the end, in the books' base currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salvage: Option<Amount>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why an estimate is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum EstimateFinding {
    NothingNew,
    NotOfThisMethod,
    NotOfThisPlan { field: &'static str },
    ToolLeft { left_on: NaiveDate },
    BeforeLastUse { date: NaiveDate, last_use: NaiveDate },
    MonthIsUsed { last_use: NaiveDate },
    BeforeLastEstimate { last: NaiveDate },
    LifeIsOver { asked: Decimal, gone: Decimal },
    SalvageTooHigh { salvage: Money, left: Money },
}

impl Explain for EstimateFinding {
    fn say(&self) -> Said {
        match self {
            Self::NothingNew => Said::invalid(
                "nothing new is estimated",
                "give hours_expected, months or salvage, as the tool's method goes by them",
            ),
            Self::NotOfThisMethod => Said::conflict(
                "the tool's method goes by no estimate of its life",
                "leave it; only per_use_hour and straight_line can be estimated anew",
            ),
            Self::NotOfThisPlan { field } => Said::invalid(
                format!("{field} is given, but the tool's method does not use it"),
                format!("leave {field} out"),
            ),
            Self::ToolLeft { left_on } => Said::conflict(
                format!("the tool left on {left_on}"),
                "reverse the disposal first if it was a mistake",
            ),
            Self::BeforeLastUse { date, last_use } => Said::invalid(
                format!("uses up to {last_use} are charged already; the estimate is of {date}"),
                "date the estimate after the last use",
            ),
            Self::MonthIsUsed { last_use } => Said::invalid(
                format!("the month of {last_use} is split over its uses already"),
                "date the estimate in a later month",
            ),
            Self::BeforeLastEstimate { last } => Said::invalid(
                format!("there is an estimate of {last} already"),
                "date this one on that day or later",
            ),
            Self::LifeIsOver { asked, gone } => Said::invalid(
                format!("{asked} are expected in all, and {gone} of them are gone already"),
                "give more than what is gone; what is left is spread over the rest",
            ),
            Self::SalvageTooHigh { salvage, left } => Said::invalid(
                format!("a salvage of {salvage} leaves {left} to spread after what is charged already"),
                "give a lower salvage",
            ),
        }
    }
}

/// Writes a change of estimate: cost left over life left, from `date` on. Nothing is posted and nothing that
/// was charged is touched.
///
/// # Errors
/// [`EstimateFinding`] and [`ToolTermsFinding`], all at once.
///
/// # Source
/// Prospective treatment of a change in estimate: common practice, no source.
pub fn estimate_anew(pen: &mut Pen<'_>, facts: &ToolFacts, new: &NewEstimate) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    findings.keep(day_fits(facts, new.date));
    findings.keep(fields_fit(facts, new));
    let salvage = match new.salvage {
        Some(amount) => findings.keep(amount.not_negative(pen.base()).at("/salvage")),
        None => Some(facts.salvage()),
    };
    findings.or_refuse()?;
    let salvage = salvage.unwrap_or(facts.salvage());
    // What earlier episodes used up before the books is not spread again.
    let most = facts.gives_at(salvage)?.minus(facts.attributed_total()?)?;
    let (plan, left) = match facts.plan() {
        AttributionPlan::PerUseHour { hours_expected } => (by_hours(facts, new, hours_expected)?, most),
        AttributionPlan::StraightLine { months } => {
            let (plan, of_months) = by_months(facts, new, months, salvage)?;
            (plan, of_months.at_most(most))
        }
        _ => return Err(EstimateFinding::NotOfThisMethod.into()),
    };
    if left.is_negative() {
        return Err(Refusal::new("/salvage", EstimateFinding::SalvageTooHigh { salvage, left }));
    }
    let text = format!("{}: new estimate", facts.tool.name);
    let mut recording = Recording::new(Word::Tools, "estimate", new.date, text);
    // What is left to spread counts with every charge so far, and with the estimate before this one.
    recording.depends_on.push(facts.record);
    recording.depends_on.extend(facts.uses.iter().map(|logged| logged.record));
    recording.depends_on.extend(facts.estimates.last().map(|logged| logged.record));
    recording.notes.push(format!("{left} is left to spread over the rest of its life, from {} on", new.date));
    // An estimate is later than every use, so that all of them had run by then.
    let hours_run = facts.hours_run();
    let estimate = ToolEstimate { tool: facts.tool.id, date: new.date, plan, hours_run, salvage, left };
    recording.rows.push(Row::ToolEstimate(estimate));
    Ok(recording)
}

fn day_fits(facts: &ToolFacts, date: NaiveDate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    if let Some(disposal) = facts.departure() {
        findings.add(EstimateFinding::ToolLeft { left_on: disposal.date });
    }
    if let Some(last) = facts.last_estimate().map(|estimate| estimate.date).filter(|last| date < *last) {
        findings.add(Refusal::new("/date", EstimateFinding::BeforeLastEstimate { last }));
    }
    let by_month = matches!(facts.tool.plan, AttributionPlan::StraightLine { .. });
    match facts.last_use() {
        Some(last_use) if by_month && Month::of(date) <= Month::of(last_use) => {
            findings.add(Refusal::new("/date", EstimateFinding::MonthIsUsed { last_use }));
        }
        Some(last_use) if date <= last_use => {
            findings.add(Refusal::new("/date", EstimateFinding::BeforeLastUse { date, last_use }));
        }
        _ => {}
    }
    findings.or_refuse()
}

fn fields_fit(facts: &ToolFacts, new: &NewEstimate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    if new.hours_expected.is_none() && new.months.is_none() && new.salvage.is_none() {
        findings.add(EstimateFinding::NothingNew);
    }
    let refuse =
        |field: &'static str| Refusal::new(format!("/{field}"), EstimateFinding::NotOfThisPlan { field });
    match facts.tool.plan {
        AttributionPlan::PerUseHour { .. } if new.months.is_some() => findings.add(refuse("months")),
        AttributionPlan::StraightLine { .. } if new.hours_expected.is_some() => {
            findings.add(refuse("hours_expected"));
        }
        AttributionPlan::PerUseHour { .. } | AttributionPlan::StraightLine { .. } => {}
        _ => findings.add(EstimateFinding::NotOfThisMethod),
    }
    findings.or_refuse()
}

fn by_hours(facts: &ToolFacts, new: &NewEstimate, before: Decimal) -> Result<AttributionPlan, Refusal> {
    let run = facts.hours_run();
    let hours_expected = new.hours_expected.map_or(before, Hours::decimal);
    if hours_expected <= run {
        let why = EstimateFinding::LifeIsOver { asked: hours_expected, gone: run };
        return Err(Refusal::new("/hours_expected", why));
    }
    Ok(AttributionPlan::PerUseHour { hours_expected })
}

/// The plan with its life in all, and what the months to come have to bear: those gone by idle bear theirs still.
fn by_months(
    facts: &ToolFacts,
    new: &NewEstimate,
    before: u32,
    salvage: Money,
) -> Result<(AttributionPlan, Money), Refusal> {
    let month = Month::of(new.date);
    let gone = month.since(Month::of(facts.tool.in_service_on));
    let months = new.months.unwrap_or(before);
    if months > MONTHS_AT_MOST {
        return Err(Refusal::new("/months", ToolTermsFinding::MonthsOutOfReach { months }));
    }
    if months <= gone {
        let why = EstimateFinding::LifeIsOver { asked: months.into(), gone: gone.into() };
        return Err(Refusal::new("/months", why));
    }
    let shares = shares_by_month(facts)?;
    let passed = shares.iter().filter(|(of, _)| *of < month).map(|(_, share)| *share);
    let spread_so_far = Money::sum(facts.tool.cost.currency(), passed)?;
    let left = facts.tool.cost.minus(salvage)?.minus(spread_so_far)?;
    Ok((AttributionPlan::StraightLine { months }, left))
}
