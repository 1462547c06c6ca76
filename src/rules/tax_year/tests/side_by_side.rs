//! Tools in the books and for tax.

use super::super::facts::ToolFacts;
use super::super::summarise;
use super::super::tools::{ToolAccounts, ToolBeside, ToolBooked, ToolsBeside, side_by_side};
use super::{dec, no_allowance, tool, usd, year};
use crate::rules::rows::{AttributionPlan, ToolOrigin};
use crate::rules::tax_year::YearFacts;

/// What the books hold of a tool that was bought for its cost and posted with it.
fn booked(facts: &ToolFacts, before: &str, in_year: &str) -> ToolBooked {
    let zero = usd("0.00");
    ToolBooked {
        tool: facts.tool.id,
        stands: true,
        came: facts.tool.cost,
        attributed_before: usd(before),
        attributed_in_year: usd(in_year),
        removed: zero,
        posted_at_cost: facts.tool.cost,
        prior: zero,
        small_tool: zero,
        accumulated: zero,
    }
}

fn ledger(at_cost: &str, accumulated: &str) -> ToolAccounts {
    ToolAccounts { at_cost: usd(at_cost), accumulated: usd(accumulated), without_tool: usd("0.00") }
}

fn shown(facts: &YearFacts, booked: &[ToolBooked], ledger: ToolAccounts) -> ToolsBeside {
    side_by_side(facts, &summarise(facts).unwrap(), booked, ledger).unwrap()
}

fn differences(row: &ToolBeside) -> (String, String) {
    let difference = row.views.difference;
    (difference.of_year.to_string(), difference.since_start.to_string())
}

#[test]
fn a_saw_written_off_at_once_is_ahead_of_the_books_that_charge_its_hours() {
    // IRC 168(k): all of it in the year of service (seen, Notice 2026-11); the register with both views: common
    // practice, no source
    let saw = tool(1, "3200.00", "2025-06-10").but(|tool| {
        tool.plan = AttributionPlan::PerUseHour { hours_expected: dec("300") };
        tool.salvage = usd("200.00");
    });
    let of_saw = booked(&saw, "0.00", "450.00");
    let mut facts = year(2025);
    facts.tools = vec![saw];
    let both = shown(&facts, &[of_saw], ledger("3200.00", "0.00"));
    let row = &both.tools[0];
    assert_eq!(row.views.tax.deducted_in_year, usd("3200.00"));
    assert_eq!(
        (row.views.book.attributed_in_year, row.views.book.left_unattributed),
        (usd("450.00"), usd("2750.00"))
    );
    assert_eq!(differences(row), ("2750.00".to_owned(), "2750.00".to_owned()));
    for words in [
        "Tax is ahead of the books by 2750.00",
        "by its hours of use",
        "2550.00 has reached no episode",
        "Its salvage of 200.00",
        "evens out",
    ] {
        assert!(row.reason.contains(words), "{words}: {}", row.reason);
    }
    assert!(both.accounts.iter().all(|account| account.agrees), "{:?}", both.accounts);
    // The next year: nothing is left to deduct, and the books catch up.
    let mut facts = YearFacts { tools: facts.tools, ..year(2026) };
    facts.profile = super::Profile::find("us", 2026).unwrap();
    let closed = ToolBooked { accumulated: usd("3200.00"), ..booked(&facts.tools[0], "450.00", "1000.00") };
    let both = shown(&facts, &[closed], ledger("3200.00", "3200.00"));
    assert_eq!(differences(&both.tools[0]), ("-1000.00".to_owned(), "1750.00".to_owned()));
    assert_eq!(both.total.ledger.posted, usd("3200.00"));
    assert!(both.says.contains("agree with the ledger"), "{}", both.says);
}

#[test]
fn private_use_is_charged_in_the_books_and_never_deducted() {
    // Pub. 946 ch. 1, property used partly for business (from memory)
    let camera = tool(1, "1000.00", "2025-03-01").but(|tool| tool.business_share = dec("80"));
    let of_camera = booked(&camera, "0.00", "1000.00");
    let mut facts = year(2025);
    facts.tools = vec![camera];
    let both = shown(&facts, &[of_camera], ledger("1000.00", "0.00"));
    let row = &both.tools[0];
    assert_eq!((row.views.tax.basis, row.views.tax.deducted_in_year), (usd("800.00"), usd("800.00")));
    assert_eq!(differences(row).1, "-200.00");
    assert!(row.reason.contains("20 % of the year's use is private"), "{}", row.reason);
    assert!(!row.reason.contains("evens out over"), "{}", row.reason);
}

#[test]
fn the_total_is_the_sum_of_the_tools_and_what_is_lent_adds_nothing() {
    let lent = tool(2, "500.00", "2025-02-01").but(|tool| {
        tool.origin = ToolOrigin::Loan;
        tool.cost = usd("0.00");
    });
    let mut facts = year(2025);
    facts.tools = vec![tool(1, "3200.00", "2025-06-10"), lent, tool(3, "150.00", "2025-08-01")];
    let rows = [booked(&facts.tools[0], "0.00", "1.00"), booked(&facts.tools[2], "0.00", "2.00")];
    let both = shown(&facts, &rows, ledger("3350.00", "0.00"));
    assert_eq!(both.tools.len(), 3);
    assert!(both.tools[0].reason.starts_with("It cost the business nothing"), "{}", both.tools[0].reason);
    assert_eq!((both.total.book.cost, both.total.tax.small_tool), (usd("3350.00"), usd("150.00")));
    assert_eq!(
        (both.total.book.attributed_in_year, both.total.tax.deducted_in_year),
        (usd("3.00"), usd("3350.00"))
    );
    assert_eq!(both.total.difference.of_year, usd("3347.00"));
}

#[test]
fn a_tool_that_left_carries_nothing_and_one_not_yet_ready_is_on_the_shelf_at_cost() {
    let gone = tool(1, "1000.00", "2024-03-01").gone("2025-05-02", "300.00");
    let waiting = tool(2, "700.00", "2026-01-10");
    let mut facts = year(2025);
    facts.elections = vec![no_allowance(2024)];
    let of_gone = ToolBooked { removed: usd("400.00"), ..booked(&gone, "500.00", "100.00") };
    let of_waiting = booked(&waiting, "0.00", "0.00");
    facts.tools = vec![gone, waiting];
    let both = shown(&facts, &[of_gone, of_waiting], ledger("700.00", "0.00"));
    let [left, on_shelf] = both.tools.as_slice() else { panic!("{:?}", both.tools) };
    assert_eq!((left.views.ledger.at_cost, left.views.book.left_unattributed), (usd("0.00"), usd("0.00")));
    // Pub. 946 Appendix A, table A-1, seven years: 14.29 %, then half of 24.49 % in the year it leaves (seen)
    assert_eq!(
        (left.views.tax.deducted_before, left.views.tax.deducted_in_year),
        (usd("142.90"), usd("122.45"))
    );
    assert_eq!(differences(left), ("22.45".to_owned(), "-334.65".to_owned()));
    assert!(left.reason.contains("It left on 2025-05-02: 400.00 left with it uncharged"), "{}", left.reason);
    assert_eq!((on_shelf.views.ledger.at_cost, on_shelf.views.tax.basis), (usd("700.00"), usd("0.00")));
    assert!(on_shelf.reason.contains("not in service by the end of the year"), "{}", on_shelf.reason);
    assert!(both.accounts.iter().all(|account| account.agrees), "{:?}", both.accounts);
    // The year after, it is no tool of the year any more.
    let facts = YearFacts { tools: facts.tools, ..year(2026) };
    assert_eq!(shown(&facts, &[of_gone, of_waiting], ledger("700.00", "0.00")).tools.len(), 1);
}

#[test]
fn what_does_not_agree_with_the_ledger_is_said_with_its_amount() {
    let mut facts = year(2025);
    facts.tools = vec![tool(1, "900.00", "2025-06-10")];
    let taken_back_later = ToolBooked {
        stands: false,
        posted_at_cost: usd("120.00"),
        ..booked(&tool(9, "120.00", "2025-07-01"), "0.00", "0.00")
    };
    let rows = [booked(&facts.tools[0], "0.00", "0.00"), taken_back_later];
    let agrees = shown(&facts, &rows, ledger("1020.00", "0.00"));
    assert_eq!((agrees.tools.len(), agrees.accounts[0].besides), (1, usd("120.00")));
    assert!(agrees.accounts[0].agrees);
    let apart = shown(&facts, &rows, ledger("1000.00", "5.00"));
    assert_eq!((apart.accounts[0].difference, apart.accounts[1].difference), (usd("-20.00"), usd("5.00")));
    assert!(
        apart.says.contains("tools_at_cost by -20.00 and on accumulated_depreciation by 5.00"),
        "{}",
        apart.says
    );
}

#[test]
fn the_reason_speaks_of_private_use_where_there_is_some_and_only_there() {
    // common practice, no source
    let reason = |facts: ToolFacts| {
        let of_tool = booked(&facts, "0.00", "0.00");
        let mut year = year(2025);
        year.tools = vec![facts];
        shown(&year, &[of_tool], ledger("1000.00", "0.00")).tools[0].reason.clone()
    };
    assert!(!reason(tool(1, "1000.00", "2025-06-10")).contains("private"));
    let partly = reason(tool(1, "1000.00", "2025-06-10").used(2025, "99.5"));
    assert!(partly.contains("0.5 % of the year's use is private"), "{partly}");
}

// common practice, no source
#[test]
fn the_reason_speaks_of_idle_cost_and_salvage_while_the_tool_is_there_and_only_of_what_there_is() {
    let reason = |facts: ToolFacts, charged: &str| {
        let of_tool = booked(&facts, "0.00", charged);
        let facts = YearFacts { tools: vec![facts], elections: vec![no_allowance(2024)], ..year(2025) };
        shown(&facts, &[of_tool], ledger("0.00", "0.00")).tools[0].reason.clone()
    };
    let charged = "Tax and books have taken the same so far. Tax: special allowance 100 %. Books: charged equally to \
        what used it.";
    assert_eq!(reason(tool(1, "1000.00", "2025-06-10"), "1000.00"), charged);
    let salvage = |one: ToolFacts| one.but(|tool| tool.salvage = usd("200.00"));
    // Pub. 946 Appendix A, table A-1, seven years: 14.29 %, then half of 24.49 % in the year it leaves (seen)
    let gone = salvage(tool(1, "1000.00", "2024-03-01").gone("2025-05-02", "300.00"));
    assert_eq!(
        reason(gone, "100.00"),
        "Tax is ahead of the books by 165.35. Tax: table A-1, 7 years, half-year convention. Books: charged equally to \
         what used it. It left on 2025-05-02: 0.00 left with it uncharged, and what tax had not deducted counts in its \
         gain or loss."
    );
    let kept = "Tax is ahead of the books by 200.00. Tax: special allowance 100 %. Books: charged equally to what used \
        it. Its salvage of 200.00 is never charged, and tax takes no notice of it. A difference of time: it evens out \
        over its life, salvage aside.";
    assert_eq!(reason(salvage(tool(1, "1000.00", "2025-06-10")), "800.00"), kept);
}
