//! Of which tools each question is asked, and of which just not.

use uuid::Uuid;

use super::super::facts::ToolRepairs;
use super::super::questions::Topic;
use super::super::{YearFacts, summarise};
use super::{ToolFacts, day, no_allowance, posted, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::journal::{Account, Stream};
use crate::rules::rows::{
    Convention, Election, ElectionKind, PriorDepreciation, PropertyType, TaxChoice, ToolOrigin, Vehicle,
    VehicleBody,
};

fn id(number: u128) -> ToolId {
    ToolId(Uuid::from_u128(number))
}

/// The facts of 2025 with those tools, without a special allowance, and with income enough for all of section 179.
fn with(tools: Vec<ToolFacts>) -> YearFacts {
    let sponsorship = Stream::Sponsorship;
    let postings = vec![posted(Account::Income(sponsorship), sponsorship.tax_class(), "-9000000.00")];
    YearFacts { tools, postings, elections: vec![no_allowance(2025)], ..year(2025) }
}

/// The numbers of the tools that each question of the topic is about.
fn about(facts: &YearFacts, topic: Topic) -> Vec<Vec<u128>> {
    let number = |path: &String| {
        let of = |number: &u128| *path == format!("/v1/tools/{}/standing", id(*number));
        (1..20).find(of).unwrap_or(0)
    };
    let summary = summarise(facts).unwrap();
    let asked = summary.questions.iter().filter(|one| one.topic == topic);
    asked.map(|one| one.about.iter().map(number).collect()).collect()
}

fn invoiced(number: u128, cost: &str, invoice: &str) -> ToolFacts {
    tool(number, cost, "2025-03-01").but(|tool| tool.invoice_price = usd(invoice))
}

fn converted(number: u128, cost: &str) -> ToolFacts {
    tool(number, cost, "2025-03-01").but(|tool| tool.origin = ToolOrigin::ConvertedFromPersonal)
}

fn capitalised(mut facts: ToolFacts) -> ToolFacts {
    facts.tool.choice = TaxChoice::Capitalise;
    facts
}

// Reg. 1.263(a)-1(f) (seen): 2,500 an item on the invoice, for what the business bought.
#[test]
fn the_safe_harbor_is_offered_for_tools_that_would_qualify_and_for_no_others() {
    let facts = with(vec![
        invoiced(1, "2500.00", "2500.00"),
        invoiced(2, "2500.01", "2500.01"),
        converted(3, "2000.00"),
        capitalised(invoiced(4, "2000.00", "2000.00")),
        invoiced(5, "150.00", "150.00"),
    ]);
    assert_eq!(about(&facts, Topic::DeMinimis), [[1]]);
}

// Reg. 1.263(a)-1(f) (seen): where it is elected it takes everything that qualifies.
#[test]
fn where_the_safe_harbor_is_elected_kits_and_capitalised_tools_are_asked_about() {
    let mut facts = with(vec![
        invoiced(1, "2500.00", "2500.01"),
        invoiced(2, "2500.01", "9000.00"),
        capitalised(invoiced(3, "1000.00", "5000.00")),
        converted(4, "2500.00"),
        invoiced(5, "300.00", "300.00"),
        capitalised(invoiced(6, "1000.00", "1000.00")),
    ]);
    facts.elections.push(Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None });
    assert_eq!(about(&facts, Topic::DeMinimis), [[1], [6]]);
    let schedule = summarise(&facts).unwrap().depreciation;
    assert_eq!(
        (schedule.small_tools_by_election, schedule.small_tools_as_supplies),
        (usd("300.00"), usd("0.00"))
    );
}

// Judgement: what nobody paid for is asked about where it is written off at once.
#[test]
fn goods_nobody_paid_for_are_asked_about_by_the_way_they_came() {
    let promoted = |number, cost: &str| {
        tool(number, cost, "2025-03-01").but(|tool| tool.origin = ToolOrigin::ForPromotion)
    };
    let mut facts = with(vec![
        promoted(1, "10000.00"),
        promoted(2, "150.00"),
        promoted(3, "10000.00").section_179("4000.00"),
        tool(4, "150.00", "2025-03-01"),
        tool(5, "0.00", "2025-03-01").but(|tool| tool.origin = ToolOrigin::PersonalGift),
    ]);
    assert_eq!(about(&facts, Topic::GoodsNobodyPaidFor), [vec![2, 3], vec![5]]);
    facts.elections.clear();
    assert_eq!(about(&facts, Topic::GoodsNobodyPaidFor), [vec![1, 2, 3], vec![5]], "with the allowance");
}

// IRC 179(d)(1) and (d)(2), Pub. 946 ch. 2 (from memory).
#[test]
fn section_179_is_asked_about_where_it_is_chosen_and_not_allowed_or_has_no_amount() {
    let chosen = |number, amount: &str| tool(number, "10000.00", "2025-03-01").section_179(amount);
    let was_private = |facts: ToolFacts| facts.but(|tool| tool.origin = ToolOrigin::ConvertedFromPersonal);
    let by_law = |number, amount: &str| {
        tool(number, "10000.00", "2025-03-01").but(|tool| tool.section_179 = usd(amount)).used(2025, "50")
    };
    let facts = with(vec![
        was_private(chosen(1, "4000.00")),
        chosen(2, "4000.00").used(2025, "50"),
        chosen(3, "4000.00"),
        chosen(4, "0.00"),
        was_private(chosen(5, "0.00")),
        by_law(6, "0.00"),
        by_law(7, "4000.00"),
        chosen(8, "0.00").but(|tool| tool.origin = ToolOrigin::Loan),
    ]);
    assert_eq!(about(&facts, Topic::Section179), [vec![1, 2], vec![4, 5]]);
}

// IRC 179(b)(5) and (b)(1) as of 2025 (31,300 and 2,500,000 seen in the reference).
#[test]
fn a_cap_and_a_limit_of_section_179_are_asked_about_only_when_they_cut_something() {
    let suv = |amount: &str| {
        tool(1, "80000.00", "2025-03-01").five().section_179(amount).but(|tool| {
            tool.vehicle = Some(Vehicle { gross_pounds: 6_800, body: VehicleBody::Passenger });
        })
    };
    let none: [Vec<u128>; 0] = [];
    assert_eq!(about(&with(vec![suv("31300.00")]), Topic::Section179), none);
    assert_eq!(about(&with(vec![suv("31300.01")]), Topic::Section179), [[1]]);
    let two = |second: &str| {
        with(vec![
            tool(1, "2000000.00", "2025-03-01").section_179("2000000.00"),
            tool(2, "600000.00", "2025-04-01").section_179(second),
        ])
    };
    assert_eq!(about(&two("500000.00"), Topic::Section179), none);
    assert_eq!(about(&two("500000.01"), Topic::Section179), [[1, 2]]);
    let rules = |facts: &YearFacts| summarise(facts).unwrap().depreciation.rows[0].rule.clone();
    assert!(rules(&with(vec![suv("31300.00")])).contains("179(b)(5)"));
    assert!(!rules(&two("500000.00")).contains("179(b)(5)"));
    assert_eq!(about(&two("500000.00"), Topic::Vehicle), none, "no vehicle, no question of one");
}

// Pub. 946 ch. 4, mid-quarter convention (seen).
#[test]
fn the_convention_is_asked_about_in_a_year_of_late_tools_and_of_those_only_that_are_written_off_by_it() {
    let early = tool(1, "1000.00", "2025-03-01");
    let none: [Vec<u128>; 0] = [];
    assert_eq!(about(&with(vec![early.clone()]), Topic::MidQuarter), none);
    let late = tool(2, "10000.00", "2025-11-01");
    let lent = tool(3, "0.00", "2025-11-01").but(|tool| tool.origin = ToolOrigin::Loan);
    assert_eq!(about(&with(vec![early, late, lent]), Topic::MidQuarter), [[1, 2]]);
}

// Common practice, no source.
#[test]
fn a_year_asks_of_the_tools_it_has_and_not_of_those_gone_before_or_yet_to_come() {
    let listed =
        |number, on: &str| tool(number, "10000.00", on).but(|tool| tool.property = PropertyType::Listed);
    let facts = with(vec![
        listed(1, "2024-03-01"),
        listed(2, "2023-03-01").gone("2024-12-31", "10.00"),
        listed(3, "2026-01-01"),
        listed(4, "2023-03-01").gone("2025-01-01", "10.00"),
        tool(5, "10000.00", "2024-03-01"),
    ]);
    assert_eq!(about(&facts, Topic::ListedProperty), [[1, 4]]);
    let rows = summarise(&facts).unwrap().depreciation.rows;
    assert_eq!(rows.iter().map(|row| row.tool).collect::<Vec<_>>(), [id(4), id(1), id(5)]);
}

// Reg. 1.263(a)-3 (from memory).
#[test]
fn repairs_of_the_year_are_asked_about_where_they_cost_something() {
    let repaired = |number, amount: &str| ToolRepairs { tool: id(number), amount: usd(amount) };
    let mut facts = with(vec![tool(1, "10000.00", "2025-03-01")]);
    facts.repairs = vec![repaired(1, "0.00"), repaired(2, "0.01")];
    assert_eq!(about(&facts, Topic::Repairs), [[2]]);
}

// Common practice, no source.
#[test]
fn the_year_of_payment_is_asked_of_small_tools_only() {
    let mut facts = with(vec![
        tool(1, "300.00", "2025-01-10").but(|tool| tool.acquired_on = day("2024-12-20")),
        tool(2, "10000.00", "2025-01-10").but(|tool| tool.acquired_on = day("2024-12-20")),
    ]);
    facts.elections.push(Election { tax_year: 2025, kind: ElectionKind::DeMinimis, class: None });
    assert_eq!(about(&facts, Topic::DeMinimis), [[1]]);
}

// IRC 1016(a)(2) (from memory). A seven-year tool of 2022 without the allowance: 14.29 % are 1,429.00 (table A-1).
#[test]
fn what_was_taken_before_the_books_is_asked_about_by_the_day_and_beyond_a_dollar() {
    let old = |number, on: &str, taken: Option<&str>| {
        tool(number, "10000.00", on).but(|tool| {
            tool.prior = taken.map(|taken| PriorDepreciation {
                taken: usd(taken),
                convention: Convention::HalfYear,
                first_year_write_off: usd("0.00"),
            });
        })
    };
    let with_old = |tools| {
        let elections = vec![no_allowance(2022), no_allowance(2023)];
        YearFacts { tools, elections, ..year(2025) }
    };
    let facts = with_old(vec![
        old(1, "2022-12-31", None),
        old(2, "2023-01-01", None),
        old(3, "2023-01-01", Some("100.00")),
        old(4, "2023-01-01", Some("0.00")),
    ]);
    assert_eq!(about(&facts, Topic::PriorDepreciation), [[1], [3]]);
    let facts = with_old(vec![
        old(1, "2022-03-01", Some("1428.00")),
        old(2, "2022-03-01", Some("1427.99")),
        old(3, "2022-03-01", Some("1430.00")),
        old(4, "2022-03-01", Some("1430.01")),
    ]);
    assert_eq!(about(&facts, Topic::PriorDepreciation), [[2, 4]]);
}

// IRC 179(d)(10), Pub. 946 ch. 2 (from memory).
#[test]
fn an_election_that_income_held_back_is_named_beside_what_comes_back_only_where_there_is_one() {
    let waits = |brought_forward: &str, section_179: &str| {
        let fallen = tool(1, "10000.00", "2024-03-01").section_179(section_179).used(2025, "40");
        let mut facts = YearFacts { elections: vec![no_allowance(2024)], ..with(vec![fallen]) };
        facts.section_179_brought_forward = usd(brought_forward);
        let summary = summarise(&facts).unwrap();
        let asked = summary.questions.iter().find(|one| one.topic == Topic::Recapture).unwrap();
        asked.question.contains("was not all allowed")
    };
    assert!(waits("100.00", "4000.00"));
    assert!(!waits("0.00", "4000.00"));
}
