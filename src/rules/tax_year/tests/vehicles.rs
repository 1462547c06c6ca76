//! Vehicles and section 179: the cap on heavy ones that carry people.

use super::super::facts::ToolFacts;
use super::super::questions::Topic;
use super::super::summarise;
use super::tools::{row, with_tools};
use super::{dec, no_allowance, tool, usd};
use crate::rules::rows::{Vehicle, VehicleBody};

fn vehicle(gross_pounds: u32, body: VehicleBody, on: &str) -> ToolFacts {
    let suv = tool(1, "80000.00", on).five().section_179("80000.00");
    suv.but(|tool| tool.vehicle = Some(Vehicle { gross_pounds, body }))
}

#[test]
fn a_heavy_vehicle_that_carries_people_takes_no_more_under_section_179_than_its_years_cap() {
    // IRC 179(b)(5): yearly figures seen, that of 2024 in a weak source
    for (year, cap) in [(2023, "28900.00"), (2024, "30500.00"), (2025, "31300.00"), (2026, "32000.00")] {
        let suv = vehicle(6_800, VehicleBody::Passenger, &format!("{year}-03-01"));
        let facts = with_tools(year, vec![suv], vec![no_allowance(year)]);
        let summary = summarise(&facts).unwrap();
        let row = &summary.depreciation.rows[0];
        assert_eq!(row.section_179, usd(cap), "{year}");
        // What is left goes by table A-1: 20 % in the first year (seen).
        let left = usd("80000.00").minus(usd(cap)).unwrap();
        assert_eq!(row.yearly, left.portion(dec("20"), dec("100")).unwrap());
        assert!(row.rule.contains("IRC 179(b)(5)") && summary.asks(Topic::Section179), "{}", row.rule);
    }
}

#[test]
fn the_cap_is_for_more_than_6000_and_up_to_14000_pounds_and_not_for_cargo() {
    // IRC 179(b)(5)(B) (from memory)
    let taken = |pounds, body| {
        let facts = with_tools(2025, vec![vehicle(pounds, body, "2025-03-01")], vec![no_allowance(2025)]);
        row(&facts).section_179
    };
    let passenger = VehicleBody::Passenger;
    for (pounds, body, expected) in [
        (6_000, passenger, "80000.00"),
        (6_001, passenger, "31300.00"),
        (14_000, passenger, "31300.00"),
        (14_001, passenger, "80000.00"),
        (6_800, VehicleBody::LongCargoBed, "80000.00"),
        (6_800, VehicleBody::CargoVan, "80000.00"),
        (9_000, VehicleBody::OverNineSeats, "80000.00"),
    ] {
        assert_eq!(taken(pounds, body), usd(expected), "{pounds} {body}");
    }
    // Of a lighter car the yearly caps are asked about.
    let light = with_tools(2025, vec![vehicle(6_000, passenger, "2025-03-01")], vec![no_allowance(2025)]);
    assert!(summarise(&light).unwrap().asks(Topic::Vehicle));
}

#[test]
fn a_heavy_vehicle_used_sixty_percent_for_the_business_has_the_lower_of_that_share_and_the_cap() {
    // IRC 179(b)(5), Pub. 946 ch. 2 (partial use seen): 60 % of 50,000 is 30,000, of 60,000 36,000
    let taken = |cost: &str| {
        let suv = vehicle(6_800, VehicleBody::Passenger, "2025-03-01").but(|tool| {
            (tool.cost, tool.invoice_price, tool.basis_for_gain) = (usd(cost), usd(cost), usd(cost));
            tool.business_share = dec("60");
        });
        row(&with_tools(2025, vec![suv], vec![no_allowance(2025)])).section_179
    };
    assert_eq!((taken("50000.00"), taken("60000.00")), (usd("30000.00"), usd("31300.00")));
}

// IRC 179(b)(5) as of 2025: 31,300 (seen).
#[test]
fn section_179_above_the_cap_of_a_heavy_vehicle_is_asked_about_and_up_to_it_is_not() {
    let asked = |recorded: &str| {
        let suv = vehicle(6_800, VehicleBody::Passenger, "2025-03-01").section_179(recorded);
        let questions = summarise(&with_tools(2025, vec![suv], vec![])).unwrap().questions;
        let heavy = questions.into_iter().filter(|one| one.question.contains("above 6,000 pounds"));
        heavy.map(|one| one.question).collect::<Vec<_>>()
    };
    assert_eq!((asked("20000.00"), asked("31300.00")), (vec![], vec![]));
    let above = "Section 179 of 31300.01 is recorded for 'Tool 1', a vehicle above 6,000 pounds that carries people: \
        31300.00 of it are allowed, and what is left is written off like any other cost. Are its weight and its build \
        right?";
    assert_eq!(asked("31300.01"), [above]);
}

// IRC 280F(a): yearly caps for passenger cars (from memory).
#[test]
fn the_yearly_cap_is_asked_of_light_vehicles_that_are_written_off_over_years() {
    let weighing = |number, cost, gross_pounds| {
        let body = VehicleBody::Passenger;
        tool(number, cost, "2025-03-01").but(|tool| tool.vehicle = Some(Vehicle { gross_pounds, body }))
    };
    let tools = vec![
        weighing(1, "9000.00", 6_000),
        weighing(2, "150.00", 900),
        weighing(3, "9000.00", 6_001),
        tool(4, "9000.00", "2025-03-01"),
    ];
    let summary = summarise(&with_tools(2025, tools, vec![])).unwrap();
    assert_eq!(summary.names("weigh no more than 6,000 pounds"), [1]);
}
