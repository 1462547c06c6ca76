//! Materials: lots and what leaves them.

mod moves;
mod shelf;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::target_columns;
use super::schema::{lot_moves, lots};
use crate::rules::ids::RecordId;
use crate::rules::rows::{Lot, LotMove};

pub use shelf::{LotOnShelf, ShelfFilter};

impl Tx<'_> {
    pub(super) async fn add_lot(&mut self, record: RecordId, row: &Lot) -> Result<(), StoreError> {
        diesel::insert_into(lots::table)
            .values((
                lots::books_id.eq(self.id.0),
                lots::record_id.eq(record.0),
                lots::id.eq(row.id.0),
                lots::source_id.eq(row.source.0),
                lots::material.eq(&row.material),
                lots::unit.eq(&row.unit),
                lots::bought_unit.eq(row.bought_in.as_ref().map(|bought| &bought.unit)),
                lots::bought_factor.eq(row.bought_in.as_ref().map(|bought| bought.factor.to_string())),
                lots::quantity.eq(row.quantity),
                lots::cost.eq(row.cost.amount()),
                lots::acquired_on.eq(row.acquired_on),
                lots::treatment.eq(row.treatment.code()),
                lots::category.eq(row.category.as_str()),
                lots::standing.eq(row.standing.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_lot_move(&mut self, record: RecordId, row: &LotMove) -> Result<(), StoreError> {
        let (episode, project, piece) = target_columns(row.to);
        diesel::insert_into(lot_moves::table)
            .values((
                lot_moves::books_id.eq(self.id.0),
                lot_moves::record_id.eq(record.0),
                lot_moves::id.eq(Uuid::now_v7()),
                lot_moves::lot_id.eq(row.lot.0),
                lot_moves::date.eq(row.date),
                lot_moves::kind.eq(row.kind.as_str()),
                lot_moves::quantity.eq(row.quantity),
                lot_moves::cost.eq(row.cost.amount()),
                lot_moves::episode_id.eq(episode),
                lot_moves::project_id.eq(project),
                lot_moves::piece_id.eq(piece),
                lot_moves::treatment.eq(row.treatment.code()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
