//! Which tool is an improvement of which.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use crate::rules::ids::ToolId;
use crate::rules::tools::ToolImproved;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::live;
use crate::store::schema::tool_improvements;

impl Tx<'_> {
    /// The tool that this one improves.
    pub(super) async fn improved_by(&mut self, tool: ToolId) -> Result<Option<ToolId>, StoreError> {
        let found: Option<Uuid> = tool_improvements::table
            .filter(tool_improvements::books_id.eq(self.id.0))
            .filter(tool_improvements::tool_id.eq(tool.0))
            .filter(live!(tool_improvements))
            .select(tool_improvements::improves)
            .first(self.connection)
            .await
            .optional()?;
        Ok(found.map(ToolId))
    }

    /// What was put into a tool, the oldest record first.
    pub(super) async fn improvements_of(&mut self, tool: ToolId) -> Result<Vec<ToolImproved>, StoreError> {
        let found: Vec<Uuid> = tool_improvements::table
            .filter(tool_improvements::books_id.eq(self.id.0))
            .filter(tool_improvements::improves.eq(tool.0))
            .filter(live!(tool_improvements))
            .select(tool_improvements::tool_id)
            .load(self.connection)
            .await?;
        if found.is_empty() {
            return Ok(Vec::new());
        }
        let tools = self.all_tools().await?.into_iter().filter(|(tool, _)| found.contains(&tool.id.0));
        Ok(tools
            .map(|(tool, gone)| ToolImproved {
                tool: tool.id,
                name: tool.name,
                in_service_on: tool.in_service_on,
                cost: tool.cost,
                disposed_on: gone.map(|gone| gone.date),
            })
            .collect())
    }
}
