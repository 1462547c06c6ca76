//! Receipts for tools in repair and for vehicles, and what a receipt may not be without.

use serde_json::{Value, json};

use super::*;
use crate::rules::ids::ToolId;
use crate::rules::vehicles::VehiclesAtRate;

const SAW: ToolId = ToolId(uuid::Uuid::from_u128(40));
const LATHE: ToolId = ToolId(uuid::Uuid::from_u128(41));

fn tool(tool: ToolId, name: &str) -> ToolInRepair {
    ToolInRepair {
        tool,
        record: RecordId(tool.0),
        name: name.to_owned(),
        came_on: day("2025-03-01"),
        left_on: Some(day("2025-07-01")),
    }
}

fn repaired(date: &str, class: &str) -> Result<Recording, Refusal> {
    let line = json!({ "text": "a new bearing", "amount": "60.00", "repairs": LATHE,
                       "treatments": [{ "as": "expense", "class": class }] });
    let mut new = receipt(json!([line]), "60.00");
    new.date = day(date);
    let facts = PurchaseFacts { tools: vec![tool(SAW, "saw"), tool(LATHE, "lathe")], ..paid_by_bank() };
    write(|pen| record(pen, &facts, &new))
}

// Reg. 1.162-4 (from memory).
#[test]
fn a_tool_is_repaired_from_the_day_it_came_to_the_day_it_left_and_by_costs_of_class_repairs() {
    for date in ["2025-03-01", "2025-05-01", "2025-07-01"] {
        let got = repaired(date, "repairs").unwrap();
        assert_eq!(balance(&got, Account::Expense(ExpenseClass::Repairs)), "60.00", "{date}");
        assert!(got.depends_on.contains(&RecordId(LATHE.0)), "the lathe is not taken back under it");
    }
    let early = findings(repaired("2025-02-28", "repairs"));
    assert!(early[0].contains("lathe") && early[0].contains("2025-03-01"), "{early:?}");
    let late = findings(repaired("2025-07-02", "repairs"));
    assert!(late[0].contains("lathe left on 2025-07-01"), "{late:?}");
    assert_eq!(findings(repaired("2025-05-01", "supplies")).len(), 1);
}

// Notice 2025-05, standard mileage rate (from memory): it covers what the vehicle costs.
#[test]
fn a_van_at_the_standard_rate_has_no_actual_costs_in_that_year_and_another_has() {
    let fuel = |vehicle: &str| {
        let line = json!({ "text": "diesel", "amount": "60.00", "vehicle": vehicle,
                           "treatments": [{ "as": "expense", "class": "vehicle" }] });
        let at_rate: VehiclesAtRate = [("van".to_owned(), 2025)].into_iter().collect();
        let facts = PurchaseFacts { at_rate, ..paid_by_bank() };
        write(|pen| record(pen, &facts, &receipt(json!([line]), "60.00")))
    };
    let refused = findings(fuel("van"));
    assert!(refused[0].contains("van has trips at the standard rate in 2025"), "{refused:?}");
    assert!(fuel("lorry").is_ok());
}

#[test]
fn a_line_says_what_was_bought() {
    let line: Value = json!({ "text": "  ", "amount": "60.00", "treatments": [{ "as": "personal" }] });
    assert_eq!(findings(bought_now(&receipt(json!([line]), "60.00"))), ["/lines/0/text: the text is empty"]);
}
