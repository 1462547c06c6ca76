//! What the preparer is asked about tools, what closing posts of them, and how their write-offs are worded.

use uuid::Uuid;

use super::super::facts::PostingSum;
use super::super::questions::Topic;
use super::super::{YearFacts, summarise, year_end};
use super::{ToolFacts, day, no_allowance, posted, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::journal::{Account, EntryKind, ExpenseClass, Stream};
use crate::rules::rows::{DisposalKind, Election, ElectionKind, PropertyType, TaxChoice, ToolOrigin};

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
fn section_179_that_is_not_allowed_or_has_no_amount_is_asked_about_and_no_other_tool_is() {
    let asked_for = |number, cost| tool(number, cost, "2025-03-01").section_179("0.00");
    let mut facts = with(vec![
        tool(1, "10000.00", "2025-03-01")
            .section_179("4000.00")
            .but(|tool| tool.origin = ToolOrigin::ConvertedFromPersonal),
        tool(2, "10000.00", "2025-03-01").section_179("4000.00").used(2025, "50"),
        tool(3, "10000.00", "2025-03-01").section_179("4000.00").used(2025, "51"),
        asked_for(4, "10000.00"),
        tool(5, "10000.00", "2025-03-01"),
        // The election of the year writes it off, whatever was meant for it.
        asked_for(6, "900.00"),
    ]);
    facts.elections = vec![Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None }];
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.names("recorded for these tools, but not allowed"), [1, 2]);
    assert_eq!(summary.names("but no amount is recorded"), [4]);
}

// Pub. 946 ch. 5 (seen), IRC 168(b)(5) and the life of IRC 168(g) (from memory).
#[test]
fn a_straight_line_says_why_it_is_one_and_names_its_own_law() {
    let said = |one: ToolFacts, elections: Vec<Election>| {
        let facts =
            YearFacts { elections: [elections, vec![no_allowance(2025)]].concat(), ..with(vec![one]) };
        let row = summarise(&facts).unwrap().depreciation.rows.remove(0);
        (row.method, row.rule)
    };
    let words = |method: &str, rule: &str| (method.to_owned(), rule.to_owned());
    let camera = tool(1, "3000.00", "2025-06-10").five().used(2025, "50");
    assert_eq!(
        said(camera.but(|tool| tool.property = PropertyType::Listed), vec![]),
        words(
            "straight line over 5 years, half-year convention, listed property used for business half or less",
            "Pub. 946 ch. 5 (seen); life of IRC 168(g) (from memory)"
        )
    );
    let chosen = tool(1, "3000.00", "2025-06-10").but(|tool| tool.choice = TaxChoice::StraightLine);
    assert_eq!(
        said(chosen, vec![]),
        words(
            "straight line over 7 years, half-year convention, chosen for this tool",
            "IRC 168(b)(5) (from memory)"
        )
    );
    let elected = Election { tax_year: 2025, kind: ElectionKind::StraightLine, class: None };
    assert_eq!(
        said(tool(1, "3000.00", "2025-06-10"), vec![elected]),
        words(
            "straight line over 7 years, half-year convention, elected for its class",
            "IRC 168(b)(5) (from memory)"
        )
    );
}

// Reg. 1.263(a)-1(f) (seen): by what the invoice proves; Reg. 1.162-3 (from memory): 200 a unit.
#[test]
fn small_tools_stand_on_the_list_of_other_expenses_by_the_rule_that_wrote_them_off() {
    let of_a_kit = tool(2, "150.00", "2025-06-10").but(|tool| tool.invoice_price = usd("3000.00"));
    let mut facts = with(vec![tool(1, "900.00", "2025-06-10"), of_a_kit]);
    facts.elections = vec![Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None }];
    let summary = summarise(&facts).unwrap();
    let tools = &summary.depreciation;
    assert_eq!(
        (tools.small_tools_by_election, tools.small_tools_as_supplies),
        (usd("900.00"), usd("150.00"))
    );
    let items = summary.lines.iter().filter(|line| line.line == "item");
    let items: Vec<_> = items.map(|line| (line.label.as_str(), line.exact.unwrap().to_string())).collect();
    let item = |label, amount: &str| (label, amount.to_owned());
    assert_eq!(
        items,
        [
            item("De minimis safe harbor tools", "900.00"),
            item("Small tools as materials and supplies", "150.00")
        ]
    );
}

// Common practice, no source: depreciation stands in the journal once its year is closed.
#[test]
fn the_schedule_says_whether_the_journal_has_its_sums() {
    let says = |kind, amount: &str| {
        let mut facts = with(vec![tool(1, "10000.00", "2025-03-01")]);
        let expense = Account::Expense(ExpenseClass::Depreciation);
        let posted = posted(expense, ExpenseClass::Depreciation.tax_class(), amount);
        facts.postings = vec![PostingSum { kind, ..posted }];
        summarise(&facts).unwrap().depreciation.says
    };
    assert!(says(EntryKind::Depreciation, "10000.00").contains("posted when the year was closed"));
    // Closed and reopened, or an open year with costs of its own.
    for (kind, amount) in [(EntryKind::Depreciation, "0.00"), (EntryKind::Ordinary, "70.00")] {
        assert!(says(kind, amount).contains("none of it before the year is closed"), "{kind}");
    }
}
