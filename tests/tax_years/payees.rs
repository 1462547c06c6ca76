//! Information returns through the door.

use serde_json::json;

use super::Workshop;

// IRC 6041(a), payments through 2025: 600 or more (seen in pages on the change).
#[test]
fn a_helper_paid_600_in_a_year_by_bank_is_asked_about_and_one_paid_by_card_is_not() {
    let shop = Workshop::open();
    let owner = &shop.owner;
    let card = owner.has_account("card");
    let hires = |name: &str, account: &str, sums: &[&str]| {
        let party = owner.has_party(name, "helper");
        for sum in sums {
            owner.records(
                "/v1/labour",
                json!({ "date": "2025-03-06", "person": name, "party": party, "standing": "paid", "hours": "8",
                        "paid": sum, "paid_from": account, "episode": shop.episode }),
            );
        }
    };
    hires("Perrin Ashlock", &shop.bank, &["350.00", "250.00"]);
    hires("Wenna Dray", &shop.bank, &["599.99"]);
    hires("Osk Tolland", &card, &["800.00"]);
    let surveyor = owner.has_party("Marl and Daughter", "vendor");
    owner.records(
        "/v1/purchases",
        json!({ "date": "2025-04-02", "paid_from": shop.bank, "party": surveyor, "total": "700.00",
                "lines": [{ "text": "van for the shoot", "amount": "640.00",
                            "treatments": [{ "as": "expense", "class": "rent_equipment" }] },
                          { "text": "tape", "amount": "60.00",
                            "treatments": [{ "as": "expense", "class": "supplies" }] }] }),
    );
    let year = shop.year(2025);
    let shown = year.0["information_returns"]["payees"].as_array().unwrap();
    let shown: Vec<_> = shown
        .iter()
        .map(|one| {
            ["name", "paid_for", "amount", "by_card", "standing"].map(|name| one[name].as_str().unwrap())
        })
        .collect();
    assert_eq!(
        shown,
        [
            ["Marl and Daughter", "rent", "640.00", "0.00", "due"],
            ["Osk Tolland", "services", "0.00", "800.00", "below_threshold"],
            ["Perrin Ashlock", "services", "600.00", "0.00", "due"],
            ["Wenna Dray", "services", "599.99", "0.00", "below_threshold"],
        ]
    );
    assert_eq!(year.0["information_returns"]["threshold"], "600.00");
    let asked = year.asked("information_returns");
    assert_eq!(
        asked[0]["about"],
        json!(["Marl and Daughter: 640.00 for rent", "Perrin Ashlock: 600.00 for services"])
    );
    assert!(shop.year(2026).asked("information_returns").is_empty());
}
