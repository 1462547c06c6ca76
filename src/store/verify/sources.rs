//! Sources, movements, attributions, lots and tools as they are stored.

use std::collections::{HashMap, HashSet};

use chrono::NaiveDate;
use diesel::dsl::exists;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Doubts;
use crate::rules::ids::SourceId;
use crate::rules::money::Money;
use crate::rules::recording::{MovementKind, Side, Source, SourceKind};
use crate::rules::verify::{StoredAttribution, StoredLot, StoredLotMove, StoredMovement, StoredTool};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{
    attributions, episodes, lot_moves, lots, movements, projects, records, sources, tool_estimates, tools,
};

impl Tx<'_> {
    pub(super) async fn stored_sources(&mut self, doubts: &mut Doubts) -> Result<Vec<Source>, StoreError> {
        let rows: Vec<(Uuid, String, String, String)> = sources::table
            .filter(sources::books_id.eq(self.id.0))
            .order(sources::id)
            .select((sources::id, sources::side, sources::kind, sources::text))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, side, kind, text) in rows {
            let row = format!("source {id}");
            let side = doubts.named(None, &row, ("side", &side), Side::named);
            let kind = doubts.named(None, &row, ("kind", &kind), SourceKind::named);
            if let (Some(side), Some(kind)) = (side, kind) {
                found.push(Source { id: SourceId(id), side, kind, text });
            }
        }
        Ok(found)
    }

    pub(super) async fn stored_movements(
        &mut self,
        doubts: &mut Doubts,
    ) -> Result<Vec<StoredMovement>, StoreError> {
        type Row = (Uuid, Uuid, NaiveDate, String, Decimal, Option<i64>);
        let rows: Vec<Row> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .order(movements::id)
            .select((
                movements::id,
                movements::source_id,
                movements::date,
                movements::kind,
                movements::amount,
                movements::entry_number,
            ))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, source, date, kind, amount, entry) in rows {
            let row = format!("movement {id}");
            let kind = doubts.named(entry, &row, ("kind", &kind), MovementKind::named);
            let amount = doubts.money(entry, &row, amount);
            if let (Some(kind), Some(amount)) = (kind, amount) {
                found.push(StoredMovement { row, source: SourceId(source), date, kind, amount, entry });
            }
        }
        Ok(found)
    }

    pub(super) async fn stored_attributions(
        &mut self,
        doubts: &mut Doubts,
    ) -> Result<Vec<StoredAttribution>, StoreError> {
        type Row = (Uuid, Uuid, NaiveDate, Decimal, bool, bool, bool);
        let books = self.id.0;
        let record = records::table
            .filter(records::books_id.eq(attributions::books_id))
            .filter(records::id.eq(attributions::record_id));
        let episode = episodes::table
            .filter(episodes::books_id.eq(attributions::books_id))
            .filter(episodes::id.nullable().eq(attributions::episode_id));
        let project = projects::table
            .filter(projects::books_id.eq(attributions::books_id))
            .filter(projects::id.nullable().eq(attributions::project_id));
        let rows: Vec<Row> = attributions::table
            .filter(attributions::books_id.eq(books))
            .order(attributions::id)
            .select((
                attributions::id,
                attributions::source_id,
                attributions::date,
                attributions::amount,
                exists(record),
                exists(episode).or(attributions::episode_id.is_null()),
                exists(project).or(attributions::project_id.is_null()),
            ))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, source, date, amount, has_record, has_episode, has_project) in rows {
            let row = format!("attribution {id}");
            let missing = match (has_record, has_episode, has_project) {
                (false, ..) => Some("record"),
                (_, false, _) => Some("episode"),
                (.., false) => Some("project"),
                (true, true, true) => None,
            };
            if let Some(amount) = doubts.money(None, &row, amount) {
                found.push(StoredAttribution { row, source: SourceId(source), date, amount, missing });
            }
        }
        Ok(found)
    }

    pub(super) async fn stored_lots(
        &mut self,
        reversed: &HashSet<Uuid>,
        doubts: &mut Doubts,
    ) -> Result<Vec<StoredLot>, StoreError> {
        type Row = (Uuid, Uuid, String, String, NaiveDate, Decimal, Decimal);
        let mut moves = self.stored_lot_moves(reversed, doubts).await?;
        let rows: Vec<Row> = lots::table
            .filter(lots::books_id.eq(self.id.0))
            .order(lots::id)
            .select((
                lots::id,
                lots::record_id,
                lots::material,
                lots::unit,
                lots::acquired_on,
                lots::quantity,
                lots::cost,
            ))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, record, material, unit, acquired_on, quantity, cost) in rows {
            let row = format!("lot {id}");
            let Some(cost) = doubts.money(None, &row, cost) else { continue };
            let (quantity, cost) = if reversed.contains(&record) {
                (Decimal::ZERO, Money::zero(cost.currency()))
            } else {
                (quantity, cost)
            };
            let moves = moves.remove(&id).unwrap_or_default();
            found.push(StoredLot { row, material, unit, acquired_on, quantity, cost, moves });
        }
        Ok(found)
    }

    async fn stored_lot_moves(
        &mut self,
        reversed: &HashSet<Uuid>,
        doubts: &mut Doubts,
    ) -> Result<HashMap<Uuid, Vec<StoredLotMove>>, StoreError> {
        type Row = (Uuid, Uuid, Uuid, NaiveDate, Decimal, Decimal);
        let rows: Vec<Row> = lot_moves::table
            .filter(lot_moves::books_id.eq(self.id.0))
            .order(lot_moves::id)
            .select((
                lot_moves::id,
                lot_moves::lot_id,
                lot_moves::record_id,
                lot_moves::date,
                lot_moves::quantity,
                lot_moves::cost,
            ))
            .load(self.connection)
            .await?;
        let mut found: HashMap<Uuid, Vec<StoredLotMove>> = HashMap::new();
        for (id, lot, record, date, quantity, cost) in rows {
            if reversed.contains(&record) {
                continue;
            }
            if let Some(cost) = doubts.money(None, &format!("lot move {id}"), cost) {
                found.entry(lot).or_default().push(StoredLotMove { date, quantity, cost });
            }
        }
        Ok(found)
    }

    pub(super) async fn stored_tools(
        &mut self,
        reversed: &HashSet<Uuid>,
        doubts: &mut Doubts,
    ) -> Result<Vec<StoredTool>, StoreError> {
        let estimates: Vec<(Uuid, Uuid, Decimal)> = tool_estimates::table
            .filter(tool_estimates::books_id.eq(self.id.0))
            .select((tool_estimates::tool_id, tool_estimates::record_id, tool_estimates::salvage))
            .load(self.connection)
            .await?;
        let rows: Vec<(Uuid, Uuid, String, Decimal, Decimal, Decimal)> = tools::table
            .filter(tools::books_id.eq(self.id.0))
            .order(tools::id)
            .select((
                tools::id,
                tools::source_id,
                tools::name,
                tools::cost,
                tools::basis_for_gain,
                tools::salvage,
            ))
            .load(self.connection)
            .await?;
        let mut found = Vec::with_capacity(rows.len());
        for (id, source, name, cost, for_gain, salvage) in rows {
            let row = format!("tool {id}");
            let live = estimates.iter().filter(|(tool, record, _)| *tool == id && !reversed.contains(record));
            let least = live.fold(salvage, |least, (.., salvage)| least.min(*salvage));
            let cost = doubts.money(None, &row, cost);
            let for_gain = doubts.money(None, &row, for_gain);
            let salvage = doubts.money(None, &row, least);
            if let (Some(cost), Some(basis_for_gain), Some(salvage)) = (cost, for_gain, salvage) {
                let source = SourceId(source);
                found.push(StoredTool { row, source, name, cost, basis_for_gain, salvage });
            }
        }
        Ok(found)
    }
}
