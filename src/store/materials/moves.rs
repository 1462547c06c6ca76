//! What has moved lots, as the rules have to see it and as a person wants to.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{LotId, PieceId, RecordId, SourceId};
use crate::rules::materials::LotMoved;
use crate::rules::money::Currency;
use crate::rules::recording::{Attribution, Label};
use crate::rules::rows::{LotMove, LotMoveKind, Target};
use crate::rules::treatment::Treatment;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::{AttributionRow, attribution, attributions_with_source, object_of};
use crate::store::schema::lot_moves;
use crate::store::{live, money, read_as};

#[derive(Queryable, Selectable)]
#[diesel(table_name = lot_moves)]
struct MoveRow {
    id: Uuid,
    lot_id: Uuid,
    record_id: Uuid,
    date: NaiveDate,
    kind: String,
    quantity: Decimal,
    cost: Decimal,
    episode_id: Option<Uuid>,
    project_id: Option<Uuid>,
    piece_id: Option<Uuid>,
    treatment: String,
}

impl MoveRow {
    fn read(self, base: Currency) -> Result<LotMoved, StoreError> {
        let to = match (self.piece_id, self.episode_id, self.project_id) {
            (Some(piece), ..) => Target::Piece(PieceId(piece)),
            (None, None, None) => Target::Overhead,
            (None, episode, project) => Target::Object(object_of(episode, project)?),
        };
        let row = LotMove {
            lot: LotId(self.lot_id),
            date: self.date,
            kind: read_as("lot_moves.kind", &self.kind, LotMoveKind::named)?,
            quantity: self.quantity,
            cost: money("lot_moves.cost", self.cost, base)?,
            to,
            treatment: read_as("lot_moves.treatment", &self.treatment, Treatment::of_code)?,
        };
        Ok(LotMoved { record: RecordId(self.record_id), row })
    }
}

impl Tx<'_> {
    /// The moves of each lot in the order they were recorded. A move taken back on its own day is left out. One
    /// taken back on another day stands with its opposite on that day: in between the journal had it so, and
    /// what leaves the lot in between has to find it so too.
    pub(super) async fn moves_of_lots(
        &mut self,
        ids: &[LotId],
    ) -> Result<HashMap<LotId, Vec<LotMoved>>, StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.0).collect();
        let rows: Vec<MoveRow> = lot_moves::table
            .filter(lot_moves::books_id.eq(self.id.0))
            .filter(lot_moves::lot_id.eq_any(ids))
            .select(MoveRow::as_select())
            .load(self.connection)
            .await?;
        let records: Vec<Uuid> = rows.iter().map(|row| row.record_id).collect();
        let taken_back = self.taken_back_among(&records).await?;
        let base = self.card().base;
        let mut by_time = Vec::with_capacity(rows.len());
        for row in rows {
            let id = row.id;
            let moved = row.read(base)?;
            match taken_back.get(&moved.record.0) {
                // A dependant of a later day than the reversal is taken back on its own day.
                Some((_, on)) if *on <= moved.row.date => {}
                Some((reversal, on)) => {
                    by_time.push((reversal.0, opposite(&moved, *reversal, *on)));
                    by_time.push((id, moved));
                }
                None => by_time.push((id, moved)),
            }
        }
        // Ids are given in the order of time.
        by_time.sort_by_key(|(id, _)| *id);
        let mut by_lot: HashMap<LotId, Vec<LotMoved>> = HashMap::new();
        for (_, moved) in by_time {
            by_lot.entry(moved.row.lot).or_default().push(moved);
        }
        Ok(by_lot)
    }

    /// The moves of a lot that stand, in the order they were recorded.
    /// # Errors
    /// What the database could not do.
    pub async fn standing_moves_of_lot(&mut self, id: LotId) -> Result<Vec<LotMoved>, StoreError> {
        let rows: Vec<MoveRow> = lot_moves::table
            .filter(lot_moves::books_id.eq(self.id.0))
            .filter(lot_moves::lot_id.eq(id.0))
            .filter(live!(lot_moves))
            .order(lot_moves::id)
            .select(MoveRow::as_select())
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter().map(|row| row.read(base)).collect()
    }

    /// Everything ever attributed of a source, with what was taken off again, in the order it was recorded.
    /// # Errors
    /// What the database could not do.
    pub async fn attributions_from(&mut self, source: SourceId) -> Result<Vec<Attribution>, StoreError> {
        use crate::store::schema::attributions;
        let rows: Vec<AttributionRow> = attributions_with_source(self.id.0)
            .filter(attributions::source_id.eq(source.0))
            .order(attributions::id)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut found = Vec::with_capacity(rows.len());
        for row in rows {
            let kept = attribution(row, base)?;
            let label = read_as("attributions.label", &kept.label, |text| Label::named(kept.side, text))?;
            found.push(Attribution {
                source: kept.source,
                date: kept.date,
                object: kept.object,
                label,
                amount: kept.amount,
            });
        }
        Ok(found)
    }
}

/// What taking a move back does to the lot.
fn opposite(moved: &LotMoved, reversal: RecordId, on: NaiveDate) -> LotMoved {
    let row = LotMove {
        date: on,
        quantity: -moved.row.quantity,
        cost: moved.row.cost.negated(),
        ..moved.row.clone()
    };
    LotMoved { record: reversal, row }
}
