//! A statement of any attributions adds up: every figure is what its lines come to.
#![no_main]

use chrono::{Days, NaiveDate};
use ledgerboard::rules::costing::{
    AttributedAmount, BudgetedAmount, ObjectFacts, OwnHours, Period, StatementFacts, statement,
};
use ledgerboard::rules::ids::{EpisodeId, SourceId};
use ledgerboard::rules::journal::Stream;
use ledgerboard::rules::money::{Currency, Money};
use ledgerboard::rules::recording::{Category, CostObject, Label, Side};
use libfuzzer_sys::fuzz_target;
use rust_decimal::Decimal;
use uuid::Uuid;

fuzz_target!(|sent: (Vec<(u8, u8, u8, i64)>, Vec<(u8, u32)>, Vec<(u8, u32)>, Option<u8>, Option<u8>)| {
    let (rows, hours, budget, from, to) = sent;
    let base = Currency::find("USD").unwrap();
    let day = |day: u8| NaiveDate::from_ymd_opt(2025, 1, 1).unwrap() + Days::new(u64::from(day));
    let episode = EpisodeId(Uuid::from_u128(1));
    let attributions = rows.iter().filter_map(|(which, label, on, cents)| {
        let category = Category::ALL[usize::from(*label) % Category::ALL.len()];
        let stream = Stream::ALL[usize::from(*label) % Stream::ALL.len()];
        let (side, label) = match which % 6 {
            0 => (Side::Cost, Label::Category(category)),
            1 => (Side::Income, Label::Stream(stream)),
            2 => (Side::InKind, Label::Stream(stream)),
            3 => (Side::Fee, Label::Stream(stream)),
            4 => (Side::Recovery, Label::PersonalPieceSold),
            _ => (Side::Recovery, Label::SetPieceSold),
        };
        let amount = Money::exact(Decimal::new(*cents, 2), base).ok()?;
        Some(AttributedAmount { source: SourceId(Uuid::from_u128(2)), side, label, date: day(*on), amount })
    });
    let facts = StatementFacts {
        episode,
        currency: base,
        period: Period { from: from.map(day), to: to.map(day) },
        sources: Vec::new(),
        facts: ObjectFacts {
            object: CostObject::Episode(episode),
            attributions: attributions.collect(),
            own_hours: hours
                .iter()
                .map(|(on, hours)| OwnHours { date: day(*on), hours: Decimal::new(i64::from(*hours), 2) })
                .collect(),
            budget: budget
                .iter()
                .filter_map(|(category, cents)| {
                    let category = Category::ALL[usize::from(*category) % Category::ALL.len()];
                    let amount = Money::exact(Decimal::new(i64::from(*cents), 2), base).ok()?;
                    Some(BudgetedAmount { category, amount })
                })
                .collect(),
        },
    };
    let Ok(shown) = statement(&facts) else { return };
    let figures = &shown.figures;
    let costs = Money::sum(base, figures.costs.iter().map(|line| line.amount)).unwrap();
    assert_eq!(costs, figures.cost_total);
    assert_eq!(figures.cost_total.minus(figures.recovered_total).unwrap(), figures.net_cost);
    let left = figures.income_total.minus(figures.income_fees).unwrap().minus(figures.net_cost).unwrap();
    assert_eq!(left, figures.result);
});
