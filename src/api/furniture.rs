//! Furniture over HTTP: pieces come, and are sold.

mod listed;
mod standing;

use actix_web::{get, patch, post, web};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::{PageBody, ThingsQuery, listed};
use super::revisions::labelled;
use crate::rules::furniture::{
    self, NewConsignment, NewConversion, NewDeposit, NewDepositEnd, NewFetching, NewLeaving, NewParts,
    NewPiece, NewPieceAndSale, NewPieceLot, NewRefund, NewSale, NewSwap, PieceLabels,
};
use crate::rules::ids::PieceId;
use listed::PieceListedBody;
use standing::PieceBody;

listed!(Furniture, "furniture",
    list_furniture_records "/v1/furniture/records", read_furniture_record "/v1/furniture/records/{id}");

/// Lists the pieces of furniture, however each came, the oldest first. `episode` and `project` are for those got or
/// sold for it, `party` for those that came from it or went to it.
#[utoipa::path(tag = "furniture", params(ThingsQuery), responses(
    (status = 200, description = "A page", body = PageBody<PieceListedBody>)
))]
#[get("/v1/furniture")]
pub async fn list_pieces(door: Door<Reads>, query: web::Query<ThingsQuery>) -> Answer {
    let (limit, after) = query.asked()?;
    let filter = query.filter();
    let found = door.look(async |tx| Ok(tx.pieces_listed(&filter, after, limit + 1).await?)).await?;
    Ok(query.page(&door, "/v1/furniture", limit, found.into_iter().map(PieceListedBody::from).collect()))
}

recorded!(
    /// Brings a piece of furniture into the books: bought, already owned, found, gifted or built.
    "furniture",
    acquire_piece "/v1/furniture", acquire_piece_batch "/v1/furniture/batch",
    NewPiece, NewPieceBatch, async |desk, new| {
        let paid_from = desk.tx.money_account_if_named(new.paid_from).await?;
        Ok(furniture::acquire(&mut desk.pen(), paid_from, new)?)
    }
);

labelled!(
    "furniture", PieceLabels, PieceLabelsPatch, PieceId, "/v1/furniture/{id}",
    /// Shows what a piece is called, with its note and its version.
    show_piece_labels,
    /// Changes what a piece is called, or its note.
    revise_piece
);

/// Shows a piece with what was put into it, what of that stands with episodes, and its sale.
#[utoipa::path(tag = "furniture", responses((status = 200, description = "The piece", body = PieceBody)))]
#[get("/v1/furniture/{id}/standing")]
pub async fn show_piece(door: Door<Reads>, id: web::Path<PieceId>) -> Answer {
    let id = id.into_inner();
    door.read(async |tx| {
        let facts = tx.piece(id).await?;
        let sale = tx.sale_of_piece(id).await?;
        let (left, refunds) = (tx.leaving_of_piece(id).await?, tx.refunds_of_piece(id).await?);
        Ok(PieceBody::of(&facts, sale.as_ref(), left, refunds, tx.card().base)?)
    })
    .await
}

/// Sells a piece that the books know; the answer says the character of the sale and why.
#[utoipa::path(tag = "furniture", request_body = NewSale)]
#[post("/v1/furniture/{id}/sale")]
pub async fn sell_piece(door: Door<Records>, id: web::Path<PieceId>, body: Checked<NewSale>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, sale| {
        let piece = desk.tx.piece(id).await?;
        let paid_into = desk.tx.money_account(sale.paid_into).await?;
        Ok(furniture::sell(&mut desk.pen(), &piece, paid_into, sale)?)
    })
    .await
}

/// Sells a piece that was never recorded, in one call.
#[utoipa::path(tag = "furniture", request_body = NewPieceAndSale)]
#[post("/v1/furniture/sale")]
pub async fn sell_unrecorded_piece(door: Door<Records>, body: Checked<NewPieceAndSale>) -> Answer {
    door.record(body, async |desk, both| {
        let paid_from = desk.tx.money_account_if_named(both.paid_from).await?;
        let paid_into = desk.tx.money_account(both.paid_into).await?;
        Ok(furniture::sell_unrecorded(&mut desk.pen(), paid_from, paid_into, both)?)
    })
    .await
}

/// Buys several pieces for one price, split over them by their values.
#[utoipa::path(tag = "furniture", request_body = NewPieceLot)]
#[post("/v1/furniture/lots")]
pub async fn acquire_piece_lot(door: Door<Records>, body: Checked<NewPieceLot>) -> Answer {
    door.record(body, async |desk, new| {
        let paid_from = desk.tx.money_account(new.paid_from).await?;
        Ok(furniture::acquire_lot(&mut desk.pen(), paid_from, new)?)
    })
    .await
}

/// Takes a set apart into pieces of their own, so that some of it can be sold and the rest kept.
#[utoipa::path(tag = "furniture", request_body = NewParts)]
#[post("/v1/furniture/{id}/parts")]
pub async fn take_piece_apart(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewParts>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        Ok(furniture::take_apart(&mut desk.pen(), &piece, new)?)
    })
    .await
}

/// Lets a piece go without a sale: given away, donated, dumped, lost or taken home.
#[utoipa::path(tag = "furniture", request_body = NewLeaving)]
#[post("/v1/furniture/{id}/leaving")]
pub async fn let_piece_go(door: Door<Records>, id: web::Path<PieceId>, body: Checked<NewLeaving>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        Ok(furniture::leave(&mut desk.pen(), &piece, new)?)
    })
    .await
}

/// Swaps a piece for another one, with or without money beside it.
#[utoipa::path(tag = "furniture", request_body = NewSwap)]
#[post("/v1/furniture/{id}/swap")]
pub async fn swap_piece(door: Door<Records>, id: web::Path<PieceId>, body: Checked<NewSwap>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        let account = desk.tx.money_account_if_named(new.money_account).await?;
        Ok(furniture::swap(&mut desk.pen(), &piece, account, new)?)
    })
    .await
}

/// Hands a piece to a shop that sells it for a commission.
#[utoipa::path(tag = "furniture", request_body = NewConsignment)]
#[post("/v1/furniture/{id}/consignment")]
pub async fn consign_piece(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewConsignment>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        Ok(furniture::consign(&mut desk.pen(), &piece, new)?)
    })
    .await
}

/// Fetches a piece back from the shop unsold.
#[utoipa::path(tag = "furniture", request_body = NewFetching)]
#[post("/v1/furniture/{id}/consignment/return")]
pub async fn fetch_piece_back(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewFetching>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        Ok(furniture::fetch_back(&mut desk.pen(), &piece, new)?)
    })
    .await
}

/// Takes a buyer's deposit on a piece in: owed until the sale.
#[utoipa::path(tag = "furniture", request_body = NewDeposit)]
#[post("/v1/furniture/{id}/deposits")]
pub async fn take_piece_deposit(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewDeposit>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        let paid_into = desk.tx.money_account(new.paid_into).await?;
        Ok(furniture::take_deposit(&mut desk.pen(), &piece, paid_into, new)?)
    })
    .await
}

/// Keeps a buyer's deposit or pays it back; a sale takes in what is held by itself.
#[utoipa::path(tag = "furniture", request_body = NewDepositEnd)]
#[post("/v1/furniture/{id}/deposits/settlement")]
pub async fn settle_piece_deposit(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewDepositEnd>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        let paid_from = desk.tx.money_account_if_named(new.paid_from).await?;
        Ok(furniture::settle_deposit(&mut desk.pen(), &piece, paid_from, new)?)
    })
    .await
}

/// Pays a buyer back after the sale; the piece comes back or stays with the buyer.
#[utoipa::path(tag = "furniture", request_body = NewRefund)]
#[post("/v1/furniture/{id}/refund")]
pub async fn refund_buyer(door: Door<Records>, id: web::Path<PieceId>, body: Checked<NewRefund>) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        let sold = desk.tx.sold_piece(id).await?;
        let paid_from = desk.tx.money_account(new.paid_from).await?;
        Ok(furniture::refund(&mut desk.pen(), &piece, sold.as_ref(), paid_from, new)?)
    })
    .await
}

/// Brings the owner's own piece into the business, at the lower of basis and value where it is for resale.
#[utoipa::path(tag = "furniture", request_body = NewConversion)]
#[post("/v1/furniture/{id}/conversion")]
pub async fn convert_piece(
    door: Door<Records>,
    id: web::Path<PieceId>,
    body: Checked<NewConversion>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let piece = desk.tx.piece(id).await?;
        Ok(furniture::convert(&mut desk.pen(), &piece, new)?)
    })
    .await
}
