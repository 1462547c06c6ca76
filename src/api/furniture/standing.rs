//! How a piece stands, as JSON.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::answer::split;
use crate::rules::furniture::{Outcome, PieceFacts, PieceState, outcome};
use crate::rules::ids::{EpisodeId, PartyId, PieceId, ProjectId, RecordId};
use crate::rules::money::{Currency, Money};
use crate::rules::refusal::Refusal;
use crate::rules::rows::{
    Basis, LeavingKind, PieceBack, PieceLeaving, PieceOrigin, PiecePurpose, PieceRefund, SaleCharacter,
};
use crate::rules::treatment::TreatmentAsked;
use crate::store::furniture::SaleKept;

/// A piece of furniture as it stands; amounts in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceBody {
    pub id: PieceId,
    /// The record that brought it in.
    pub record: RecordId,
    pub name: String,
    pub origin: PieceOrigin,
    pub purpose: PiecePurpose,
    pub acquired_on: NaiveDate,
    pub state: PieceState,
    /// What it cost as it came; null where nobody knows, which is never zero.
    #[schema(required)]
    pub basis: Option<Money>,
    /// What it was worth on the day it was given or came into the business; left out where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<Money>,
    /// What its cost is to the tax office.
    pub treatment: TreatmentAsked,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    /// All that the books have on it.
    pub cost: Money,
    /// Of that, what came after the record that brought it in: materials, paid labour.
    pub added: Money,
    /// Of the cost, what stands with episodes and projects.
    pub attributed: Money,
    /// Each cost that stands, with its record.
    pub costs: Vec<PieceCostBody>,
    /// Left out while it is not sold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sale: Option<PieceSaleBody>,
    /// Left out unless it left without a sale.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<PieceLeavingBody>,
    /// What buyers put down on it and is still theirs.
    pub deposits_held: Money,
    /// The shop it stands in, if it stands in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shop: Option<PieceShopBody>,
    /// What buyers got back, the earliest first.
    pub refunds: Vec<PieceRefundBody>,
}

/// The shop a piece stands in.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceShopBody {
    /// The record that brought it there.
    pub record: RecordId,
    /// The day it was brought there.
    pub since: NaiveDate,
    pub shop: PartyId,
    /// Its part of the price in percent.
    #[schema(value_type = String)]
    pub commission: Decimal,
}

/// What a buyer got back.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceRefundBody {
    pub record: RecordId,
    /// The record of the sale.
    pub sale: RecordId,
    pub date: NaiveDate,
    pub amount: Money,
    pub fees_back: Money,
    pub piece: PieceBack,
}

/// How a piece left without a sale.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceLeavingBody {
    pub record: RecordId,
    pub date: NaiveDate,
    pub how: LeavingKind,
    /// What left the pieces for resale with it.
    pub cost: Money,
}

/// One cost of a piece.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceCostBody {
    pub record: RecordId,
    pub date: NaiveDate,
    pub amount: Money,
}

/// The sale of a piece.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceSaleBody {
    pub record: RecordId,
    pub date: NaiveDate,
    pub gross: Money,
    pub fees: Money,
    pub net: Money,
    /// What the sale sets against its proceeds; null where nobody knows.
    #[schema(required)]
    pub basis: Option<Money>,
    /// The lower basis for a loss, where there are two; what lies between is neither gain nor loss.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis_for_loss: Option<Money>,
    pub character: SaleCharacter,
    /// Above zero a gain, below zero a loss; null where the basis is unknown.
    #[schema(required)]
    pub gain: Option<Money>,
}

const fn known(basis: Basis) -> Option<Money> {
    match basis {
        Basis::Known(amount) => Some(amount),
        Basis::Unknown => None,
    }
}

impl PieceBody {
    /// # Errors
    /// As [`Money::sum`].
    pub fn of(
        facts: &PieceFacts,
        sale: Option<&SaleKept>,
        left: Option<(RecordId, PieceLeaving)>,
        refunds: Vec<(RecordId, PieceRefund)>,
        base: Currency,
    ) -> Result<Self, Refusal> {
        let piece = &facts.piece;
        let (episode, project) = piece.object.map_or((None, None), split);
        let costs = facts.costs.iter();
        Ok(Self {
            id: piece.id,
            record: facts.record,
            name: piece.name.clone(),
            origin: piece.origin,
            purpose: piece.purpose,
            acquired_on: piece.acquired_on,
            state: PieceState::of(
                facts.sale.as_ref().map(|sale| sale.date),
                facts.left.as_ref().map(|left| left.how),
            ),
            basis: known(piece.basis),
            value: piece.value,
            treatment: piece.treatment.into(),
            episode,
            project,
            cost: facts.incurred(base)?,
            added: facts.added(base)?,
            attributed: facts.attributed,
            costs: costs
                .map(|cost| PieceCostBody { record: cost.record, date: cost.date, amount: cost.amount })
                .collect(),
            sale: sale.map(|kept| PieceSaleBody::of(kept, base)).transpose()?,
            deposits_held: facts.deposits.held,
            shop: facts.consigned.as_ref().map(|(record, at)| PieceShopBody {
                record: *record,
                since: at.date,
                shop: at.shop,
                commission: at.commission.normalize(),
            }),
            refunds: refunds
                .into_iter()
                .map(|(record, PieceRefund { sale, date, amount, fees_back, back, .. })| PieceRefundBody {
                    record,
                    sale,
                    date,
                    amount,
                    fees_back,
                    piece: back,
                })
                .collect(),
            left: left.map(|(record, PieceLeaving { date, how, cost, .. })| PieceLeavingBody {
                record,
                date,
                how,
                cost,
            }),
        })
    }
}

impl PieceSaleBody {
    fn of(kept: &SaleKept, base: Currency) -> Result<Self, Refusal> {
        let sale = &kept.sale;
        Ok(Self {
            record: kept.record,
            date: sale.date,
            gross: sale.gross,
            fees: sale.fees,
            net: sale.gross.minus(sale.fees)?,
            basis: known(sale.basis),
            basis_for_loss: sale.basis_for_loss,
            character: sale.character,
            gain: match outcome(sale)? {
                Outcome::Gain(gain) => Some(gain),
                Outcome::Loss(loss) => Some(loss.negated()),
                Outcome::Even => Some(Money::zero(base)),
                Outcome::Unknown => None,
            },
        })
    }
}
