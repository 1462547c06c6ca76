//! Invariant 8: on a closed day no tool comes, leaves or is charged to anybody.

use chrono::Days;
use proptest::prelude::*;
use serde_json::json;

use super::life::{BY_HOUR, BY_MONTH, estimate, leaving};
use super::*;
use crate::rules::rows::DisposalKind;
use crate::rules::trial::{asked, holds_for_any, keeps_out_of_closed_days};

#[test]
fn no_tool_comes_or_is_improved_on_a_closed_day() {
    for (origin, paid_from) in [("bought", Some(bank())), ("converted_from_personal", None)] {
        keeps_out_of_closed_days("2025-01-01", |pen, date| {
            let value = paid_from.is_none().then_some("400.00");
            let body = json!({ "name": "table saw", "date": date, "origin": origin, "cost": "649.00",
                               "value": value, "method": "equal_share" });
            acquire(pen, paid_from, &VehiclesAtRate::none(), &asked(body))
        });
    }
    let facts = saw(r#"{ "method": "equal_share" }"#);
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        let body = json!({ "name": "stronger motor", "date": date, "cost": "240.00", "paid_from": bank().id,
                           "method": "equal_share" });
        improve(pen, &facts, bank(), &VehiclesAtRate::none(), &asked(body))
    });
}

#[test]
fn no_tool_leaves_or_is_estimated_anew_on_a_closed_day() {
    for (kind, proceeds) in [(DisposalKind::Sold, Some("400.00")), (DisposalKind::Scrapped, None)] {
        let facts = saw(r#"{ "method": "equal_share" }"#);
        let gone = leaving("2025-03-01", kind, proceeds);
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            let into = gone.paid_into.map(|_| bank());
            let gone = NewDisposal { date, ..gone.clone() };
            dispose(pen, &facts, carried(&facts, "0"), into, &gone)
        });
    }
    let months = NewEstimate { months: Some(36), ..estimate("2025-03-01") };
    let hours = NewEstimate { hours_expected: crate::rules::money::Hours::parse("600"), ..months.clone() };
    for (terms, ask) in [(BY_MONTH, months.clone()), (BY_HOUR, NewEstimate { months: None, ..hours.clone() })]
    {
        let facts = saw(terms);
        keeps_out_of_closed_days("2025-03-01", |pen, date| {
            estimate_anew(pen, &facts, &NewEstimate { date, ..ask.clone() })
        });
    }
}

// A use of a closed day is no refusal: it is kept with its day, and what it bears is of an open one.
#[test]
fn a_use_of_a_closed_day_charges_no_closed_day() {
    for terms in [BY_HOUR, BY_MONTH, r#"{ "method": "equal_share" }"#, r#"{ "method": "expense_now" }"#] {
        let uses = prop::collection::vec((0_u64..300, 1_u128..4), 1..4);
        holds_for_any(&(uses.clone(), uses, 1_u64..300), |(before, late, opens)| {
            let mut facts = saw(terms);
            let logged = |uses: &[(u64, u128)]| {
                let hours = crate::rules::money::Hours::parse("2").filter(|_| terms == BY_HOUR);
                let uses = uses.iter().map(|(after, number)| UseAsked {
                    date: facts.came_on + Days::new(*after),
                    episode: Some(episode(*number)),
                    project: None,
                    hours,
                    share: None,
                });
                NewUses { uses: uses.collect(), note: None }
            };
            let (before, late) = (logged(&before), logged(&late));
            let first_open = facts.came_on + Days::new(opens);
            facts.take_up(&write(|pen| log_uses(pen, &facts, &before)).unwrap());
            let closed = BooksFacts { first_open, ..books() };
            let charged = write_in(&closed, |pen| log_uses(pen, &facts, &late)).unwrap();
            prop_assert!(charged.date >= first_open);
            prop_assert!(charged.attributions.iter().all(|one| one.date >= first_open), "{:?}", charged);
            Ok(())
        });
    }
}

// A share is stated for a whole year, so the year's last day decides.
#[test]
fn no_share_is_stated_for_a_year_whose_last_day_is_closed() {
    let facts = saw(r#"{ "method": "equal_share", "business_share": "80" }"#);
    holds_for_any(&(2025..2030_i32, -400..400_i64), |(year, apart)| {
        let last = chrono::NaiveDate::from_ymd_opt(year, 12, 31).unwrap();
        for apart in [0, 1, apart] {
            let first_open = last + chrono::TimeDelta::days(apart);
            let closed = BooksFacts { first_open, ..books() };
            let ask = asked(json!({ "tax_year": year, "share": "40" }));
            let stated = write_in(&closed, |pen| state_business_share(pen, &facts, &ask));
            prop_assert_eq!(stated.is_ok(), apart <= 0, "{} from {}", year, first_open);
        }
        Ok(())
    });
}
