//! Receipts' lines that repaired tools.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Nullable, Numeric, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::{RecordId, ToolId};
use crate::rules::purchases::ToolInRepair;
use crate::rules::rows::ToolRepair;
use crate::rules::tools::ToolRepaired;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::ledger::LedgerDays;
use crate::store::money;
use crate::store::schema::tool_repairs;

/// What a line cost is what its source holds: what was given back is off it.
const REPAIRS: &str = "\
SELECT t.tool_id, t.record_id, r.date, s.text, coalesce(sum(m.amount), 0) AS amount
FROM tool_repairs t
JOIN records r ON r.books_id = t.books_id AND r.id = t.record_id
JOIN sources s ON s.books_id = t.books_id AND s.id = t.source_id
LEFT JOIN movements m ON m.books_id = t.books_id AND m.source_id = t.source_id 
    AND ($2 IS NULL OR m.date >= $2) AND ($3 IS NULL OR m.date <= $3)
WHERE t.books_id = $1
AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = t.books_id AND x.record_id = t.record_id)
GROUP BY t.tool_id, t.record_id, t.source_id, r.date, s.text
ORDER BY r.date, t.record_id, t.source_id";

#[derive(QueryableByName)]
struct RepairRow {
    #[diesel(sql_type = SqlUuid)]
    tool_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    record_id: Uuid,
    #[diesel(sql_type = Date)]
    date: NaiveDate,
    #[diesel(sql_type = Text)]
    text: String,
    #[diesel(sql_type = Numeric)]
    amount: Decimal,
}

impl Tx<'_> {
    pub(in crate::store) async fn add_tool_repair(
        &mut self,
        record: RecordId,
        row: &ToolRepair,
    ) -> Result<(), StoreError> {
        diesel::insert_into(tool_repairs::table)
            .values((
                tool_repairs::books_id.eq(self.id.0),
                tool_repairs::record_id.eq(record.0),
                tool_repairs::tool_id.eq(row.tool.0),
                tool_repairs::source_id.eq(row.source.0),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// What is known of a tool that a receipt says was repaired.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub(in crate::store) async fn tool_in_repair(&mut self, id: ToolId) -> Result<ToolInRepair, StoreError> {
        let facts = match self.tool(id).await {
            Err(StoreError::NotFound { .. }) => {
                return Err(StoreError::UnknownId { what: "tools".to_owned(), id: id.0 });
            }
            found => found?,
        };
        Ok(ToolInRepair {
            tool: id,
            record: facts.record,
            name: facts.tool.name,
            came_on: facts.came_on,
            left_on: facts.disposal.map(|logged| logged.row.date),
        })
    }

    pub(super) async fn repairs_of(&mut self, tool: ToolId) -> Result<Vec<ToolRepaired>, StoreError> {
        let all = self.repairs_within(LedgerDays { from: None, to: None }).await?;
        Ok(all.into_iter().filter(|(one, _)| *one == tool).map(|(_, repair)| repair).collect())
    }

    /// Every repair that stands, with what it cost and gave back within those days.
    /// # Errors
    /// What the database could not do.
    pub(in crate::store) async fn repairs_within(
        &mut self,
        days: LedgerDays,
    ) -> Result<Vec<(ToolId, ToolRepaired)>, StoreError> {
        let rows: Vec<RepairRow> = sql_query(REPAIRS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Nullable<Date>, _>(days.from)
            .bind::<Nullable<Date>, _>(days.to)
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let (record, date, text) = (RecordId(row.record_id), row.date, row.text);
                let amount = money("movements.amount", row.amount, base)?;
                Ok((ToolId(row.tool_id), ToolRepaired { record, date, text, amount }))
            })
            .collect()
    }
}
