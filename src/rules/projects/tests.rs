//! Projects and what they may cost.

use serde_json::json;

use super::super::trial::{asked, books, day, dollars, episode, findings, is_always_called_something, write};
use super::*;

#[test]
fn a_project_opens_with_its_place_and_a_budget_by_category_and_episode() {
    let new = asked(json!({
        "name": "The reading room", "place": "own_home",
        "budget": [{ "category": "materials", "amount": "300.00" },
                   { "category": "tools", "amount": "45.50", "episode": episode(1) }],
    }));
    let got = write(|pen| open(pen, &new)).unwrap();
    assert_eq!((got.date, got.text.as_str()), (books().began_on, "The reading room"));
    assert!(got.entries.is_empty() && got.movements.is_empty(), "a plan posts nothing");
    let lines: Vec<_> = got
        .rows
        .iter()
        .filter_map(|row| match row {
            Row::BudgetLine(line) => Some((line.category, line.episode, line.amount)),
            _ => None,
        })
        .collect();
    assert_eq!(
        lines,
        [
            (Category::Materials, None, dollars("300.00")),
            (Category::Tools, Some(episode(1)), dollars("45.50")),
        ]
    );
    assert!(got.about.contains(&CostObject::Episode(episode(1))));
}

#[test]
fn a_project_without_a_name_or_with_a_budget_below_zero_is_refused_for_both_at_once() {
    let new = asked(json!({ "name": "  ", "place": "own_home",
                            "budget": [{ "category": "materials", "amount": "-1.00" }] }));
    let said = findings(write(|pen| open(pen, &new)));
    assert_eq!(said.len(), 2, "{said:?}");
    assert_eq!(said[0], "/name: the name is empty");
    assert!(said[1].starts_with("/budget/0/amount: -1.00 "), "{said:?}");
}

#[test]
fn a_budget_set_later_names_its_project_and_its_day() {
    let project = Project {
        id: ProjectId(uuid::Uuid::from_u128(9)),
        name: "The loft".to_owned(),
        place: Place::HomeOffice,
    };
    let new =
        asked(json!({ "date": "2025-03-01", "budget": [{ "category": "services", "amount": "80.00" }] }));
    let got = write(|pen| budget(pen, &project, &new)).unwrap();
    assert_eq!((got.date, got.text.as_str()), (day("2025-03-01"), "budget of The loft"));
    assert!(matches!(&got.rows[..], [Row::BudgetLine(line)] if line.project == project.id));
}

#[test]
fn a_project_is_called_by_its_name_and_never_by_nothing() {
    is_always_called_something::<ProjectLabels>("name");
}
