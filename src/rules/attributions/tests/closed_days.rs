//! Invariant 8: a statement of closed days stays as it is.

use serde_json::json;

use super::*;
use crate::rules::trial::keeps_out_of_closed_days;

#[test]
fn no_cost_is_given_out_or_moved_on_a_closed_day() {
    keeps_out_of_closed_days("2025-03-03", |pen, date| {
        let body =
            json!({ "date": date, "source": SOURCE, "for": [{ "episode": episode(2) }], "amount": "12.50" });
        give_out(pen, &screws(), &asked(body))
    });
    keeps_out_of_closed_days("2025-03-03", |pen, date| {
        let body =
            json!({ "date": date, "source": SOURCE, "from_episode": episode(1), "to_episode": episode(2) });
        move_on(pen, &screws(), &asked(body))
    });
}

#[test]
fn no_shoot_is_split_and_no_overhead_spread_on_a_closed_day() {
    let shoot = JointFacts { named: vec![not_taken_up(1, "300.00")], of_records: Vec::new() };
    keeps_out_of_closed_days("2025-03-03", |pen, date| {
        let over =
            json!([{ "episode": episode(1), "weight": "4" }, { "episode": episode(2), "weight": "1" }]);
        let body = json!({ "date": date, "sources": [shoot.named[0].source.id], "over": over });
        split_joint(pen, &shoot, &asked(body))
    });
    let basis = vec![(episode(1), 40.into()), (episode(2), 2.into())];
    let facts = OverheadFacts { pool: vec![not_taken_up(1, "7134.00")], basis, stated: None };
    keeps_out_of_closed_days("2025-12-31", |pen, date| {
        let body = json!({ "date": date, "from": "2025-01-01", "to": "2025-12-31", "by": "own_hours" });
        spread_overhead(pen, &facts, &asked(body))
    });
}
