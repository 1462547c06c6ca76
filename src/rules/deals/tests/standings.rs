//! How a deal stands: what was promised, what came in and who kept what of it.

use super::*;
use crate::rules::rows::{Clawback, Instalment, ReceivedFrom};
use crate::rules::trial::is_always_called_something;

fn had(gross: &str, kept: [&str; 3], net: &str) -> Instalment {
    let [agency, bank, withheld] = kept;
    Instalment {
        deal: DealId(Uuid::from_u128(500)),
        counts: dollars(gross),
        gross: dollars(gross),
        settled: dollars("0"),
        exchange_gain: dollars("0"),
        kept_by_agency: dollars(agency),
        kept_by_bank: dollars(bank),
        tax_withheld: dollars(withheld),
        net: dollars(net),
        received_from: ReceivedFrom::Agency,
        income_on: "2026-01-10".parse().unwrap(),
        received_on: "2026-01-20".parse().unwrap(),
    }
}

fn went_back(sum: &str) -> Clawback {
    Clawback {
        deal: DealId(Uuid::from_u128(500)),
        paid_on: "2026-02-10".parse().unwrap(),
        counts: dollars(sum),
        amount: dollars(sum),
    }
}

fn facts() -> DealStandingFacts {
    DealStandingFacts {
        deal: deal("820.00"),
        instalments: vec![
            had("600.00", ["120.00", "8.00", "30.00"], "442.00"),
            had("300.00", ["60.00", "4.00", "15.00"], "221.00"),
        ],
        clawbacks: vec![went_back("50.00"), went_back("30.00")],
        schedule: Vec::new(),
        promises: Vec::new(),
    }
}

// Common practice, no source.
#[test]
fn a_deal_says_who_kept_what_of_all_that_came_in_and_what_went_back() {
    let got = standing(&facts(), usd()).unwrap();
    let kept = got.kept;
    assert_eq!((kept.gross, kept.net), (dollars("900.00"), dollars("663.00")));
    assert_eq!(
        (kept.by_agency, kept.by_bank, kept.tax_withheld),
        (dollars("180.00"), dollars("12.00"), dollars("45.00"))
    );
    assert_eq!((got.went_back, got.paid, got.open), (dollars("80.00"), dollars("820.00"), dollars("380.00")));
    assert_eq!((got.sponsor, got.agency, got.title.as_str()), (party(1), Some(party(2)), "Bracket shelf"));
}

// Common practice, no source.
#[test]
fn promises_stand_by_the_day_they_are_due_each_with_where_it_was_kept() {
    let due = |number: u128, due_on: &str| {
        let mut one = promise(None).standing;
        one.promise.id = PromiseId(Uuid::from_u128(number));
        one.promise.due_on = due_on.parse().unwrap();
        one
    };
    let mut kept = due(610, "2026-02-01");
    let said = PromiseKept {
        promise: kept.promise.id,
        kept_on: "2026-01-30".parse().unwrap(),
        kept_where: Some("from minute four on".to_owned()),
    };
    kept.kept = Some((RecordId(Uuid::from_u128(620)), said));
    let all = DealStandingFacts { promises: vec![due(611, "2026-03-01"), kept], ..facts() };
    let got = standing(&all, usd()).unwrap().promises;
    let days: Vec<_> = got.iter().map(|one| one.due_on.to_string()).collect();
    assert_eq!(days, ["2026-02-01", "2026-03-01"]);
    assert_eq!(got[0].kept_where.as_deref(), Some("from minute four on"));
    assert_eq!(got[0].kept_record, Some(RecordId(Uuid::from_u128(620))));
    assert_eq!(
        (got[0].kept_on.map(|day| day.to_string()), got[1].kept_on),
        (Some("2026-01-30".into()), None)
    );
    assert_eq!((got[1].kept_record, got[1].episode), (None, Some(episode(1))));
}

// Common practice, no source.
#[test]
fn an_instalment_of_the_last_cent_of_a_deal_needs_no_word_of_the_sponsor() {
    let rest = |sum: &str| came_in(&deal("1199.99"), json!({ "gross": sum, "net": sum }));
    assert!(rest("0.01").is_ok());
    assert!(findings(rest("0.02"))[0].starts_with("/gross: "));
}

// Common practice, no source: the first open day is open, and so is the day on which the deal was agreed.
#[test]
fn income_may_be_of_the_first_open_day_and_money_of_the_day_of_the_deal() {
    let open = crate::rules::recording::BooksFacts { first_open: "2026-01-01".parse().unwrap(), ..books() };
    let on = |date: &str| {
        let ask = instalment(json!({ "gross": "1.00", "net": "1.00", "income_on": date }));
        write_in(&open, |pen| receive(pen, &deal("0"), bank(), &ask))
    };
    assert_eq!(on("2026-01-01").unwrap().entries.len(), 2);
    assert!(on("2025-12-31").is_err());
    let that_day = instalment(json!({ "date": "2025-12-01", "gross": "1.00", "net": "1.00" }));
    assert!(write(|pen| receive(pen, &deal("0"), bank(), &that_day)).is_ok());
}

#[test]
fn a_deal_is_called_by_its_title_and_never_by_nothing() {
    is_always_called_something::<DealLabels>("title");
}

// Common practice, no source.
#[test]
fn a_deal_may_be_paid_in_full_before_the_books_began_and_its_promise_kept_on_the_day_it_was_made() {
    assert!(agreed(json!({ "paid_before": "1200.00" })).is_ok());
    let kept = keep_promise(&promise(None), &asked(json!({ "date": "2025-12-01" }))).unwrap();
    assert_eq!(kept.notes, ["In time: it was due on 2026-03-01."]);
}

// Common practice, no source.
#[test]
fn a_sponsor_may_have_back_all_that_came_in_by_that_day() {
    let mut facts = deal("800.00");
    facts.incomes = vec![income(1, "2026-02-10", "600.00", &[(1, "600.00")])];
    let got = goes_back(&facts, "600.00").unwrap();
    assert_eq!(balance(&got, Account::ReturnsAllowances), "600.00");
    facts.incomes[0].since = "2026-02-11".parse().unwrap();
    assert!(findings(goes_back(&facts, "600.00"))[0].contains("show 0.00 received on the deal"));
}

// Pub. 538, constructive receipt (from memory): it is the agency that had the money for the owner.
#[test]
fn only_what_an_agency_had_on_an_earlier_day_is_explained_by_constructive_receipt() {
    let explained = |from: &str, income_on: &str| {
        let body =
            json!({ "gross": "100.00", "net": "100.00", "received_from": from, "income_on": income_on });
        came_in(&deal("0"), body).unwrap().notes.iter().any(|note| note.contains("constructive receipt"))
    };
    assert!(explained("agency", "2026-01-19"));
    assert!(!explained("agency", "2026-01-20"), "the same day");
    assert!(!explained("sponsor", "2026-01-19"));
}

// Derived.
#[test]
fn a_deal_of_no_episode_is_income_of_no_episode_and_its_own_currency_may_be_named() {
    let facts = DealFacts { objects: Vec::new(), ..deal("0") };
    let body = json!({ "gross": "100.00", "kept_by_bank": "1.00", "net": "99.00", "currency": "USD" });
    let got = came_in(&facts, body).unwrap();
    ties(&got, &[]);
    assert_eq!((got.sources.len(), got.attributions.len()), (2, 0));
}
