use chrono::NaiveDate;
use proptest::prelude::*;
use rust_decimal::Decimal;
use uuid::{Uuid, uuid};

use super::super::ids::{BooksId, RecordId};
use super::super::journal::{Account, EntryKind, ExpenseClass, Posting, TaxClass};
use super::super::money::{Currency, Money};
use super::{Form, Hash, NotAHash, SealedEntry, genesis, seal};

const BOOKS: BooksId = BooksId(uuid!("01929b9c-7a00-7000-8000-0000000000b0"));
const RECORD: RecordId = RecordId(uuid!("01929b9c-7a00-7000-8000-0000000000c1"));

fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

fn cents(amount: i64, code: &str) -> Money {
    Money::exact(Decimal::new(amount, 2), Currency::find(code).unwrap()).unwrap()
}

fn posting(account: Account, amount: i64, class: Option<TaxClass>) -> Posting {
    Posting { account, amount: cents(amount, "USD"), class, tax_year: 2026 }
}

fn paint() -> SealedEntry {
    SealedEntry {
        form: Form::First,
        number: 1,
        date: day(2026, 3, 14),
        kind: EntryKind::Ordinary,
        text: "Paint, two cans – Maple & Brush".to_owned(),
        record: RECORD,
        reverses: None,
        postings: vec![
            posting(Account::Expense(ExpenseClass::Supplies), 4110, Some(TaxClass::Supplies)),
            posting(Account::OwnerContribution, -4110, None),
        ],
        hash: Hash([0; 32]),
    }
}

// Common practice, no source: the three hashes were worked out from the module's description by a program that
// shares no code with this one (length-prefixed fields, then SHA-256, FIPS 180-4).
#[test]
fn an_entry_and_its_reversal_have_the_hashes_that_the_written_form_gives() {
    let start = genesis(BOOKS);
    assert_eq!(start.to_string(), "dc5af3bded02fa01811664bf246dde7c40872daef27caf0742a844de19bdb51d");

    let first = seal(&start, &paint().to_seal(BOOKS));
    assert_eq!(first.to_string(), "31c4bb929799fe140890a55255e2c52df65ef469752baf181859525ac9fe45ae");

    let mut takes_back = SealedEntry {
        number: 2,
        date: day(2026, 3, 15),
        kind: EntryKind::Reversal,
        text: "Takes back entry 1".to_owned(),
        reverses: Some(1),
        ..paint()
    };
    for posting in &mut takes_back.postings {
        posting.amount = posting.amount.negated();
    }
    let second = seal(&first, &takes_back.to_seal(BOOKS));
    assert_eq!(second.to_string(), "0c4cfb869d4312220f180bf00cf3742783ca2b7c6adfbd2d469ecbe2e120ed78");
}

#[test]
fn no_two_books_begin_with_the_same_hash() {
    assert_ne!(genesis(BOOKS), genesis(BooksId(Uuid::from_u128(1))));
}

#[test]
fn text_that_looks_like_the_fields_beside_it_does_not_pass_for_them() {
    let plain = paint();
    let forged = SealedEntry { text: format!("{},36:{RECORD},0:,1:2,", plain.text), ..paint() };
    let start = genesis(BOOKS);
    assert_ne!(seal(&start, &plain.to_seal(BOOKS)), seal(&start, &forged.to_seal(BOOKS)));
}

#[test]
fn a_hash_is_read_back_from_its_sixty_four_digits_and_from_nothing_else() {
    let hash = genesis(BOOKS);
    let text = hash.to_string();
    assert_eq!(text.parse(), Ok(hash));
    assert_eq!(Hash::of_bytes(hash.bytes()), Ok(hash));
    let json = serde_json::to_string(&hash).unwrap();
    assert_eq!(json, format!("\"{text}\""));
    assert_eq!(serde_json::from_str::<Hash>(&json).unwrap(), hash);
    for wrong in [
        "",
        "ab",
        &text[1..],
        &text[2..],
        &format!("{text}00"),
        &text.to_uppercase(),
        &format!("+{}", &text[1..]),
    ] {
        assert_eq!(wrong.parse::<Hash>(), Err(NotAHash), "{wrong}");
    }
    assert_eq!(Hash::of_bytes(&[0; 31]), Err(NotAHash));
}

fn any_account() -> impl Strategy<Value = Account> {
    prop_oneof![
        any::<u128>().prop_map(|id| Account::Money(super::super::ids::MoneyAccountId(Uuid::from_u128(id)))),
        proptest::sample::select(Account::starters()),
    ]
}

prop_compose! {
    fn any_posting()(
        account in any_account(),
        amount in -9_999_999_i64..9_999_999,
        code in proptest::sample::select(vec!["USD", "GBP", "CAD"]),
        class in proptest::option::of(proptest::sample::select(TaxClass::ALL)),
        tax_year in 2000..2100,
    ) -> Posting {
        Posting { account, amount: cents(amount, code), class, tax_year }
    }
}

prop_compose! {
    fn any_entry()(
        number in 1_i64..1_000_000,
        days in 0_u64..20_000,
        kind in proptest::sample::select(EntryKind::ALL),
        text in ".{0,40}",
        record in any::<u128>(),
        reverses in proptest::option::of(1_i64..1_000_000),
        postings in proptest::collection::vec(any_posting(), 1..5),
    ) -> SealedEntry {
        SealedEntry {
            form: Form::First,
            number,
            date: day(2000, 1, 1) + chrono::Days::new(days),
            kind,
            text,
            record: RecordId(Uuid::from_u128(record)),
            reverses,
            postings,
            hash: Hash([0; 32]),
        }
    }
}

/// Changes one field of `entry`, or of one of its postings, to what stands there in `other`.
fn with_one_field_of(entry: &SealedEntry, other: &SealedEntry, field: usize) -> SealedEntry {
    let mut changed = entry.clone();
    let theirs = other.postings[0].clone();
    match field {
        0 => changed.number = other.number,
        1 => changed.date = other.date,
        2 => changed.kind = other.kind,
        3 => changed.text.clone_from(&other.text),
        4 => changed.record = other.record,
        5 => changed.reverses = other.reverses,
        6 => changed.postings.push(theirs),
        7 => drop(changed.postings.pop()),
        8 => changed.postings[0].account = theirs.account,
        9 => changed.postings[0].amount = theirs.amount,
        10 => changed.postings[0].class = theirs.class,
        11 => changed.postings[0].tax_year = theirs.tax_year,
        12 => changed.postings[0].amount = changed.postings[0].amount.negated(),
        _ => changed.postings.reverse(),
    }
    changed
}

proptest! {
    #[test]
    fn any_single_changed_field_changes_the_hash(entry in any_entry(), other in any_entry(), field in 0_usize..14) {
        let changed = with_one_field_of(&entry, &other, field);
        let start = genesis(BOOKS);
        let same = seal(&start, &changed.to_seal(BOOKS)) == seal(&start, &entry.to_seal(BOOKS));
        prop_assert_eq!(same, changed == entry);
    }

    #[test]
    fn the_hash_before_and_the_books_are_part_of_the_hash(entry in any_entry(), before in any::<[u8; 32]>()) {
        let start = genesis(BOOKS);
        let sealed = seal(&start, &entry.to_seal(BOOKS));
        prop_assert_ne!(sealed, seal(&Hash(before), &entry.to_seal(BOOKS)));
        prop_assert_ne!(sealed, seal(&start, &entry.to_seal(BooksId(Uuid::from_u128(7)))));
    }
}

#[test]
fn a_form_is_found_by_its_number_and_an_unknown_one_is_not() {
    assert_eq!(Form::numbered(Form::NEWEST.number()), Some(Form::NEWEST));
    assert_eq!(Form::numbered(1), Some(Form::First), "the number is in books that exist");
    assert_eq!([0, 2, -1].map(Form::numbered), [None; 3]);
}
