//! Tools: tables, conventions, section 179, the special allowance, small tools, disposals.

use super::super::depreciation::{Charge, DepreciationRow, Ground, plans};
use super::super::facts::ToolFacts;
use super::super::profile::Profile;
use super::super::questions::Topic;
use super::super::section_179::{dollar_limit, eligible_cost, within_limit};
use super::super::{YearFacts, summarise};
use super::{books, day, dec, no_allowance, tool, usd, year};
use crate::rules::money::Money;
use crate::rules::rows::{
    Convention, DisposalKind, Election, ElectionKind, PriorDepreciation, PropertyType, TaxChoice, ToolOrigin,
};

/// What each tool takes by table or straight line in those years.
fn yearly(
    tools: &[ToolFacts],
    elections: &[Election],
    years: std::ops::RangeInclusive<i32>,
) -> Vec<Vec<String>> {
    charges(tools, elections, years, |charge| charge.yearly)
}

fn charges(
    tools: &[ToolFacts],
    elections: &[Election],
    years: std::ops::RangeInclusive<i32>,
    which: fn(Charge) -> Money,
) -> Vec<Vec<String>> {
    let profile = Profile::find("us", 2025).unwrap();
    let ground = Ground { profile, elections, first_year: 2023, base: books().base };
    let of = |plan: &super::super::depreciation::Plan<'_>| {
        years.clone().map(|year| which(plan.through(year).unwrap().1).to_string()).collect()
    };
    plans(tools, &ground).unwrap().iter().map(of).collect()
}

pub(super) fn with_tools(year_of: i32, tools: Vec<ToolFacts>, elections: Vec<Election>) -> YearFacts {
    YearFacts { tools, elections, ..year(year_of) }
}

/// The only row of a year's schedule.
pub(super) fn row(facts: &YearFacts) -> DepreciationRow {
    summarise(facts).unwrap().depreciation.rows.pop().unwrap()
}

#[test]
fn furniture_of_ten_thousand_in_august_goes_by_table_a_1() {
    // Pub. 946 ch. 4, half-year example: the example from memory, its percentages seen
    let amounts = yearly(&[tool(1, "10000.00", "2023-08-11")], &[no_allowance(2023)], 2023..=2031);
    let expected =
        ["1429.00", "2449.00", "1749.00", "1249.00", "893.00", "892.00", "893.00", "446.00", "0.00"];
    assert_eq!(amounts, [expected]);
}

#[test]
fn a_late_computer_puts_the_whole_year_on_mid_quarter() {
    // Pub. 946 ch. 4, mid-quarter example (seen)
    let tools = [
        tool(1, "4000.00", "2025-01-20"),
        tool(2, "1000.00", "2025-09-10"),
        tool(3, "5000.00", "2025-10-05").five(),
    ];
    let amounts = yearly(&tools, &[no_allowance(2025)], 2025..=2026);
    assert_eq!(amounts, [["1000.00", "857.20"], ["107.10", "255.10"], ["250.00", "1900.00"]]);
}

#[test]
fn exactly_forty_percent_in_the_last_quarter_stays_half_year() {
    // Pub. 946 ch. 4: more than 40 % (seen), so 40 % is not
    let tools = [tool(1, "6000.00", "2025-03-01"), tool(2, "4000.00", "2025-12-01")];
    assert_eq!(yearly(&tools, &[no_allowance(2025)], 2025..=2025), [["857.40"], ["571.60"]]);
    let tools = [tool(1, "6000.00", "2025-03-01"), tool(2, "4000.01", "2025-12-01")];
    assert_eq!(yearly(&tools, &[no_allowance(2025)], 2025..=2025), [["1500.00"], ["142.80"]]);
}

#[test]
fn the_forty_percent_test_counts_after_section_179_but_before_the_allowance() {
    // Reg. 1.168(d)-1(b)(4) (from memory)
    let december = || tool(2, "8000.00", "2025-12-01");
    let tools = [tool(1, "6000.00", "2025-03-01"), december().section_179("4000.00")];
    assert_eq!(yearly(&tools, &[no_allowance(2025)], 2025..=2025), [["857.40"], ["571.60"]]);
    // Written off in full by the allowance, the December tool still counts.
    let old = tool(1, "6000.00", "2025-03-01").but(|tool| tool.acquired_on = day("2024-12-10"));
    assert_eq!(yearly(&[old, december()], &[], 2025..=2025), [["900.00"], ["0.00"]]);
}

#[test]
fn what_came_and_went_in_one_year_neither_counts_nor_depreciates() {
    // Pub. 946 ch. 1 and 4 (from memory)
    let brief = tool(2, "9000.00", "2025-10-01").gone("2025-12-20", "8500.00");
    let facts = with_tools(2025, vec![tool(1, "6000.00", "2025-03-01"), brief], vec![no_allowance(2025)]);
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.exact("13"), "857.40");
    let sold = summary.business_sales.first().unwrap();
    assert_eq!(sold.loss, Some(usd("500.00")));
}

#[test]
fn a_mid_quarter_tool_sold_in_april_gets_three_eighths_of_its_year() {
    // Pub. 946 ch. 4, mid-quarter disposal: the example from memory, its percentages seen
    let december = tool(1, "10000.00", "2023-12-05").five().gone("2026-04-06", "0.00");
    let amounts = yearly(&[december], &[no_allowance(2023)], 2023..=2027);
    assert_eq!(amounts, [["500.00", "3800.00", "2280.00", "513.00", "0.00"]]);
}

#[test]
fn section_179_on_a_forklift_and_a_saw_leaves_basis_on_the_forklift() {
    // Pub. 946 (2000) ch. 2, limit of 20,000 (seen)
    let given = within_limit(usd("20000.00"), &[usd("18500.00"), usd("1500.00")]).unwrap();
    assert_eq!(given, [usd("18500.00"), usd("1500.00")]);
    let left = usd("21000.00").minus(given[0]).unwrap();
    assert_eq!(left, usd("2500.00"));
    assert_eq!(usd("1500.00").minus(given[1]).unwrap(), usd("0.00"));
    let cut = within_limit(usd("19000.00"), &[usd("18500.00"), usd("1500.00")]).unwrap();
    assert_eq!(cut, [usd("18500.00"), usd("500.00")]);
}

#[test]
fn the_section_179_limit_shrinks_dollar_for_dollar_until_nothing_is_left() {
    // Pub. 946 (2023) ch. 2 (seen); 2024 edition (its example from memory, its figures seen); end points derived
    let limit = |year, placed: &str| {
        dollar_limit(&Profile::find("us", year).unwrap().section_179, usd(placed)).unwrap().to_string()
    };
    assert_eq!(limit(2023, "2940000.00"), "1110000.00");
    assert_eq!(limit(2024, "3100000.00"), "1170000.00");
    for (year, most, gone) in [
        (2023, "1160000.00", "4050000.00"),
        (2024, "1220000.00", "4270000.00"),
        (2025, "2500000.00", "6500000.00"),
        (2026, "2560000.00", "6650000.00"),
    ] {
        assert_eq!(limit(year, "0.00"), most);
        assert_eq!(limit(year, gone), "0.00");
        assert_eq!(limit(year, "9000000.00"), "0.00");
    }
}

#[test]
fn only_the_business_share_qualifies_for_section_179_and_half_is_too_little() {
    // Pub. 946 ch. 2, partial business use (seen)
    assert_eq!(eligible_cost(usd("11000.00"), dec("80")).unwrap(), usd("8800.00"));
    assert_eq!(eligible_cost(usd("11000.00"), dec("50")).unwrap(), usd("0.00"));
}

#[test]
fn section_179_beyond_the_income_goes_to_next_year_but_leaves_the_basis_at_once() {
    // IRC 179(b)(3) (seen in a summary of the 2025 act)
    let mut facts = with_tools(2025, vec![tool(1, "5000.00", "2025-06-10").section_179("5000.00")], vec![]);
    facts.postings.push(super::posted(
        crate::rules::journal::Account::Income(crate::rules::journal::Stream::Sponsorship),
        crate::rules::journal::TaxClass::Sponsorship,
        "-3200.00",
    ));
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.section_179.allowed, usd("3200.00"));
    assert_eq!(summary.section_179.carried_over, usd("1800.00"));
    assert_eq!((summary.exact("13"), summary.exact("31")), ("3200.00".to_owned(), "0.00".to_owned()));
    assert!(summary.asks(Topic::Section179));
    assert_eq!(summary.depreciation.rows[0].left, usd("0.00"));
}

#[test]
fn the_allowance_takes_sixty_percent_of_450_000_in_2024() {
    // Pub. 946 (2024) ch. 3: the example from memory, its rate seen
    let row = row(&with_tools(2024, vec![tool(1, "450000.00", "2024-11-01")], vec![]));
    assert_eq!(row.special_allowance, usd("270000.00"));
    // table A-5, for it is the year's only tool: 3.57 % of the 180,000 left
    assert_eq!(row.yearly, usd("6426.00"));
}

#[test]
fn the_allowance_goes_by_the_day_of_acquisition_and_of_service() {
    // IRC 168(k) before and after P.L. 119-21; Notice 2026-11 (seen)
    for (acquired, in_service, percent) in [
        ("2023-05-01", "2023-06-01", 80),
        ("2024-05-01", "2024-06-01", 60),
        ("2025-01-19", "2025-01-19", 40),
        ("2025-01-19", "2025-03-01", 40),
        ("2025-01-20", "2025-01-20", 100),
        ("2024-12-10", "2026-02-01", 20),
        ("2026-03-01", "2026-03-01", 100),
    ] {
        for profile in Profile::all() {
            let rate = profile.special_allowance(day(acquired), day(in_service)).unwrap();
            assert_eq!(rate.percent, percent, "{acquired}, {in_service}");
        }
    }
    assert!(
        Profile::find("us", 2025).unwrap().special_allowance(day("2017-09-27"), day("2023-01-01")).is_none()
    );
}

#[test]
fn a_saw_of_3200_in_june_2025_is_written_off_in_full() {
    // derived from IRC 168(k) as amended by P.L. 119-21 (seen)
    let summary = summarise(&with_tools(2025, vec![tool(1, "3200.00", "2025-06-10")], vec![])).unwrap();
    assert_eq!(summary.exact("13"), "3200.00");
    assert_eq!(summary.depreciation.rows[0].left, usd("0.00"));
}

#[test]
fn the_lower_allowance_of_2025_is_a_choice_for_that_year_alone() {
    // IRC 168(k)(10) as amended (from memory)
    let lower = |year| Election { tax_year: year, kind: ElectionKind::LowerAllowance2025, class: None };
    let row_of = |year, on| row(&with_tools(year, vec![tool(1, "5000.00", on)], vec![lower(year)]));
    assert_eq!(row_of(2025, "2025-06-10").special_allowance, usd("2000.00"));
    assert_eq!(row_of(2026, "2026-06-10").special_allowance, usd("5000.00"));
}

#[test]
fn leaving_the_allowance_for_one_class_keeps_it_for_the_others() {
    // IRC 168(k)(7): by class and year (seen)
    let election = Election { class: Some(crate::rules::rows::RecoveryClass::Five), ..no_allowance(2025) };
    let tools = [tool(1, "3000.00", "2025-06-10").five(), tool(2, "4000.00", "2025-06-10")];
    let amounts = charges(&tools, &[election], 2025..=2025, |charge| charge.special_allowance);
    assert_eq!(amounts, [["0.00"], ["4000.00"]]);
}

#[test]
fn a_truck_sold_at_a_gain_gives_back_its_depreciation_as_ordinary_income() {
    // Pub. 544 ch. 3, section 1245 (seen)
    let truck = tool(1, "10000.00", "2023-06-01").five().gone("2025-05-20", "7000.00");
    let summary = summarise(&with_tools(2025, vec![truck], vec![no_allowance(2023)])).unwrap();
    assert_eq!(summary.depreciation.rows[0].yearly, usd("960.00"));
    let sale = &summary.business_sales[0];
    assert_eq!(sale.depreciation, Some(usd("6160.00")));
    assert_eq!(sale.basis, Some(usd("3840.00")));
    assert_eq!(sale.gain, Some(usd("3160.00")));
    assert_eq!(sale.ordinary, Some(usd("3160.00")));
    assert_eq!(sale.section_1231, Some(usd("0.00")));
    assert_eq!(summary.exact("1"), "0.00");
}

#[test]
fn gain_above_the_cost_is_section_1231_and_basis_left_is_a_loss() {
    // Pub. 544 ch. 3 (seen)
    let sold = |proceeds| {
        let facts = with_tools(
            2025,
            vec![tool(1, "5000.00", "2024-06-01").gone("2025-05-20", proceeds)],
            vec![no_allowance(2024)],
        );
        summarise(&facts).unwrap().business_sales.pop().unwrap()
    };
    // 714.50 in 2024, half of 1,224.50 in 2025: 1,326.75 taken, 3,673.25 left
    let dear = sold("5300.00");
    assert_eq!((dear.ordinary, dear.section_1231), (Some(usd("1326.75")), Some(usd("300.00"))));
    let cheap = sold("3000.00");
    assert_eq!((cheap.gain, cheap.loss), (Some(usd("0.00")), Some(usd("673.25"))));
}

#[test]
fn a_tool_taken_for_private_use_gives_neither_gain_nor_loss() {
    // from memory
    let mut taken = tool(1, "5000.00", "2024-06-01").gone("2025-05-20", "0.00");
    taken.disposal.as_mut().unwrap().kind = DisposalKind::PersonalUse;
    let summary = summarise(&with_tools(2025, vec![taken], vec![no_allowance(2024)])).unwrap();
    let left = &summary.business_sales[0];
    assert_eq!((left.gain, left.loss), (Some(usd("0.00")), Some(usd("0.00"))));
}

#[test]
fn the_de_minimis_election_takes_2500_and_leaves_a_cent_more() {
    // Reg. 1.263(a)-1(f): not exceeding, all or nothing (seen)
    let elected = || vec![de_minimis(2025), no_allowance(2025)];
    let row_of = |cost| row(&with_tools(2025, vec![tool(1, cost, "2025-06-10")], elected()));
    assert_eq!(row_of("2500.00").expensed, usd("2500.00"));
    let dearer = row_of("2500.01");
    assert_eq!((dearer.expensed, dearer.yearly), (usd("0.00"), usd("357.25")));
}

#[test]
fn a_tool_that_came_with_others_for_one_price_goes_by_that_price() {
    // Reg. 1.263(a)-1(f): an item as the invoice proves it (seen)
    let of_kit = |price: &str| {
        let planer = tool(1, "1500.00", "2025-06-10").but(|tool| tool.invoice_price = usd(price));
        summarise(&with_tools(2025, vec![planer], vec![de_minimis(2025), no_allowance(2025)])).unwrap()
    };
    assert_eq!(of_kit("2500.00").depreciation.rows[0].expensed, usd("1500.00"));
    let dearer = of_kit("2500.01");
    assert_eq!(dearer.depreciation.rows[0].expensed, usd("0.00"));
    assert!(dearer.asks(Topic::DeMinimis) && !of_kit("2500.00").asks(Topic::DeMinimis));
}

#[test]
fn an_applicable_financial_statement_doubles_the_limit_of_the_safe_harbor() {
    // Reg. 1.263(a)-1(f) and Notice 2015-82 (seen)
    let with = Election { kind: ElectionKind::DeMinimisWithStatement, ..de_minimis(2025) };
    for profile in Profile::all() {
        assert_eq!(profile.de_minimis_per_item.value, dec("2500"));
        assert_eq!(profile.de_minimis_with_statement.value, dec("5000"));
    }
    let expensed = |cost| row(&with_tools(2025, vec![tool(1, cost, "2025-06-10")], vec![with])).expensed;
    assert_eq!((expensed("5000.00"), expensed("5000.01")), (usd("5000.00"), usd("0.00")));
}

fn de_minimis(year: i32) -> Election {
    Election { tax_year: year, kind: ElectionKind::DeMinimis, class: None }
}

#[test]
fn without_the_election_a_small_tool_is_depreciated_and_the_preparer_is_asked() {
    // Reg. 1.263(a)-1(f): an election of each year (seen)
    let facts = with_tools(2025, vec![tool(1, "900.00", "2025-06-10")], vec![de_minimis(2024)]);
    let summary = summarise(&facts).unwrap();
    assert_eq!((summary.exact("13"), summary.exact("48")), ("900.00".to_owned(), "0.00".to_owned()));
    assert!(summary.asks(Topic::DeMinimis));
}

#[test]
fn a_thing_of_200_is_a_supply_without_any_election() {
    // Reg. 1.162-3 (from memory)
    let row_of = |cost| row(&with_tools(2025, vec![tool(1, cost, "2025-06-10")], vec![no_allowance(2025)]));
    assert_eq!(row_of("200.00").expensed, usd("200.00"));
    assert_eq!(row_of("200.01").expensed, usd("0.00"));
    let kept = tool(1, "150.00", "2025-06-10").but(|tool| tool.choice = TaxChoice::Capitalise);
    assert_eq!(row(&with_tools(2025, vec![kept], vec![])).expensed, usd("0.00"));
}

#[test]
fn a_sander_received_for_promotion_is_income_and_expense_and_a_gain_when_sold() {
    // derived: Reg. 1.263(a)-1(f) (seen), the form of the later sale from memory
    let sander = || tool(1, "300.00", "2025-07-01").but(|tool| tool.origin = ToolOrigin::ForPromotion);
    let mut facts = with_tools(2025, vec![sander()], vec![de_minimis(2025)]);
    facts.postings.push(super::posted(
        crate::rules::journal::Account::GoodsForPromotion,
        crate::rules::journal::TaxClass::GoodsForPromotion,
        "-300.00",
    ));
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.exact("1"), "300.00");
    assert_eq!(summary.exact("48"), "300.00");
    assert_eq!(summary.exact("31"), "0.00");
    assert_eq!(summary.depreciation.rows[0].left, usd("0.00"));
    assert!(summary.asks(Topic::GoodsNobodyPaidFor));
    let sold = with_tools(2026, vec![sander().gone("2026-05-12", "120.00")], vec![de_minimis(2025)]);
    let sale = summarise(&sold).unwrap().business_sales.pop().unwrap();
    assert_eq!((sale.gain, sale.ordinary), (Some(usd("120.00")), Some(usd("120.00"))));
}

#[test]
fn what_was_private_before_gets_neither_section_179_nor_the_allowance() {
    // Pub. 946 ch. 2 (seen); Reg. 1.168(k)-2(b)(3) (from memory)
    let saw = tool(1, "1000.00", "2025-06-10")
        .section_179("1000.00")
        .but(|tool| tool.origin = ToolOrigin::ConvertedFromPersonal);
    let facts = with_tools(2025, vec![saw], vec![de_minimis(2025)]);
    let summary = summarise(&facts).unwrap();
    assert_eq!(summary.exact("13"), "142.90");
    assert!(summary.asks(Topic::Section179));
}

#[test]
fn a_camera_used_half_the_time_for_the_business_takes_the_straight_line() {
    // Pub. 946 ch. 5, listed property (seen); the life of five years from memory
    let camera = |share: &str| {
        tool(1, "3000.00", "2025-06-10").five().but(|tool| {
            tool.property = PropertyType::Listed;
            tool.business_share = dec(share);
        })
    };
    let half = summarise(&with_tools(2025, vec![camera("50")], vec![])).unwrap();
    assert_eq!((half.depreciation.rows[0].basis, half.exact("13")), (usd("1500.00"), "150.00".to_owned()));
    assert!(half.asks(Topic::ListedProperty));
    let mostly = summarise(&with_tools(2025, vec![camera("60")], vec![])).unwrap();
    assert_eq!(mostly.exact("13"), "1800.00");
    let seven = camera("50").but(|tool| tool.class = crate::rules::rows::RecoveryClass::Seven);
    assert_eq!(yearly(&[seven], &[], 2025..=2026), [["62.50", "125.00"]]);
}

#[test]
fn the_straight_line_by_election_spreads_evenly_between_two_half_years() {
    // IRC 168(b)(5) (from memory)
    let straight = Election { tax_year: 2025, kind: ElectionKind::StraightLine, class: None };
    let amounts = yearly(&[tool(1, "7000.00", "2025-06-10")], &[straight, no_allowance(2025)], 2025..=2033);
    let mut expected = vec!["500.00"];
    expected.extend(["1000.00"; 6]);
    expected.extend(["500.00", "0.00"]);
    assert_eq!(amounts, [expected]);
}

#[test]
fn a_tool_older_than_the_books_goes_on_where_it_stood() {
    // Pub. 946 Appendix A, table A-1 (seen): 32 % was the second year, 19.2 % is the third
    let prior = PriorDepreciation {
        taken: usd("5200.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let old = |prior| tool(1, "10000.00", "2021-05-01").five().but(|tool| tool.prior = prior);
    let at = |year| row(&with_tools(year, vec![old(Some(prior))], vec![]));
    assert_eq!(
        (at(2023).prior, at(2023).yearly, at(2023).left),
        (usd("5200.00"), usd("1920.00"), usd("2880.00"))
    );
    assert_eq!((at(2026).prior, at(2026).yearly), (usd("9424.00"), usd("576.00")));
    let fits = summarise(&with_tools(2023, vec![old(Some(prior))], vec![])).unwrap();
    assert!(!fits.asks(Topic::PriorDepreciation));
    let short = PriorDepreciation { taken: usd("2000.00"), ..prior };
    assert!(
        summarise(&with_tools(2023, vec![old(Some(short))], vec![])).unwrap().asks(Topic::PriorDepreciation)
    );
    assert!(summarise(&with_tools(2023, vec![old(None)], vec![])).unwrap().asks(Topic::PriorDepreciation));
}

#[test]
fn a_tool_lent_or_given_costs_the_business_nothing() {
    // IRC 1012 (from memory)
    for origin in [ToolOrigin::Loan, ToolOrigin::PersonalGift] {
        let lent = tool(1, "900.00", "2025-06-10").but(|tool| tool.origin = origin);
        let row = row(&with_tools(2025, vec![lent], vec![de_minimis(2025)]));
        assert_eq!((row.basis, row.total), (usd("0.00"), usd("0.00")));
    }
}

#[test]
fn a_small_tool_has_nothing_left_after_the_year_it_was_written_off_in() {
    // Reg. 1.263(a)-1(f) (seen)
    let profile = Profile::find("us", 2025).unwrap();
    let elections = [de_minimis(2025)];
    let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
    let tools = [tool(1, "900.00", "2025-06-10")];
    let plans = plans(&tools, &ground).unwrap();
    for (year, prior, left) in [(2025, "0.00", "0.00"), (2026, "900.00", "0.00"), (2030, "900.00", "0.00")] {
        let end = plans[0].at(year).unwrap();
        assert_eq!((end.prior, end.left), (usd(prior), usd(left)), "{year}");
    }
}

#[test]
fn what_was_taken_before_the_books_beyond_the_table_is_not_left_to_take_again() {
    // Derived: 10,000 less 9,000 leaves 1,000, which table A-1 (19.2 % in the third year, seen) takes whole.
    let prior = PriorDepreciation {
        taken: usd("9000.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let old = tool(1, "10000.00", "2021-05-01").five().but(|tool| tool.prior = Some(prior));
    let row = row(&with_tools(2023, vec![old], vec![]));
    assert_eq!((row.prior, row.yearly, row.left), (usd("9000.00"), usd("1000.00"), usd("0.00")));
}

#[test]
fn the_special_allowance_is_cited_with_the_law_it_comes_from() {
    let old = tool(1, "1000.00", "2023-05-01");
    assert_eq!(
        row(&with_tools(2023, vec![old], vec![])).rule,
        "IRC 168(k)(6) before the 2025 act (seen); Pub. 946 Appendix A, table A-1 (seen)"
    );
}

#[test]
fn a_tool_from_before_the_books_goes_on_by_the_convention_it_began_under() {
    // Pub. 946 tables A-1 and A-5 (seen): seven years, third and fourth year, half-year and fourth quarter
    let from_before = |convention| {
        tool(1, "10000.00", "2021-11-02").but(|tool| {
            let (taken, first_year_write_off) = (usd("3112.00"), usd("0.00"));
            tool.prior = Some(PriorDepreciation { taken, convention, first_year_write_off });
        })
    };
    let goes_on = |convention| yearly(&[from_before(convention)], &[], 2023..=2024);
    assert_eq!(goes_on(Convention::HalfYear), [["1749.00", "1249.00"]]);
    assert_eq!(goes_on(Convention::MidQuarter), [["1968.00", "1406.00"]]);
}
