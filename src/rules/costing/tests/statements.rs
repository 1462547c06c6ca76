use proptest::prelude::*;
use rust_decimal::Decimal;
use serde_json::json;

use super::*;

fn finished_episode() -> Desk {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "200.00");
    desk.costs(0, Category::Materials, "50.73");
    desk.costs(0, Category::Tools, "45.67");
    desk.costs(0, Category::Furniture, "105.00");
    let recovered = [(Label::PersonalPieceSold, "180.00"), (Label::SetPieceSold, "90.00")];
    for (label, amount) in recovered {
        desk.attributes(Some(0), Side::Recovery, label, 5, usd(amount), usd(amount));
    }
    desk.earns(0, Side::Income, Stream::Sponsorship, "1200.00");
    desk.earns(0, Side::InKind, Stream::Sponsorship, "89.00");
    desk.earns(0, Side::Income, Stream::Advertising, "650.96");
    desk.earns(0, Side::Fee, Stream::Sponsorship, "180.00");
    desk.earns(0, Side::Fee, Stream::Advertising, "36.80");
    desk.works(Some(0), 3, "12.25");
    desk.works(Some(0), 4, "19.25");
    desk.part(Some(0)).budget.push(BudgetedAmount { category: Category::Materials, amount: usd("300.00") });
    desk
}

// Common practice, no source; totals derived by adding up: 401.40 - 270.00 = 131.40,
// 1,939.96 - 216.80 - 131.40 = 1,591.76, by 31.5 hours 50.53.
#[test]
fn the_statement_of_a_finished_episode_says_what_it_cost_and_earned() {
    let id = episode(1);
    let link = |category: &str| format!("/v1/attributions?episode={id}&category={category}");
    let expected = json!({
        "episode": id, "currency": "USD", "from": null, "to": null,
        "costs": [
            { "category": "materials", "amount": "250.73", "attributions": link("materials") },
            { "category": "furniture", "amount": "105.00", "attributions": link("furniture") },
            { "category": "tools", "amount": "45.67", "attributions": link("tools") },
        ],
        "cost_total": "401.40",
        "recoveries": [
            { "kind": "personal_piece_sold", "amount": "180.00" },
            { "kind": "set_piece_sold", "amount": "90.00" },
        ],
        "recovered_total": "270.00", "net_cost": "131.40",
        "income": [
            { "stream": "sponsorship", "gross": "1200.00", "in_kind": false },
            { "stream": "advertising", "gross": "650.96", "in_kind": false },
            { "stream": "sponsorship", "gross": "89.00", "in_kind": true },
        ],
        "income_total": "1939.96", "income_fees": "216.80", "result": "1591.76",
        "own_hours": "31.50", "pay_per_hour": "50.53",
        "budget": [{ "category": "materials", "budget": "300.00", "actual": "250.73", "variance": "-49.27" }],
        "reconciles": true,
    });
    let statement = finished_episode().statement(0);
    assert_eq!(serde_json::to_value(&statement).unwrap(), expected);

    // The order of the keys is part of the answer: the same books give the same bytes.
    let text = serde_json::to_string(&statement).unwrap();
    let keys = [
        "episode",
        "currency",
        "from",
        "to",
        "costs",
        "cost_total",
        "recoveries",
        "recovered_total",
        "net_cost",
        "income",
        "income_total",
        "income_fees",
        "result",
        "own_hours",
        "pay_per_hour",
        "budget",
        "reconciles",
    ];
    let places: Vec<_> = keys.iter().map(|key| text.find(&format!("\"{key}\":")).unwrap()).collect();
    assert!(places.is_sorted(), "{text}");
}

#[test]
fn an_episode_of_which_nothing_is_recorded_has_an_empty_statement_that_reconciles() {
    let figures = Desk::with_two_episodes().statement(1).figures;
    assert!(figures.costs.is_empty() && figures.income.is_empty() && figures.budget.is_empty());
    assert_eq!((figures.result, figures.pay_per_hour), (usd("0.00"), None));
    assert_eq!(figures.own_hours.to_string(), "0.00");
    assert!(figures.reconciles);
}

#[test]
fn pay_per_hour_may_be_below_zero_and_is_null_without_hours() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "100.00");
    assert_eq!(desk.statement(0).figures.pay_per_hour, None);
    desk.works(Some(0), 3, "3");
    assert_eq!(desk.statement(0).figures.pay_per_hour, Some(usd("-33.33")));
}

// A gift of 89.00 used up in the episode neither helps nor hurts its result.
#[test]
fn goods_for_promotion_are_income_apart_and_a_cost_where_they_are_used() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "89.00");
    desk.earns(0, Side::InKind, Stream::Sponsorship, "89.00");
    let figures = desk.statement(0).figures;
    assert_eq!(figures.result, usd("0.00"));
    assert!(figures.income[0].in_kind);
}

#[test]
fn a_cost_moved_to_another_episode_leaves_no_line_behind() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Trips, "14.50");
    let mut moved = desk.episodes[0].facts.attributions[0];
    desk.episodes[1].facts.attributions.push(moved);
    moved.amount = moved.amount.negated();
    desk.episodes[0].facts.attributions.push(moved);
    assert!(desk.statement(0).figures.costs.is_empty());
    assert_eq!(desk.statement(1).figures.cost_total, usd("14.50"));
}

#[test]
fn overhead_has_a_line_of_its_own_only_where_a_rule_spreads_it() {
    let mut desk = finished_episode();
    assert!(desk.statement(0).figures.costs.iter().all(|line| line.category != Category::Overhead));
    desk.costs(0, Category::Overhead, "12.00");
    let costs = desk.statement(0).figures.costs;
    assert_eq!(costs.last().unwrap().category, Category::Overhead);
}

#[test]
fn a_period_leaves_out_what_lies_outside_and_its_links_say_so() {
    let desk = finished_episode();
    let period = Period { from: Some(day(3, 1)), to: Some(day(3, 31)) };
    let march = statement(&desk.statement_facts(0, period)).unwrap();
    assert_eq!((march.from, march.to), (period.from, period.to));
    assert_eq!(march.figures.cost_total, usd("401.40"));
    assert_eq!(march.figures.income_total, usd("0.00"));
    assert_eq!(march.figures.own_hours.to_string(), "12.25");
    let link = march.figures.costs[0].attributions.clone().unwrap();
    assert!(link.ends_with("&category=materials&from=2026-03-01&to=2026-03-31"), "{link}");

    let backwards = Period { from: period.to, to: period.from };
    let refusal = statement(&desk.statement_facts(0, backwards)).unwrap_err();
    assert_eq!(refusal.findings().next().unwrap().pointer, "/from");
}

#[test]
fn a_statement_does_not_reconcile_where_a_source_is_attributed_beyond_what_it_cost() {
    let mut desk = Desk::with_two_episodes();
    let label = Label::Category(Category::Tools);
    desk.attributes(Some(0), Side::Cost, label, 3, usd("100.01"), usd("100.00"));
    desk.costs(1, Category::Tools, "10.00");
    assert!(!desk.statement(0).figures.reconciles);
    assert!(desk.statement(1).figures.reconciles, "another episode's source is not its matter");
    assert!(!desk.project().total.reconciles);

    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Tools, "10.00");
    desk.sources.clear();
    assert!(!desk.statement(0).figures.reconciles, "a source that is not there can not roll forward");
}

#[test]
fn a_label_of_another_side_is_a_fault_and_not_a_figure() {
    let mut desk = Desk::with_two_episodes();
    let label = Label::Stream(Stream::Tips);
    desk.attributes(Some(0), Side::Cost, label, 3, usd("1.00"), usd("1.00"));
    assert!(statement(&desk.statement_facts(0, Period::default())).is_err());
}

#[test]
fn a_project_shows_its_episodes_and_its_own_and_their_sum() {
    let mut desk = finished_episode();
    desk.costs(1, Category::Materials, "60.00");
    let own = Label::Category(Category::PermitsDelivery);
    desk.attributes(None, Side::Cost, own, 2, usd("75.00"), usd("75.00"));
    desk.works(None, 2, "8.5");
    desk.part(None).budget.push(BudgetedAmount { category: Category::Materials, amount: usd("20.00") });
    let whole = desk.project();
    assert_eq!(whole.episodes, [desk.statement(0), desk.statement(1)]);
    assert_eq!(whole.own.cost_total, usd("75.00"));
    let link = whole.own.costs[0].attributions.clone().unwrap();
    assert_eq!(link, format!("/v1/attributions?project={}&category=permits_delivery", project()));
    assert_eq!(whole.total.cost_total, usd("536.40"));
    assert_eq!(whole.total.result, usd("1456.76"));
    assert_eq!(whole.total.pay_per_hour, Some(usd("36.42")));
    let materials = &whole.total.budget[0];
    assert_eq!((materials.budget, materials.actual), (usd("320.00"), usd("310.73")));
    assert!(whole.total.costs.iter().all(|line| line.attributions.is_none()));
    let text = serde_json::to_string(&whole).unwrap();
    assert!(text.starts_with(&format!("{{\"project\":\"{}\",\"currency\":\"USD\",\"from\":null", project())));
}

#[test]
fn viewers_see_what_was_paid_at_the_till_and_nothing_private() {
    let mut desk = finished_episode();
    for category in [Category::PaidLabour, Category::PiecesSold, Category::Trips, Category::Overhead] {
        desk.costs(0, category, "33.33");
    }
    desk.costs(0, Category::Materials, "89.00");
    desk.sources.last_mut().unwrap().given = true;
    let viewers = statement_for_viewers(&desk.statement_facts(0, Period::default())).unwrap();
    assert_eq!(viewers.total, usd("401.40"));
    let told = serde_json::to_string(&viewers).unwrap();
    for private in ["income", "result", "hour", "budget", "recover", "33.33", "1200", "180.00", "paid_labour"]
    {
        assert!(!told.contains(private), "{private} in {told}");
    }
}

#[derive(Clone, Debug)]
struct Chance {
    place: Option<usize>,
    side: Side,
    label: usize,
    cents: i64,
    month: u32,
}

prop_compose! {
    fn any_chance()(
        place in proptest::option::of(0_usize..2),
        side in proptest::sample::select(Side::ALL),
        label in 0_usize..8,
        cents in -100_000_i64..1_000_000,
        month in 1_u32..13,
    ) -> Chance {
        Chance { place, side, label, cents, month }
    }
}

fn desk_of(chances: &[Chance], hours: &[i64]) -> Desk {
    let mut desk = Desk::with_two_episodes();
    for chance in chances {
        let label = match chance.side {
            Side::Cost => Label::Category(Category::ALL[chance.label]),
            Side::Income | Side::InKind | Side::Fee => Label::Stream(Stream::ALL[chance.label]),
            Side::Recovery if chance.label < 4 => Label::PersonalPieceSold,
            Side::Recovery => Label::SetPieceSold,
        };
        let amount = Money::exact(Decimal::new(chance.cents, 2), usd("0").currency()).unwrap();
        desk.attributes(chance.place, chance.side, label, chance.month, amount, amount);
    }
    for (place, hours) in hours.iter().enumerate() {
        desk.works(Some(place % 2), 6, &Decimal::new(*hours, 2).to_string());
    }
    desk
}

fn sum(parts: impl IntoIterator<Item = Money>) -> Money {
    Money::sum(usd("0").currency(), parts).unwrap()
}

fn adds_up(figures: &Figures) {
    assert_eq!(figures.cost_total, sum(figures.costs.iter().map(|line| line.amount)));
    assert_eq!(figures.recovered_total, sum(figures.recoveries.iter().map(|line| line.amount)));
    assert_eq!(figures.income_total, sum(figures.income.iter().map(|line| line.gross)));
    assert_eq!(figures.net_cost, sum([figures.cost_total, figures.recovered_total.negated()]));
    let result = [figures.income_total, figures.income_fees.negated(), figures.net_cost.negated()];
    assert_eq!(figures.result, sum(result));
}

proptest! {
    #[test]
    fn every_total_of_any_project_is_the_sum_of_its_parts(
        chances in proptest::collection::vec(any_chance(), 0..40),
        hours in proptest::collection::vec(0_i64..2_000, 0..6),
    ) {
        let desk = desk_of(&chances, &hours);
        let whole = desk.project();
        let parts: Vec<&Figures> =
            whole.episodes.iter().map(|one| &one.figures).chain([&whole.own]).collect();
        for figures in parts.iter().copied().chain([&whole.total]) {
            adds_up(figures);
            prop_assert!(figures.reconciles);
        }
        let total_of = |figure: fn(&Figures) -> Money| sum(parts.iter().map(|part| figure(part)));
        prop_assert_eq!(whole.total.cost_total, total_of(|part| part.cost_total));
        prop_assert_eq!(whole.total.recovered_total, total_of(|part| part.recovered_total));
        prop_assert_eq!(whole.total.income_total, total_of(|part| part.income_total));
        prop_assert_eq!(whole.total.income_fees, total_of(|part| part.income_fees));
        prop_assert_eq!(whole.total.result, total_of(|part| part.result));
        prop_assert_eq!(whole.total.own_hours, parts.iter().map(|part| part.own_hours).sum::<Decimal>());
    }

    #[test]
    fn two_halves_of_a_year_come_to_the_whole(chances in proptest::collection::vec(any_chance(), 0..40), cut in 1_u32..12) {
        let desk = desk_of(&chances, &[100, 200]);
        let result = |from, to| {
            let figures = statement(&desk.statement_facts(0, Period { from, to })).unwrap().figures;
            adds_up(&figures);
            figures.result
        };
        let first = result(None, Some(day(cut, 20)));
        let second = result(Some(day(cut, 21)), None);
        prop_assert_eq!(sum([first, second]), result(None, None));
    }
}

// Derived: bought for 85.00, paint 31.40, sold for 420.00 with fees of 8 %, 9.5 own hours; an hour at 25.00 would have
// cost 237.50.
#[test]
fn a_flip_leaves_270_before_the_own_hours_and_28_42_for_each_of_them() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::PiecesSold, "116.40");
    desk.earns(0, Side::Income, Stream::Furniture, "420.00");
    desk.earns(0, Side::Fee, Stream::Furniture, "33.60");
    desk.works(Some(0), 4, "9.5");
    let figures = desk.statement(0).figures;
    assert_eq!((figures.result, figures.pay_per_hour), (usd("270.00"), Some(usd("28.42"))));
    let labour = usd("25.00").times(figures.own_hours).unwrap();
    assert_eq!(figures.result.minus(labour).unwrap(), usd("32.50"));
}

#[test]
fn a_period_holds_its_first_and_its_last_day_and_may_be_of_one_day() {
    let march = Period { from: Some(day(3, 1)), to: Some(day(3, 31)) };
    assert!(march.holds(day(3, 1)) && march.holds(day(3, 31)));
    assert!(!march.holds(day(2, 28)) && !march.holds(day(4, 1)));
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "30.00");
    let costs = |from, to| {
        let period = Period { from: Some(from), to: Some(to) };
        statement(&desk.statement_facts(0, period)).map(|one| one.figures.net_cost)
    };
    assert_eq!(costs(day(3, 10), day(3, 10)).unwrap(), usd("30.00"));
    assert_eq!(costs(day(3, 11), day(3, 11)).unwrap(), usd("0.00"));
    assert!(costs(day(3, 11), day(3, 10)).is_err());
}
