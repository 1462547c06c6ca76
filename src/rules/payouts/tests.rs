use proptest::prelude::*;
use rust_decimal::Decimal;
use serde_json::{Value, json};

use super::*;
use crate::rules::recording::{BooksFacts, Label, Side};
use crate::rules::trial::{
    account, any_weights, asked, attributed, balance, bank, books, cents, cut_to_the_cent, episode, findings,
    given_to, holds_for_any, hundredths, keeps_out_of_closed_days, party, ties, write, write_in,
};

fn statement(more: Value) -> Value {
    let mut body = json!({ "date": "2026-01-21", "platform": party(1), "paid_into": bank().id });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    body
}

fn paid(more: Value) -> Result<Recording, Refusal> {
    write(|pen| receive(pen, bank(), &asked(statement(more))))
}

fn postings(recording: &Recording) -> Vec<String> {
    lines_of(&recording.entries[0])
}

fn lines_of(entry: &crate::rules::journal::Entry) -> Vec<String> {
    let line = |one: &crate::rules::journal::Posting| {
        let class = one.class.map_or("-", TaxClass::as_str);
        format!(
            "{} {} {class} {}",
            one.account.code().split(':').collect::<Vec<_>>()[0],
            one.amount,
            one.tax_year
        )
    };
    entry.postings().iter().map(line).collect()
}

/// Figures of our own; that December's statement paid in January is January's: Pub. 538, Cash Method, from memory.
#[test]
fn a_december_statement_paid_in_january_is_gross_income_of_january() {
    let got = paid(json!({
        "period": "December 2025",
        "lines": [
            { "stream": "advertising", "gross": "600.00", "for": [{ "episode": episode(1), "amount": "450.00" }] },
            { "stream": "memberships", "gross": "200.00" },
        ],
        "fees": "80.00", "tax_withheld": "24.00", "reserve_held": "50.00", "reserve_released": "30.00",
        "net": "676.00",
    }))
    .unwrap();
    assert_eq!(
        postings(&got),
        [
            "money 676.00 - 2026",
            "expense 80.00 commissions_fees 2026",
            "draw 24.00 owner_tax 2026",
            "platform_reserves 50.00 - 2026",
            "platform_reserves -30.00 - 2026",
            "income -600.00 advertising_income 2026",
            "income -200.00 memberships 2026",
        ]
    );
    // Fees 60.00 and 20.00 by gross; the episode has three quarters of the first line.
    assert_eq!(attributed(&got, Side::Income, 1), "450.00");
    assert_eq!(attributed(&got, Side::Fee, 1), "45.00");
    assert_eq!(got.streams, [Stream::Advertising, Stream::Memberships]);
    ties(&got, &[]);
}

#[test]
fn a_net_that_the_figures_do_not_come_to_is_refused_with_both_sums() {
    let wrong =
        json!({ "lines": [{ "stream": "tips", "gross": "100.00" }], "fees": "10.00", "net": "89.00" });
    let said = "/net: gross - fees - tax withheld - reserve held + reserve released + adjustments comes to 90.00, \
                the net says 89.00";
    assert_eq!(findings(paid(wrong)), [said]);
}

#[test]
fn views_weigh_and_nothing_given_means_equal_parts() {
    let shares = |weights: [Option<&str>; 3]| -> Vec<Value> {
        let named = weights.iter().enumerate().map(|(place, weight)| {
            let mut share = json!({ "episode": episode(u128::try_from(place).unwrap() + 1) });
            if let Some(weight) = weight {
                share["weight"] = json!(weight);
            }
            share
        });
        named.collect()
    };
    let of = |weights| {
        let lines = json!([{ "stream": "advertising", "gross": "100.00" }]);
        let got = paid(json!({ "lines": lines, "for": shares(weights), "net": "100.00" })).unwrap();
        ties(&got, &[]);
        [1, 2, 3].map(|number| attributed(&got, Side::Income, number))
    };
    assert_eq!(of([None, None, None]), ["33.34", "33.33", "33.33"]);
    assert_eq!(of([Some("1500"), Some("300"), Some("200")]), ["75.00", "15.00", "10.00"]);
}

#[test]
fn money_taken_back_reduces_the_lines_and_their_episodes() {
    let got = paid(json!({
        "lines": [{ "stream": "advertising", "gross": "100.00", "for": [
            { "episode": episode(1), "amount": "60.00" }, { "episode": episode(2), "amount": "20.00" },
        ] }],
        "adjustments": "-10.00", "net": "90.00",
    }))
    .unwrap();
    assert_eq!(balance(&got, Account::ReturnsAllowances), "10.00");
    assert_eq!(attributed(&got, Side::Income, 1), "54.00");
    assert_eq!(attributed(&got, Side::Income, 2), "18.00");
    ties(&got, &[]);
    let all = json!({
        "lines": [{ "stream": "tips", "gross": "5.00" }], "reserve_released": "9.00", "adjustments": "-6.00",
        "net": "8.00",
    });
    assert_eq!(findings(paid(all)), ["/adjustments: 6.00 was taken back, and the lines bring in 5.00"]);
}

#[test]
fn a_correction_in_your_favour_is_other_income() {
    let got = paid(
        json!({ "lines": [], "adjustments": "12.00", "for": [{ "episode": episode(1) }], "net": "12.00" }),
    );
    let got = got.unwrap();
    assert_eq!(balance(&got, Account::Income(Stream::Other)), "-12.00");
    assert_eq!(attributed(&got, Side::Income, 1), "12.00");
    assert!(got.attributions.iter().all(|one| one.label == Label::Stream(Stream::Other)));
    ties(&got, &[]);
}

#[test]
fn reserves_released_alone_are_no_income() {
    let got = paid(json!({ "lines": [], "reserve_released": "40.00", "net": "40.00" })).unwrap();
    assert!(got.sources.is_empty());
    assert_eq!(balance(&got, Account::PlatformReserves), "-40.00");
    assert_eq!(
        findings(paid(json!({ "lines": [], "net": "0" }))),
        ["/lines: the payout has no line, no reserve released and no adjustment"]
    );
}

#[test]
fn parts_that_can_not_be_are_all_said_at_once() {
    let got = paid(json!({
        "lines": [
            { "stream": "tips", "gross": "10.00", "for": [{ "episode": episode(1), "amount": "10.01" }] },
            { "stream": "tips", "gross": "10.00", "for": [{ "episode": episode(1), "amount": "1.00", "weight": "1" }] },
            { "stream": "tips", "gross": "10.00", "for": [{ "amount": "1.00" }] },
            { "stream": "tips", "gross": "-1.00" },
            { "stream": "tips", "gross": "1.00" },
        ],
        "for": [{ "episode": episode(1), "amount": "1.00" }],
        "net": "39.00",
    }));
    assert_eq!(
        findings(got),
        [
            "/for: the amounts would be taken from each of 2 lines",
            "/lines/0/for: the amounts come to 10.01, the gross is 10.00",
            "/lines/1/for: an amount and a weight are both given",
            "/lines/2/for/0: neither an episode nor a project is named",
            "/lines/3/gross: -1.00 is not more than zero",
        ]
    );
}

#[test]
fn a_foreign_payout_is_brought_over_figure_by_figure_and_still_balances() {
    let euros = account(3, crate::rules::recording::MoneyAccountKind::Bank, "EUR");
    let body = statement(json!({
        "lines": [{ "stream": "affiliate", "gross": "10.01" }, { "stream": "tips", "gross": "10.01" }],
        "fees": "3.33", "net": "16.69", "currency": "EUR", "rate": "1.085",
    }));
    let got = write(|pen| receive(pen, euros, &asked(body))).unwrap();
    // 10.86085 is 10.86 for each line, 3.61305 is 3.61; the net is what is left, not 16.69 at 1.085 = 18.11.
    assert_eq!(balance(&got, Account::Money(euros.id)), "18.11");
    assert_eq!(balance(&got, Account::Income(Stream::Tips)), "-10.86");
    assert!(got.notes.iter().any(|note| note.contains("from EUR to USD at 1.085")));
    ties(&got, &[]);
}

#[test]
fn a_payout_on_a_closed_day_is_refused() {
    let mut closed = books();
    closed.first_open = "2026-02-01".parse().unwrap();
    let body = statement(json!({ "lines": [{ "stream": "tips", "gross": "1.00" }], "net": "1.00" }));
    let refused = write_in(&closed, |pen| receive(pen, bank(), &asked(body)));
    assert_eq!(
        findings(refused),
        ["/date: 2026-01-21 lies in a closed period; the first open day is 2026-02-01"]
    );
}

#[derive(Debug, Clone)]
struct Random {
    lines: Vec<(u32, Vec<u32>)>,
    kept: [u32; 3],
    released: u32,
    adjusted: i64,
    rate: Option<u32>,
}

fn random() -> impl Strategy<Value = Random> {
    let line = (1_u32..500_000, prop::collection::vec(0_u32..1_000, 0..4));
    let lines = prop::collection::vec(line, 1..5);
    (lines, prop::array::uniform3(0_u32..40), 0_u32..10_000, -30_i64..500, prop::option::of(1_u32..5_000_000))
        .prop_map(|(lines, kept, released, adjusted, rate)| Random { lines, kept, released, adjusted, rate })
}

proptest! {
    /// Kept and taken back are percentages of the gross here, so that the statement can be paid.
    #[test]
    fn a_payout_always_balances_and_ties(random in random()) {
        let gross: u32 = random.lines.iter().map(|(gross, _)| gross).sum();
        let text = |cents: i64| Decimal::new(cents, 2).to_string();
        let [fees, withheld, held] = random.kept.map(|percent| i64::from(gross) * i64::from(percent) / 150);
        let adjusted = i64::from(gross) * random.adjusted / 150;
        let released = i64::from(random.released);
        let net = i64::from(gross) - fees - withheld - held + released + adjusted;
        prop_assume!(net >= 0);
        let lines: Vec<Value> = random.lines.iter().map(|(gross, weights)| {
            let shares: Vec<Value> = weights.iter().enumerate().map(|(place, weight)| {
                json!({ "episode": episode(u128::try_from(place).unwrap()), "weight": (weight + 1).to_string() })
            }).collect();
            json!({ "stream": "advertising", "gross": text(i64::from(*gross)), "for": shares })
        }).collect();
        let mut body = statement(json!({
            "lines": lines, "fees": text(fees), "tax_withheld": text(withheld), "reserve_held": text(held),
            "reserve_released": text(released), "adjustments": text(adjusted), "net": text(net),
        }));
        if let Some(rate) = random.rate {
            body["currency"] = json!("EUR");
            body["rate"] = json!(Decimal::new(rate.into(), 6).to_string());
        }
        ties(&write(|pen| receive(pen, bank(), &asked(body))).unwrap(), &[]);
    }
}

/// Figures of our own; that accrual books take income in when it is earned: Pub. 538, Accrual Method, from memory.
#[test]
fn a_december_statement_paid_in_january_is_december_income_of_accrual_books() {
    let accrual = BooksFacts { method: AccountingMethod::Accrual, ..books() };
    let body = |more: Value| asked::<NewPayout>(statement(more));
    let december = || {
        json!({
            "earned_on": "2025-12-31", "lines": [{ "stream": "advertising", "gross": "600.00",
                "for": [{ "episode": episode(1), "amount": "450.00" }] }],
            "fees": "60.00", "tax_withheld": "24.00", "reserve_held": "50.00", "net": "466.00",
        })
    };
    let got = write_in(&accrual, |pen| receive(pen, bank(), &body(december()))).unwrap();
    assert_eq!(
        lines_of(&got.entries[0]),
        [
            "expense 60.00 commissions_fees 2025",
            "income -600.00 advertising_income 2025",
            "platform_receivables 540.00 - 2025",
        ]
    );
    assert_eq!(
        lines_of(&got.entries[1]),
        [
            "money 466.00 - 2026",
            "draw 24.00 owner_tax 2026",
            "platform_reserves 50.00 - 2026",
            "platform_receivables -540.00 - 2026",
        ]
    );
    assert!(got.movements.iter().all(|one| one.date.to_string() == "2025-12-31" && one.entry == Some(0)));
    ties(&got, &[]);
    // The same on the cash basis is January's, and a day after the receipt is refused on either.
    let cash = paid(december()).unwrap();
    assert_eq!((cash.entries.len(), cash.entries[0].date.to_string()), (1, "2026-01-21".to_owned()));
    let mut late = december();
    late["earned_on"] = json!("2026-01-22");
    assert_eq!(
        findings(paid(late)),
        ["/earned_on: earned_on is 2026-01-22, after the money was received on 2026-01-21"]
    );
    let closed = BooksFacts { first_open: "2026-01-01".parse().unwrap(), ..accrual };
    let refused = findings(write_in(&closed, |pen| receive(pen, bank(), &body(december()))));
    assert!(refused[0].starts_with("/earned_on: 2025-12-31 lies in a closed period"), "{refused:?}");
}

#[test]
fn a_payout_is_called_after_its_period_where_the_statement_names_one() {
    let named = |period: Value| {
        let lines = json!([{ "stream": "tips", "gross": "10.00" }]);
        paid(json!({ "period": period, "lines": lines, "net": "10.00" })).unwrap().text
    };
    assert_eq!(named(json!(" December 2025 ")), "payout for December 2025");
    assert_eq!(named(json!("  ")), "payout");
    assert_eq!(named(Value::Null), "payout");
}

#[test]
fn an_adjustment_in_the_owners_favour_is_other_income_and_the_stream_is_named_once() {
    let got =
        |lines: Value, net: &str| paid(json!({ "lines": lines, "adjustments": "5.00", "net": net })).unwrap();
    let tips = got(json!([{ "stream": "tips", "gross": "10.00" }]), "15.00");
    assert_eq!(tips.streams, [Stream::Tips, Stream::Other]);
    assert_eq!(balance(&tips, crate::rules::journal::Account::Income(Stream::Other)), "-5.00");
    let other = got(json!([{ "stream": "other", "gross": "10.00" }]), "15.00");
    assert_eq!(other.streams, [Stream::Other]);
}

// Common practice, no source.
#[test]
fn an_amount_for_one_episode_and_none_for_the_next_is_refused_in_its_own_words() {
    let got = paid(json!({
        "lines": [{ "stream": "tips", "gross": "10.00",
                    "for": [{ "episode": episode(1), "amount": "4.00" }, { "episode": episode(2) }] }],
        "net": "10.00",
    }));
    assert_eq!(findings(got), ["/lines/0/for: some amounts are given and others are not"]);
}

// Common practice, no source.
#[test]
fn a_payout_speaks_of_withheld_tax_only_where_tax_was_withheld() {
    let income = |net: &str| {
        format!("Income is the gross, 100.00, of the day it was received; {net} reached the account.")
    };
    let lines = json!([{ "stream": "tips", "gross": "100.00" }]);
    let taxed = paid(json!({ "lines": lines, "tax_withheld": "24.00", "net": "76.00" })).unwrap();
    let withheld = "The tax withheld, 24.00, is the owner's own tax paid ahead, not an expense.".to_owned();
    assert_eq!(taxed.notes, [income("76.00"), withheld]);
    let untaxed = paid(json!({ "lines": lines, "net": "100.00" })).unwrap();
    assert_eq!(untaxed.notes, [income("100.00")]);
}

// Invariant 8.
#[test]
fn no_platform_pays_on_a_closed_day() {
    keeps_out_of_closed_days("2025-01-01", |pen, date| {
        let body = json!({
            "date": date, "platform": party(1), "paid_into": bank().id, "fees": "80.00", "tax_withheld": "24.00",
            "lines": [{ "stream": "advertising", "gross": "600.00", "for": [{ "episode": episode(1) }] }],
            "reserve_held": "50.00", "net": "446.00",
        });
        receive(pen, bank(), &asked(body))
    });
}

// Invariant 5: the views of each episode share the stream, and the fee follows it.
#[test]
fn a_stream_is_shared_over_its_episodes_to_the_cent() {
    let positive = |weights: Vec<i64>| weights.into_iter().map(|weight| weight + 1).collect::<Vec<_>>();
    holds_for_any(
        &(any_weights().prop_map(positive), 1..900_000_i64, 0..100_i64),
        |(weights, gross, kept)| {
            let fees = gross * kept / 100;
            let views = (1..).zip(&weights);
            let views = views.map(|(number, weight): (u128, &i64)| {
            json!({ "episode": episode(number), "weight": weight.to_string() })
        });
            let line = json!({ "stream": "advertising", "gross": hundredths(gross), "for": views.collect::<Vec<_>>() });
            let body = json!({ "lines": [line], "fees": hundredths(fees), "net": hundredths(gross - fees) });
            let got = paid(body).unwrap();
            cut_to_the_cent(cents(gross), &weights, &given_to(&got, Side::Income, weights.len()))?;
            cut_to_the_cent(
                cents(fees),
                &[1],
                &[Money::sum(cents(0).currency(), given_to(&got, Side::Fee, weights.len())).unwrap()],
            )
        },
    );
}

// Common practice, no source: the first open day is open, and the day of the money too.
#[test]
fn accrual_books_take_income_of_the_first_open_day_and_of_no_day_before_it() {
    let books = BooksFacts {
        method: AccountingMethod::Accrual,
        first_open: "2026-01-01".parse().unwrap(),
        ..books()
    };
    let earned = |on: &str| {
        let body =
            json!({ "earned_on": on, "lines": [{ "stream": "tips", "gross": "100.00" }], "net": "100.00" });
        write_in(&books, |pen| receive(pen, bank(), &asked(statement(body))))
    };
    let got = earned("2026-01-01").unwrap();
    assert_eq!(got.entries[0].date.to_string(), "2026-01-01");
    assert!(findings(earned("2025-12-31"))[0].starts_with("/earned_on: 2025-12-31 lies in a closed period"));
}

#[test]
fn of_several_episodes_all_have_a_weight_or_none_and_one_line_may_name_amounts() {
    let shares = |first: Value, second: Value| {
        let of = |number, mut share: Value| {
            share["episode"] = json!(episode(number));
            share
        };
        json!([of(1, first), of(2, second)])
    };
    let line =
        |shares| json!({ "lines": [{ "stream": "tips", "gross": "90.00", "for": shares }], "net": "90.00" });
    let got = paid(line(shares(json!({ "weight": "2" }), json!({ "weight": "1" })))).unwrap();
    assert_eq!(
        (attributed(&got, Side::Income, 1), attributed(&got, Side::Income, 2)),
        ("60.00".into(), "30.00".into())
    );
    let some = findings(paid(line(shares(json!({ "weight": "2" }), json!({})))));
    assert_eq!(some.len(), 1, "{some:?}");
    let some_amounts = findings(paid(line(shares(json!({ "amount": "2.00" }), json!({})))));
    assert_ne!(some, some_amounts, "each is told what is missing");
    let whole = json!({ "for": [{ "episode": episode(1), "amount": "45.00" }],
                        "lines": [{ "stream": "tips", "gross": "90.00" }], "net": "90.00" });
    assert_eq!(attributed(&paid(whole).unwrap(), Side::Income, 1), "45.00");
}

// Common practice, no source.
#[test]
fn amounts_for_a_statement_of_one_line_are_taken_from_that_line() {
    let got = paid(json!({
        "lines": [{ "stream": "tips", "gross": "10.00" },
                  { "stream": "affiliate", "gross": "5.00", "for": [{ "episode": episode(2) }] }],
        "for": [{ "episode": episode(1), "amount": "4.00" }],
        "net": "15.00",
    }))
    .unwrap();
    assert_eq!([1, 2].map(|number| attributed(&got, Side::Income, number)), ["4.00", "5.00"]);
}

// Common practice, no source.
#[test]
fn a_weight_for_one_episode_and_none_for_the_next_is_refused_in_its_own_words() {
    let got = paid(json!({
        "lines": [{ "stream": "tips", "gross": "10.00",
                    "for": [{ "episode": episode(1), "weight": "1500" }, { "episode": episode(2) }] }],
        "net": "10.00",
    }));
    assert_eq!(findings(got), ["/lines/0/for: some weights are given and others are not"]);
}
