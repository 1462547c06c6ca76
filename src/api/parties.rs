//! Parties over HTTP.

use actix_web::{get, patch, post};

use super::batch::recorded;
use super::lists::listed;
use super::revisions::revised;
use crate::rules::ids::PartyId;
use crate::rules::parties::{self, NewParty, PartyLabels};

listed!(Parties, "parties", list_parties "/v1/parties", read_party "/v1/parties/{id}");

recorded!(
    /// Adds a party: a vendor, sponsor, platform, helper, buyer or agency.
    "parties",
    add_party "/v1/parties", add_party_batch "/v1/parties/batch",
    NewParty, NewPartyBatch, async |desk, new| Ok(parties::add(&mut desk.pen(), new)?)
);

revised!(
    /// Changes what a party is called, how it is reached, or its note.
    "parties", PartyLabels, PartyLabelsPatch, PartyId, revise_party "/v1/parties/{id}"
);
