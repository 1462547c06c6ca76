//! A year of the owner's own work.

use std::collections::BTreeMap;

use super::super::{ProjectOfYear, YearOfWork, fiscal_year, year_of_work};
use super::*;

fn of_year(desk: &Desk, year: i32) -> YearOfWork {
    let period = fiscal_year(year, 1).unwrap();
    let facts = ProjectFacts {
        project: project(),
        currency: usd("0").currency(),
        period,
        episodes: desk.episodes.clone(),
        own: desk.own.clone(),
        sources: desk.sources.clone(),
    };
    let titles = BTreeMap::from([(episode(1), "Shelves".to_owned()), (episode(2), "The lamp".to_owned())]);
    let one = ProjectOfYear { name: "The reading room".to_owned(), titles, facts };
    year_of_work(period, usd("0").currency(), &[one]).unwrap()
}

fn texts(work: &super::super::Work) -> [String; 4] {
    let pay = work.pay_per_hour.map(|pay| pay.to_string()).unwrap_or_default();
    [work.own_hours.to_string(), work.income_total.to_string(), work.result.to_string(), pay]
}

// Derived: (1,000.00 - 100.00 - 250.00) / 20 h, and 60.00 / 3 h; 710.00 / 23 h in all.
#[test]
fn an_hour_of_the_year_is_paid_by_episode_by_project_and_in_all() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "250.00");
    desk.earns(0, Side::Income, Stream::Sponsorship, "1000.00");
    desk.earns(0, Side::Fee, Stream::Sponsorship, "100.00");
    desk.works(Some(0), 3, "20");
    desk.earns(1, Side::Income, Stream::Tips, "60.00");
    desk.works(Some(1), 3, "2.5");
    desk.works(Some(1), 12, "0.5");
    let year = of_year(&desk, 2026);
    let [project] = year.projects.as_slice() else { panic!("one project") };
    assert_eq!(texts(&project.episodes[0].work), ["20.00", "1000.00", "650.00", "32.50"]);
    assert_eq!(texts(&project.episodes[1].work), ["3.00", "60.00", "60.00", "20.00"]);
    assert_eq!(texts(&project.total), ["23.00", "1060.00", "710.00", "30.87"]);
    assert_eq!((&year.total, year.reconciles), (&project.total, true));
    assert!(project.episodes[0].statement.ends_with("/statement?from=2026-01-01&to=2026-12-31"));
}

// Common practice, no source.
#[test]
fn a_year_without_hours_has_no_pay_and_one_without_anything_shows_nothing() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(0, Category::Materials, "10.00");
    let year = of_year(&desk, 2026);
    assert_eq!(texts(&year.total), ["0.00", "0.00", "-10.00", ""]);
    assert_eq!(year.projects[0].episodes.len(), 1, "the lamp had nothing");
    let before = of_year(&desk, 2025);
    assert!(before.projects.is_empty() && before.reconciles);
    assert_eq!(texts(&before.total), ["0.00", "0.00", "0.00", ""]);
}

// Common practice, no source.
#[test]
fn a_fiscal_year_has_twelve_months_from_its_first() {
    let days =
        |year, month| fiscal_year(year, month).map(|period| (period.from.unwrap(), period.to.unwrap()));
    let date = |text: &str| text.parse::<NaiveDate>().unwrap();
    assert_eq!(days(2025, 1), Ok((date("2025-01-01"), date("2025-12-31"))));
    assert_eq!(days(2023, 3), Ok((date("2023-03-01"), date("2024-02-29"))));
    assert!(days(1899, 1).is_err() && days(2201, 1).is_err() && days(2025, 13).is_err());
}

// Common practice, no source.
#[test]
fn a_year_does_not_reconcile_where_more_of_a_receipt_is_attributed_than_it_came_to() {
    let mut desk = Desk::with_two_episodes();
    desk.costs(1, Category::Materials, "10.00");
    let label = Label::Category(Category::Materials);
    desk.attributes(Some(0), Side::Cost, label, 3, usd("25.00"), usd("20.00"));
    let year = of_year(&desk, 2026);
    assert_eq!((year.total.result.to_string(), year.reconciles), ("-35.00".to_owned(), false));
}

// Common practice, no source.
#[test]
fn a_project_whose_episodes_come_to_nothing_together_shows_them_and_one_with_costs_of_its_own_shows_those() {
    let mut moved = Desk::with_two_episodes();
    let label = Label::Category(Category::Materials);
    moved.attributes(Some(0), Side::Cost, label, 3, usd("-40.00"), usd("0.00"));
    moved.attributes(Some(1), Side::Cost, label, 3, usd("40.00"), usd("40.00"));
    let year = of_year(&moved, 2026);
    let results: Vec<_> = year.projects[0].episodes.iter().map(|one| one.work.result.to_string()).collect();
    assert_eq!(results, ["40.00", "-40.00"]);
    assert_eq!(year.total.result, usd("0.00"));
    let mut own = Desk::with_two_episodes();
    own.attributes(None, Side::Cost, label, 3, usd("15.00"), usd("15.00"));
    let year = of_year(&own, 2026);
    assert_eq!((year.projects[0].own.cost_total, year.projects[0].episodes.len()), (usd("15.00"), 0));
}
