use chrono::NaiveDate;
use proptest::prelude::*;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::chain::{Hash, SealedEntry, genesis, seal};
use super::super::ids::{EpisodeId, LotId, RecordId, ToolId};
use super::super::journal::{Account, EntryKind, ExpenseClass, Posting, Stream, TaxClass};
use super::super::recording::{Category, CostObject, Side, SourceKind};
use super::super::rows::{
    AttributionPlan, LotMoveKind, LotStanding, PropertyType, RecoveryClass, Target, TaxChoice, ToolOrigin,
};
use super::super::treatment::Treatment;
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
    StoredAttribution { row, source, date, amount: usd(amount) }
}

const PAINT: u128 = 1;
const SAW: u128 = 2;
const DEAL: u128 = 3;
const AGENCY: u128 = 4;
const TAPE: u128 = 5;

fn paint_lot() -> LotWithMoves {
    let treatment = Treatment::Expense(ExpenseClass::Supplies);
    let lot = Lot {
        id: LotId(id(0x10)),
        source: SourceId(id(PAINT)),
        material: "wall paint".to_owned(),
        unit: "l".to_owned(),
        quantity: Decimal::from(10),
        cost: usd("60.00"),
        acquired_on: day(1, 5),
        treatment,
        category: Category::Materials,
        standing: LotStanding::OnHand,
    };
    let issue = LotMove {
        lot: lot.id,
        date: day(2, 1),
        kind: LotMoveKind::Issued,
        quantity: Decimal::from(-4),
        cost: usd("-24.00"),
        to: Target::Object(CostObject::Episode(EpisodeId(id(0xe1)))),
        treatment,
    };
    LotWithMoves { lot, moves: vec![issue] }
}

fn saw() -> Tool {
    Tool {
        id: ToolId(id(0x20)),
        source: SourceId(id(SAW)),
        name: "table saw".to_owned(),
        origin: ToolOrigin::Bought,
        acquired_on: day(1, 6),
        in_service_on: day(1, 6),
        cost: usd("649.00"),
        salvage: usd("49.00"),
        plan: AttributionPlan::EqualShare,
        class: RecoveryClass::Seven,
        property: PropertyType::Ordinary,
        choice: TaxChoice::ByLaw,
        section_179: usd("0.00"),
        business_share: Decimal::ONE_HUNDRED,
        prior: None,
        hours_before: Decimal::ZERO,
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
        "0 rows can be read",
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
fn a_changed_amount_breaks_the_seal_and_the_balance_of_that_entry_alone() {
    let found = found(|books| books.entries[3].postings[0].amount = usd("511.00"));
    let about: Vec<_> = found.iter().map(|(of, entry, _)| (*of, *entry)).collect();
    assert_eq!(about, [(Checked::Chain, Some(4)), (Checked::Balance, Some(4))]);
}

#[test]
fn a_changed_text_breaks_the_seal() {
    let found = found(|books| books.entries[1].text = "a smaller saw".to_owned());
    is_about(&found, Checked::Chain, Some(2), "does not seal");
}

#[test]
fn a_hash_made_again_for_a_changed_entry_breaks_the_seal_of_the_next() {
    let found = found(|books| {
        books.entries[1].text = "a smaller saw".to_owned();
        let before = books.entries[0].hash;
        books.entries[1].hash = seal(&before, &books.entries[1].to_seal(books.books));
    });
    is_about(&found, Checked::Chain, Some(3), "the hash before it");
}

#[test]
fn a_cut_tail_shows_in_the_head() {
    let found = found(|books| drop(books.entries.pop()));
    is_about(
        &found,
        Checked::Head,
        Some(7),
        "entry 7 is missing at the end of the journal: its tail was cut",
    );
}

#[test]
fn a_tail_cut_together_with_the_heads_number_shows_in_its_hash() {
    let found = found(|books| {
        books.entries.pop();
        books.head.number = 6;
    });
    is_about(&found, Checked::Head, Some(6), "not this entry's");
}

#[test]
fn an_entry_beyond_the_head_shows() {
    let found = found(|books| {
        books.head = Head { number: 6, hash: books.entries[5].hash };
    });
    is_about(&found, Checked::Head, Some(7), "stands at entry 6");
}

#[test]
fn an_entry_taken_out_of_the_middle_leaves_a_gap_and_orphans() {
    let found = found(|books| drop(books.entries.remove(3)));
    let about: Vec<_> = found.iter().map(|(of, entry, _)| (*of, *entry)).collect();
    let orphan = (Checked::Orphans, Some(4));
    assert_eq!(about, [(Checked::Numbers, Some(4)), orphan, orphan]);
    assert!(found[0].2.contains("entry 4 is missing"));
}

#[test]
fn a_number_given_twice_shows() {
    let found = found(|books| {
        let again = books.entries[6].clone();
        books.entries.push(again);
    });
    is_about(&found, Checked::Numbers, Some(7), "given twice");
}

#[test]
fn the_order_in_which_entries_are_read_does_not_matter() {
    assert_eq!(found(|books| books.entries.reverse()), []);
}

#[test]
fn other_books_base_currency_shows_on_every_posting() {
    let found = found(|books| books.base = Currency::find("CAD").unwrap());
    assert!(found.len() == 15 && found.iter().all(|(of, ..)| *of == Checked::Currency));
}

#[test]
fn a_reversal_that_is_not_linked_both_ways_is_named_whichever_link_is_missing() {
    is_about(&found(|books| books.reversals.clear()), Checked::Reversals, Some(6), "does not name it");
    let link = ReversalLink { entry: 2, reversed_by: 3 };
    is_about(&found(|books| books.reversals.push(link)), Checked::Reversals, Some(2), "does not say so");
}

#[test]
fn a_reversal_takes_back_one_earlier_entry_once_and_exactly() {
    let other_year = found_behind_good_hashes(|books| books.entries[5].postings[0].tax_year = 2025);
    is_about(&other_year, Checked::Reversals, Some(6), "the other way round");

    let of_nothing = found_behind_good_hashes(|books| {
        books.entries[5].reverses = None;
        books.reversals.clear();
    });
    is_about(&of_nothing, Checked::Reversals, Some(6), "says of nothing");

    let missing = found_behind_good_hashes(|books| {
        books.entries[5].reverses = Some(99);
        books.reversals = vec![ReversalLink { entry: 99, reversed_by: 6 }];
    });
    is_about(&missing, Checked::Reversals, Some(6), "entry 99, which is missing");

    let ordinary = found_behind_good_hashes(|books| books.entries[5].kind = EntryKind::Ordinary);
    is_about(&ordinary, Checked::Reversals, Some(6), "of the kind ordinary");
}

#[test]
fn an_entry_in_a_closed_period_shows_unless_it_was_there_before() {
    let late = found_behind_good_hashes(|books| {
        books.period_acts[0].closed_through = day(2, 1);
        books.first_open = day(2, 2);
    });
    is_about(&late, Checked::ClosedPeriods, Some(3), "dated 2026-02-01");

    let reopened = found(|books| {
        books.period_acts.insert(
            0,
            StoredPeriodAct { kind: PeriodActKind::Closed, closed_through: day(12, 31), after: Some(0) },
        );
        books.period_acts.insert(
            1,
            StoredPeriodAct { kind: PeriodActKind::Reopened, closed_through: day(1, 1), after: Some(0) },
        );
    });
    assert_eq!(reopened, []);

    let unknown = found(|books| {
        books.period_acts[0].after = None;
        books.period_acts[0].closed_through = day(12, 31);
        books.first_open = day(12, 31) + chrono::Days::new(1);
    });
    assert_eq!(unknown, [], "nobody knows where the act stands");

    let open = found(|books| books.first_open = day(1, 1));
    is_about(&open, Checked::ClosedPeriods, None, "first open day is 2026-01-01");
}

#[test]
fn orphans_are_named_by_their_row() {
    let attribution = found(|books| books.attributions.push(attributed("a9", 99, day(2, 1), "1.00")));
    is_about(&attribution, Checked::Orphans, None, "attribution a9: an attribution of source");
    let movement = found(|books| books.movements.push(moved("m9", 99, day(2, 1), "1.00", None)));
    is_about(&movement, Checked::Orphans, None, "movement m9");
    let no_entry = found(|books| books.movements.push(moved("m9", PAINT, day(2, 1), "1.00", Some(99))));
    is_about(&no_entry, Checked::Orphans, Some(99), "entry 99, movement m9");
}

#[test]
fn an_entry_that_does_not_tie_to_its_sources_is_named_with_both_sums() {
    let cost = found(|books| books.movements[0].amount = usd("60.01"));
    is_about(
        &cost,
        Checked::Tie,
        Some(1),
        "its cost accounts move by 60.00, the sources that name it by 60.01",
    );
    let fee = found(|books| books.movements[3].amount = usd("80.00"));
    is_about(&fee, Checked::Tie, Some(4), "cost accounts move by 90.00");
    let income = found(|books| books.movements[2].amount = usd("610.00"));
    is_about(&income, Checked::Tie, Some(4), "income accounts move by 600.00");
    let recovery = found_behind_good_hashes(|books| {
        books.entries[1].postings[1].class = Some(TaxClass::PersonalPropertySale);
    });
    is_about(&recovery, Checked::Tie, Some(2), "proceeds of property sold move by 649.00");
}

#[test]
fn a_bridged_entry_and_its_reversal_are_not_held_against_sources() {
    let found = found_behind_good_hashes(|books| {
        books.entries[1].kind = EntryKind::Disposal;
        let mut back = books.entries[1].clone();
        back.postings.iter_mut().for_each(|posting| posting.amount = posting.amount.negated());
        (back.number, back.kind, back.reverses, back.date) = (8, EntryKind::Reversal, Some(2), day(3, 1));
        books.entries.push(back);
        books.reversals.push(ReversalLink { entry: 2, reversed_by: 8 });
    });
    assert_eq!(found, []);
}

#[test]
fn a_movement_on_another_day_than_its_entry_shows() {
    let found = found(|books| books.movements[0].date = day(1, 4));
    is_about(&found, Checked::Dates, Some(1), "a movement on 2026-01-04, but its entry is dated 2026-01-05");
}

#[test]
fn a_source_attributed_beyond_what_there_is_does_not_roll_forward() {
    let more = found(|books| books.attributions.push(attributed("a9", DEAL, day(2, 20), "0.01")));
    is_about(&more, Checked::RollForward, None, "'first half' does not roll forward: by 2026-02-20");
    let early = found(|books| books.attributions[0].date = day(1, 4));
    is_about(&early, Checked::RollForward, None, "attributed with 24.00 of 0");
}

#[test]
fn a_tool_attributed_beyond_its_cost_less_salvage_shows() {
    let found = found(|books| books.attributions.push(attributed("a9", SAW, day(2, 20), "0.01")));
    is_about(
        &found,
        Checked::Tools,
        None,
        "is attributed with 600.01, but its cost 649.00 less salvage 49.00",
    );
}

#[test]
fn a_lot_with_less_than_nothing_shows_on_the_day_it_happened() {
    let quantity = found(|books| books.lots[0].moves[0].quantity = Decimal::from(-11));
    is_about(&quantity, Checked::Lots, None, "on 2026-02-01 -1 l of 'wall paint' at 36.00 are left");
    let cost = found(|books| books.lots[0].moves[0].cost = usd("-60.01"));
    is_about(&cost, Checked::Lots, None, "at -0.01 are left");
    let early = found(|books| books.lots[0].moves[0].date = day(1, 4));
    is_about(&early, Checked::Lots, None, "on 2026-01-04");
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
    for number in 8..=20_000 {
        let paid = [(Account::PlatformReserves, "1.00", None), (Account::Loans, "-1.00", None)];
        books.entries.push(entry(number, day(3, 1), &paid));
    }
    reseal(&mut books);
    let verdict = verify(&books);
    assert!(verdict.holds());
    assert!(verdict.checks.iter().any(|check| check.says == "20,000 entries balance"));
}

proptest! {
    #[test]
    fn whatever_is_changed_in_one_sealed_entry_that_entry_is_named(place in 0_usize..7, field in 0_usize..9) {
        let mut books = healthy_books();
        let entry = &mut books.entries[place];
        let number = entry.number;
        match field {
            0 => entry.date = entry.date + chrono::Days::new(1),
            1 => entry.kind = EntryKind::Closing,
            2 => entry.text.push(' '),
            3 => entry.record = RecordId(id(0xdd)),
            4 => entry.reverses = Some(entry.reverses.map_or(1, |number| number - 1)),
            5 => entry.postings[0].account = Account::Loans,
            6 => entry.postings[0].class = Some(TaxClass::Meals),
            7 => entry.postings[0].tax_year -= 1,
            _ => entry.postings.reverse(),
        }
        let verdict = verify(&books);
        let named = verdict.breaches.iter().any(|breach| breach.of == Checked::Chain && breach.entry == Some(number));
        prop_assert!(named, "{:?}", verdict.breaches);
    }
}
