//! An improvement of a tool: what makes it better, restores it or fits it for another use is a tool of its own, with
//! its own day of service. What only keeps it going is a repair, a cost of its day.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::acquire::{NewTool, acquire};
use super::{ToolFacts, ToolImproved};
use crate::rules::ids::{MoneyAccountId, PartyId};
use crate::rules::money::{Amount, Currency, Hours, Rate, Share};
use crate::rules::recording::{MoneyAccount, Pen, RecordFinding, Recording};
use crate::rules::refusal::{Explain, Findings, Refusal, Said};
use crate::rules::rows::{Row, TaxChoice, ToolImprovement, ToolOrigin};
use crate::rules::tool_terms::{PlanName, ToolTermsFinding};
use crate::rules::vehicles::VehiclesAtRate;

/// An improvement that was bought for a tool. Its recovery class and kind of property are the tool's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewImprovement {
    /// What was put in or done, such as "stronger motor".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    pub date: NaiveDate,
    /// The day it was ready for use; `date`, or the tool's own day of service if that is later, where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_service_on: Option<NaiveDate>,
    /// What was paid for it, tax included.
    pub cost: Amount,
    pub paid_from: MoneyAccountId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of a foreign `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// What it will still be worth in the end; zero where it is left out. Never attributed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salvage: Option<Amount>,
    /// How its cost reaches episodes, by uses of its own.
    pub method: PlanName,
    /// With `per_use_hour`: the hours it is expected to run in its whole life.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_expected: Option<Hours>,
    /// With `straight_line`: the months it is expected to last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub months: Option<u32>,
    /// The recorded tax choice; `by_law` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<TaxChoice>,
    /// With the choice `section_179`: the amount elected, at most the business share of the cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section_179: Option<Amount>,
    /// Business share of its use in percent; the tool's own of that year where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub business_share: Option<Share>,
    /// Who did or sold it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why an improvement is refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ImproveFinding {
    ToolLeft { left_on: NaiveDate },
    ReadyBeforeTheTool { in_service_on: NaiveDate, tool: NaiveDate },
}

impl Explain for ImproveFinding {
    fn say(&self) -> Said {
        match self {
            Self::ToolLeft { left_on } => Said::conflict(
                format!("the tool left on {left_on}, and nothing is put into it afterwards"),
                "correct the date, or reverse the disposal first if it was a mistake",
            ),
            Self::ReadyBeforeTheTool { in_service_on, tool } => Said::invalid(
                format!("the improvement is in service on {in_service_on}, before the tool itself on {tool}"),
                format!("give {tool} or a later day"),
            ),
        }
    }
}

/// Takes in an improvement as a tool of its own, bound to the tool that it improves.
/// # Errors
/// [`ImproveFinding`] and those of a new tool, all at once.
/// # Source
/// Pub. 946 ch. 4, additions and improvements: the class of the property improved, from the day of the improvement or
/// of the property, whichever is later; Reg. 1.263(a)-3, betterment, restoration and adaptation; both from memory.
pub fn improve(
    pen: &mut Pen<'_>,
    facts: &ToolFacts,
    paid_from: MoneyAccount,
    at_rate: &VehiclesAtRate,
    new: &NewImprovement,
) -> Result<Recording, Refusal> {
    let tool = &facts.tool;
    let in_service_on = new.in_service_on.unwrap_or(new.date.max(tool.in_service_on));
    let mut findings = Findings::new();
    findings.keep(day_fits(facts, new.date, in_service_on));
    if let Some(year) = at_rate.first_since(&tool.name, in_service_on.year()) {
        let why = ToolTermsFinding::StandardRateTaken { name: tool.name.clone(), year };
        findings.add(Refusal::new("", why));
    }
    let bought = findings.keep(acquire(pen, Some(paid_from), at_rate, &as_tool(facts, in_service_on, new)));
    findings.or_refuse()?;
    let Some(mut recording) = bought else { return Err(RecordFinding::Unknown { what: "tools" }.into()) };
    recording.kind = "improvement";
    recording.depends_on.push(facts.record);
    let made = recording.rows.iter().find_map(|row| match row {
        Row::Tool(made) => Some(ToolImprovement { tool: made.id, improves: tool.id }),
        _ => None,
    });
    recording.rows.extend(made.map(Row::ToolImprovement));
    recording.notes.push(
        "an improvement is written off by itself, from its own day; what only keeps the tool in working order is a \
         repair, a receipt line of class repairs"
            .to_owned(),
    );
    Ok(recording)
}

fn day_fits(facts: &ToolFacts, date: NaiveDate, in_service_on: NaiveDate) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    if date < facts.came_on {
        let why = RecordFinding::BeforeItBegan { what: "tool", began: facts.came_on, date };
        findings.add(Refusal::new("/date", why));
    }
    if let Some(left_on) = facts.departure().map(|gone| gone.date).filter(|left_on| date > *left_on) {
        findings.add(Refusal::new("/date", ImproveFinding::ToolLeft { left_on }));
    }
    let tool = facts.tool.in_service_on;
    if in_service_on < tool {
        let why = ImproveFinding::ReadyBeforeTheTool { in_service_on, tool };
        findings.add(Refusal::new("/in_service_on", why));
    }
    findings.or_refuse()
}

fn as_tool(facts: &ToolFacts, in_service_on: NaiveDate, new: &NewImprovement) -> NewTool {
    let tool = &facts.tool;
    let stated: Vec<_> = facts.shares.iter().map(|one| one.row).collect();
    let share = tool.business_share_in(&stated, in_service_on.year());
    let what = new.name.trim();
    // An empty name stays empty, for it is refused.
    let name = if what.is_empty() { String::new() } else { format!("{}: {what}", tool.name) };
    NewTool {
        name,
        date: new.date,
        origin: ToolOrigin::Bought,
        in_service_on: Some(in_service_on),
        contract_on: None,
        cost: Some(new.cost),
        value: None,
        paid_from: Some(new.paid_from),
        currency: new.currency,
        rate: new.rate,
        salvage: new.salvage,
        method: new.method,
        hours_expected: new.hours_expected,
        hours_before: None,
        months: new.months,
        class: Some(tool.class),
        property: Some(tool.property),
        vehicle: None,
        choice: new.choice,
        section_179: new.section_179,
        business_share: new.business_share.or(Share::of(share)),
        party: new.party,
        note: new.note.clone(),
    }
}

/// What to say of improvements that stay when the tool goes.
pub(super) fn left_behind(improvements: &[ToolImproved]) -> Option<String> {
    let still: Vec<_> =
        improvements.iter().filter(|one| one.disposed_on.is_none()).map(|one| one.name.as_str()).collect();
    (!still.is_empty()).then(|| {
        format!(
            "its improvements stand as tools of their own and did not leave with it: {}; record that they left too",
            still.join(", ")
        )
    })
}
