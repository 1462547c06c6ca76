//! What holds after any sequence of attributions: to the cent, on every day, whatever was refused in between.

use proptest::prelude::*;
use rust_decimal::Decimal;
use serde_json::{Value, json};

use super::*;
use crate::rules::tie::first_day_out;

/// What somebody tries; most of it fits, some is refused and then changes nothing.
#[derive(Clone, Debug)]
enum Deed {
    GiveOut { source: usize, cents: Option<i64>, month: u32, first: u128 },
    Move { source: usize, cents: Option<i64>, month: u32, from: u128, to: u128 },
    Joint { month: u32, weights: [u8; 3] },
    Overhead { month: u32, weights: [u8; 3], rate: Option<i64> },
}

fn any_deed() -> impl Strategy<Value = Deed> {
    let cents = || prop::option::of(1..9_000_i64);
    prop_oneof![
        (0..3_usize, cents(), 3..13_u32, 1..4_u128)
            .prop_map(|(source, cents, month, first)| { Deed::GiveOut { source, cents, month, first } }),
        (0..3_usize, cents(), 3..13_u32, 1..4_u128, 1..4_u128)
            .prop_map(|(source, cents, month, from, to)| { Deed::Move { source, cents, month, from, to } }),
        (3..13_u32, any::<[u8; 3]>()).prop_map(|(month, weights)| Deed::Joint { month, weights }),
        (3..13_u32, any::<[u8; 3]>(), prop::option::of(1..500_i64))
            .prop_map(|(month, weights, rate)| { Deed::Overhead { month, weights, rate } }),
    ]
}

/// A receipt's line, a lot with waste and a shelf, and a cost of which some went back in summer.
fn three_sources() -> Vec<SourceStanding> {
    let mut lot = spoilt();
    lot.attributed = vec![given(PURCHASE, Counts::Live, "2025-03-03", 1, "60.00")];
    let mut back = not_taken_up(2, "77.77");
    let went = SourceMoved { date: day("2025-07-01"), amount: dollars("-7.77"), ..back.movements[0].clone() };
    back.movements.push(went);
    vec![not_taken_up(1, "100.01"), lot, back]
}

fn on(month: u32) -> String {
    format!("2025-{month:02}-15")
}

fn with_cents(mut body: Value, name: &str, cents: Option<i64>) -> Value {
    if let Some(cents) = cents {
        body[name] = json!(Decimal::new(cents, 2).to_string());
    }
    body
}

fn tries(sources: &[SourceStanding], deed: &Deed) -> Result<Recording, Refusal> {
    match *deed {
        Deed::GiveOut { source, cents, month, first } => {
            let objects = json!([{ "episode": episode(first) }, { "episode": episode(first % 3 + 1) }]);
            let body = json!({ "date": on(month), "source": sources[source].source.id, "for": objects,
                               "category": "materials" });
            write(|pen| give_out(pen, &sources[source], &asked(with_cents(body, "amount", cents))))
        }
        Deed::Move { source, cents, month, from, to } => {
            let body = json!({ "date": on(month), "source": sources[source].source.id,
                               "from_episode": episode(from), "to_episode": episode(to) });
            write(|pen| move_on(pen, &sources[source], &asked(with_cents(body, "amount", cents))))
        }
        Deed::Joint { month, weights } => {
            let ids: Vec<_> = sources.iter().map(|one| one.source.id).collect();
            let over = (1..).zip(weights).map(|(number, weight): (u128, u8)| {
                json!({ "episode": episode(number), "weight": weight.to_string() })
            });
            let body = json!({ "date": on(month), "sources": ids, "over": over.collect::<Vec<_>>() });
            let facts = JointFacts { named: sources.to_vec(), of_records: Vec::new() };
            write(|pen| split_joint(pen, &facts, &asked(body)))
        }
        Deed::Overhead { month, weights, rate } => {
            let basis = (1..).zip(weights).map(|(number, weight)| (episode(number), Decimal::from(weight)));
            let body =
                json!({ "date": on(month), "from": "2025-01-01", "to": "2025-12-31", "by": "own_hours" });
            let facts = OverheadFacts { pool: sources.to_vec(), basis: basis.collect(), stated: None };
            write(|pen| spread_overhead(pen, &facts, &asked(with_cents(body, "rate_per_hour", rate))))
        }
    }
}

fn keeps(sources: &mut [SourceStanding], recording: &Recording, number: u128) {
    for one in &recording.attributions {
        let source = sources.iter_mut().find(|source| source.source.id == one.source).unwrap();
        source.attributed.push(SourceGiven {
            record: RecordId(Uuid::from_u128(1_000 + number)),
            counts: Counts::Live,
            date: one.date,
            object: one.object,
            label: one.label,
            amount: one.amount,
        });
    }
}

/// On every day no more is given than there is off the shelf, and nothing that stands anywhere is below zero.
fn holds(sources: &[SourceStanding]) {
    for source in sources {
        let moved = source.movements.iter().map(|one| (one.date, one.amount.amount(), Decimal::ZERO));
        let shelf = source.shelf.iter().map(|one| (one.date, -one.cost.amount(), Decimal::ZERO));
        let given = source.attributed.iter().map(|one| (one.date, Decimal::ZERO, one.amount.amount()));
        let out = first_day_out(moved.chain(shelf).chain(given), None);
        assert_eq!(out, None, "{}", source.source.text);
        let mut standing: BTreeMap<(CostObject, Label), Vec<(NaiveDate, Money)>> = BTreeMap::new();
        for one in &source.attributed {
            standing.entry((one.object, one.label)).or_default().push((one.date, one.amount));
        }
        for changes in standing.into_values() {
            let first = changes.iter().map(|(date, _)| *date).min().unwrap();
            assert!(!least_from(changes, first, dollars("0.00")).unwrap().is_negative());
        }
    }
}

proptest! {
    #[test]
    fn whatever_is_given_out_moved_split_or_spread_every_source_holds_on_every_day(
        deeds in prop::collection::vec(any_deed(), 1..25),
    ) {
        let mut sources = three_sources();
        holds(&sources);
        for (number, deed) in (0..).zip(&deeds) {
            // A refusal is an answer too: it changes nothing.
            let Ok(recording) = tries(&sources, deed) else { continue };
            prop_assert!(recording.entries.is_empty() && recording.movements.is_empty());
            if let Deed::Move { .. } = deed {
                let sum: Decimal = recording.attributions.iter().map(|one| one.amount.amount()).sum();
                prop_assert_eq!(sum, Decimal::ZERO);
            } else {
                prop_assert!(recording.attributions.iter().all(|one| one.amount.is_positive()));
            }
            keeps(&mut sources, &recording, number);
            holds(&sources);
        }
    }

    // Common practice, no source: a day's records carry no hour.
    #[test]
    fn what_is_given_out_of_different_sources_on_one_day_comes_to_the_same_in_any_order(
        cents in prop::collection::vec(1..=1_000_i64, 4), first in prop::collection::vec(1..4_u128, 4),
        order in Just(vec![0_usize, 1, 2, 3]).prop_shuffle(),
    ) {
        let ends = |order: &[usize]| {
            let mut sources: Vec<_> = (1..5).map(|number| not_taken_up(number, "10.00")).collect();
            for (number, place) in (0..).zip(order) {
                let deed = Deed::GiveOut { source: *place, cents: Some(cents[*place]), month: 4, first: first[*place] };
                let recording = tries(&sources, &deed).unwrap();
                keeps(&mut sources, &recording, number);
            }
            holds(&sources);
            let given = |source: &SourceStanding| {
                source.attributed.iter().map(|one| (one.date, one.object, one.amount)).collect::<Vec<_>>()
            };
            sources.iter().map(given).collect::<Vec<_>>()
        };
        prop_assert_eq!(ends(&order), ends(&[0, 1, 2, 3]));
    }

    #[test]
    fn all_that_is_left_is_spread_to_the_cent_and_another_order_of_episodes_moves_ties_only(
        cents in prop::collection::vec(1..50_000_i64, 1..6),
        weights in prop::collection::vec(1..2_000_i64, 1..6),
        turn in 0..6_usize,
    ) {
        let pool: Vec<_> = (1..).zip(&cents)
            .map(|(number, cents)| not_taken_up(number, &Decimal::new(*cents, 2).to_string())).collect();
        let spread = |weights: &[(u128, i64)]| {
            let basis = weights.iter().map(|(number, weight)| (episode(*number), Decimal::new(*weight, 2)));
            let facts = OverheadFacts { pool: pool.clone(), basis: basis.collect(), stated: None };
            let body = json!({ "date": "2025-12-31", "from": "2025-01-01", "to": "2025-12-31", "by": "own_hours" });
            let got = write(|pen| spread_overhead(pen, &facts, &asked(body))).unwrap();
            let mut parts: BTreeMap<CostObject, Decimal> = BTreeMap::new();
            for one in &got.attributions {
                *parts.entry(one.object).or_default() += one.amount.amount();
            }
            for source in &pool {
                let of = got.attributions.iter().filter(|one| one.source == source.source.id);
                let sum: Decimal = of.map(|one| one.amount.amount()).sum();
                assert_eq!(sum, source.movements[0].amount.amount(), "each cost is used up");
            }
            parts
        };
        let order: Vec<(u128, i64)> = (1..).zip(weights.iter().copied()).collect();
        let mut turned = order.clone();
        turned.rotate_left(turn % order.len());
        let (one, other) = (spread(&order), spread(&turned));
        let all: i64 = cents.iter().sum();
        prop_assert_eq!(one.values().sum::<Decimal>(), Decimal::new(all, 2));
        let total: i64 = weights.iter().sum();
        let rest = |weight: i64| (i128::from(all) * i128::from(weight)) % i128::from(total);
        for (number, weight) in &order {
            let object = CostObject::Episode(episode(*number));
            let get = |parts: &BTreeMap<CostObject, Decimal>| parts.get(&object).copied().unwrap_or_default();
            let tied = order.iter().any(|(of, another)| of != number && rest(*another) == rest(*weight));
            let moved = (get(&one) - get(&other)).abs();
            prop_assert!(moved.is_zero() || tied && moved == Decimal::new(1, 2), "{number} moved by {moved}");
        }
    }
}
