use proptest::prelude::*;

use super::*;
use crate::rules::money::{Amount, Hours, Share};
use crate::rules::rows::DisposalKind;

const TERMS: [&str; 5] = [
    r#"{ "method": "per_use_hour", "hours_expected": "40" }"#,
    r#"{ "method": "straight_line", "months": 7 }"#,
    r#"{ "method": "equal_share" }"#,
    r#"{ "method": "percentages" }"#,
    r#"{ "method": "expense_now" }"#,
];

/// On no day is more attributed than the cost less salvage, or less than nothing to anybody in the end.
fn holds(facts: &ToolFacts) {
    let mut rows = facts.attributed.clone();
    rows.sort_by_key(|(date, ..)| *date);
    let most = facts.tool.cost.minus(facts.tool.salvage).unwrap().amount();
    let days: Vec<_> = rows.iter().map(|(date, ..)| *date).collect();
    for last in days {
        let so_far = rows.iter().filter(|(date, ..)| *date <= last);
        let total: Decimal = so_far.map(|(.., amount)| amount.amount()).sum();
        assert!(total <= most, "{total} of {most} by {last}: {rows:?}");
    }
    for number in 0..4 {
        assert!(!facts.on(number).starts_with('-'), "{rows:?}");
    }
}

proptest! {
    // Invariant: no tool is attributed more than its cost less salvage, by any method, on any day.
    #[test]
    fn no_method_ever_charges_more_than_cost_less_salvage(
        method in 0_usize..5,
        cost in 1_u32..100_000,
        salvage in 0_u32..100,
        calls in prop::collection::vec(
            (prop::collection::vec((0_u64..300, 0_u128..4, 1_u32..3_000), 1..5), 0_u64..200, any::<bool>()), 1..8),
    ) {
        let mut facts = saw(TERMS[method]);
        facts.tool.cost = dollars(&Decimal::new(cost.into(), 2).to_string());
        facts.tool.salvage = dollars(&Decimal::new(salvage.min(cost).into(), 2).to_string());
        facts.held = facts.tool.cost;
        for (uses, closed, anew) in calls {
            let first_open = facts.came_on + chrono::Days::new(closed);
            let books = BooksFacts { first_open, ..books() };
            let uses = uses.into_iter().map(|(after, number, much)| UseAsked {
                date: facts.came_on + chrono::Days::new(after),
                episode: Some(episode(number)),
                project: None,
                hours: Hours::of(Decimal::new(much.into(), 2)).filter(|_| method < 2),
                share: Share::of(Decimal::new(much.into(), 2)).filter(|_| method == 3),
            });
            let new = NewUses { uses: uses.collect(), note: None };
            if let Ok(recording) = write_in(&books, |pen| log_uses(pen, &facts, &new)) {
                facts.take_up(&recording);
            }
            let date = first_open + chrono::Days::new(200);
            let estimate = NewEstimate {
                date,
                hours_expected: Hours::parse("60").filter(|_| method == 0),
                months: Some(13).filter(|_| method == 1),
                salvage: None,
                note: None,
            };
            if anew && let Ok(recording) = write_in(&books, |pen| estimate_anew(pen, &facts, &estimate)) {
                facts.take_up(&recording);
            }
            holds(&facts);
        }
        let gone = NewDisposal {
            date: day("2030-01-01"), kind: DisposalKind::Scrapped, proceeds: Amount::parse("0"), paid_into: None,
            currency: None, rate: None, party: None, note: None,
        };
        let left = write(|pen| dispose(pen, &facts, carried(&facts, "0"), None, &gone)).unwrap();
        facts.take_up(&left);
        prop_assert_eq!(facts.held, facts.attributed_total().unwrap());
    }
}
