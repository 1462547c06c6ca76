mod closed_days;
mod invoices;
mod shares;
mod standings;

use proptest::prelude::*;
use serde_json::{Value, json};
use uuid::Uuid;

use super::*;
use crate::rules::ids::{DealId, PromiseId};
use crate::rules::journal::{Account, Draw, ExpenseClass, Stream, TaxClass};
use crate::rules::money::Amount;
use crate::rules::recording::{Recording, Side};
use crate::rules::rows::{InstalmentDue, Promise, PromiseKept, Row};
use crate::rules::trial::{
    asked, attributed, balance, bank, books, dollars, episode, findings, party, ties, usd, write, write_in,
};

fn agreed(more: Value) -> Result<Recording, Refusal> {
    let mut body = json!({
        "date": "2026-01-05", "sponsor": party(1), "agency": party(2), "title": "Bracket shelf", "amount": "1200.00",
    });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    write(|pen| agree(pen, &asked(body)))
}

/// A deal of 1,200.00 over two episodes, three to one, of which `so_far` came in.
fn deal(so_far: &str) -> DealFacts {
    DealFacts {
        deal: Deal {
            id: DealId(Uuid::from_u128(500)),
            sponsor: party(1),
            agency: Some(party(2)),
            title: "Bracket shelf".to_owned(),
            agreed_on: "2025-12-01".parse().unwrap(),
            agreed: dollars("1200.00"),
            paid_before: dollars("0"),
        },
        record: RecordId(Uuid::from_u128(501)),
        gross_so_far: dollars(so_far),
        objects: vec![
            (CostObject::Episode(episode(1)), Decimal::from(75)),
            (CostObject::Episode(episode(2)), Decimal::from(25)),
        ],
        incomes: Vec::new(),
        invoices: Vec::new(),
    }
}

fn instalment(more: Value) -> NewInstalment {
    let mut body = json!({ "date": "2026-01-20", "paid_into": bank().id });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    asked(body)
}

fn came_in(facts: &DealFacts, more: Value) -> Result<Recording, Refusal> {
    write(|pen| receive(pen, facts, bank(), &instalment(more)))
}

#[test]
fn a_deal_with_its_schedule_and_promises_posts_nothing_before_it_is_paid() {
    let got = agreed(json!({
        "schedule": [
            { "due_on": "2026-01-10", "amount": "600.00", "what": "on signing" },
            { "due_on": "2026-03-10", "amount": "600.00", "what": "on publishing" },
        ],
        "promises": [{ "what": "a minute on the brackets", "due_on": "2026-03-01", "episode": episode(1) }],
        "for": [{ "episode": episode(1), "share": "75" }, { "episode": episode(2), "share": "25" }],
    }))
    .unwrap();
    assert!(got.entries.is_empty() && got.sources.is_empty());
    let weights = got.rows.iter().filter_map(|row| match row {
        Row::DealShare(share) => Some(share.weight),
        _ => None,
    });
    assert_eq!(weights.collect::<Vec<_>>(), [Decimal::from(75), Decimal::from(25)]);
    assert_eq!(got.rows.len(), 6);
}

#[test]
fn a_schedule_that_does_not_come_to_the_total_is_refused_with_both_sums() {
    let got = agreed(json!({
        "schedule": [{ "due_on": "2026-01-10", "amount": "600.00", "what": "on signing" }],
        "promises": [{ "what": " ", "due_on": "2026-03-01" }],
        "for": [{ "episode": episode(1), "share": "75" }],
        "paid_before": "1200.01",
    }));
    assert_eq!(
        findings(got),
        [
            "/schedule: the instalments due come to 600.00, the deal says 1200.00",
            "/promises/0/what: the promise is empty",
            "/for: the shares come to 75 %, not to 100 %",
            "/paid_before: 1200.01 is said to be paid already, and 1200.00 is agreed in all",
        ]
    );
}

/// Constructive receipt through an agent: Pub. 538, Cash Method, from memory; figures of our own.
#[test]
fn an_instalment_through_an_agency_is_gross_income_of_the_day_the_agency_had_it() {
    let got = came_in(
        &deal("0"),
        json!({
            "income_on": "2025-12-29", "gross": "600.00", "kept_by_agency": "120.00", "kept_by_bank": "8.00",
            "tax_withheld": "30.00", "net": "442.00", "received_from": "agency",
        }),
    )
    .unwrap();
    let why = "What the agency had for the owner on 2025-12-29 counts as received that day (Pub. 538, constructive \
               receipt, from memory).";
    assert!(got.notes.iter().any(|note| note == why), "{:?}", got.notes);
    let [earned, received] = &got.entries[..] else { panic!("two entries") };
    assert_eq!(
        (earned.date.to_string(), received.date.to_string()),
        ("2025-12-29".into(), "2026-01-20".into())
    );
    let lines = |entry: &crate::rules::journal::Entry| -> Vec<(Account, String, i32)> {
        entry.postings().iter().map(|one| (one.account, one.amount.to_string(), one.tax_year)).collect()
    };
    assert_eq!(
        lines(earned),
        [
            (Account::Expense(ExpenseClass::CommissionsFees), "120.00".into(), 2025),
            (Account::Income(Stream::Sponsorship), "-600.00".into(), 2025),
            (Account::SponsorReceivables, "480.00".into(), 2025),
        ]
    );
    assert_eq!(
        lines(received),
        [
            (Account::SponsorReceivables, "-480.00".into(), 2026),
            (Account::Money(bank().id), "442.00".into(), 2026),
            (Account::Expense(ExpenseClass::BankFees), "8.00".into(), 2026),
            (Account::Draw(Draw::TaxPayments), "30.00".into(), 2026),
        ]
    );
    assert_eq!(attributed(&got, Side::Income, 1), "450.00");
    assert_eq!(attributed(&got, Side::Fee, 1), "96.00");
    assert_eq!(attributed(&got, Side::Fee, 2), "32.00");
    assert_eq!(got.party, Some(party(2)));
    ties(&got, &[]);
}

#[test]
fn an_instalment_received_the_same_day_is_one_entry() {
    let got = came_in(
        &deal("600.00"),
        json!({ "gross": "600.00", "kept_by_bank": "8.00", "net": "592.00", "for": [{ "episode": episode(2) }] }),
    )
    .unwrap();
    assert_eq!(got.entries.len(), 1);
    assert_eq!(balance(&got, Account::SponsorReceivables), "0.00");
    assert_eq!(attributed(&got, Side::Income, 2), "600.00");
    ties(&got, &[]);
}

#[test]
fn a_net_that_the_figures_do_not_come_to_is_refused_with_both_sums() {
    let wrong = json!({ "gross": "600.00", "kept_by_agency": "120.00", "net": "600.00" });
    assert_eq!(
        findings(came_in(&deal("0"), wrong)),
        ["/net: gross less what agency, bank and tax office kept comes to 480.00, the net says 600.00"]
    );
}

#[test]
fn more_than_agreed_needs_the_sponsors_word_for_it() {
    let mut extra = json!({ "gross": "600.01", "net": "600.01" });
    let refused = came_in(&deal("600.00"), extra.clone());
    assert_eq!(refused.as_ref().unwrap_err().standing(), crate::rules::refusal::Standing::Conflict);
    assert_eq!(
        findings(refused),
        ["/gross: 1200.00 is agreed and 600.00 came in so far: 600.01 more is 0.01 too much"]
    );
    extra["beyond"] = json!("agreed_extra");
    ties(&came_in(&deal("600.00"), extra).unwrap(), &[]);
}

#[test]
fn days_out_of_order_and_closed_days_are_refused() {
    let sum = json!({ "gross": "1.00", "net": "1.00", "income_on": "2026-01-21" });
    assert_eq!(
        findings(came_in(&deal("0"), sum)),
        ["/income_on: income_on is 2026-01-21, after the money was received on 2026-01-20"]
    );
    let mut closed = books();
    closed.first_open = "2026-01-01".parse().unwrap();
    let asked = instalment(json!({ "gross": "1.00", "net": "1.00", "income_on": "2025-12-29" }));
    assert_eq!(
        findings(write_in(&closed, |pen| receive(pen, &deal("0"), bank(), &asked))),
        ["/income_on: 2025-12-29 lies in a closed period; the first open day is 2026-01-01"]
    );
    let early = instalment(json!({ "date": "2025-11-30", "gross": "1.00", "net": "1.00" }));
    assert_eq!(
        findings(write(|pen| receive(pen, &deal("0"), bank(), &early))),
        ["/date: 2025-11-30 is before the deal was agreed on 2025-12-01"]
    );
}

/// The rate moves between agreement and payment: the total is held in the deal's own currency.
#[test]
fn a_foreign_deal_is_paid_in_full_at_whatever_rate() {
    let euros = Currency::find("EUR").unwrap();
    let mut facts = deal("0");
    facts.deal.agreed = Amount::parse("1200.00").unwrap().money(euros).unwrap();
    facts.gross_so_far = Amount::parse("600.00").unwrap().money(euros).unwrap();
    let got = came_in(
        &facts,
        json!({ "gross": "600.00", "kept_by_agency": "99.99", "net": "500.01", "rate": "1.333333" }),
    )
    .unwrap();
    assert_eq!(balance(&got, Account::Income(Stream::Sponsorship)), "-800.00");
    ties(&got, &[]);
    let in_dollars = json!({ "gross": "600.00", "net": "600.00", "currency": "USD" });
    assert_eq!(findings(came_in(&facts, in_dollars)), ["/currency: the deal is in EUR, the record in USD"]);
}

fn income(number: u128, since: &str, left: &str, parts: &[(u128, &str)]) -> DealIncome {
    let object = |(number, part): &(u128, &str)| (CostObject::Episode(episode(*number)), dollars(part));
    DealIncome {
        record: RecordId(Uuid::from_u128(600 + number)),
        source: SourceId(Uuid::from_u128(300 + number)),
        since: since.parse().unwrap(),
        left: dollars(left),
        attributed: parts.iter().map(object).collect(),
    }
}

fn goes_back(facts: &DealFacts, sum: &str) -> Result<Recording, Refusal> {
    let body = json!({ "date": "2026-02-10", "amount": sum, "paid_from": bank().id });
    write(|pen| claw_back(pen, facts, bank(), &asked(body)))
}

#[test]
fn a_clawback_is_a_return_and_takes_income_from_the_deals_episodes() {
    let mut facts = deal("800.00");
    facts.incomes = vec![
        income(1, "2026-01-10", "600.00", &[(1, "450.00"), (2, "100.00")]),
        income(2, "2026-02-01", "200.00", &[(2, "200.00")]),
        income(3, "2026-03-01", "400.00", &[(2, "400.00")]),
    ];
    let got = goes_back(&facts, "80.00").unwrap();
    assert_eq!(balance(&got, Account::ReturnsAllowances), "80.00");
    let class = got.entries[0].postings()[0].class;
    assert_eq!(class, Some(TaxClass::ReturnsAllowances));
    let parts: Vec<_> =
        got.attributions.iter().map(|one| (one.source.0.as_u128(), one.amount.to_string())).collect();
    assert_eq!(parts, [(301, "-45.00".into()), (301, "-10.00".into()), (302, "-20.00".into())]);
    // Neither instalment can be taken back while some of it went back to the sponsor.
    let stands_on: Vec<_> = got.depends_on.iter().map(|one| one.0.as_u128()).collect();
    assert_eq!(stands_on, [501, 601, 602]);
    let known: Vec<_> = facts.incomes.iter().map(|one| (one.source, Side::Income)).collect();
    ties(&got, &known);
    assert_eq!(
        findings(goes_back(&facts, "800.01")),
        ["/amount: 800.01 goes back, and by that day these books show 800.00 received on the deal"]
    );
}

#[test]
fn what_came_in_pays_the_earliest_part_first_and_an_overdrawn_deal_owes_no_more_than_agreed() {
    let due = |due_on: &str, amount: &str| InstalmentDue {
        deal: DealId(Uuid::from_u128(500)),
        due_on: due_on.parse().unwrap(),
        amount: dollars(amount),
        what: "a part".to_owned(),
    };
    let stands = |so_far: &str| {
        let facts = DealStandingFacts {
            deal: deal(so_far),
            instalments: Vec::new(),
            clawbacks: Vec::new(),
            schedule: vec![due("2026-03-01", "700.00"), due("2026-01-15", "500.00")],
            promises: Vec::new(),
        };
        let got = standing(&facts, usd()).unwrap();
        let open = got.open_instalments.iter().map(|one| format!("{} {}", one.due_on, one.open));
        (got.open.to_string(), open.collect::<Vec<_>>())
    };
    let parts = |texts: &[&str]| texts.iter().map(|text| (*text).to_owned()).collect::<Vec<_>>();
    assert_eq!(stands("0"), ("1200.00".to_owned(), parts(&["2026-01-15 500.00", "2026-03-01 700.00"])));
    assert_eq!(stands("500.01"), ("699.99".to_owned(), parts(&["2026-03-01 699.99"])));
    assert_eq!(stands("1300.00"), ("0.00".to_owned(), Vec::new()));
    assert_eq!(stands("-80.00"), stands("0"));
}

/// A minute promised by 1 March on the deal of 1 December, kept or not.
fn promise(kept_on: Option<&str>) -> PromiseFacts {
    let deal = deal("0");
    let id = PromiseId(Uuid::from_u128(600));
    let promise = Promise {
        id,
        deal: deal.deal.id,
        what: "a minute on the brackets".to_owned(),
        episode: Some(episode(1)),
        due_on: "2026-03-01".parse().unwrap(),
    };
    let kept = |day: &str| PromiseKept { promise: id, kept_on: day.parse().unwrap(), kept_where: None };
    let kept = kept_on.map(|day| (RecordId(Uuid::from_u128(601)), kept(day)));
    PromiseFacts { deal: deal.deal, record: deal.record, standing: PromiseStanding { promise, kept } }
}

#[test]
fn a_promise_kept_posts_nothing_and_says_whether_it_was_in_time() {
    let kept = |date: &str| {
        let body = json!({ "date": date, "where": " from minute four on " });
        let got = keep_promise(&promise(None), &asked(body)).unwrap();
        assert!(got.entries.is_empty() && got.sources.is_empty() && got.attributions.is_empty());
        assert_eq!(
            (got.depends_on, got.about),
            (vec![deal("0").record], vec![CostObject::Episode(episode(1))])
        );
        let [Row::PromiseKept(row)] = got.rows.as_slice() else { panic!("{:?}", got.rows) };
        assert_eq!(
            (row.kept_on.to_string().as_str(), row.kept_where.as_deref()),
            (date, Some("from minute four on"))
        );
        got.notes.join(" ")
    };
    assert_eq!(kept("2026-03-01"), "In time: it was due on 2026-03-01.");
    assert_eq!(kept("2026-03-02"), "One day late: it was due on 2026-03-01.");
    assert_eq!(kept("2026-04-01"), "31 days late: it was due on 2026-03-01.");
}

#[test]
fn a_promise_is_kept_once_and_not_before_it_was_made() {
    let refused = |kept_on, body: Value| findings(keep_promise(&promise(kept_on), &asked(body)));
    assert_eq!(
        refused(None, json!({ "date": "2025-11-30", "where": " " })),
        ["/date: 2025-11-30 is before the deal was agreed on 2025-12-01", "/where: the place is empty"]
    );
    let again = refused(Some("2026-02-18"), json!({ "date": "2026-02-19" }));
    assert_eq!(again, [": 'a minute on the brackets' was kept on 2026-02-18"]);
}

fn price(more: Value) -> Result<Floor, Refusal> {
    let mut body = json!({ "net_cost": "400.00", "own_hours": "10", "pay_per_hour": "30.00" });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    floor(&asked(body), usd())
}

/// Figures of our own: 400 + 300 / 0.75 = 800, and 800 / 0.80 = 1,000.
#[test]
fn an_episode_of_400_and_ten_hours_at_30_needs_1000_through_an_agency() {
    let got = price(json!({ "tax_set_aside": "25", "agency_share": "20" })).unwrap();
    assert_eq!(got.floor.to_string(), "1000.00");
}

#[test]
fn the_floor_is_rounded_up_and_never_below_zero() {
    let third = json!({ "net_cost": "0", "own_hours": "1", "pay_per_hour": "1.00", "tax_set_aside": "70" });
    // 1 / 0.3 = 3.3333...
    assert_eq!(price(third).unwrap().floor.to_string(), "3.34");
    assert_eq!(price(json!({ "other_income": "100.00" })).unwrap().floor.to_string(), "600.00");
    assert_eq!(price(json!({ "other_income": "5000.00" })).unwrap().floor.to_string(), "0.00");
    assert_eq!(
        findings(price(json!({ "tax_set_aside": "100", "agency_share": "100" }))),
        [
            "/tax_set_aside: 100 % leaves nothing of the price",
            "/agency_share: 100 % leaves nothing of the price"
        ]
    );
}

proptest! {
    #[test]
    fn an_instalment_always_balances_and_ties(
        gross in 1_u32..100_000, kept in prop::array::uniform3(0_u32..33), apart in 0_u32..2,
        rate in prop::option::of(1_u32..3_000_000),
    ) {
        let cents = |sum: u32| Decimal::new(sum.into(), 2).to_string();
        let [agency, bank_kept, withheld] = kept.map(|percent| gross * percent / 100);
        let mut facts = deal("0");
        let mut body = json!({
            "gross": cents(gross), "kept_by_agency": cents(agency), "kept_by_bank": cents(bank_kept),
            "tax_withheld": cents(withheld), "net": cents(gross - agency - bank_kept - withheld),
            "income_on": if apart == 0 { "2026-01-20" } else { "2026-01-02" },
        });
        if let Some(rate) = rate {
            let euros = Currency::find("EUR").unwrap();
            facts.deal.agreed = Amount::parse("1200.00").unwrap().money(euros).unwrap();
            facts.gross_so_far = Money::zero(euros);
            body["rate"] = json!(Decimal::new(rate.into(), 6).to_string());
        }
        // A cent at a rate of a millionth is nothing in the books' currency, and is told so.
        let rate = rate.map_or(Decimal::ONE, |rate| Decimal::new(rate.into(), 6));
        let worth = Decimal::new(gross.into(), 2) * rate;
        match came_in(&facts, body) {
            Ok(got) => ties(&got, &[]),
            refused => {
                prop_assert!(worth < Decimal::new(5, 3), "{} was refused", worth);
                prop_assert_eq!(findings(refused), ["/gross: 0.00 is not more than zero"]);
            }
        }
    }

    #[test]
    fn a_floor_covers_its_cost_and_a_cent_less_does_not(
        cost in 0_u32..1_000_000, hours in 0_u32..400, pay in 0_u32..20_000, tax in 0_u32..99, agency in 0_u32..99,
    ) {
        let cents = |sum: u32| Decimal::new(sum.into(), 2);
        let got = price(json!({
            "net_cost": cents(cost).to_string(), "own_hours": hours.to_string(), "pay_per_hour": cents(pay).to_string(),
            "tax_set_aside": tax.to_string(), "agency_share": agency.to_string(),
        })).unwrap().floor.amount();
        let hundred = Decimal::ONE_HUNDRED;
        let left = |share: u32| hundred - Decimal::from(share);
        // (F x (1 - a) - C) x (1 - t) is what is left for the hours.
        let pays = |price: Decimal| (price * left(agency) - cents(cost) * hundred) * left(tax);
        let wanted = Decimal::from(hours) * cents(pay) * hundred * hundred;
        prop_assert!(pays(got) >= wanted);
        prop_assert!(got.is_zero() || pays(got - Decimal::new(1, 2)) < wanted);
    }
}
