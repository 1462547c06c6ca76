//! Furniture: pieces and their sales.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::recording::object_columns;
use super::schema::{piece_sales, pieces};
use crate::rules::ids::RecordId;
use crate::rules::rows::{Basis, Piece, PieceSale};

/// An unknown basis is NULL: never zero.
fn basis_column(basis: Basis) -> Option<rust_decimal::Decimal> {
    match basis {
        Basis::Known(amount) => Some(amount.amount()),
        Basis::Unknown => None,
    }
}

impl Tx<'_> {
    pub(super) async fn add_piece(&mut self, record: RecordId, row: &Piece) -> Result<(), StoreError> {
        let (episode, project) = object_columns(row.object);
        diesel::insert_into(pieces::table)
            .values((
                pieces::books_id.eq(self.id.0),
                pieces::record_id.eq(record.0),
                pieces::id.eq(row.id.0),
                pieces::source_id.eq(row.source.0),
                pieces::name.eq(&row.name),
                pieces::origin.eq(row.origin.as_str()),
                pieces::purpose.eq(row.purpose.as_str()),
                pieces::acquired_on.eq(row.acquired_on),
                pieces::basis.eq(basis_column(row.basis)),
                pieces::treatment.eq(row.treatment.code()),
                pieces::episode_id.eq(episode),
                pieces::project_id.eq(project),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_piece_sale(
        &mut self,
        record: RecordId,
        row: &PieceSale,
    ) -> Result<(), StoreError> {
        diesel::insert_into(piece_sales::table)
            .values((
                piece_sales::books_id.eq(self.id.0),
                piece_sales::record_id.eq(record.0),
                piece_sales::piece_id.eq(row.piece.0),
                piece_sales::date.eq(row.date),
                piece_sales::gross.eq(row.gross.amount()),
                piece_sales::fees.eq(row.fees.amount()),
                piece_sales::basis.eq(basis_column(row.basis)),
                piece_sales::character.eq(row.character.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
