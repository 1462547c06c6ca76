//! Furniture: pieces, what was put into them, and their sales.

mod leavings;
mod listed;
mod promised;
mod refunds;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::object_columns;
use super::schema::{attributions, movements, piece_sales, pieces, record_reversals, records};
use super::{live, money, read_as, standing_sale};
use crate::rules::furniture::{PieceCost, PieceFacts};
use crate::rules::ids::{PieceId, RecordId, SourceId};
use crate::rules::money::{Currency, Money};
use crate::rules::recording::{Side, Word};
use crate::rules::rows::{Basis, Piece, PieceBack, PieceSale, SaleCharacter};

pub use listed::PieceListed;

/// A sale with the record that made it.
#[derive(Clone, Debug)]
pub struct SaleKept {
    pub record: RecordId,
    pub sale: PieceSale,
}

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
                pieces::value.eq(row.value.map(Money::amount)),
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
                piece_sales::basis_for_loss.eq(row.basis_for_loss.map(Money::amount)),
                piece_sales::character.eq(row.character.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// A piece with every cost that stands, what of it stands with episodes, and its sale.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn piece(&mut self, id: PieceId) -> Result<PieceFacts, StoreError> {
        let work = match self.piece_in_work(id).await {
            Err(StoreError::UnknownId { .. }) => return Err(Self::missing("piece", id)),
            found => found?,
        };
        let source = work.piece.source;
        let refunds = self.refunds_of_piece(id).await?;
        let came_back = refunds.into_iter().rfind(|(_, refund)| refund.back == PieceBack::CameBack);
        Ok(PieceFacts {
            record: work.record,
            since: self.piece_since(work.record).await?,
            costs: self.costs_of_piece(source).await?,
            attributed: self.attributed_of(source).await?,
            given: self.given_of(source, Side::Cost).await?,
            last_given: self.last_given_of(source).await?,
            sale: self.sale_of_piece(id).await?.map(|kept| kept.sale),
            left: self.leaving_of_piece(id).await?.map(|(_, left)| left),
            gone_until: self.gone_until(id).await?.max(came_back.as_ref().map(|(_, refund)| refund.date)),
            came_back: came_back.map(|(record, _)| record),
            deposits: self.deposits_on(id).await?,
            consigned: self.consigned(id).await?,
            piece: work.piece,
        })
    }

    /// What was taken back is left out together with what took it back.
    async fn costs_of_piece(&mut self, source: SourceId) -> Result<Vec<PieceCost>, StoreError> {
        let rows: Vec<(Uuid, NaiveDate, Decimal)> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq(source.0))
            .filter(live!(movements))
            .filter(diesel::dsl::not(diesel::dsl::exists(
                record_reversals::table
                    .filter(record_reversals::books_id.eq(movements::books_id))
                    .filter(record_reversals::reversal_id.eq(movements::record_id)),
            )))
            .order(movements::id)
            .select((movements::record_id, movements::date, movements::amount))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(record, date, amount)| {
                let amount = money("movements.amount", amount, base)?;
                Ok(PieceCost { record: RecordId(record), date, amount })
            })
            .collect()
    }

    /// What of a source stands with episodes and projects: a reversal's rows undo what they take back.
    async fn attributed_of(&mut self, source: SourceId) -> Result<Money, StoreError> {
        let sum: Option<Decimal> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .select(diesel::dsl::sum(attributions::amount))
            .get_result(self.connection)
            .await?;
        money("attributions.amount", sum.unwrap_or_default(), self.card().base)
    }

    /// Set for what came out of another piece.
    async fn piece_since(&mut self, record: RecordId) -> Result<Option<NaiveDate>, StoreError> {
        Ok(records::table
            .filter(records::books_id.eq(self.id.0))
            .filter(records::id.eq(record.0))
            .filter(records::word.eq(Word::Furniture.as_str()))
            .filter(records::kind.eq_any(["parts", "conversion"]))
            .select(records::date)
            .first(self.connection)
            .await
            .optional()?)
    }

    pub(super) async fn last_given_of(&mut self, source: SourceId) -> Result<Option<NaiveDate>, StoreError> {
        Ok(attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .select(diesel::dsl::max(attributions::date))
            .get_result(self.connection)
            .await?)
    }

    /// The last day on which a sale or a leaving of the piece was taken back that is not its own.
    async fn gone_until(&mut self, id: PieceId) -> Result<Option<NaiveDate>, StoreError> {
        let mut went: Vec<(Uuid, NaiveDate)> = piece_sales::table
            .filter(piece_sales::books_id.eq(self.id.0))
            .filter(piece_sales::piece_id.eq(id.0))
            .select((piece_sales::record_id, piece_sales::date))
            .load(self.connection)
            .await?;
        went.extend(self.leavings_ever(id).await?);
        self.back_after(&went).await
    }

    /// The sale of a piece that stands, if it was sold and did not come back.
    /// # Errors
    /// What the database could not do.
    pub async fn sale_of_piece(&mut self, id: PieceId) -> Result<Option<SaleKept>, StoreError> {
        let row: Option<SaleRow> = piece_sales::table
            .filter(piece_sales::books_id.eq(self.id.0))
            .filter(piece_sales::piece_id.eq(id.0))
            .filter(standing_sale!())
            .select(SaleRow::as_select())
            .first(self.connection)
            .await
            .optional()?;
        let Some(row) = row else { return Ok(None) };
        let record = RecordId(row.record_id);
        Ok(Some(SaleKept { record, sale: row.sale(self.card().base)? }))
    }
}

/// A sale as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = piece_sales)]
pub(super) struct SaleRow {
    piece_id: Uuid,
    record_id: Uuid,
    date: NaiveDate,
    gross: Decimal,
    fees: Decimal,
    basis: Option<Decimal>,
    basis_for_loss: Option<Decimal>,
    character: String,
}

impl SaleRow {
    pub(super) fn record(&self) -> RecordId {
        RecordId(self.record_id)
    }

    pub(super) fn sale(self, base: Currency) -> Result<PieceSale, StoreError> {
        let basis = self.basis.map(|basis| money("piece_sales.basis", basis, base)).transpose()?;
        let for_loss = self.basis_for_loss.map(|basis| money("piece_sales.basis_for_loss", basis, base));
        Ok(PieceSale {
            piece: PieceId(self.piece_id),
            date: self.date,
            gross: money("piece_sales.gross", self.gross, base)?,
            fees: money("piece_sales.fees", self.fees, base)?,
            basis: basis.map_or(Basis::Unknown, Basis::Known),
            basis_for_loss: for_loss.transpose()?,
            character: read_as("piece_sales.character", &self.character, SaleCharacter::named)?,
        })
    }
}
