//! Labour: hours by a person.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::recording::target_columns;
use super::schema::labour_entries;
use crate::rules::ids::RecordId;
use crate::rules::rows::Labour;

impl Tx<'_> {
    pub(super) async fn add_labour(&mut self, record: RecordId, row: &Labour) -> Result<(), StoreError> {
        let (episode, project, piece) = target_columns(row.target);
        diesel::insert_into(labour_entries::table)
            .values((
                labour_entries::books_id.eq(self.id.0),
                labour_entries::record_id.eq(record.0),
                labour_entries::person.eq(&row.person),
                labour_entries::standing.eq(row.standing.as_str()),
                labour_entries::date.eq(row.date),
                labour_entries::hours.eq(row.hours),
                labour_entries::episode_id.eq(episode),
                labour_entries::project_id.eq(project),
                labour_entries::piece_id.eq(piece),
                labour_entries::paid.eq(row.paid.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
