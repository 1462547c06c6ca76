//! Attributions over HTTP: what stands behind a statement's line, and what is put right by hand.

use actix_web::{get, post, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::answer::{Answer, AttributionBody};
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::{Cursor, NextPage, PageBody, SealedCursor, cut_to, limit_of, place_of};
use crate::rules::attributions::{self, NewAttribution, NewJoint, NewMove, NewOverhead, NewOverheadPool};
use crate::rules::ids::{EpisodeId, ProjectId, SourceId};
use crate::rules::recording::{Category, Side};
use crate::store::attributions::AttributionFilter;
use crate::store::records::{After, AttributionKept};

const PATH: &str = "/v1/attributions";

/// What the list of attributions takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AttributionsQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// Only what this episode bears or earns.
    pub episode: Option<EpisodeId>,
    /// Only what this project itself bears or earns, none of its episodes.
    pub project: Option<ProjectId>,
    /// Costs of this category.
    pub category: Option<Category>,
    /// A line of the statement by its name, whatever its side: a category, a stream, a kind of recovery.
    #[param(max_length = 600)]
    pub label: Option<String>,
    /// Only this side of the statement.
    pub side: Option<Side>,
    /// Only what comes from this source.
    pub source: Option<SourceId>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

impl AttributionsQuery {
    fn filter(&self) -> AttributionFilter {
        AttributionFilter {
            from: self.from,
            to: self.to,
            episode: self.episode,
            project: self.project,
            category: self.category,
            label: self.label.clone(),
            side: self.side,
            source: self.source,
        }
    }

    fn next(&self, cursor: Cursor) -> NextPage {
        NextPage::after(PATH, cursor)
            .with("from", self.from)
            .with("to", self.to)
            .with("episode", self.episode)
            .with("project", self.project)
            .with("category", self.category)
            .with("label", self.label.as_ref())
            .with("side", self.side)
            .with("source", self.source)
            .with("limit", self.limit)
    }
}

/// An attributed amount with the address of the record that made it.
#[derive(Debug, Serialize, ToSchema)]
pub struct AttributionListedBody {
    #[serde(flatten)]
    pub attribution: AttributionBody,
    #[schema(example = "/v1/records/0192a1b2-0000-7000-8000-000000000001")]
    pub link: String,
}

impl From<&AttributionKept> for AttributionListedBody {
    fn from(kept: &AttributionKept) -> Self {
        Self { attribution: kept.into(), link: format!("/v1/records/{}", kept.record) }
    }
}

/// Lists attributions, oldest first: what stands behind a line of a statement.
#[utoipa::path(tag = "attributions", params(AttributionsQuery), responses(
    (status = 200, description = "A page", body = PageBody<AttributionListedBody>)
))]
#[get("/v1/attributions")]
pub async fn list_attributions(door: Door<Reads>, query: web::Query<AttributionsQuery>) -> Answer {
    let limit = limit_of(query.limit)?;
    let after = place_of::<Cursor>(query.cursor.as_ref())?.map(|cursor| cursor.0);
    let filter = query.filter();
    let mut found = door.look(async |tx| Ok(tx.attributions(&filter, after, limit + 1).await?)).await?;
    let more = cut_to(&mut found, limit);
    let last = found.last().map(|kept| Cursor(After { date: kept.date, id: kept.id }));
    let next = last.filter(|_| more).map(|cursor| query.next(cursor));
    Ok(door.page(found.iter().map(AttributionListedBody::from).collect(), next))
}

recorded!(
    /// Attributes what is left of a source to episodes and projects.
    "attributions",
    attribute "/v1/attributions", attribute_batch "/v1/attributions/batch",
    NewAttribution, NewAttributionBatch, async |desk, new| {
        let source = desk.tx.source_standing(new.source).await?;
        Ok(attributions::give_out(&desk.pen(), &source, new)?)
    }
);

/// States an overhead pool: which costs of which days are spread together, and what was estimated ahead.
#[utoipa::path(tag = "attributions", request_body = NewOverheadPool)]
#[post("/v1/attributions/pools")]
pub async fn state_overhead_pool(door: Door<Records>, body: Checked<NewOverheadPool>) -> Answer {
    door.record(body, async |desk, new| {
        let others = desk.tx.overhead_pools().await?;
        Ok(attributions::state_pool(&mut desk.pen(), &others, new)?)
    })
    .await
}

/// Spreads overhead over episodes by own hours, equally, by income or by what they cost, with a line of its own on their
/// statements.
#[utoipa::path(tag = "attributions", request_body = NewOverhead)]
#[post("/v1/attributions/overhead")]
pub async fn spread_overhead(door: Door<Records>, body: Checked<NewOverhead>) -> Answer {
    door.record(body, async |desk, new| {
        let facts = desk.tx.overhead_facts(new).await?;
        Ok(attributions::spread_overhead(&desk.pen(), &facts, new)?)
    })
    .await
}

/// Splits what is left of the costs of one shoot over the episodes and shorts that came of it, by weights.
#[utoipa::path(tag = "attributions", request_body = NewJoint)]
#[post("/v1/attributions/joint")]
pub async fn split_joint_costs(door: Door<Records>, body: Checked<NewJoint>) -> Answer {
    door.record(body, async |desk, new| {
        let facts = desk.tx.joint_facts(new).await?;
        Ok(attributions::split_joint(&desk.pen(), &facts, new)?)
    })
    .await
}

/// Moves what a source gave to an episode or project on to another one.
#[utoipa::path(tag = "attributions", request_body = NewMove)]
#[post("/v1/attributions/moves")]
pub async fn move_attribution(door: Door<Records>, body: Checked<NewMove>) -> Answer {
    door.record(body, async |desk, new| {
        let source = desk.tx.source_standing(new.source).await?;
        Ok(attributions::move_on(&desk.pen(), &source, new)?)
    })
    .await
}
