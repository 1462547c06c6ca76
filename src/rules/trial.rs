//! Test books, and the tie that every recording must keep: what stands in the journal stands in the sources.

use chrono::NaiveDate;
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

/// What a thing is called after it was called anew, by its labels and by the fields of them that go out.
pub fn called_anew<L: Labels>(labels: serde_json::Value, name: &str) -> Result<String, Refusal> {
    let now = Labelled { version: Version(1), labels: asked::<L>(labels) };
    let field = L::FIELDS[0];
    assert_eq!(Some(now.labels.title()), L::THING.title_among(&fields_of(&now.labels).unwrap()));
    let patch = std::iter::once((field.to_owned(), name.into())).collect();
    let anew = revise(&now, &[Version(1)], &patch)?.unwrap().labels;
    assert_eq!(fields_of(&anew).unwrap()[field], anew.title());
    Ok(anew.title().to_owned())
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
