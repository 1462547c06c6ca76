mod journal;
mod sources;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::chain::{Form, Hash, SealedEntry, genesis, seal};
use super::super::ids::RecordId;
use super::super::journal::{Account, EntryKind, ExpenseClass, Posting, Stream, TaxClass};
use super::super::recording::{Side, SourceKind};
use super::*;

fn usd(text: &str) -> Money {
    Money::exact(text.parse().unwrap(), Currency::find("USD").unwrap()).unwrap()
}

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).unwrap()
}

fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

fn entry(number: i64, date: NaiveDate, postings: &[(Account, &str, Option<TaxClass>)]) -> SealedEntry {
    SealedEntry {
        form: Form::First,
        number,
        date,
        kind: EntryKind::Ordinary,
        text: format!("entry {number}"),
        record: RecordId(id(0xc0)),
        reverses: None,
        postings: postings
            .iter()
            .map(|(account, amount, class)| Posting {
                account: *account,
                amount: usd(amount),
                class: *class,
                tax_year: 2026,
            })
            .collect(),
        hash: Hash([0; 32]),
    }
}

fn source(number: u128, side: Side, kind: SourceKind, text: &str) -> Source {
    Source { id: SourceId(id(number)), side, kind, text: text.to_owned() }
}

fn moved(row: &str, of: u128, date: NaiveDate, amount: &str, entry: Option<i64>) -> StoredMovement {
    let (source, kind) = (SourceId(id(of)), MovementKind::Incurred);
    StoredMovement { row: format!("movement {row}"), source, date, kind, amount: usd(amount), entry }
}

fn attributed(row: &str, of: u128, date: NaiveDate, amount: &str) -> StoredAttribution {
    let (row, source) = (format!("attribution {row}"), SourceId(id(of)));
    StoredAttribution { row, source, date, amount: usd(amount), missing: None }
}

const PAINT: u128 = 1;
const SAW: u128 = 2;
const DEAL: u128 = 3;
const AGENCY: u128 = 4;
const TAPE: u128 = 5;

fn paint_lot() -> StoredLot {
    let issue = StoredLotMove { date: day(2, 1), quantity: Decimal::from(-4), cost: usd("-24.00") };
    StoredLot {
        row: format!("lot {}", id(0x10)),
        material: "wall paint".to_owned(),
        unit: "l".to_owned(),
        acquired_on: day(1, 5),
        quantity: Decimal::from(10),
        cost: usd("60.00"),
        moves: vec![issue],
    }
}

fn saw() -> StoredTool {
    StoredTool {
        row: format!("tool {}", id(0x20)),
        source: SourceId(id(SAW)),
        name: "table saw".to_owned(),
        cost: usd("649.00"),
        basis_for_gain: usd("649.00"),
        salvage: usd("49.00"),
    }
}

/// Paint to stock, a saw, an issue, a sponsor's half through an agency, tape bought and taken back, depreciation.
fn healthy_books() -> BooksToVerify {
    let own = Account::OwnerContribution;
    let supplies = Account::Expense(ExpenseClass::Supplies);
    let fees = Account::Expense(ExpenseClass::CommissionsFees);
    let class = Some(TaxClass::Supplies);
    let mut entries = vec![
        entry(1, day(1, 5), &[(Account::MaterialsOnHand, "60.00", None), (own, "-60.00", None)]),
        entry(2, day(1, 6), &[(Account::ToolsAtCost, "649.00", None), (own, "-649.00", None)]),
        entry(3, day(2, 1), &[(supplies, "24.00", class), (Account::MaterialsOnHand, "-24.00", None)]),
        entry(
            4,
            day(2, 9),
            &[
                (own, "510.00", None),
                (fees, "90.00", Some(TaxClass::CommissionsFees)),
                (Account::Income(Stream::Sponsorship), "-600.00", Some(TaxClass::Sponsorship)),
            ],
        ),
        entry(5, day(2, 10), &[(supplies, "8.00", class), (own, "-8.00", None)]),
        entry(6, day(2, 11), &[(supplies, "-8.00", class), (own, "8.00", None)]),
        entry(
            7,
            day(2, 28),
            &[
                (Account::Expense(ExpenseClass::Depreciation), "30.00", Some(TaxClass::Depreciation)),
                (Account::AccumulatedDepreciation, "-30.00", None),
            ],
        ),
    ];
    entries[5].kind = EntryKind::Reversal;
    entries[5].reverses = Some(5);
    entries[6].kind = EntryKind::Depreciation;
    let mut books = BooksToVerify {
        books: BooksId(id(0xb0)),
        base: usd("0").currency(),
        head: Head { number: 0, hash: Hash([0; 32]) },
        first_open: day(2, 1),
        entries,
        reversals: vec![ReversalLink { entry: 5, reversed_by: 6 }],
        period_acts: vec![StoredPeriodAct {
            kind: PeriodActKind::Closed,
            closed_through: day(1, 31),
            after: Some(2),
        }],
        sources: vec![
            source(PAINT, Side::Cost, SourceKind::Lot, "wall paint"),
            source(SAW, Side::Cost, SourceKind::Tool, "table saw"),
            source(DEAL, Side::Income, SourceKind::Instalment, "first half"),
            source(AGENCY, Side::Fee, SourceKind::Instalment, "kept by the agency"),
            source(TAPE, Side::Cost, SourceKind::PurchaseLine, "tape"),
        ],
        movements: vec![
            moved("m1", PAINT, day(1, 5), "60.00", Some(1)),
            moved("m2", SAW, day(1, 6), "649.00", Some(2)),
            moved("m3", DEAL, day(2, 9), "600.00", Some(4)),
            moved("m4", AGENCY, day(2, 9), "90.00", Some(4)),
            moved("m5", TAPE, day(2, 10), "8.00", Some(5)),
            moved("m6", TAPE, day(2, 11), "-8.00", Some(6)),
        ],
        attributions: vec![
            attributed("a1", PAINT, day(2, 1), "24.00"),
            attributed("a2", SAW, day(2, 3), "600.00"),
            attributed("a3", DEAL, day(2, 9), "600.00"),
        ],
        lots: vec![paint_lot()],
        tools: vec![saw()],
        unreadable: Vec::new(),
    };
    reseal(&mut books);
    books
}

/// Hashes and head as the one write path would have made them.
fn reseal(books: &mut BooksToVerify) {
    let mut before = genesis(books.books);
    for entry in &mut books.entries {
        entry.hash = seal(&before, &entry.to_seal(books.books));
        before = entry.hash;
    }
    let last = books.entries.last().map_or(0, |entry| entry.number);
    books.head = Head { number: last, hash: before };
}

/// What each breach is about, after `harm` was done to healthy books.
fn found(harm: impl FnOnce(&mut BooksToVerify)) -> Vec<(Checked, Option<i64>, String)> {
    let mut books = healthy_books();
    harm(&mut books);
    let verdict = verify(&books);
    assert_eq!(verdict.holds(), verdict.breaches.is_empty());
    verdict.breaches.iter().map(|breach| (breach.of, breach.entry, breach.to_string())).collect()
}

/// The same, where the one who did harm knew how to make the hashes again.
fn found_behind_good_hashes(harm: impl FnOnce(&mut BooksToVerify)) -> Vec<(Checked, Option<i64>, String)> {
    found(|books| {
        harm(books);
        reseal(books);
    })
}

fn is_about(found: &[(Checked, Option<i64>, String)], of: Checked, entry: Option<i64>, words: &str) {
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].0, found[0].1), (of, entry), "{found:?}");
    assert!(found[0].2.contains(words), "{found:?}");
}

#[test]
fn healthy_books_verify_and_say_what_was_looked_at() {
    let verdict = verify(&healthy_books());
    assert_eq!(verdict.breaches, []);
    let says: Vec<&str> = verdict.checks.iter().map(|check| check.says.as_str()).collect();
    let expected = [
        "25 rows can be read",
        "7 entries are numbered without a gap",
        "7 hashes recomputed",
        "1 head of the books is the last entry",
        "7 entries balance",
        "15 postings are in the books' currency, to its minor unit",
        "1 reversal is linked both ways",
        "5 entries made after a closing lie in an open period",
        "9 movements and attributions have their source and entry",
        "6 movements are dated as their entries",
        "6 entries tie to their sources",
        "5 sources roll forward on every day",
        "1 lot never held less than nothing",
        "1 tool is attributed with no more than its cost less salvage",
    ];
    assert_eq!(says, expected);
}

#[test]
fn new_books_verify() {
    let mut books = healthy_books();
    books.entries.clear();
    books.reversals.clear();
    books.movements.clear();
    books.attributions.clear();
    books.head = Head::of_new_books(books.books);
    assert!(verify(&books).holds());
}

#[test]
fn a_row_that_can_not_be_read_is_a_breach_and_not_a_crash() {
    let found = found(|books| {
        books.unreadable.push(Unreadable {
            entry: Some(3),
            row: "line 1".to_owned(),
            what: "24.005 has more decimals than USD has".to_owned(),
        });
    });
    is_about(&found, Checked::Readable, Some(3), "entry 3, line 1: 24.005 has more decimals");
}

#[test]
fn counts_are_said_with_their_thousands() {
    for (count, said) in [(0, "0"), (999, "999"), (1_204, "1,204"), (12_345_678, "12,345,678")] {
        assert_eq!(grouped(count), said);
    }
}

#[test]
fn twenty_thousand_entries_are_verified_in_one_pass() {
    let mut books = healthy_books();
    books.period_acts.clear();
    books.first_open = NaiveDate::MIN;
    for number in 8..=20_000 {
        let paid = [(Account::PlatformReserves, "1.00", None), (Account::Loans, "-1.00", None)];
        books.entries.push(entry(number, day(3, 1), &paid));
    }
    reseal(&mut books);
    let verdict = verify(&books);
    assert!(verdict.holds(), "{:?}", verdict.breaches.first());
    assert!(verdict.checks.iter().any(|check| check.says == "20,000 entries balance"));
}
