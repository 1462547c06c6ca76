//! A piece comes: bought, already owned, found, gifted or built.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PartyId, PieceId, ProjectId};
use super::super::journal::{Account, ExpenseClass, TaxClass};
use super::super::money::{Amount, Currency, Exchange, Money, MoneyFinding, Rate};
use super::super::objects::ObjectAsked;
use super::super::recording::{
    Category, CostObject, Label, MoneyAccount, Pen, RecordFinding, Recording, Side, Source, SourceKind, Word,
};
use super::super::refusal::{At, Explain, Findings, Refusal, Said};
use super::super::rows::{Basis, Piece, PieceOrigin, PiecePurpose, Row};
use super::super::treatment::{Treatment, TreatmentFinding};

/// A piece of furniture that comes into the books.
#[doc(alias = "dresser")]
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPiece {
    /// What it is called, such as "oak dresser".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// The day it was paid for, found, given, built or, where it was owned before, brought into the business.
    pub date: NaiveDate,
    pub origin: PieceOrigin,
    /// What it is for; it decides what a sale will be to the tax office.
    pub purpose: PiecePurpose,
    /// The day the owner came to have it, where that was before `date`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acquired_on: Option<NaiveDate>,
    /// What it cost; of a gift, what it had cost the giver. Not with found and built pieces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Amount>,
    /// Nobody knows what it cost: a question to the preparer, never zero.
    #[serde(default)]
    pub basis_unknown: bool,
    /// What it would have fetched that day as it stood; needed to bring a piece owned before into resale. Where a gift or
    /// a set piece owned before was worth less than it had cost, this counts for a loss and `basis` for a gain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// What the value rests on: an advertisement, an appraisal, a receipt for the like.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// The money account that paid, for a piece that was bought.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_from: Option<MoneyAccountId>,
    /// The episode it was got for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Of a set piece: which expense it is; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expense_class: Option<ExpenseClass>,
    /// The seller or the giver.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub currency: Option<Currency>,
    /// Base units for one unit of `currency`, where that is foreign.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate: Option<Rate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What can be wrong with a piece that comes.
#[derive(Clone, Debug, PartialEq)]
pub enum AcquireFinding {
    PriceMissing,
    PaidFromMissing,
    PaidButNotBought { origin: PieceOrigin },
    BasisKnownAndUnknown,
    BasisOf { origin: PieceOrigin },
    ValueMissing { origin: PieceOrigin },
    SwapHasItsOwnCall,
    ClassWithoutSet { purpose: PiecePurpose },
    AcquiredAfter { acquired_on: NaiveDate, date: NaiveDate },
}

impl Explain for AcquireFinding {
    fn say(&self) -> Said {
        match self {
            Self::PriceMissing => Said::invalid(
                "a piece that was bought is given without its price",
                "give the price in basis; what was paid can not be unknown here. A piece bought before these \
                 books began has the origin already_owned",
            ),
            Self::PaidFromMissing => Said::invalid(
                "a piece that was bought is given without the account that paid",
                "give paid_from; the owner's own pocket is an account too",
            ),
            Self::PaidButNotBought { origin } => Said::invalid(
                format!("an account is said to have paid, but the origin is {}", origin_in_words(*origin)),
                "leave paid_from out, or say the origin bought",
            ),
            Self::BasisKnownAndUnknown => {
                Said::invalid("the basis is given and said to be unknown", "leave one of the two out")
            }
            Self::BasisOf { origin } => Said::invalid(
                format!("a piece that was {} cost nothing as it came", origin_in_words(*origin)),
                "leave basis and basis_unknown out; what goes into it is recorded as materials and labour",
            ),
            Self::ValueMissing { origin } => Said::invalid(
                format!(
                    "a piece that was {} goes into resale at the lower of basis and value, and the value \
                     is missing",
                    origin_in_words(*origin)
                ),
                "give value: what it would have fetched that day as it stood",
            ),
            Self::SwapHasItsOwnCall => Said::invalid(
                "a piece taken for another one is recorded with the one that was given",
                "send it to POST /v1/furniture/{id}/swap of the piece that was given",
            ),
            Self::ClassWithoutSet { purpose } => Said::invalid(
                format!("a class of expense is given, but the purpose is {purpose}"),
                "leave expense_class out, or say the purpose set",
            ),
            Self::AcquiredAfter { acquired_on, date } => Said::invalid(
                format!("it is said to be acquired on {acquired_on}, after {date}, the day of this record"),
                "correct one of the two dates",
            ),
        }
    }
}

pub(super) const fn origin_in_words(origin: PieceOrigin) -> &'static str {
    match origin {
        PieceOrigin::Bought => "bought",
        PieceOrigin::AlreadyOwned => "already owned",
        PieceOrigin::Found => "found",
        PieceOrigin::Gifted => "given",
        PieceOrigin::Built => "built",
        PieceOrigin::Swapped => "swapped for another",
    }
}

/// A piece that comes, as it was read, in the books' base currency.
pub(super) struct Arrival<'a> {
    new: &'a NewPiece,
    basis: Basis,
    value: Option<Money>,
    paid_from: Option<MoneyAccount>,
    treatment: Treatment,
    object: Option<CostObject>,
}

/// Brings a piece into the books. `paid_from` is the account that `new.paid_from` names.
///
/// Bought for resale it waits in pieces for resale; bought for the set it is an expense at once, and its
/// episode's cost in full; bought for the owner it is a draw. A piece owned before or given by a person goes
/// into resale at the lower of basis and value. Found and built pieces have no basis, and no entry.
///
/// # Errors
/// [`AcquireFinding`] and the ground's findings at their fields, all at once.
/// # Source
/// IRS Publication 551, Basis of Assets: property changed to business use, property received as a gift (the
/// gift rule seen in a page citing it; the conversion rule from memory).
pub fn acquire(
    pen: &mut Pen<'_>,
    paid_from: Option<MoneyAccount>,
    new: &NewPiece,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    if let Some(acquired_on) = new.acquired_on.filter(|acquired_on| *acquired_on > new.date) {
        let date = new.date;
        findings.add(Refusal::new("/acquired_on", AcquireFinding::AcquiredAfter { acquired_on, date }));
    }
    let object = ObjectAsked { episode: new.episode, project: new.project }.optional();
    let object = findings.keep(object).flatten();
    let exchange = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let arrival = exchange.and_then(|exchange| read(new, exchange, paid_from, object, &mut findings));
    findings.or_refuse()?;
    let text = format!("{}: {}, for {}", new.name.trim(), origin_in_words(new.origin), new.purpose);
    let mut rec = Recording::new(Word::Furniture, "piece", new.date, text);
    rec.party = new.party;
    if let Some(arrival) = arrival {
        let (_, amount) = bring_in(pen, &mut rec, &arrival)?;
        rec.notes.extend(arrival.standing_in_words(amount));
    }
    Ok(rec)
}

/// Writes the piece into `rec`; gives it back with what the books took it in at.
pub(super) fn bring_in(
    pen: &mut Pen<'_>,
    rec: &mut Recording,
    arrival: &Arrival<'_>,
) -> Result<(Piece, Money), Refusal> {
    let new = arrival.new;
    let piece = Piece {
        id: PieceId(pen.ids.next()),
        source: pen.new_source(),
        name: new.name.trim().to_owned(),
        origin: new.origin,
        purpose: new.purpose,
        acquired_on: new.acquired_on.unwrap_or(new.date),
        basis: arrival.basis,
        value: arrival.value,
        treatment: arrival.treatment,
        object: arrival.object,
    };
    let (account, class) = arrival.treatment.books_to(TaxClass::ResalePurchases);
    let amount = arrival.carried_at(pen.base());
    let mut entry = pen.entry(new.date, format!("{}: {}", piece.name, origin_in_words(new.origin)));
    entry.debit(account, amount, class);
    entry.credit(arrival.paid_from.map_or(Account::OwnerContribution, MoneyAccount::paying), amount, None);
    let entry = rec.post(entry)?;
    take_in(rec, new.date, &piece, amount, entry);
    rec.notes.extend(arrival.conversion_in_words(amount));
    Ok((piece, amount))
}

/// Writes the piece's row and opens its source with `amount`. What is kept is a cost of its episode at once, what is
/// for resale waits for the sale.
pub(super) fn take_in(
    rec: &mut Recording,
    date: NaiveDate,
    piece: &Piece,
    amount: Money,
    entry: Option<usize>,
) {
    let source =
        Source { id: piece.source, side: Side::Cost, kind: SourceKind::Piece, text: piece.name.clone() };
    rec.open_source(source, date, amount, entry);
    if let (PiecePurpose::Set | PiecePurpose::Personal, Some(object)) = (piece.purpose, piece.object) {
        rec.attribute(piece.source, date, object, Label::Category(Category::Furniture), amount);
    }
    rec.about.extend(piece.object);
    rec.rows.push(Row::Piece(piece.clone()));
}

/// Reads everything but the dates, the object and the currency; what is wrong goes to `findings`.
pub(super) fn read<'a>(
    new: &'a NewPiece,
    exchange: Exchange,
    paid_from: Option<MoneyAccount>,
    object: Option<CostObject>,
    findings: &mut Findings,
) -> Option<Arrival<'a>> {
    if new.name.trim().is_empty() {
        findings.add(Refusal::new("/name", RecordFinding::NeedsText { what: "name" }));
    }
    match (new.origin, paid_from) {
        (PieceOrigin::Bought, None) => {
            findings.add(Refusal::new("/paid_from", AcquireFinding::PaidFromMissing));
        }
        (PieceOrigin::Bought, Some(_)) | (_, None) => {}
        (origin, Some(_)) => {
            findings.add(Refusal::new("/paid_from", AcquireFinding::PaidButNotBought { origin }));
        }
    }
    let treatment = findings.keep(treatment_of(new.purpose, new.expense_class));
    let basis = findings.keep(basis(new, exchange));
    let value = findings.keep(value(new, exchange)).flatten();
    if new.is_converted() && new.value.is_none() && matches!(basis, Some(Basis::Known(_))) {
        findings.add(Refusal::new("/value", AcquireFinding::ValueMissing { origin: new.origin }));
    }
    Some(Arrival { new, basis: basis?, value, paid_from, treatment: treatment?, object })
}

impl NewPiece {
    /// Whether something of the owner's own is brought into stock.
    fn is_converted(&self) -> bool {
        matches!(self.origin, PieceOrigin::AlreadyOwned | PieceOrigin::Gifted)
            && self.purpose == PiecePurpose::Resale
    }
}

pub(super) fn treatment_of(purpose: PiecePurpose, class: Option<ExpenseClass>) -> Result<Treatment, Refusal> {
    match (purpose, class) {
        (PiecePurpose::Set, Some(ExpenseClass::Depreciation | ExpenseClass::SmallTools)) => {
            Err(TreatmentFinding::DepreciationIsNotBought).at("/expense_class")
        }
        (PiecePurpose::Set, class) => Ok(Treatment::Expense(class.unwrap_or(ExpenseClass::Supplies))),
        (PiecePurpose::Resale, None) => Ok(Treatment::Resale),
        (PiecePurpose::Personal, None) => Ok(Treatment::Personal),
        (purpose, Some(_)) => {
            Err(Refusal::new("/expense_class", AcquireFinding::ClassWithoutSet { purpose }))
        }
    }
}

fn basis(new: &NewPiece, exchange: Exchange) -> Result<Basis, Refusal> {
    let known = match new.basis {
        Some(_) if new.basis_unknown => return Err(AcquireFinding::BasisKnownAndUnknown).at("/basis"),
        Some(amount) if amount.decimal() < Decimal::ZERO => {
            return Err(MoneyFinding::Negative { amount: amount.decimal() }).at("/basis");
        }
        Some(amount) => Some(exchange.base_of(amount).at("/basis")?),
        None => None,
    };
    match (new.origin, known) {
        (PieceOrigin::Bought, Some(price)) if price.is_positive() => Ok(Basis::Known(price)),
        (PieceOrigin::Bought, _) => Err(AcquireFinding::PriceMissing).at("/basis"),
        (PieceOrigin::Swapped, _) => Err(AcquireFinding::SwapHasItsOwnCall).at("/origin"),
        (PieceOrigin::Found | PieceOrigin::Built, None) if !new.basis_unknown => {
            Ok(Basis::Known(Money::zero(exchange.base)))
        }
        (origin @ (PieceOrigin::Found | PieceOrigin::Built), _) => {
            Err(AcquireFinding::BasisOf { origin }).at("/basis")
        }
        (PieceOrigin::AlreadyOwned | PieceOrigin::Gifted, Some(basis)) => Ok(Basis::Known(basis)),
        (PieceOrigin::AlreadyOwned | PieceOrigin::Gifted, None) => Ok(Basis::Unknown),
    }
}

fn value(new: &NewPiece, exchange: Exchange) -> Result<Option<Money>, Refusal> {
    let Some(value) = new.value else { return Ok(None) };
    if value.decimal() < Decimal::ZERO {
        return Err(MoneyFinding::Negative { amount: value.decimal() }).at("/value");
    }
    Ok(Some(exchange.base_of(value).at("/value")?))
}

impl Arrival<'_> {
    /// What the books take it in at.
    fn carried_at(&self, base: Currency) -> Money {
        match (self.new.origin, self.basis) {
            (PieceOrigin::Bought, Basis::Known(price)) => price,
            (_, Basis::Known(basis)) if self.new.is_converted() => {
                self.value.map_or(basis, |value| basis.at_most(value))
            }
            _ => Money::zero(base),
        }
    }

    /// What it became, and what is open about it, for the answer.
    fn standing_in_words(&self, amount: Money) -> Vec<String> {
        let mut said = vec![match (self.new.purpose, amount.is_zero()) {
            (PiecePurpose::Resale, true) => {
                "For resale, with nothing in stock yet: what goes into it is its cost when it is sold."
                    .to_owned()
            }
            (PiecePurpose::Resale, false) => format!(
                "For resale: {amount} wait in pieces for resale and become a cost on the day of the sale."
            ),
            (PiecePurpose::Set, false) => format!(
                "For the set: {amount} are a business expense now, and proceeds of a sale later are a gain."
            ),
            (PiecePurpose::Personal, false) => {
                format!("The owner's own: {amount} are a draw and never a deduction.")
            }
            (PiecePurpose::Set | PiecePurpose::Personal, true) => {
                "Nothing was paid for it through these books, so there is no entry.".to_owned()
            }
        }];
        if self.basis == Basis::Unknown {
            let whom = if self.new.origin == PieceOrigin::Gifted { " the giver" } else { "" };
            said.push(format!(
                "Question: what did it cost{whom}? Until that is known the basis is unknown, not zero."
            ));
        }
        said
    }

    /// At what the owner's own came into stock or what two bases it has, and what is open about that.
    fn conversion_in_words(&self, amount: Money) -> Vec<String> {
        let mut said = Vec::new();
        let (stock, given) = (self.new.is_converted(), self.new.origin == PieceOrigin::Gifted);
        let second =
            given || (self.new.origin == PieceOrigin::AlreadyOwned && self.new.purpose == PiecePurpose::Set);
        if !stock && !second {
            return said;
        }
        match (self.basis, self.value) {
            (Basis::Known(basis), Some(value)) if stock => {
                said.push(format!(
                    "Taken in at {amount}, the lower of its basis {basis} and its value {value}."
                ));
            }
            (Basis::Known(basis), Some(value)) if value.amount() < basis.amount() => said.push(format!(
                "It has two bases: {basis} counts for a gain, its value {value} for a loss, and what lies between is \
                 neither."
            )),
            (Basis::Known(_), None) => said.push(
                "Question: what was it worth that day? Worth less than it had cost, the value counts for a loss."
                    .to_owned(),
            ),
            _ => {}
        }
        let no_evidence = self.new.evidence.as_deref().is_none_or(|text| text.trim().is_empty());
        if no_evidence && (stock || self.value.is_some()) {
            said.push(
                "Question: what does the value rest on? Keep an advertisement or an appraisal.".to_owned(),
            );
        }
        said
    }
}
