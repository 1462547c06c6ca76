//! Invariant 8: no goods on a closed day.

use super::*;
use crate::rules::trial::keeps_out_of_closed_days;

fn any_fate() -> [Value; 6] {
    [
        as_a_tool(),
        json!({ "value": "80.00", "fate": "kept_for_business", "kept_as": "supplies" }),
        json!({ "value": "80.00", "fate": "kept_for_business", "kept_as": "piece", "piece_purpose": "resale" }),
        json!({ "value": "80.00", "fate": "kept_personally" }),
        json!({ "value": "80.00", "fate": "given_away" }),
        json!({ "fate": "undecided" }),
    ]
}

#[test]
fn no_goods_come_on_a_closed_day() {
    for fate in any_fate() {
        keeps_out_of_closed_days("2025-01-01", |pen, date| {
            let mut body = goods(fate.clone());
            body["date"] = json!(date);
            receive(pen, None, &VehiclesAtRate::none(), &asked(body))
        });
    }
}

// What came on a day that is closed by now is taken in on the day of the decision.
#[test]
fn no_fate_is_decided_on_a_closed_day() {
    let open = facts_of(&came(json!({})).unwrap());
    let later = any_fate().into_iter().filter(|fate| fate["fate"] != "undecided");
    for fate in later.chain([json!({ "fate": "returned" })]) {
        keeps_out_of_closed_days("2026-02-03", |pen, date| {
            let mut body = fate.clone();
            body["date"] = json!(date);
            decide(pen, &open, &VehiclesAtRate::none(), &asked(body))
        });
    }
}
