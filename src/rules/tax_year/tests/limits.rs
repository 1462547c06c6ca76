//! The yearly limit of section 179, and what closing posts of an election that income held back.

use uuid::Uuid;

use super::super::{YearFacts, summarise, year_end};
use super::{ToolFacts, no_allowance, posted, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::journal::{Account, Stream};
use crate::rules::rows::{ChargeKind, Convention, PriorDepreciation, ToolCharge};

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
    let charges = year_end::charges(&facts, &summary, &posted).unwrap();
    let of = |number: u128| {
        let id = Some(ToolId(Uuid::from_u128(number)));
        charges.iter().find(|one| one.tool == id).map(|one| one.section_179)
    };
    assert_eq!([of(1), of(2)], [Some(usd("2500.00")), Some(usd("3000.00"))]);
}

// Pub. 946, table A-1: 17.49 % of 10,000.00 less 4,000.00 written off at once, of which 80 % is business.
#[test]
fn a_tool_written_off_in_part_before_the_books_spreads_the_rest_whatever_its_use_is_now() {
    let prior = PriorDepreciation {
        taken: usd("6326.80"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("4000.00"),
    };
    let saw = tool(1, "10000.00", "2021-05-01").but(|tool| tool.prior = Some(prior)).used(2023, "80");
    let facts = YearFacts { tools: vec![saw], ..year(2023) };
    assert_eq!(summarise(&facts).unwrap().depreciation.rows[0].yearly, usd("839.52"));
}
