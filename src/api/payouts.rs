//! Payouts over HTTP.

use actix_web::{get, post};

use super::batch::recorded;
use super::lists::listed;
use crate::rules::payouts::{self, NewPayout};

listed!(Payouts, "payouts", list_payouts "/v1/payouts", read_payout "/v1/payouts/{id}");

recorded!(
    /// Receives a platform's payout: income gross by stream, on the day the money reached you.
    "payouts",
    receive_payout "/v1/payouts", receive_payout_batch "/v1/payouts/batch",
    NewPayout, NewPayoutBatch, async |desk, new| {
        let into = desk.tx.money_account(new.paid_into).await?;
        Ok(payouts::receive(&mut desk.pen(), into, new)?)
    }
);
