//! Whatever is chosen, a tool gives back no more than it cost.

use chrono::Datelike;
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::super::depreciation::{Ground, plans};
use super::super::facts::ToolFacts;
use super::super::profile::Profile;
use super::super::summarise;
use super::{books, posted, tool, usd, year};
use crate::rules::journal::{Account, ExpenseClass, Stream, TaxClass};
use crate::rules::money::Money;
use crate::rules::rows::{Election, ElectionKind, PropertyType, RecoveryClass, TaxChoice, ToolOrigin};

fn any_tool() -> impl Strategy<Value = ToolFacts> {
    let choices = prop::sample::select(TaxChoice::ALL);
    let origins = prop::sample::select(ToolOrigin::ALL);
    let classes = prop::sample::select(RecoveryClass::ALL);
    let properties = prop::sample::select(PropertyType::ALL);
    let days = (0_u64..1400, 0_u64..120, prop::option::of(0_u64..4000));
    (1_i64..2_000_000, 0_i64..2_000_000, 0_i64..=100, days, choices, origins, classes, properties).prop_map(
        |(cost, elected, share, (acquired, waited, kept), choice, origin, class, property)| {
            let mut made = tool(7, "1.00", "2023-01-01").but(|tool| {
                tool.cost = Money::exact(Decimal::new(cost, 2), tool.cost.currency()).unwrap();
                (tool.basis_for_gain, tool.invoice_price) = (tool.cost, tool.cost);
                tool.section_179 = Money::exact(Decimal::new(elected, 2), tool.cost.currency()).unwrap();
                tool.business_share = Decimal::from(share);
                tool.acquired_on = tool.acquired_on + chrono::Days::new(acquired);
                tool.in_service_on = tool.acquired_on + chrono::Days::new(waited);
                (tool.choice, tool.origin, tool.class, tool.property) = (choice, origin, class, property);
                if origin == ToolOrigin::ConvertedFromPersonal {
                    tool.basis_for_gain = tool.cost.plus(tool.section_179).unwrap();
                }
            });
            if let Some(kept) = kept {
                let gone = made.tool.in_service_on + chrono::Days::new(kept);
                made = made.gone(&gone.to_string(), "50.00");
            }
            made
        },
    )
}

/// A tool whose share of business use changes by year.
fn any_use() -> impl Strategy<Value = ToolFacts> {
    let shares = prop::collection::btree_map(2023_i32..2040, 0_u8..=100, 0..5);
    (any_tool(), shares).prop_map(|(made, shares)| {
        let stated = shares.into_iter().filter(|(year, _)| *year >= made.tool.in_service_on.year());
        stated.fold(made.clone(), |made, (year, share)| made.used(year, &share.to_string()))
    })
}

fn any_elections() -> impl Strategy<Value = Vec<Election>> {
    let kinds = prop::sample::select(ElectionKind::ALL);
    let classes = prop::option::of(prop::sample::select(RecoveryClass::ALL));
    let one = (2023_i32..2028, kinds, classes);
    prop::collection::vec(one.prop_map(|(tax_year, kind, class)| Election { tax_year, kind, class }), 0..6)
}

proptest! {
    #[test]
    fn a_whole_life_of_write_offs_is_never_more_than_the_basis(
        tools in prop::collection::vec(any_tool(), 1..5),
        elections in any_elections(),
    ) {
        let profile = Profile::find("us", 2025).unwrap();
        let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
        for plan in plans(&tools, &ground).unwrap() {
            let mut taken = usd("0.00");
            for year in 2023..2045 {
                let (prior, charge) = plan.through(year).unwrap();
                prop_assert_eq!(prior, taken, "what was taken before {}", year);
                let total = charge.total().unwrap();
                prop_assert!(!total.is_negative());
                taken = taken.plus(total).unwrap();
            }
            prop_assert!(taken.amount() <= plan.opened.basis.amount());
            let kept = plan.opened.disposal.is_none();
            if kept {
                prop_assert_eq!(taken, plan.opened.basis, "a tool kept for good is written off in full");
            }
        }
    }

    #[test]
    fn whatever_its_use_by_year_a_tool_takes_no_more_than_its_cost_and_gives_back_no_more_than_it_took(
        tools in prop::collection::vec(any_use(), 1..5),
        elections in any_elections(),
    ) {
        let profile = Profile::find("us", 2025).unwrap();
        let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
        for plan in plans(&tools, &ground).unwrap() {
            let (mut taken, mut returns) = (usd("0.00"), 0);
            for year in 2023..2045 {
                let end = plan.at(year).unwrap();
                prop_assert_eq!(end.prior, taken, "what was taken before {}", year);
                prop_assert!(!end.charge.total().unwrap().is_negative() && !end.charge.recaptured.is_negative());
                prop_assert!(!end.left.is_negative(), "{:?}", end);
                returns += u32::from(end.charge.recaptured.is_positive());
                taken = taken.plus(end.charge.net().unwrap()).unwrap();
                prop_assert!(!taken.is_negative() && taken.amount() <= plan.opened.tool.cost.amount());
            }
            prop_assert!(returns <= 1, "use falls to half or less once");
        }
    }

    #[test]
    fn what_a_sale_gives_is_its_proceeds_less_cost_and_plus_depreciation_by_every_method_and_in_every_month(
        made in any_use(), elections in any_elections(), gone in 0_u64..1200, price in 0_i64..3_000_000,
    ) {
        let date = made.tool.in_service_on + chrono::Days::new(gone % 1000);
        let made = made.gone(&date.to_string(), &Decimal::new(price, 2).to_string());
        prop_assume!((2023..=2026).contains(&date.year()));
        let mut facts = year(date.year());
        (facts.tools, facts.elections) = (vec![made], elections);
        let summary = summarise(&facts).unwrap();
        let Some(sale) = summary.business_sales.first() else {
            prop_assert!(summary.depreciation.rows.iter().all(|row| row.basis.is_zero()));
            return Ok(());
        };
        let row = &summary.depreciation.rows[0];
        let taken = row.prior.plus(row.total).unwrap().minus(row.recaptured).unwrap();
        let (cost, basis) = (sale.cost.unwrap(), sale.basis.unwrap());
        prop_assert_eq!(sale.depreciation.unwrap(), taken);
        prop_assert_eq!(basis, cost.minus(taken).unwrap());
        prop_assert!(!basis.is_negative());
        let (gain, loss) = (sale.gain.unwrap(), sale.loss.unwrap());
        let above = sale.proceeds.minus(basis).unwrap();
        let below = sale.basis_for_loss.unwrap_or(basis).minus(sale.proceeds).unwrap();
        prop_assert_eq!(gain, if above.is_positive() { above } else { usd("0.00") });
        prop_assert_eq!(loss, if below.is_positive() { below } else { usd("0.00") });
        let (ordinary, over) = (sale.ordinary.unwrap(), sale.section_1231.unwrap());
        prop_assert_eq!(ordinary.plus(over).unwrap(), gain);
        let at_once = row.expensed.is_positive() || row.method.starts_with("written off at once");
        prop_assert!(at_once || ordinary.amount() <= taken.amount());
    }

    #[test]
    fn what_section_179_carries_over_is_never_lost_and_never_doubled(
        years in prop::collection::vec((0_i64..400_000, 0_i64..500_000), 4),
        before in 0_i64..300_000,
    ) {
        let cents = |cents: i64| Money::exact(Decimal::new(cents, 2), books().base).unwrap();
        let (mut waiting, mut asked, mut allowed) = (cents(before), cents(before), usd("0.00"));
        let mut tools = Vec::new();
        for (year_of, (elected, income)) in (2023_i32..=2026).zip(years) {
            if elected > 0 {
                let elected = cents(elected).to_string();
                let number = u128::from(year_of.unsigned_abs());
                tools.push(tool(number, &elected, &format!("{year_of}-02-03")).section_179(&elected));
            }
            let mut facts = year(year_of);
            (facts.tools, facts.section_179_brought_forward) = (tools.clone(), waiting);
            let stream = Stream::Sponsorship;
            let income = cents(-income).to_string();
            facts.postings.push(posted(Account::Income(stream), stream.tax_class(), &income));
            let reckoned = summarise(&facts).unwrap().section_179;
            prop_assert_eq!(reckoned.brought_forward, waiting);
            waiting = reckoned.carried_over;
            asked = asked.plus(reckoned.elected).unwrap();
            allowed = allowed.plus(reckoned.allowed).unwrap();
            prop_assert!(!waiting.is_negative() && !reckoned.allowed.is_negative());
            prop_assert_eq!(allowed.plus(waiting).unwrap(), asked);
        }
    }

    #[test]
    fn a_share_stated_again_each_year_changes_nothing(made in any_tool(), elections in any_elections()) {
        let profile = Profile::find("us", 2025).unwrap();
        let ground = Ground { profile, elections: &elections, first_year: 2023, base: books().base };
        let share = made.tool.business_share.to_string();
        let first = made.tool.in_service_on.year();
        let tools = [made.clone(), (first..2045).fold(made, |made, year| made.used(year, &share))];
        for year in 2023..2045 {
            let at: Vec<_> = plans(&tools[..1], &ground).unwrap().iter().map(|plan| plan.at(year).unwrap()).collect();
            let again: Vec<_> =
                plans(&tools[1..], &ground).unwrap().iter().map(|plan| plan.at(year).unwrap()).collect();
            prop_assert_eq!(at, again);
        }
    }

    #[test]
    fn the_parts_of_a_summary_add_up(
        tools in prop::collection::vec(any_use(), 0..4),
        elections in any_elections(),
        amounts in prop::collection::vec((0_usize..24, 0_usize..8, 1_i64..500_000), 0..12),
    ) {
        let mut facts = year(2025);
        facts.tools = tools;
        facts.elections = elections;
        for (class, stream, cents) in amounts {
            let expense = ExpenseClass::ALL[class % ExpenseClass::ALL.len()];
            if !matches!(expense, ExpenseClass::Depreciation | ExpenseClass::SmallTools) {
                let amount = Decimal::new(cents, 2).to_string();
                facts.postings.push(posted(Account::Expense(expense), expense.tax_class(), &amount));
            }
            let stream = Stream::ALL[stream % Stream::ALL.len()];
            let amount = Decimal::new(-cents * 2, 2).to_string();
            facts.postings.push(posted(Account::Income(stream), stream.tax_class(), &amount));
        }
        let summary = summarise(&facts).unwrap();
        for which in [|line: &super::super::form::TaxLine| line.exact, |line: &super::super::form::TaxLine| line.whole] {
            let of = |number: &str| {
                summary.lines.iter().find(|line| line.line == number).and_then(which).unwrap()
            };
            let expenses: Decimal = ["8", "9", "10", "11", "12", "13", "14", "15", "16a", "16b", "17", "18", "19",
                "20a", "20b", "21", "22", "23", "24a", "24b", "25", "26", "27a", "27b"].into_iter().map(of).sum();
            let items: Decimal = summary.lines.iter().filter(|line| line.line == "item").filter_map(which).sum();
            prop_assert_eq!(of("3"), of("1") - of("2"));
            prop_assert_eq!(of("7"), of("3") - of("4") + of("6"));
            prop_assert_eq!(of("28"), expenses);
            prop_assert_eq!(of("29"), of("7") - of("28"));
            prop_assert_eq!(of("31"), of("29") - of("30"));
            prop_assert_eq!(of("48"), items);
            prop_assert_eq!(of("27b"), of("48"));
        }
        for line in &summary.lines {
            if let (Some(exact), Some(whole), None) = (line.exact, line.whole, &line.worked_out) {
                prop_assert!((exact - whole).abs() <= Decimal::new(51, 2));
            }
        }
        let rows = summary.depreciation.rows.iter();
        let by_tool = Money::sum(books().base, rows.map(|row| row.yearly.plus(row.special_allowance).unwrap())).unwrap();
        let line_13 = by_tool.plus(summary.section_179.allowed).unwrap();
        let thirteen = summary.lines.iter().find(|line| line.line == "13").unwrap();
        prop_assert_eq!(thirteen.exact, Some(line_13.amount()));
        let profit = Money::sum(books().base, facts.postings.iter().map(|sum| sum.amount)).unwrap().negated();
        let meals = facts.of_classes(&[TaxClass::Meals]).unwrap();
        let lost = summary.not_deducted.iter().map(|row| row.amount);
        let lost = Money::sum(books().base, lost).unwrap();
        prop_assert!(meals.is_zero() || lost.is_positive());
        let small = summary.depreciation.small_tools_by_election.plus(summary.depreciation.small_tools_as_supplies);
        let back = summary.depreciation.recaptured;
        let expected = profit.plus(lost).unwrap().plus(back).unwrap();
        let expected = expected.minus(line_13).unwrap().minus(small.unwrap()).unwrap();
        let net = summary.lines.iter().find(|line| line.line == "31").unwrap();
        prop_assert_eq!(net.exact, Some(expected.amount()));
    }
}
