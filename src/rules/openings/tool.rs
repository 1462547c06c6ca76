//! A tool that was there before the books.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{OpeningFinding, came_before, in_base, open, post};
use crate::rules::ids::ToolId;
use crate::rules::journal::Account;
use crate::rules::money::{Amount, Hours, Money};
use crate::rules::recording::{MovementKind, Pen, Recording, Side, Source, SourceKind, Word};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::rows::{Convention, PriorDepreciation, Row, ToolOrigin};
use crate::rules::tool_terms::{ToolArrival, ToolAsked};
use crate::rules::vehicles::VehiclesAtRate;

/// A tool as it stood on the day the books begin; sums in the books' currency.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolOpening {
    pub terms: ToolAsked,
    /// How it came; `bought` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<ToolOrigin>,
    /// The day it came.
    pub acquired_on: NaiveDate,
    /// What it cost then; with `converted_from_personal` the lower of that and its value on the day it came into the
    /// business.
    pub cost: Amount,
    /// With `converted_from_personal`: what it had cost the owner, where its value was lower. A gain is counted from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis_for_gain: Option<Amount>,
    /// All depreciation taken on it before the books begin, first-year write-offs included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depreciation_taken: Option<Amount>,
    /// Needed where depreciation was taken: the convention the earlier returns used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub convention: Option<Convention>,
    /// Of `depreciation_taken`: section 179 and special allowance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_year_write_off: Option<Amount>,
    /// Hours it ran before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_before: Option<Hours>,
    /// What of its cost earlier episodes have used up: it is not attributed again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attributed_before: Option<Amount>,
}

#[derive(Clone, Copy)]
struct Sums {
    cost: Money,
    basis_for_gain: Money,
    taken: Money,
    write_off: Money,
    attributed: Money,
}

/// Tools at cost against accumulated depreciation and opening equity. What earlier episodes used up leaves the source
/// by a memo movement without an entry: the account keeps the whole cost, the source what is left to attribute.
pub(super) fn state(
    pen: &mut Pen<'_>,
    date: NaiveDate,
    at_rate: &VehiclesAtRate,
    asked: &ToolOpening,
) -> Result<Recording, Refusal> {
    let origin = asked.origin.unwrap_or(ToolOrigin::Bought);
    let mut findings = Findings::new();
    findings.keep(came_before(asked.acquired_on, date).at("/acquired_on"));
    let sums = findings.keep(sums(pen, asked, origin));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let sums = sums.unwrap_or(Sums {
        cost: nothing,
        basis_for_gain: nothing,
        taken: nothing,
        write_off: nothing,
        attributed: nothing,
    });
    let (id, source) = (ToolId(pen.ids.next()), pen.new_source());
    let arrival = ToolArrival {
        origin,
        came_on: asked.acquired_on,
        cost: sums.cost,
        basis_for_gain: Some(sums.basis_for_gain),
        invoice_price: None,
        exchange: in_base(pen),
        hours_before: asked.hours_before.map_or(Decimal::ZERO, Hours::decimal),
        prior: prior_of(asked, sums)?,
        at_rate,
    };
    let tool = asked.terms.tool(id, source, &arrival).at("/terms")?;
    let most = tool.cost.minus(tool.salvage)?;
    if sums.attributed.amount() > most.amount() {
        let why = OpeningFinding::AttributedBeyondCost { attributed: sums.attributed, most };
        return Err(Refusal::new("/attributed_before", why));
    }
    let text = format!("opening position: {}", tool.name);
    let mut recording = Recording::new(Word::Openings, "tool", date, text);
    let accounts =
        [(Account::ToolsAtCost, sums.cost), (Account::AccumulatedDepreciation, sums.taken.negated())];
    let entry = post(pen, &mut recording, &accounts)?;
    let of_tool = Source { id: source, side: Side::Cost, kind: SourceKind::Tool, text: tool.name.clone() };
    open(&mut recording, of_tool, sums.cost, entry);
    recording.moves(source, date, MovementKind::Removed, sums.attributed.negated(), None);
    recording.rows.push(Row::Tool(tool));
    if !sums.attributed.is_zero() {
        recording.notes.push(format!(
            "{} of its cost belongs to episodes before these books and is not attributed again.",
            sums.attributed
        ));
    }
    Ok(recording)
}

fn sums(pen: &Pen<'_>, asked: &ToolOpening, origin: ToolOrigin) -> Result<Sums, Refusal> {
    let exchange = in_base(pen);
    let mut findings = Findings::new();
    let cost = findings.keep(asked.cost.not_negative(pen.base()).at("/cost"));
    let for_gain = asked.basis_for_gain.map(|more| more.not_negative(pen.base()).at("/basis_for_gain"));
    let for_gain = for_gain.and_then(|more| findings.keep(more));
    let taken = findings.keep(exchange.part(asked.depreciation_taken).at("/depreciation_taken"));
    let write_off = findings.keep(exchange.part(asked.first_year_write_off).at("/first_year_write_off"));
    let attributed = findings.keep(exchange.part(asked.attributed_before).at("/attributed_before"));
    findings.or_refuse()?;
    let nothing = Money::zero(pen.base());
    let cost = cost.unwrap_or(nothing);
    let sums = Sums {
        cost,
        basis_for_gain: for_gain.unwrap_or(cost),
        taken: taken.unwrap_or(nothing),
        write_off: write_off.unwrap_or(nothing),
        attributed: attributed.unwrap_or(nothing),
    };
    let mut findings = Findings::new();
    if !sums.cost.is_zero() && origin.basis_of(sums.cost).is_zero() {
        findings.add(Refusal::new("/cost", OpeningFinding::NoBasis { origin }));
    }
    if for_gain.is_some() && origin != ToolOrigin::ConvertedFromPersonal {
        findings.add(Refusal::new("/basis_for_gain", OpeningFinding::OneBasis { origin }));
    } else if sums.basis_for_gain.amount() < sums.cost.amount() {
        let (for_gain, cost) = (sums.basis_for_gain, sums.cost);
        findings.add(Refusal::new("/basis_for_gain", OpeningFinding::GainBasisBelowCost { for_gain, cost }));
    }
    if sums.taken.amount() > sums.cost.amount() {
        let why = OpeningFinding::TakenBeyondCost { taken: sums.taken, cost: sums.cost };
        findings.add(Refusal::new("/depreciation_taken", why));
    }
    if sums.write_off.amount() > sums.taken.amount() {
        let why = OpeningFinding::WriteOffBeyondTaken { write_off: sums.write_off, taken: sums.taken };
        findings.add(Refusal::new("/first_year_write_off", why));
    }
    if !sums.attributed.is_zero() && sums.cost.is_zero() {
        let why = OpeningFinding::NoCostsBefore { field: "attributed_before" };
        findings.add(Refusal::new("/attributed_before", why));
    }
    findings.or_refuse()?;
    Ok(sums)
}

/// # Source
/// Pub. 946 ch. 4: a convention once used is kept over the recovery period; from memory.
fn prior_of(asked: &ToolOpening, sums: Sums) -> Result<Option<PriorDepreciation>, Refusal> {
    let Sums { taken, write_off, .. } = sums;
    match asked.convention {
        None if taken.is_zero() => Ok(None),
        None => Err(Refusal::new("/convention", OpeningFinding::ConventionMissing)),
        Some(convention) => {
            Ok(Some(PriorDepreciation { taken, convention, first_year_write_off: write_off }))
        }
    }
}
