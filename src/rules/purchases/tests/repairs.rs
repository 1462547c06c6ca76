//! Receipts that keep a tool in working order.

use serde_json::json;
use uuid::Uuid;

use super::*;
use crate::rules::rows::ToolRepair;

const SAW: ToolId = ToolId(Uuid::from_u128(21));
const DRILL: ToolId = ToolId(Uuid::from_u128(22));
const SAW_CAME: RecordId = RecordId(Uuid::from_u128(31));

/// A saw that came on 2 March and left on 30 June, and a drill that came earlier and stays.
fn workshop() -> PurchaseFacts {
    let tool = |tool, record, name: &str, came_on: &str, left_on: Option<&str>| ToolInRepair {
        tool,
        record,
        name: name.to_owned(),
        came_on: day(came_on),
        left_on: left_on.map(day),
    };
    let tools = vec![
        tool(DRILL, RecordId(Uuid::from_u128(32)), "cordless drill", "2025-01-10", None),
        tool(SAW, SAW_CAME, "table saw", "2025-03-02", Some("2025-06-30")),
    ];
    PurchaseFacts { tools, ..paid_by_bank() }
}

fn bearings(date: &str, tool: ToolId, class: &str) -> Result<Recording, Refusal> {
    let mut new = receipt(
        json!([{ "text": "new bearings", "amount": "60.00", "repairs": tool,
                 "treatments": [{ "as": "expense", "class": class }] }]),
        "60.00",
    );
    new.date = day(date);
    let got = write(|pen| record(pen, &workshop(), &new))?;
    ties(&got, &[]);
    Ok(got)
}

// Reg. 1.162-4 (repairs), from memory: a cost of its day, in neither the tool's basis nor its depreciation.
#[test]
fn a_tool_is_repaired_from_the_day_it_came_to_the_day_it_left() {
    for date in ["2025-03-02", "2025-06-30"] {
        let got = bearings(date, SAW, "repairs").unwrap();
        assert_eq!(balance(&got, Account::Expense(ExpenseClass::Repairs)), "60.00");
        let repairs: Vec<ToolRepair> = got
            .rows
            .iter()
            .filter_map(|row| if let Row::ToolRepair(repair) = row { Some(*repair) } else { None })
            .collect();
        assert_eq!(repairs, [ToolRepair { tool: SAW, source: got.sources[0].id }]);
        assert_eq!(got.depends_on, [SAW_CAME]);
        assert_eq!(
            got.notes,
            [
                "A repair of table saw: a cost of its day, in neither its basis nor its depreciation. Question: does it only \
                 keep the tool in working order? What makes it better, restores it or fits it for another use is an \
                 improvement, written off over years (POST /v1/tools/{id}/improvements)."
            ]
        );
    }
}

// Common practice, no source.
#[test]
fn a_repair_is_of_a_tool_that_is_there_and_an_expense_of_class_repairs() {
    for (date, tool, class, said) in [
        ("2025-03-01", SAW, "repairs", "table saw came on 2025-03-02, later than the receipt"),
        ("2025-07-01", SAW, "repairs", "table saw left on 2025-06-30, and is not repaired afterwards"),
        (
            "2025-03-02",
            SAW,
            "supplies",
            "a tool is named as repaired, but nothing of the line is an expense of class repairs",
        ),
        ("2025-03-02", ToolId(Uuid::from_u128(23)), "repairs", "these books have no tools of that id"),
    ] {
        assert_eq!(findings(bearings(date, tool, class)), [format!("/lines/0/repairs: {said}")]);
    }
}

#[test]
fn a_line_says_what_was_bought() {
    let line = json!({ "text": "  ", "amount": "60.00", "treatments": [{ "as": "personal" }] });
    assert_eq!(findings(bought_now(&receipt(json!([line]), "60.00"))), ["/lines/0/text: the text is empty"]);
}
