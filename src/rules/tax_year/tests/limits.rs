//! The yearly limit of section 179, and what closing posts of an election that income held back.

use uuid::Uuid;

use super::super::{YearFacts, YearSummary, summarise, year_end};
use super::{ToolFacts, no_allowance, posted, tool, usd, year};
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
