//! Tools over HTTP: acquired, improved, used, estimated anew, their business use by year, disposed of, and how they stand.

mod listed;
mod standing;

use actix_web::{get, patch, post, web};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::{PageBody, ThingsQuery, listed};
use super::revisions::labelled;
use crate::rules::ids::ToolId;
use crate::rules::tools::{
    self, NewBusinessShare, NewDisposal, NewEstimate, NewImprovement, NewTool, NewUses, ToolLabels,
};
use listed::ToolListedBody;
use standing::ToolStandingBody;

listed!(Tools, "tools",
    list_tool_records "/v1/tools/records", read_tool_record "/v1/tools/records/{id}");

/// Lists the tools, however each came, the oldest first. `episode` and `project` are for those used on it, `party`
/// for those that came from it or went to it.
#[utoipa::path(tag = "tools", params(ThingsQuery), responses(
    (status = 200, description = "A page", body = PageBody<ToolListedBody>)
))]
#[get("/v1/tools")]
pub async fn list_tools(door: Door<Reads>, query: web::Query<ThingsQuery>) -> Answer {
    let (limit, after) = query.asked()?;
    let filter = query.filter();
    let found = door.look(async |tx| Ok(tx.tools_listed(&filter, after, limit + 1).await?)).await?;
    Ok(query.page(&door, "/v1/tools", limit, found.into_iter().map(ToolListedBody::from).collect()))
}

recorded!(
    /// Takes in a tool of its own record: bought, brought in from private use, lent or given privately.
    "tools",
    acquire_tool "/v1/tools", acquire_tool_batch "/v1/tools/batch",
    NewTool, NewToolBatch, async |desk, new| {
        let paid_from = desk.tx.money_account_if_named(new.paid_from).await?;
        let at_rate = desk.tx.vehicles_at_rate().await?;
        Ok(tools::acquire(&mut desk.pen(), paid_from, &at_rate, new)?)
    }
);

labelled!(
    "tools", ToolLabels, ToolLabelsPatch, ToolId, "/v1/tools/{id}",
    /// Shows what a tool is called, with its note and its version.
    show_tool,
    /// Changes what a tool is called, or its note.
    revise_tool
);

/// Shows how a tool stands, however it came: its cost, what of it reached whom, and what is left.
#[utoipa::path(tag = "tools", responses(
    (status = 200, description = "The tool as it stands", body = ToolStandingBody)
))]
#[get("/v1/tools/{id}/standing")]
pub async fn show_tool_standing(door: Door<Reads>, id: web::Path<ToolId>) -> Answer {
    let id = id.into_inner();
    door.read(async |tx| ToolStandingBody::of(&tx.tool(id).await?)).await
}

/// Logs uses of a tool, up to 500 in one call, and attributes what they bear of its cost.
#[utoipa::path(tag = "tools", request_body = NewUses)]
#[post("/v1/tools/{id}/uses")]
pub async fn log_tool_uses(door: Door<Records>, id: web::Path<ToolId>, body: Checked<NewUses>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.tool(id).await?;
        Ok(tools::log_uses(&mut desk.pen(), &facts, new)?)
    })
    .await
}

/// Estimates a tool's life or salvage anew, for its uses from a day on.
#[utoipa::path(tag = "tools", request_body = NewEstimate)]
#[post("/v1/tools/{id}/estimates")]
pub async fn estimate_tool_anew(
    door: Door<Records>,
    id: web::Path<ToolId>,
    body: Checked<NewEstimate>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.tool(id).await?;
        Ok(tools::estimate_anew(&mut desk.pen(), &facts, new)?)
    })
    .await
}

/// Takes in an improvement of a tool, as a tool of its own in the same class with its own day of service. A repair is
/// none: it is a receipt line of class repairs.
#[utoipa::path(tag = "tools", request_body = NewImprovement)]
#[post("/v1/tools/{id}/improvements")]
pub async fn improve_tool(
    door: Door<Records>,
    id: web::Path<ToolId>,
    body: Checked<NewImprovement>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.tool(id).await?;
        let paid_from = desk.tx.money_account(new.paid_from).await?;
        let at_rate = desk.tx.vehicles_at_rate().await?;
        Ok(tools::improve(&mut desk.pen(), &facts, paid_from, &at_rate, new)?)
    })
    .await
}

/// States how much of a tool's use was business in a tax year; later years go on with it. Tax only: statements charge
/// what was used.
#[utoipa::path(tag = "tools", request_body = NewBusinessShare)]
#[post("/v1/tools/{id}/business-shares")]
pub async fn state_business_share(
    door: Door<Records>,
    id: web::Path<ToolId>,
    body: Checked<NewBusinessShare>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.tool(id).await?;
        Ok(tools::state_business_share(&desk.pen(), &facts, new)?)
    })
    .await
}

/// Records how a tool left: sold, scrapped, stolen or taken for private use.
#[utoipa::path(tag = "tools", request_body = NewDisposal)]
#[post("/v1/tools/{id}/disposal")]
pub async fn dispose_of_tool(
    door: Door<Records>,
    id: web::Path<ToolId>,
    body: Checked<NewDisposal>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.tool(id).await?;
        let carried = desk.tx.tool_carried(&facts.tool).await?;
        let paid_into = desk.tx.money_account_if_named(new.paid_into).await?;
        Ok(tools::dispose(&mut desk.pen(), &facts, carried, paid_into, new)?)
    })
    .await
}
