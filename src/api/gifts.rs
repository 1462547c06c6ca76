//! Gifts over HTTP: goods received, and what became of them.

use actix_web::{get, post, web};
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::listed;
use crate::rules::gifts::{self, GiftBecame, GiftFacts, NewFate, NewGift};
use crate::rules::ids::{DealId, PartyId, RecordId};
use crate::rules::money::Money;
use crate::rules::rows::{GiftFate, GiftRelation};

listed!(Gifts, "gifts", list_gifts "/v1/gifts", read_gift "/v1/gifts/{id}");

/// Goods received as they stand after the decisions so far.
#[derive(Debug, Serialize, ToSchema)]
pub struct GiftStandingBody {
    pub id: RecordId,
    /// The goods.
    pub what: String,
    pub party: PartyId,
    pub relation: GiftRelation,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deal: Option<DealId>,
    pub received_on: NaiveDate,
    /// Fair value in the books' currency; left out while nobody has valued them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<Money>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    pub fate: GiftFate,
    /// The day the fate was decided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fate_on: Option<NaiveDate>,
    /// The record of the last decision; left out while there was none after they came.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decided: Option<RecordId>,
    /// The entry that took them into income; left out while there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub income_entry: Option<i64>,
    /// What they became, where they were taken into income.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub became: Option<GiftBecame>,
}

impl From<GiftFacts> for GiftStandingBody {
    fn from(facts: GiftFacts) -> Self {
        // What went back was income for a while; it is none any more.
        let posted = facts.posted.filter(|_| facts.gift.fate != GiftFate::Returned);
        Self {
            id: facts.record,
            what: facts.gift.what,
            party: facts.gift.party,
            relation: facts.gift.relation,
            deal: facts.gift.deal,
            received_on: facts.gift.received_on,
            value: facts.gift.value,
            evidence: facts.gift.evidence,
            fate: facts.gift.fate,
            fate_on: facts.gift.fate_on,
            decided: facts.decided,
            income_entry: posted.as_ref().map(|posted| posted.number),
            became: posted.map(|posted| posted.became),
        }
    }
}

recorded!(
    /// Receives goods: income at their value where they came for being shown, once that and their fate are known.
    "gifts",
    receive_gift "/v1/gifts", receive_gift_batch "/v1/gifts/batch",
    NewGift, NewGiftBatch, async |desk, new| {
        let deal = desk.tx.deal_if_named(new.deal).await?;
        let at_rate = desk.tx.vehicles_at_rate_for(new.tool.is_some()).await?;
        Ok(gifts::receive(&mut desk.pen(), deal.as_ref(), &at_rate, new)?)
    }
);

/// Shows goods as they stand after the decisions so far.
#[utoipa::path(tag = "gifts", responses(
    (status = 200, description = "How they stand", body = GiftStandingBody)
))]
#[get("/v1/gifts/{id}/standing")]
pub async fn show_gift_standing(door: Door<Reads>, id: web::Path<RecordId>) -> Answer {
    let id = id.into_inner();
    door.read(async |tx| Ok(GiftStandingBody::from(tx.gift(id).await?))).await
}

/// Decides what becomes of goods, gives their value, or says that they went back.
#[utoipa::path(tag = "gifts", request_body = NewFate)]
#[post("/v1/gifts/{id}/fate")]
pub async fn decide_gift_fate(
    door: Door<Records>,
    id: web::Path<RecordId>,
    body: Checked<NewFate>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let gift = desk.tx.gift(id).await?;
        let at_rate = desk.tx.vehicles_at_rate_for(new.tool.is_some()).await?;
        Ok(gifts::decide(&mut desk.pen(), &gift, &at_rate, new)?)
    })
    .await
}
