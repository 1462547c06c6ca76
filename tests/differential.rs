//! The rules' arithmetic against Python's decimal and fractions, operation by operation, at random.
//!
//! The other side, `differential/oracle.py`, knows only the published definitions; it shares no code and no number
//! with the rules, the depreciation tables of Publication 946 included. The long form is a command of its own
//! (DEVELOPERS.md).
#![cfg(test)]

use std::io::{BufWriter, Read, Write};
use std::process::{Command, Stdio};

use chrono::NaiveDate;
use ledgerboard::rules::deals::{FloorAsked, floor};
use ledgerboard::rules::ids::{SourceId, ToolId};
use ledgerboard::rules::materials::{Layer, draw};
use ledgerboard::rules::money::{Currency, MinorUnits, Money};
use ledgerboard::rules::recording::MaterialsFlow;
use ledgerboard::rules::rows::{
    AttributionPlan, Election, ElectionKind, PropertyType, RecoveryClass, TaxChoice, Tool, ToolOrigin,
};
use ledgerboard::rules::split::split_by_largest_remainder;
use ledgerboard::rules::tax_year::Profile;
use ledgerboard::rules::tax_year::depreciation::{Ground, plans};
use ledgerboard::rules::tax_year::facts::ToolFacts;
use rust_decimal::Decimal;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::chance::Chance;

const ORACLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/differential/oracle.py");

fn said(money: Money) -> String {
    money.amount().to_string()
}

fn currencies() -> Vec<Currency> {
    ["USD", "JPY", "KWD", "CLF", "EUR", "ISK"].iter().map(|code| Currency::find(code).unwrap()).collect()
}

fn money(chance: &mut Chance, currency: Currency) -> Money {
    let units = chance.up_to(99_999_999_999);
    Money::exact(Decimal::new(units, currency.minor_digits()), currency).unwrap()
}

fn split(chance: &mut Chance) -> Value {
    let currency = *chance.pick(&currencies());
    let amount = money(chance, currency);
    let amount = if chance.between(0, 3) == 0 { amount.negated() } else { amount };
    let mut weights: Vec<Decimal> = (0..chance.between(1, 9))
        .map(|_| Decimal::new(chance.up_to(9_999_999_999), u32::try_from(chance.between(0, 6)).unwrap()))
        .collect();
    weights.push(Decimal::new(chance.between(1, 999), 2));
    let parts = split_by_largest_remainder(amount, &weights).unwrap();
    json!({ "op": "split",
        "in": { "amount": said(amount), "digits": currency.minor_digits(), "weights": weights },
        "out": parts.into_iter().map(said).collect::<Vec<_>>() })
}

fn convert(chance: &mut Chance, rates: &[Decimal]) -> Value {
    let (own, base) = (*chance.pick(&currencies()), *chance.pick(&currencies()));
    let amount = money(chance, own);
    let rate =
        if rates.is_empty() { Decimal::new(chance.up_to(9_999_999_999) + 1, 6) } else { *chance.pick(rates) };
    // Beyond what the books hold is a refusal, and there is nothing to compare.
    let Ok(got) = amount.converted(base, rate) else { return convert(chance, rates) };
    json!({ "op": "convert", "in": { "amount": said(amount), "rate": rate, "digits": base.minor_digits() },
        "out": said(got) })
}

fn portion(chance: &mut Chance) -> Value {
    let currency = *chance.pick(&currencies());
    let amount = money(chance, currency);
    let whole = Decimal::new(chance.up_to(9_999_999) + 1, 3);
    let part = Decimal::new(chance.up_to(9_999_999), 3);
    let Ok(got) = amount.portion(part, whole) else { return portion(chance) };
    json!({ "op": "portion",
        "in": { "amount": said(amount), "part": part, "whole": whole, "digits": currency.minor_digits() },
        "out": said(got) })
}

fn stock(chance: &mut Chance) -> Value {
    let currency = *chance.pick(&currencies());
    let layers: Vec<Layer> = (0..chance.between(1, 6))
        .map(|_| Layer {
            quantity: Decimal::new(chance.up_to(999_999_999) + 1, 6),
            cost: money(chance, currency),
        })
        .collect();
    let there: Decimal = layers.iter().map(|layer| layer.quantity).sum();
    let all = chance.between(0, 5) == 0;
    let millionths = i64::try_from((there * Decimal::from(1_000_000)).trunc().mantissa()).unwrap_or(1);
    let taken = if all { there } else { Decimal::new(chance.between(0, millionths.max(0)), 6).min(there) };
    let (op, flow) =
        *chance.pick(&[("fifo", MaterialsFlow::Fifo), ("average", MaterialsFlow::MovingAverage)]);
    let got = draw(flow, &layers, taken, currency).unwrap();
    let pairs = |layers: &[Layer]| -> Vec<Value> {
        layers.iter().map(|layer| json!([layer.quantity, said(layer.cost)])).collect()
    };
    json!({ "op": op,
        "in": { "layers": pairs(&layers), "quantity": taken, "digits": currency.minor_digits() },
        "out": pairs(&got) })
}

/// A year's tools without the special allowance, each above what a small tool may cost.
fn depreciation(chance: &mut Chance) -> Value {
    let usd = Currency::find("USD").unwrap();
    let dollars = |cents: i64| Money::exact(Decimal::new(cents, 2), usd).unwrap();
    let mut given = Vec::new();
    let mut tools = Vec::new();
    for number in 0..chance.between(1, 5) {
        let month = u32::try_from(chance.between(1, 12)).unwrap();
        let day =
            NaiveDate::from_ymd_opt(2025, month, u32::try_from(chance.between(1, 28)).unwrap()).unwrap();
        let (years, class) =
            *chance.pick(&[(3, RecoveryClass::Three), (5, RecoveryClass::Five), (7, RecoveryClass::Seven)]);
        let cents = (20_001 + chance.up_to(49_000_000)).min(50_000_000);
        let choice = *chance.pick(&[TaxChoice::ByLaw, TaxChoice::StraightLine, TaxChoice::Section179]);
        // Five tools of at most half a million stay within the year's dollar limit: nothing is cut.
        let elected =
            if choice == TaxChoice::Section179 { chance.between(1, cents.min(30_000_000)) } else { 0 };
        given.push(json!({ "month": month, "class": years, "cost": dollars(cents).amount(),
            "section_179": dollars(elected).amount(),
            "straight_line": choice == TaxChoice::StraightLine }));
        tools.push(ToolFacts {
            tool: Tool {
                id: ToolId(Uuid::from_u128(u128::try_from(number).unwrap())),
                source: SourceId(Uuid::from_u128(1)),
                name: "saw".to_owned(),
                origin: ToolOrigin::Bought,
                acquired_on: day,
                in_service_on: day,
                cost: dollars(cents),
                basis_for_gain: dollars(cents),
                invoice_price: dollars(cents),
                salvage: dollars(0),
                plan: AttributionPlan::EqualShare,
                class,
                property: PropertyType::Ordinary,
                vehicle: None,
                choice,
                section_179: dollars(elected),
                business_share: Decimal::ONE_HUNDRED,
                prior: None,
                hours_before: Decimal::ZERO,
            },
            disposal: None,
            shares: Vec::new(),
        });
    }
    let elections: Vec<Election> = [RecoveryClass::Three, RecoveryClass::Five, RecoveryClass::Seven]
        .map(|class| Election { tax_year: 2025, kind: ElectionKind::NoSpecialAllowance, class: Some(class) })
        .to_vec();
    let profile = Profile::find("us", 2025).unwrap();
    let ground = Ground { profile, elections: &elections, first_year: 2025, base: usd };
    let plans = plans(&tools, &ground).unwrap();
    let years = |plan: &ledgerboard::rules::tax_year::depreciation::Plan<'_>| -> Vec<String> {
        (2025..=2033).map(|year| said(plan.through(year).unwrap().1.total().unwrap())).collect()
    };
    json!({ "op": "depreciation", "in": { "tools": given },
        "out": plans.iter().map(years).collect::<Vec<_>>() })
}

fn price_floor(chance: &mut Chance) -> Value {
    let currency = *chance.pick(&currencies());
    let (cost, pay, other) = (money(chance, currency), money(chance, currency), money(chance, currency));
    let hours = Decimal::new(chance.up_to(99_999), 2);
    let share = |chance: &mut Chance| Decimal::new(chance.between(0, 9_999), 2);
    let (tax, agency) = (share(chance), share(chance));
    let asked: FloorAsked = serde_json::from_value(json!({
        "net_cost": said(cost), "own_hours": hours, "pay_per_hour": said(pay), "other_income": said(other),
        "tax_set_aside": tax, "agency_share": agency, "currency": currency.code(),
    }))
    .unwrap();
    let Ok(answer) = floor(&asked, currency) else { return price_floor(chance) };
    let got = answer.floor;
    json!({ "op": "floor",
        "in": { "cost": said(cost), "hours": hours, "pay": said(pay), "tax": tax, "agency": agency,
                "other": said(other), "digits": currency.minor_digits() },
        "out": said(got) })
}

fn operation(chance: &mut Chance, rates: &[Decimal]) -> Value {
    match chance.between(0, 9) {
        0 | 1 => split(chance),
        2 | 3 => convert(chance, rates),
        4 => portion(chance),
        5..=7 => stock(chance),
        8 => depreciation(chance),
        _ => price_floor(chance),
    }
}

/// Current codes with their minor units; those without any have none on either side.
fn listed_currencies() -> Vec<Value> {
    let current = Currency::listed().filter(|(.., withdrawn)| withdrawn.is_none());
    current
        .map(|(code, minor, _)| {
            let digits = match minor {
                MinorUnits::Digits(digits) => json!(digits),
                MinorUnits::None => Value::Null,
            };
            json!({ "op": "currency", "in": { "code": code }, "out": digits })
        })
        .collect()
}

fn python() -> String {
    std::env::var("LEDGERBOARD_PYTHON").unwrap_or_else(|_| "python3".to_owned())
}

/// What the other side says, and whether it agrees.
fn compared(lines: impl Iterator<Item = Value>, arguments: &[&str]) -> (bool, String) {
    let mut oracle = Command::new(python())
        .arg(ORACLE)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 checks the arithmetic; install it (apt-get install python3)");
    let mut into = BufWriter::new(oracle.stdin.take().unwrap());
    for line in lines {
        writeln!(into, "{line}").unwrap();
    }
    drop(into);
    let mut told = String::new();
    oracle.stdout.take().unwrap().read_to_string(&mut told).unwrap();
    (oracle.wait().unwrap().success(), told)
}

// Python's decimal and fractions (the standard library); ISO 4217 is not looked up in the short form.
#[test]
fn twenty_thousand_operations_come_to_the_same_in_pythons_decimals() {
    let mut chance = Chance::of(7);
    let lines = (0..20_000).map(|_| operation(&mut chance, &[])).chain(listed_currencies());
    let (agrees, told) = compared(lines, &[]);
    assert!(agrees, "{told}");
    assert!(told.contains("checked 20") && told.contains("different 0"), "{told}");
}

#[test]
fn a_cent_that_is_wrong_is_found() {
    let mut chance = Chance::of(7);
    let mut line = split(&mut chance);
    let cents: Decimal = line["out"][0].as_str().unwrap().parse().unwrap();
    line["out"][0] = json!((cents + Decimal::ONE).to_string());
    let (agrees, told) = compared(std::iter::once(line), &[]);
    assert!(!agrees && told.contains("different 1"), "{told}");
}

#[test]
#[ignore = "a command of its own: a million operations, with ISO 4217 and the European Central Bank's rates from PyPI"]
fn a_million_operations_come_to_the_same_with_public_currencies_and_rates() {
    let count: usize =
        std::env::var("LEDGERBOARD_DIFFERENTIAL").map_or(1_000_000, |count| count.parse().unwrap());
    let seed = std::env::var("LEDGERBOARD_SEED").map_or(1, |seed| seed.parse().unwrap());
    let shown = Command::new(python()).arg(ORACLE).arg("--rates").output().unwrap();
    assert!(shown.status.success(), "{}", String::from_utf8_lossy(&shown.stderr));
    let rates: Vec<Decimal> =
        String::from_utf8(shown.stdout).unwrap().lines().map(|rate| rate.parse().unwrap()).collect();
    assert!(rates.len() > 1_000, "{}", rates.len());
    let mut chance = Chance::of(seed);
    let lines = (0..count).map(|_| operation(&mut chance, &rates)).chain(listed_currencies());
    let (agrees, told) = compared(lines, &["--public-data"]);
    println!("seed {seed}, {} rates: {told}", rates.len());
    assert!(agrees, "{told}");
}
