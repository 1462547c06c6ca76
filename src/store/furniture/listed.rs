//! The list of pieces, however each came.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::dsl::exists;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{PieceId, RecordId};
use crate::rules::money::{Currency, Money};
use crate::rules::rows::{Basis, LeavingKind, PieceOrigin, PiecePurpose};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::{After, ThingFilter};
use crate::store::schema::{movements, piece_sales, pieces, record_objects, records};
use crate::store::{live, money, read_as, standing_sale};

/// A piece as a list shows it.
#[derive(Clone, Debug)]
pub struct PieceListed {
    pub id: PieceId,
    /// The record that brought it in.
    pub record: RecordId,
    pub name: String,
    pub origin: PieceOrigin,
    pub purpose: PiecePurpose,
    pub acquired_on: NaiveDate,
    /// As it came.
    pub basis: Basis,
    /// All that the books have on it.
    pub cost: Money,
    pub sold_on: Option<NaiveDate>,
    /// How and when it left without a sale.
    pub left: Option<(NaiveDate, LeavingKind)>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = pieces)]
struct PieceRow {
    id: Uuid,
    record_id: Uuid,
    source_id: Uuid,
    name: String,
    origin: String,
    purpose: String,
    acquired_on: NaiveDate,
    basis: Option<Decimal>,
}

impl PieceRow {
    fn listed(
        self,
        cost: Decimal,
        (sold_on, left): (Option<NaiveDate>, Option<(NaiveDate, LeavingKind)>),
        base: Currency,
    ) -> Result<PieceListed, StoreError> {
        Ok(PieceListed {
            id: PieceId(self.id),
            record: RecordId(self.record_id),
            name: self.name,
            origin: read_as("pieces.origin", &self.origin, PieceOrigin::named)?,
            purpose: read_as("pieces.purpose", &self.purpose, PiecePurpose::named)?,
            acquired_on: self.acquired_on,
            basis: match self.basis {
                Some(basis) => Basis::Known(money("pieces.basis", basis, base)?),
                None => Basis::Unknown,
            },
            cost: money("movements.amount", cost, base)?,
            sold_on,
            left,
        })
    }
}

/// Live sales of the piece whose record counts for that in the column.
macro_rules! sold_for {
    ($books:expr, $column:ident, $id:expr) => {
        exists(
            piece_sales::table
                .filter(piece_sales::books_id.eq($books))
                .filter(piece_sales::piece_id.eq(pieces::id))
                .filter(live!(piece_sales))
                .filter(exists(
                    record_objects::table
                        .filter(record_objects::books_id.eq($books))
                        .filter(record_objects::record_id.eq(piece_sales::record_id))
                        .filter(record_objects::$column.eq($id)),
                )),
        )
    };
}

impl Tx<'_> {
    /// A page of the pieces that stand, the oldest first, at most `limit`; a sold one is one too. Of an episode or a
    /// project are those got or sold for it; of a party those that came from it or went to it.
    /// # Errors
    /// What the database could not do.
    pub async fn pieces_listed(
        &mut self,
        filter: &ThingFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<PieceListed>, StoreError> {
        let books = self.id.0;
        let mut query = pieces::table
            .filter(pieces::books_id.eq(books))
            .filter(live!(pieces))
            .order((pieces::acquired_on, pieces::id))
            .limit(limit)
            .select(PieceRow::as_select())
            .into_boxed();
        if let Some(from) = filter.from {
            query = query.filter(pieces::acquired_on.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(pieces::acquired_on.le(to));
        }
        if let Some(episode) = filter.episode {
            let sold = sold_for!(books, episode_id, episode.0);
            query = query.filter(pieces::episode_id.eq(episode.0).or(sold));
        }
        if let Some(project) = filter.project {
            let sold = sold_for!(books, project_id, project.0);
            query = query.filter(pieces::project_id.eq(project.0).or(sold));
        }
        if let Some(party) = filter.party {
            let sold = piece_sales::table
                .filter(piece_sales::books_id.eq(books))
                .filter(piece_sales::piece_id.eq(pieces::id))
                .filter(piece_sales::record_id.eq(records::id))
                .filter(live!(piece_sales));
            query = query.filter(exists(
                records::table
                    .filter(records::books_id.eq(books))
                    .filter(records::party_id.eq(party.0))
                    .filter(records::id.eq(pieces::record_id).or(exists(sold))),
            ));
        }
        if let Some(After { date, id }) = after {
            query = query
                .filter(pieces::acquired_on.gt(date).or(pieces::acquired_on.eq(date).and(pieces::id.gt(id))));
        }
        let rows: Vec<PieceRow> = query.load(self.connection).await?;
        let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
        let sources: Vec<Uuid> = rows.iter().map(|row| row.source_id).collect();
        let (sold, costs) = (self.sold_among(&ids).await?, self.costs_among(&sources).await?);
        let left = self.left_among(&ids).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let cost = costs.get(&row.source_id).copied().unwrap_or_default();
                let gone = (sold.get(&row.id).copied(), left.get(&row.id).copied());
                row.listed(cost, gone, base)
            })
            .collect()
    }

    async fn sold_among(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, NaiveDate>, StoreError> {
        let rows: Vec<(Uuid, NaiveDate)> = piece_sales::table
            .filter(piece_sales::books_id.eq(self.id.0))
            .filter(piece_sales::piece_id.eq_any(ids))
            .filter(standing_sale!())
            .select((piece_sales::piece_id, piece_sales::date))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().collect())
    }

    /// What a reversal took back stands in the sum with both signs.
    async fn costs_among(&mut self, sources: &[Uuid]) -> Result<HashMap<Uuid, Decimal>, StoreError> {
        let rows: Vec<(Uuid, Option<Decimal>)> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq_any(sources))
            .group_by(movements::source_id)
            .select((movements::source_id, diesel::dsl::sum(movements::amount)))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(|(source, sum)| (source, sum.unwrap_or_default())).collect())
    }
}
