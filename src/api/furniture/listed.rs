//! Pieces in a list.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::lists::Placed;
use crate::rules::furniture::PieceState;
use crate::rules::ids::{PieceId, RecordId};
use crate::rules::money::Money;
use crate::rules::rows::{Basis, PieceOrigin, PiecePurpose};
use crate::store::furniture::PieceListed;
use crate::store::records::After;

/// A piece of furniture in a list; amounts in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct PieceListedBody {
    pub id: PieceId,
    /// The record that brought it in.
    pub record: RecordId,
    pub name: String,
    pub origin: PieceOrigin,
    pub purpose: PiecePurpose,
    pub acquired_on: NaiveDate,
    /// What it cost as it came; null where nobody knows, which is never zero.
    #[schema(required)]
    pub basis: Option<Money>,
    /// All that the books have on it.
    pub cost: Money,
    pub state: PieceState,
    /// Left out while it is held.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sold_on: Option<NaiveDate>,
    /// The day it left without a sale.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_on: Option<NaiveDate>,
    /// Where its costs and its sale are shown.
    #[schema(example = "/v1/furniture/0192a1b2-0000-7000-8000-000000000001/standing")]
    pub standing: String,
}

impl From<PieceListed> for PieceListedBody {
    fn from(one: PieceListed) -> Self {
        Self {
            standing: format!("/v1/furniture/{}/standing", one.id),
            id: one.id,
            record: one.record,
            name: one.name,
            origin: one.origin,
            purpose: one.purpose,
            acquired_on: one.acquired_on,
            basis: match one.basis {
                Basis::Known(amount) => Some(amount),
                Basis::Unknown => None,
            },
            cost: one.cost,
            state: PieceState::of(one.sold_on, one.left.map(|(_, how)| how)),
            sold_on: one.sold_on,
            left_on: one.left.map(|(on, _)| on),
        }
    }
}

impl Placed for PieceListedBody {
    fn place(&self) -> After {
        After { date: self.acquired_on, id: self.id.0 }
    }
}
