//! Logging the uses of a tool, many in one call.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ToolFacts;
use super::plan::{Charges, charges};
use super::schedule::Month;
use crate::rules::ids::{EpisodeId, ProjectId, RecordId};
use crate::rules::money::{Hours, Money, Share};
use crate::rules::objects::ObjectAsked;
use crate::rules::recording::{Category, Label, Pen, Recording, Word};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{AttributionPlan, Row, ToolUse};

/// How many uses one call may bring.
pub const USES_AT_ONCE: usize = 500;

/// One use of a tool on an episode or a project.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UseAsked {
    pub date: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Hours it ran; needed with `per_use_hour`, and in a month whose other uses have hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<Hours>,
    /// With `percentages` only: the percentage of the tool's cost that this use bears; at most 100 in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<Share>,
}

/// Uses of one tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewUses {
    /// At most 500, in any order.
    #[schema(max_items = 500)]
    pub uses: Vec<UseAsked>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why a use is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum UseFinding {
    NoUses,
    TooManyUses { given: usize },
    BeforeInService { date: NaiveDate, in_service_on: NaiveDate },
    BeforeTheBooksHadIt { date: NaiveDate, came_on: NaiveDate },
    AfterItLeft { date: NaiveDate, left_on: NaiveDate },
    HoursMissing,
    HoursZero,
    HoursOnSomeOnly { date: NaiveDate },
    ShareMissing,
    ShareZero,
    ShareNotOfThisMethod,
    SharesAboveHundred { before: Decimal, total: Decimal },
}

impl Explain for UseFinding {
    fn say(&self) -> Said {
        match self {
            Self::NoUses => Said::invalid("no use is given", "give at least one use"),
            Self::TooManyUses { given } => Said::invalid(
                format!("{given} uses are given in one call"),
                format!("give at most {USES_AT_ONCE} and call again for the rest"),
            ),
            Self::BeforeInService { date, in_service_on } => Said::invalid(
                format!("the tool is used on {date}, before it went into service on {in_service_on}"),
                "correct the date of the use; if the tool was ready earlier, correct the tool's record",
            ),
            Self::BeforeTheBooksHadIt { date, came_on } => Said::invalid(
                format!("the tool is used on {date}, before these books had it on {came_on}"),
                "correct the date; what earlier episodes used up belongs to the tool's opening position",
            ),
            Self::AfterItLeft { date, left_on } => Said::conflict(
                format!("the tool is used on {date}, after it left on {left_on}"),
                "correct the date of the use, or reverse the disposal first",
            ),
            Self::HoursMissing => Said::invalid(
                "the tool is charged by the hour, and the use has no hours",
                "give hours, such as \"2.5\"",
            ),
            Self::HoursZero => {
                Said::invalid("the use has zero hours", "give the hours it ran, or leave the use out")
            }
            Self::HoursOnSomeOnly { date } => Said::invalid(
                format!("some uses in the month of {date} have hours and others have none"),
                "give hours for all uses of a month, or for none of them",
            ),
            Self::ShareMissing => Said::invalid(
                "the tool is charged by percentages, and the use has none",
                "give share, the percentage of the tool's cost for this use",
            ),
            Self::ShareZero => {
                Said::invalid("the share is zero", "give a share above zero, or leave the use out")
            }
            Self::ShareNotOfThisMethod => Said::invalid(
                "a share is given, but the tool is not charged by percentages",
                "leave share out",
            ),
            Self::SharesAboveHundred { before, total } => Said::invalid(
                format!("the shares would come to {total} %, {before} % of it given before"),
                "lower the shares: all uses together bear at most 100 %",
            ),
        }
    }
}

/// Logs uses of a tool and attributes what they bear of it; the ledger is not touched.
/// A use in a closed period is kept with its date, and what it bears is dated on the first open day; so is a use of the
/// days on which a sale stood that was taken back later, and what it bears is dated on the day of the taking back.
///
/// # Errors
/// [`UseFinding`] and the objects' findings, all at once, at `/uses/…`.
pub fn log_uses(pen: &mut Pen<'_>, facts: &ToolFacts, asked: &NewUses) -> Result<Recording, Refusal> {
    let uses = checked(facts, asked)?;
    // Up to the day on which a sale was taken back the books had nothing of the tool to give.
    let first_open = facts.gone_until.map_or(pen.books.first_open, |until| until.max(pen.books.first_open));
    let Charges { rows, notes } = charges(facts, &uses, first_open)?;
    let last = uses.iter().map(|one| one.date).max().unwrap_or(first_open);
    let total = Money::sum(pen.base(), rows.iter().map(|row| row.amount))?;
    let name = &facts.tool.name;
    let count = if uses.len() == 1 { "1 use".to_owned() } else { format!("{} uses", uses.len()) };
    let text = format!("{name}: {count}");
    let mut recording = Recording::new(Word::Tools, "uses", last.max(first_open), text);
    recording.depends_on = stands_on(facts, &uses);
    for row in rows {
        let label = Label::Category(Category::Tools);
        recording.attribute(facts.tool.source, row.date, row.object, label, row.amount);
    }
    for one in uses {
        if !recording.about.contains(&one.object) {
            recording.about.push(one.object);
        }
        recording.rows.push(Row::ToolUse(one));
    }
    recording.notes.push(if facts.has_no_basis() {
        "a tool nothing was paid for: its uses are kept and cost nothing".to_owned()
    } else {
        format!("{total} of {name} reaches episodes and projects; the ledger is not touched")
    });
    recording.notes.extend(notes);
    Ok(recording)
}

/// Records that have to stand while these uses do: those whose charge the uses share, and what the charge went by.
fn stands_on(facts: &ToolFacts, uses: &[ToolUse]) -> Vec<RecordId> {
    let shares_month = |one: &ToolUse| uses.iter().any(|used| Month::of(used.date) == Month::of(one.date));
    let reaches = |date: NaiveDate| uses.iter().any(|used| Month::of(date) <= Month::of(used.date));
    let shares = |place: usize, one: &ToolUse| match facts.tool.plan {
        AttributionPlan::StraightLine { .. } => shares_month(one),
        AttributionPlan::EqualShare => true,
        AttributionPlan::ExpenseNow => place == 0,
        AttributionPlan::PerUseHour { .. } | AttributionPlan::Percentages => false,
    };
    let mut records = vec![facts.record];
    let shared = facts.uses.iter().enumerate().filter(|(place, logged)| shares(*place, &logged.row));
    records.extend(shared.map(|(_, logged)| logged.record));
    let estimates = facts.estimates.iter().filter(|logged| reaches(logged.row.date));
    records.extend(estimates.map(|logged| logged.record));
    records.extend(facts.disposal.as_ref().map(|logged| logged.record));
    records
}

/// The uses as rows in order of their dates.
fn checked(facts: &ToolFacts, asked: &NewUses) -> Result<Vec<ToolUse>, Refusal> {
    if asked.uses.is_empty() {
        return Err(Refusal::new("/uses", UseFinding::NoUses));
    }
    if asked.uses.len() > USES_AT_ONCE {
        return Err(Refusal::new("/uses", UseFinding::TooManyUses { given: asked.uses.len() }));
    }
    let mut findings = Findings::new();
    let mut uses = Vec::with_capacity(asked.uses.len());
    for (place, one) in asked.uses.iter().enumerate() {
        uses.extend(findings.keep(one_use(facts, one).at(&format!("/uses/{place}"))));
    }
    findings.keep(shares_within_hundred(facts, &asked.uses).at("/uses"));
    if matches!(facts.tool.plan, AttributionPlan::StraightLine { .. }) {
        for (place, one) in asked.uses.iter().enumerate() {
            findings.keep(hours_as_the_others(facts, &asked.uses, one).at(&format!("/uses/{place}/hours")));
        }
    }
    findings.or_refuse()?;
    uses.sort_by_key(|one| one.date);
    Ok(uses)
}

fn one_use(facts: &ToolFacts, one: &UseAsked) -> Result<ToolUse, Refusal> {
    let mut findings = Findings::new();
    findings.keep(day_fits(facts, one.date).at("/date"));
    let object = findings.keep(ObjectAsked { episode: one.episode, project: one.project }.object());
    findings.keep(hours_fit(facts.tool.plan, one.hours).at("/hours"));
    findings.keep(share_fits(facts.tool.plan, one.share).at("/share"));
    findings.or_refuse()?;
    let object = object.ok_or(crate::rules::objects::ObjectFinding::NeitherNamed)?;
    Ok(ToolUse {
        tool: facts.tool.id,
        date: one.date,
        object,
        hours: one.hours.map(Hours::decimal),
        share: one.share.map(Share::decimal),
    })
}

fn day_fits(facts: &ToolFacts, date: NaiveDate) -> Result<(), UseFinding> {
    let in_service_on = facts.tool.in_service_on;
    if date < in_service_on {
        return Err(UseFinding::BeforeInService { date, in_service_on });
    }
    if date < facts.came_on {
        return Err(UseFinding::BeforeTheBooksHadIt { date, came_on: facts.came_on });
    }
    match facts.departure() {
        Some(disposal) if date > disposal.date => {
            Err(UseFinding::AfterItLeft { date, left_on: disposal.date })
        }
        _ => Ok(()),
    }
}

fn hours_fit(plan: AttributionPlan, hours: Option<Hours>) -> Result<(), UseFinding> {
    match (plan, hours.map(Hours::decimal)) {
        (AttributionPlan::PerUseHour { .. }, None) => Err(UseFinding::HoursMissing),
        (_, Some(hours)) if hours.is_zero() => Err(UseFinding::HoursZero),
        _ => Ok(()),
    }
}

fn share_fits(plan: AttributionPlan, share: Option<Share>) -> Result<(), UseFinding> {
    match (plan, share.map(Share::decimal)) {
        (AttributionPlan::Percentages, None) => Err(UseFinding::ShareMissing),
        (AttributionPlan::Percentages, Some(share)) if share.is_zero() => Err(UseFinding::ShareZero),
        (AttributionPlan::Percentages, Some(_)) | (_, None) => Ok(()),
        (_, Some(_)) => Err(UseFinding::ShareNotOfThisMethod),
    }
}

fn shares_within_hundred(facts: &ToolFacts, asked: &[UseAsked]) -> Result<(), UseFinding> {
    let before: Decimal = facts.uses().filter_map(|one| one.share).sum();
    let total: Decimal =
        asked.iter().filter_map(|one| one.share).map(Share::decimal).sum::<Decimal>() + before;
    let by_percentages = facts.tool.plan == AttributionPlan::Percentages;
    if by_percentages && total > Decimal::ONE_HUNDRED {
        return Err(UseFinding::SharesAboveHundred { before, total });
    }
    Ok(())
}

/// A month is split by hours or by uses, not by both.
fn hours_as_the_others(facts: &ToolFacts, asked: &[UseAsked], one: &UseAsked) -> Result<(), UseFinding> {
    let month = Month::of(one.date);
    let before = facts.uses().map(|other| (other.date, other.hours.is_some()));
    let beside = asked.iter().map(|other| (other.date, other.hours.is_some()));
    let mut others = before.chain(beside).filter(|(date, _)| Month::of(*date) == month);
    let first_has = others.next().is_some_and(|(_, has)| has);
    if one.hours.is_some() == first_has {
        return Ok(());
    }
    Err(UseFinding::HoursOnSomeOnly { date: one.date })
}
