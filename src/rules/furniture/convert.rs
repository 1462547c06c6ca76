//! The owner's own piece becomes the business's: stock, or a thing on the set.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, PieceId, ProjectId};
use super::super::journal::{Account, Draw, ExpenseClass, TaxClass};
use super::super::money::{Amount, Money};
use super::super::named::named;
use super::super::objects::ObjectAsked;
use super::super::recording::{MovementKind, Pen, Recording, Word};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{Basis, LeavingKind, Piece, PieceLeaving, PieceOrigin, PiecePurpose, Row};
use super::super::split::split_by_largest_remainder;
use super::PieceFacts;
use super::acquire::{take_in, treatment_of};
use super::character::OnSale;

named! {
    /// What the owner's own piece becomes.
    pub enum BusinessPurpose { Resale => "resale", Set => "set" }
}

/// A personal piece that the books know is brought into the business.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewConversion {
    pub date: NaiveDate,
    pub purpose: BusinessPurpose,
    /// What it would have fetched that day as it stood, in the books' currency.
    pub value: Amount,
    /// What the value rests on: an advertisement, an appraisal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// The episode it is for from now on; the piece's own where neither episode nor project is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Of a set piece: what costs put into it from now on are; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expense_class: Option<ExpenseClass>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What can be wrong with bringing a piece into the business.
#[derive(Clone, Debug, PartialEq)]
pub enum ConvertFinding {
    NotTheOwners { name: String, purpose: PiecePurpose },
    GivenUntil { last: NaiveDate, date: NaiveDate },
}

impl Explain for ConvertFinding {
    fn say(&self) -> Said {
        match self {
            Self::NotTheOwners { name, purpose } => Said::conflict(
                format!("{name} is the business's already: its purpose is {purpose}"),
                "name a personal piece; what goes the other way is taken home: POST /v1/furniture/{id}/leaving",
            ),
            Self::GivenUntil { last, date } => Said::conflict(
                format!(
                    "something of its cost was given to an episode or taken back on {last}, after {date}"
                ),
                format!("give {last} or a later day"),
            ),
        }
    }
}

/// Brings the owner's own piece into the business, where it is a piece of its own. Into resale it comes at the lower of
/// its basis and its value: what was drawn for it before comes back as far as that reaches, from the episodes that had
/// it too, and the rest is contributed. On the set nothing is posted, and a sale later has two bases.
/// # Errors
/// [`ConvertFinding`], [`GoingFinding`](super::GoingFinding), the value's own, a closed day, all at once.
/// # Source
/// IRS Publication 551, property changed to business use: the lower of basis and value on that day (seen in Tax Topic
/// 703 and the publication's example).
pub fn convert(pen: &mut Pen<'_>, facts: &PieceFacts, new: &NewConversion) -> Result<Recording, Refusal> {
    let (own, base) = (&facts.piece, pen.base());
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    facts.may_go_unsold(new.date, &mut findings);
    if own.purpose != PiecePurpose::Personal {
        let (name, purpose) = (own.name.clone(), own.purpose);
        findings.add(ConvertFinding::NotTheOwners { name, purpose });
    }
    if let Some(last) = facts.last_given.filter(|last| new.date < *last) {
        findings.add(Refusal::new("/date", ConvertFinding::GivenUntil { last, date: new.date }));
    }
    let value = findings.keep(new.value.not_negative(base).at("/value"));
    let purpose = match new.purpose {
        BusinessPurpose::Resale => PiecePurpose::Resale,
        BusinessPurpose::Set => PiecePurpose::Set,
    };
    let treatment = findings.keep(treatment_of(purpose, new.expense_class));
    let named = ObjectAsked { episode: new.episode, project: new.project }.optional();
    let object = findings.keep(named).flatten().or(own.object);
    findings.or_refuse()?;
    let (value, treatment) = (value.unwrap_or(Money::zero(base)), treatment.unwrap_or(own.treatment));
    let (incurred, added) = (facts.incurred(base)?, facts.added(base)?);
    let basis = OnSale { piece: own, incurred, added, attributed: facts.attributed }.basis(base)?;
    let text = format!("{} brought into the business, for {purpose}", own.name);
    let mut rec = Recording::new(Word::Furniture, "conversion", new.date, text);
    rec.depends_on = facts.records();
    let comes_in_at = match (purpose, basis) {
        (PiecePurpose::Resale, Basis::Known(basis)) => basis.at_most(value),
        _ => Money::zero(base),
    };
    let from_draw = comes_in_at.at_most(incurred);
    let mut entry = pen.entry(new.date, rec.text.clone());
    entry.debit(Account::PiecesForResale, comes_in_at, TaxClass::ResalePurchases);
    entry.credit(Account::Draw(Draw::PersonalItems), from_draw, TaxClass::Personal);
    entry.credit(Account::OwnerContribution, comes_in_at.minus(from_draw)?, None);
    let entry = rec.post(entry)?;
    rec.moves(own.source, new.date, MovementKind::Removed, from_draw.negated(), entry);
    take_back(&mut rec, facts, incurred.minus(from_draw)?)?;
    let origin = if own.origin == PieceOrigin::Gifted { own.origin } else { PieceOrigin::AlreadyOwned };
    let business = Piece {
        id: PieceId(pen.ids.next()),
        source: pen.new_source(),
        origin,
        purpose,
        basis,
        value: Some(
            own.value.filter(|_| origin == PieceOrigin::Gifted).map_or(value, |given| value.at_most(given)),
        ),
        treatment,
        object,
        ..own.clone()
    };
    take_in(&mut rec, new.date, &business, comes_in_at, entry);
    let how = LeavingKind::BroughtIn;
    rec.rows.push(Row::PieceLeaving(PieceLeaving {
        piece: own.id,
        date: new.date,
        how,
        cost: Money::zero(base),
    }));
    rec.notes.extend(in_words(new, basis, value, comes_in_at));
    Ok(rec)
}

/// What went into stock is no cost of an episode any more until it is sold: no more stays given than `stays`.
fn take_back(rec: &mut Recording, facts: &PieceFacts, stays: Money) -> Result<(), Refusal> {
    let back = facts.attributed.minus(facts.attributed.at_most(stays))?;
    if back.is_zero() || facts.given.is_empty() {
        return Ok(());
    }
    let weights: Vec<_> = facts.given.iter().map(|(.., amount)| amount.amount()).collect();
    for ((object, label, _), part) in facts.given.iter().zip(split_by_largest_remainder(back, &weights)?) {
        rec.attribute(facts.piece.source, rec.date, *object, *label, part.negated());
    }
    Ok(())
}

fn in_words(new: &NewConversion, basis: Basis, value: Money, comes_in_at: Money) -> Vec<String> {
    let mut said = vec![match (new.purpose, basis) {
        (BusinessPurpose::Resale, Basis::Known(basis)) => format!(
            "Taken in at {comes_in_at}, the lower of its basis {basis} and its value {value}; it is a piece of its own \
             from now on."
        ),
        (BusinessPurpose::Set, Basis::Known(basis)) => format!(
            "On the set from now on, a piece of its own: nothing is posted. A gain is counted from {basis}, a loss from \
             the lower of that and {value}."
        ),
        (_, Basis::Unknown) => {
            "Question: what did it cost? Until that is known it comes in at nothing, and nothing is deducted."
                .to_owned()
        }
    }];
    if new.evidence.as_deref().is_none_or(|text| text.trim().is_empty()) {
        said.push("Question: what does the value rest on? Keep an advertisement or an appraisal.".to_owned());
    }
    said
}
