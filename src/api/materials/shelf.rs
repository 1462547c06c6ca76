//! Lots as JSON: a line of the list, and one with its moves.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize, Serializer};
use utoipa::{IntoParams, ToSchema};

use crate::api::answer::split;
use crate::api::lists::{Cursor, NextPage, SealedCursor};
use crate::rules::ids::{EpisodeId, LotId, PieceId, ProjectId, RecordId};
use crate::rules::materials::{Layer, LotFacts, LotMoved};
use crate::rules::money::Money;
use crate::rules::recording::Category;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{Lot, LotMoveKind, LotStanding, Target};
use crate::rules::treatment::TreatmentAsked;
use crate::rules::units::Factor;
use crate::store::materials::{LotOnShelf, ShelfFilter};

/// What the list of lots takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ShelfQuery {
    /// Lots of that name only.
    #[param(max_length = 600)]
    pub material: Option<String>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

impl ShelfQuery {
    pub fn filter(&self) -> ShelfFilter {
        ShelfFilter { material: self.material.as_deref().map(|name| name.trim().to_owned()) }
    }

    /// The address of the page after that lot, with the same filter.
    pub fn next(&self, cursor: Cursor) -> NextPage {
        NextPage::after("/v1/materials", cursor)
            .with("material", self.material.as_ref())
            .with("limit", self.limit)
    }
}

/// A lot with what is left in it; amounts in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct LotBody {
    pub id: LotId,
    /// The record that put it on the shelf.
    pub record: RecordId,
    /// What is on the shelf, by its name.
    pub material: String,
    /// What it is kept in; every quantity here is in this unit.
    pub unit: String,
    /// The units that a record of it may name, its own first.
    pub units: Vec<LotUnitBody>,
    pub acquired_on: NaiveDate,
    /// As it came.
    #[serde(serialize_with = "plain")]
    #[schema(value_type = String, example = "32")]
    pub quantity: Decimal,
    /// After everything recorded so far.
    #[serde(serialize_with = "plain")]
    #[schema(value_type = String, example = "9.5")]
    pub remaining_quantity: Decimal,
    pub cost: Money,
    pub remaining_cost: Money,
    /// What an issue is to the tax office unless it says otherwise.
    pub treatment: TreatmentAsked,
    /// Where an issue stands on a statement unless it says otherwise.
    pub category: Category,
    /// Whether its cost still waits or was deducted when it was paid.
    pub standing: LotStanding,
}

/// A unit that a lot knows.
#[derive(Debug, Serialize, ToSchema)]
pub struct LotUnitBody {
    /// The unit: `m2`, `l`, `each`, or one of your own.
    pub unit: String,
    /// How much of the lot's own unit one of it is.
    pub factor: Factor,
}

impl LotUnitBody {
    fn of((unit, factor): (&str, Factor)) -> Self {
        Self { unit: unit.to_owned(), factor }
    }
}

/// A lot and every move of it that stands.
#[derive(Debug, Serialize, ToSchema)]
pub struct LotStandingBody {
    #[serde(flatten)]
    pub lot: LotBody,
    /// In the order they were recorded.
    pub moves: Vec<LotMoveBody>,
}

/// One move of a lot: negative leaves it.
#[derive(Debug, Serialize, ToSchema)]
pub struct LotMoveBody {
    pub record: RecordId,
    pub date: NaiveDate,
    pub kind: LotMoveKind,
    /// In the unit the lot is kept in.
    #[serde(serialize_with = "plain")]
    #[schema(value_type = String, example = "-18")]
    pub quantity: Decimal,
    pub cost: Money,
    /// With neither episode, project nor piece it went to overhead or came from there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub episode: Option<EpisodeId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub project: Option<ProjectId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub piece: Option<PieceId>,
    pub treatment: TreatmentAsked,
}

/// Without the zeros that a column adds behind the point.
fn plain<S: Serializer>(quantity: &Decimal, out: S) -> Result<S::Ok, S::Error> {
    out.collect_str(&quantity.normalize())
}

impl LotBody {
    pub fn of(one: &LotOnShelf) -> Self {
        Self::with(&one.lot, one.record, one.remaining)
    }

    fn with(lot: &Lot, record: RecordId, remaining: Layer) -> Self {
        Self {
            id: lot.id,
            record,
            material: lot.material.clone(),
            unit: lot.unit.clone(),
            units: lot.units().into_iter().map(LotUnitBody::of).collect(),
            acquired_on: lot.acquired_on,
            quantity: lot.quantity,
            remaining_quantity: remaining.quantity,
            cost: lot.cost,
            remaining_cost: remaining.cost,
            treatment: lot.treatment.into(),
            category: lot.category,
            standing: lot.standing,
        }
    }
}

impl LotStandingBody {
    /// # Errors
    /// As [`LotFacts::remaining`].
    pub fn of(facts: &LotFacts, moves: &[LotMoved]) -> Result<Self, Refusal> {
        Ok(Self {
            lot: LotBody::with(&facts.lot, facts.record, facts.remaining()?),
            moves: moves.iter().map(LotMoveBody::of).collect(),
        })
    }
}

impl LotMoveBody {
    fn of(moved: &LotMoved) -> Self {
        let row = &moved.row;
        let (episode, project, piece) = match row.to {
            Target::Object(object) => {
                let (episode, project) = split(object);
                (episode, project, None)
            }
            Target::Piece(piece) => (None, None, Some(piece)),
            Target::Overhead => (None, None, None),
        };
        Self {
            record: moved.record,
            date: row.date,
            kind: row.kind,
            quantity: row.quantity,
            cost: row.cost,
            episode,
            project,
            piece,
            treatment: row.treatment.into(),
        }
    }
}
