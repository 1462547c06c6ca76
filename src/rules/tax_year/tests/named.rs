//! Which tools each question names, and which it leaves out.

use super::super::facts::ToolRepairs;
use super::super::{YearFacts, YearSummary, summarise};
use super::{ToolFacts, day, no_allowance, tool, usd, year};
use crate::rules::ids::ToolId;
use crate::rules::rows::{
    Convention, DisposalKind, Election, ElectionKind, PriorDepreciation, PropertyType, RecoveryClass,
    TaxChoice, ToolOrigin,
};

fn summary(year_of: i32, tools: Vec<ToolFacts>, elections: Vec<Election>) -> YearSummary {
    summarise(&YearFacts { tools, elections, ..year(year_of) }).unwrap()
}

fn elected(kind: ElectionKind) -> Election {
    Election { tax_year: 2025, kind, class: None }
}

fn came_as(number: u128, cost: &str, origin: ToolOrigin) -> ToolFacts {
    tool(number, cost, "2025-03-01").but(|tool| tool.origin = origin)
}

fn capitalised(number: u128, cost: &str) -> ToolFacts {
    tool(number, cost, "2025-03-01").but(|tool| tool.choice = TaxChoice::Capitalise)
}

/// With others for one price.
fn for_one_price(one: ToolFacts, price: &str) -> ToolFacts {
    one.but(|tool| tool.invoice_price = usd(price))
}

fn numbers(summary: &YearSummary) -> Vec<u128> {
    summary.depreciation.rows.iter().map(|row| row.tool.0.as_u128()).collect()
}

// Pub. 946 ch. 5, listed property (seen).
#[test]
fn a_camera_is_asked_about_and_on_the_schedule_from_its_first_year_through_the_one_it_leaves_in() {
    let camera = |number, on| tool(number, "3000.00", on).but(|tool| tool.property = PropertyType::Listed);
    let left = |number, on: &str| camera(number, "2024-03-01").gone(on, "0.00");
    let tools = vec![
        camera(1, "2024-02-01"),
        left(2, "2024-12-31"),
        left(3, "2025-01-01"),
        left(4, "2026-01-01"),
        camera(5, "2026-01-01"),
        tool(6, "3000.00", "2025-12-31"),
    ];
    let summary = summary(2025, tools, vec![]);
    assert_eq!(summary.names("listed property"), [1, 3, 4]);
    assert_eq!(numbers(&summary), [1, 3, 4, 6]);
    // The day of its leaving is shown in that year alone.
    let left: Vec<_> = summary.depreciation.rows.iter().map(|row| row.disposed_on).collect();
    assert_eq!(left, [None, Some(day("2025-01-01")), None, None]);
}

// Pub. 946 ch. 4, which convention applies (the 40 % seen).
#[test]
fn the_mid_quarter_convention_names_the_tools_that_are_depreciated_by_it() {
    let november = |number, cost| tool(number, cost, "2025-11-03");
    let brief = november(4, "700.00").gone("2025-12-20", "650.00");
    let tools = vec![tool(1, "1000.00", "2025-03-01"), november(2, "9000.00"), november(3, "150.00"), brief];
    let late = "by its quarter (mid-quarter convention)";
    assert_eq!(summary(2025, tools, vec![]).names(late), [1, 2]);
    let early = vec![tool(1, "9000.00", "2025-03-01"), november(2, "1000.00")];
    assert_eq!(summary(2025, early, vec![]).names(late), []);
}

// Reg. 1.263(a)-1(f) (seen): 2,500 an item, bought.
#[test]
fn a_year_that_could_elect_the_safe_harbor_is_told_of_the_tools_it_would_take() {
    let tools = vec![
        tool(1, "2500.00", "2025-03-01"),
        tool(2, "2500.01", "2025-03-01"),
        came_as(3, "900.00", ToolOrigin::ConvertedFromPersonal),
        tool(4, "150.00", "2025-03-01"),
        capitalised(5, "900.00"),
        came_as(6, "900.00", ToolOrigin::Loan),
    ];
    assert_eq!(summary(2025, tools, vec![]).names("safe harbor is not elected though"), [1]);
}

// Reg. 1.263(a)-1(f) (seen): an item as the invoice proves it; the election takes everything that qualifies.
#[test]
fn a_year_that_elects_the_safe_harbor_is_told_of_the_tools_it_might_take_as_well() {
    let tools = vec![
        for_one_price(tool(1, "1500.00", "2025-03-01"), "2500.01"),
        tool(2, "3000.00", "2025-03-01"),
        for_one_price(capitalised(3, "1500.00"), "2500.01"),
        // It was private before: no invoice of the business names a price for it.
        came_as(4, "2500.00", ToolOrigin::ConvertedFromPersonal),
        tool(5, "900.00", "2025-03-01"),
        capitalised(6, "900.00"),
        capitalised(7, "3000.00"),
    ];
    let summary = summary(2025, tools, vec![elected(ElectionKind::DeMinimis)]);
    assert_eq!(summary.names("came for one price with others"), [1]);
    assert_eq!(summary.names("recorded as capitalised though they qualify"), [6]);
    assert_eq!(summary.names("safe harbor is not elected"), []);
}

// Judgement, no source: whether goods for promotion may be written off in the year they are income.
#[test]
fn goods_for_promotion_are_asked_about_where_they_are_written_off_at_once_by_whichever_way() {
    let sent = |number, cost| came_as(number, cost, ToolOrigin::ForPromotion);
    let tools = vec![
        sent(1, "150.00"),
        sent(2, "4000.00"),
        sent(3, "4000.00").five().section_179("4000.00"),
        sent(4, "4000.00").five(),
        tool(5, "4000.00", "2025-03-01"),
        came_as(6, "500.00", ToolOrigin::PersonalGift),
    ];
    let no_allowance = Election { class: Some(RecoveryClass::Five), ..no_allowance(2025) };
    let summary = summary(2025, tools, vec![no_allowance]);
    assert_eq!(summary.names("received for promotion, not bought"), [1, 2, 3]);
    assert_eq!(summary.names("were personal gifts and are not written off"), [6]);
}

// Reg. 1.263(a)-3, betterment, restoration and adaptation (from memory).
#[test]
fn a_tool_that_was_repaired_in_the_year_is_asked_about_unless_all_of_it_came_back() {
    let tools = vec![tool(1, "4000.00", "2024-03-01"), tool(2, "4000.00", "2024-03-01")];
    let repair = |number: u128, amount| ToolRepairs {
        tool: ToolId(uuid::Uuid::from_u128(number)),
        amount: usd(amount),
    };
    let repairs = vec![repair(1, "0.00"), repair(2, "80.00")];
    let facts = YearFacts { tools, repairs, ..year(2025) };
    assert_eq!(summarise(&facts).unwrap().names("These tools were repaired"), [2]);
}

fn prior(taken: &str) -> Option<PriorDepreciation> {
    Some(PriorDepreciation {
        taken: usd(taken),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    })
}

fn at_once(prior: PriorDepreciation, first_year_write_off: &str) -> PriorDepreciation {
    PriorDepreciation { first_year_write_off: usd(first_year_write_off), ..prior }
}

// IRC 1016(a)(2), allowed or allowable (from memory); table A-1, seven years: 14.29 % (seen). The books begin in 2023.
#[test]
fn only_a_tool_older_than_the_books_goes_on_from_what_old_returns_took() {
    let since = |number, on, prior| tool(number, "10000.00", on).but(|tool| tool.prior = prior);
    let tools = vec![
        since(1, "2022-12-31", None),
        since(2, "2023-01-01", None),
        since(3, "2022-05-01", None).but(|tool| tool.origin = ToolOrigin::Loan),
        since(4, "2022-05-01", prior("1429.00")),
        since(5, "2023-05-01", prior("2000.00").map(|prior| at_once(prior, "2000.00"))),
        since(6, "2023-05-01", prior("0.00")),
    ];
    let summary = summary(2024, tools, vec![no_allowance(2022), no_allowance(2023)]);
    assert_eq!(summary.names("and what was taken on them then is not stated"), [1]);
    assert_eq!(summary.names("so it is not used"), [5]);
    let of_five = summary.depreciation.rows.iter().find(|row| row.tool.0.as_u128() == 5).unwrap();
    assert_eq!(of_five.prior, usd("1429.00"));
}

// Pub. 946 Appendix A, table A-1 (seen): 52 % in two years; that a dollar is rounding is ours.
#[test]
fn what_an_old_return_took_may_be_a_dollar_apart_from_the_tables_and_no_more() {
    let asked = |taken| {
        let old = tool(1, "10000.00", "2021-05-01").five().but(|tool| tool.prior = prior(taken));
        summary(2023, vec![old], vec![]).names("is not what the tables give")
    };
    assert_eq!((asked("5201.00"), asked("5199.00")), (vec![], vec![]));
    assert_eq!((asked("5201.01"), asked("5198.99")), (vec![1], vec![1]));
}

// Pub. 946 ch. 5, business-use requirement (seen): what was held to the slower way from the start took nothing faster.
#[test]
fn a_camera_taken_home_is_asked_for_its_share_only_where_it_had_been_used_more_than_half() {
    let camera = |number, share| {
        let mut camera =
            tool(number, "3000.00", "2024-03-01").five().used(2024, share).gone("2025-04-01", "0.00");
        camera.tool.property = PropertyType::Listed;
        camera.disposal.as_mut().unwrap().kind = DisposalKind::PersonalUse;
        camera
    };
    let summary = summary(2025, vec![camera(1, "50"), camera(2, "50.01")], vec![]);
    assert_eq!(summary.names("went to private use, and more was taken"), [2]);
}
