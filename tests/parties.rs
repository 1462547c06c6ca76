//! Parties: anyone money passes to or from.
#![cfg(test)]

use serde_json::json;

use crate::world::World;

#[test]
fn a_vendor_with_receipts_is_not_taken_back_alone() {
    let world = World::open();
    let owner = world.owner();
    let (bank, timber) = (owner.has_account("bank"), owner.has_party("Hollow Oak Timber", "vendor"));
    let receipt = json!({ "date": "2025-03-02", "party": timber, "paid_from": bank, "total": "20.00",
                          "lines": [{ "text": "laths", "amount": "20.00",
                                      "treatments": [{ "as": "expense", "class": "supplies" }] }] });
    owner.records("/v1/purchases", receipt);
    assert_eq!(owner.reads(&format!("/v1/purchases?party={timber}"))["items"].as_array().unwrap().len(), 1);
    let path = format!("/v1/records/{timber}/reversal");
    let reason = json!({ "reason": "a name of our own making" });
    let said = owner.is_refused(409, &path, reason.clone()).error_at("");
    assert!(said.contains("laths"), "{said}");
    owner.records("/v1/entries/1/reversal", reason.clone());
    owner.records(&path, reason);
}

#[test]
fn a_party_without_a_name_or_of_no_known_role_is_refused() {
    let world = World::open();
    let owner = world.owner();
    let reply = owner.is_refused(422, "/v1/parties", json!({ "name": "", "role": "landlord" }));
    assert_eq!(reply.error_at("/name"), "this text is empty | say it in a few words");
    assert!(reply.error_at("/role").contains("vendor"));
    owner.is_refused(422, "/v1/parties", json!({ "name": "  ", "role": "vendor" })).error_at("/name");
}
