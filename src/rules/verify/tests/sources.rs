use super::*;

#[test]
fn orphans_are_named_by_their_row() {
    let attribution = found(|books| books.attributions.push(attributed("a9", 99, day(2, 1), "1.00")));
    is_about(&attribution, Checked::Orphans, None, "attribution a9: an attribution of source");
    let movement = found(|books| books.movements.push(moved("m9", 99, day(2, 1), "1.00", None)));
    is_about(&movement, Checked::Orphans, None, "movement m9");
    let no_entry = found(|books| books.movements.push(moved("m9", PAINT, day(2, 1), "1.00", Some(99))));
    is_about(&no_entry, Checked::Orphans, Some(99), "entry 99, movement m9");
    let no_episode = found(|books| books.attributions[0].missing = Some("episode"));
    is_about(&no_episode, Checked::Orphans, None, "attribution a1: an attribution whose episode is missing");
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
fn a_tool_whose_gain_is_counted_from_less_than_it_came_in_at_shows() {
    let found = found(|books| books.tools[0].basis_for_gain = usd("648.99"));
    is_about(&found, Checked::Tools, None, "counts a gain from 648.99, which is less than the 649.00");
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
fn a_lot_that_is_used_up_has_nothing_left_and_that_is_no_breach() {
    let empty = found(|books| {
        books.lots[0].moves[0].quantity = Decimal::from(-10);
        books.lots[0].moves[0].cost = usd("-60.00");
    });
    assert_eq!(empty, []);
    let free = found(|books| books.lots[0].moves[0].cost = usd("-60.00"));
    assert_eq!(free, [], "what is left of it may have cost nothing");
}

#[test]
fn one_breach_is_one_and_two_are_two_in_the_line_of_their_check() {
    let says = |harm: &dyn Fn(&mut BooksToVerify)| {
        let mut books = healthy_books();
        harm(&mut books);
        let lots = verify(&books).checks.into_iter().find(|check| check.of == Checked::Lots).unwrap();
        (lots.breaches, lots.says)
    };
    let spilt = |books: &mut BooksToVerify| books.lots[0].moves[0].quantity = Decimal::from(-11);
    assert_eq!(says(&spilt), (1, "1 lot never held less than nothing, but for 1 breach".to_owned()));
    let both = |books: &mut BooksToVerify| {
        spilt(books);
        books.lots.push(books.lots[0].clone());
    };
    assert_eq!(says(&both), (2, "2 lots never held less than nothing, but for 2 breaches".to_owned()));
}
