//! What one day's records come to, to the cent and in whichever order they are written.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rust_decimal::Decimal;

use super::super::super::ids::{EpisodeId, LotId};
use super::super::super::journal::{Account, Entry};
use super::super::super::recording::{CostObject, MaterialsFlow};
use super::super::super::rows::Target;
use super::super::super::trial::{any_shares, asked, by_shares, cut_to_the_cent, episode};
use super::super::{NewIssue, issue};
use super::shelf::*;

/// What leaves one lot that day: how much of it, and to which of two episodes or to nobody.
type Leaving = (i64, Option<bool>);

/// Five lots, of five materials, of the same week.
fn five_lots() -> Shelf {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    for (place, cost) in ["54.90", "33.33", "0.02", "10.00", "7.77"].into_iter().enumerate() {
        let on = day(2025, 3, u32::try_from(place).unwrap() + 1);
        shelf.puts(["tiles", "grout", "glue", "oak", "oil"][place], "7", cost, on);
    }
    shelf
}

/// One lot at the end of the day: what is left, and what it cost.
type Left = (LotId, Decimal, Decimal);

/// How the day ends: every account, every lot and what every episode was given of every source.
fn ends(order: &[usize], leaving: &[Leaving]) -> (BTreeMap<String, Decimal>, Vec<Left>, Vec<String>) {
    let mut shelf = five_lots();
    let date = day(2025, 4, 2);
    let mut entries: Vec<Entry> = Vec::new();
    for place in order {
        let (thousandths, to) = leaving[*place];
        let quantity = Decimal::new(thousandths, 3).to_string();
        let object = if to == Some(true) { EPISODE_B } else { EPISODE_A };
        let ask = shelf.ask(&quantity, date, object);
        let ask = NewIssue { episode: ask.episode.filter(|_| to.is_some()), ..ask };
        let written = shelf.issues_as(*place, &ask, None).unwrap();
        entries.extend(written.entries);
    }
    let mut accounts = BTreeMap::new();
    for posting in entries.iter().flat_map(Entry::postings) {
        *accounts.entry(posting.account.code()).or_insert(Decimal::ZERO) += posting.amount.amount();
    }
    let left = shelf.lots.iter().map(|facts| {
        let left = facts.on(date).unwrap();
        (facts.lot.id, left.quantity, left.cost.amount())
    });
    let left = left.collect();
    let mut given: Vec<_> = shelf.attributed.iter().map(|one| format!("{one:?}")).collect();
    given.sort();
    (accounts, left, given)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    // Common practice, no source: a day's records carry no hour.
    #[test]
    fn issues_of_one_day_from_different_lots_end_the_day_alike_in_any_order(
        leaving in prop::collection::vec((1..=7_000_i64, prop::option::of(any::<bool>())), 5),
        order in Just(vec![0_usize, 1, 2, 3, 4]).prop_shuffle(),
    ) {
        prop_assert_eq!(ends(&order, &leaving), ends(&[0, 1, 2, 3, 4], &leaving));
    }

    // From one lot, a cent of rounding may go with the earlier; nothing of the lot is lost or made by it.
    #[test]
    fn issues_of_one_day_from_one_lot_leave_as_much_of_it_in_any_order(
        leaving in prop::collection::vec((1..=1_400_i64, any::<bool>()), 5),
        order in Just(vec![0_usize, 1, 2, 3, 4]).prop_shuffle(),
    ) {
        let ends = |order: &[usize]| {
            let mut shelf = five_lots();
            for place in order {
                let (thousandths, to_b) = leaving[*place];
                let object = if to_b { EPISODE_B } else { EPISODE_A };
                shelf.issues(0, &Decimal::new(thousandths, 3).to_string(), day(2025, 4, 2), object).unwrap();
            }
            let left = shelf.lots[0].remaining().unwrap();
            let given: Decimal = shelf.attributed.iter().map(|one| one.amount.amount()).sum();
            (left.quantity, left.cost.amount(), given)
        };
        let (one, other) = (ends(&order), ends(&[0, 1, 2, 3, 4]));
        prop_assert_eq!(one.0, other.0);
        for (_, cost, given) in [one, other] {
            prop_assert_eq!(cost + given, shelf_cost());
        }
        prop_assert!((one.1 - other.1).abs() <= Decimal::new(5, 2), "{} and {} are left", one.1, other.1);
    }

    // Invariant 5, of the quantity and of its cost.
    #[test]
    fn what_leaves_for_several_episodes_is_shared_to_the_cent(
        shares in any_shares(), thousandths in 1..=7_000_i64,
    ) {
        let mut shelf = five_lots();
        let ask = shelf.ask(&Decimal::new(thousandths, 3).to_string(), day(2025, 4, 2), EPISODE_A);
        let ask = NewIssue { episode: None, to: asked(by_shares(&shares)), ..ask };
        let got = shelf.writes(|pen, lots| issue(pen, &lots[0], None, &ask)).unwrap();
        let objects = (1..).take(shares.len()).map(|number| CostObject::Episode(EpisodeId(episode(number).0)));
        let objects: Vec<_> = objects.collect();
        let given: Vec<_> = objects.iter().map(|object| attributed(&got, *object)).collect();
        cut_to_the_cent(cost_out(&got), &shares, &given)?;
        prop_assert_eq!(posted(&got, Account::MaterialsOnHand), cost_out(&got).negated());
        let rows = moves(&got);
        let out: Decimal = rows.iter().map(|row| row.quantity).sum();
        prop_assert_eq!(out, -Decimal::new(thousandths, 3));
        prop_assert!(rows.iter().all(|row| objects.iter().any(|object| row.to == Target::Object(*object))));
    }
}

fn shelf_cost() -> Decimal {
    dec("54.90")
}
