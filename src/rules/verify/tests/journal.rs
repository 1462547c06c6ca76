use proptest::prelude::*;

use super::*;

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
    let silently = found(|books| books.period_acts.clear());
    is_about(
        &silently,
        Checked::ClosedPeriods,
        None,
        "first open day is 2026-02-01, but no closing is on record",
    );
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

#[test]
fn a_posting_in_a_strange_currency_is_named_by_its_line_counted_from_one() {
    let found = found_behind_good_hashes(|books| {
        for posting in &mut books.entries[4].postings {
            posting.amount = Money::exact(posting.amount.amount(), Currency::find("CAD").unwrap()).unwrap();
        }
    });
    let lines: Vec<_> =
        found.iter().filter(|(of, ..)| *of == Checked::Currency).map(|(.., says)| says).collect();
    assert!(lines[0].contains("line 1 posts") && lines[1].contains("line 2 posts"), "{lines:?}");
}

#[test]
fn what_was_closed_before_an_act_of_which_nobody_knows_where_it_stands_is_not_judged() {
    let closed =
        |through, after| StoredPeriodAct { kind: PeriodActKind::Closed, closed_through: through, after };
    let unknown = found(|books| {
        books.period_acts = vec![closed(day(12, 31), Some(0)), closed(day(1, 31), None)];
    });
    assert_eq!(unknown, []);
    // What comes after it is judged again.
    let after = found(|books| {
        books.period_acts = vec![closed(day(1, 31), None), closed(day(2, 27), Some(5))];
        books.first_open = day(2, 28);
    });
    is_about(&after, Checked::ClosedPeriods, Some(6), "2026-02-27 and all before it was closed");
}
