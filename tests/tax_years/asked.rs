//! What the preparer is asked.

use serde_json::json;

use super::Workshop;

#[test]
fn what_the_books_do_not_say_is_asked_and_receipts_are_one_question() {
    let shop = Workshop::open();
    let owner = &shop.owner;
    let aunt = owner.has_party("Ottoline Fenn", "family");
    owner.records(
        "/v1/labour",
        json!({ "date": "2025-03-06", "person": "Ottoline Fenn", "party": aunt, "standing": "paid", "hours": "2",
                "paid": "60.00", "paid_from": shop.bank, "episode": shop.episode }),
    );
    for on in ["2025-02-01", "2025-02-02", "2025-02-03"] {
        shop.pays(on, "10.00", json!({ "as": "expense", "class": "supplies" }));
    }
    let sale = json!({ "name": "old dresser", "date": "2025-05-03", "gross": "180.00", "basis_unknown": true,
                       "paid_into": shop.bank, "episode": shop.episode });
    owner.records("/v1/furniture/sale", sale);
    let year = shop.year(2025);
    let said = |topic: &str| {
        let asked = year.asked(topic);
        assert_eq!(asked.len(), 1, "{topic}: {asked:?}");
        asked[0]["question"].as_str().unwrap().to_owned()
    };
    assert!(
        said("receipts_missing").starts_with("No document is stored here with 3 of the year's purchases")
    );
    assert!(said("payments_to_family").starts_with("60.00 was paid to Ottoline Fenn"));
    said("opening_position");
    said("unknown_basis");
    let piece = year.asked("unknown_basis")[0]["about"][0].as_str().unwrap();
    assert_eq!(owner.reads(piece)["name"], "old dresser");
    assert_eq!(year.0["personal_sales"]["gains_taxed"], "0.00");
    assert_eq!(year.0["personal_sales"]["rows"][0]["basis"], json!(null), "unknown is never zero");
    // What is stated is asked no more, and the year after the first is not asked where it began.
    owner.records(
        "/v1/openings",
        json!({ "date": "2025-01-01", "what": "account", "account": shop.bank, "balance": "250.00" }),
    );
    assert!(shop.year(2025).asked("opening_position").is_empty());
    assert!(shop.year(2026).asked("opening_position").is_empty());
}

#[test]
fn stock_at_the_years_end_is_asked_for_until_it_is_counted() {
    let shop = Workshop::open();
    let bought = shop.owner.records(
        "/v1/purchases",
        json!({ "date": "2025-06-02", "paid_from": shop.bank, "total": "54.90", "lines": [{ "text": "plywood",
            "amount": "54.90", "stock": { "material": "plywood", "unit": "square foot", "quantity": "32" } }] }),
    );
    let counts = format!("/v1/materials/{}/counts", bought["things"][0]["id"].as_str().unwrap());
    shop.owner.records(&counts, json!({ "date": "2025-06-30", "counted": "32" }));
    let year = shop.year(2025);
    assert_eq!(year.0["inventory"]["materials_closing"], "54.90");
    assert_eq!(year.asked("year_end_count").len(), 1, "a count in June is no count at the year's end");
    shop.owner.records(&counts, json!({ "date": "2026-01-03", "counted": "32" }));
    assert!(shop.year(2025).asked("year_end_count").is_empty());
}

// What a rate takes or gives on money of another currency is income of its own kind (IRC 988, from memory): the books
// do not work it out, so they say where it lies.
#[test]
fn an_account_in_another_currency_is_asked_about_while_it_moves_or_holds_anything() {
    let shop = Workshop::open();
    let owner = &shop.owner;
    let euros = json!({ "name": "travel account", "kind": "bank", "currency": "EUR", "date": "2025-01-02" });
    let euros = owner.makes("/v1/accounts", euros);
    assert!(shop.year(2025).asked("foreign_money").is_empty(), "an account that never moved");
    let transfer = |date: &str, out: &str, into: &str, amount: &str, received: &str| {
        owner.records(
            "/v1/accounts/transfers",
            json!({ "date": date, "from": out, "to": into, "amount": amount, "received": received }),
        )
    };
    transfer("2025-03-04", &shop.bank, &euros, "110.00", "100.00");
    let back = transfer("2026-02-03", &euros, &shop.bank, "100.00", "110.00");
    let (first, second) = (shop.year(2025), shop.year(2026));
    let asked = first.asked("foreign_money");
    assert!(
        asked[0]["question"].as_str().unwrap().starts_with(
            "travel account is kept in EUR: the rates of its records leave USD 110.00 on it at the year's end."
        ),
        "{asked:?}"
    );
    let standing = owner.reads(asked[0]["about"][0].as_str().unwrap());
    assert_eq!((&standing["balance"], &standing["balance_currency"]), (&json!("110.00"), &json!("USD")));
    assert_eq!(second.asked("foreign_money").len(), 1, "it was emptied in that year");
    assert!(shop.year(2024).asked("foreign_money").is_empty());
    owner.records(
        &format!("/v1/records/{}/reversal", back["id"].as_str().unwrap()),
        json!({ "reason": "never arrived" }),
    );
    assert_eq!(shop.year(2026).asked("foreign_money").len(), 1);
}
