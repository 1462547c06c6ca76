//! Deals over HTTP: what was agreed, what comes in and goes back, which promises were kept, how it stands, and the
//! price floor.

mod listed;

use actix_web::{get, patch, post, web};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::{PageBody, ThingsQuery, listed};
use super::revisions::labelled;
use crate::rules::deals::{
    self, DealLabels, DealStanding, Floor, FloorAsked, NewClawback, NewDeal, NewInstalment, NewInvoice,
    NewPromiseKept,
};
use crate::rules::ids::{DealId, PromiseId};
use crate::store::error::Fault;
use listed::DealListedBody;

listed!(Deals, "deals",
    list_deal_records "/v1/deals/records", read_deal_record "/v1/deals/records/{id}");

/// Lists the deals with what is still open of each, the earliest agreed first. `episode` and `project` are for those
/// that count for it, `party` for those where it is the sponsor or the agency.
#[utoipa::path(tag = "deals", params(ThingsQuery), responses(
    (status = 200, description = "A page", body = PageBody<DealListedBody>)
))]
#[get("/v1/deals")]
pub async fn list_deals(door: Door<Reads>, query: web::Query<ThingsQuery>) -> Answer {
    let (limit, after) = query.asked()?;
    let filter = query.filter();
    let found = door
        .look(async |tx| {
            let found = tx.deals_listed(&filter, after, limit + 1).await?;
            found.into_iter().map(|one| DealListedBody::of(one).map_err(Fault::of)).collect::<Result<_, _>>()
        })
        .await?;
    Ok(query.page(&door, "/v1/deals", limit, found))
}

recorded!(
    /// Agrees a deal with a sponsor; nothing is posted before money moves.
    "deals",
    agree_deal "/v1/deals", agree_deal_batch "/v1/deals/batch",
    NewDeal, NewDealBatch, async |desk, new| Ok(deals::agree(&mut desk.pen(), new)?)
);

/// Works out the price below which an episode does not pay its owner; nothing is recorded.
#[utoipa::path(tag = "deals", request_body = FloorAsked, responses(
    (status = 200, description = "The floor", body = Floor)
))]
#[post("/v1/deals/floor")]
pub async fn work_out_floor(door: Door<Reads>, body: Checked<FloorAsked>) -> Answer {
    let asked = body.understood()?.value;
    door.read(async |tx| Ok(deals::floor(&asked, tx.card().base)?)).await
}

labelled!(
    "deals", DealLabels, DealLabelsPatch, DealId, "/v1/deals/{id}",
    /// Shows what a deal is called, with its note and its version.
    show_deal,
    /// Changes what a deal is called, or its note.
    revise_deal
);

/// Shows what came in on a deal, who kept what of it, what is still open, and what was promised.
#[utoipa::path(tag = "deals", responses((status = 200, description = "How it stands", body = DealStanding)))]
#[get("/v1/deals/{id}/standing")]
pub async fn show_deal_standing(door: Door<Reads>, id: web::Path<DealId>) -> Answer {
    let id = id.into_inner();
    door.read(async |tx| {
        let facts = tx.deal_standing(id).await?;
        deals::standing(&facts, tx.card().base).map_err(Fault::of)
    })
    .await
}

/// Invoices a part of a deal: income of that day in accrual books; on the cash basis it is kept and posts nothing.
#[utoipa::path(tag = "deals", request_body = NewInvoice)]
#[post("/v1/deals/{id}/invoices")]
pub async fn invoice_sponsor(
    door: Door<Records>,
    id: web::Path<DealId>,
    body: Checked<NewInvoice>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let deal = desk.tx.deal(id).await?;
        Ok(deals::invoice(&mut desk.pen(), &deal, new)?)
    })
    .await
}

/// Receives an instalment: income is the gross, on the day it was yours to have.
#[utoipa::path(tag = "deals", request_body = NewInstalment)]
#[post("/v1/deals/{id}/instalments")]
pub async fn receive_instalment(
    door: Door<Records>,
    id: web::Path<DealId>,
    body: Checked<NewInstalment>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let deal = desk.tx.deal(id).await?;
        let into = desk.tx.money_account(new.paid_into).await?;
        Ok(deals::receive(&mut desk.pen(), &deal, into, new)?)
    })
    .await
}

/// Pays money back to a sponsor: less income, on the day it was paid.
#[utoipa::path(tag = "deals", request_body = NewClawback)]
#[post("/v1/deals/{id}/clawbacks")]
pub async fn pay_clawback(door: Door<Records>, id: web::Path<DealId>, body: Checked<NewClawback>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let deal = desk.tx.deal(id).await?;
        let from = desk.tx.money_account(new.paid_from).await?;
        Ok(deals::claw_back(&mut desk.pen(), &deal, from, new)?)
    })
    .await
}

/// Records that a promise to the sponsor was kept, on which day and where it can be seen.
#[utoipa::path(tag = "deals", request_body = NewPromiseKept)]
#[post("/v1/deals/{id}/promises/{promise}/kept")]
pub async fn keep_promise(
    door: Door<Records>,
    path: web::Path<(DealId, PromiseId)>,
    body: Checked<NewPromiseKept>,
) -> Answer {
    let (id, promise) = path.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.promise(id, promise).await?;
        Ok(deals::keep_promise(&facts, new)?)
    })
    .await
}
