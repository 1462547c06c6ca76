//! Labour over HTTP.

use actix_web::{get, post};

use super::batch::recorded;
use super::lists::listed;
use crate::rules::labour::{self, LabourFacts, NewLabour};

listed!(Labour, "labour", list_labour "/v1/labour", read_labour "/v1/labour/{id}");

recorded!(
    /// Records hours that somebody worked; only pay enters the ledger.
    "labour",
    record_labour "/v1/labour", record_labour_batch "/v1/labour/batch",
    NewLabour, NewLabourBatch, async |desk, new| {
        let paid_from = desk.tx.money_account_if_named(new.paid_from).await?;
        let piece = desk.tx.piece_in_work_if_named(new.piece).await?;
        let facts = LabourFacts { paid_from, piece };
        Ok(labour::work(&mut desk.pen(), &facts, new)?)
    }
);
