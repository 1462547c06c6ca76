use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::*;
use crate::rules::money::Currency;

fn usd(text: &str) -> Money {
    let amount = Amount::parse(text).unwrap();
    amount.money(Currency::find("USD").unwrap()).unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn asked(text: &str) -> ToolAsked {
    serde_json::from_str(text).unwrap()
}

static NO_TRIPS: VehiclesAtRate = VehiclesAtRate::none();

fn bought(cost: &str) -> ToolArrival<'static> {
    ToolArrival::new(ToolOrigin::Bought, day("2025-03-01"), usd(cost), &NO_TRIPS)
}

fn taken(asked: &ToolAsked, arrival: &ToolArrival<'_>) -> Result<Tool, Refusal> {
    asked.tool(ToolId(Uuid::from_u128(1)), SourceId(Uuid::from_u128(2)), arrival)
}

fn pointers(refusal: &Refusal) -> Vec<&str> {
    refusal.findings().map(|finding| finding.pointer.as_str()).collect()
}

// Common practice, no source.
// Pub. 551, property received for services and gifts (from memory); figures derived.
#[test]
fn a_gifted_nailer_worth_180_has_a_basis_only_where_its_value_was_income() {
    let value = usd("180.00");
    assert_eq!(ToolOrigin::ForPromotion.basis_of(value), value);
    for origin in [ToolOrigin::PersonalGift, ToolOrigin::Loan] {
        assert!(origin.basis_of(value).is_zero(), "{origin}");
    }
}

#[test]
fn a_tool_without_further_words_is_of_seven_years_ordinary_and_wholly_business() {
    let saw = asked(r#"{ "name": "table saw", "method": "equal_share" }"#);
    let saw = taken(&saw, &bought("649.00")).unwrap();
    assert_eq!(saw.class, RecoveryClass::Seven);
    assert_eq!(saw.property, PropertyType::Ordinary);
    assert_eq!(saw.choice, TaxChoice::ByLaw);
    assert_eq!(saw.business_share, Decimal::ONE_HUNDRED);
    assert_eq!(saw.in_service_on, day("2025-03-01"));
    assert!(saw.salvage.is_zero() && saw.section_179.is_zero());
}

// Derived: a tool given for promotion whose value of 180 was taken into income has that basis.
#[test]
fn a_gifted_tool_has_a_basis_only_where_its_value_was_taken_into_income() {
    assert_eq!(ToolOrigin::ForPromotion.basis_of(usd("180.00")), usd("180.00"));
    assert_eq!(ToolOrigin::PersonalGift.basis_of(usd("180.00")), usd("0.00"));
    assert_eq!(ToolOrigin::Loan.basis_of(usd("180.00")), usd("0.00"));
    let nailer = asked(r#"{ "name": "nailer", "method": "equal_share" }"#);
    let arrival = ToolArrival::new(ToolOrigin::PersonalGift, day("2025-03-01"), usd("180.00"), &NO_TRIPS);
    assert!(taken(&nailer, &arrival).unwrap().cost.is_zero());
}

// Common practice, no source.
#[test]
fn every_fault_in_the_terms_is_told_at_once() {
    let saw = asked(
        r#"{ "name": " ", "method": "per_use_hour", "months": 12, "salvage": "700.00", "business_share": "120",
             "in_service_on": "2025-02-01", "contract_on": "2025-04-01", "section_179": "10.00" }"#,
    );
    let refusal = taken(&saw, &bought("649.00")).unwrap_err();
    assert_eq!(
        pointers(&refusal),
        [
            "/name",
            "/in_service_on",
            "/contract_on",
            "/salvage",
            "/months",
            "/hours_expected",
            "/business_share",
            "/section_179"
        ]
    );
}

// Common practice, no source.
#[test]
fn hours_expected_must_be_more_than_the_tool_has_run() {
    let saw = asked(r#"{ "name": "saw", "method": "per_use_hour", "hours_expected": "400" }"#);
    let arrival = ToolArrival { hours_before: Decimal::from(400), ..bought("649.00") };
    let refusal = taken(&saw, &arrival).unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "/hours_expected: the tool has run 400 hours already, and 400 are expected in all (give hours_expected above \
         the hours it has run)"
    );
    let none = asked(r#"{ "name": "saw", "method": "per_use_hour", "hours_expected": "0" }"#);
    assert!(taken(&none, &bought("649.00")).is_err());
    let endless = asked(r#"{ "name": "saw", "method": "straight_line", "months": 1201 }"#);
    assert!(taken(&endless, &bought("649.00")).is_err());
}

// IRC 179(d), Pub. 946 ch. 2: from memory.
#[test]
fn section_179_is_for_bought_tools_used_mainly_in_business_up_to_that_share_of_the_cost() {
    let body = r#"{ "name": "saw", "method": "equal_share", "choice": "section_179" }"#;
    let elect = |amount: &str, share: &str| ToolAsked {
        section_179: Amount::parse(amount),
        business_share: Share::parse(share),
        ..asked(body)
    };
    assert_eq!(taken(&elect("480.00", "80"), &bought("600.00")).unwrap().section_179, usd("480.00"));
    assert!(taken(&elect("480.01", "80"), &bought("600.00")).is_err());
    assert!(taken(&elect("100.00", "50"), &bought("600.00")).is_err());
    assert!(taken(&asked(body), &bought("600.00")).is_err());
    let converted = ToolArrival { origin: ToolOrigin::ConvertedFromPersonal, ..bought("600.00") };
    let refusal = taken(&elect("100.00", "100"), &converted).unwrap_err();
    assert_eq!(pointers(&refusal), ["/choice"]);
}

// Common practice, no source: the earlier contract selects the allowance.
#[test]
fn a_binding_contract_before_the_tool_came_is_the_day_of_acquisition() {
    let saw = asked(r#"{ "name": "saw", "method": "equal_share", "contract_on": "2025-01-10" }"#);
    let saw = taken(&saw, &bought("649.00")).unwrap();
    assert_eq!((saw.acquired_on, saw.in_service_on), (day("2025-01-10"), day("2025-03-01")));
}

// Pub. 463 ch. 4, from memory: depreciation is an actual cost, which does not go beside the standard rate.
#[test]
fn a_vehicle_at_the_standard_rate_is_no_tool_of_that_year_or_an_earlier_one() {
    let trips: VehiclesAtRate =
        [("Green van ".to_owned(), 2025), ("green van".to_owned(), 2023), ("grey estate".to_owned(), 2026)]
            .into_iter()
            .collect();
    let van = |body: &str, origin| {
        let arrival = ToolArrival { origin, at_rate: &trips, ..bought("9000.00") };
        taken(&asked(body), &arrival)
    };
    let now = r#"{ "name": " GREEN VAN", "method": "equal_share" }"#;
    let refusal = van(now, ToolOrigin::Bought).unwrap_err();
    assert_eq!(pointers(&refusal), ["/name"]);
    assert_eq!(refusal.standing(), crate::rules::refusal::Standing::Conflict);
    let said = refusal.to_string();
    assert!(
        said.starts_with("/name: 'GREEN VAN' has trips at the standard rate in 2025; a vehicle"),
        "{said}"
    );
    // In service after the last year at the rate, without a basis, or another thing: there is nothing in its way.
    let later = r#"{ "name": "green van", "method": "equal_share", "in_service_on": "2026-01-01" }"#;
    assert!(van(later, ToolOrigin::ConvertedFromPersonal).is_ok());
    assert!(van(now, ToolOrigin::Loan).is_ok());
    assert!(van(r#"{ "name": "van", "method": "equal_share" }"#, ToolOrigin::Bought).is_ok());
}

#[test]
fn a_life_of_no_months_and_a_contract_after_the_day_it_came_are_refused_in_words() {
    let said = |text: &str| -> Vec<String> {
        let refusal = taken(&asked(text), &bought("649.00")).unwrap_err();
        refusal.findings().map(|one| format!("{}: {}", one.pointer, one.said().detail)).collect()
    };
    assert_eq!(
        said(r#"{ "name": "saw", "method": "straight_line", "months": 0 }"#),
        ["/months: 0 months is no life of a tool"]
    );
    assert_eq!(
        said(r#"{ "name": "saw", "method": "straight_line" }"#),
        ["/months: the method straight_line is given without the months the tool will last"]
    );
    assert_eq!(
        said(r#"{ "name": "saw", "method": "equal_share", "contract_on": "2025-03-02" }"#),
        ["/contract_on: the contract of 2025-03-02 is after the day the tool came, 2025-03-01"]
    );
}

// Derived from IRC section 179(c): it is an election, so an amount alone chooses nothing (from memory).
#[test]
fn an_amount_under_section_179_needs_the_choice_said() {
    let saw = asked(
        r#"{ "name": "table saw", "method": "equal_share", "choice": "straight_line", "section_179": "100.00" }"#,
    );
    let refusal = taken(&saw, &bought("649.00")).unwrap_err();
    let finding = refusal.findings().next().unwrap();
    assert_eq!(finding.pointer, "/section_179");
    let said = finding.said();
    assert_eq!(said.detail, "an amount under section 179 is given, but the choice is straight_line");
    assert_eq!(said.remedy, "say \"choice\": \"section_179\", or leave the amount out");
}

// Common practice, no source; of section 179: IRC 179(d), Pub. 946 ch. 2, from memory.
#[test]
fn what_is_asked_wrongly_of_the_terms_is_told_at_its_field_in_words() {
    let of = |body: &str, arrival: &ToolArrival<'_>| -> Vec<String> {
        let asked = asked(&format!(r#"{{ "name": "saw", "method": {body} }}"#));
        let refusal = taken(&asked, arrival).unwrap_err();
        refusal.findings().map(|one| format!("{}: {}", one.pointer, one.said().detail)).collect()
    };
    let elects = |more: &str| format!(r#""equal_share", "choice": "section_179"{more}"#);
    for (body, said) in [
        (
            r#""per_use_hour""#.to_owned(),
            "/hours_expected: the method per_use_hour is given without the hours the tool will run",
        ),
        (r#""per_use_hour", "hours_expected": "0""#.to_owned(), "/hours_expected: hours_expected is zero"),
        (
            r#""equal_share", "hours_expected": "400""#.to_owned(),
            "/hours_expected: hours_expected is given, but the method is equal_share, which does not use it",
        ),
        (
            r#""equal_share", "months": 12"#.to_owned(),
            "/months: months is given, but the method is equal_share, which does not use it",
        ),
        (
            r#""equal_share", "in_service_on": "2025-02-28""#.to_owned(),
            "/in_service_on: the tool is in service on 2025-02-28, before it came on 2025-03-01",
        ),
        (
            r#""equal_share", "salvage": "649.01""#.to_owned(),
            "/salvage: the salvage 649.01 is more than the cost 649.00",
        ),
        (elects(""), "/section_179: section 179 is chosen without the amount elected"),
        (
            elects(r#", "section_179": "100.00", "business_share": "50""#),
            "/choice: section 179 needs more than half of the use in business; 50 % is given",
        ),
        (
            elects(r#", "section_179": "519.21", "business_share": "80""#),
            "/section_179: 519.21 under section 179 is more than the business share of the cost, 519.20",
        ),
    ] {
        assert_eq!(of(&body, &bought("649.00")), [said], "{body}");
    }
    let private = ToolArrival { origin: ToolOrigin::ConvertedFromPersonal, ..bought("649.00") };
    assert_eq!(
        of(&elects(r#", "section_179": "100.00""#), &private),
        ["/choice: section 179 is for what was bought; this tool's origin is converted_from_personal"]
    );
}

// Common practice, no source.
#[test]
fn a_tool_may_keep_all_of_its_worth_to_the_end() {
    let saw = asked(r#"{ "name": "saw", "method": "equal_share", "salvage": "649.00" }"#);
    assert_eq!(taken(&saw, &bought("649.00")).unwrap().salvage, usd("649.00"));
}

#[test]
fn a_plan_is_found_again_by_its_name_and_the_figure_it_goes_by() {
    let (hours_expected, months) = (Decimal::from(400), 12);
    for plan in [
        AttributionPlan::PerUseHour { hours_expected },
        AttributionPlan::StraightLine { months },
        AttributionPlan::EqualShare,
        AttributionPlan::Percentages,
        AttributionPlan::ExpenseNow,
    ] {
        assert_eq!(PlanName::of(plan).with(Some(hours_expected), Some(months)), Some(plan));
    }
    assert_eq!(PlanName::PerUseHour.with(None, Some(months)), None);
    assert_eq!(PlanName::StraightLine.with(Some(hours_expected), None), None);
}
