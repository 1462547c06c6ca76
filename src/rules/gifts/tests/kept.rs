//! What goods become by how they came, and what is said of it only where it is so.

use super::*;

fn says(got: &Recording, words: &str) -> bool {
    got.notes.iter().any(|note| note.contains(words))
}

fn kept_as(what: &str, more: Value) -> Value {
    let mut body = json!({ "value": "80.00", "fate": "kept_for_business", "kept_as": what });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    body
}

#[test]
fn goods_kept_as_a_tool_need_its_terms_and_goods_kept_as_a_piece_a_purpose_and_no_empty_name() {
    let said = |body| findings(came(body));
    assert_eq!(
        said(kept_as("tool", json!({}))),
        ["/tool: the goods are kept as a tool, and its terms are missing"]
    );
    assert_eq!(
        said(kept_as("piece", json!({}))),
        ["/piece_purpose: the goods are kept as a piece, and its purpose is missing"]
    );
    let nameless = json!({ "piece_purpose": "set", "piece_name": " " });
    assert_eq!(said(kept_as("piece", nameless)), ["/piece_name: the name is empty"]);
    let named = came(kept_as("piece", json!({ "piece_purpose": "set", "piece_name": "oak chair" })));
    assert_eq!(piece_of(&named.unwrap()).name, "oak chair");
}

// Pub. 551 (from memory): a present has the giver's basis, which nobody has told.
#[test]
fn a_present_used_up_is_nothing_in_the_books_and_one_kept_as_a_piece_has_no_known_basis() {
    let present = |mut body: Value| {
        body["relation"] = json!("personal_gift");
        came(body).unwrap()
    };
    let glue = present(kept_as("supplies", json!({})));
    assert!(glue.sources.is_empty() && glue.entries.is_empty());
    assert!(says(&glue, "A private present is not income"));
    let chair = present(kept_as("piece", json!({ "piece_purpose": "set" })));
    assert_eq!(piece_of(&chair).basis, Basis::Unknown);
    let loose = facts_of(&came(json!({ "relation": "personal_gift", "value": "80.00" })).unwrap());
    let home = later(&loose, json!({ "date": "2026-05-02", "fate": "kept_personally" })).unwrap();
    assert!(home.entries.is_empty(), "whatever it is worth");
    let mut lent = as_a_tool();
    lent["relation"] = json!("loan");
    assert!(says(&came(lent).unwrap(), "A loan is not income and has no basis"));
}

#[test]
fn a_decision_may_name_other_episodes_and_better_evidence_than_the_day_the_goods_came() {
    let facts = facts_of(&came(json!({ "value": "80.00", "evidence": "a guess" })).unwrap());
    let decide = |more: Value| {
        let mut body = json!({ "date": "2026-04-01", "fate": "kept_for_business", "kept_as": "supplies" });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        later(&facts, body).unwrap()
    };
    let moved = decide(json!({ "for": [for_episode(2)], "evidence": "price list" }));
    assert_eq!(
        (attributed(&moved, Side::Cost, 1), attributed(&moved, Side::Cost, 2)),
        ("0.00".into(), "80.00".into())
    );
    assert_eq!(facts_of(&moved).gift.evidence.as_deref(), Some("price list"));
    let same = decide(json!({}));
    assert_eq!(attributed(&same, Side::Cost, 1), "80.00");
    assert_eq!(facts_of(&same).gift.evidence.as_deref(), Some("a guess"));
}

// Derived: the first open day is open.
#[test]
fn goods_that_came_on_the_first_open_day_are_income_of_that_day_without_a_word() {
    let facts = facts_of(&came(json!({ "value": "80.00" })).unwrap());
    let from = |first_open: &str, fate: &str| {
        let mut open = books();
        open.first_open = first_open.parse().unwrap();
        let body = asked(json!({ "date": "2026-04-01", "fate": fate }));
        write_in(&open, |pen| decide(pen, &facts, &VehiclesAtRate::none(), &body)).unwrap()
    };
    let open = from("2026-02-03", "kept_personally");
    assert_eq!(open.entries[0].date.to_string(), "2026-02-03");
    assert!(!says(&open, "is closed"), "{:?}", open.notes);
    let closed = from("2026-02-04", "kept_personally");
    assert_eq!(closed.entries[0].date.to_string(), "2026-04-01");
    assert!(says(&closed, "2026-02-03 is closed"));
    assert!(!says(&from("2026-02-04", "returned"), "is closed"), "nothing is posted, so nothing changes");
}

#[test]
fn only_a_loan_that_is_kept_is_said_to_be_income_of_the_day_it_is_kept() {
    let kept = |relation: &str| {
        let facts = facts_of(&came(json!({ "relation": relation })).unwrap());
        let body = json!({ "date": "2026-05-02", "fate": "kept_personally", "value": "350.00" });
        says(&later(&facts, body).unwrap(), "A loan that need not go back is income")
    };
    assert!(kept("loan"));
    assert!(!kept("promotion") && !kept("personal_gift"));
}

#[test]
fn a_fate_has_a_day_as_soon_as_it_is_decided() {
    let fate_on = |body| facts_of(&came(body).unwrap()).gift.fate_on.map(|day| day.to_string());
    assert_eq!(fate_on(json!({ "value": "80.00" })), None);
    assert_eq!(fate_on(json!({ "value": "80.00", "fate": "returned" })).as_deref(), Some("2026-02-03"));
}

#[test]
fn goods_of_a_deal_may_come_from_the_sponsor_or_from_the_agency() {
    let deal = |sponsor, agency| Deal {
        id: DealId(Uuid::from_u128(500)),
        sponsor: party(sponsor),
        agency: Some(party(agency)),
        title: "Bracket shelf".to_owned(),
        agreed_on: "2026-01-01".parse().unwrap(),
        agreed: dollars("1.00"),
        paid_before: dollars("0"),
    };
    let from = |sponsor, agency| {
        let deal = (deal(sponsor, agency), RecordId(Uuid::from_u128(501)));
        let body = asked(goods(json!({ "deal": deal.0.id })));
        write(|pen| receive(pen, Some(&deal), &VehiclesAtRate::none(), &body)).is_ok()
    };
    assert!(from(1, 2) && from(2, 1));
    assert!(!from(2, 3));
}
