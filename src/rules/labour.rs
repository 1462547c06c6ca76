//! Labour: hours by a person on an episode, a project or a piece. The owner's own hours and a volunteer's are
//! kept as hours; only pay enters the ledger.

#[cfg(test)]
mod tests;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, MoneyAccountId, PartyId, PieceId, ProjectId};
use super::journal::{Account, ExpenseClass, TaxClass};
use super::money::{Amount, Currency, Exchange, Hours, Money, Rate};
use super::objects::TargetAsked;
use super::pieces::{Gone, PieceInWork};
use super::recording::{
    Category, CostObject, Label, MoneyAccount, Pen, RecordFinding, Recording, Side, Source, SourceKind, Word,
};
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{Labour, LabourStanding, PiecePurpose, Row, Target};
use super::treatment::{Treatment, TreatmentAsked, TreatmentName};

/// Hours somebody worked. One of episode, project and piece says on what; none of them is overhead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLabour {
    pub date: NaiveDate,
    /// Who worked, by name.
    #[schema(min_length = 1, max_length = 200)]
    pub person: String,
    /// `own` is the owner's own work: it never enters the ledger.
    pub standing: LabourStanding,
    pub hours: Hours,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    /// With `paid` only: what the helper was paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid: Option<Amount>,
    /// With `paid` only: the money account that paid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of a foreign `currency`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    /// What the pay is to the tax office; contract labour where it is left out. Work that stays in the owner's
    /// home may be `home_improvement`. A piece decides for itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<TreatmentAsked>,
    /// The helper as a party, where pay has to be reported.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
}

/// What the rules must know of what the request names.
#[derive(Clone, Debug, Default)]
pub struct LabourFacts {
    pub paid_from: Option<MoneyAccount>,
    /// Given wherever the request names a piece.
    pub piece: Option<PieceInWork>,
}

/// Why hours are refused.
#[derive(Clone, Debug, PartialEq)]
pub enum LabourFinding {
    HoursZero,
    PayOfUnpaid { standing: LabourStanding },
    PaidFromOfUnpaid { standing: LabourStanding },
    TreatmentOfUnpaid { standing: LabourStanding },
    PayMissing,
    PaidFromMissing,
    PieceDecides,
    NoSuchTreatment { name: TreatmentName },
    PieceGone { gone: Gone },
}

impl Explain for LabourFinding {
    fn say(&self) -> Said {
        match self {
            Self::HoursZero => Said::invalid("zero hours are given", "give the hours worked"),
            Self::PayOfUnpaid { standing } => Said::invalid(
                format!("pay is given for {standing} hours, which never enter the ledger"),
                "leave paid out, or say \"standing\": \"paid\"; the owner's own pay is a draw",
            ),
            Self::PaidFromOfUnpaid { standing } => Said::invalid(
                format!("a money account is named for {standing} hours, for which nothing is paid"),
                "leave paid_from out, or say \"standing\": \"paid\"",
            ),
            Self::TreatmentOfUnpaid { standing } => Said::invalid(
                format!("a treatment is given for {standing} hours, which are nothing to the tax office"),
                "leave treatment out, or say \"standing\": \"paid\"",
            ),
            Self::PayMissing => {
                Said::invalid("the helper is paid, and no pay is given", "give paid, what the helper got")
            }
            Self::PaidFromMissing => Said::invalid(
                "the helper is paid, and no money account is named",
                "give paid_from; the owner's own purse is an account of kind own_pocket",
            ),
            Self::PieceDecides => Said::invalid(
                "a treatment is given for work on a piece, which has its own",
                "leave treatment out",
            ),
            Self::NoSuchTreatment { name } => Said::invalid(
                format!("pay for work on no piece can not be treated as {name}"),
                "name the piece, or treat the pay as an expense, a home improvement or repair, or personal",
            ),
            Self::PieceGone { gone: Gone { on, how } } => Said::conflict(
                format!("the piece was {how} on {on}, and its cost was settled that day"),
                "reverse the sale first if the work came before it, or record the work on an episode",
            ),
        }
    }
}

/// Records hours. Pay for a resale piece goes into the piece; pay for a set or personal piece is a cost of the
/// episode or project it was got for; other pay is contract labour unless it is treated otherwise.
///
/// # Errors
/// [`LabourFinding`] and those of dates, objects and money, all at once.
pub fn work(pen: &mut Pen<'_>, facts: &LabourFacts, new: &NewLabour) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    if new.person.trim().is_empty() {
        findings.add(Refusal::new("/person", RecordFinding::NeedsText { what: "person" }));
    }
    if new.hours.decimal() == Decimal::ZERO {
        findings.add(Refusal::new("/hours", LabourFinding::HoursZero));
    }
    let asked = TargetAsked { episode: new.episode, project: new.project, piece: new.piece };
    let target = findings.keep(asked.target());
    let piece = findings.keep(piece_fits(facts, new)).flatten();
    let pay = findings.keep(pay(pen, facts, new));
    let treatment = findings.keep(treatment(new).at("/treatment"));
    findings.or_refuse()?;
    let target = target.unwrap_or(Target::Overhead);
    let nothing = Money::zero(pen.base());
    let person = new.person.trim();
    let text = format!("{person}: {} hours, {}", new.hours, new.standing);
    let mut recording = Recording::new(Word::Labour, "labour", new.date, text);
    recording.party = new.party;
    recording.depends_on.extend(piece.map(|worked| worked.record));
    recording.about.extend(object_of(target, piece));
    match (pay.flatten(), piece) {
        (Some(pay), Some(worked)) => pay_on_piece(pen, &mut recording, worked, pay)?,
        (Some(pay), None) => {
            let treatment = treatment.unwrap_or(Treatment::Expense(ExpenseClass::ContractLabour));
            pay_on_object(pen, &mut recording, target, treatment, pay)?;
        }
        (None, _) => recording.notes.push("hours only: nothing enters the ledger".to_owned()),
    }
    recording.rows.push(Row::Labour(Labour {
        person: person.to_owned(),
        standing: new.standing,
        date: new.date,
        hours: new.hours.decimal(),
        target,
        paid: pay.flatten().map_or(nothing, |(_, amount)| amount),
    }));
    Ok(recording)
}

fn object_of(target: Target, piece: Option<&PieceInWork>) -> Option<CostObject> {
    match target {
        Target::Object(object) => Some(object),
        Target::Piece(_) => piece.and_then(|worked| worked.piece.object),
        Target::Overhead => None,
    }
}

fn piece_fits<'a>(facts: &'a LabourFacts, new: &NewLabour) -> Result<Option<&'a PieceInWork>, Refusal> {
    if new.piece.is_none() {
        return Ok(None);
    }
    let Some(worked) = &facts.piece else {
        return Err(Refusal::new("/piece", RecordFinding::Unknown { what: "furniture" }));
    };
    let began = worked.piece.acquired_on;
    if new.date < began {
        let why = RecordFinding::BeforeItBegan { what: "piece", began, date: new.date };
        return Err(Refusal::new("/date", why));
    }
    match worked.gone {
        Some(gone) if new.date > gone.on || new.standing == LabourStanding::Paid => {
            Err(Refusal::new("/piece", LabourFinding::PieceGone { gone }))
        }
        _ => Ok(Some(worked)),
    }
}

/// The account that paid and the pay in the base currency; none for unpaid hours.
fn pay(
    pen: &Pen<'_>,
    facts: &LabourFacts,
    new: &NewLabour,
) -> Result<Option<(MoneyAccount, Money)>, Refusal> {
    let mut findings = Findings::new();
    let standing = new.standing;
    let exchange = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let unpaid = standing != LabourStanding::Paid;
    let amount = match (unpaid, new.paid) {
        (true, Some(_)) => {
            findings.add(Refusal::new("/paid", LabourFinding::PayOfUnpaid { standing }));
            None
        }
        (true, None) => None,
        (false, None) => {
            findings.add(Refusal::new("/paid", LabourFinding::PayMissing));
            None
        }
        (false, Some(paid)) => exchange.and_then(|exchange| {
            let positive = paid.positive(exchange.currency).and_then(|_| exchange.base_of(paid));
            findings.keep(positive.at("/paid"))
        }),
    };
    match (unpaid, facts.paid_from) {
        (true, Some(_)) => {
            findings.add(Refusal::new("/paid_from", LabourFinding::PaidFromOfUnpaid { standing }));
        }
        (false, None) => findings.add(Refusal::new("/paid_from", LabourFinding::PaidFromMissing)),
        _ => {}
    }
    findings.or_refuse()?;
    Ok(facts.paid_from.zip(amount))
}

fn treatment(new: &NewLabour) -> Result<Treatment, Refusal> {
    let Some(asked) = new.treatment else { return Ok(Treatment::Expense(ExpenseClass::ContractLabour)) };
    if new.standing != LabourStanding::Paid {
        return Err(LabourFinding::TreatmentOfUnpaid { standing: new.standing }.into());
    }
    if new.piece.is_some() {
        return Err(LabourFinding::PieceDecides.into());
    }
    match asked.treatment()? {
        treatment @ (Treatment::Resale | Treatment::Tool) => {
            Err(Refusal::new("/as", LabourFinding::NoSuchTreatment { name: treatment.name() }))
        }
        treatment => Ok(treatment),
    }
}

fn posted(
    pen: &Pen<'_>,
    recording: &mut Recording,
    to: (Account, Option<TaxClass>),
    (account, amount): (MoneyAccount, Money),
) -> Result<Option<usize>, Refusal> {
    let mut entry = pen.entry(recording.date, recording.text.clone());
    entry.debit(to.0, amount, to.1);
    entry.credit(account.paying(), amount, None);
    recording.post(entry)
}

fn pay_on_piece(
    pen: &Pen<'_>,
    recording: &mut Recording,
    worked: &PieceInWork,
    pay: (MoneyAccount, Money),
) -> Result<(), Refusal> {
    let piece = &worked.piece;
    // Pay is contract labour whatever class of expense the piece itself was bought as.
    let treatment = match piece.treatment {
        Treatment::Expense(_) => Treatment::Expense(ExpenseClass::ContractLabour),
        other => other,
    };
    let entry = posted(pen, recording, treatment.books_to(TaxClass::ResaleLabour), pay)?;
    let (date, amount) = (recording.date, pay.1);
    worked.take_cost(recording, date, amount, entry);
    let name = &piece.name;
    match (piece.purpose, piece.object) {
        (PiecePurpose::Resale, _) => recording.notes.push(format!(
            "{amount} goes into {name} and reaches the statement as cost of the piece when it is sold"
        )),
        (_, Some(_)) => {}
        (_, None) => {
            recording.notes.push(format!("{amount} goes into {name}, which serves no episode: unattributed"));
        }
    }
    Ok(())
}

fn pay_on_object(
    pen: &mut Pen<'_>,
    recording: &mut Recording,
    target: Target,
    treatment: Treatment,
    pay: (MoneyAccount, Money),
) -> Result<(), Refusal> {
    let entry = posted(pen, recording, treatment.books_to(TaxClass::ResaleLabour), pay)?;
    let (date, amount) = (recording.date, pay.1);
    let source = Source {
        id: pen.new_source(),
        side: Side::Cost,
        kind: SourceKind::PaidLabour,
        text: recording.text.clone(),
    };
    let id = source.id;
    recording.open_source(source, date, amount, entry);
    match target {
        Target::Object(object) => {
            recording.attribute(id, date, object, Label::Category(Category::PaidLabour), amount);
        }
        _ => recording.notes.push("on no episode or project: the pay is overhead, unattributed".to_owned()),
    }
    Ok(())
}
