//! Joint costs: what one shoot cost is split over the episodes and shorts that came of it.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::give_out::{label_of, left_from, no_other_way};
use super::overhead::OverheadFinding;
use super::{AttributionFinding, SourceStanding, each_once, stands_on};
use crate::rules::ids::{EpisodeId, ProjectId, RecordId, SourceId};
use crate::rules::money::{Money, Quantity};
use crate::rules::objects::ObjectAsked;
use crate::rules::recording::{Category, CostObject, Label, Pen, Recording, Side, Word};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::split::{split_by_largest_remainder, split_each_by_weights};

/// What is left of some costs, for several episodes or projects by weights.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewJoint {
    pub date: NaiveDate,
    /// The costs; GET /v1/sources shows what is left of each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub sources: Vec<SourceId>,
    /// Records whose costs are taken in too: receipts, paid labour, trips. Stock, tools and furniture among them are left
    /// out, for they reach episodes by events of their own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub records: Vec<RecordId>,
    /// The episodes and projects that bear it.
    #[schema(min_items = 1, max_items = 100)]
    pub over: Vec<ObjectWeight>,
    /// The line of the statement. Left out, each cost stands where it stands already, pay with paid labour, a trip with
    /// trips, anything else with overhead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub category: Option<Category>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// One episode or one project with its weight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectWeight {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// How much it counts beside the others: 4 for an episode, 1 for a short.
    pub weight: Quantity,
}

/// The costs that are split.
#[derive(Clone, Debug)]
pub struct JointFacts {
    /// Those named, in their order; one that is named twice counts once.
    pub named: Vec<SourceStanding>,
    /// Those of the records named that are not named themselves.
    pub of_records: Vec<SourceStanding>,
}

/// One cost with what is left of it and where it will stand.
struct Share<'a> {
    standing: &'a SourceStanding,
    label: Label,
    left: Money,
}

/// Splits what is left of all costs together by weights, left-over cents to the largest remainders, ties to the earlier.
/// Each cost is split the same way, so that both each cost and each object add up.
/// # Errors
/// At each place of `/sources`: a cost of which nothing is left, an income, stock on the shelf, a tool or a piece; `/over`: the
/// weights and objects; nothing named or nothing left at all; a closed day.
/// # Source
/// Principles of Managerial Accounting, joint costs (from memory); the weights are the owner's own.
pub fn split_joint(pen: &Pen<'_>, facts: &JointFacts, new: &NewJoint) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    let objects = findings.keep(objects_of(new)).unwrap_or_default();
    let shares = findings.keep(shares_of(pen, facts, new)).unwrap_or_default();
    findings.or_refuse()?;
    let weights: Vec<Decimal> = new.over.iter().map(|one| one.weight.decimal()).collect();
    let there = Money::sum(pen.base(), shares.iter().map(|share| share.left))?;
    let wanted = split_by_largest_remainder(there, &weights).at("/over")?;
    let lefts: Vec<Money> = shares.iter().map(|share| share.left).collect();
    let split = split_each_by_weights(&lefts, &weights).at("/over")?;
    let text = format!("joint costs over {} objects", objects.len());
    let mut recording = Recording::new(Word::Attributions, "joint", new.date, text);
    for (share, parts) in shares.iter().zip(split) {
        for (object, part) in objects.iter().zip(parts) {
            recording.attribute(share.standing.source.id, new.date, *object, share.label, part);
        }
    }
    let parts: Vec<_> = wanted.iter().map(Money::to_string).collect();
    recording.notes.push(format!("{there} is split: {}; the ledger is not touched.", parts.join(", ")));
    recording.depends_on = each_once(shares.iter().flat_map(|share| stands_on(share.standing)));
    Ok(recording)
}

fn objects_of(new: &NewJoint) -> Result<Vec<CostObject>, Refusal> {
    let mut findings = Findings::new();
    let mut objects = Vec::with_capacity(new.over.len());
    for (place, one) in new.over.iter().enumerate() {
        let named = ObjectAsked { episode: one.episode, project: one.project }.object();
        objects.extend(findings.keep(named.at(&format!("/over/{place}"))));
    }
    if new.over.is_empty() {
        findings.add(Refusal::new("/over", AttributionFinding::NoObject));
    }
    findings.or_refuse()?;
    Ok(objects)
}

fn shares_of<'a>(pen: &Pen<'_>, facts: &'a JointFacts, new: &NewJoint) -> Result<Vec<Share<'a>>, Refusal> {
    let mut findings = Findings::new();
    let nothing = Money::zero(pen.base());
    let mut shares = Vec::new();
    for (place, standing) in facts.named.iter().enumerate() {
        if facts.named.iter().take(place).any(|before| before.source.id == standing.source.id) {
            continue;
        }
        let share = share_of(standing, new, nothing).at(&format!("/sources/{place}"));
        shares.extend(findings.keep(share));
    }
    for standing in &facts.of_records {
        if standing.thing.is_some() || standing.source.side != Side::Cost {
            continue;
        }
        if left_from(standing, new.date, nothing)?.is_positive() {
            shares.extend(findings.keep(share_of(standing, new, nothing).at("/records")));
        }
    }
    findings.or_refuse()?;
    if shares.is_empty() {
        let pointer = if new.records.is_empty() { "/sources" } else { "/records" };
        return Err(Refusal::new(pointer, OverheadFinding::NothingToSpread { date: new.date }));
    }
    Ok(shares)
}

fn share_of<'a>(standing: &'a SourceStanding, new: &NewJoint, nothing: Money) -> Result<Share<'a>, Refusal> {
    let (source, date) = (standing.source.text.clone(), new.date);
    no_other_way(standing, date, nothing)?;
    if standing.source.side != Side::Cost {
        return Err(OverheadFinding::NotACost { source }.into());
    }
    let left = left_from(standing, date, nothing)?;
    if !left.is_positive() {
        return Err(AttributionFinding::NothingLeft { source, date }.into());
    }
    let label = label_of(standing, new.category.map(Category::as_str))?;
    Ok(Share { standing, label, left })
}
