//! Payouts over HTTP.

use actix_web::{get, post};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use crate::rules::payouts::{self, NewPayout};

listed!(Payouts, "payouts", list_payouts "/v1/payouts", read_payout "/v1/payouts/{id}");

/// Receives a platform's payout: income gross by stream, on the day the money reached you.
#[utoipa::path(tag = "payouts", request_body = NewPayout)]
#[post("/v1/payouts")]
pub async fn receive_payout(door: Door<Records>, body: Checked<NewPayout>) -> Answer {
    door.record(body, async |desk, new| {
        let into = desk.tx.money_account(new.paid_into).await?;
        Ok(payouts::receive(&mut desk.pen(), into, new)?)
    })
    .await
}
