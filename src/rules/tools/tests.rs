//! What the tests share: a saw, and the facts as the store would give them back after each record.

mod acquire;
mod closed_days;
mod days;
mod ends;
mod improvements;
mod life;
mod property;
mod shares;
mod spread;
mod uses;

use chrono::NaiveDate;
use serde_json::Value;
use uuid::Uuid;

use super::*;
use crate::rules::ids::RecordId;
use crate::rules::recording::{BooksFacts, Recording};
use crate::rules::refusal::Refusal;
use crate::rules::rows::Row;
use crate::rules::trial::{bank, books, day, dollars, episode, write, write_in};
use crate::rules::vehicles::VehiclesAtRate;

/// The table saw of the reference figures: 649 with 49 salvage, in service on 2025-03-01.
fn saw(terms: &str) -> ToolFacts {
    let mut body: Value = serde_json::from_str(
        r#"{ "name": "table saw", "date": "2025-03-01", "origin": "bought", "cost": "649.00", "salvage": "49.00" }"#,
    )
    .unwrap();
    let terms: Value = serde_json::from_str(terms).unwrap();
    for (key, value) in terms.as_object().unwrap() {
        body[key] = value.clone();
    }
    let new: NewTool = serde_json::from_value(body).unwrap();
    let paid_from = (new.origin == crate::rules::rows::ToolOrigin::Bought).then(bank);
    facts_of(&write(|pen| acquire(pen, paid_from, &VehiclesAtRate::none(), &new)).unwrap())
}

fn facts_of(recording: &Recording) -> ToolFacts {
    let tool = recording.rows.iter().find_map(|row| match row {
        Row::Tool(tool) => Some(tool.clone()),
        _ => None,
    });
    let tool = tool.unwrap();
    let mut facts = ToolFacts {
        held: Money::zero(tool.cost.currency()),
        tool,
        record: RecordId(Uuid::from_u128(1)),
        came_on: recording.date,
        uses: Vec::new(),
        attributed: Vec::new(),
        estimates: Vec::new(),
        shares: Vec::new(),
        improves: None,
        improvements: Vec::new(),
        repairs: Vec::new(),
        disposal: None,
        gone_until: None,
    };
    facts.take_up(recording);
    facts
}

impl ToolFacts {
    /// What the store would know after this record.
    fn take_up(&mut self, recording: &Recording) {
        for moved in recording.movements.iter().filter(|moved| moved.source == self.tool.source) {
            self.held = self.held.plus(moved.amount).unwrap();
        }
        let before = self.uses.len() + self.estimates.len();
        let record = RecordId(Uuid::from_u128(100 + u128::try_from(before).unwrap()));
        for row in &recording.rows {
            match row {
                Row::ToolUse(one) => self.uses.push(Logged { record, row: one.clone() }),
                Row::ToolEstimate(estimate) => self.estimates.push(Logged { record, row: *estimate }),
                Row::BusinessShare(share) => self.shares.push(Logged { record, row: *share }),
                Row::ToolDisposal(gone) => self.disposal = Some(Logged { record, row: gone.clone() }),
                _ => {}
            }
        }
        let rows = recording.attributions.iter().map(|one| (one.date, one.object, one.amount));
        self.attributed.extend(rows);
    }

    /// Logs uses and remembers them; a use is a date, an episode's number and hours or a share.
    fn used(&mut self, uses: &[(&str, u128, &str)]) -> Recording {
        self.used_in(&books(), uses)
    }

    fn used_in(&mut self, books: &BooksFacts, uses: &[(&str, u128, &str)]) -> Recording {
        let recording = self.tries(books, uses).unwrap();
        self.take_up(&recording);
        recording
    }

    fn tries(&self, books: &BooksFacts, uses: &[(&str, u128, &str)]) -> Result<Recording, Refusal> {
        let by_share = self.tool.plan == AttributionPlan::Percentages;
        let uses = uses.iter().map(|(date, number, much)| UseAsked {
            date: day(date),
            episode: Some(episode(*number)),
            project: None,
            hours: if by_share { None } else { crate::rules::money::Hours::parse(much) },
            share: if by_share { crate::rules::money::Share::parse(much) } else { None },
        });
        write_in(books, |pen| log_uses(pen, self, &NewUses { uses: uses.collect(), note: None }))
    }

    /// What an episode bears of it.
    fn on(&self, number: u128) -> String {
        self.on_by(number, NaiveDate::MAX)
    }

    fn on_by(&self, number: u128, last: NaiveDate) -> String {
        let object = CostObject::Episode(episode(number));
        let rows = self.attributed.iter().filter(|(date, one, _)| *one == object && *date <= last);
        Money::sum(self.tool.cost.currency(), rows.map(|(.., amount)| *amount)).unwrap().to_string()
    }

    fn in_all(&self) -> String {
        self.attributed_total().unwrap().to_string()
    }
}

fn amounts(recording: &Recording) -> Vec<String> {
    recording.attributions.iter().map(|one| one.amount.to_string()).collect()
}

fn carried(facts: &ToolFacts, accumulated: &str) -> Carried {
    Carried { at_cost: facts.tool.cost, accumulated: dollars(accumulated) }
}
