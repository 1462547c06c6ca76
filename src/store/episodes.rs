//! Episodes: the cost objects.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::live;
use super::schema::episodes;
use crate::rules::ids::{EpisodeId, ProjectId, RecordId};
use crate::rules::rows::Episode;

type EpisodeRow = (Uuid, Uuid, String, Option<NaiveDate>, Option<NaiveDate>);

fn episode_of((id, project, title, planned_on, published_on): EpisodeRow) -> Episode {
    Episode { id: EpisodeId(id), project: ProjectId(project), title, planned_on, published_on }
}

impl Tx<'_> {
    pub(super) async fn add_episode(&mut self, record: RecordId, row: &Episode) -> Result<(), StoreError> {
        diesel::insert_into(episodes::table)
            .values((
                episodes::books_id.eq(self.id.0),
                episodes::record_id.eq(record.0),
                episodes::id.eq(row.id.0),
                episodes::project_id.eq(row.project.0),
                episodes::title.eq(&row.title),
                episodes::planned_on.eq(row.planned_on),
                episodes::published_on.eq(row.published_on),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn episode(&mut self, id: EpisodeId) -> Result<Episode, StoreError> {
        let row: Option<EpisodeRow> = episodes::table
            .filter(episodes::books_id.eq(self.id.0))
            .filter(episodes::id.eq(id.0))
            .filter(live!(episodes))
            .select((
                episodes::id,
                episodes::project_id,
                episodes::title,
                episodes::planned_on,
                episodes::published_on,
            ))
            .first(self.connection)
            .await
            .optional()?;
        row.map(episode_of).ok_or_else(|| Self::missing("episode", id))
    }

    /// A project's episodes in the order they were recorded.
    /// # Errors
    /// What the database could not do.
    pub async fn episodes_of(&mut self, project: ProjectId) -> Result<Vec<Episode>, StoreError> {
        let rows: Vec<EpisodeRow> = episodes::table
            .filter(episodes::books_id.eq(self.id.0))
            .filter(episodes::project_id.eq(project.0))
            .filter(live!(episodes))
            .order(episodes::id)
            .select((
                episodes::id,
                episodes::project_id,
                episodes::title,
                episodes::planned_on,
                episodes::published_on,
            ))
            .load(self.connection)
            .await?;
        Ok(rows.into_iter().map(episode_of).collect())
    }
}
