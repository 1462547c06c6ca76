//! Opening positions over HTTP.

use actix_web::{get, post};

use super::batch::recorded;
use super::lists::listed;
use crate::rules::openings::{self, NewOpening, OpeningFacts};

listed!(Openings, "openings", list_openings "/v1/openings", read_opening "/v1/openings/{id}");

recorded!(
    /// States what an account, a tool, a lot, a piece, a deal or a carry-over was on the day the books begin.
    "openings",
    state_opening "/v1/openings", state_opening_batch "/v1/openings/batch",
    NewOpening, NewOpeningBatch, async |desk, new| {
        let facts = OpeningFacts {
            account: desk.tx.money_account_if_named(new.account).await?,
            stated_on: desk.tx.opening_stated_on(new).await?,
            carried_on: desk.tx.carry_over().await?.map(|(on, _)| on),
            at_rate: desk.tx.vehicles_at_rate_for(new.tool.is_some()).await?,
        };
        Ok(openings::state(&mut desk.pen(), &facts, new)?)
    }
);
