//! What buyers got back, and what of a sale is left.

use chrono::NaiveDate;
use diesel::dsl::{max, sum};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::SaleKept;
use crate::rules::furniture::{SoldFacts, SoldSource};
use crate::rules::ids::{PieceId, RecordId, SourceId};
use crate::rules::money::Money;
use crate::rules::recording::{CostObject, Label, Side};
use crate::rules::rows::{PieceBack, PieceRefund};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::object_of;
use crate::store::schema::{attributions, movements, piece_refunds, sources};
use crate::store::{live, money, read_as};

#[derive(Queryable, Selectable)]
#[diesel(table_name = piece_refunds)]
pub(in crate::store) struct RefundRow {
    piece_id: Uuid,
    record_id: Uuid,
    sale_id: Uuid,
    date: NaiveDate,
    amount: Decimal,
    fees_back: Decimal,
    back: String,
}

impl Tx<'_> {
    pub(in crate::store) async fn add_piece_refund(
        &mut self,
        record: RecordId,
        row: &PieceRefund,
    ) -> Result<(), StoreError> {
        diesel::insert_into(piece_refunds::table)
            .values((
                piece_refunds::books_id.eq(self.id.0),
                piece_refunds::record_id.eq(record.0),
                piece_refunds::piece_id.eq(row.piece.0),
                piece_refunds::sale_id.eq(row.sale.0),
                piece_refunds::date.eq(row.date),
                piece_refunds::amount.eq(row.amount.amount()),
                piece_refunds::fees_back.eq(row.fees_back.amount()),
                piece_refunds::back.eq(row.back.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// What buyers of the piece got back, the earliest first, each with its record.
    /// # Errors
    /// What the database could not do.
    pub async fn refunds_of_piece(
        &mut self,
        id: PieceId,
    ) -> Result<Vec<(RecordId, PieceRefund)>, StoreError> {
        let rows: Vec<RefundRow> = piece_refunds::table
            .filter(piece_refunds::books_id.eq(self.id.0))
            .filter(piece_refunds::piece_id.eq(id.0))
            .filter(live!(piece_refunds))
            .order((piece_refunds::date, piece_refunds::record_id))
            .select(RefundRow::as_select())
            .load(self.connection)
            .await?;
        self.refunds_read(rows)
    }

    /// Those paid in some days, on all pieces.
    pub(in crate::store) async fn refunds_between(
        &mut self,
        first: NaiveDate,
        last: NaiveDate,
    ) -> Result<Vec<(RecordId, PieceRefund)>, StoreError> {
        let rows: Vec<RefundRow> = piece_refunds::table
            .filter(piece_refunds::books_id.eq(self.id.0))
            .filter(piece_refunds::date.between(first, last))
            .filter(live!(piece_refunds))
            .order((piece_refunds::date, piece_refunds::record_id))
            .select(RefundRow::as_select())
            .load(self.connection)
            .await?;
        self.refunds_read(rows)
    }

    fn refunds_read(&self, rows: Vec<RefundRow>) -> Result<Vec<(RecordId, PieceRefund)>, StoreError> {
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let refund = PieceRefund {
                    piece: PieceId(row.piece_id),
                    sale: RecordId(row.sale_id),
                    date: row.date,
                    amount: money("piece_refunds.amount", row.amount, base)?,
                    fees_back: money("piece_refunds.fees_back", row.fees_back, base)?,
                    back: read_as("piece_refunds.back", &row.back, PieceBack::named)?,
                };
                Ok((RecordId(row.record_id), refund))
            })
            .collect()
    }

    /// The piece's sale that stands, with what is left of it.
    /// # Errors
    /// What the database could not do.
    pub async fn sold_piece(&mut self, id: PieceId) -> Result<Option<SoldFacts>, StoreError> {
        let Some(SaleKept { record, sale }) = self.sale_of_piece(id).await? else { return Ok(None) };
        let base = self.card().base;
        let refunds = self.refunds_of_piece(id).await?;
        let of_sale = || refunds.iter().filter(|(_, refund)| refund.sale == record).map(|(_, refund)| refund);
        let sum_of = |parts: Vec<Money>| {
            let sum = parts.iter().map(|part| part.amount()).sum();
            money("piece_refunds.amount", sum, base)
        };
        let refunded = sum_of(of_sale().map(|refund| refund.amount).collect())?;
        let fees_back = sum_of(of_sale().map(|refund| refund.fees_back).collect())?;
        let of_piece = self.piece_in_work(id).await?.piece.source;
        let cost_given = self.given_of(of_piece, Side::Cost).await?;
        let sources = self.sources_of_sale(record, of_piece).await?;
        let mut ids: Vec<Uuid> = sources.iter().map(|of| of.source.0).collect();
        ids.push(of_piece.0);
        let last = self.last_day_of_sources(&ids).await?;
        Ok(Some(SoldFacts { record, sale, sources, refunded, fees_back, cost_given, last }))
    }

    /// The piece itself can be of the same record, where it came and went in one call.
    async fn sources_of_sale(
        &mut self,
        record: RecordId,
        of_piece: SourceId,
    ) -> Result<Vec<SoldSource>, StoreError> {
        let rows: Vec<(Uuid, String)> = sources::table
            .filter(sources::books_id.eq(self.id.0))
            .filter(sources::record_id.eq(record.0))
            .filter(sources::id.ne(of_piece.0))
            .filter(sources::side.ne(Side::Cost.as_str()))
            .order(sources::id)
            .select((sources::id, sources::side))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, side) in rows {
            let left: Option<Decimal> = movements::table
                .filter(movements::books_id.eq(self.id.0))
                .filter(movements::source_id.eq(id))
                .select(sum(movements::amount))
                .first(self.connection)
                .await?;
            let left = money("movements.amount", left.unwrap_or_default(), self.card().base)?;
            let side = read_as("sources.side", &side, Side::named)?;
            let given = self.given_of(SourceId(id), side).await?;
            let attributed = given.into_iter().map(|(object, _, amount)| (object, amount)).collect();
            found.push(SoldSource { source: SourceId(id), side, left, attributed });
        }
        Ok(found)
    }

    /// What of a source stands with whom and as what; who gave everything back is left out.
    pub(super) async fn given_of(
        &mut self,
        source: SourceId,
        side: Side,
    ) -> Result<Vec<(CostObject, Label, Money)>, StoreError> {
        type Row = (Option<Uuid>, Option<Uuid>, String, Decimal);
        let rows: Vec<Row> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .order(attributions::id)
            .select((
                attributions::episode_id,
                attributions::project_id,
                attributions::label,
                attributions::amount,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut given: Vec<(CostObject, Label, Decimal)> = Vec::new();
        for (episode, project, label, amount) in rows {
            let object = object_of(episode, project)?;
            let label = read_as("attributions.label", &label, |label| Label::named(side, label))?;
            match given.iter_mut().find(|(other, as_what, _)| (*other, *as_what) == (object, label)) {
                Some((.., so_far)) => *so_far = so_far.saturating_add(amount),
                None => given.push((object, label, amount)),
            }
        }
        let standing = given.into_iter().filter(|(.., amount)| *amount > Decimal::ZERO);
        standing
            .map(|(object, label, amount)| Ok((object, label, money("attributions.amount", amount, base)?)))
            .collect()
    }

    /// The last day on which anything of these sources was given, taken back or moved.
    async fn last_day_of_sources(&mut self, sources: &[Uuid]) -> Result<Option<NaiveDate>, StoreError> {
        let given: Option<NaiveDate> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq_any(sources))
            .select(max(attributions::date))
            .first(self.connection)
            .await?;
        let moved: Option<NaiveDate> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq_any(sources))
            .select(max(movements::date))
            .first(self.connection)
            .await?;
        Ok(given.max(moved))
    }
}
