//! Labour: hours by a person.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Nullable, Numeric, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::{object_columns, target_columns};
use super::records::object_of;
use super::schema::labour_entries;
use crate::rules::costing::{OwnHours, Period};
use crate::rules::ids::RecordId;
use crate::rules::recording::CostObject;
use crate::rules::rows::Labour;

/// A piece's hours count for the episode or project that it was got for. Statements and overhead read no other hours.
const OWN_HOURS: &str = "\
SELECT w.date, w.hours, w.episode, w.project
FROM (SELECT l.record_id, l.date, l.hours,
        coalesce(l.episode_id, p.episode_id) AS episode, coalesce(l.project_id, p.project_id) AS project
    FROM labour_entries l
    LEFT JOIN pieces p ON p.books_id = l.books_id AND p.id = l.piece_id
    WHERE l.books_id = $1 AND l.standing = 'own'
    AND NOT EXISTS (SELECT FROM record_reversals x WHERE x.books_id = $1 AND x.record_id = l.record_id)) w
WHERE ($2 IS NULL OR w.episode = $2) AND ($3 IS NULL OR w.project = $3)
AND ($4 IS NULL OR w.date >= $4) AND ($5 IS NULL OR w.date <= $5)
AND num_nonnulls(w.episode, w.project) = 1
ORDER BY w.date, w.record_id";

#[derive(QueryableByName)]
struct HoursRow {
    #[diesel(sql_type = Date)]
    date: NaiveDate,
    #[diesel(sql_type = Numeric)]
    hours: Decimal,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    episode: Option<Uuid>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    project: Option<Uuid>,
}

impl Tx<'_> {
    /// The owner's own hours of those days with what they count for: that one object's, or everybody's.
    pub(super) async fn own_hours(
        &mut self,
        object: Option<CostObject>,
        period: Period,
    ) -> Result<Vec<(CostObject, OwnHours)>, StoreError> {
        let (episode, project) = object_columns(object);
        let rows: Vec<HoursRow> = sql_query(OWN_HOURS)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<Nullable<SqlUuid>, _>(episode)
            .bind::<Nullable<SqlUuid>, _>(project)
            .bind::<Nullable<Date>, _>(period.from)
            .bind::<Nullable<Date>, _>(period.to)
            .load(self.connection)
            .await?;
        let each = rows.into_iter();
        each.map(|row| {
            Ok((object_of(row.episode, row.project)?, OwnHours { date: row.date, hours: row.hours }))
        })
        .collect()
    }

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
