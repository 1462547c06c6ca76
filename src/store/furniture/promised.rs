//! What stands open on a piece: a buyer's deposit, a shop that sells it.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::furniture::Deposits;
use crate::rules::ids::{PartyId, PieceId, RecordId};
use crate::rules::rows::{ConsignmentAct, DepositAct, PieceConsignment, PieceDeposit};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{piece_consignments, piece_deposits};
use crate::store::{live, money, read_as};

impl Tx<'_> {
    pub(in crate::store) async fn add_piece_consignment(
        &mut self,
        record: RecordId,
        row: &PieceConsignment,
    ) -> Result<(), StoreError> {
        diesel::insert_into(piece_consignments::table)
            .values((
                piece_consignments::books_id.eq(self.id.0),
                piece_consignments::record_id.eq(record.0),
                piece_consignments::piece_id.eq(row.piece.0),
                piece_consignments::date.eq(row.date),
                piece_consignments::act.eq(row.act.as_str()),
                piece_consignments::shop_id.eq(row.shop.0),
                piece_consignments::commission.eq(row.commission),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(in crate::store) async fn add_piece_deposit(
        &mut self,
        record: RecordId,
        row: &PieceDeposit,
    ) -> Result<(), StoreError> {
        diesel::insert_into(piece_deposits::table)
            .values((
                piece_deposits::books_id.eq(self.id.0),
                piece_deposits::record_id.eq(record.0),
                piece_deposits::piece_id.eq(row.piece.0),
                piece_deposits::date.eq(row.date),
                piece_deposits::act.eq(row.act.as_str()),
                piece_deposits::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// The shop a piece stands in: the last that happened is that it was handed over.
    pub(super) async fn consigned(
        &mut self,
        id: PieceId,
    ) -> Result<Option<(RecordId, PieceConsignment)>, StoreError> {
        type Row = (Uuid, NaiveDate, String, Uuid, Decimal);
        let row: Option<Row> = piece_consignments::table
            .filter(piece_consignments::books_id.eq(self.id.0))
            .filter(piece_consignments::piece_id.eq(id.0))
            .filter(live!(piece_consignments))
            .order((piece_consignments::date.desc(), piece_consignments::record_id.desc()))
            .select((
                piece_consignments::record_id,
                piece_consignments::date,
                piece_consignments::act,
                piece_consignments::shop_id,
                piece_consignments::commission,
            ))
            .first(self.connection)
            .await
            .optional()?;
        let Some((record, date, act, shop, commission)) = row else { return Ok(None) };
        let act = read_as("piece_consignments.act", &act, ConsignmentAct::named)?;
        let at = PieceConsignment { piece: id, date, act, shop: PartyId(shop), commission };
        Ok((act == ConsignmentAct::HandedOver).then_some((RecordId(record), at)))
    }

    /// What buyers put down on a piece and is still theirs.
    pub(super) async fn deposits_on(&mut self, id: PieceId) -> Result<Deposits, StoreError> {
        let rows: Vec<(Uuid, NaiveDate, String, Decimal)> = piece_deposits::table
            .filter(piece_deposits::books_id.eq(self.id.0))
            .filter(piece_deposits::piece_id.eq(id.0))
            .filter(live!(piece_deposits))
            .order(piece_deposits::record_id)
            .select((
                piece_deposits::record_id,
                piece_deposits::date,
                piece_deposits::act,
                piece_deposits::amount,
            ))
            .load(self.connection)
            .await?;
        let (mut held, mut records, mut last) = (Decimal::ZERO, Vec::new(), None);
        for (record, date, act, amount) in rows {
            if read_as("piece_deposits.act", &act, DepositAct::named)? == DepositAct::Taken {
                held = held.saturating_add(amount);
                records.push(RecordId(record));
                last = last.max(Some(date));
            } else {
                held = held.saturating_sub(amount);
            }
        }
        Ok(Deposits { held: money("piece_deposits.amount", held, self.card().base)?, records, last })
    }
}
