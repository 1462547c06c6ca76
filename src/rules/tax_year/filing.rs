//! Filing a return: the form's lines are kept as they were then.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::summary::YearSummary;
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{Explain, Findings, Refusal, Said};
use crate::rules::rows::{FiledLine, Filing, Row};
use crate::rules::write_offs::last_day;

/// A return that was filed, the first of its year or an amended one.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFiling {
    /// The day it was filed.
    pub date: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What a filing is decided on.
#[derive(Clone, Copy, Debug)]
pub struct FilingFacts<'a> {
    /// The year as the books say it now.
    pub summary: &'a YearSummary,
    /// The ledger's last entry.
    pub head_number: i64,
    /// The day of the filing before this one.
    pub filed_before: Option<NaiveDate>,
}

/// Why a filing is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FilingFinding {
    YearOpen { year: i32 },
    BeforeTheYearEnded { date: NaiveDate, year: i32 },
    BeforeTheOneBefore { date: NaiveDate, before: NaiveDate },
}

impl Explain for FilingFinding {
    fn say(&self) -> Said {
        match self {
            Self::YearOpen { year } => Said::conflict(
                format!(
                    "{year} is not closed through its 31 December, so what was filed could still change unseen"
                ),
                format!("close it first (POST /v1/books/closing with through {})", last_day(*year)),
            ),
            Self::BeforeTheYearEnded { date, year } => Said::invalid(
                format!("{date} is before {year} ended: nobody files a year that is not over"),
                "correct date",
            ),
            Self::BeforeTheOneBefore { date, before } => Said::invalid(
                format!("a return of that year was filed on {before}, and this one is said to be of {date}"),
                "correct date, or reverse the record of the earlier filing",
            ),
        }
    }
}

/// Records that the return of `year` was filed and keeps the form's lines as the books say them at this moment. It posts
/// nothing. Its day may lie in days that are closed since: it says what happened outside the books and changes none
/// of their figures.
/// # Errors
/// [`FilingFinding`], all at once.
pub fn file(
    pen: &Pen<'_>,
    year: i32,
    facts: &FilingFacts<'_>,
    new: &NewFiling,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    if pen.books.first_open <= last_day(year) {
        findings.add(FilingFinding::YearOpen { year });
    }
    let date = new.date;
    if date <= last_day(year) {
        findings.add(Refusal::new("/date", FilingFinding::BeforeTheYearEnded { date, year }));
    }
    if let Some(before) = facts.filed_before.filter(|before| date < *before) {
        findings.add(Refusal::new("/date", FilingFinding::BeforeTheOneBefore { date, before }));
    }
    findings.or_refuse()?;
    let which = if facts.filed_before.is_some() { "amended return" } else { "return" };
    let mut recording = Recording::new(Word::TaxYears, "filing", date, format!("{which} of {year} filed"));
    recording.notes.push(format!(
        "The lines of {} are kept as the books say them now, after entry {}. What changes the year from here on shows \
         at /v1/tax-years/{year}/amended.",
        facts.summary.form, facts.head_number
    ));
    let lines = facts.summary.lines.iter().filter(|line| line.exact.is_some());
    let lines = lines.map(|line| FiledLine {
        part: line.part.as_str().to_owned(),
        line: line.line.to_owned(),
        label: line.label.clone(),
        exact: line.exact,
        whole: line.whole,
    });
    recording.rows.push(Row::Filing(Filing {
        tax_year: year,
        filed_on: date,
        head_number: facts.head_number,
        lines: lines.collect(),
    }));
    Ok(recording)
}
