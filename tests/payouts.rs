//! Payouts: what platforms' statements say, and the day the money came.
#![cfg(test)]

use serde_json::{Value, json};

use crate::world::{Caller, Kept, World, postings};

struct People {
    owner: Caller,
    platform: String,
    episodes: [String; 2],
    balance: String,
}

fn people(world: &World) -> People {
    let owner = world.owner();
    let project = owner.has_project("The reading room");
    People {
        platform: owner.has_party("Lanternwide", "platform"),
        episodes: [owner.has_episode(&project, "Shelves"), owner.has_episode(&project, "Floor")],
        balance: owner.has_account("bank"),
        owner,
    }
}

impl People {
    fn statement(&self, more: Value) -> Value {
        let mut body = json!({ "date": "2026-01-21", "platform": self.platform, "paid_into": self.balance });
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        body
    }
}

fn amounts(recorded: &Value) -> Vec<&str> {
    let given = recorded["attributions"].as_array().unwrap();
    given.iter().map(|one| one["amount"].as_str().unwrap()).collect()
}

/// Schedule C instructions, line 1 (gross receipts), and Pub. 538, Cash Method; from memory.
#[test]
fn a_december_payout_received_in_january_is_januarys_gross_by_stream_with_its_fees_spread() {
    let world = World::open();
    let people = people(&world);
    let [shelves, floor] = &people.episodes;
    let body = people.statement(json!({
        "period": "December 2025",
        "lines": [
            { "stream": "advertising", "gross": "300.00",
              "for": [{ "episode": shelves, "weight": "2000" }, { "episode": floor, "weight": "1000" }] },
            { "stream": "tips", "gross": "100.00", "for": [{ "episode": floor, "amount": "40.00" }] } ],
        "fees": "40.01", "tax_withheld": "12.00", "net": "347.99" }));
    let before = world.rows_written();
    let shown = people.owner.post("/v1/payouts?dry_run=true", &body);
    assert_eq!((shown.status, world.rows_written()), (200, before));
    let came = people.owner.records("/v1/payouts", body);
    assert_eq!(shown.json()["entries"][0]["postings"], came["entries"][0]["postings"]);
    assert_eq!(
        postings(&came["entries"][0]),
        [
            "money 347.99",
            "expense:commissions_fees 40.01 commissions_fees",
            "draw:tax_payments 12.00 owner_tax",
            "income:advertising -300.00 advertising_income",
            "income:tips -100.00 tips"
        ]
    );
    let years: Vec<_> = came["entries"][0]["postings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["tax_year"].clone())
        .collect();
    assert_eq!((&came["entries"][0]["date"], years), (&json!("2026-01-21"), vec![json!(2026); 5]));
    // 40.01 of fees is 30.01 on the first line and 10.00 on the second; 60.00 of the tips stay unattributed.
    assert_eq!(amounts(&came), ["200.00", "100.00", "20.01", "10.00", "40.00", "4.00"]);
    assert_eq!(people.owner.reads("/v1/payouts?from=2026-01-01")["items"].as_array().unwrap().len(), 1);
    assert_eq!(people.owner.reads("/v1/payouts?to=2025-12-31")["items"], json!([]));
    assert_eq!(people.owner.reads("/v1/payouts?stream=tips")["items"].as_array().unwrap().len(), 1);
    assert_eq!(people.owner.reads("/v1/payouts?stream=affiliate")["items"], json!([]));
}

#[test]
fn a_net_that_does_not_add_up_is_refused_with_both_sums() {
    let world = World::open();
    let people = people(&world);
    let before = world.rows_written();
    let body = people.statement(json!({
        "lines": [{ "stream": "advertising", "gross": "300.00" }], "fees": "40.00", "net": "259.00" }));
    assert_eq!(
        people.owner.is_refused(422, "/v1/payouts", body).error_at("/net"),
        "gross - fees - tax withheld - reserve held + reserve released + adjustments comes to 260.00, \
         the net says 259.00 | correct net or one of the other figures"
    );
    let body = people.statement(json!({
        "lines": [{ "stream": "advertising", "gross": "10.00",
                    "for": [{ "episode": people.episodes[0], "amount": "10.01" }] }],
        "net": "10.00" }));
    let refused = people.owner.is_refused(422, "/v1/payouts", body);
    assert!(refused.error_at("/lines/0/for").contains("the amounts come to 10.01, the gross is 10.00"));
    let body = people.statement(json!({ "lines": [], "net": "0.00" }));
    assert!(people.owner.is_refused(422, "/v1/payouts", body).error_at("/lines").contains("no line"));
    assert_eq!(world.rows_written(), before);
}

#[test]
fn a_reserve_is_income_when_it_is_held_and_only_money_when_it_is_released() {
    let world = World::open();
    let people = people(&world);
    let held = people.owner.records(
        "/v1/payouts",
        people.statement(json!({
            "lines": [{ "stream": "memberships", "gross": "200.00" }], "reserve_held": "50.00",
            "for": [{ "episode": people.episodes[0] }], "net": "150.00" })),
    );
    assert_eq!(
        postings(&held["entries"][0]),
        ["money 150.00", "platform_reserves 50.00", "income:memberships -200.00 memberships"]
    );
    let released = people.owner.records(
        "/v1/payouts",
        people.statement(json!({
            "date": "2026-04-21", "lines": [], "reserve_released": "50.00", "net": "50.00" })),
    );
    assert_eq!(postings(&released["entries"][0]), ["money 50.00", "platform_reserves -50.00"]);
    assert_eq!(released["attributions"], json!([]));
}

#[test]
fn money_a_platform_takes_back_is_a_return_and_less_income_of_its_episodes() {
    let world = World::open();
    let people = people(&world);
    let came = people.owner.records(
        "/v1/payouts",
        people.statement(json!({
            "lines": [{ "stream": "affiliate", "gross": "80.00" }], "adjustments": "-20.00",
            "for": [{ "episode": people.episodes[0] }, { "episode": people.episodes[1] }],
            "net": "60.00" })),
    );
    assert_eq!(
        postings(&came["entries"][0]),
        ["money 60.00", "returns_allowances 20.00 returns_allowances", "income:affiliate -80.00 affiliate"]
    );
    assert_eq!(amounts(&came), ["40.00", "40.00", "-10.00", "-10.00"]);
    let id = came["id"].as_str().unwrap();
    let reason = json!({ "reason": "another channel's statement" });
    people.owner.records(&format!("/v1/records/{id}/reversal"), reason);
    assert_eq!(people.owner.reads(&format!("/v1/accounts/{}/standing", people.balance))["balance"], "0.00");
    assert_eq!(world.count("SELECT sum(amount)::bigint FROM attributions"), 0);
}

#[test]
fn a_payout_in_another_currency_is_converted_figure_by_figure_and_still_balances() {
    let world = World::open();
    let people = people(&world);
    let mut body = people.statement(json!({
        "lines": [{ "stream": "advertising", "gross": "100.01" }, { "stream": "tips", "gross": "33.33" }],
        "for": [{ "episode": people.episodes[0] }],
        "fees": "13.34", "currency": "EUR", "net": "120.00" }));
    let before = world.rows_written();
    people.owner.is_refused(422, "/v1/payouts", body.clone()).error_at("/rate");
    assert_eq!(world.rows_written(), before);
    body["rate"] = json!("1.0853");
    let came = people.owner.records("/v1/payouts", body);
    // 100.01, 33.33 and 13.34 at 1.0853 are 108.540853, 36.173049 and 14.477902.
    assert_eq!(
        postings(&came["entries"][0]),
        [
            "money 130.23",
            "expense:commissions_fees 14.48 commissions_fees",
            "income:advertising -108.54 advertising_income",
            "income:tips -36.17 tips"
        ]
    );
    assert!(came["notes"].to_string().contains("from EUR to USD at 1.0853"));
}

#[test]
fn a_stranger_neither_reads_a_payout_nor_pays_into_these_books() {
    let world = World::open();
    let people = people(&world);
    let body = people.statement(json!({ "lines": [{ "stream": "tips", "gross": "5.00" }], "net": "5.00" }));
    let id = people.owner.makes("/v1/payouts", body.clone());
    let stranger = world.stranger();
    let before = world.rows_written();
    assert_eq!(stranger.get(&format!("/v1/payouts/{id}")).status, 404);
    assert_eq!(stranger.reads("/v1/payouts")["items"], json!([]));
    assert!(
        stranger.is_refused(422, "/v1/payouts", body.clone()).error_at("/paid_into").contains("no accounts")
    );
    assert_eq!(world.nobody().post("/v1/payouts", &body).status, 401);
    assert_eq!(world.rows_written(), before);
}

/// Pub. 538, Accrual Method (income when it is earned), from memory; figures of our own.
#[test]
fn accrual_books_have_a_decembers_statement_in_december_and_its_money_in_january() {
    let world = World::keeping(&Kept {
        method: ledgerboard::rules::recording::AccountingMethod::Accrual,
        ..Kept::usual()
    });
    let people = people(&world);
    let [shelves, _] = &people.episodes;
    let body = people.statement(json!({
        "earned_on": "2025-12-31", "fees": "40.00", "net": "260.00",
        "lines": [{ "stream": "advertising", "gross": "300.00", "for": [{ "episode": shelves }] }] }));
    let came = people.owner.records("/v1/payouts", body);
    assert_eq!(
        postings(&came["entries"][0]),
        [
            "expense:commissions_fees 40.00 commissions_fees",
            "income:advertising -300.00 advertising_income",
            "platform_receivables 260.00"
        ]
    );
    assert_eq!(postings(&came["entries"][1]), ["money 260.00", "platform_receivables -260.00"]);
    for (year, gross) in [(2025, "300.00"), (2026, "0.00")] {
        let summary = people.owner.reads(&format!("/v1/tax-years/{year}/summary"));
        let lines = summary["lines"].as_array().unwrap();
        assert_eq!(lines.iter().find(|one| one["line"] == "1").unwrap()["exact"], gross);
        assert_eq!(summary["reconciliation"]["agrees"], true);
        assert_eq!(summary["reconciliation"]["in_other_ways"], "0.00");
    }
    let statement = people.owner.reads(&format!("/v1/episodes/{shelves}/statement?to=2025-12-31"));
    assert_eq!((&statement["income_total"], &statement["income_fees"]), (&json!("300.00"), &json!("40.00")));
}

// Schedule C instructions, lines 1 and 2, from memory: the gross is on line 1 and what went back on line 2.
#[test]
fn what_statements_correct_is_counted_once_between_gross_and_received() {
    let world = World::open();
    let people = people(&world);
    let statement = |adjustments: &str, net: &str| {
        people.statement(json!({ "lines": [{ "stream": "advertising", "gross": "100.00" }],
            "adjustments": adjustments, "net": net }))
    };
    people.owner.records("/v1/payouts", statement("-30.00", "70.00"));
    people.owner.records("/v1/payouts", statement("20.00", "120.00"));
    let bridge = people.owner.reads("/v1/tax-years/2026/summary")["reconciliation"].clone();
    assert_eq!((&bridge["gross"], &bridge["received"]), (&json!("220.00"), &json!("190.00")), "{bridge}");
    assert_eq!((&bridge["by_statements"], &bridge["in_other_ways"]), (&json!("190.00"), &json!("0.00")));
}
