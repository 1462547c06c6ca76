//! A year of work: what the owner's own hours brought, by episode, by project and in all.

use std::collections::BTreeMap;

use chrono::{Datelike, Months, NaiveDate};
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, ProjectId};
use super::super::money::{Currency, Money, MoneyFinding, Quantity};
use super::super::named::named;
use super::super::recording::RecordFinding;
use super::super::refusal::Refusal;
use super::statement::{Figures, with_two_decimals};
use super::{Period, ProjectFacts, project_statement};

/// One project with the names of its parts.
#[derive(Clone, Debug)]
pub struct ProjectOfYear {
    pub name: String,
    pub titles: BTreeMap<EpisodeId, String>,
    /// Of the year's days.
    pub facts: ProjectFacts,
}

/// What the year's own hours brought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct YearOfWork {
    /// The books' fiscal year that begins in it; the calendar year where that begins in January.
    pub year: i32,
    pub currency: Currency,
    /// The first day of that year.
    pub from: NaiveDate,
    /// The last day of that year.
    pub to: NaiveDate,
    /// Those with hours, costs or income in the year, in the order they were recorded.
    pub projects: Vec<ProjectWork>,
    /// The sum of the projects; pay for each hour is worked out from the sums.
    pub total: Work,
    /// Whether every statement behind it reconciles and the parts add up to their projects' statements.
    pub reconciles: bool,
    pub notes: Vec<&'static str>,
}

/// A project's hours of the year and what they brought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ProjectWork {
    pub project: ProjectId,
    pub name: String,
    /// Those with hours, costs or income in the year.
    pub episodes: Vec<EpisodeWork>,
    /// What is the project's and no episode's.
    pub own: Work,
    pub total: Work,
    /// The statement of the same days.
    pub statement: String,
}

/// An episode's hours of the year and what they brought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct EpisodeWork {
    pub episode: EpisodeId,
    pub title: String,
    #[serde(flatten)]
    pub work: Work,
    /// The statement of the same days.
    pub statement: String,
}

/// Hours and what they brought: the totals of a statement.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Work {
    /// The owner's own, unpaid hours of the year.
    #[schema(value_type = Quantity, example = "31.50")]
    pub own_hours: Decimal,
    /// Income in goods included.
    pub income_total: Money,
    pub income_fees: Money,
    pub cost_total: Money,
    pub recovered_total: Money,
    /// Income less fees less costs, what came back added.
    pub result: Money,
    /// Result for each own hour, rounded half up to the minor unit once; null at zero hours.
    pub pay_per_hour: Option<Money>,
}

const NOTES: [&str; 2] = [
    "Hours, costs and income count on their own days: an episode filmed in one year and paid in the next has its hours \
     in the first and its pay in the second.",
    "What no episode and no project has taken up is not in here; GET /v1/sources shows it.",
];

named! {
    /// The month in which the books' fiscal year begins. The tax year is the calendar year whatever it is.
    pub enum StartMonth {
        January => "january",
        February => "february",
        March => "march",
        April => "april",
        May => "may",
        June => "june",
        July => "july",
        August => "august",
        September => "september",
        October => "october",
        November => "november",
        December => "december",
    }
}

impl StartMonth {
    /// 1 for January.
    pub fn number(self) -> u32 {
        (1..).zip(Self::ALL).find(|(_, one)| **one == self).map_or(1, |(number, _)| number)
    }

    /// The month of that number, from 1 to 12.
    pub fn numbered(number: u32) -> Option<Self> {
        (1..).zip(Self::ALL).find(|(one, _)| *one == number).map(|(_, month)| *month)
    }
}

/// The days of the books' fiscal year that begins in `year`.
/// # Errors
/// [`RecordFinding::YearOutOfReach`].
pub fn fiscal_year(year: i32, begins: StartMonth) -> Result<Period, RecordFinding> {
    let out_of_reach = RecordFinding::YearOutOfReach { year };
    let within = (1900..=2200).contains(&year);
    let first = NaiveDate::from_ymd_opt(year, begins.number(), 1).filter(|_| within);
    let first = first.ok_or(out_of_reach.clone())?;
    let last =
        first.checked_add_months(Months::new(12)).and_then(|next| next.pred_opt()).ok_or(out_of_reach)?;
    Ok(Period { from: Some(first), to: Some(last) })
}

/// Adds up the statements of all projects for the days of `period`.
/// # Errors
/// As [`project_statement`].
/// # Source
/// Common practice, no source; the reckoning is our own.
pub fn year_of_work(
    period: Period,
    currency: Currency,
    projects: &[ProjectOfYear],
) -> Result<YearOfWork, Refusal> {
    let (from, to) = period.from.zip(period.to).ok_or(RecordFinding::YearOutOfReach { year: 0 })?;
    let mut total = Work::nothing(currency);
    let mut shown = Vec::new();
    let mut reconciles = true;
    for one in projects {
        let statement = project_statement(&one.facts)?;
        let own = Work::of(&statement.own);
        let mut parts = own.clone();
        let mut episodes = Vec::new();
        for part in &statement.episodes {
            let work = Work::of(&part.figures);
            parts = parts.plus(&work)?;
            if work.is_nothing() {
                continue;
            }
            let title = one.titles.get(&part.episode).cloned().unwrap_or_default();
            let statement = format!("/v1/episodes/{}/statement?from={from}&to={to}", part.episode);
            episodes.push(EpisodeWork { episode: part.episode, title, work, statement });
        }
        let whole = Work::of(&statement.total);
        reconciles &= parts == whole && statement.total.reconciles;
        total = total.plus(&whole)?;
        if whole.is_nothing() && episodes.is_empty() {
            continue;
        }
        let project = one.facts.project;
        shown.push(ProjectWork {
            project,
            name: one.name.clone(),
            episodes,
            own,
            total: whole,
            statement: format!("/v1/projects/{project}/statement?from={from}&to={to}"),
        });
    }
    Ok(YearOfWork {
        year: from.year(),
        currency,
        from,
        to,
        projects: shown,
        total,
        reconciles,
        notes: NOTES.to_vec(),
    })
}

impl Work {
    fn nothing(currency: Currency) -> Self {
        let nothing = Money::zero(currency);
        Self {
            own_hours: with_two_decimals(Decimal::ZERO),
            income_total: nothing,
            income_fees: nothing,
            cost_total: nothing,
            recovered_total: nothing,
            result: nothing,
            pay_per_hour: None,
        }
    }

    fn of(figures: &Figures) -> Self {
        Self {
            own_hours: figures.own_hours,
            income_total: figures.income_total,
            income_fees: figures.income_fees,
            cost_total: figures.cost_total,
            recovered_total: figures.recovered_total,
            result: figures.result,
            pay_per_hour: figures.pay_per_hour,
        }
    }

    fn is_nothing(&self) -> bool {
        let sums = [self.income_total, self.income_fees, self.cost_total, self.recovered_total, self.result];
        self.own_hours.is_zero() && sums.iter().all(|sum| sum.is_zero())
    }

    fn plus(&self, other: &Self) -> Result<Self, Refusal> {
        let hours = self.own_hours.checked_add(other.own_hours).ok_or(MoneyFinding::TooLarge)?;
        let result = self.result.plus(other.result)?;
        Ok(Self {
            own_hours: with_two_decimals(hours),
            income_total: self.income_total.plus(other.income_total)?,
            income_fees: self.income_fees.plus(other.income_fees)?,
            cost_total: self.cost_total.plus(other.cost_total)?,
            recovered_total: self.recovered_total.plus(other.recovered_total)?,
            result,
            pay_per_hour: if hours.is_zero() { None } else { Some(result.portion(Decimal::ONE, hours)?) },
        })
    }
}
