//! What the preparer is asked about tools, what closing posts of them, and how their write-offs are worded.

use uuid::Uuid;

use super::super::questions::Topic;
use super::super::{YearFacts, summarise, year_end};
use super::{ToolFacts, day, no_allowance, posted, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::journal::{Account, Stream};
use crate::rules::rows::{DisposalKind, Election, ElectionKind, TaxChoice, ToolOrigin};

/// The facts of 2025 with those tools.
fn with(tools: Vec<ToolFacts>) -> YearFacts {
    YearFacts { tools, ..year(2025) }
}

/// What each question of the topic is about.
fn about(facts: &YearFacts, topic: Topic) -> Vec<Vec<String>> {
    let summary = summarise(facts).unwrap();
    summary.questions.iter().filter(|one| one.topic == topic).map(|one| one.about.clone()).collect()
}

fn standing(number: u128) -> Vec<String> {
    vec![format!("/v1/tools/{}/standing", ToolId(Uuid::from_u128(number)))]
}

// Common practice, no source.
#[test]
fn the_business_share_is_asked_of_tools_used_partly_in_private_and_of_no_others() {
    let facts = with(vec![
        tool(1, "10000.00", "2025-03-01").used(2025, "60"),
        tool(2, "10000.00", "2025-03-01"),
        tool(3, "10000.00", "2025-03-01").used(2026, "60"),
    ]);
    assert_eq!(about(&facts, Topic::BusinessShare), [standing(1)]);
}

// IRC 168(b)(5), from memory: the straight line is elected for a class and year.
#[test]
fn a_straight_line_chosen_for_one_tool_is_asked_about_beside_a_table_of_its_own_class_only() {
    let straight = || tool(1, "10000.00", "2025-03-01").but(|tool| tool.choice = TaxChoice::StraightLine);
    let other = || tool(2, "10000.00", "2025-03-01");
    assert!(about(&with(vec![straight()]), Topic::StraightLine).is_empty(), "alone in the year");
    assert!(about(&with(vec![straight(), other().five()]), Topic::StraightLine).is_empty(), "another class");
    assert_eq!(about(&with(vec![straight(), other()]), Topic::StraightLine), [standing(1)]);
}

// Common practice, no source.
#[test]
fn a_small_tool_acquired_in_another_year_than_it_came_into_service_is_asked_about() {
    let mut facts = with(vec![
        tool(1, "300.00", "2025-01-10").but(|tool| tool.acquired_on = day("2024-12-20")),
        tool(2, "300.00", "2025-03-10").but(|tool| tool.acquired_on = day("2025-01-02")),
    ]);
    facts.elections = vec![Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None }];
    assert_eq!(about(&facts, Topic::DeMinimis), [standing(1)]);
}

// Common practice, no source.
#[test]
fn a_tool_in_service_before_it_was_acquired_is_asked_about_and_one_ready_later_is_not() {
    let came = |number, acquired: &str| {
        tool(number, "10000.00", "2025-06-10").but(|tool| tool.acquired_on = day(acquired))
    };
    let facts = with(vec![came(1, "2025-06-11"), came(2, "2025-06-10"), came(3, "2025-06-09")]);
    assert_eq!(about(&facts, Topic::SpecialAllowance), [standing(1)]);
}

// Derived: 10,000.00 less 4,000.00 of section 179, 14.29 % of the rest (Pub. 946, table A-1, from memory).
#[test]
fn closing_posts_section_179_on_the_tool_it_was_elected_on() {
    let mut facts = with(vec![tool(1, "10000.00", "2025-03-01").section_179("4000.00")]);
    facts.elections = vec![no_allowance(2025)];
    let sponsorship = Stream::Sponsorship;
    facts.postings = vec![posted(Account::Income(sponsorship), sponsorship.tax_class(), "-20000.00")];
    let summary = summarise(&facts).unwrap();
    let charges = year_end::charges(&facts, &summary, &[]).unwrap();
    let closing: Vec<_> = charges.iter().map(|one| (one.tool, one.section_179, one.depreciation)).collect();
    assert_eq!(closing, [(Some(facts.tools[0].tool.id), usd("4000.00"), usd("857.40"))]);
}

// Pub. 946, appendix A: the tables and their conventions (from memory).
#[test]
fn the_schedule_names_the_table_and_the_convention_in_words() {
    let worded = |on: &str| {
        let mut facts = with(vec![tool(1, "10000.00", on)]);
        facts.elections = vec![no_allowance(2025)];
        summarise(&facts).unwrap().depreciation.rows[0].method.clone()
    };
    assert_eq!(worded("2025-03-01"), "table A-1, 7 years, half-year convention");
    assert_eq!(worded("2025-11-01"), "table A-5, 7 years, mid-quarter convention, fourth quarter");
}

// Common practice, no source: insurance comes later than the thief.
#[test]
fn an_insurance_payment_is_asked_for_what_was_stolen_in_the_year_and_for_nothing_else() {
    let left = |number, on: &str, kind| {
        let mut facts = tool(number, "10000.00", "2024-03-01").gone(on, "0.00");
        facts.disposal.as_mut().unwrap().kind = kind;
        facts
    };
    let facts = with(vec![
        left(1, "2025-05-01", DisposalKind::Stolen),
        left(2, "2025-05-01", DisposalKind::Scrapped),
        left(3, "2024-05-01", DisposalKind::Stolen),
    ]);
    let summary = summarise(&facts).unwrap();
    let stolen: Vec<_> = summary
        .questions
        .iter()
        .filter(|one| one.question.contains("was stolen"))
        .map(|one| one.about.clone())
        .collect();
    assert_eq!(stolen, [standing(1)]);
    let sold: Vec<_> = summary.business_sales.iter().map(|one| one.what.as_str()).collect();
    assert_eq!(sold, ["Tool 1", "Tool 2"], "what left in another year is another year's");
}

// IRC 179(d)(1) and (d)(2), Pub. 946 ch. 2 (from memory): bought, and used more than half for the business.
#[test]
fn section_179_that_is_not_allowed_is_asked_about_for_either_reason() {
    let facts = with(vec![
        tool(1, "10000.00", "2025-03-01")
            .section_179("4000.00")
            .but(|tool| tool.origin = ToolOrigin::ConvertedFromPersonal),
        tool(2, "10000.00", "2025-03-01").section_179("4000.00").used(2025, "50"),
        tool(3, "10000.00", "2025-03-01").section_179("4000.00").used(2025, "51"),
    ]);
    let two = [standing(1), standing(2)].concat();
    assert!(about(&facts, Topic::Section179).contains(&two), "{:?}", about(&facts, Topic::Section179));
}
