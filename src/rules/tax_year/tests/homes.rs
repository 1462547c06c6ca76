//! What stayed in the home finds its project.

use uuid::Uuid;

use super::super::home::{HomeLine, HomeProject, HomeSide, by_project};
use super::usd;
use crate::rules::ids::ProjectId;

fn project(number: u128, name: &str) -> HomeProject {
    HomeProject { name: name.to_owned(), id: ProjectId(Uuid::from_u128(number)) }
}

fn line(side: HomeSide, part: &str, whole: &str, borne: &[(&HomeProject, &str)]) -> HomeLine {
    let borne = borne.iter().map(|(project, amount)| ((*project).clone(), usd(amount))).collect();
    HomeLine { side, part: usd(part), whole: usd(whole), borne }
}

/// Name, improvements and repairs of each row.
fn rows(lines: &[HomeLine]) -> Vec<(String, String, String)> {
    let rows = by_project(lines, usd("0").currency()).unwrap();
    rows.into_iter().map(|row| (row.name, row.improvements.to_string(), row.repairs.to_string())).collect()
}

fn row(name: &str, improvements: &str, repairs: &str) -> (String, String, String) {
    (name.to_owned(), improvements.to_owned(), repairs.to_owned())
}

#[test]
fn a_project_has_its_share_of_what_of_a_cost_stayed_in_the_home() {
    // Pub. 523: improvements add to the home's basis, repairs do not (seen)
    let (attic, porch) = (project(2, "Attic room"), project(1, "Porch"));
    let lines = [
        // Two thirds of the drywall stayed; the projects bear it by halves, and a cent is not lost.
        line(HomeSide::Improvement, "66.67", "100.00", &[(&attic, "50.00"), (&porch, "50.00")]),
        line(HomeSide::Repair, "12.00", "12.00", &[(&porch, "12.00")]),
        // What no project bears is the schedule's rest.
        line(HomeSide::Improvement, "40.00", "40.00", &[(&attic, "10.00")]),
        line(HomeSide::Improvement, "9.00", "9.00", &[]),
    ];
    assert_eq!(rows(&lines), [row("Attic room", "43.34", "0.00"), row("Porch", "33.33", "12.00")]);
}

#[test]
fn what_went_back_or_moved_on_leaves_its_project() {
    let (attic, porch) = (project(2, "Attic room"), project(1, "Porch"));
    let lines = [
        line(HomeSide::Improvement, "80.00", "80.00", &[(&attic, "-20.00"), (&porch, "20.00")]),
        line(HomeSide::Improvement, "-30.00", "-30.00", &[(&attic, "-30.00")]),
    ];
    assert_eq!(rows(&lines), [row("Attic room", "-50.00", "0.00"), row("Porch", "20.00", "0.00")]);
    let kept = [line(HomeSide::Repair, "80.00", "80.00", &[(&attic, "80.00"), (&attic, "-80.00")])];
    assert_eq!(rows(&kept), []);
}
