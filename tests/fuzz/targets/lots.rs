//! Stock drawn in any order adds up, and never takes more than a layer holds.
#![no_main]

use chrono::{Days, NaiveDate};
use ledgerboard::rules::materials::{Layer, draw, least_from, periodic};
use ledgerboard::rules::money::{Currency, Money};
use ledgerboard::rules::recording::MaterialsFlow;
use libfuzzer_sys::fuzz_target;
use rust_decimal::Decimal;

fuzz_target!(|sent: (Vec<(u32, u32)>, u64, bool, Vec<(u8, i32, i32)>)| {
    let (layers, taken, averaged, changes) = sent;
    let currency = Currency::find("USD").unwrap();
    let cents = |cents: i64| Money::exact(Decimal::new(cents, 2), currency).unwrap();
    let layers: Vec<Layer> = layers
        .iter()
        .map(|(quantity, cost)| Layer {
            quantity: Decimal::new(i64::from(*quantity) + 1, 6),
            cost: cents(i64::from(*cost)),
        })
        .collect();
    let flow = if averaged { MaterialsFlow::MovingAverage } else { MaterialsFlow::Fifo };
    let taken = Decimal::new(i64::try_from(taken % 1_000_000_000_000).unwrap(), 6);
    let there: Decimal = layers.iter().map(|layer| layer.quantity).sum();
    match draw(flow, &layers, taken, currency) {
        Err(_) => assert!(taken > there),
        Ok(parts) => {
            assert_eq!(parts.iter().map(|part| part.quantity).sum::<Decimal>(), taken);
            for (part, layer) in parts.iter().zip(&layers) {
                assert!(part.quantity <= layer.quantity && part.cost.amount() <= layer.cost.amount());
                assert!(!part.cost.is_negative());
                assert!(part.quantity < layer.quantity || part.cost == layer.cost);
            }
            let whole = periodic(flow, &layers, taken, currency).unwrap();
            let all: Decimal = layers.iter().map(|layer| layer.cost.amount()).sum();
            assert_eq!(whole.issued.amount() + whole.closing.amount(), all);
        }
    }
    let first = NaiveDate::from_ymd_opt(2025, 1, 1).unwrap();
    let changes: Vec<_> = changes
        .iter()
        .map(|(day, quantity, cost)| {
            let layer =
                Layer { quantity: Decimal::new(i64::from(*quantity), 6), cost: cents(i64::from(*cost)) };
            (first + Days::new(u64::from(*day)), layer)
        })
        .collect();
    if let Some(start) = layers.first() {
        let _ = least_from(*start, &changes, first + Days::new(100));
    }
});
