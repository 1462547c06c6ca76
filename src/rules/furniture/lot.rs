//! Several pieces bought together for one price.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, MoneyAccountId, PartyId, PieceId, ProjectId};
use super::super::journal::{ExpenseClass, TaxClass};
use super::super::money::{Amount, Currency, Exchange, Money, MoneyFinding, Rate};
use super::super::objects::ObjectAsked;
use super::super::recording::{CostObject, MoneyAccount, Pen, Recording, Word, words_of};
use super::super::refusal::{At, Findings, Refusal};
use super::super::rows::{Basis, Piece, PieceOrigin, PiecePurpose};
use super::super::split::split_by_largest_remainder;
use super::super::treatment::Treatment;
use super::acquire::{take_in, treatment_of};

/// Pieces bought together: a house clearance, a lot at an auction, a dresser with its mirror.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPieceLot {
    pub date: NaiveDate,
    /// What was paid for all of them together, delivery and the auction's premium included; above zero.
    pub price: Amount,
    pub paid_from: MoneyAccountId,
    /// What came; the price is split over them by their values.
    #[schema(min_items = 1, max_items = 100)]
    pub pieces: Vec<PieceInLot>,
    /// The seller.
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

/// One piece of a lot.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceInLot {
    /// What it is called, such as "hall mirror".
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// What it is for; it decides what a sale will be to the tax office.
    pub purpose: PiecePurpose,
    /// What it would have fetched by itself that day, in the currency of the price; zero for what is worth nothing.
    pub value: Amount,
    /// The episode it was got for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// Of a set piece: which expense it is; supplies where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expense_class: Option<ExpenseClass>,
}

/// One piece as it was read.
struct Read {
    name: String,
    value: Money,
    treatment: Treatment,
    object: Option<CostObject>,
}

/// Buys several pieces for one price, which is split over them by their fair values to the last cent: left-over cents
/// go to the largest remainders, ties to the earlier piece. Each is then a piece of its own.
/// # Errors
/// What is wrong with the price and each piece, all at once; `SplitFinding::NoWeight` at `/pieces` where all values are
/// zero; a closed day.
/// # Source
/// IRS Publication 551, allocating the basis: things bought together for a lump sum share it by their fair values
/// (from memory).
pub fn acquire_lot(
    pen: &mut Pen<'_>,
    paid_from: MoneyAccount,
    new: &NewPieceLot,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    findings.keep(pen.open_day(new.date));
    let exchange = findings.keep(Exchange::on(new.date, new.currency, new.rate, pen.base()));
    let mut pieces = Vec::with_capacity(new.pieces.len());
    let mut price = None;
    if let Some(exchange) = exchange {
        let paid = new.price.positive(exchange.currency).and_then(|own| exchange.in_base(own));
        price = findings.keep(paid.at("/price"));
        for (place, piece) in new.pieces.iter().enumerate() {
            let read = read(piece, exchange);
            pieces.extend(findings.keep(read.map_err(|refusal| refusal.under(&format!("/pieces/{place}")))));
        }
    }
    findings.or_refuse()?;
    let price = price.unwrap_or(Money::zero(pen.base()));
    let weights: Vec<Decimal> = pieces.iter().map(|piece| piece.value.amount()).collect();
    let parts = split_by_largest_remainder(price, &weights).at("/pieces")?;
    let names: Vec<_> = pieces.iter().map(|piece| piece.name.as_str()).collect();
    let text = format!("bought together: {}", names.join(", "));
    let mut rec = Recording::new(Word::Furniture, "lot", new.date, text.clone());
    rec.party = new.party;
    let mut entry = pen.entry(new.date, text);
    for (piece, part) in pieces.iter().zip(&parts) {
        let (account, class) = piece.treatment.books_to(TaxClass::ResalePurchases);
        entry.debit(account, *part, class);
    }
    entry.credit(paid_from.paying(), price, None);
    let entry = rec.post(entry)?;
    for ((asked, read), part) in new.pieces.iter().zip(pieces).zip(parts) {
        rec.notes.push(format!("{}: {part} of the {price}, by its value of {}.", read.name, read.value));
        let piece = Piece {
            id: PieceId(pen.ids.next()),
            source: pen.new_source(),
            name: read.name,
            origin: PieceOrigin::Bought,
            purpose: asked.purpose,
            acquired_on: new.date,
            basis: Basis::Known(part),
            value: Some(read.value),
            treatment: read.treatment,
            object: read.object,
        };
        take_in(&mut rec, new.date, &piece, part, entry);
    }
    Ok(rec)
}

fn read(piece: &PieceInLot, exchange: Exchange) -> Result<Read, Refusal> {
    let mut findings = Findings::new();
    let name = findings.keep(words_of("name", &piece.name).at("/name"));
    let value = worth(piece.value, exchange);
    let value = findings.keep(value.at("/value"));
    let treatment = findings.keep(treatment_of(piece.purpose, piece.expense_class));
    let object = ObjectAsked { episode: piece.episode, project: piece.project }.optional();
    let object = findings.keep(object).flatten();
    findings.or_refuse()?;
    Ok(Read {
        name: name.unwrap_or_default(),
        value: value.unwrap_or(Money::zero(exchange.base)),
        treatment: treatment.unwrap_or(Treatment::Resale),
        object,
    })
}

fn worth(value: Amount, exchange: Exchange) -> Result<Money, MoneyFinding> {
    exchange.in_base(value.not_negative(exchange.currency)?)
}
