//! The list of tools, however each came.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::dsl::exists;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{RecordId, ToolId};
use crate::rules::money::{Currency, Money};
use crate::rules::rows::ToolOrigin;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::{After, ThingFilter};
use crate::store::schema::{records, tool_disposals, tool_uses, tools};
use crate::store::{live, money, read_as};

/// A tool as a list shows it.
#[derive(Clone, Debug)]
pub struct ToolListed {
    pub id: ToolId,
    /// The record that brought it.
    pub record: RecordId,
    pub name: String,
    pub origin: ToolOrigin,
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    pub disposed_on: Option<NaiveDate>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = tools)]
struct ToolRow {
    id: Uuid,
    record_id: Uuid,
    name: String,
    origin: String,
    acquired_on: NaiveDate,
    in_service_on: NaiveDate,
    cost: Decimal,
}

impl ToolRow {
    fn listed(self, disposed_on: Option<NaiveDate>, base: Currency) -> Result<ToolListed, StoreError> {
        Ok(ToolListed {
            id: ToolId(self.id),
            record: RecordId(self.record_id),
            name: self.name,
            origin: read_as("tools.origin", &self.origin, ToolOrigin::named)?,
            acquired_on: self.acquired_on,
            in_service_on: self.in_service_on,
            cost: money("tools.cost", self.cost, base)?,
            disposed_on,
        })
    }
}

/// Whether a live use of the tool has that in the column.
macro_rules! used_on {
    ($books:expr, $column:ident, $id:expr) => {
        exists(
            tool_uses::table
                .filter(tool_uses::books_id.eq($books))
                .filter(tool_uses::tool_id.eq(tools::id))
                .filter(tool_uses::$column.eq($id))
                .filter(live!(tool_uses)),
        )
    };
}

impl Tx<'_> {
    /// A page of the tools that stand, the oldest first, at most `limit`. Of an episode or a project are those used
    /// on it; of a party those that came from it or went to it.
    /// # Errors
    /// What the database could not do.
    pub async fn tools_listed(
        &mut self,
        filter: &ThingFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<ToolListed>, StoreError> {
        let books = self.id.0;
        let mut query = tools::table
            .filter(tools::books_id.eq(books))
            .filter(live!(tools))
            .order((tools::acquired_on, tools::id))
            .limit(limit)
            .select(ToolRow::as_select())
            .into_boxed();
        if let Some(from) = filter.from {
            query = query.filter(tools::acquired_on.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(tools::acquired_on.le(to));
        }
        if let Some(episode) = filter.episode {
            query = query.filter(used_on!(books, episode_id, episode.0));
        }
        if let Some(project) = filter.project {
            query = query.filter(used_on!(books, project_id, project.0));
        }
        if let Some(party) = filter.party {
            let left = tool_disposals::table
                .filter(tool_disposals::books_id.eq(books))
                .filter(tool_disposals::tool_id.eq(tools::id))
                .filter(tool_disposals::record_id.eq(records::id))
                .filter(live!(tool_disposals));
            query = query.filter(exists(
                records::table
                    .filter(records::books_id.eq(books))
                    .filter(records::party_id.eq(party.0))
                    .filter(records::id.eq(tools::record_id).or(exists(left))),
            ));
        }
        if let Some(After { date, id }) = after {
            query = query
                .filter(tools::acquired_on.gt(date).or(tools::acquired_on.eq(date).and(tools::id.gt(id))));
        }
        let rows: Vec<ToolRow> = query.load(self.connection).await?;
        let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
        let left = self.disposed_among(&ids).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let disposed_on = left.get(&row.id).copied();
                row.listed(disposed_on, base)
            })
            .collect()
    }

    async fn disposed_among(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, NaiveDate>, StoreError> {
        let rows: Vec<(Uuid, NaiveDate)> = tool_disposals::table
            .filter(tool_disposals::books_id.eq(self.id.0))
            .filter(tool_disposals::tool_id.eq_any(ids))
            .filter(live!(tool_disposals))
            .select((tool_disposals::tool_id, tool_disposals::date))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().collect())
    }
}
