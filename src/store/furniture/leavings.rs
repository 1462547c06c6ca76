//! Pieces that left without a sale.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{PieceId, RecordId};
use crate::rules::rows::{LeavingKind, PieceLeaving};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::piece_leavings;
use crate::store::{live, money, read_as};

impl Tx<'_> {
    pub(in crate::store) async fn add_piece_leaving(
        &mut self,
        record: RecordId,
        row: &PieceLeaving,
    ) -> Result<(), StoreError> {
        diesel::insert_into(piece_leavings::table)
            .values((
                piece_leavings::books_id.eq(self.id.0),
                piece_leavings::record_id.eq(record.0),
                piece_leavings::piece_id.eq(row.piece.0),
                piece_leavings::date.eq(row.date),
                piece_leavings::how.eq(row.how.as_str()),
                piece_leavings::cost.eq(row.cost.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// How the piece left without a sale, if it did, with the record of it.
    /// # Errors
    /// What the database could not do.
    pub async fn leaving_of_piece(
        &mut self,
        id: PieceId,
    ) -> Result<Option<(RecordId, PieceLeaving)>, StoreError> {
        let row: Option<(Uuid, NaiveDate, String, Decimal)> = piece_leavings::table
            .filter(piece_leavings::books_id.eq(self.id.0))
            .filter(piece_leavings::piece_id.eq(id.0))
            .filter(live!(piece_leavings))
            .select((
                piece_leavings::record_id,
                piece_leavings::date,
                piece_leavings::how,
                piece_leavings::cost,
            ))
            .first(self.connection)
            .await
            .optional()?;
        let Some((record, date, how, cost)) = row else { return Ok(None) };
        let how = read_as("piece_leavings.how", &how, LeavingKind::named)?;
        let cost = money("piece_leavings.cost", cost, self.card().base)?;
        Ok(Some((RecordId(record), PieceLeaving { piece: id, date, how, cost })))
    }

    /// Those of the piece that were taken back too.
    pub(super) async fn leavings_ever(&mut self, id: PieceId) -> Result<Vec<(Uuid, NaiveDate)>, StoreError> {
        Ok(piece_leavings::table
            .filter(piece_leavings::books_id.eq(self.id.0))
            .filter(piece_leavings::piece_id.eq(id.0))
            .select((piece_leavings::record_id, piece_leavings::date))
            .load(self.connection)
            .await?)
    }

    pub(super) async fn left_among(
        &mut self,
        ids: &[Uuid],
    ) -> Result<HashMap<Uuid, (NaiveDate, LeavingKind)>, StoreError> {
        let rows: Vec<(Uuid, NaiveDate, String)> = piece_leavings::table
            .filter(piece_leavings::books_id.eq(self.id.0))
            .filter(piece_leavings::piece_id.eq_any(ids))
            .filter(live!(piece_leavings))
            .select((piece_leavings::piece_id, piece_leavings::date, piece_leavings::how))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(piece, date, how)| {
                Ok((piece, (date, read_as("piece_leavings.how", &how, LeavingKind::named)?)))
            })
            .collect()
    }
}
