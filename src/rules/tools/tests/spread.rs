//! The dated rows that carry a tool's cost.

use super::super::spread::Spread;
use crate::rules::recording::CostObject;
use crate::rules::trial::{day, dollars, episode};

// Common practice, no source.
#[test]
fn a_charge_that_just_fits_stands_on_its_own_day_and_one_that_does_not_behind_the_last() {
    let object = |number| CostObject::Episode(episode(number));
    // In between, a reversal had made room only on 1 July.
    let old =
        [(day("2025-04-01"), object(1), dollars("60.00")), (day("2025-07-01"), object(1), dollars("-20.00"))];
    let charged = |wanted: &str| {
        let mut spread = Spread::over(&old, dollars("100.00"), day("2025-01-01"));
        let taken = spread.add(object(2), day("2025-05-01"), dollars(wanted)).unwrap();
        let rows: Vec<_> = spread.into_new().into_iter().map(|row| (row.date, row.amount)).collect();
        (taken, rows)
    };
    let just = dollars("40.00");
    assert_eq!(charged("40.00"), (just, vec![(day("2025-05-01"), just)]));
    let more = dollars("40.01");
    assert_eq!(charged("40.01"), (more, vec![(day("2025-07-01"), more)]));
}
