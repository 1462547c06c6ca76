//! Episodes as they are planned.

use serde_json::json;
use uuid::Uuid;

use super::super::trial::{asked, books, day, findings, is_always_called_something, write};
use super::*;

fn planned(more: serde_json::Value) -> Result<Recording, Refusal> {
    let mut body = json!({ "title": "Shelves from floor to ceiling", "project": Uuid::from_u128(9) });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    write(|pen| plan(pen, &asked(body)))
}

#[test]
fn an_episode_is_of_its_own_day_else_of_its_plan_its_publication_or_the_beginning_of_the_books() {
    let on = |more| planned(more).unwrap().date;
    let all = json!({ "date": "2025-02-01", "planned_on": "2025-03-01", "published_on": "2025-04-01" });
    assert_eq!(on(all), day("2025-02-01"));
    assert_eq!(on(json!({ "planned_on": "2025-03-01", "published_on": "2025-04-01" })), day("2025-03-01"));
    assert_eq!(on(json!({ "published_on": "2025-04-01" })), day("2025-04-01"));
    assert_eq!(on(json!({})), books().began_on);
}

#[test]
fn an_episode_belongs_to_its_project_and_has_a_title() {
    let got = planned(json!({})).unwrap();
    let [Row::Episode(row)] = &got.rows[..] else { panic!("one episode") };
    assert_eq!(row.title, "Shelves from floor to ceiling");
    assert_eq!(got.about, [CostObject::Episode(row.id), CostObject::Project(row.project)]);
    assert_eq!(findings(planned(json!({ "title": " " }))), ["/title: the title is empty"]);
}

#[test]
fn an_episode_is_called_by_its_title_and_never_by_nothing() {
    is_always_called_something::<EpisodeLabels>("title");
}

#[test]
fn an_episode_is_planned_for_the_day_that_its_labels_say() {
    let labels = |more: serde_json::Value| asked::<EpisodeLabels>(more);
    let planned = labels(json!({ "title": "Shelves", "planned_on": "2025-03-01" }));
    assert_eq!(planned.planned_on(), Some(day("2025-03-01")));
    assert_eq!(labels(json!({ "title": "Shelves" })).planned_on(), None);
}
