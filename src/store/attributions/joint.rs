//! The costs of one shoot.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use crate::rules::attributions::{JointFacts, NewJoint};
use crate::rules::ids::SourceId;
use crate::rules::recording::Side;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::sources;

impl Tx<'_> {
    /// The costs that `asked` names, and those of its records.
    /// # Errors
    /// [`StoreError::UnknownId`] for a source or a record.
    pub async fn joint_facts(&mut self, asked: &NewJoint) -> Result<JointFacts, StoreError> {
        let mut ids = asked.sources.clone();
        let named_ids = ids.len();
        for record in &asked.records {
            let unknown = || StoreError::UnknownId { what: "records".to_owned(), id: record.0 };
            self.record(None, *record).await.map_err(|error| match error {
                StoreError::NotFound { .. } => unknown(),
                other => other,
            })?;
            let rows: Vec<Uuid> = sources::table
                .filter(sources::books_id.eq(self.id.0))
                .filter(sources::record_id.eq(record.0))
                .filter(sources::side.eq(Side::Cost.as_str()))
                .order(sources::id)
                .select(sources::id)
                .load(self.connection)
                .await?;
            for id in rows.into_iter().map(SourceId) {
                if !ids.contains(&id) {
                    ids.push(id);
                }
            }
        }
        let mut standings = Vec::with_capacity(ids.len());
        for id in ids {
            standings.push(self.source_standing(id).await?);
        }
        let of_records = standings.split_off(named_ids);
        Ok(JointFacts { named: standings, of_records })
    }
}
