//! Tax years over HTTP: choices, the years there are profiles for, and the yearly summary.

use actix_web::{HttpRequest, get, post, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::formats::{Format, format_of, report};
use super::lists::{PageBody, listed, page};
use super::problem::Problem;
use crate::export;
use crate::rules::refusal::Refusal;
use crate::rules::tax_year::amended::{Amended, amended};
use crate::rules::tax_year::elect::{NewElection, elect};
use crate::rules::tax_year::filing::{FilingFacts, NewFiling, file};
use crate::rules::tax_year::home_office::{NewHomeOffice, use_home_office};
use crate::rules::tax_year::profile::{FigureOfLaw, FormStanding};
use crate::rules::tax_year::tools::{ToolsBeside, side_by_side};
use crate::rules::tax_year::{Profile, YearSummary, summarise};

listed!(
    TaxYears,
    "tax_years",
    list_tax_year_records "/v1/tax-years/records",
    read_tax_year_record "/v1/tax-years/records/{id}"
);

/// A year in an address: 1 to 9999, digits only, as a person writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Year(pub(super) i32);

impl TryFrom<String> for Year {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let plain =
            !text.starts_with('0') && text.len() <= 4 && text.bytes().all(|sign| sign.is_ascii_digit());
        let year = text.parse().ok().filter(|_| plain);
        year.map(Self).ok_or_else(|| format!("{text} is no year"))
    }
}

/// A year that a summary can be made for.
#[derive(Debug, Serialize, ToSchema)]
pub struct TaxYearBody {
    /// Books take a summary where this is their tax profile.
    pub jurisdiction: &'static str,
    pub year: i32,
    pub form: &'static str,
    /// ISO 4217 code of the currency the form is filled in.
    pub currency: &'static str,
    pub form_standing: FormStanding,
    /// The law's figures with their publications, each marked as seen in one or given from memory.
    pub figures: Vec<FigureOfLaw>,
    /// Where that year's summary is.
    pub summary: String,
}

impl From<&'static Profile> for TaxYearBody {
    fn from(profile: &'static Profile) -> Self {
        Self {
            jurisdiction: profile.jurisdiction,
            year: profile.year,
            form: profile.form,
            currency: profile.currency,
            form_standing: profile.standing,
            figures: profile.figures(),
            summary: format!("/v1/tax-years/{}/summary", profile.year),
        }
    }
}

/// Lists the years there are tax profiles for, with the law's figures and where they come from.
#[utoipa::path(tag = "tax_years", responses(
    (status = 200, description = "Every year there is a profile for", body = PageBody<TaxYearBody>)
))]
#[get("/v1/tax-years")]
pub async fn list_tax_years(_door: Door<Reads>) -> Answer {
    Ok(page(Profile::all().map(TaxYearBody::from).collect(), None))
}

/// Records a choice for a tax year: the de minimis safe harbor, the straight line for a class.
#[utoipa::path(tag = "tax_years", request_body = NewElection)]
#[post("/v1/tax-years/{year}/elections")]
pub async fn choose_for_year(
    door: Door<Records>,
    year: web::Path<Year>,
    body: Checked<NewElection>,
) -> Answer {
    let Year(year) = year.into_inner();
    door.record(body, async move |desk, new| {
        let profile = Profile::find(&desk.tx.card().tax_profile, year).ok();
        let chosen = desk.tx.elections().await?;
        Ok(elect(&desk.pen(), year, profile, &chosen, new)?)
    })
    .await
}

/// Records a home office by the simplified method: areas with the days of their use, one record a tax year. Refused
/// where actual costs of class `home_office` are posted for that year.
#[utoipa::path(tag = "tax_years", request_body = NewHomeOffice)]
#[post("/v1/tax-years/{year}/home-office")]
pub async fn state_home_office(
    door: Door<Records>,
    year: web::Path<Year>,
    body: Checked<NewHomeOffice>,
) -> Answer {
    let Year(year) = year.into_inner();
    door.record(body, async move |desk, new| {
        let profile = Profile::find(&desk.tx.card().tax_profile, year).ok();
        let facts = desk.tx.home_office_facts(year).await?;
        Ok(use_home_office(&desk.pen(), year, profile, &facts, new)?)
    })
    .await
}

/// Records that a return was filed, once its year is closed, and keeps the form's lines as the books say them then. A
/// second filing is the amended return.
#[utoipa::path(tag = "tax_years", request_body = NewFiling)]
#[post("/v1/tax-years/{year}/filing")]
pub async fn file_return(door: Door<Records>, year: web::Path<Year>, body: Checked<NewFiling>) -> Answer {
    let Year(year) = year.into_inner();
    door.record(body, async move |desk, new| {
        let year_facts = desk.tx.facts_of_year(year).await?;
        let facts = FilingFacts {
            summary: &summarise(&year_facts)?,
            head_number: desk.tx.card().head.number,
            filed_before: year_facts.filed.map(|filed| filed.filed_on),
        };
        Ok(file(&desk.pen(), year, &facts, new)?)
    })
    .await
}

/// How a report of a year is asked for.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SummaryQuery {
    /// `json`, `csv` or `text`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv|text)$", example = "csv")]
    pub format: Option<String>,
}

/// Compares a filed year with what the books say now, line by line, with the records and entries since that carry
/// that tax year: what a preparer needs for an amended return. Compared is the last filing.
#[utoipa::path(tag = "tax_years", params(SummaryQuery), responses(
    (status = 200, description = "The filed year beside the books", content(
        (Amended = "application/json"), (String = "text/csv"), (String = "text/plain")
    )),
    (status = 409, description = "No filing of that year is recorded, or the books' currency is not the form's",
        body = Problem, content_type = "application/problem+json"),
    (status = 422, description = "There is no profile for that year", body = Problem,
        content_type = "application/problem+json")
))]
#[get("/v1/tax-years/{year}/amended")]
pub async fn show_amended_year(
    door: Door<Reads>,
    year: web::Path<Year>,
    query: web::Query<SummaryQuery>,
    request: HttpRequest,
) -> Answer {
    let Year(year) = year.into_inner();
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let shown = door
        .look(async |tx| {
            let facts = tx.facts_of_year(year).await?;
            let entries = match &facts.filed {
                Some(filed) => tx.entries_since(year, filed.head_number).await?,
                None => Vec::new(),
            };
            Ok(amended(&facts, &summarise(&facts)?, &entries)?)
        })
        .await?;
    report(
        format,
        &format!("tax-year-{year}-amended"),
        &shown,
        || export::tax_year::amended_csv(&shown),
        || export::tax_year::amended_text(&shown),
    )
}

/// Shows every tool of a year in the books and for tax, side by side: what episodes and projects were charged, what the
/// years deduct, what is posted, and why they differ; the sums are held against the ledger on the last day.
#[utoipa::path(tag = "tax_years", params(SummaryQuery), responses(
    (status = 200, description = "Both views of the tools", content(
        (ToolsBeside = "application/json"), (String = "text/csv"), (String = "text/plain")
    )),
    (status = 409, description = "The books' currency is not the form's", body = Problem,
        content_type = "application/problem+json"),
    (status = 422, description = "There is no profile for that year", body = Problem,
        content_type = "application/problem+json")
))]
#[get("/v1/tax-years/{year}/tools")]
pub async fn show_tools_of_year(
    door: Door<Reads>,
    year: web::Path<Year>,
    query: web::Query<SummaryQuery>,
    request: HttpRequest,
) -> Answer {
    let Year(year) = year.into_inner();
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let shown = door
        .look(async |tx| {
            let facts = tx.facts_of_year(year).await?;
            let summary = summarise(&facts)?;
            let (booked, ledger) = tx.tools_booked(year).await?;
            Ok(side_by_side(&facts, &summary, &booked, ledger).map_err(Refusal::from)?)
        })
        .await?;
    report(
        format,
        &format!("tax-year-{year}-tools"),
        &shown,
        || export::tax_year::tools_csv(&shown),
        || export::tax_year::tools_text(&shown),
    )
}

/// Works out a tax year: every form line with its drill-down, the schedules behind them, and what a preparer would
/// ask. A working paper, not advice.
#[utoipa::path(tag = "tax_years", params(SummaryQuery), responses(
    (status = 200, description = "The working paper", content(
        (YearSummary = "application/json"), (String = "text/csv"), (String = "text/plain")
    )),
    (status = 409, description = "The books' currency is not the form's", body = Problem,
        content_type = "application/problem+json"),
    (status = 422, description = "There is no profile for that year", body = Problem,
        content_type = "application/problem+json")
))]
#[get("/v1/tax-years/{year}/summary")]
pub async fn show_year_summary(
    door: Door<Reads>,
    year: web::Path<Year>,
    query: web::Query<SummaryQuery>,
    request: HttpRequest,
) -> Answer {
    let Year(year) = year.into_inner();
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let summary = door.look(async |tx| Ok(summarise(&tx.facts_of_year(year).await?)?)).await?;
    report(
        format,
        &format!("tax-year-{year}"),
        &summary,
        || export::tax_year::csv(&summary),
        || export::tax_year::text(&summary),
    )
}
