//! Parties over HTTP.

use actix_web::{get, post};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Records};
use super::lists::listed;
use crate::rules::parties::{self, NewParty};

listed!(Parties, "parties", list_parties "/v1/parties", read_party "/v1/parties/{id}");

/// Adds a party: a vendor, sponsor, platform, helper, buyer or agency.
#[utoipa::path(tag = "parties", request_body = NewParty)]
#[post("/v1/parties")]
pub async fn add_party(door: Door<Records>, body: Checked<NewParty>) -> Answer {
    door.record(body, async |desk, new| Ok(parties::add(&mut desk.pen(), new)?)).await
}
