//! A share of business use that changes by year, and what comes back where it falls to half or less.

use super::super::depreciation::{AtYearEnd, Ground, plans};
use super::super::facts::{PostingSum, ToolFacts};
use super::super::questions::Topic;
use super::super::{Profile, YearFacts, YearSummary, summarise, year_end};
use super::{books, no_allowance, tool, usd, year};
use crate::rules::journal::{Account, EntryKind, ExpenseClass, Stream, TaxClass};
use crate::rules::rows::{
    Convention, DisposalKind, PriorDepreciation, PropertyType, RecoveryClass, ToolDisposal,
};

fn facts_of(year_of: i32, one: &ToolFacts) -> YearFacts {
    let bought = chrono::Datelike::year(&one.tool.in_service_on);
    YearFacts { tools: vec![one.clone()], elections: vec![no_allowance(bought)], ..year(year_of) }
}

fn summary(year_of: i32, one: &ToolFacts) -> YearSummary {
    summarise(&facts_of(year_of, one)).unwrap()
}

/// The tool at the ends of years, of a class out of the special allowance.
fn ends(one: &ToolFacts, years: std::ops::RangeInclusive<i32>) -> Vec<AtYearEnd> {
    let profile = Profile::find("us", 2025).unwrap();
    let elections = [no_allowance(chrono::Datelike::year(&one.tool.in_service_on))];
    let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
    let tools = [one.clone()];
    let plans = plans(&tools, &ground).unwrap();
    years.map(|year| plans[0].at(year).unwrap()).collect()
}

fn yearly(one: &ToolFacts, years: std::ops::RangeInclusive<i32>) -> Vec<String> {
    ends(one, years).iter().map(|end| end.charge.yearly.to_string()).collect()
}

fn three(cost: &str, on: &str) -> ToolFacts {
    tool(1, cost, on).but(|tool| tool.class = RecoveryClass::Three)
}

#[test]
fn each_year_takes_its_own_share_of_what_the_table_gives_for_the_whole_cost() {
    // Pub. 946 ch. 4 and 5, partial business use (from memory); table A-1 (seen)
    let shelves = tool(1, "10000.00", "2023-08-11").used(2024, "60").used(2025, "80");
    assert_eq!(
        yearly(&shelves, 2023..=2031),
        ["1429.00", "1469.40", "1399.20", "999.20", "714.40", "713.60", "714.40", "356.80", "0.00"]
    );
    let row = summary(2024, &shelves).depreciation.rows.remove(0);
    assert_eq!((row.business_share.to_string(), row.basis), ("60".to_owned(), usd("6000.00")));
    // Were the use to stay 60 %: 61.22 % of the cost is left for later years.
    assert_eq!((row.prior, row.total, row.left), (usd("1429.00"), usd("1469.40"), usd("3673.20")));
    // At half or less it takes less and nothing comes back, for nothing was taken by section 179.
    let idle = tool(1, "10000.00", "2023-08-11").used(2024, "30");
    let end = ends(&idle, 2024..=2024).remove(0);
    assert_eq!((end.charge.yearly, end.charge.recaptured), (usd("734.70"), usd("0.00")));
}

#[test]
fn section_179_comes_back_beyond_the_table_when_use_falls_to_forty_percent_in_the_third_year() {
    // Pub. 946 ch. 2, when to recapture the deduction: 5,000 of 10,000, 814.80 comes back (seen)
    let planer = three("10000.00", "2023-05-01").section_179("5000.00").used(2025, "40");
    assert_eq!(yearly(&planer, 2023..=2025), ["1666.50", "2222.50", "296.20"]);
    let year = summary(2025, &planer);
    let row = &year.depreciation.rows[0];
    assert_eq!((row.recaptured, row.total), (usd("814.80"), usd("296.20")));
    assert_eq!(
        (year.exact("6"), year.exact("13"), year.exact("31")),
        ("814.80".into(), "296.20".into(), "518.60".into())
    );
    let line = year.lines.iter().find(|line| line.line == "6").unwrap();
    assert_eq!(line.drill_down.as_deref(), Some("/v1/tax-years/2025/summary#depreciation"));
    assert!(row.rule.contains("IRC 179(d)(10)") && row.method.contains("table A-1"), "{row:?}");
    let asked = year.questions.iter().find(|one| one.topic == Topic::Recapture).unwrap();
    assert!(asked.question.contains("814.80 comes back") && asked.question.contains("Form 4797 Part IV"));
    // Once: the year after takes the table's 7.41 % of the whole 10,000 by its use, and basis has grown.
    let later = summary(2026, &planer);
    assert_eq!((later.exact("6"), later.exact("13")), ("0.00".to_owned(), "296.40".to_owned()));
    assert!(!later.asks(Topic::Recapture));
    assert_eq!(later.depreciation.rows[0].prior, usd("8370.40"));
    assert_eq!(later.depreciation.rows[0].left, usd("0.00"));
    // Used for the business alone again, only the private part of the third year is lost.
    let back = ends(&planer.used(2026, "100"), 2026..=2026).remove(0);
    assert_eq!(back.prior.plus(back.charge.yearly).unwrap(), usd("9111.40"));
}

#[test]
fn more_than_half_gives_nothing_back_and_neither_does_a_fall_after_the_recovery_period() {
    // Pub. 946 ch. 2 (seen): 50 % or less, in a year of the recovery period
    let planer = || three("10000.00", "2023-05-01").section_179("5000.00");
    for (year, share, comes_back) in
        [(2025, "50.01", false), (2025, "50", true), (2026, "0", true), (2027, "0", false)]
    {
        let ends = ends(&planer().used(year, share), 2024..=2028);
        let back = ends.iter().any(|end| end.charge.recaptured.is_positive());
        assert_eq!(back, comes_back, "{share} % in {year}");
    }
}

#[test]
fn the_first_years_share_decides_what_section_179_and_the_allowance_can_take() {
    // Pub. 946 ch. 2, partial business use: 80 % of 11,000 is 8,800, and half is too little (seen)
    let truck = |share| {
        let facts = tool(1, "11000.00", "2025-05-01").section_179("11000.00").used(2025, share);
        summarise(&facts_of(2025, &facts)).unwrap().section_179.elected
    };
    assert_eq!((truck("80"), truck("50")), (usd("8800.00"), usd("0.00")));
    let saw = tool(1, "1000.00", "2025-06-10").used(2025, "60").used(2026, "90");
    let facts = YearFacts { tools: vec![saw], ..year(2025) };
    let row = summarise(&facts).unwrap().depreciation.rows.remove(0);
    assert_eq!((row.special_allowance, row.left), (usd("600.00"), usd("0.00")));
}

fn van() -> ToolFacts {
    tool(1, "18000.00", "2022-06-01")
        .five()
        .section_179("10000.00")
        .but(|tool| tool.property = PropertyType::Listed)
}

#[test]
fn listed_property_gives_back_what_it_took_beyond_the_slower_way_and_keeps_to_that() {
    // Pub. 946 ch. 5, recapture of excess depreciation: 18,000, section 179 of 10,000, used alone for the business for
    // four years and half in the fifth (the example from memory, with cents; its percentages seen)
    let truck = van().used(2026, "50");
    assert_eq!(yearly(&truck, 2022..=2025), ["1600.00", "2560.00", "1536.00", "921.60"]);
    let year = summary(2026, &truck);
    let row = &year.depreciation.rows[0];
    // 16,617.60 taken; 10 % and three times 20 % of 18,000 is 12,600.
    assert_eq!((row.prior, row.recaptured, row.yearly), (usd("16617.60"), usd("4017.60"), usd("1800.00")));
    assert_eq!((year.exact("6"), year.exact("13")), ("4017.60".to_owned(), "1800.00".to_owned()));
    assert!(row.method.contains("straight line over 5 years"), "{}", row.method);
    assert!(row.rule.contains("IRC 280F(b)(2)"), "{}", row.rule);
    // A tenth of the cost is left, half of it the business's.
    assert_eq!(row.left, usd("900.00"));
    // More use again does not bring the faster way back (from memory).
    assert_eq!(yearly(&truck.used(2027, "100"), 2027..=2028), ["1800.00", "0.00"]);
    // By the seventh year both ways have taken all of it.
    let late = ends(&van().used(2028, "50"), 2028..=2028).remove(0);
    assert_eq!((late.prior, late.charge.recaptured), (usd("18000.00"), usd("0.00")));
}

#[test]
fn a_camera_from_before_the_books_gives_back_what_the_old_returns_took_too_fast() {
    // Pub. 946 ch. 5 (seen): 52 % by table A-1 in two years, 30 % by the slower way
    let prior = PriorDepreciation {
        taken: usd("5200.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let camera = || {
        tool(1, "10000.00", "2021-05-01").five().but(|tool| {
            tool.property = PropertyType::Listed;
            tool.prior = Some(prior);
        })
    };
    let row = summary(2023, &camera().used(2023, "40")).depreciation.rows.remove(0);
    assert_eq!((row.prior, row.recaptured, row.yearly), (usd("5200.00"), usd("2200.00"), usd("800.00")));
    // What the old returns took is what the faster way gave, for its use fell only now.
    assert!(!summary(2023, &camera().used(2023, "40")).asks(Topic::PriorDepreciation));
    // Fallen before the books began, it came back on an old return.
    let older = summary(2023, &camera().used(2022, "40"));
    assert_eq!(older.depreciation.recaptured, usd("0.00"));
    assert_eq!(older.depreciation.rows[0].yearly, usd("800.00"));
    // What an ordinary tool wrote off at once may hold section 179, which the books can not tell apart.
    let saw = tool(1, "10000.00", "2021-05-01").five().used(2023, "40").but(|tool| {
        tool.prior = Some(PriorDepreciation { first_year_write_off: usd("2000.00"), ..prior });
    });
    let asked = summary(2023, &saw);
    assert!(asked.asks(Topic::Recapture) && asked.depreciation.recaptured.is_zero());
}

#[test]
fn the_line_of_other_income_has_both_what_came_back_and_what_came_in() {
    let planer = three("10000.00", "2023-05-01").section_179("5000.00").used(2025, "40");
    let mut facts = facts_of(2025, &planer);
    facts.postings.push(super::posted(Account::Income(Stream::Other), TaxClass::OtherIncome, "-200.00"));
    let year = summarise(&facts).unwrap();
    let line = year.lines.iter().find(|line| line.line == "6").unwrap();
    assert_eq!(line.exact.unwrap().to_string(), "1014.80");
    assert_eq!(line.also_from.as_deref(), Some("/v1/postings?tax_year=2025&class=other_income"));
    // No money came in for it: the bridge to the bank leaves it out.
    assert_eq!(year.reconciliation.gross, usd("200.00"));
}

#[test]
fn what_closing_posts_is_compared_with_what_comes_back() {
    let planer = three("10000.00", "2023-05-01").section_179("5000.00").used(2025, "40");
    let mut facts = facts_of(2025, &planer);
    let year = summarise(&facts).unwrap();
    let charges = year_end::charges(&facts, &year, &[]).unwrap();
    assert_eq!((charges[0].depreciation, charges[0].recaptured), (usd("296.20"), usd("814.80")));
    let at_the_end = |account, class, amount: &str| PostingSum {
        account,
        class: Some(class),
        kind: EntryKind::Depreciation,
        amount: usd(amount),
    };
    let (other, depreciation) =
        (Account::Income(Stream::Other), Account::Expense(ExpenseClass::Depreciation));
    facts.postings.push(at_the_end(depreciation, TaxClass::Depreciation, "296.20"));
    assert!(summarise(&facts).unwrap().asks(Topic::PostedDepreciation), "none of it was posted");
    facts.postings.push(at_the_end(other, TaxClass::OtherIncome, "-814.80"));
    let closed = summarise(&facts).unwrap();
    assert!(!closed.asks(Topic::PostedDepreciation));
    assert_eq!(closed.exact("6"), "814.80");
}

#[test]
fn a_tool_taken_for_private_use_asks_for_its_share_and_gives_back_once_it_is_stated() {
    // Pub. 946 ch. 2 (seen): use falls to half or less in the year it goes to private use
    let taken = |mut one: ToolFacts| {
        one.disposal = one.disposal.map(|gone| ToolDisposal { kind: DisposalKind::PersonalUse, ..gone });
        one
    };
    let planer = || taken(three("10000.00", "2023-05-01").section_179("5000.00").gone("2025-04-01", "0.00"));
    let asked = summary(2025, &planer());
    assert!(asked.asks(Topic::Recapture) && asked.depreciation.recaptured.is_zero());
    // Half the table's year until it went, by 25 %: 92.56 beside 3,889.00 of the years before.
    let stated = summary(2025, &planer().used(2025, "25"));
    assert_eq!(stated.depreciation.recaptured, usd("1018.44"));
    assert_eq!(stated.questions.iter().filter(|one| one.topic == Topic::Recapture).count(), 1);
    let plain = taken(three("10000.00", "2023-05-01").gone("2025-04-01", "0.00"));
    assert!(!summary(2025, &plain).asks(Topic::Recapture));
}

#[test]
fn in_the_year_of_a_sale_section_1245_takes_the_place_of_the_recapture() {
    // Pub. 946 ch. 2, when to recapture the deduction; section 1245 instead where it is sold (from memory)
    let planer = three("10000.00", "2023-05-01").section_179("5000.00").used(2025, "40");
    let year = summary(2025, &planer.gone("2025-04-01", "4000.00"));
    assert_eq!((year.exact("6"), year.asks(Topic::Recapture)), ("0.00".to_owned(), false));
    // 8,889.00 before, and 40 % of half of 740.50
    let sale = &year.business_sales[0];
    assert_eq!((sale.depreciation, sale.basis), (Some(usd("9037.10")), Some(usd("0.00"))));
    assert_eq!(sale.ordinary, sale.gain);
}

#[test]
fn a_truck_sold_after_its_share_changed_is_weighed_by_the_average_of_its_years() {
    // Pub. 544 ch. 1, property used partly for business (from memory); section 1245 (seen); the average is ours
    let truck = |cost: &str, proceeds: &str| {
        tool(1, cost, "2023-06-01").five().used(2024, "60").gone("2025-05-20", proceeds)
    };
    let year = summary(2025, &truck("10000.00", "7000.00"));
    let sale = &year.business_sales[0];
    // 2,000, then 60 % of 3,200 and of half of 1,920
    assert_eq!(sale.depreciation, Some(usd("4496.00")));
    assert_eq!((sale.cost, sale.basis), (Some(usd("7333.33")), Some(usd("2837.33"))));
    assert_eq!((sale.proceeds, sale.gain), (usd("5133.33"), Some(usd("2296.00"))));
    assert_eq!(sale.ordinary, Some(usd("2296.00")));
    assert_eq!(year.depreciation.rows[0].left, usd("2837.33"));
    assert!(year.asks(Topic::BusinessSales));
    // Written off in full in its first year: no less than that was the business's.
    let at_once = truck("10000.00", "7000.00").section_179("10000.00");
    let sale = summary(2025, &at_once).business_sales.remove(0);
    assert_eq!(
        (sale.cost, sale.basis, sale.ordinary),
        (Some(usd("10000.00")), Some(usd("0.00")), Some(usd("7000.00")))
    );
}

#[test]
fn an_old_tool_whose_share_changed_before_the_books_has_left_what_the_years_to_come_give() {
    // Pub. 946 Appendix A, table A-1 (seen): 20 % and 32 % were before the books, 48 % are left of 10,000, and 19.2 %
    // of them are this year's; 60 % of each are the business's.
    let prior = PriorDepreciation {
        taken: usd("3920.00"),
        convention: Convention::HalfYear,
        first_year_write_off: usd("0.00"),
    };
    let saw = tool(1, "10000.00", "2021-05-01").five().used(2022, "60").but(|tool| tool.prior = Some(prior));
    let row = summary(2023, &saw).depreciation.rows.remove(0);
    assert_eq!((row.prior, row.yearly, row.left), (usd("3920.00"), usd("1152.00"), usd("1728.00")));
}

#[test]
fn what_was_written_off_at_once_before_the_books_counts_as_taken() {
    // Pub. 946 Appendix A, table A-1 (seen): 2,000 at once and 52 % of the other 8,000 in two years
    let taken = |taken| {
        let prior = PriorDepreciation {
            taken: usd(taken),
            convention: Convention::HalfYear,
            first_year_write_off: usd("2000.00"),
        };
        summary(2023, &tool(1, "10000.00", "2021-05-01").five().but(|tool| tool.prior = Some(prior)))
    };
    assert!(!taken("6160.00").asks(Topic::PriorDepreciation));
    assert!(taken("4160.00").asks(Topic::PriorDepreciation));
}

// Pub. 946 ch. 4, table A-1 (seen), ch. 5 on partial business use (from memory): what an old return wrote off at once is
// off the basis of every later year, whatever its share.
#[test]
fn a_tool_of_the_opening_position_used_less_goes_on_from_what_was_written_off_at_once() {
    let prior = PriorDepreciation {
        first_year_write_off: usd("6000.00"),
        taken: usd("6571.60"),
        convention: Convention::HalfYear,
    };
    let planer = tool(1, "10000.00", "2022-05-01").used(2024, "60").but(|tool| tool.prior = Some(prior));
    assert_eq!(yearly(&planer, 2023..=2025), ["979.60", "419.76", "299.76"]);
}

// Derived: what is not in service has taken nothing, whatever is to be written off at once in its first year.
#[test]
fn before_its_first_year_all_of_a_tool_is_left() {
    let planer = three("10000.00", "2023-05-01").section_179("5000.00");
    let end = ends(&planer, 2022..=2022).remove(0);
    assert_eq!(
        (end.prior, end.charge.total().unwrap(), end.left),
        (usd("0.00"), usd("0.00"), usd("10000.00"))
    );
}

// Pub. 946 ch. 5, business-use requirement (seen): the use of the year counts, not what was meant when it was bought.
#[test]
fn a_camera_meant_for_private_use_and_used_for_the_business_in_its_first_year_goes_by_the_table() {
    let camera = van().used(2022, "60").but(|tool| tool.business_share = super::dec("40"));
    let row = summary(2023, &camera).depreciation.rows.remove(0);
    assert!(row.method.ends_with("table A-1, 5 years, half-year convention"), "{}", row.method);
}

// IRC 179(d)(10), Pub. 946 ch. 2 (seen): an amount elected and never deducted does not come back.
#[test]
fn what_waits_of_section_179_is_spoken_of_where_section_179_comes_back_and_only_there() {
    let asked = |one: ToolFacts, year_of, waiting| {
        let section_179_brought_forward = usd(waiting);
        let facts = YearFacts { section_179_brought_forward, ..facts_of(year_of, &one) };
        let questions = summarise(&facts).unwrap().questions;
        let asked = questions.into_iter().filter(|one| one.topic == Topic::Recapture).map(|one| one.question);
        asked.map(|one| one.contains("was not all allowed")).collect::<Vec<_>>()
    };
    let planer = || three("10000.00", "2023-05-01").section_179("5000.00").used(2025, "40");
    let camera = || van().section_179("0.00").used(2025, "40");
    assert_eq!(asked(planer(), 2025, "700.00"), [true]);
    assert_eq!(asked(planer(), 2025, "0.00"), [false]);
    assert_eq!(asked(camera(), 2025, "700.00"), [false]);
}
