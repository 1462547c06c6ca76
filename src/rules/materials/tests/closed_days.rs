//! Invariant 8: on a closed day nothing leaves the shelf or comes back to it.

use super::super::super::recording::MaterialsFlow;
use super::super::super::trial::keeps_out_of_closed_days;
use super::super::{
    NewCount, NewIssue, NewMaterialIssue, NewMaterialReturn, NewWaste, come_back, count, issue,
    issue_by_name, waste,
};
use super::shelf::*;

/// Two lots of tiles, of January and of 1 March 2025; three of the first were used on 5 March.
fn shelf() -> Shelf {
    let mut shelf = Shelf::new(MaterialsFlow::Fifo);
    shelf.puts("tiles", "40", "54.90", day(2025, 1, 5));
    shelf.puts("tiles", "12.5", "33.33", day(2025, 3, 1));
    shelf.issues(0, "3", day(2025, 3, 5), EPISODE_A).unwrap();
    shelf
}

#[test]
fn nothing_is_used_on_a_closed_day() {
    let shelf = shelf();
    let ask = shelf.ask("7.5", day(2025, 3, 1), EPISODE_B);
    keeps_out_of_closed_days("2025-03-01", |pen, date| {
        issue(pen, &shelf.lots[0], None, &NewIssue { date, ..ask.clone() })
    });
    let named = by_name("41.5", day(2025, 3, 1), EPISODE_B);
    keeps_out_of_closed_days("2025-03-05", |pen, date| {
        issue_by_name(pen, &shelf.lots, None, &NewMaterialIssue { date, ..named.clone() })
    });
}

#[test]
fn nothing_is_spoilt_missed_or_brought_back_on_a_closed_day() {
    let shelf = shelf();
    let unit = || None::<String>;
    keeps_out_of_closed_days("2025-01-05", |pen, date| {
        let (episode, project, treatment, category) = (None, None, None, None);
        let quantity = quantity("2.25");
        let ask =
            NewWaste { date, quantity, unit: unit(), episode, project, treatment, category, note: None };
        waste(pen, &shelf.lots[0], &ask)
    });
    for counted in ["30", "37"] {
        keeps_out_of_closed_days("2025-03-05", |pen, date| {
            let ask = NewCount { date, counted: quantity(counted), unit: unit(), note: None };
            count(pen, &shelf.lots[0], &ask)
        });
    }
    keeps_out_of_closed_days("2025-03-05", |pen, date| {
        let (episode, quantity) = (Some(episode_of(EPISODE_A)), quantity("1"));
        let (project, piece, treatment) = (None, None, None);
        let ask = NewMaterialReturn {
            date,
            quantity,
            unit: unit(),
            episode,
            project,
            piece,
            treatment,
            note: None,
        };
        come_back(pen, &shelf.lots[0], None, &shelf.attributed, &ask)
    });
}
