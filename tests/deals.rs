//! Deals with sponsors: agreed, paid in parts, paid back, and the price floor.
#![cfg(test)]

mod invoices;
mod listed;
mod promises;

use serde_json::{Value, json};

use crate::world::{Caller, World, postings};

/// A sponsor, an agency, two episodes and a bank account.
struct People {
    owner: Caller,
    sponsor: String,
    agency: String,
    episodes: [String; 2],
    bank: String,
}

fn people(world: &World) -> People {
    let owner = world.owner();
    let project = owner.has_project("The reading room");
    People {
        sponsor: owner.has_party("Quillon Paints", "sponsor"),
        agency: owner.has_party("Marrow & Thistle Agents", "agency"),
        episodes: [owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "Floor")],
        bank: owner.has_account("bank"),
        owner,
    }
}

impl People {
    fn agreed(&self) -> Value {
        json!({
            "date": "2025-11-03", "sponsor": self.sponsor, "agency": self.agency, "title": "Bracket shelf",
            "amount": "1200.00",
            "schedule": [
                { "due_on": "2026-03-01", "amount": "700.00", "what": "on publishing" },
                { "due_on": "2025-12-15", "amount": "500.00", "what": "on signing" } ],
            "promises": [
                { "what": "one minute in the episode", "due_on": "2026-02-20", "episode": self.episodes[0] } ],
            "for": [
                { "episode": self.episodes[0], "share": "75" }, { "episode": self.episodes[1], "share": "25" } ],
        })
    }

    fn standing(&self, deal: &str) -> Value {
        self.owner.reads(&format!("/v1/deals/{deal}/standing"))
    }
}

/// Pub. 538, Cash Method, constructive receipt through an agent; from memory.
#[test]
fn an_instalment_through_an_agency_is_income_of_the_day_the_agency_had_it() {
    let world = World::open();
    let people = people(&world);
    let agreed = people.owner.records("/v1/deals", people.agreed());
    assert_eq!(agreed["entries"], json!([]));
    let deal = agreed["id"].as_str().unwrap();
    let path = format!("/v1/deals/{deal}/instalments");
    let body = json!({ "date": "2026-01-09", "income_on": "2025-12-20", "received_from": "agency",
        "gross": "500.00", "kept_by_agency": "100.00", "kept_by_bank": "3.50", "tax_withheld": "20.00",
        "net": "376.50", "paid_into": people.bank });
    let before = world.rows_written();
    assert_eq!(people.owner.post(&format!("{path}?dry_run=true"), &body).status, 200);
    assert_eq!(world.rows_written(), before);
    let came = people.owner.records(&path, body);
    assert_eq!(came["entries"][0]["date"], "2025-12-20");
    assert_eq!(
        postings(&came["entries"][0]),
        [
            "expense:commissions_fees 100.00 commissions_fees",
            "income:sponsorship -500.00 sponsorship",
            "sponsor_receivables 400.00"
        ]
    );
    assert_eq!(came["entries"][0]["postings"][1]["tax_year"], 2025);
    assert_eq!(came["entries"][1]["date"], "2026-01-09");
    assert_eq!(
        postings(&came["entries"][1]),
        [
            "sponsor_receivables -400.00",
            "money 376.50",
            "expense:bank_fees 3.50 bank_fees",
            "draw:tax_payments 20.00 owner_tax"
        ]
    );
    // Income and fees follow the deal's episodes, three to one.
    let amounts: Vec<_> =
        came["attributions"].as_array().unwrap().iter().map(|one| one["amount"].as_str().unwrap()).collect();
    assert_eq!(amounts, ["375.00", "125.00", "75.00", "25.00", "2.63", "0.87"]);
    let by_stream = people.owner.reads("/v1/deals/records?stream=sponsorship");
    assert_eq!(by_stream["items"].as_array().unwrap().len(), 2);
}

#[test]
fn a_deal_shows_what_was_kept_and_which_instalments_and_promises_are_due() {
    let world = World::open();
    let people = people(&world);
    let deal = people.owner.makes("/v1/deals", people.agreed());
    let path = format!("/v1/deals/{deal}/instalments");
    let nothing = people.standing(&deal);
    assert_eq!((&nothing["paid"], &nothing["open"]), (&json!("0.00"), &json!("1200.00")));
    assert_eq!(nothing["kept"]["gross"], "0.00");
    people.owner.records(
        &path,
        json!({ "date": "2025-12-20", "gross": "600.00", "kept_by_bank": "2.00", "net": "598.00",
                "paid_into": people.bank }),
    );
    let standing = people.standing(&deal);
    assert_eq!((&standing["paid"], &standing["open"]), (&json!("600.00"), &json!("600.00")));
    assert_eq!(
        standing["kept"],
        json!({ "gross": "600.00", "by_agency": "0.00", "by_bank": "2.00", "tax_withheld": "0.00",
                "net": "598.00" })
    );
    // What came in pays the earliest part first; the rest of it goes to the next.
    assert_eq!(
        standing["open_instalments"],
        json!([{ "due_on": "2026-03-01", "what": "on publishing", "amount": "700.00", "open": "600.00" }])
    );
    assert_eq!(
        standing["promises"],
        json!([{ "id": standing["promises"][0]["id"], "due_on": "2026-02-20", "what": "one minute in the episode", "episode": people.episodes[0] }])
    );
}

#[test]
fn more_than_agreed_and_a_net_that_does_not_add_up_are_refused_with_every_sum() {
    let world = World::open();
    let people = people(&world);
    let deal = people.owner.makes("/v1/deals", people.agreed());
    let path = format!("/v1/deals/{deal}/instalments");
    let before = world.rows_written();
    let net = json!({ "date": "2025-12-20", "gross": "500.00", "kept_by_agency": "100.00", "net": "410.00",
                      "paid_into": people.bank });
    assert_eq!(
        people.owner.is_refused(422, &path, net).error_at("/net"),
        "gross less what agency, bank and tax office kept comes to 400.00, the net says 410.00 | \
         correct net or one of the other figures"
    );
    let mut much = json!({ "date": "2025-12-20", "gross": "1200.01", "net": "1200.01",
                           "paid_into": people.bank });
    let refused = people.owner.is_refused(409, &path, much.clone());
    assert!(refused.error_at("/gross").starts_with(
        "1200.00 is agreed and 0.00 came in so far: 1200.01 more is 0.01 too much | correct the sum"
    ));
    let early = json!({ "date": "2025-10-20", "income_on": "2025-10-21", "gross": "5.00", "net": "5.00",
                        "paid_into": people.bank });
    let early = people.owner.is_refused(422, &path, early);
    assert!(early.error_at("/date").contains("before the deal was agreed on 2025-11-03"));
    assert!(early.error_at("/income_on").contains("after the money was received"));
    let mut schedule = people.agreed();
    schedule["amount"] = json!("1300.00");
    assert_eq!(
        people.owner.is_refused(422, "/v1/deals", schedule).error_at("/schedule"),
        "the instalments due come to 1200.00, the deal says 1300.00 | \
         correct amount or an instalment of the schedule"
    );
    assert_eq!(world.rows_written(), before);
    much["beyond"] = json!("agreed_extra");
    people.owner.records(&path, much);
    assert_eq!(people.standing(&deal)["open"], "0.00");
}

#[test]
fn a_deal_in_another_currency_counts_in_its_own_and_posts_at_the_rate_of_the_day() {
    let world = World::open();
    let people = people(&world);
    let deal = people.owner.makes(
        "/v1/deals",
        json!({ "date": "2025-11-03", "sponsor": people.sponsor, "title": "Linseed oil", "amount": "1000.00",
                "currency": "EUR" }),
    );
    let path = format!("/v1/deals/{deal}/instalments");
    let mut body = json!({ "date": "2025-12-20", "gross": "600.00", "kept_by_bank": "10.00", "net": "590.00",
                           "paid_into": people.bank });
    people.owner.is_refused(422, &path, body.clone()).error_at("/rate");
    body["rate"] = json!("1.085");
    let came = people.owner.records(&path, body.clone());
    assert_eq!(
        postings(&came["entries"][0]),
        ["income:sponsorship -651.00 sponsorship", "money 640.15", "expense:bank_fees 10.85 bank_fees"]
    );
    let standing = people.standing(&deal);
    assert_eq!((&standing["currency"], &standing["open"]), (&json!("EUR"), &json!("400.00")));
    assert_eq!(standing["kept"]["net"], "640.15");
    // Another rate does not make room: the total is held against euros.
    body["gross"] = json!("400.01");
    body["net"] = json!("390.01");
    body["rate"] = json!("0.5");
    people.owner.is_refused(409, &path, body);
}

/// Schedule C instructions, line 2 (returns and allowances); from memory.
#[test]
fn what_goes_back_to_the_sponsor_is_a_return_and_holds_its_instalment_fast() {
    let world = World::open();
    let people = people(&world);
    let owner = &people.owner;
    let deal = owner.makes("/v1/deals", people.agreed());
    let (came, went) = (format!("/v1/deals/{deal}/instalments"), format!("/v1/deals/{deal}/clawbacks"));
    let back = json!({ "date": "2026-02-01", "amount": "80.00", "paid_from": people.bank });
    let early = owner.is_refused(409, &went, back.clone());
    assert!(early.error_at("/amount").contains("80.00 goes back, and by that day these books show 0.00"));
    let instalment = owner.makes(
        &came,
        json!({ "date": "2025-12-20", "gross": "500.00", "net": "500.00", "paid_into": people.bank }),
    );
    let returned = owner.records(&went, back);
    assert_eq!(
        postings(&returned["entries"][0]),
        ["returns_allowances 80.00 returns_allowances", "money -80.00"]
    );
    let amounts: Vec<_> =
        returned["attributions"].as_array().unwrap().iter().map(|one| one["amount"].clone()).collect();
    assert_eq!(amounts, [json!("-60.00"), json!("-20.00")]);
    let standing = people.standing(&deal);
    assert_eq!((&standing["paid"], &standing["went_back"]), (&json!("420.00"), &json!("80.00")));
    let reason = json!({ "reason": "entered twice" });
    let refused = owner.is_refused(409, &format!("/v1/records/{instalment}/reversal"), reason.clone());
    assert!(refused.error_at("").contains("paid back to the sponsor: Bracket shelf"));
    // With everything that stands on it, the deal goes and leaves no trace in the balance.
    let refused = owner.is_refused(409, &format!("/v1/records/{deal}/reversal"), reason);
    assert!(refused.error_at("").contains("instalment: Bracket shelf"));
    let all = json!({ "reason": "it was never agreed", "dependants": "take_back" });
    owner.records(&format!("/v1/records/{deal}/reversal"), all);
    assert_eq!(owner.reads(&format!("/v1/accounts/{}/standing", people.bank))["balance"], "0.00");
    assert_eq!(owner.get(&format!("/v1/deals/{deal}/standing")).status, 404);
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM movements"), 0);
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM attributions"), 0);
}

#[test]
fn an_instalment_taken_back_makes_room_for_the_right_one() {
    let world = World::open();
    let people = people(&world);
    let deal = people.owner.makes("/v1/deals", people.agreed());
    let path = format!("/v1/deals/{deal}/instalments");
    let whole = json!({ "date": "2025-12-20", "gross": "1200.00", "net": "1200.00",
                        "paid_into": people.bank });
    let first = people.owner.records(&path, whole.clone());
    people.owner.is_refused(409, &path, whole.clone());
    let number = &first["entries"][0]["number"];
    let reason = json!({ "reason": "paid into another account" });
    people.owner.records(&format!("/v1/entries/{number}/reversal"), reason);
    people.owner.records(&path, whole);
    assert_eq!(people.standing(&deal)["paid"], "1200.00");
}

#[test]
fn a_deal_from_before_the_books_counts_what_was_paid_then() {
    let world = World::open();
    let people = people(&world);
    let stated = people.owner.records(
        "/v1/openings",
        json!({ "date": "2023-01-01", "what": "deal",
                "deal": { "sponsor": people.sponsor, "title": "spring series", "agreed_on": "2022-11-02",
                          "amount": "1500.00", "paid_before": "600.00",
                          "for": [{ "episode": people.episodes[1] }] } }),
    );
    let deal = stated["things"][0]["id"].as_str().unwrap();
    let path = format!("/v1/deals/{deal}/instalments");
    let body =
        |sum: &str| json!({ "date": "2023-02-01", "gross": sum, "net": sum, "paid_into": people.bank });
    let much = people.owner.is_refused(409, &path, body("900.01"));
    assert!(much.error_at("/gross").contains("1500.00 is agreed and 600.00 came in so far"));
    let came = people.owner.records(&path, body("900.00"));
    assert_eq!(came["attributions"][0]["episode"], people.episodes[1].as_str());
    let standing = people.standing(deal);
    assert_eq!((&standing["paid"], &standing["open"]), (&json!("1500.00"), &json!("0.00")));
    assert_eq!((&standing["record"], &standing["kept"]["gross"]), (&stated["id"], &json!("900.00")));
    // The opening position can not be taken back under the instalment.
    let stated = stated["id"].as_str().unwrap();
    let reason = json!({ "reason": "another year's" });
    people.owner.is_refused(409, &format!("/v1/records/{stated}/reversal"), reason);
}

/// F = (C + H r / (1 - t)) / (1 - a): (400 + 10 x 30 / 0.75) / 0.80 = 1,000. Common practice, no source.
#[test]
fn an_episode_of_400_and_ten_hours_at_30_needs_1000_and_nothing_is_recorded() {
    let world = World::open();
    let owner = world.owner();
    let before = world.rows_written();
    let body = json!({ "net_cost": "400.00", "own_hours": "10", "pay_per_hour": "30.00",
                       "tax_set_aside": "25", "agency_share": "20" });
    let answer = owner.post("/v1/deals/floor", &body);
    assert_eq!((answer.status, answer.json()["floor"].as_str()), (200, Some("1000.00")));
    assert_eq!(answer.json()["currency"], "USD");
    let nothing_left = json!({ "net_cost": "400.00", "own_hours": "10", "pay_per_hour": "30.00",
                               "tax_set_aside": "100", "agency_share": "120" });
    let refused = owner.is_refused(422, "/v1/deals/floor", nothing_left);
    assert!(refused.error_at("/tax_set_aside").contains("100 % leaves nothing"));
    assert_eq!(world.nobody().post("/v1/deals/floor", &body).status, 401);
    assert_eq!(world.rows_written(), before);
}

#[test]
fn a_stranger_neither_sees_a_deal_nor_gets_paid_on_it() {
    let world = World::open();
    let people = people(&world);
    let stranger = world.stranger();
    let deal = people.owner.makes("/v1/deals", people.agreed());
    let theirs = stranger.has_account("bank");
    let before = world.rows_written();
    assert_eq!(stranger.get(&format!("/v1/deals/records/{deal}")).status, 404);
    assert_eq!(stranger.get(&format!("/v1/deals/{deal}/standing")).status, 404);
    let body = json!({ "date": "2025-12-20", "gross": "5.00", "net": "5.00", "paid_into": theirs });
    stranger.is_refused(404, &format!("/v1/deals/{deal}/instalments"), body);
    let mine = json!({ "date": "2025-12-20", "gross": "5.00", "net": "5.00", "paid_into": theirs });
    let refused = people.owner.is_refused(422, &format!("/v1/deals/{deal}/instalments"), mine);
    assert!(refused.error_at("/paid_into").contains("no accounts with the id"));
    stranger.is_refused(422, "/v1/deals", people.agreed()).error_at("/sponsor");
    assert_eq!(world.rows_written(), before);
}
