//! A home office by the simplified method: a rate a square foot instead of what the place costs.

use chrono::{Datelike, Days, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::facts::YearFacts;
use super::form::{self, TaxLine};
use super::profile::{HomeOfficeRate, Profile};
use super::questions::{Questions, Topic};
use super::schedules::BesideTheForm;
use crate::rules::ids::RecordId;
use crate::rules::journal::TaxClass;
use crate::rules::money::{Currency, Money, MoneyFinding, Quantity};
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{Explain, Findings, Refusal, Said};
use crate::rules::rows::{HomeOffice, HomeOfficeArea, Row};

const MONTHS: u32 = 12;

/// The simplified method for a home office in a tax year.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewHomeOffice {
    /// The day it was chosen; left out: the last day of the tax year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// What was used regularly and for the business alone. Rooms used at the same time are added up; where the area
    /// changed, each stretch is a row of its own.
    #[schema(min_items = 1, max_items = 100)]
    pub areas: Vec<NewHomeOfficeArea>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// An area with the days of its use.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewHomeOfficeArea {
    /// The first day of its use; it may lie before the tax year.
    pub from: NaiveDate,
    /// The last day of its use; left out: to the end of the year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<NaiveDate>,
    pub square_feet: Quantity,
}

/// What a year's home office is decided on.
#[derive(Clone, Copy, Debug)]
pub struct HomeOfficeFacts {
    /// The record of the year that stands already.
    pub recorded: Option<RecordId>,
    /// What stands in the journal of actual costs of class `home_office` for the year.
    pub actual_costs: Money,
}

/// Why a home office is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HomeOfficeFinding {
    NoArea,
    NoSize,
    EndsBeforeItBegins { from: NaiveDate, until: NaiveDate },
    OutsideTheYear { from: NaiveDate, until: NaiveDate, year: i32 },
    BeforeTheYear { date: NaiveDate, year: i32 },
    RecordedAlready { year: i32, by: RecordId },
    ActualCosts { year: i32, amount: Money },
}

impl Explain for HomeOfficeFinding {
    fn say(&self) -> Said {
        match self {
            Self::NoArea => Said::invalid("no area is given", "give areas, each with from and square_feet"),
            Self::NoSize => Said::invalid(
                "an area of no square feet is no office",
                "give its square feet, or leave the row out",
            ),
            Self::EndsBeforeItBegins { from, until } => Said::invalid(
                format!("the use is said to begin on {from} and to end on {until}, before that"),
                "correct from or until",
            ),
            Self::OutsideTheYear { from, until, year } => Said::invalid(
                format!("the use from {from} to {until} has no day in {year}"),
                "correct the days, or record it for the year it was in",
            ),
            Self::BeforeTheYear { date, year } => Said::invalid(
                format!("the method for {year} can not be chosen on {date}, before the year began"),
                "correct date, or leave it out",
            ),
            Self::RecordedAlready { year, by } => Said::conflict(
                format!("the simplified method is recorded for {year} already, by {by}"),
                format!("reverse that record (POST /v1/records/{by}/reversal), then state all areas anew"),
            ),
            Self::ActualCosts { year, amount } => Said::conflict(
                format!(
                    "{amount} of actual costs of class home_office is posted for {year}, and a home goes by one of \
                     the two methods in a year"
                ),
                format!(
                    "keep the actual costs and leave this, or take their records back (GET \
                     /v1/postings?tax_year={year}&class=home_office lists them) and record what is not the \
                     business's as personal"
                ),
            ),
        }
    }
}

/// Records the simplified method for `year`; `profile` is that year's where there is one. It posts nothing: the
/// summary of the year reads it.
/// # Errors
/// [`HomeOfficeFinding`], a closed day at `/date`, and a year that is closed or out of reach, all at once.
/// # Source
/// One method a home and year: IRS Publication 587, Using the Simplified Method; Rev. Proc. 2013-13 (from memory).
pub fn use_home_office(
    pen: &Pen<'_>,
    year: i32,
    profile: Option<&Profile>,
    facts: &HomeOfficeFacts,
    new: &NewHomeOffice,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    if let Some(by) = facts.recorded {
        findings.add(HomeOfficeFinding::RecordedAlready { year, by });
    }
    if !facts.actual_costs.is_zero() {
        findings.add(HomeOfficeFinding::ActualCosts { year, amount: facts.actual_costs });
    }
    let last_day = findings.keep(pen.open_year(year)).unwrap_or(pen.books.began_on);
    if let Some(date) = new.date {
        findings.keep(pen.open_day(date));
        if date.year() < year {
            findings.add(Refusal::new("/date", HomeOfficeFinding::BeforeTheYear { date, year }));
        }
    }
    if new.areas.is_empty() {
        findings.add(Refusal::new("/areas", HomeOfficeFinding::NoArea));
    }
    for (place, area) in new.areas.iter().enumerate() {
        if let Err((field, why)) = fits(area, year) {
            findings.add(Refusal::new(format!("/areas/{place}/{field}"), why));
        }
    }
    findings.or_refuse()?;
    let areas = new.areas.iter().map(|area| HomeOfficeArea {
        from: area.from,
        until: area.until,
        square_feet: area.square_feet.decimal(),
    });
    let row = HomeOffice { tax_year: year, areas: areas.collect() };
    let date = new.date.unwrap_or(last_day);
    let mut recording = Recording::new(
        Word::TaxYears,
        "home_office",
        date,
        format!("home office of {year}, simplified method"),
    );
    if let Some(profile) = profile {
        recording.notes.push(in_words(&row, profile, pen.base())?);
    }
    recording.rows.push(Row::HomeOffice(row));
    Ok(recording)
}

fn fits(area: &NewHomeOfficeArea, year: i32) -> Result<(), (&'static str, HomeOfficeFinding)> {
    let (from, until) = (area.from, area.until);
    if area.square_feet.decimal().is_zero() {
        return Err(("square_feet", HomeOfficeFinding::NoSize));
    }
    if let Some(until) = until.filter(|until| *until < from) {
        return Err(("until", HomeOfficeFinding::EndsBeforeItBegins { from, until }));
    }
    let ends_before = until.is_some_and(|until| until.year() < year);
    if from.year() > year || ends_before {
        let until = until.unwrap_or(from);
        return Err(("from", HomeOfficeFinding::OutsideTheYear { from, until, year }));
    }
    Ok(())
}

fn in_words(row: &HomeOffice, profile: &Profile, base: Currency) -> Result<String, Refusal> {
    let Measured { square_feet, allowable, .. } = measure(row, &profile.home_office, base)?;
    Ok(format!(
        "{} square feet on average over the twelve months of {}, at {} each: {allowable}, but no more than the tentative \
         profit of the year. What is beyond it is lost, not carried over ({}).",
        shown(square_feet),
        row.tax_year,
        profile.home_office.per_square_foot.value,
        profile.home_office.per_square_foot.source.publication
    ))
}

/// A month of the year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct HomeOfficeMonth {
    /// 1 to 12.
    pub month: u32,
    /// The area in use on enough of its days, in square feet.
    #[schema(value_type = String)]
    pub in_use: Decimal,
    /// What of it counts.
    #[schema(value_type = String)]
    pub counted: Decimal,
}

/// The year's home office by the simplified method.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct HomeOfficeSchedule {
    /// All twelve.
    pub months: Vec<HomeOfficeMonth>,
    /// The average over the twelve months, rounded half up to two decimals to be read; the amount is worked out from
    /// the exact one.
    #[schema(value_type = String)]
    pub square_feet: Decimal,
    /// For a square foot, in the form's currency.
    #[schema(value_type = String)]
    pub rate: Decimal,
    /// The average at the rate.
    pub allowable: Money,
    /// Beyond which nothing is allowed.
    pub tentative_profit: Money,
    pub allowed: Money,
    /// Beyond the tentative profit; it does not carry over.
    pub lost: Money,
    /// Actual costs of the home office that are posted all the same; not added.
    pub actual_costs: Money,
    pub says: String,
    /// The record that states the areas.
    pub drill_down: String,
}

/// What the areas come to before the limit by income.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    months: Vec<HomeOfficeMonth>,
    square_feet: Decimal,
    pub allowable: Money,
}

/// Measures each month by the area that was in use on at least so many of its days as the profile asks, rooms in use
/// on the same day together; no month counts for more than the profile's most.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
/// # Source
/// IRS Publication 587, Using the Simplified Method, more than one home and part-year use (the cap and the average
/// over twelve months: seen; the fifteen days: from memory).
pub(super) fn measure(
    row: &HomeOffice,
    rate: &HomeOfficeRate,
    base: Currency,
) -> Result<Measured, MoneyFinding> {
    let mut months = Vec::new();
    let mut sum = Decimal::ZERO;
    for month in 1..=MONTHS {
        let in_use = area_of_month(row, month, rate.days)?;
        let counted = in_use.min(rate.most.value);
        sum = sum.checked_add(counted).ok_or(MoneyFinding::TooLarge)?;
        months.push(HomeOfficeMonth { month, in_use: in_use.normalize(), counted: counted.normalize() });
    }
    let product = sum.checked_mul(rate.per_square_foot.value).ok_or(MoneyFinding::TooLarge)?;
    let twelve = Decimal::from(MONTHS);
    let allowable = Money::rounded(product / twelve, base)?;
    Ok(Measured { months, square_feet: sum / twelve, allowable })
}

/// What the year's recorded areas come to; none where the year keeps to actual costs.
/// # Errors
/// As [`measure`].
pub(super) fn measured(facts: &YearFacts) -> Result<Option<Measured>, MoneyFinding> {
    let stated = facts.home_office.as_ref();
    stated.map(|stated| measure(&stated.office, &facts.profile.home_office, facts.books.base)).transpose()
}

/// The largest area that at least `days` days of the month had.
fn area_of_month(row: &HomeOffice, month: u32, days: usize) -> Result<Decimal, MoneyFinding> {
    let first = NaiveDate::from_ymd_opt(row.tax_year, month, 1);
    let days_of_month = std::iter::successors(first, |day| day.checked_add_days(Days::new(1)));
    let mut areas = Vec::new();
    for day in days_of_month.take_while(|day| day.month() == month) {
        let in_use = row.areas.iter().filter(|area| area.in_use_on(day)).map(|area| area.square_feet);
        let area = in_use.into_iter().try_fold(Decimal::ZERO, |sum, one| sum.checked_add(one));
        areas.push(area.ok_or(MoneyFinding::TooLarge)?);
    }
    areas.sort_unstable_by(|one, other| other.cmp(one));
    Ok(areas.get(days.saturating_sub(1)).copied().unwrap_or_default())
}

fn shown(square_feet: Decimal) -> Decimal {
    let rounding = rust_decimal::RoundingStrategy::MidpointAwayFromZero;
    square_feet.round_dp_with_strategy(2, rounding).normalize()
}

/// The schedule behind the filled-in form.
/// # Errors
/// [`MoneyFinding`] if a sum is too large; a line that the form does not have.
pub(super) fn schedule(
    facts: &YearFacts,
    measured: Option<Measured>,
    lines: &[TaxLine],
) -> Result<Option<HomeOfficeSchedule>, Refusal> {
    let (Some(Measured { months, square_feet, allowable }), Some(stated)) = (measured, &facts.home_office)
    else {
        return Ok(None);
    };
    let rate = facts.profile.home_office;
    let allowed = form::exact(lines, "30", facts)?;
    let lost = allowable.minus(allowed)?;
    let mut says = format!(
        "Simplified method: each month counts with the area in use on {} days of it or more, and with no more than {} \
         square feet; the average over twelve months at {} a square foot. Nothing is depreciated of the home.",
        rate.days, rate.most.value, rate.per_square_foot.value
    );
    if lost.is_positive() {
        says.push_str(&format!(
            " {lost} is beyond the tentative profit on line 29: it is not deducted, and not carried over to another year."
        ));
    }
    Ok(Some(HomeOfficeSchedule {
        months,
        square_feet: shown(square_feet),
        rate: rate.per_square_foot.value,
        allowable,
        tentative_profit: form::exact(lines, "29", facts)?,
        allowed,
        lost,
        actual_costs: facts.of_classes(&[TaxClass::HomeOffice])?,
        says,
        drill_down: format!("/v1/records/{}", stated.record),
    }))
}

/// What the simplified method leaves without a deduction.
pub(super) fn not_deducted(facts: &YearFacts, schedule: &HomeOfficeSchedule) -> Vec<BesideTheForm> {
    let mut rows = Vec::new();
    if schedule.lost.is_positive() {
        rows.push(BesideTheForm {
            label: "Home office beyond the tentative profit".to_owned(),
            amount: schedule.lost,
            says: "not carried over under the simplified method (Pub. 587, from memory)".to_owned(),
            drill_down: Some(format!("/v1/tax-years/{}/summary#home_office", facts.year())),
        });
    }
    if !schedule.actual_costs.is_zero() {
        rows.push(BesideTheForm {
            label: "Actual costs of the home office".to_owned(),
            amount: schedule.actual_costs,
            says:
                "the simplified method is recorded for the year and takes their place (Pub. 587, from memory)"
                    .to_owned(),
            drill_down: Some(form::postings(facts, &[TaxClass::HomeOffice])),
        });
    }
    rows
}

/// Asks how line 30 came about.
/// # Errors
/// A line that the form does not have.
pub(super) fn ask(
    facts: &YearFacts,
    schedule: Option<&HomeOfficeSchedule>,
    lines: &[TaxLine],
    questions: &mut Questions,
) -> Result<(), Refusal> {
    let actual = || form::postings(facts, &[TaxClass::HomeOffice]);
    let Some(schedule) = schedule else {
        let (recorded, tentative) = (form::exact(lines, "30", facts)?, form::exact(lines, "29", facts)?);
        if recorded.is_positive() {
            let over = if recorded.amount() > tentative.amount() {
                " It is more than the tentative profit, beyond which it is not allowed."
            } else {
                ""
            };
            questions.ask(
                Topic::HomeOffice,
                format!(
                    "{recorded} is recorded for the business use of the home. Was it worked out by Form 8829, for a \
                     place used for nothing else?{over}"
                ),
                [actual()],
            );
        }
        return Ok(());
    };
    questions.ask(
        Topic::HomeOffice,
        format!(
            "{} square feet of the home count on average by the simplified method. Was the place used regularly and \
             for nothing but the business on those days?",
            schedule.square_feet
        ),
        [schedule.drill_down.clone()],
    );
    if !schedule.actual_costs.is_zero() {
        questions.ask(
            Topic::HomeOffice,
            format!(
                "The simplified method is recorded for this year, and {} of actual costs of the home office was posted \
                 as well. A home goes by one of the two in a year, so line 30 has the simplified amount alone and the \
                 costs are not added. Which of the two is meant?",
                schedule.actual_costs
            ),
            [schedule.drill_down.clone(), actual()],
        );
    }
    Ok(())
}
