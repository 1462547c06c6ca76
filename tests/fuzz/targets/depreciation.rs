//! No tool is written off beyond its basis, whatever its days, class, choices and leaving.
#![no_main]

use arbitrary::Arbitrary;
use chrono::{Datelike, Days, NaiveDate};
use ledgerboard::rules::ids::{SourceId, ToolId};
use ledgerboard::rules::money::{Currency, Money};
use ledgerboard::rules::rows::{
    AttributionPlan, BusinessShare, DisposalKind, Election, ElectionKind, PropertyType, RecoveryClass,
    TaxChoice, Tool, ToolDisposal, ToolOrigin,
};
use ledgerboard::rules::tax_year::Profile;
use ledgerboard::rules::tax_year::depreciation::{Ground, plans};
use ledgerboard::rules::tax_year::facts::ToolFacts;
use libfuzzer_sys::fuzz_target;
use rust_decimal::Decimal;
use uuid::Uuid;

#[derive(Debug, Arbitrary)]
struct Sent {
    tools: Vec<Thing>,
    elections: Vec<(u8, u8, u8)>,
}

#[derive(Debug, Arbitrary)]
struct Thing {
    acquired: u16,
    waits: u8,
    stays: Option<u16>,
    cents: u32,
    section_179: u32,
    share: u16,
    class: u8,
    origin: u8,
    choice: u8,
    leaving: u8,
    listed: bool,
    shares: Vec<(u8, u16)>,
}

fn one_of<T: Copy>(some: &[T], which: u8) -> T {
    some[usize::from(which) % some.len()]
}

fuzz_target!(|sent: Sent| {
    let usd = Currency::find("USD").unwrap();
    let dollars = |cents: u32| Money::exact(Decimal::new(i64::from(cents), 2), usd).unwrap();
    let first = NaiveDate::from_ymd_opt(2019, 1, 1).unwrap();
    let tools: Vec<ToolFacts> = (1_u128..)
        .zip(sent.tools.iter().take(12))
        .map(|(number, thing)| {
            let acquired_on = first + Days::new(u64::from(thing.acquired % 4_000));
            let in_service_on = acquired_on + Days::new(u64::from(thing.waits));
            let id = ToolId(Uuid::from_u128(number));
            let tool = Tool {
                id,
                source: SourceId(Uuid::from_u128(number)),
                name: "saw".to_owned(),
                origin: one_of(ToolOrigin::ALL, thing.origin),
                acquired_on,
                in_service_on,
                cost: dollars(thing.cents),
                basis_for_gain: dollars(thing.cents),
                invoice_price: dollars(thing.cents),
                salvage: dollars(0),
                plan: AttributionPlan::EqualShare,
                class: one_of(RecoveryClass::ALL, thing.class),
                property: if thing.listed { PropertyType::Listed } else { PropertyType::Ordinary },
                vehicle: None,
                choice: one_of(TaxChoice::ALL, thing.choice),
                section_179: dollars(thing.section_179.min(thing.cents)),
                business_share: Decimal::new(i64::from(thing.share % 10_001), 2),
                prior: None,
                hours_before: Decimal::ZERO,
            };
            let disposal = thing.stays.map(|stays| ToolDisposal {
                tool: id,
                date: in_service_on + Days::new(u64::from(stays % 4_000)),
                kind: one_of(DisposalKind::ALL, thing.leaving),
                proceeds: dollars(0),
            });
            let shares = thing.shares.iter().take(6).map(|(year, share)| BusinessShare {
                tool: id,
                tax_year: in_service_on.year() + i32::from(year % 12),
                share: Decimal::new(i64::from(share % 10_001), 2),
            });
            ToolFacts { tool, shares: shares.collect(), disposal }
        })
        .collect();
    let elections: Vec<Election> = sent
        .elections
        .iter()
        .map(|(year, kind, class)| {
            let kind = one_of(ElectionKind::ALL, *kind);
            let by_class = matches!(kind, ElectionKind::NoSpecialAllowance | ElectionKind::StraightLine);
            let class = by_class.then(|| one_of(RecoveryClass::ALL, *class));
            Election { tax_year: 2020 + i32::from(year % 12), kind, class }
        })
        .collect();
    let profile = Profile::find("us", 2025).unwrap();
    let ground = Ground { profile, elections: &elections, first_year: 2023, base: usd };
    let plans = plans(&tools, &ground).unwrap();
    for plan in &plans {
        let mut taken = Decimal::ZERO;
        for year in 2019..2050 {
            let (prior, charge) = plan.through(year).unwrap();
            assert!(!charge.total().unwrap().is_negative() && !charge.recaptured.is_negative());
            assert!(!prior.is_negative());
            taken += charge.net().unwrap().amount();
            let cost = plan.opened.tool.cost.amount();
            assert!(taken <= cost, "{taken} of {cost} by {year}");
            assert!(taken >= Decimal::ZERO, "more came back than was taken by {year}");
        }
    }
});
