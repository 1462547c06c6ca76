//! The last year of a recovery period, and the first of the books.

use super::super::{YearFacts, summarise};
use super::tools::{row, with_tools};
use super::{ToolFacts, no_allowance, tool, usd};
use crate::rules::rows::{Convention, PriorDepreciation, PropertyType, RecoveryClass};

fn three(on: &str) -> ToolFacts {
    tool(1, "10000.00", on).but(|tool| tool.class = RecoveryClass::Three)
}

// Pub. 946 ch. 4 and Appendix A (tables seen, what a sale in the last year takes: derived).
#[test]
fn a_tool_sold_in_the_last_year_of_its_life_loses_nothing_of_it_once_the_life_has_run_out() {
    let yearly = |bought: &str, sold: &str| {
        let facts = with_tools(2026, vec![three(bought).gone(sold, "10.00")], vec![no_allowance(2023)]);
        row(&facts).yearly
    };
    // Half-year: the life ends in the middle of 2026, and whatever is sold that year is sold then.
    assert_eq!(yearly("2023-03-01", "2026-02-01"), usd("741.00"));
    // Mid-quarter, bought in the fourth: the life ends in the middle of the fourth quarter of 2026.
    assert_eq!(yearly("2023-11-01", "2026-12-01"), usd("1019.00"));
    assert_eq!(yearly("2023-11-01", "2026-02-01"), usd("127.38"), "one eighth of the year");
}

// Pub. 946 ch. 5 (from memory): 20 and 32 % were taken in 2021 and 2022; the slower way gives 10 and 20 %.
#[test]
fn a_camera_from_before_the_books_gives_back_in_their_first_year_if_that_is_when_its_use_fell() {
    let prior = PriorDepreciation {
        taken: usd("5200.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let camera = tool(1, "10000.00", "2021-05-01").five().used(2023, "40").but(|tool| {
        tool.property = PropertyType::Listed;
        tool.prior = Some(prior);
    });
    let found = row(&with_tools(2023, vec![camera], vec![]));
    assert_eq!((found.prior, found.recaptured), (usd("5200.00"), usd("2200.00")));
}

// Derived: what was never used for the business has no write-off and is no fault of anybody's.
#[test]
fn a_tool_from_before_the_books_that_was_never_used_for_the_business_takes_nothing() {
    let prior = PriorDepreciation {
        taken: usd("0.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let private = tool(1, "10000.00", "2021-05-01").but(|tool| {
        tool.prior = Some(prior);
        tool.business_share = rust_decimal::Decimal::ZERO;
    });
    let found = row(&with_tools(2025, vec![private], vec![]));
    assert_eq!((found.yearly, found.prior), (usd("0.00"), usd("0.00")));
}

// Common practice, no source.
#[test]
fn a_row_of_the_schedule_names_section_179_before_the_table_where_there_is_some() {
    let method = |facts: ToolFacts| {
        let facts = YearFacts { ..with_tools(2025, vec![facts], vec![no_allowance(2025)]) };
        summarise(&facts).unwrap().depreciation.rows[0].method.clone()
    };
    let table = "table A-1, 7 years, half-year convention";
    assert_eq!(method(tool(1, "10000.00", "2025-03-01")), table);
    assert_eq!(
        method(tool(1, "10000.00", "2025-03-01").section_179("4000.00")),
        format!("section 179 4000.00, then {table}")
    );
}

// Common practice, no source.
#[test]
fn a_row_of_the_schedule_says_when_its_tool_left_only_in_that_year() {
    let left_on = |year: i32, sold: &str| {
        let tools = vec![tool(1, "10000.00", "2023-03-01").gone(sold, "10.00")];
        row(&with_tools(year, tools, vec![no_allowance(2023)])).disposed_on.map(|day| day.to_string())
    };
    assert_eq!(left_on(2025, "2025-06-01").as_deref(), Some("2025-06-01"));
    assert_eq!(left_on(2024, "2025-06-01"), None);
}

// Reg. 1.263(a)-1(f) (seen): the year has one limit or the other.
#[test]
fn a_small_tool_that_is_sold_gives_an_ordinary_gain_and_a_bigger_one_section_1231_above_its_cost() {
    let sale = |cost: &str, proceeds: &str| {
        let tools = vec![tool(1, cost, "2024-03-01").gone("2025-06-01", proceeds)];
        let facts = with_tools(2025, tools, vec![no_allowance(2024)]);
        let sale = summarise(&facts).unwrap().business_sales.remove(0);
        (sale.ordinary.unwrap().to_string(), sale.section_1231.unwrap().to_string(), sale.says)
    };
    let (ordinary, above, says) = sale("150.00", "200.00");
    assert_eq!((ordinary.as_str(), above.as_str()), ("200.00", "0.00"));
    assert!(says.starts_with("written off at once before"), "{says}");
    // 14.29 % in 2024 and half of 24.49 % in 2025 are 2,653.50; 500.00 came above what it had cost.
    let (ordinary, above, says) = sale("10000.00", "10500.00");
    assert_eq!((ordinary.as_str(), above.as_str()), ("2653.50", "500.00"));
    assert!(says.starts_with("ordinary as far as depreciation was taken"), "{says}");
}
