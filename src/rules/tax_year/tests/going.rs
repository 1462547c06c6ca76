//! Tools and set pieces that leave: their last year, their part of the price, and what is asked.

use uuid::Uuid;

use super::super::depreciation::{Ground, plans};
use super::super::disposals::BusinessSale;
use super::super::facts::PieceSaleFacts;
use super::super::{Profile, YearFacts, YearSummary, summarise};
use super::{ToolFacts, books, day, dec, no_allowance, tool, usd, year};
use crate::rules::ids::PieceId;
use crate::rules::rows::{Basis, DisposalKind, PieceSale, SaleCharacter, ToolOrigin};

fn summary(year_of: i32, tools: Vec<ToolFacts>) -> YearSummary {
    let elections = (2023..=2026).map(no_allowance).collect();
    summarise(&YearFacts { tools, elections, ..year(year_of) }).unwrap()
}

// Pub. 946 ch. 4, disposal before the recovery period ends (from memory); tables, five years: 5.76 and
// 9.58 % in the sixth (seen). The recovery period runs out in the middle of the sixth year, or in its last quarter.
#[test]
fn a_tool_sold_when_its_recovery_period_has_run_out_has_its_last_years_percentage_in_full() {
    let last_year = |came: &str, left: &str| {
        let elections = [no_allowance(2023)];
        let profile = Profile::find("us", 2025).unwrap();
        let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
        let tools = [tool(1, "10000.00", came).five().gone(left, "0.00")];
        plans(&tools, &ground).unwrap()[0].at(2028).unwrap().charge.yearly
    };
    assert_eq!(last_year("2023-03-01", "2028-02-01"), usd("576.00"));
    assert_eq!(last_year("2023-11-01", "2028-12-01"), usd("958.00"));
}

// IRC 168(k)(6) before the 2025 act (seen in a secondary source): nothing from 2027 on.
#[test]
fn what_was_bought_before_2025_and_is_ready_only_in_2027_has_no_special_allowance() {
    let allowance = |ready: &str| {
        let profile = Profile::find("us", 2025).unwrap();
        let ground = Ground { profile, elections: &[], first_year: 2023, base: books().base };
        let tools = [tool(1, "10000.00", ready).but(|tool| tool.acquired_on = day("2024-12-10"))];
        plans(&tools, &ground).unwrap()[0].allowance.map(|(percent, _)| percent)
    };
    assert_eq!((allowance("2026-12-31"), allowance("2027-01-01")), (Some(dec("20")), None));
}

// Pub. 946 ch. 1, what is placed in service (from memory); table A-1, seven years: 14.29 % (seen).
#[test]
fn a_tool_sold_before_it_came_into_service_gives_its_price_less_its_cost_and_moves_no_other_tool() {
    let never_used = tool(2, "9000.00", "2025-11-01")
        .section_179("9000.00")
        .but(|tool| tool.acquired_on = day("2024-12-10"))
        .gone("2024-12-28", "8400.00");
    let tools = || vec![tool(1, "6000.00", "2025-03-01"), never_used.clone()];
    let sale = summary(2024, tools()).business_sales.remove(0);
    assert_eq!((sale.cost, sale.depreciation), (Some(usd("9000.00")), Some(usd("0.00"))));
    assert_eq!((sale.proceeds, sale.loss), (usd("8400.00"), Some(usd("600.00"))));
    // The year it was meant for knows nothing of it: no late quarter, no section 179.
    let meant_for = summary(2025, tools());
    assert_eq!((meant_for.exact("13"), meant_for.section_179.elected), ("857.40".to_owned(), usd("0.00")));
}

// Pub. 544 ch. 1, property used partly for business (from memory): 60 % of 100.01 is 60.006, and of the price 3,000.30.
#[test]
fn the_businesss_part_of_a_price_goes_by_its_share_of_use_and_not_by_a_rounded_cost() {
    let bench = tool(1, "100.01", "2025-02-01").used(2025, "60").gone("2025-09-01", "5000.50");
    let sale = summary(2025, vec![bench]).business_sales.remove(0);
    assert_eq!((sale.cost, sale.proceeds), (Some(usd("60.01")), usd("3000.30")));
}

// IRC 1012, basis is cost (from memory): the business paid nothing for it.
#[test]
fn a_gift_used_less_each_year_and_sold_gives_all_of_the_businesss_part_as_gain() {
    let gift = tool(1, "900.00", "2024-02-01")
        .used(2025, "60")
        .gone("2025-09-01", "120.00")
        .but(|tool| tool.origin = ToolOrigin::PersonalGift);
    let sale = summary(2025, vec![gift]).business_sales.remove(0);
    assert_eq!(
        (sale.cost, sale.depreciation, sale.gain),
        (Some(usd("0.00")), Some(usd("0.00")), Some(usd("120.00")))
    );
}

// Pub. 544 ch. 1, property used partly for business, which is sold as two things (from memory).
#[test]
fn the_private_part_of_a_price_is_asked_about_where_there_is_one() {
    let sold = |number, share: &str, price| {
        let share = dec(share);
        tool(number, "5000.00", "2024-06-01")
            .gone("2025-05-20", price)
            .but(|tool| tool.business_share = share)
    };
    let tools = vec![sold(1, "100", "900.00"), sold(2, "60", "900.00"), sold(3, "60", "0.00")];
    let summary = summary(2025, tools);
    let asked = "'Tool 2' was used 60 % for the business: the rest of its price is a private sale";
    assert_eq!((summary.names("is a private sale"), summary.names(asked)), (vec![2], vec![2]));
}

// IRC 179(b)(3) and Reg. 1.179-3(f): a carryover goes back into the basis of what is sold (from memory).
#[test]
fn section_179_that_was_never_allowed_is_asked_about_when_a_tool_it_was_elected_on_leaves() {
    let tools = vec![
        tool(1, "5000.00", "2024-06-01").section_179("2000.00").gone("2025-05-20", "900.00"),
        tool(2, "5000.00", "2024-06-01").gone("2025-05-20", "900.00"),
    ];
    let asked = |waiting| {
        let section_179_brought_forward = usd(waiting);
        let facts = YearFacts { tools: tools.clone(), section_179_brought_forward, ..year(2025) };
        summarise(&facts).unwrap().names("goes back into its basis")
    };
    assert_eq!((asked("700.00"), asked("0.00")), (vec![1], vec![]));
}

// Schedule C leaves business property to Form 4797 (from memory).
#[test]
fn a_set_piece_that_was_sold_stands_among_business_property_and_no_other_piece_does() {
    let sold = |number, character| {
        let piece = PieceId(Uuid::from_u128(number));
        let (date, gross, fees) = (day("2025-04-02"), usd("90.00"), usd("8.00"));
        let basis = Basis::Known(usd("0.00"));
        let sale = PieceSale { piece, date, gross, fees, basis, basis_for_loss: None, character };
        PieceSaleFacts { piece, name: format!("Chair {number}"), sale, came_at: None, value: None }
    };
    let piece_sales = vec![
        sold(1, SaleCharacter::StockInTrade),
        sold(2, SaleCharacter::BusinessProperty),
        sold(3, SaleCharacter::PersonalProperty),
    ];
    let summary = summarise(&YearFacts { piece_sales, ..year(2025) }).unwrap();
    let chair = BusinessSale {
        what: "Chair 2".to_owned(),
        drill_down: format!("/v1/furniture/{}/standing", PieceId(Uuid::from_u128(2))),
        date: day("2025-04-02"),
        leaving: DisposalKind::Sold,
        proceeds: usd("82.00"),
        cost: None,
        depreciation: None,
        basis: Some(usd("0.00")),
        basis_for_loss: None,
        gain: Some(usd("82.00")),
        ordinary: Some(usd("82.00")),
        section_1231: Some(usd("0.00")),
        loss: Some(usd("0.00")),
        says: "a piece the business used; Form 4797 (from memory)".to_owned(),
    };
    assert_eq!(summary.business_sales, [chair]);
}
