//! What is worked out and not recorded.

use serde_json::json;

use crate::world::World;

// An open textbook of managerial accounting, ch. 7.2, break-even analysis (inputs seen).
#[test]
fn a_break_even_is_worked_out_and_recorded_nowhere() {
    let world = World::open();
    let owner = world.owner();
    let before = world.rows_written();
    let path = "/v1/costing/break-even";
    let asked = json!({ "price": "400.00", "variable_cost": "250.00", "fixed_cost": "20000.00" });
    let reply = owner.post(path, &asked);
    assert_eq!(reply.status, 200);
    let found = reply.json();
    let figures = ["contribution", "ratio_percent", "units", "revenue", "revenue_at_units"];
    let figures = figures.map(|name| found[name].as_str().unwrap().to_owned());
    assert_eq!(figures, ["150.00", "37.5", "134", "53333.33", "53600.00"]);
    let no_way = json!({ "price": "20.00", "variable_cost": "20.00", "fixed_cost": "1.00" });
    let said = owner.is_refused(422, path, no_way).error_at("/price");
    assert!(said.contains("no number of them pays the fixed costs"), "{said}");
    world.nobody().is_refused(401, path, asked);
    assert_eq!(world.rows_written(), before);
}
