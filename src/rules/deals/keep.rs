//! A promise to a sponsor is kept.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::DealFinding;
use crate::rules::ids::RecordId;
use crate::rules::journal::Stream;
use crate::rules::recording::{CostObject, Recording, Word, words_of};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Deal, Promise, PromiseKept, Row};

/// That a promise was kept.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPromiseKept {
    /// The day it was kept.
    pub date: NaiveDate,
    /// Where that can be seen: an address, or a note such as "from minute four on".
    #[serde(rename = "where", default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500)]
    pub kept_where: Option<String>,
}

/// A promise and what became of it.
#[derive(Clone, Debug)]
pub struct PromiseStanding {
    pub promise: Promise,
    /// That it was kept, with the record that says so.
    pub kept: Option<(RecordId, PromiseKept)>,
}

/// What the rules must know of a promise that is kept.
#[derive(Clone, Debug)]
pub struct PromiseFacts {
    pub deal: Deal,
    /// The record that agreed the deal and made the promise.
    pub record: RecordId,
    pub standing: PromiseStanding,
}

/// Records that a promise was kept. Nothing is posted: a closed period is as little in its way as in that of the deal.
/// # Errors
/// [`DealFinding::KeptAlready`]; [`DealFinding::BeforeAgreed`] at `/date`; an empty `/where`.
pub fn keep_promise(facts: &PromiseFacts, asked: &NewPromiseKept) -> Result<Recording, Refusal> {
    let (deal, promise) = (&facts.deal, &facts.standing.promise);
    let mut findings = Findings::new();
    if let Some((_, kept)) = &facts.standing.kept {
        let (what, kept_on) = (promise.what.clone(), kept.kept_on);
        findings.add(DealFinding::KeptAlready { what, kept_on });
    }
    if asked.date < deal.agreed_on {
        let why = DealFinding::BeforeAgreed { date: asked.date, agreed_on: deal.agreed_on };
        findings.add(Refusal::new("/date", why));
    }
    let place = asked.kept_where.as_deref().map(|text| words_of("place", text).at("/where")).transpose();
    let kept_where = findings.keep(place).flatten();
    findings.or_refuse()?;
    let text = format!("promise kept: {}", promise.what);
    let mut recording = Recording::new(Word::Deals, "promise_kept", asked.date, text);
    recording.party = Some(deal.sponsor);
    recording.streams.push(Stream::Sponsorship);
    recording.depends_on.push(facts.record);
    recording.about.extend(promise.episode.map(CostObject::Episode));
    let kept = PromiseKept { promise: promise.id, kept_on: asked.date, kept_where };
    recording.rows.push(Row::PromiseKept(kept));
    recording.notes.push(match (asked.date - promise.due_on).num_days() {
        1 => format!("One day late: it was due on {}.", promise.due_on),
        late if late > 1 => format!("{late} days late: it was due on {}.", promise.due_on),
        _ => format!("In time: it was due on {}.", promise.due_on),
    });
    Ok(recording)
}
