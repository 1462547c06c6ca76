//! Test books, and the tie that every recording must keep: what stands in the journal stands in the sources.

use chrono::{Days, NaiveDate, TimeDelta};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestCaseError, TestRunner};
use rust_decimal::Decimal;
use uuid::Uuid;

use super::ids::{EpisodeId, IdSource, MoneyAccountId, PartyId};
use super::journal::{Account, Entry, EntryKind};
use super::money::{Amount, Currency, Money};
use super::objects::ObjectShare;
use super::recording::{
    AccountingMethod, BooksFacts, CostObject, MaterialsFlow, MaterialsTiming, MoneyAccount, MoneyAccountKind,
    Pen, Recording, Side,
};
use super::refusal::Refusal;
use super::revisions::{Labelled, Labels, Version, fields_of, revise};

/// Ids that count upward.
#[derive(Default)]
pub struct Counter(u128);

impl IdSource for Counter {
    fn next(&mut self) -> Uuid {
        self.0 += 1;
        Uuid::from_u128(self.0)
    }
}

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn usd() -> Currency {
    Currency::find("USD").unwrap()
}

pub fn amount(text: &str) -> Amount {
    Amount::parse(text).unwrap()
}

pub fn dollars(text: &str) -> Money {
    amount(text).money(usd()).unwrap()
}

/// Books in dollars, on the cash basis, open since 2025.
pub fn books() -> BooksFacts {
    BooksFacts {
        base: usd(),
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        began_on: chrono::NaiveDate::from_ymd_opt(2020, 1, 1).unwrap(),
        first_open: day("2025-01-01"),
    }
}

/// Writes with a pen of the usual books.
pub fn write<T>(rule: impl FnOnce(&mut Pen<'_>) -> Result<T, Refusal>) -> Result<T, Refusal> {
    write_in(&books(), rule)
}

pub fn write_in<T>(
    books: &BooksFacts,
    rule: impl FnOnce(&mut Pen<'_>) -> Result<T, Refusal>,
) -> Result<T, Refusal> {
    rule(&mut Pen { books, ids: &mut Counter::default() })
}

pub fn account(number: u128, kind: MoneyAccountKind, currency: &str) -> MoneyAccount {
    let id = MoneyAccountId(Uuid::from_u128(900 + number));
    MoneyAccount { id, kind, currency: Currency::find(currency).unwrap() }
}

pub fn bank() -> MoneyAccount {
    account(1, MoneyAccountKind::Bank, "USD")
}

pub fn party(number: u128) -> PartyId {
    PartyId(Uuid::from_u128(800 + number))
}

pub fn episode(number: u128) -> EpisodeId {
    EpisodeId(Uuid::from_u128(700 + number))
}

pub fn for_episode(number: u128) -> ObjectShare {
    ObjectShare { episode: Some(episode(number)), ..ObjectShare::default() }
}

/// A request as it comes over the wire.
pub fn asked<T: serde::de::DeserializeOwned>(body: serde_json::Value) -> T {
    serde_json::from_value(body).unwrap()
}

/// A thing is called by the field of that name, in its labels and in those that go out; it can be called anew, without the
/// spaces around, and never by nothing.
pub fn is_always_called_something<L: Labels>(field: &str) {
    let first = serde_json::json!({ field: "oak dresser" });
    let now = Labelled { version: Version(1), labels: asked::<L>(first) };
    let fields = fields_of(&now.labels).unwrap();
    assert_eq!((now.labels.title(), L::THING.title_among(&fields)), ("oak dresser", Some("oak dresser")));
    let anew =
        |name: &str| revise(&now, &[Version(1)], &std::iter::once((field.to_owned(), name.into())).collect());
    let later = anew(" walnut dresser ").unwrap().unwrap().labels;
    assert_eq!(
        (later.title(), &fields_of(&later).unwrap()[field]),
        ("walnut dresser", &"walnut dresser".into())
    );
    assert_eq!(findings(anew(" ").map(|_| ())), [format!("/{field}: the {field} is empty")]);
}

/// The sum that one account moves by in all entries, as text; debits are positive.
pub fn balance(recording: &Recording, account: Account) -> String {
    super::journal::balance_of(&recording.entries, account, usd()).unwrap().to_string()
}

/// What is attributed to an episode on one side.
pub fn attributed(recording: &Recording, side: Side, number: u128) -> String {
    let object = CostObject::Episode(episode(number));
    let sources: Vec<_> =
        recording.sources.iter().filter(|source| source.side == side).map(|source| source.id).collect();
    let parts = recording.attributions.iter().filter(|one| one.object == object);
    let parts = parts.filter(|one| sources.contains(&one.source)).map(|one| one.amount);
    Money::sum(usd(), parts).unwrap().to_string()
}

/// The findings as `pointer: detail`, to compare in one go.
pub fn findings<T: std::fmt::Debug>(refused: Result<T, Refusal>) -> Vec<String> {
    let refusal = refused.unwrap_err();
    refusal.findings().map(|finding| format!("{}: {}", finding.pointer, finding.said().detail)).collect()
}

fn posted(entry: &Entry, counts: impl Fn(Account) -> bool) -> Decimal {
    let postings = entry.postings().iter().filter(|posting| counts(posting.account));
    postings.map(|posting| posting.amount.amount()).sum()
}

/// Every entry balances; costs and incomes stand in the sources as they stand in the journal; no
/// new source is attributed beyond what is left of it.
pub fn ties(recording: &Recording, known: &[(super::ids::SourceId, Side)]) {
    let side_of = |id| {
        let new = recording.sources.iter().find(|source| source.id == id).map(|source| source.side);
        new.or_else(|| known.iter().find(|(one, _)| *one == id).map(|(_, side)| *side))
            .expect("a known source")
    };
    for (place, entry) in recording.entries.iter().enumerate() {
        let sum: Decimal = entry.postings().iter().map(|posting| posting.amount.amount()).sum();
        assert!(sum.is_zero(), "{entry:?}");
        if matches!(entry.kind, EntryKind::Depreciation | EntryKind::Disposal | EntryKind::Closing) {
            continue;
        }
        let moved = |sides: &[Side]| -> Decimal {
            let of_entry = recording.movements.iter().filter(|one| one.entry == Some(place));
            of_entry.filter(|one| sides.contains(&side_of(one.source))).map(|one| one.amount.amount()).sum()
        };
        let costs = posted(entry, Account::carries_costs);
        assert_eq!(costs, moved(&[Side::Cost, Side::Fee]), "costs of {entry:?}");
        let incomes = posted(entry, |account| {
            matches!(account, Account::Income(_) | Account::GoodsForPromotion | Account::ReturnsAllowances)
        });
        assert_eq!(-incomes, moved(&[Side::Income, Side::InKind]), "incomes of {entry:?}");
    }
    for source in &recording.sources {
        let moved: Decimal = recording
            .movements
            .iter()
            .filter(|one| one.source == source.id)
            .map(|one| one.amount.amount())
            .sum();
        let given: Decimal = recording
            .attributions
            .iter()
            .filter(|one| one.source == source.id)
            .map(|one| one.amount.amount())
            .sum();
        assert!(given <= moved, "{source:?}: {given} attributed of {moved}");
    }
}

/// Invariant 8, of a record that could be dated on any day from `from` on: on a closed day it is refused at `/date`,
/// for that and nothing else; on an open one it is taken, and all that it writes is of open days.
pub fn keeps_out_of_closed_days(
    from: &str,
    rule: impl Fn(&mut Pen<'_>, NaiveDate) -> Result<Recording, Refusal>,
) {
    keeps_out_of_closed_days_of(&books(), from, rule);
}

/// The same in other books than the usual ones.
pub fn keeps_out_of_closed_days_of(
    books: &BooksFacts,
    from: &str,
    rule: impl Fn(&mut Pen<'_>, NaiveDate) -> Result<Recording, Refusal>,
) {
    let from = day(from);
    holds_for_any(&(1..700_u64, -40..400_i64), |(opens, apart)| {
        let first_open = from + Days::new(opens);
        let closed = BooksFacts { first_open, ..books.clone() };
        // The last closed and the first open day beside any other: a comparison goes wrong there first.
        for apart in [-1, 0, apart] {
            let date = (first_open + TimeDelta::days(apart)).max(from);
            let written = write_in(&closed, |pen| rule(pen, date));
            if date >= first_open {
                let taken =
                    written.map_err(|refusal| TestCaseError::fail(format!("on {date}: {refusal}")))?;
                let early = days_written(&taken).find(|written| *written < first_open);
                prop_assert_eq!(early, None, "the record of {} wrote into closed days", date);
                continue;
            }
            prop_assert!(written.is_err(), "{} is closed, and the record was taken", date);
            let why = format!("{date} lies in a closed period; the first open day is {first_open}");
            prop_assert_eq!(findings(written), [format!("/date: {why}")]);
        }
        Ok(())
    });
}

/// The days of everything that moves an amount.
fn days_written(recording: &Recording) -> impl Iterator<Item = NaiveDate> {
    let entries = recording.entries.iter().map(|entry| entry.date);
    let movements = recording.movements.iter().map(|moved| moved.date);
    entries.chain(movements).chain(recording.attributions.iter().map(|given| given.date))
}

/// A property that several words share: tried with a few cases for each, and shrunk where it fails.
pub fn holds_for_any<S: Strategy>(any: &S, holds: impl Fn(S::Value) -> Result<(), TestCaseError>) {
    let config = Config { cases: 32, failure_persistence: None, ..Config::default() };
    if let Err(least) = TestRunner::new(config).run(any, holds) {
        panic!("{least}");
    }
}

/// Shares of a hundred, as hundredths: what lies between a few cuts, so that they always come to 100.
pub fn any_shares() -> impl Strategy<Value = Vec<i64>> {
    prop::collection::btree_set(1..10_000_i64, 0..6).prop_map(|cuts| {
        let edges: Vec<i64> = std::iter::once(0).chain(cuts).chain([10_000]).collect();
        edges.windows(2).map(|pair| pair[1] - pair[0]).collect()
    })
}

/// Weights of anything that is split, not all of them zero.
pub fn any_weights() -> impl Strategy<Value = Vec<i64>> {
    let weights = prop::collection::vec(0..100_000_i64, 1..8);
    weights.prop_filter("something to split by", |weights| weights.iter().any(|weight| *weight > 0))
}

pub fn cents(cents: i64) -> Money {
    Money::exact(Decimal::new(cents, 2), usd()).unwrap()
}

/// Two decimals as they are written in a request.
pub fn hundredths(number: i64) -> String {
    Decimal::new(number, 2).to_string()
}

/// Invariant 5: the shares of `whole` by `weights` are all of it, and each is less than a cent from its exact part.
pub fn cut_to_the_cent(whole: Money, weights: &[i64], shares: &[Money]) -> Result<(), TestCaseError> {
    prop_assert_eq!(shares.len(), weights.len());
    prop_assert_eq!(Money::sum(whole.currency(), shares.iter().copied()).unwrap(), whole, "{:?}", shares);
    let all = Decimal::from(weights.iter().sum::<i64>());
    for (share, weight) in shares.iter().zip(weights) {
        let exact = whole.amount() * Decimal::from(*weight) / all;
        let off = (share.amount() - exact).abs();
        prop_assert!(off < whole.currency().minor_unit(), "{} of {} by {:?}", share, whole, weights);
    }
    Ok(())
}

/// What each of the episodes, counted from 1, was given on one side.
pub fn given_to(recording: &Recording, side: Side, episodes: usize) -> Vec<Money> {
    (1..).take(episodes).map(|number| dollars(&attributed(recording, side, number))).collect()
}

/// The episodes, counted from 1, with their shares of a hundred.
pub fn by_shares(shares: &[i64]) -> serde_json::Value {
    let numbered = (1..).zip(shares);
    let one = |(number, share): (u128, &i64)| {
        let (episode, share) = (episode(number), hundredths(*share));
        serde_json::json!({ "episode": episode, "share": share })
    };
    numbered.map(one).collect()
}
