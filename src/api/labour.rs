//! Labour over HTTP.

use actix_web::{get, post};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use crate::rules::labour::{self, LabourFacts, NewLabour};

listed!(Labour, "labour", list_labour "/v1/labour", read_labour "/v1/labour/{id}");

/// Records hours that somebody worked; only pay enters the ledger.
#[utoipa::path(tag = "labour", request_body = NewLabour)]
#[post("/v1/labour")]
pub async fn record_labour(door: Door<Records>, body: Checked<NewLabour>) -> Answer {
    door.record(body, async |desk, new| {
        let paid_from = desk.tx.money_account_if_named(new.paid_from).await?;
        let piece = desk.tx.piece_in_work_if_named(new.piece).await?;
        let facts = LabourFacts { paid_from, piece };
        Ok(labour::work(&mut desk.pen(), &facts, new)?)
    })
    .await
}
