//! Overhead pools: which costs of which days are spread together, and what was estimated ahead.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::overhead::OverheadFinding;
use crate::rules::ids::{OverheadPoolId, RecordId};
use crate::rules::journal::ExpenseClass;
use crate::rules::money::{Amount, Hours};
use crate::rules::recording::{Pen, Recording, Word, words_of};
use crate::rules::refusal::{At, Explain, Findings, Refusal, Said};
use crate::rules::rows::{OverheadEstimate, OverheadPool, Row};

/// Costs that are spread together, such as the studio's rent or the insurance of a year.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOverheadPool {
    #[schema(min_length = 1, max_length = 200, example = "studio rent")]
    pub name: String,
    /// The first day whose costs belong to it.
    pub from: NaiveDate,
    /// The last day whose costs belong to it.
    pub to: NaiveDate,
    /// Costs of these classes that no episode took up. With neither classes nor records: the whole of overhead that no
    /// other pool of those days names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub classes: Vec<ExpenseClass>,
    /// Costs of these records, such as one receipt; they come before a pool that names their class.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub records: Vec<RecordId>,
    /// What it was expected to come to, with `estimated_hours`: their quotient is the rate for an hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimated_cost: Option<Amount>,
    /// The own hours that were expected in those days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub estimated_hours: Option<Hours>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// Why a pool is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum PoolFinding {
    HalfAnEstimate,
    NoHours,
    ClassTaken { class: ExpenseClass, pool: String },
    RecordTaken { pool: String },
    WholeTaken { pool: String },
}

impl Explain for PoolFinding {
    fn say(&self) -> Said {
        match self {
            Self::HalfAnEstimate => Said::invalid(
                "one of estimated_cost and estimated_hours is given without the other",
                "give both, or neither to spread what there is",
            ),
            Self::NoHours => Said::invalid(
                "no hours are expected, so an hour would bear an amount without end",
                "give the hours that are expected, or leave the estimate out",
            ),
            Self::ClassTaken { class, pool } => Said::conflict(
                format!("costs of class {class} belong to the pool '{pool}' in some of those days"),
                "leave the class out, give other days, or take that pool back first",
            ),
            Self::RecordTaken { pool } => Said::conflict(
                format!("the record belongs to the pool '{pool}' in some of those days"),
                "leave it out, give other days, or take that pool back first",
            ),
            Self::WholeTaken { pool } => Said::conflict(
                format!("the pool '{pool}' is the whole of overhead in some of those days"),
                "name classes or records, give other days, or take that pool back first",
            ),
        }
    }
}

/// States a pool; nothing is spread and nothing is posted. `others` are the pools that stand.
/// # Errors
/// [`PoolFinding`]; a period that ends before it begins; a cost that is not above zero.
/// # Source
/// Principles of Managerial Accounting, ch. 4 (a rate estimated ahead: cost over base), from memory.
pub fn state_pool(
    pen: &mut Pen<'_>,
    others: &[OverheadPool],
    new: &NewOverheadPool,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    let name = findings.keep(words_of("name", &new.name).at("/name"));
    let (from, to) = (new.from, new.to);
    if to < from {
        findings.add(Refusal::new("/to", OverheadFinding::EndsBeforeItBegins { from, to }));
    }
    let estimate = findings.keep(estimate_of(pen, new)).flatten();
    findings.or_refuse()?;
    let pool = OverheadPool {
        id: OverheadPoolId(pen.ids.next()),
        name: name.unwrap_or_default(),
        from,
        to,
        classes: new.classes.clone(),
        records: new.records.clone(),
        estimate,
    };
    apart_from(others, &pool)?;
    let text = format!("overhead pool: {}", pool.name);
    let mut recording = Recording::new(Word::Attributions, "overhead_pool", from, text);
    recording.depends_on.clone_from(&pool.records);
    if let Some(OverheadEstimate { cost, hours }) = pool.estimate {
        recording.notes.push(format!(
            "An hour bears {cost} / {} when it is spread at the estimate (POST /v1/attributions/overhead).",
            hours.normalize()
        ));
    }
    recording.rows.push(Row::OverheadPool(pool));
    Ok(recording)
}

fn estimate_of(pen: &Pen<'_>, new: &NewOverheadPool) -> Result<Option<OverheadEstimate>, Refusal> {
    let mut findings = Findings::new();
    let cost = new.estimated_cost.map(|cost| cost.positive(pen.base())).transpose().at("/estimated_cost");
    let cost = findings.keep(cost).flatten();
    let hours = new.estimated_hours.map(|hours| hours.decimal());
    if hours == Some(Decimal::ZERO) {
        findings.add(Refusal::new("/estimated_hours", PoolFinding::NoHours));
    }
    if new.estimated_cost.is_some() != new.estimated_hours.is_some() {
        let missing = if hours.is_some() { "/estimated_cost" } else { "/estimated_hours" };
        findings.add(Refusal::new(missing, PoolFinding::HalfAnEstimate));
    }
    findings.or_refuse()?;
    Ok(cost.zip(hours).map(|(cost, hours)| OverheadEstimate { cost, hours }))
}

/// No cost belongs to two pools that were stated the same way.
fn apart_from(others: &[OverheadPool], pool: &OverheadPool) -> Result<(), Refusal> {
    let mut findings = Findings::new();
    for other in others.iter().filter(|other| other.has_days_of(pool)) {
        let named = || other.name.clone();
        if pool.is_whole() && other.is_whole() {
            findings.add(Refusal::new("/classes", PoolFinding::WholeTaken { pool: named() }));
        }
        for (place, class) in pool.classes.iter().enumerate() {
            if other.classes.contains(class) {
                let taken = PoolFinding::ClassTaken { class: *class, pool: named() };
                findings.add(Refusal::new(format!("/classes/{place}"), taken));
            }
        }
        for (place, record) in pool.records.iter().enumerate() {
            if other.records.contains(record) {
                let taken = PoolFinding::RecordTaken { pool: named() };
                findings.add(Refusal::new(format!("/records/{place}"), taken));
            }
        }
    }
    findings.or_refuse()
}
