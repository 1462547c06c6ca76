//! Attributions: lists of them, and a source with everything that happened to it.

mod joint;
mod overhead;
mod pools;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::object_columns;
use super::records::{After, AttributionKept, AttributionRow, attribution, attributions_with_source};
use super::schema::{
    attributions, lots, movements, piece_leavings, piece_sales, pieces, record_objects, record_reversals,
    records, sources, tools,
};
use super::{live, money, read_as, standing_sale};
use crate::rules::attributions::{
    Counts, ShelfMoved, ShelfWay, SourceGiven, SourceMoved, SourceStanding, ThingBehind,
};
use crate::rules::ids::{EpisodeId, ProjectId, RecordId, SourceId};
use crate::rules::journal::Stream;
use crate::rules::recording::{Category, Label, Recording, Side, Source, SourceKind};
use crate::rules::rows::{PiecePurpose, Target};

/// Which attributions a list shows.
#[derive(Clone, Debug, Default)]
pub struct AttributionFilter {
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub episode: Option<EpisodeId>,
    pub project: Option<ProjectId>,
    /// Costs of that category; an income of the same name is not one.
    pub category: Option<Category>,
    /// The line of the statement, whatever its side.
    pub label: Option<String>,
    pub side: Option<Side>,
    pub source: Option<SourceId>,
}

impl Tx<'_> {
    /// A page of attributions, oldest first, at most `limit`.
    /// # Errors
    /// What the database could not do.
    pub async fn attributions(
        &mut self,
        filter: &AttributionFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<AttributionKept>, StoreError> {
        let mut query = attributions_with_source(self.id.0).into_boxed();
        if let Some(from) = filter.from {
            query = query.filter(attributions::date.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(attributions::date.le(to));
        }
        if let Some(episode) = filter.episode {
            query = query.filter(attributions::episode_id.eq(episode.0));
        }
        if let Some(project) = filter.project {
            query = query.filter(attributions::project_id.eq(project.0));
        }
        if let Some(category) = filter.category {
            query = query.filter(attributions::label.eq(category.as_str()));
            query = query.filter(sources::side.eq(Side::Cost.as_str()));
        }
        if let Some(label) = &filter.label {
            query = query.filter(attributions::label.eq(label.clone()));
        }
        if let Some(side) = filter.side {
            query = query.filter(sources::side.eq(side.as_str()));
        }
        if let Some(source) = filter.source {
            query = query.filter(attributions::source_id.eq(source.0));
        }
        if let Some(after) = after {
            let same_day = attributions::date.eq(after.date).and(attributions::id.gt(after.id));
            query = query.filter(attributions::date.gt(after.date).or(same_day));
        }
        let rows: Vec<AttributionRow> =
            query.order((attributions::date, attributions::id)).limit(limit).load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter().map(|row| attribution(row, base)).collect()
    }

    /// A source that a request names, with everything that ever happened to it.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn source_standing(&mut self, id: SourceId) -> Result<SourceStanding, StoreError> {
        type Row = (Uuid, String, String, String, Vec<String>);
        let opened = records::books_id.eq(sources::books_id).and(records::id.eq(sources::record_id));
        let row: Option<Row> = sources::table
            .inner_join(records::table.on(opened))
            .filter(sources::books_id.eq(self.id.0))
            .filter(sources::id.eq(id.0))
            .select((sources::record_id, sources::side, sources::kind, sources::text, records::streams))
            .first(self.connection)
            .await
            .optional()?;
        let (record, side, kind, text, streams) =
            row.ok_or_else(|| StoreError::UnknownId { what: "sources".to_owned(), id: id.0 })?;
        let source = Source {
            id,
            side: read_as("sources.side", &side, Side::named)?,
            kind: read_as("sources.kind", &kind, SourceKind::named)?,
            text,
        };
        let streams = streams.iter().map(|stream| read_as("records.streams", stream, Stream::named));
        Ok(SourceStanding {
            record: RecordId(record),
            thing: self.thing_behind(id).await?,
            streams: streams.collect::<Result<_, _>>()?,
            movements: self.source_moved(id).await?,
            attributed: self.source_given(source.side, id).await?,
            shelf: self.shelf_moved(id).await?,
            source,
        })
    }

    /// What a lot held and gave, in money; nothing where the source is no lot.
    async fn shelf_moved(&mut self, id: SourceId) -> Result<Vec<ShelfMoved>, StoreError> {
        let Some(facts) = self.lot_of_source(id).await? else { return Ok(Vec::new()) };
        let records = facts.moves.iter().map(|moved| moved.record.0);
        let cancelled = self.cancelled_out(records).await?;
        let came = ShelfMoved {
            record: facts.record,
            counts: Counts::Live,
            date: facts.lot.acquired_on.max(facts.recorded_on),
            cost: facts.lot.cost,
            way: ShelfWay::Came,
        };
        let moves = facts.moves.iter().map(|moved| ShelfMoved {
            record: moved.record,
            counts: counts(&cancelled, moved.record.0),
            date: moved.row.date,
            cost: moved.row.cost,
            way: if moved.row.to == Target::Overhead { ShelfWay::ForNobody } else { ShelfWay::ForSomebody },
        });
        Ok(std::iter::once(came).chain(moves).collect())
    }

    /// The lot, tool or piece whose cost the source is; a piece that was stock and is sold or gone is none any more.
    async fn thing_behind(&mut self, id: SourceId) -> Result<Option<ThingBehind>, StoreError> {
        let books = self.id.0;
        let lot = lots::table.filter(lots::books_id.eq(books)).filter(lots::source_id.eq(id.0));
        if diesel::select(diesel::dsl::exists(lot)).get_result(self.connection).await? {
            return Ok(Some(ThingBehind::Lot));
        }
        let tool = tools::table.filter(tools::books_id.eq(books)).filter(tools::source_id.eq(id.0));
        if diesel::select(diesel::dsl::exists(tool)).get_result(self.connection).await? {
            return Ok(Some(ThingBehind::Tool));
        }
        let sold = piece_sales::table
            .filter(piece_sales::books_id.eq(pieces::books_id))
            .filter(piece_sales::piece_id.eq(pieces::id))
            .filter(standing_sale!());
        let left = piece_leavings::table
            .filter(piece_leavings::books_id.eq(pieces::books_id))
            .filter(piece_leavings::piece_id.eq(pieces::id))
            .filter(live!(piece_leavings));
        let gone = diesel::dsl::exists(sold).or(diesel::dsl::exists(left));
        let stock_sold = pieces::purpose.eq(PiecePurpose::Resale.as_str()).and(gone);
        let piece = pieces::table
            .filter(pieces::books_id.eq(books))
            .filter(pieces::source_id.eq(id.0))
            .filter(diesel::dsl::not(stock_sold));
        let on_hand: bool = diesel::select(diesel::dsl::exists(piece)).get_result(self.connection).await?;
        Ok(on_hand.then_some(ThingBehind::Piece))
    }

    async fn source_moved(&mut self, id: SourceId) -> Result<Vec<SourceMoved>, StoreError> {
        let rows: Vec<(Uuid, NaiveDate, Decimal)> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq(id.0))
            .order(movements::id)
            .select((movements::record_id, movements::date, movements::amount))
            .load(self.connection)
            .await?;
        let cancelled = self.cancelled_out(rows.iter().map(|(record, ..)| *record)).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(record, date, amount)| {
                Ok(SourceMoved {
                    record: RecordId(record),
                    counts: counts(&cancelled, record),
                    date,
                    amount: money("movements.amount", amount, base)?,
                })
            })
            .collect()
    }

    async fn source_given(&mut self, side: Side, id: SourceId) -> Result<Vec<SourceGiven>, StoreError> {
        let rows: Vec<AttributionRow> = attributions_with_source(self.id.0)
            .filter(attributions::source_id.eq(id.0))
            .order(attributions::id)
            .load(self.connection)
            .await?;
        let cancelled = self.cancelled_out(rows.iter().map(|row| row.1)).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|row| {
                let kept = attribution(row, base)?;
                Ok(SourceGiven {
                    record: kept.record,
                    counts: counts(&cancelled, kept.record.0),
                    date: kept.date,
                    object: kept.object,
                    label: read_as("attributions.label", &kept.label, |label| Label::named(side, label))?,
                    amount: kept.amount,
                })
            })
            .collect()
    }

    /// What takes an amount from an episode or project stands on the records that gave it: taken back before it, they
    /// would leave less than nothing there. A reversal brings its own.
    pub(super) async fn givers_of(&mut self, recording: &Recording) -> Result<Vec<RecordId>, StoreError> {
        let mut givers = Vec::new();
        let takes = recording.attributions.iter().filter(|one| one.amount.is_negative());
        for one in takes.filter(|_| recording.reverses.is_empty()) {
            let (episode, project) = object_columns(Some(one.object));
            let rows: Vec<Uuid> = attributions::table
                .filter(attributions::books_id.eq(self.id.0))
                .filter(attributions::source_id.eq(one.source.0))
                .filter(attributions::episode_id.is_not_distinct_from(episode))
                .filter(attributions::project_id.is_not_distinct_from(project))
                .filter(attributions::label.eq(one.label.as_str()))
                .filter(live!(attributions))
                .select(attributions::record_id)
                .distinct()
                .load(self.connection)
                .await?;
            givers.extend(rows);
        }
        let cancelled = self.cancelled_out(givers.iter().copied()).await?;
        Ok(givers.into_iter().filter(|one| !cancelled.contains(one)).map(RecordId).collect())
    }

    /// Live records about the episode or project that `opened` opened: they stand on it without a link.
    pub(super) async fn records_on_object(&mut self, opened: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let about = record_objects::episode_id.eq(opened.0).or(record_objects::project_id.eq(opened.0));
        let rows: Vec<Uuid> = record_objects::table
            .filter(record_objects::books_id.eq(self.id.0))
            .filter(record_objects::record_id.ne(opened.0))
            .filter(about)
            .filter(live!(record_objects))
            .select(record_objects::record_id)
            .distinct()
            .load(self.connection)
            .await?;
        let cancelled = self.cancelled_out(rows.iter().copied()).await?;
        Ok(rows.into_iter().filter(|one| !cancelled.contains(one)).map(RecordId).collect())
    }

    /// Which of the records were taken back or take another one back.
    async fn cancelled_out(&mut self, ids: impl Iterator<Item = Uuid>) -> Result<Vec<Uuid>, StoreError> {
        let ids: Vec<Uuid> = ids.collect();
        let pairs: Vec<(Uuid, Uuid)> = record_reversals::table
            .filter(record_reversals::books_id.eq(self.id.0))
            .filter(record_reversals::record_id.eq_any(&ids).or(record_reversals::reversal_id.eq_any(&ids)))
            .select((record_reversals::record_id, record_reversals::reversal_id))
            .load(self.connection)
            .await?;
        Ok(pairs.into_iter().flat_map(|(record, reversal)| [record, reversal]).collect())
    }
}

fn counts(cancelled: &[Uuid], record: Uuid) -> Counts {
    if cancelled.contains(&record) { Counts::CancelledOut } else { Counts::Live }
}
