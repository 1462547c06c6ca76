//! Materials over HTTP: what is on the shelf, what leaves it, what comes back, what the count finds.

mod shelf;

use actix_web::{get, post, web};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::{Cursor, PageBody, cut_to, limit_of, listed, place_of};
use crate::rules::ids::LotId;
use crate::rules::materials::{self, NewCount, NewIssue, NewMaterialIssue, NewMaterialReturn, NewWaste};
use crate::store::records::After;
use shelf::{LotBody, LotStandingBody, ShelfQuery};

listed!(Materials, "materials",
    list_material_records "/v1/materials/records", read_material_record "/v1/materials/records/{id}");

/// Lists the lots with what is left in each and what that cost, the oldest first.
#[utoipa::path(tag = "materials", params(ShelfQuery), responses(
    (status = 200, description = "A page", body = PageBody<LotBody>)
))]
#[get("/v1/materials")]
pub async fn list_lots(door: Door<Reads>, query: web::Query<ShelfQuery>) -> Answer {
    let limit = limit_of(query.limit)?;
    let after = place_of::<Cursor>(query.cursor.as_ref())?.map(|cursor| cursor.0);
    let filter = query.filter();
    let mut found = door.look(async |tx| Ok(tx.lots_on_shelf(&filter, after, limit + 1).await?)).await?;
    let more = cut_to(&mut found, limit);
    let last = found.last().map(|one| Cursor(After { date: one.lot.acquired_on, id: one.lot.id.0 }));
    let next = last.filter(|_| more).map(|cursor| query.next(cursor));
    Ok(door.page(found.iter().map(LotBody::of).collect(), next))
}

/// Shows a lot with what is left in it and every move that stands.
#[utoipa::path(tag = "materials", responses((status = 200, description = "The lot", body = LotStandingBody)))]
#[get("/v1/materials/{lot}/standing")]
pub async fn show_lot(door: Door<Reads>, lot: web::Path<LotId>) -> Answer {
    let lot = lot.into_inner();
    door.read(async |tx| {
        let facts = tx.lot(lot).await?;
        let moves = tx.standing_moves_of_lot(lot).await?;
        Ok(LotStandingBody::of(&facts, &moves)?)
    })
    .await
}

/// Issues from a lot to an episode, a project, a piece of furniture or overhead.
#[utoipa::path(tag = "materials", request_body = NewIssue)]
#[post("/v1/materials/{lot}/issues")]
pub async fn issue_from_lot(door: Door<Records>, lot: web::Path<LotId>, body: Checked<NewIssue>) -> Answer {
    let lot = lot.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.lot(lot).await?;
        let piece = desk.tx.piece_in_work_if_named(new.piece).await?;
        Ok(materials::issue(&desk.pen(), &facts, piece.as_ref(), new)?)
    })
    .await
}

/// Issues a material by its name: the books' flow says which lots give.
#[utoipa::path(tag = "materials", request_body = NewMaterialIssue)]
#[post("/v1/materials/issues")]
pub async fn issue_material(door: Door<Records>, body: Checked<NewMaterialIssue>) -> Answer {
    door.record(body, async |desk, new| {
        let lots = desk.tx.lots_named(new.material.trim()).await?;
        let piece = desk.tx.piece_in_work_if_named(new.piece).await?;
        Ok(materials::issue_by_name(&desk.pen(), &lots, piece.as_ref(), new)?)
    })
    .await
}

/// Puts back into a lot what an episode, a project or a piece of furniture did not use.
#[utoipa::path(tag = "materials", request_body = NewMaterialReturn)]
#[post("/v1/materials/{lot}/returns")]
pub async fn return_to_lot(
    door: Door<Records>,
    lot: web::Path<LotId>,
    body: Checked<NewMaterialReturn>,
) -> Answer {
    let lot = lot.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.lot(lot).await?;
        let piece = desk.tx.piece_in_work_if_named(new.piece).await?;
        let mut attributed = desk.tx.attributions_from(facts.lot.source).await?;
        if let Some(work) = &piece {
            attributed.extend(desk.tx.attributions_from(work.piece.source).await?);
        }
        Ok(materials::come_back(&desk.pen(), &facts, piece.as_ref(), &attributed, new)?)
    })
    .await
}

/// Takes a spoilt quantity out of a lot.
#[utoipa::path(tag = "materials", request_body = NewWaste)]
#[post("/v1/materials/{lot}/waste")]
pub async fn waste_from_lot(door: Door<Records>, lot: web::Path<LotId>, body: Checked<NewWaste>) -> Answer {
    let lot = lot.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.lot(lot).await?;
        Ok(materials::waste(&desk.pen(), &facts, new)?)
    })
    .await
}

/// Counts a lot; what is missing or over is adjusted.
#[utoipa::path(tag = "materials", request_body = NewCount)]
#[post("/v1/materials/{lot}/counts")]
pub async fn count_lot(door: Door<Records>, lot: web::Path<LotId>, body: Checked<NewCount>) -> Answer {
    let lot = lot.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.lot(lot).await?;
        Ok(materials::count(&desk.pen(), &facts, new)?)
    })
    .await
}
