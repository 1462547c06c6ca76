//! The report on overhead.

use uuid::Uuid;

use super::super::{
    DatedAmount, OverOrUnder, OverheadCost, OverheadReport, OverheadReportFacts, Period, SpreadFacts,
    overhead_report,
};
use crate::rules::ids::{OverheadPoolId, RecordId};
use crate::rules::journal::ExpenseClass;
use crate::rules::money::Money;
use crate::rules::rows::{OverheadBasis, OverheadEstimate, OverheadPool, OverheadRate, OverheadSpread};
use crate::rules::trial::{day, dollars, episode, findings, usd};

const STUDIO: OverheadPoolId = OverheadPoolId(Uuid::from_u128(40));

fn studio() -> OverheadPool {
    OverheadPool {
        id: STUDIO,
        name: "studio rent".to_owned(),
        from: day("2025-01-01"),
        to: day("2025-12-31"),
        classes: vec![ExpenseClass::RentProperty],
        records: Vec::new(),
        estimate: Some(OverheadEstimate { cost: dollars("7200.00"), hours: "600".parse().unwrap() }),
    }
}

fn cost(class: ExpenseClass, changes: &[(&str, &str)]) -> OverheadCost {
    let change = |(on, amount): &(&str, &str)| DatedAmount { date: day(on), amount: dollars(amount) };
    OverheadCost {
        record: RecordId(Uuid::from_u128(7)),
        classes: vec![class],
        changes: changes.iter().map(change).collect(),
    }
}

fn spread(number: u128, rate: OverheadRate, applied: &str, there: &str, to: &[(u128, &str)]) -> SpreadFacts {
    let borne: Vec<_> = to.iter().map(|(number, part)| (episode(*number), dollars(part))).collect();
    let spread = Money::sum(usd(), borne.iter().map(|(_, part)| *part)).unwrap();
    let row = OverheadSpread {
        pool: Some(STUDIO),
        date: day("2025-12-31"),
        from: day("2025-01-01"),
        to: day("2025-12-31"),
        by: if rate == OverheadRate::Actual { OverheadBasis::Costs } else { OverheadBasis::OwnHours },
        rate,
        base: "580".parse().unwrap(),
        applied: dollars(applied),
        there: dollars(there),
        spread,
    };
    SpreadFacts { record: RecordId(Uuid::from_u128(number)), row, borne }
}

fn reports(costs: Vec<OverheadCost>, spreads: Vec<SpreadFacts>) -> OverheadReport {
    let period = Period { from: Some(day("2025-06-01")), to: Some(day("2025-06-30")) };
    overhead_report(&OverheadReportFacts { currency: usd(), period, pools: vec![studio()], spreads, costs })
        .unwrap()
}

// Derived from the studio of a small workshop: 7,200 over 600 hours is 12.00 an hour; 580 hours bear 6,960 of 7,134, so
// 174 are under-applied; by balances of 1,500, 2,500 and 6,000 that is 26.10, 43.50 and 104.40.
#[test]
fn a_studio_was_under_applied_by_174_and_the_report_says_which_episodes_took_it() {
    let rent = cost(ExpenseClass::RentProperty, &[("2025-01-05", "7000.00"), ("2025-12-30", "134.00")]);
    let ahead = || spread(1, OverheadRate::Estimated, "6960.00", "7134.00", &[(1, "510.00"), (2, "6450.00")]);
    let found = reports(vec![rent.clone()], vec![ahead()]);
    let [studio] = found.pools.as_slice() else { panic!("one pool") };
    assert_eq!(
        (studio.rate_per_hour.unwrap().to_string(), studio.name.as_str()),
        ("12".into(), "studio rent")
    );
    assert_eq!((studio.applied, studio.actual), (dollars("6960.00"), dollars("7134.00")));
    assert_eq!((studio.difference, studio.over_or_under), (dollars("174.00"), OverOrUnder::Under));
    assert_eq!((studio.left, studio.disposed), (dollars("174.00"), dollars("0.00")));
    assert_eq!(studio.notes, ["Under-applied by 174.00.", "174.00 is left that no episode bears."]);
    let rest =
        spread(2, OverheadRate::Actual, "174.00", "174.00", &[(1, "26.10"), (2, "43.50"), (3, "104.40")]);
    let found = reports(vec![rent], vec![ahead(), rest]);
    let studio = &found.pools[0];
    assert_eq!((studio.applied, studio.difference), (dollars("6960.00"), dollars("174.00")), "it stays said");
    assert_eq!(
        (studio.left, studio.disposed, studio.borne),
        (dollars("0.00"), dollars("174.00"), studio.actual)
    );
    assert_eq!(studio.notes[1], "174.00 of the difference was spread by costs on 2025-12-31.");
    assert_eq!(studio.spreads[1].episodes[2].amount, dollars("104.40"));
}

// Derived: the same hours, and the studio cost 6,900.
#[test]
fn a_studio_that_cost_less_than_the_hours_bore_was_over_applied_by_60_and_nothing_is_left() {
    let rent = cost(ExpenseClass::RentProperty, &[("2025-01-05", "6900.00")]);
    let ahead = spread(1, OverheadRate::Estimated, "6960.00", "6900.00", &[(1, "505.60"), (2, "6394.40")]);
    let found = reports(vec![rent], vec![ahead]);
    let studio = &found.pools[0];
    assert_eq!((studio.difference, studio.over_or_under), (dollars("-60.00"), OverOrUnder::Over));
    assert_eq!((studio.left, studio.borne), (dollars("0.00"), dollars("6900.00")));
    assert!(studio.notes[0].starts_with("Over-applied by 60.00"), "{:?}", studio.notes);
    assert_eq!(studio.spreads[0].difference, dollars("-60.00"));
}

// Common practice, no source.
#[test]
fn only_costs_of_the_pools_days_and_classes_count_and_without_an_estimate_there_is_no_difference() {
    let mut pool = studio();
    pool.estimate = None;
    let costs = vec![
        cost(
            ExpenseClass::RentProperty,
            &[("2024-12-31", "600.00"), ("2025-01-01", "600.00"), ("2025-12-31", "-50.00")],
        ),
        cost(ExpenseClass::Insurance, &[("2025-03-01", "90.00")]),
    ];
    let mut alone = spread(3, OverheadRate::Actual, "90.00", "90.00", &[(1, "90.00")]);
    alone.row.pool = None;
    let spreads = vec![spread(1, OverheadRate::Actual, "500.00", "550.00", &[(1, "500.00")]), alone];
    let facts = |from: Option<&str>, to: Option<&str>| OverheadReportFacts {
        currency: usd(),
        period: Period { from: from.map(day), to: to.map(day) },
        pools: vec![pool.clone()],
        spreads: spreads.clone(),
        costs: costs.clone(),
    };
    let found = overhead_report(&facts(None, None)).unwrap();
    let studio = &found.pools[0];
    assert_eq!(
        (studio.actual, studio.applied, studio.left),
        (dollars("550.00"), dollars("500.00"), dollars("50.00"))
    );
    assert_eq!((studio.rate_per_hour, studio.disposed), (None, dollars("0.00")));
    assert_eq!(found.without_pool[0].borne, dollars("90.00"));
    let after = overhead_report(&facts(Some("2026-01-01"), None)).unwrap();
    assert_eq!((after.pools.len(), after.without_pool.len()), (0, 0));
    let refused = findings(overhead_report(&facts(Some("2026-01-01"), Some("2025-01-01"))));
    assert!(refused[0].starts_with("/from: the statement would end"), "{refused:?}");
}

// Common practice, no source.
#[test]
fn a_pool_is_in_the_report_of_every_period_that_has_one_of_its_days() {
    let pools = |from: &str, to: &str| {
        let period = Period { from: Some(day(from)), to: Some(day(to)) };
        let (spreads, costs) = (Vec::new(), Vec::new());
        let facts = OverheadReportFacts { currency: usd(), period, pools: vec![studio()], spreads, costs };
        overhead_report(&facts).unwrap().pools.len()
    };
    assert_eq!(pools("2024-01-01", "2025-01-01"), 1, "its first day");
    assert_eq!(pools("2024-01-01", "2024-12-31"), 0);
    assert_eq!(pools("2025-12-31", "2026-12-31"), 1, "its last day");
    assert_eq!(pools("2026-01-01", "2026-12-31"), 0);
}

// Derived: 600 hours at 12.00 bear the 7,200 that there was.
#[test]
fn a_studio_that_cost_what_it_was_estimated_at_leaves_nothing_to_say() {
    let rent = cost(ExpenseClass::RentProperty, &[("2025-01-05", "7200.00")]);
    let ahead = spread(1, OverheadRate::Estimated, "7200.00", "7200.00", &[(1, "7200.00")]);
    let found = reports(vec![rent], vec![ahead]);
    let studio = &found.pools[0];
    assert_eq!((studio.difference, studio.over_or_under), (dollars("0.00"), OverOrUnder::Even));
    assert!(studio.notes.is_empty(), "{:?}", studio.notes);
}

// Common practice, no source.
#[test]
fn a_pool_without_an_estimate_says_so_and_what_was_spread_of_it_is_no_difference() {
    let mut pool = studio();
    pool.estimate = None;
    let facts = OverheadReportFacts {
        currency: usd(),
        period: Period { from: None, to: None },
        pools: vec![pool],
        spreads: vec![spread(1, OverheadRate::Actual, "500.00", "500.00", &[(1, "500.00")])],
        costs: vec![cost(ExpenseClass::RentProperty, &[("2025-01-05", "550.00")])],
    };
    let said = overhead_report(&facts).unwrap().pools.remove(0).notes;
    assert_eq!(
        said,
        [
            "Nothing was estimated: what there is is spread.",
            "500.00 was spread by costs on 2025-12-31.",
            "50.00 is left that no episode bears.",
        ]
    );
}

// Common practice, no source.
#[test]
fn a_pool_takes_the_records_it_names_and_the_classes_it_names_and_nothing_else() {
    let (rent, insurance) = ([ExpenseClass::RentProperty], [ExpenseClass::Insurance]);
    let (studio, named) = (studio(), RecordId(Uuid::from_u128(7)));
    let by_record = OverheadPool {
        id: OverheadPoolId(Uuid::from_u128(41)),
        classes: vec![],
        records: vec![named],
        ..studio.clone()
    };
    let another = RecordId(Uuid::from_u128(8));
    let others = [studio.clone(), by_record.clone()];
    assert!(by_record.takes(&others, named, &insurance));
    assert!(!by_record.takes(&others, another, &insurance));
    assert!(studio.takes(&others, another, &rent));
    assert!(!studio.takes(&others, another, &insurance), "of a class it does not name");
    assert!(!studio.takes(&others, named, &rent), "a record that is named comes before a class");
}
