use super::*;
use crate::rules::trial::findings;

const BY_HOUR: &str = r#"{ "method": "per_use_hour", "hours_expected": "400" }"#;
const BY_MONTH: &str = r#"{ "method": "straight_line", "months": 12 }"#;
const EQUALLY: &str = r#"{ "method": "equal_share" }"#;
const BY_SHARE: &str = r#"{ "method": "percentages" }"#;
const AT_ONCE: &str = r#"{ "method": "expense_now" }"#;

// Derived: 600 over 400 hours is 1.50 an hour; 10.875 is rounded half up.
#[test]
fn a_saw_costs_its_episodes_by_the_hour() {
    let mut saw = saw(BY_HOUR);
    let recording =
        saw.used(&[("2025-03-02", 1, "12.5"), ("2025-03-09", 2, "7.25"), ("2025-03-16", 3, "31")]);
    assert_eq!(amounts(&recording), ["18.75", "10.88", "46.50"]);
    assert!(recording.entries.is_empty());
    assert_eq!(recording.depends_on, [saw.record]);
}

// Derived: 360 more hours would be 540.00; 600.00 less the 76.13 booked is all there is.
#[test]
fn a_saw_never_costs_more_than_its_cost_less_salvage() {
    let mut saw = saw(BY_HOUR);
    saw.used(&[("2025-03-02", 1, "12.5"), ("2025-03-09", 2, "7.25"), ("2025-03-16", 3, "31")]);
    let last = saw.used(&[("2025-04-02", 4, "360")]);
    assert_eq!(amounts(&last), ["523.87"]);
    assert_eq!(saw.in_all(), "600.00");
    assert!(last.notes[1].contains("600.00 in all"));
    assert!(amounts(&saw.used(&[("2025-04-03", 5, "10")])).is_empty());
}

// Common practice, no source: 600 over 12 months is 50 a month; April is idle.
#[test]
fn the_months_share_goes_to_the_months_uses_by_their_hours() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-02", 1, "3"), ("2025-03-20", 2, "1")]);
    assert_eq!((saw.on(1).as_str(), saw.on(2).as_str()), ("37.50", "12.50"));
    saw.used(&[("2025-05-02", 2, "")]);
    assert_eq!(saw.on(2), "62.50");
    assert_eq!(saw.in_all(), "100.00");
}

// Common practice, no source.
#[test]
fn a_late_use_resplits_its_month_by_dated_rows_and_leaves_other_months() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-05", 1, ""), ("2025-04-05", 1, "")]);
    let late = saw.used(&[("2025-03-20", 2, "")]);
    assert_eq!(amounts(&late), ["-25.00", "25.00"]);
    assert!(late.attributions.iter().all(|row| row.date == day("2025-03-20")));
    assert_eq!((saw.on(1).as_str(), saw.on(2).as_str()), ("75.00", "25.00"));
    let march = saw.uses[0].record;
    assert_eq!(late.depends_on, [saw.record, march], "the re-split one can not be reversed alone");
    // The earlier use keeps its month's row until the day it was charged.
    saw.used(&[("2025-04-01", 2, "")]);
    assert_eq!(saw.on_by(1, day("2025-04-04")), "25.00");
}

// Common practice, no source.
#[test]
fn a_closed_month_stands_and_an_idle_one_still_finds_its_user() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-05", 1, "")]);
    let closed = BooksFacts { first_open: day("2025-05-01"), ..books() };
    let late = saw.used_in(&closed, &[("2025-03-20", 2, "")]);
    assert!(amounts(&late).is_empty());
    assert!(late.notes[1].starts_with("the month of 2025-03-20 is closed"));
    let idle = saw.used_in(&closed, &[("2025-04-20", 2, "")]);
    assert_eq!(amounts(&idle), ["50.00"]);
    assert_eq!((idle.date, idle.attributions[0].date), (day("2025-05-01"), day("2025-05-01")));
}

// Common practice, no source.
#[test]
fn a_use_after_the_last_month_costs_nothing() {
    let mut saw = saw(BY_MONTH);
    let after = saw.used(&[("2026-03-01", 1, "")]);
    assert!(amounts(&after).is_empty());
    assert!(after.notes[1].contains("life is over"));
}

// Common practice, no source: the parts add up to 600 whoever joins.
#[test]
fn equal_shares_are_split_anew_as_more_episodes_join() {
    let mut saw = saw(EQUALLY);
    saw.used(&[("2025-03-02", 1, "")]);
    assert_eq!(saw.on(1), "600.00");
    assert!(amounts(&saw.used(&[("2025-03-03", 1, "")])).is_empty());
    let more = saw.used(&[("2025-04-02", 2, ""), ("2025-04-09", 3, "")]);
    assert_eq!(amounts(&more), ["-400.00", "200.00", "200.00"]);
    saw.used(&[("2025-03-01", 4, "")]);
    for number in 1..=4 {
        assert_eq!(saw.on(number), "150.00");
    }
    // The late one was used in March, but in March the first episode still bore everything.
    assert_eq!(saw.on_by(4, day("2025-04-08")), "0.00");
}

// Common practice, no source.
#[test]
fn a_share_moved_by_hand_stays_where_it_was_put() {
    let mut saw = saw(EQUALLY);
    saw.used(&[("2025-03-02", 1, "")]);
    let moved = |number, amount| (day("2025-03-10"), CostObject::Episode(episode(number)), dollars(amount));
    saw.attributed.extend([moved(1, "-600.00"), moved(9, "600.00")]);
    saw.used(&[("2025-04-02", 2, "")]);
    assert_eq!((saw.on(1).as_str(), saw.on(2).as_str(), saw.on(9).as_str()), ("0.00", "0.00", "600.00"));
}

// Common practice, no source: three uneven thirds are the whole to the cent.
#[test]
fn percentages_charge_the_whole_when_they_come_to_a_hundred() {
    let mut saw = saw(BY_SHARE);
    saw.tool.cost = dollars("49.05");
    saw.held = dollars("49.05");
    saw.used(&[("2025-03-02", 1, "33.3333"), ("2025-03-02", 2, "33.3333")]);
    saw.used(&[("2025-03-03", 3, "33.3334")]);
    assert_eq!(saw.in_all(), "0.05");
    assert_eq!(
        findings(saw.tries(&books(), &[("2025-03-04", 4, "0.0001")])),
        ["/uses: the shares would come to 100.0001 %, 100.0000 % of it given before"]
    );
}

// Common practice, no source.
#[test]
fn a_tool_expensed_now_is_charged_to_its_first_uses_in_full() {
    let mut saw = saw(AT_ONCE);
    let first = saw.used(&[("2025-03-02", 1, ""), ("2025-03-02", 1, ""), ("2025-03-09", 2, "")]);
    assert_eq!(amounts(&first), ["200.00", "200.00", "200.00"]);
    assert!(amounts(&saw.used(&[("2025-04-02", 3, "")])).is_empty());
}

// Common practice, no source: a correction frees what the wrong use took, from the day it is made.
#[test]
fn a_use_logged_again_after_a_late_reversal_passes_the_cost_on_no_day() {
    let mut saw = saw(AT_ONCE);
    saw.used(&[("2025-03-02", 1, "")]);
    let object = CostObject::Episode(episode(1));
    saw.attributed.push((day("2025-06-01"), object, dollars("-600.00")));
    saw.uses.clear();
    let again = saw.used(&[("2025-03-02", 2, "")]);
    assert_eq!(again.attributions[0].date, day("2025-06-01"));
    assert_eq!(saw.on(2), "600.00");
}

// Common practice, no source: what a use is charged, or spared, because of earlier ones falls with them.
#[test]
fn a_use_stands_on_those_whose_charge_it_shares() {
    let mut by_month = saw(BY_MONTH);
    by_month.used(&[("2025-03-05", 1, "")]);
    by_month.used(&[("2025-04-05", 1, "")]);
    let april = by_month.uses[1].record;
    // It changes nobody's share, for there is one user; the first one's reversal would leave it uncharged.
    assert_eq!(by_month.used(&[("2025-04-09", 1, "")]).depends_on, [by_month.record, april]);
    let mut at_once = saw(AT_ONCE);
    at_once.used(&[("2025-03-05", 1, "")]);
    at_once.used(&[("2025-03-06", 2, "")]);
    let first = at_once.uses[0].record;
    assert_eq!(at_once.used(&[("2025-03-07", 2, "")]).depends_on, [at_once.record, first]);
    let mut by_hour = saw(BY_HOUR);
    by_hour.used(&[("2025-03-05", 1, "1")]);
    assert_eq!(by_hour.used(&[("2025-03-06", 1, "1")]).depends_on, [by_hour.record]);
}

// Common practice, no source: what was used up before is part of the opening position.
#[test]
fn a_use_before_these_books_had_the_tool_is_refused() {
    let mut opened = saw(BY_HOUR);
    opened.came_on = day("2025-03-05");
    assert_eq!(
        findings(opened.tries(&books(), &[("2025-03-04", 1, "1")])),
        ["/uses/0/date: the tool is used on 2025-03-04, before these books had it on 2025-03-05"]
    );
}

// Common practice, no source.
#[test]
fn every_fault_of_the_uses_is_told_at_once_with_its_place() {
    let saw = saw(BY_HOUR);
    let uses: NewUses = serde_json::from_str(
        r#"{ "uses": [ { "date": "2025-02-28", "hours": "1" },
                       { "date": "2025-03-02", "episode": "00000000-0000-0000-0000-000000000001", "share": "10" },
                       { "date": "2025-03-02", "episode": "00000000-0000-0000-0000-000000000001", "hours": "0" } ] }"#,
    )
    .unwrap();
    assert_eq!(
        findings(write(|pen| log_uses(pen, &saw, &uses))),
        [
            "/uses/0/date: the tool is used on 2025-02-28, before it went into service on 2025-03-01",
            "/uses/0: neither an episode nor a project is named",
            "/uses/1/hours: the tool is charged by the hour, and the use has no hours",
            "/uses/1/share: a share is given, but the tool is not charged by percentages",
            "/uses/2/hours: the use has zero hours",
        ]
    );
    assert_eq!(findings(saw.tries(&books(), &[])), ["/uses: no use is given"]);
    let many: Vec<_> = (0..501).map(|_| ("2025-03-02", 1, "1")).collect();
    assert_eq!(findings(saw.tries(&books(), &many)), ["/uses: 501 uses are given in one call"]);
}

// Common practice, no source.
#[test]
fn a_month_is_split_by_hours_or_by_uses_but_not_by_both() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-05", 1, "2")]);
    let refused = findings(saw.tries(&books(), &[("2025-03-06", 2, "")]));
    assert_eq!(
        refused,
        ["/uses/0/hours: some uses in the month of 2025-03-06 have hours and others have none"]
    );
}

#[test]
fn what_each_episode_bears_is_added_up_and_one_that_gave_all_back_is_left_out() {
    let mut facts = saw(r#"{ "method": "equal_share" }"#);
    let (on, off) = (CostObject::Episode(episode(1)), CostObject::Episode(episode(2)));
    let date = day("2025-04-01");
    facts.attributed =
        vec![(date, on, dollars("40.00")), (date, off, dollars("10.00")), (date, on, dollars("2.50"))];
    facts.attributed.push((date, off, dollars("-10.00")));
    assert_eq!(facts.attributed_by_object().unwrap(), [(on, dollars("42.50"))]);
}

// Common practice, no source.
#[test]
fn five_hundred_uses_are_logged_in_one_call_and_one_more_is_not() {
    let saw = saw(BY_HOUR);
    let many = |count: usize| vec![("2025-03-02", 1, "0.5"); count];
    assert_eq!(amounts(&saw.tries(&books(), &many(USES_AT_ONCE)).unwrap()).len(), USES_AT_ONCE);
    assert_eq!(
        findings(saw.tries(&books(), &many(USES_AT_ONCE + 1))),
        ["/uses: 501 uses are given in one call"]
    );
}

// Common practice, no source: 50.00 a month over three uses; each is charged from its own day.
#[test]
fn late_uses_of_one_month_are_each_charged_from_their_own_day() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-05", 1, "")]);
    let late = saw.used(&[("2025-03-20", 2, ""), ("2025-03-10", 3, "")]);
    let rows: Vec<_> = late.attributions.iter().map(|row| format!("{} {}", row.date, row.amount)).collect();
    assert_eq!(rows, ["2025-03-10 -33.33", "2025-03-10 16.67", "2025-03-20 16.66"]);
}

// Common practice, no source: a month is closed with its last day and not before.
#[test]
fn a_month_whose_last_day_is_open_is_split_anew_on_that_day() {
    let mut saw = saw(BY_MONTH);
    saw.used(&[("2025-03-05", 1, "")]);
    let open = BooksFacts { first_open: day("2025-03-31"), ..books() };
    let late = saw.used_in(&open, &[("2025-03-20", 2, "")]);
    let rows: Vec<_> = late.attributions.iter().map(|row| format!("{} {}", row.date, row.amount)).collect();
    assert_eq!(rows, ["2025-03-31 -25.00", "2025-03-31 25.00"]);
}
