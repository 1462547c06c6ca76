//! A piece of furniture as a cost that goes into it has to know it.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::records::object_of;
use super::schema::{piece_sales, pieces};
use super::{live, money, read_as, standing_sale};
use crate::rules::furniture::left_in_words;
use crate::rules::ids::{PieceId, RecordId, SourceId};
use crate::rules::pieces::{Gone, PieceInWork};
use crate::rules::rows::{Basis, Piece, PieceOrigin, PiecePurpose};
use crate::rules::treatment::Treatment;

#[derive(Queryable)]
struct PieceRow {
    record: Uuid,
    source: Uuid,
    name: String,
    origin: String,
    purpose: String,
    acquired_on: NaiveDate,
    basis: Option<Decimal>,
    value: Option<Decimal>,
    treatment: String,
    episode: Option<Uuid>,
    project: Option<Uuid>,
}

impl Tx<'_> {
    /// A piece that a request names.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn piece_in_work(&mut self, id: PieceId) -> Result<PieceInWork, StoreError> {
        let row: Option<PieceRow> = pieces::table
            .filter(pieces::books_id.eq(self.id.0))
            .filter(pieces::id.eq(id.0))
            .filter(live!(pieces))
            .select((
                pieces::record_id,
                pieces::source_id,
                pieces::name,
                pieces::origin,
                pieces::purpose,
                pieces::acquired_on,
                pieces::basis,
                pieces::value,
                pieces::treatment,
                pieces::episode_id,
                pieces::project_id,
            ))
            .first(self.connection)
            .await
            .optional()?;
        let row = row.ok_or_else(|| StoreError::UnknownId { what: "pieces".to_owned(), id: id.0 })?;
        let basis = match row.basis {
            Some(basis) => Basis::Known(money("pieces.basis", basis, self.card().base)?),
            None => Basis::Unknown,
        };
        let object = match (row.episode, row.project) {
            (None, None) => None,
            (episode, project) => Some(object_of(episode, project)?),
        };
        let piece = Piece {
            id,
            source: SourceId(row.source),
            name: row.name,
            origin: read_as("pieces.origin", &row.origin, PieceOrigin::named)?,
            purpose: read_as("pieces.purpose", &row.purpose, PiecePurpose::named)?,
            acquired_on: row.acquired_on,
            basis,
            value: row.value.map(|value| money("pieces.value", value, self.card().base)).transpose()?,
            treatment: read_as("pieces.treatment", &row.treatment, Treatment::of_code)?,
            object,
        };
        let gone = match self.piece_sold_on(id).await? {
            Some(on) => Some(Gone { on, how: "sold" }),
            None => {
                let left = self.leaving_of_piece(id).await?;
                left.map(|(_, left)| Gone { on: left.date, how: left_in_words(left.how) })
            }
        };
        Ok(PieceInWork { piece, record: RecordId(row.record), gone })
    }

    /// The same for a piece that a request may leave out.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn piece_in_work_if_named(
        &mut self,
        id: Option<PieceId>,
    ) -> Result<Option<PieceInWork>, StoreError> {
        match id {
            Some(id) => Ok(Some(self.piece_in_work(id).await?)),
            None => Ok(None),
        }
    }

    async fn piece_sold_on(&mut self, id: PieceId) -> Result<Option<NaiveDate>, StoreError> {
        Ok(piece_sales::table
            .filter(piece_sales::books_id.eq(self.id.0))
            .filter(piece_sales::piece_id.eq(id.0))
            .filter(standing_sale!())
            .select(piece_sales::date)
            .first(self.connection)
            .await
            .optional()?)
    }
}
