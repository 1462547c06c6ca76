use super::*;
use crate::rules::journal::Account;
use crate::rules::recording::{MoneyAccount, MovementKind, SourceKind};
use crate::rules::rows::Tool;
use crate::rules::trial::{account, balance, findings, is_always_called_something, ties};
use crate::rules::vehicles::VehiclesAtRate;

fn new(body: &str) -> NewTool {
    serde_json::from_str(body).unwrap()
}

fn taken(paid_from: Option<MoneyAccount>, body: &str) -> Result<Recording, Refusal> {
    let recording = write(|pen| acquire(pen, paid_from, &VehiclesAtRate::none(), &new(body)))?;
    ties(&recording, &[]);
    Ok(recording)
}

fn tool(recording: &Recording) -> Tool {
    facts_of(recording).tool
}

// Common practice, no source.
#[test]
fn a_bought_saw_stands_in_tools_at_cost_against_the_bank() {
    let body = r#"{ "name": "table saw", "date": "2025-03-01", "origin": "bought", "cost": "649.00",
                    "paid_from": "00000000-0000-0000-0000-000000000385", "method": "equal_share" }"#;
    let recording = taken(Some(bank()), body).unwrap();
    assert_eq!(balance(&recording, Account::ToolsAtCost), "649.00");
    assert_eq!(balance(&recording, Account::Money(bank().id)), "-649.00");
    assert_eq!(recording.sources[0].kind, SourceKind::Tool);
    assert_eq!(recording.movements[0].kind, MovementKind::Incurred);
    assert!(recording.attributions.is_empty());
}

// Common practice, no source.
#[test]
fn a_saw_paid_from_the_owners_purse_is_a_contribution() {
    let body = r#"{ "name": "saw", "date": "2025-03-01", "origin": "bought", "cost": "649.00", "method": "equal_share" }"#;
    let purse = account(2, crate::rules::recording::MoneyAccountKind::OwnPocket, "USD");
    let recording = taken(Some(purse), body).unwrap();
    assert_eq!(balance(&recording, Account::OwnerContribution), "-649.00");
}

// Pub. 551, from memory.
#[test]
fn a_camera_brought_in_from_private_use_counts_at_the_lower_of_cost_and_value() {
    let body = |value: &str| {
        format!(
            r#"{{ "name": "camera", "date": "2025-03-01", "origin": "converted_from_personal", "cost": "900.00",
                 "value": "{value}", "method": "equal_share", "property": "listed", "class": "5" }}"#
        )
    };
    let fallen = taken(None, &body("400.00")).unwrap();
    assert_eq!(tool(&fallen).cost, dollars("400.00"));
    assert_eq!(balance(&fallen, Account::ToolsAtCost), "400.00");
    assert_eq!(balance(&fallen, Account::OwnerContribution), "-400.00");
    assert_eq!(tool(&taken(None, &body("1000.00")).unwrap()).cost, dollars("900.00"));
}

// Derived: nothing was paid and no value was taken into income, so there is nothing to depreciate.
#[test]
fn a_loan_and_a_private_gift_make_no_entry_and_have_no_basis() {
    for origin in ["loan", "personal_gift"] {
        let body = format!(
            r#"{{ "name": "nailer", "date": "2025-03-01", "origin": "{origin}", "method": "equal_share" }}"#
        );
        let recording = taken(None, &body).unwrap();
        assert!(recording.entries.is_empty() && recording.movements.is_empty());
        assert!(tool(&recording).cost.is_zero());
        let mut facts = facts_of(&recording);
        assert!(amounts(&facts.used(&[("2025-03-02", 1, "2")])).is_empty());
        assert_eq!(facts.uses.len(), 1);
    }
}

// Common practice, no source.
#[test]
fn a_used_saw_spreads_its_price_over_the_hours_left_in_it() {
    let body = r#"{ "name": "saw", "date": "2025-03-01", "origin": "bought", "cost": "300.00", "method": "per_use_hour",
                    "hours_expected": "400", "hours_before": "200" }"#;
    let mut facts = facts_of(&taken(Some(bank()), body).unwrap());
    facts.used(&[("2025-03-02", 1, "10")]);
    assert_eq!(facts.on(1), "15.00");
}

// Common practice, no source.
#[test]
fn a_foreign_saw_stands_in_the_books_currency() {
    let body = r#"{ "name": "saw", "date": "2025-03-01", "origin": "bought", "cost": "600.00", "salvage": "50.00",
                    "currency": "EUR", "rate": "1.1", "method": "equal_share" }"#;
    let saw = tool(&taken(Some(bank()), body).unwrap());
    assert_eq!((saw.cost, saw.salvage), (dollars("660.00"), dollars("55.00")));
}

// Common practice, no source.
#[test]
fn every_fault_of_a_new_tool_is_told_at_once() {
    let body = r#"{ "name": "", "date": "2024-12-31", "origin": "bought", "cost": "1.001", "value": "5.00",
                    "method": "straight_line" }"#;
    let refused = taken(None, body);
    assert_eq!(
        findings(refused),
        [
            "/date: 2024-12-31 lies in a closed period; the first open day is 2025-01-01",
            "/paid_from: the tool was bought, and no money account is named",
            "/cost: 1.001 has more decimals than USD has (2)",
            "/value: a value is given, but the origin is bought",
        ]
    );
    let gift =
        r#"{ "name": "nailer", "date": "2025-03-01", "origin": "for_promotion", "method": "equal_share" }"#;
    assert!(findings(taken(None, gift))[0].starts_with("/origin: a tool received for promotion is income"));
    let lent = r#"{ "name": "nailer", "date": "2025-03-01", "origin": "loan", "cost": "10.00", "method": "equal_share" }"#;
    assert_eq!(
        findings(taken(Some(bank()), lent)),
        [
            "/paid_from: a money account is named, but the origin is loan: nothing is paid",
            "/cost: the origin is loan: nothing was paid for it, but a cost is given",
        ]
    );
}

// Common practice, no source.
#[test]
fn a_saw_used_partly_in_private_is_told_its_share_and_one_for_the_business_alone_is_not() {
    let notes = |share: &str| {
        let body = format!(
            r#"{{ "name": "saw", "date": "2025-03-01", "origin": "bought", "cost": "649.00", "method": "equal_share",
                 "business_share": "{share}" }}"#
        );
        taken(Some(bank()), &body).unwrap().notes
    };
    let at_cost =
        "649.00 stands in tools at cost; it reaches episodes as uses are logged (POST /v1/tools/{id}/uses)";
    assert_eq!(notes("100"), [at_cost]);
    let [first, second] = &notes("99.99")[..] else { panic!("two notes") };
    assert_eq!(first, at_cost);
    assert!(second.starts_with("99.99 % of its use is business"), "{second}");
}

#[test]
fn a_tool_is_called_by_its_name_and_never_by_nothing() {
    is_always_called_something::<ToolLabels>("name");
}

// Pub. 551, property changed to business use: its cost for a gain, the lower value for a loss (from memory).
#[test]
fn the_answer_says_what_a_tool_counts_at_by_how_it_came() {
    let notes = |paid_from, terms: &str| {
        let body = format!(
            r#"{{ "name": "camera", "date": "2025-03-01", "method": "equal_share", "origin": {terms} }}"#
        );
        taken(paid_from, &body).unwrap().notes
    };
    let stands = |cost: &str| {
        format!(
            "{cost} stands in tools at cost; it reaches episodes as uses are logged (POST /v1/tools/{{id}}/uses)"
        )
    };
    let lower = || "brought in at the lower of cost and value; no section 179, no allowance".to_owned();
    let two = "it has two bases: 900.00 counts for a gain, 400.00 for a loss, each less depreciation; a sale between \
               them gives neither";
    assert_eq!(notes(Some(bank()), r#""bought", "cost": "900.00""#), [stands("900.00")]);
    let private = |value: &str| format!(r#""converted_from_personal", "cost": "900.00", "value": "{value}""#);
    assert_eq!(notes(None, &private("400.00")), [stands("400.00"), lower(), two.to_owned()]);
    assert_eq!(notes(None, &private("1000.00")), [stands("900.00"), lower()]);
    // A cost of nothing says no more than none does.
    let nothing = "nothing was paid for it: no entry, no basis; its uses are kept and cost nothing";
    for free in [r#""loan""#, r#""loan", "cost": "0.00""#, r#""personal_gift", "cost": "0""#] {
        assert_eq!(notes(None, free), [nothing], "{free}");
    }
}
