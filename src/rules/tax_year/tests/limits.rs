//! The yearly limit of section 179, and what closing posts of an election that income held back.

use uuid::Uuid;

use super::super::{YearFacts, YearSummary, summarise, year_end};
use super::{ToolFacts, day, no_allowance, posted, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::journal::{Account, Stream};
use crate::rules::rows::{ChargeKind, ToolCharge};

fn with(tools: Vec<ToolFacts>) -> YearFacts {
    YearFacts { tools, elections: vec![no_allowance(2024), no_allowance(2025)], ..year(2025) }
}

// IRC 179(b)(1) and (2) as of 2025: 2,500,000, less what came into service above 4,000,000 (seen in the reference).
#[test]
fn only_what_came_into_service_in_the_year_shrinks_the_limit_of_the_year() {
    let limit = |tools| summarise(&with(tools)).unwrap().section_179.dollar_limit;
    let before = || tool(1, "4500000.00", "2024-06-01");
    assert_eq!(limit(vec![before(), tool(2, "10000.00", "2025-03-01")]), usd("2500000.00"));
    assert_eq!(limit(vec![before(), tool(2, "4100000.00", "2025-03-01")]), usd("2400000.00"));
    let was_private = tool(2, "4100000.00", "2025-03-01")
        .but(|tool| tool.origin = crate::rules::rows::ToolOrigin::ConvertedFromPersonal);
    assert_eq!(limit(vec![was_private]), usd("2500000.00"), "it does not qualify, so it does not count");
}

// IRC 179(b)(3): what income held back waits, and each tool's own election says how much of it is left to post.
#[test]
fn what_closing_posted_for_one_tool_leaves_the_election_of_another_as_it_was() {
    let mut facts = with(vec![
        tool(1, "10000.00", "2024-03-01").section_179("4000.00"),
        tool(2, "10000.00", "2024-04-01").section_179("3000.00"),
    ]);
    let sponsorship = Stream::Sponsorship;
    facts.postings = vec![posted(Account::Income(sponsorship), sponsorship.tax_class(), "-50000.00")];
    let mut summary = summarise(&facts).unwrap();
    summary.section_179.allowed = usd("5500.00");
    let earlier = |number: u128, kind, amount: &str| ToolCharge {
        tool: Some(ToolId(Uuid::from_u128(number))),
        tax_year: 2024,
        kind,
        small_tool: usd("0.00"),
        section_179: usd(amount),
        depreciation: usd("0.00"),
        recaptured: usd("0.00"),
    };
    let posted =
        [earlier(1, ChargeKind::Charged, "1500.00"), earlier(2, ChargeKind::SettledBySale, "-900.00")];
    let tool = |number| Some(ToolId(Uuid::from_u128(number)));
    let of = |summary: &YearSummary, tool: Option<ToolId>| {
        let charges = year_end::charges(&facts, summary, &posted).unwrap();
        charges.iter().find(|one| one.tool == tool).map(|one| one.section_179)
    };
    let half = [tool(1), tool(2), None].map(|tool| of(&summary, tool));
    assert_eq!(half, [Some(usd("2500.00")), Some(usd("3000.00")), None]);
    // What is allowed beyond that stands on no tool.
    summary.section_179.allowed = usd("7000.00");
    let all = [tool(1), tool(2), None].map(|tool| of(&summary, tool));
    assert_eq!(all, [Some(usd("2500.00")), Some(usd("3000.00")), Some(usd("1500.00"))]);
}

// IRC 179(b)(1) as of 2025: 2,500,000 (seen in the reference); that the latest in service is cut is ours.
#[test]
fn more_section_179_than_the_year_allows_is_cut_from_its_latest_tools_and_asked_about() {
    let elected = |of_second: &str| {
        let tools = vec![
            tool(1, "900000.00", "2024-12-31").section_179("900000.00"),
            tool(2, of_second, "2025-07-01").section_179(of_second),
            tool(3, "1500000.00", "2025-06-30").section_179("1500000.00"),
        ];
        let summary = summarise(&with(tools)).unwrap();
        let rows = summary.depreciation.rows.iter().filter(|row| row.in_service_on >= day("2025-01-01"));
        (
            rows.map(|row| row.section_179.to_string()).collect::<Vec<_>>(),
            summary.names("the latest tools were cut"),
        )
    };
    let both = |one: &str, two: &str| vec![one.to_owned(), two.to_owned()];
    assert_eq!(elected("1000000.00"), (both("1500000.00", "1000000.00"), vec![]));
    assert_eq!(elected("1000000.01"), (both("1500000.00", "1000000.00"), vec![2, 3]));
    let of_2024 = tool(1, "900000.00", "2024-12-31").section_179("900000.00");
    let facts = YearFacts { tools: vec![of_2024], ..year(2024) };
    assert_eq!(summarise(&facts).unwrap().section_179.elected, usd("900000.00"));
}

// IRC 179(b)(3): what waits from before the books belongs to no tool of them, and not to one of a later year.
#[test]
fn what_waits_from_before_the_books_is_not_posted_on_a_tool_of_a_year_to_come() {
    let later = tool(1, "10000.00", "2026-03-01").section_179("4000.00");
    let mut facts = YearFacts { section_179_brought_forward: usd("3000.00"), ..with(vec![later]) };
    let sponsorship = Stream::Sponsorship;
    facts.postings = vec![posted(Account::Income(sponsorship), sponsorship.tax_class(), "-20000.00")];
    let charges = year_end::charges(&facts, &summarise(&facts).unwrap(), &[]).unwrap();
    let posted: Vec<_> = charges.iter().map(|one| (one.tool, one.section_179)).collect();
    assert_eq!(posted, [(None, usd("3000.00"))]);
}
