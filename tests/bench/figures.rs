//! How long the figures take in memory, and how that grows: `cargo bench`. It measures and says; nothing fails.

use std::time::{Duration, Instant};

use chrono::{Days, NaiveDate};
use ledgerboard::rules::costing::{
    AttributedAmount, DatedAmount, MovementFacts, ObjectFacts, OwnHours, Period, SourceFacts, StatementFacts,
    statement,
};
use ledgerboard::rules::ids::{EpisodeId, SourceId};
use ledgerboard::rules::journal::{Account, EntryKind, ExpenseClass};
use ledgerboard::rules::money::{Currency, Money};
use ledgerboard::rules::recording::{
    AccountingMethod, BooksFacts, Category, CostObject, Label, MaterialsFlow, MaterialsTiming, MovementKind,
    Side, Source, SourceKind,
};
use ledgerboard::rules::tax_year::facts::PostingSum;
use ledgerboard::rules::tax_year::{Profile, YearFacts, summarise};
use rust_decimal::Decimal;
use uuid::Uuid;

const RUNS: usize = 11;

fn dollars(cents: usize) -> Money {
    let cents = i64::try_from(cents).unwrap_or_default();
    Money::exact(Decimal::new(cents, 2), usd()).unwrap_or(Money::zero(usd()))
}

fn usd() -> Currency {
    Currency::find("USD").unwrap_or_else(|_| unreachable!("dollars are listed"))
}

fn day(number: usize) -> NaiveDate {
    let first = NaiveDate::from_ymd_opt(2025, 1, 1).unwrap_or_default();
    first + Days::new(u64::try_from(number % 365).unwrap_or_default())
}

fn one_of<T: Copy>(all: &[T], number: usize) -> T {
    all.iter()
        .copied()
        .cycle()
        .nth(number % all.len())
        .unwrap_or_else(|| unreachable!("none of them is empty"))
}

/// An episode with that many attributions, of a tenth as many sources.
fn episode(attributions: usize) -> StatementFacts {
    let episode = EpisodeId(Uuid::from_u128(1));
    let source =
        |number: usize| SourceId(Uuid::from_u128(1_000 + u128::try_from(number).unwrap_or_default()));
    let sources = attributions / 10;
    let given = |number: usize| (day(number), dollars(100 + number % 900));
    let rows = (0..attributions).map(|number| {
        let (date, amount) = given(number);
        let label = Label::Category(one_of(Category::ALL, number));
        AttributedAmount { source: source(number % sources), side: Side::Cost, label, date, amount }
    });
    let facts = (0..sources).map(|number| {
        let of_source = (number..attributions).step_by(sources).map(given);
        let attributed: Vec<_> = of_source.map(|(date, amount)| DatedAmount { date, amount }).collect();
        let movement = MovementFacts {
            date: day(0),
            kind: MovementKind::Incurred,
            amount: dollars(1_000_000),
            entry_kind: Some(EntryKind::Ordinary),
        };
        let source = Source {
            id: source(number),
            side: Side::Cost,
            kind: SourceKind::PurchaseLine,
            text: "lumber".to_owned(),
        };
        SourceFacts { source, given: false, movements: vec![movement], attributed }
    });
    StatementFacts {
        episode,
        currency: usd(),
        period: Period::default(),
        sources: facts.collect(),
        facts: ObjectFacts {
            object: CostObject::Episode(episode),
            attributions: rows.collect(),
            own_hours: (0..200).map(|one| OwnHours { date: day(one), hours: Decimal::ONE }).collect(),
            budget: Vec::new(),
        },
    }
}

/// A tax year of that many postings, none of them added up before.
fn year(postings: usize) -> YearFacts {
    let profile = Profile::find("us", 2025).unwrap_or_else(|_| unreachable!("2025 has a profile"));
    let books = BooksFacts {
        base: usd(),
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        began_on: day(0),
        first_open: day(0),
    };
    let mut facts = YearFacts::empty(profile, books);
    facts.postings = (0..postings)
        .map(|number| {
            let class = one_of(ExpenseClass::ALL, number);
            PostingSum {
                account: Account::Expense(class),
                class: Some(class.tax_class()),
                kind: EntryKind::Ordinary,
                amount: dollars(100 + number % 900),
            }
        })
        .collect();
    facts
}

fn median(mut work: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .collect();
    times.sort_unstable();
    times.get(RUNS / 2).copied().unwrap_or_default()
}

fn shows<F>(what: &str, size: usize, build: impl Fn(usize) -> F, work: impl Fn(&F)) {
    let (small, large) = (build(size / 10), build(size));
    let (tenth, whole) = (median(|| work(&small)), median(|| work(&large)));
    let growth = whole.as_nanos() * 100 / tenth.as_nanos().max(1);
    println!(
        "{what}: {} in {tenth:.1?}, {size} in {whole:.1?}; ten times as many take {}.{:02} times as long",
        size / 10,
        growth / 100,
        growth % 100
    );
}

fn main() {
    shows("statement of an episode, attributions", 10_000, episode, |facts| {
        std::hint::black_box(statement(facts).is_ok());
    });
    shows("summary of a tax year, postings", 100_000, year, |facts| {
        std::hint::black_box(summarise(facts).is_ok());
    });
}
