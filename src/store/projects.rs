//! Projects: one renovation or makeover each.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{budget_lines, projects};
use super::{live, read_as};
use crate::rules::ids::{ProjectId, RecordId};
use crate::rules::rows::{BudgetLine, Place, Project};

impl Tx<'_> {
    pub(super) async fn add_project(&mut self, record: RecordId, row: &Project) -> Result<(), StoreError> {
        diesel::insert_into(projects::table)
            .values((
                projects::books_id.eq(self.id.0),
                projects::record_id.eq(record.0),
                projects::id.eq(row.id.0),
                projects::name.eq(&row.name),
                projects::place.eq(row.place.as_str()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_budget_line(
        &mut self,
        record: RecordId,
        row: &BudgetLine,
    ) -> Result<(), StoreError> {
        diesel::insert_into(budget_lines::table)
            .values((
                budget_lines::books_id.eq(self.id.0),
                budget_lines::id.eq(Uuid::now_v7()),
                budget_lines::record_id.eq(record.0),
                budget_lines::project_id.eq(row.project.0),
                budget_lines::episode_id.eq(row.episode.map(|episode| episode.0)),
                budget_lines::category.eq(row.category.as_str()),
                budget_lines::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// Every project that stands, in the order they were recorded.
    /// # Errors
    /// What the database could not do.
    pub async fn projects(&mut self) -> Result<Vec<ProjectId>, StoreError> {
        let rows: Vec<Uuid> = projects::table
            .filter(projects::books_id.eq(self.id.0))
            .filter(live!(projects))
            .order(projects::id)
            .select(projects::id)
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(ProjectId).collect())
    }

    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn project(&mut self, id: ProjectId) -> Result<Project, StoreError> {
        let row: Option<(String, String)> = projects::table
            .filter(projects::books_id.eq(self.id.0))
            .filter(projects::id.eq(id.0))
            .filter(live!(projects))
            .select((projects::name, projects::place))
            .first(self.connection)
            .await
            .optional()?;
        let (name, place) = row.ok_or_else(|| Self::missing("project", id))?;
        Ok(Project { id, name, place: read_as("projects.place", &place, Place::named)? })
    }
}
