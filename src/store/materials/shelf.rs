//! Lots as they stand: one with its moves, all of one name, and the list of them.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{LotId, RecordId, SourceId};
use crate::rules::materials::{Layer, LotFacts};
use crate::rules::money::Currency;
use crate::rules::recording::Category;
use crate::rules::rows::{BoughtIn, Lot, LotStanding};
use crate::rules::treatment::Treatment;
use crate::rules::units::Factor;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::After;
use crate::store::schema::{lot_moves, lots, records};
use crate::store::{live, money, read_as};

/// Which lots a list shows.
#[derive(Clone, Debug, Default)]
pub struct ShelfFilter {
    /// Lots of that name only.
    pub material: Option<String>,
}

/// A lot with what is left in it.
#[derive(Clone, Debug)]
pub struct LotOnShelf {
    pub lot: Lot,
    /// The record that put it on the shelf.
    pub record: RecordId,
    pub remaining: Layer,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = lots)]
struct LotRow {
    id: Uuid,
    record_id: Uuid,
    source_id: Uuid,
    material: String,
    unit: String,
    bought_unit: Option<String>,
    bought_factor: Option<String>,
    quantity: Decimal,
    cost: Decimal,
    acquired_on: NaiveDate,
    treatment: String,
    category: String,
    standing: String,
}

impl LotRow {
    fn read(self, base: Currency) -> Result<(RecordId, Lot), StoreError> {
        let factor = self.bought_factor.as_deref();
        let factor = factor.map(|text| read_as("lots.bought_factor", text, Factor::parse)).transpose()?;
        let bought_in = self.bought_unit.zip(factor).map(|(unit, factor)| BoughtIn { unit, factor });
        let lot = Lot {
            id: LotId(self.id),
            source: SourceId(self.source_id),
            material: self.material,
            unit: self.unit,
            bought_in,
            quantity: self.quantity,
            cost: money("lots.cost", self.cost, base)?,
            acquired_on: self.acquired_on,
            treatment: read_as("lots.treatment", &self.treatment, Treatment::of_code)?,
            category: read_as("lots.category", &self.category, Category::named)?,
            standing: read_as("lots.standing", &self.standing, LotStanding::named)?,
        };
        Ok((RecordId(self.record_id), lot))
    }
}

#[diesel::dsl::auto_type(no_type_alias)]
fn of_its_record() -> _ {
    let id: diesel::dsl::Eq<records::id, lots::record_id> = records::id.eq(lots::record_id);
    let books: diesel::dsl::Eq<records::books_id, lots::books_id> = records::books_id.eq(lots::books_id);
    books.and(id)
}

impl Tx<'_> {
    /// A lot with everything that has moved it.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn lot(&mut self, id: LotId) -> Result<LotFacts, StoreError> {
        let row: Option<(LotRow, NaiveDate)> = lots::table
            .inner_join(records::table.on(of_its_record()))
            .filter(lots::books_id.eq(self.id.0))
            .filter(lots::id.eq(id.0))
            .filter(live!(lots))
            .select((LotRow::as_select(), records::date))
            .first(self.connection)
            .await
            .optional()?;
        let (row, recorded_on) = row.ok_or_else(|| Self::missing("lot", id))?;
        let (record, lot) = row.read(self.card().base)?;
        let moves = self.moves_of_lots(&[id]).await?.remove(&id).unwrap_or_default();
        Ok(LotFacts { lot, record, recorded_on, moves })
    }

    /// The lot that a source is the cost of, where it is one of a lot.
    pub(crate) async fn lot_of_source(&mut self, source: SourceId) -> Result<Option<LotFacts>, StoreError> {
        let id: Option<Uuid> = lots::table
            .filter(lots::books_id.eq(self.id.0))
            .filter(lots::source_id.eq(source.0))
            .filter(live!(lots))
            .select(lots::id)
            .first(self.connection)
            .await
            .optional()?;
        match id {
            Some(id) => Ok(Some(self.lot(LotId(id)).await?)),
            None => Ok(None),
        }
    }

    /// Every lot of a material, the oldest first; none where there is no such material.
    /// # Errors
    /// What the database could not do.
    pub async fn lots_named(&mut self, material: &str) -> Result<Vec<LotFacts>, StoreError> {
        let rows: Vec<(LotRow, NaiveDate)> = lots::table
            .inner_join(records::table.on(of_its_record()))
            .filter(lots::books_id.eq(self.id.0))
            .filter(lots::material.eq(material))
            .filter(live!(lots))
            .order((lots::acquired_on, lots::id))
            .select((LotRow::as_select(), records::date))
            .load(self.connection)
            .await?;
        let ids: Vec<_> = rows.iter().map(|(row, _)| LotId(row.id)).collect();
        let mut moves = self.moves_of_lots(&ids).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(row, recorded_on)| {
                let (record, lot) = row.read(base)?;
                let moves = moves.remove(&lot.id).unwrap_or_default();
                Ok(LotFacts { lot, record, recorded_on, moves })
            })
            .collect()
    }

    /// A page of lots with what is left in each, the oldest first, at most `limit`; an emptied lot is one too.
    /// # Errors
    /// What the database could not do.
    pub async fn lots_on_shelf(
        &mut self,
        filter: &ShelfFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<LotOnShelf>, StoreError> {
        let mut query = lots::table
            .filter(lots::books_id.eq(self.id.0))
            .filter(live!(lots))
            .order((lots::acquired_on, lots::id))
            .limit(limit)
            .select(LotRow::as_select())
            .into_boxed();
        if let Some(material) = &filter.material {
            query = query.filter(lots::material.eq(material));
        }
        if let Some(After { date, id }) = after {
            query =
                query.filter(lots::acquired_on.gt(date).or(lots::acquired_on.eq(date).and(lots::id.gt(id))));
        }
        let rows: Vec<LotRow> = query.load(self.connection).await?;
        let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
        let moved = self.moved_in_all(&ids).await?;
        let base = self.card().base;
        let mut found = Vec::with_capacity(rows.len());
        for row in rows {
            let (record, lot) = row.read(base)?;
            let (quantity, cost) = moved.get(&lot.id.0).copied().unwrap_or_default();
            let remaining = Layer {
                quantity: lot.quantity.saturating_add(quantity),
                cost: money("lot_moves.cost", lot.cost.amount().saturating_add(cost), base)?,
            };
            found.push(LotOnShelf { lot, record, remaining });
        }
        Ok(found)
    }

    async fn moved_in_all(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, (Decimal, Decimal)>, StoreError> {
        let rows: Vec<(Uuid, Option<Decimal>, Option<Decimal>)> = lot_moves::table
            .filter(lot_moves::books_id.eq(self.id.0))
            .filter(lot_moves::lot_id.eq_any(ids))
            .filter(live!(lot_moves))
            .group_by(lot_moves::lot_id)
            .select((
                lot_moves::lot_id,
                diesel::dsl::sum(lot_moves::quantity),
                diesel::dsl::sum(lot_moves::cost),
            ))
            .load(self.connection)
            .await?;
        let sums = rows
            .into_iter()
            .map(|(lot, quantity, cost)| (lot, (quantity.unwrap_or_default(), cost.unwrap_or_default())));
        Ok(sums.collect())
    }
}
