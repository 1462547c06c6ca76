//! Trips, pieces sold and goods received in a year.

use std::collections::{BTreeMap, HashMap};

use chrono::{Datelike, NaiveDate};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::PieceId;
use crate::rules::money::Money;
use crate::rules::rows::{DistanceUnit, LeavingKind, PieceBack, PieceLeaving, PiecePurpose, SaleCharacter};
use crate::rules::tax_year::facts::{
    GiftFacts, PieceLeftFacts, PieceSaleFacts, RefundFacts, TripSum, is_kept_loan,
};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::furniture::SaleRow;
use crate::store::schema::{parties, piece_leavings, piece_sales, pieces, trips};
use crate::store::{live, money, read_as};

fn less(column: &'static str, from: Money, what: Money) -> Result<Money, StoreError> {
    money(column, from.amount().saturating_sub(what.amount()), from.currency())
}

impl Tx<'_> {
    /// By vehicle and unit; a vehicle is the same in small and capital letters, and is called as it was first.
    pub(super) async fn trips_of_year(&mut self, days: Days) -> Result<Vec<TripSum>, StoreError> {
        let rows: Vec<(String, String, Decimal, Decimal)> = trips::table
            .filter(trips::books_id.eq(self.id.0))
            .filter(trips::date.between(days.first, days.last))
            .filter(live!(trips))
            .order((trips::date, trips::record_id))
            .select((trips::vehicle, trips::unit, trips::distance, trips::amount))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut sums: BTreeMap<(String, DistanceUnit), TripSum> = BTreeMap::new();
        for (vehicle, unit, distance, amount) in rows {
            let unit = read_as("trips.unit", &unit, DistanceUnit::named)?;
            let sum = sums.entry((vehicle.to_lowercase(), unit)).or_insert_with(|| TripSum {
                vehicle,
                unit,
                distance: Decimal::ZERO,
                amount: Money::zero(base),
            });
            sum.distance += distance;
            sum.amount = money("trips.amount", sum.amount.amount() + amount, base)?;
        }
        Ok(sums.into_values().collect())
    }

    pub(super) async fn piece_sales_of_year(
        &mut self,
        days: Days,
    ) -> Result<Vec<PieceSaleFacts>, StoreError> {
        let piece = pieces::books_id.eq(piece_sales::books_id).and(pieces::id.eq(piece_sales::piece_id));
        type Row = (SaleRow, String, Option<Decimal>, Option<Decimal>);
        let rows: Vec<Row> = piece_sales::table
            .inner_join(pieces::table.on(piece))
            .filter(piece_sales::books_id.eq(self.id.0))
            .filter(piece_sales::date.between(days.first, days.last))
            .filter(live!(piece_sales))
            .order((piece_sales::date, piece_sales::record_id))
            .select((SaleRow::as_select(), pieces::name, pieces::basis, pieces::value))
            .load(self.connection)
            .await?;
        let refunds = self.refunds_between(days.first, days.last).await?;
        let base = self.card().base;
        let mut found = Vec::with_capacity(rows.len());
        for (row, name, came_at, value) in rows {
            let (record, mut sale) = (row.record(), row.sale(base)?);
            let mut came_back = false;
            for (_, refund) in refunds.iter().filter(|(_, refund)| refund.sale == record) {
                sale.gross = less("piece_sales.gross", sale.gross, refund.amount)?;
                sale.fees = less("piece_sales.fees", sale.fees, refund.fees_back)?;
                came_back |= refund.back == PieceBack::CameBack;
            }
            // Nothing was sold in the end; what was kept of the price of the owner's own is asked with the refund.
            if came_back && sale.character != SaleCharacter::StockInTrade {
                continue;
            }
            let of_piece = |column, amount: Option<Decimal>| {
                amount.map(|amount| money(column, amount, base)).transpose()
            };
            let (came_at, value) = (of_piece("pieces.basis", came_at)?, of_piece("pieces.value", value)?);
            found.push(PieceSaleFacts { piece: sale.piece, name, sale, came_at, value });
        }
        Ok(found)
    }

    pub(super) async fn refunds_of_year(&mut self, days: Days) -> Result<Vec<RefundFacts>, StoreError> {
        let mut found = Vec::new();
        for (_, refund) in self.refunds_between(days.first, days.last).await? {
            let (sold_on, character): (NaiveDate, String) = piece_sales::table
                .filter(piece_sales::books_id.eq(self.id.0))
                .filter(piece_sales::piece_id.eq(refund.piece.0))
                .filter(piece_sales::record_id.eq(refund.sale.0))
                .select((piece_sales::date, piece_sales::character))
                .first(self.connection)
                .await?;
            let character = read_as("piece_sales.character", &character, SaleCharacter::named)?;
            found.push(RefundFacts { refund, character, sold_in: sold_on.year() });
        }
        Ok(found)
    }

    pub(super) async fn pieces_left_in_year(
        &mut self,
        days: Days,
    ) -> Result<Vec<PieceLeftFacts>, StoreError> {
        let piece =
            pieces::books_id.eq(piece_leavings::books_id).and(pieces::id.eq(piece_leavings::piece_id));
        let rows: Vec<(String, String, Uuid, NaiveDate, String, Decimal)> = piece_leavings::table
            .inner_join(pieces::table.on(piece))
            .filter(piece_leavings::books_id.eq(self.id.0))
            .filter(piece_leavings::date.between(days.first, days.last))
            .filter(live!(piece_leavings))
            .order((piece_leavings::date, piece_leavings::record_id))
            .select((
                pieces::name,
                pieces::purpose,
                piece_leavings::piece_id,
                piece_leavings::date,
                piece_leavings::how,
                piece_leavings::cost,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(name, purpose, piece, date, how, cost)| {
                let how = read_as("piece_leavings.how", &how, LeavingKind::named)?;
                let cost = money("piece_leavings.cost", cost, base)?;
                let purpose = read_as("pieces.purpose", &purpose, PiecePurpose::named)?;
                let left = PieceLeaving { piece: PieceId(piece), date, how, cost };
                Ok(PieceLeftFacts { name, purpose, left })
            })
            .collect()
    }

    /// Received in the year, or lent before and kept in it.
    pub(super) async fn gifts_of_year(&mut self, days: Days) -> Result<Vec<GiftFacts>, StoreError> {
        let names: Vec<(Uuid, String)> = parties::table
            .filter(parties::books_id.eq(self.id.0))
            .select((parties::id, parties::name))
            .load(self.connection)
            .await?;
        let names: HashMap<Uuid, String> = names.into_iter().collect();
        let within = |day: NaiveDate| (days.first..=days.last).contains(&day);
        let gifts = self.all_gifts().await?.into_iter();
        let of_year = gifts.filter(|(_, gift)| {
            within(gift.received_on) || (is_kept_loan(gift) && gift.fate_on.is_some_and(within))
        });
        Ok(of_year
            .map(|(record, gift)| {
                let from = names.get(&gift.party.0).cloned().unwrap_or_default();
                GiftFacts { record, gift, from }
            })
            .collect())
    }
}
