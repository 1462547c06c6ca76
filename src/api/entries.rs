//! Entries over HTTP: the journal, and taking a record back.

mod lists;

use actix_web::{get, post, web};

use super::answer::{Answer, KeptBody};
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::listed;
use crate::rules::entries::{self, NewReversal};
use crate::rules::ids::RecordId;

pub use lists::{list_entries, list_postings};

listed!(Entries, "entries", list_reversals "/v1/reversals", read_reversal "/v1/reversals/{id}");

/// Reads the record that an entry belongs to, with all its entries.
#[utoipa::path(tag = "entries", responses((status = 200, description = "The record", body = KeptBody)))]
#[get("/v1/entries/{number}")]
pub async fn read_entry(door: Door<Reads>, number: web::Path<i64>) -> Answer {
    let number = number.into_inner();
    let record = door.look(async |tx| Ok(tx.record_of_entry(number).await?)).await?;
    door.one(None, record).await
}

/// Takes back the record that an entry belongs to, with all its entries and attributions.
#[utoipa::path(tag = "entries", request_body = NewReversal)]
#[post("/v1/entries/{number}/reversal")]
pub async fn reverse_entry(
    door: Door<Records>,
    number: web::Path<i64>,
    body: Checked<NewReversal>,
) -> Answer {
    let number = number.into_inner();
    door.record(body, async move |desk, new| {
        let record = desk.tx.record_of_entry(number).await?;
        let (chosen, dependants) = desk.tx.record_with_dependants(record).await?;
        Ok(entries::take_back(&desk.pen(), &chosen, &dependants, new)?)
    })
    .await
}

/// Reads any record with its entries and attributions.
#[utoipa::path(tag = "entries", responses((status = 200, description = "The record", body = KeptBody)))]
#[get("/v1/records/{id}")]
pub async fn read_record(door: Door<Reads>, id: web::Path<RecordId>) -> Answer {
    door.one(None, id.into_inner()).await
}

/// Takes back a record, also one that made no entry: own hours, a loan, a count.
#[utoipa::path(tag = "entries", request_body = NewReversal)]
#[post("/v1/records/{id}/reversal")]
pub async fn reverse_record(
    door: Door<Records>,
    id: web::Path<RecordId>,
    body: Checked<NewReversal>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let (chosen, dependants) = desk.tx.record_with_dependants(id).await?;
        Ok(entries::take_back(&desk.pen(), &chosen, &dependants, new)?)
    })
    .await
}
