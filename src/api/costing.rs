//! Costing over HTTP: what an episode or project truly cost and earned, and how every source rolls forward.

use std::collections::BTreeMap;

use actix_web::{HttpRequest, HttpResponse, get, post, web};
use chrono::NaiveDate;
use serde::Deserialize;
use utoipa::IntoParams;

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Reads};
use super::formats::{Format, csv_file, format_of, report};
use super::tax_years::Year;
use crate::export::costing::{
    Cover, overhead_csv, project_csv, project_text, roll_forward_csv, statement_csv, statement_text,
    viewers_csv, viewers_text, year_csv, year_text,
};
use crate::rules::chain::Head;
use crate::rules::costing::{
    self, BreakEven, BreakEvenAsked, OverheadReport, Period, ProjectStatement, RollForward, Statement,
    StatementFacts, StatementForViewers, YearOfWork,
};
use crate::rules::ids::{EpisodeId, ProjectId};
use crate::rules::refusal::Refusal;
use crate::store::books::Tx;
use crate::store::error::StoreError;

/// What a statement takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct StatementQuery {
    /// The first day, included; its whole life where it is left out.
    pub from: Option<NaiveDate>,
    /// The last day, included; its whole life where it is left out.
    pub to: Option<NaiveDate>,
    /// `json`, `csv` or `text`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv|text)$", example = "csv")]
    pub format: Option<String>,
}

/// What the roll-forward takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SourcesQuery {
    /// The last day counted; all that is recorded where it is left out.
    pub as_of: Option<NaiveDate>,
    /// `json` or `csv`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv)$", example = "csv")]
    pub format: Option<String>,
}

impl StatementQuery {
    const fn period(&self) -> Period {
        Period { from: self.from, to: self.to }
    }
}

/// An episode's facts with its title and the books' last entry, all of one instant.
async fn episode_facts(
    tx: &mut Tx<'_>,
    id: EpisodeId,
    period: Period,
) -> Result<(StatementFacts, String, Head), StoreError> {
    let title = tx.episode(id).await?.title;
    Ok((tx.statement_facts(id, period).await?, title, tx.card().head))
}

/// Says what an episode cost and earned, over its whole life or for some days.
#[utoipa::path(tag = "costing", params(StatementQuery), responses(
    (status = 200, description = "The cost statement", content(
        (Statement = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/episodes/{id}/statement")]
pub async fn state_episode(
    door: Door<Reads>,
    id: web::Path<EpisodeId>,
    query: web::Query<StatementQuery>,
    request: HttpRequest,
) -> Answer {
    let (id, period) = (id.into_inner(), query.period());
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let found = door.look(async |tx| {
        let (facts, title, head) = episode_facts(tx, id, period).await?;
        Ok((costing::statement(&facts)?, title, head))
    });
    let (statement, title, head) = found.await?;
    let cover = Cover { title: &title, episodes: &BTreeMap::new(), head };
    report(
        format,
        &format!("episode-{id}-statement"),
        &statement,
        || statement_csv(&statement, &cover),
        || statement_text(&statement, &cover),
    )
}

/// Says what viewers may see: what the room cost at the till, nothing private.
#[utoipa::path(tag = "costing", params(StatementQuery), responses(
    (status = 200, description = "The version for viewers", content(
        (StatementForViewers = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/episodes/{id}/statement/viewers")]
pub async fn state_episode_for_viewers(
    door: Door<Reads>,
    id: web::Path<EpisodeId>,
    query: web::Query<StatementQuery>,
    request: HttpRequest,
) -> Answer {
    let (id, period) = (id.into_inner(), query.period());
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let found = door.look(async |tx| {
        let (facts, title, _) = episode_facts(tx, id, period).await?;
        Ok((costing::statement_for_viewers(&facts)?, title))
    });
    let (statement, title) = found.await?;
    report(
        format,
        &format!("episode-{id}-for-viewers"),
        &statement,
        || viewers_csv(&statement),
        || viewers_text(&statement, &title),
    )
}

/// Says what a project cost and earned: each episode, what is the project's own, and both together.
#[utoipa::path(tag = "costing", params(StatementQuery), responses(
    (status = 200, description = "The cost statement", content(
        (ProjectStatement = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/projects/{id}/statement")]
pub async fn state_project(
    door: Door<Reads>,
    id: web::Path<ProjectId>,
    query: web::Query<StatementQuery>,
    request: HttpRequest,
) -> Answer {
    let (id, period) = (id.into_inner(), query.period());
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let found = door.look(async |tx| {
        let name = tx.project(id).await?.name;
        let titles = tx.episodes_of(id).await?.into_iter().map(|one| (one.id, one.title));
        let titles: BTreeMap<EpisodeId, String> = titles.collect();
        let facts = tx.project_facts(id, period).await?;
        Ok((costing::project_statement(&facts)?, name, titles, tx.card().head))
    });
    let (statement, name, titles, head) = found.await?;
    let cover = Cover { title: &name, episodes: &titles, head };
    report(
        format,
        &format!("project-{id}-statement"),
        &statement,
        || project_csv(&statement, &cover),
        || project_text(&statement, &cover),
    )
}

/// What a year of work takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct YearQuery {
    /// `json`, `csv` or `text`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv|text)$", example = "csv")]
    pub format: Option<String>,
}

/// Says what an own hour of the year brought: by episode, by project and in all.
#[utoipa::path(tag = "costing", params(YearQuery), responses(
    (status = 200, description = "The year of work", content(
        (YearOfWork = "application/json"), (String = "text/csv"), (String = "text/plain")
    )),
    (status = 422, description = "No books are kept for that year", body = crate::api::problem::Problem,
     content_type = "application/problem+json")
))]
#[get("/v1/costing/years/{year}")]
pub async fn show_year_of_work(
    door: Door<Reads>,
    year: web::Path<Year>,
    query: web::Query<YearQuery>,
    request: HttpRequest,
) -> Answer {
    let Year(year) = year.into_inner();
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let found = door.look(async |tx| {
        let period = costing::fiscal_year(year, tx.card().fiscal_year_begins).map_err(Refusal::from)?;
        let projects = tx.projects_of_year(period).await?;
        Ok((costing::year_of_work(period, tx.card().base, &projects)?, tx.card().head))
    });
    let (shown, head) = found.await?;
    let name = format!("work-of-{year}");
    report(format, &name, &shown, || year_csv(&shown, &head), || year_text(&shown, &head))
}

/// What the report on overhead takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct OverheadQuery {
    /// Pools with a day from this one on.
    pub from: Option<NaiveDate>,
    /// Pools with a day up to this one.
    pub to: Option<NaiveDate>,
    /// `json` or `csv`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv)$", example = "csv")]
    pub format: Option<String>,
}

/// Holds what episodes bore of overhead against what there was, pool by pool: the rate, what was applied, over or under,
/// and what was done with the difference.
#[utoipa::path(tag = "costing", params(OverheadQuery), responses(
    (status = 200, description = "The report", content(
        (OverheadReport = "application/json"), (String = "text/csv")
    ))
))]
#[get("/v1/costing/overhead")]
pub async fn show_overhead(
    door: Door<Reads>,
    query: web::Query<OverheadQuery>,
    request: HttpRequest,
) -> Answer {
    let period = Period { from: query.from, to: query.to };
    let format = format_of(query.format.as_deref(), &request, &[Format::Json, Format::Csv])?;
    let found = door.look(async |tx| {
        let facts = tx.overhead_report_facts(period).await?;
        Ok((costing::overhead_report(&facts)?, tx.card().head))
    });
    let (shown, head) = found.await?;
    match format {
        Format::Csv => csv_file("overhead", overhead_csv(&shown, &head)),
        Format::Json | Format::Text => Ok(HttpResponse::Ok().json(shown)),
    }
}

/// Works out how many have to be sold until the fixed costs and a target are earned; nothing is recorded.
#[utoipa::path(tag = "costing", request_body = BreakEvenAsked, responses(
    (status = 200, description = "The break-even", body = BreakEven)
))]
#[post("/v1/costing/break-even")]
pub async fn work_out_break_even(door: Door<Reads>, body: Checked<BreakEvenAsked>) -> Answer {
    let asked = body.understood()?.value;
    door.read(async |tx| Ok(costing::break_even(&asked, tx.card().base)?)).await
}

/// Rolls every source forward: what it was, what came and went, what was attributed, what is left; and holds the
/// sums against the journal.
#[utoipa::path(tag = "costing", params(SourcesQuery), responses(
    (status = 200, description = "The roll-forward", content(
        (RollForward = "application/json"), (String = "text/csv")
    ))
))]
#[get("/v1/sources")]
pub async fn roll_sources_forward(
    door: Door<Reads>,
    query: web::Query<SourcesQuery>,
    request: HttpRequest,
) -> Answer {
    let as_of = query.as_of;
    let format = format_of(query.format.as_deref(), &request, &[Format::Json, Format::Csv])?;
    let found = door.look(async |tx| {
        let (sources, ledger) = (tx.all_sources().await?, tx.posted_sums(as_of).await?);
        Ok((costing::roll_forward(&sources, &ledger, tx.card().base, as_of)?, tx.card().head))
    });
    let (roll, head) = found.await?;
    match format {
        Format::Csv => csv_file("sources", roll_forward_csv(&roll, &head)),
        Format::Json | Format::Text => Ok(HttpResponse::Ok().json(roll)),
    }
}
