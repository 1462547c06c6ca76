use super::super::improve::left_behind;
use super::*;
use crate::rules::journal::Account;
use crate::rules::rows::{BusinessShare, DisposalKind, PropertyType, RecoveryClass, ToolDisposal};
use crate::rules::trial::{asked, balance, findings, ties};

fn motor(date: &str) -> NewImprovement {
    asked(
        serde_json::json!({ "name": "stronger motor", "date": date, "cost": "240.00", "method": "equal_share",
                              "paid_from": bank().id }),
    )
}

fn improved(facts: &ToolFacts, new: &NewImprovement) -> Result<Recording, Refusal> {
    write(|pen| improve(pen, facts, bank(), &VehiclesAtRate::none(), new))
}

fn tool_of(recording: &Recording) -> crate::rules::rows::Tool {
    recording
        .rows
        .iter()
        .find_map(|row| if let Row::Tool(tool) = row { Some(tool.clone()) } else { None })
        .unwrap()
}

// Pub. 946 ch. 4, additions and improvements: from memory.
#[test]
fn a_motor_put_into_a_saw_is_a_tool_of_its_own_in_the_saws_class_from_its_own_day() {
    let mut facts = saw(
        r#"{ "method": "equal_share", "class": "5", "property": "listed", "in_service_on": "2025-06-01" }"#,
    );
    facts.shares.push(Logged {
        record: facts.record,
        row: BusinessShare { tool: facts.tool.id, tax_year: 2026, share: 60.into() },
    });
    let made = improved(&facts, &motor("2026-02-03")).unwrap();
    ties(&made, &[]);
    let tool = tool_of(&made);
    assert_eq!(
        (tool.name.as_str(), tool.cost, tool.in_service_on),
        ("table saw: stronger motor", dollars("240"), day("2026-02-03"))
    );
    assert_eq!((tool.class, tool.property), (RecoveryClass::Five, PropertyType::Listed));
    assert_eq!(tool.business_share, 60.into());
    assert_eq!((made.kind, made.depends_on.as_slice()), ("improvement", [facts.record].as_slice()));
    assert_eq!(balance(&made, Account::ToolsAtCost), "240.00");
    let link = made
        .rows
        .iter()
        .find_map(|row| if let Row::ToolImprovement(link) = row { Some(*link) } else { None });
    assert_eq!(link.map(|link| (link.tool, link.improves)), Some((tool.id, facts.tool.id)));
    // Put in before the saw was ready, it counts from the saw's day.
    assert_eq!(tool_of(&improved(&facts, &motor("2025-03-10")).unwrap()).in_service_on, day("2025-06-01"));
}

/// The saw, gone on 2025-07-01.
fn left(kind: DisposalKind, proceeds: &str) -> ToolFacts {
    let mut facts = saw(r#"{ "method": "equal_share" }"#);
    let (tool, date, proceeds) = (facts.tool.id, day("2025-07-01"), dollars(proceeds));
    facts.disposal = Some(Logged { record: facts.record, row: ToolDisposal { tool, date, kind, proceeds } });
    facts
}

// Common practice, no source.
#[test]
fn nothing_is_put_into_a_tool_before_it_came_or_after_it_left() {
    let facts = left(DisposalKind::Scrapped, "0");
    let early = NewImprovement {
        name: " ".to_owned(),
        in_service_on: Some(day("2025-02-20")),
        ..motor("2025-02-10")
    };
    let said = findings(improved(&facts, &early));
    assert_eq!(
        said,
        [
            "/date: 2025-02-10 is before 2025-03-01, the day the tool came",
            "/in_service_on: the improvement is in service on 2025-02-20, before the tool itself on 2025-03-01",
            "/name: the name is empty",
        ]
    );
    let late = findings(improved(&facts, &motor("2025-07-02")));
    assert_eq!(late, ["/date: the tool left on 2025-07-01, and nothing is put into it afterwards"]);
    // A van with trips at the standard rate takes no actual costs.
    let at_rate: VehiclesAtRate = [("Table Saw".to_owned(), 2025)].into_iter().collect();
    let taken = write(|pen| improve(pen, &facts, bank(), &at_rate, &motor("2025-06-01")));
    assert!(findings(taken)[0].contains("trips at the standard rate in 2025"));
}

// Common practice, no source.
#[test]
fn a_tool_that_goes_names_the_improvements_that_stay_and_no_others() {
    let stays = |name: &str, disposed_on: Option<&str>| ToolImproved {
        tool: saw(r#"{ "method": "equal_share" }"#).tool.id,
        name: name.to_owned(),
        in_service_on: day("2025-06-01"),
        cost: dollars("240"),
        disposed_on: disposed_on.map(day),
    };
    let said = left_behind(&[
        stays("stronger motor", None),
        stays("rip fence", Some("2025-09-01")),
        stays("dust hood", None),
    ]);
    let sentence = "its improvements stand as tools of their own and did not leave with it: stronger motor, dust hood; \
                    record that they left too";
    assert_eq!(said.as_deref(), Some(sentence));
    assert_eq!(left_behind(&[stays("rip fence", Some("2025-09-01"))]), None);
}

// Common practice, no source: a motor may be put in as the saw is unpacked, and on the day it is sold.
#[test]
fn a_tool_is_improved_from_the_day_it_came_to_the_day_it_left() {
    let facts = left(DisposalKind::Sold, "300");
    for date in ["2025-03-01", "2025-07-01"] {
        assert_eq!(tool_of(&improved(&facts, &motor(date)).unwrap()).in_service_on, day(date));
    }
}
