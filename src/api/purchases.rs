//! Purchases over HTTP.

use actix_web::{get, post, web};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use crate::rules::ids::RecordId;
use crate::rules::purchases::{self, NewPurchase, NewPurchasePayment, NewPurchaseReturn};

listed!(Purchases, "purchases", list_purchases "/v1/purchases", read_purchase "/v1/purchases/{id}");

recorded!(
    /// Records a receipt: what each line was for, and what it is to the tax office.
    "purchases",
    record_purchase "/v1/purchases", record_purchase_batch "/v1/purchases/batch",
    NewPurchase, NewPurchaseBatch, async |desk, new| {
        let facts = desk.tx.purchase_facts(new).await?;
        Ok(purchases::record(&mut desk.pen(), &facts, new)?)
    }
);

/// Pays a purchase that was recorded to be paid later.
#[utoipa::path(tag = "purchases", request_body = NewPurchasePayment)]
#[post("/v1/purchases/{id}/payment")]
pub async fn pay_purchase(
    door: Door<Records>,
    id: web::Path<RecordId>,
    body: Checked<NewPurchasePayment>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let mut invoice = desk.tx.purchase_to_pay(id).await?;
        invoice.facts.accounts = vec![desk.tx.money_account(new.paid_from).await?];
        Ok(purchases::pay(&mut desk.pen(), &invoice, new)?)
    })
    .await
}

/// Gives some of a purchase back to the vendor, for a refund.
#[utoipa::path(tag = "purchases", request_body = NewPurchaseReturn)]
#[post("/v1/purchases/{id}/returns")]
pub async fn return_purchase(
    door: Door<Records>,
    id: web::Path<RecordId>,
    body: Checked<NewPurchaseReturn>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let bought = desk.tx.purchase_bought(id, new.date).await?;
        let refunded_to = desk.tx.money_account(new.refunded_to).await?;
        Ok(purchases::give_back(&mut desk.pen(), &bought, refunded_to, new)?)
    })
    .await
}
