//! How much of a tool's use was business in a tax year.

use chrono::Datelike;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ToolFacts;
use crate::rules::ids::RecordId;
use crate::rules::money::Share;
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{BusinessShare, Row};
use crate::rules::tool_terms::ToolTermsFinding;

/// The business share of a tool's use in a tax year. It touches tax only: statements charge what was used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBusinessShare {
    /// Later years go on with it until another is stated.
    #[schema(example = 2026)]
    pub tax_year: i32,
    /// In percent of the year's use, 0 to 100.
    pub share: Share,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why a year's share is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BusinessShareFinding {
    BeforeService { year: i32, in_service: i32 },
    AfterItLeft { year: i32, left: i32 },
    StatedAlready { year: i32, share: Decimal, by: RecordId },
}

impl Explain for BusinessShareFinding {
    fn say(&self) -> Said {
        match self {
            Self::BeforeService { year, in_service } => Said::invalid(
                format!("the tool came into service in {in_service}, and a share of {year} is stated"),
                format!("give {in_service} or a later year"),
            ),
            Self::AfterItLeft { year, left } => Said::conflict(
                format!("the tool left in {left}, and a share of {year} is stated"),
                format!("give {left} or an earlier year, or reverse the disposal first if it was a mistake"),
            ),
            Self::StatedAlready { year, share, by } => Said::conflict(
                format!("{share} % is stated for {year} already"),
                format!(
                    "reverse that record first (POST /v1/records/{by}/reversal), then state what is right"
                ),
            ),
        }
    }
}

/// States the business share of a tool's use in a tax year. It posts nothing: the summary of that year and of later
/// ones reads it. Years before the books are taken too, for they decide how a tool of the opening position goes on.
/// # Errors
/// [`BusinessShareFinding`], a share above the whole, and a year that is closed or out of reach, all at once.
/// # Source
/// Pub. 946 ch. 5, records of business use are kept by tax year (from memory).
pub fn state_business_share(
    pen: &Pen<'_>,
    facts: &ToolFacts,
    new: &NewBusinessShare,
) -> Result<Recording, Refusal> {
    let (tool, year) = (&facts.tool, new.tax_year);
    let mut findings = Findings::new();
    let last_day = findings.keep(pen.open_year(year).at("/tax_year"));
    findings.keep(year_fits(facts, year).at("/tax_year"));
    let share = new.share.decimal();
    if share > Decimal::ONE_HUNDRED {
        findings.add(Refusal::new("/share", ToolTermsFinding::ShareAboveHundred { share }));
    }
    findings.or_refuse()?;
    let text = format!("{}: {share} % business use in {year}", tool.name);
    let date = last_day.unwrap_or(pen.books.began_on);
    let mut recording = Recording::new(Word::Tools, "business_share", date, text);
    recording.depends_on.push(facts.record);
    recording.notes = notes(facts, year, share);
    recording.rows.push(Row::BusinessShare(BusinessShare { tool: tool.id, tax_year: year, share }));
    Ok(recording)
}

fn year_fits(facts: &ToolFacts, year: i32) -> Result<(), BusinessShareFinding> {
    let in_service = facts.tool.in_service_on.year();
    if year < in_service {
        return Err(BusinessShareFinding::BeforeService { year, in_service });
    }
    if let Some(left) = facts.departure().map(|gone| gone.date.year()).filter(|left| year > *left) {
        return Err(BusinessShareFinding::AfterItLeft { year, left });
    }
    if let Some(stated) = facts.shares.iter().find(|stated| stated.row.tax_year == year) {
        let (share, by) = (stated.row.share, stated.record);
        return Err(BusinessShareFinding::StatedAlready { year, share, by });
    }
    Ok(())
}

fn notes(facts: &ToolFacts, year: i32, share: Decimal) -> Vec<String> {
    let half = Decimal::from(50_u32);
    let stated: Vec<_> = facts.shares.iter().map(|one| one.row).collect();
    let first = facts.tool.business_share_in(&stated, facts.tool.in_service_on.year());
    let mut notes = vec![format!(
        "{year} and later years take {share} % of what the tool gives, until another share is stated; what episodes \
         bear of it stays as it is (GET /v1/tax-years/{year}/summary)"
    )];
    if facts.has_no_basis() {
        notes.push("a tool nothing was paid for is not written off, so nothing changes".to_owned());
    } else if share <= half && first > half && year > facts.tool.in_service_on.year() {
        notes.push(
            "used for the business half of the time or less: section 179, and with listed property what was taken \
             fast, may come back into income; the year's summary works it out"
                .to_owned(),
        );
    }
    notes
}
