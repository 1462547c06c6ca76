//! Goods received as they stand after the decisions so far.

use chrono::NaiveDate;
use diesel::dsl::{max, sum};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::gifts::{GiftBecame, GiftFacts, PostedGift};
use crate::rules::ids::{DealId, PartyId, RecordId, SourceId};
use crate::rules::money::Currency;
use crate::rules::recording::{Attribution, CostObject, Label, Movement, MovementKind, Side, SourceKind};
use crate::rules::rows::{Gift, GiftFate, GiftRelation};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::records::object_of;
use crate::store::schema::{attributions, entries, gifts, movements, record_objects, sources};
use crate::store::{live, money, read_as};

#[derive(Queryable)]
struct GiftRow {
    record: Uuid,
    gift: Uuid,
    party: Uuid,
    what: String,
    relation: String,
    received_on: NaiveDate,
    value: Option<Decimal>,
    evidence: Option<String>,
    fate: String,
    fate_on: Option<NaiveDate>,
    source: Option<Uuid>,
    deal: Option<Uuid>,
}

impl GiftRow {
    fn gift(self, base: Currency) -> Result<Gift, StoreError> {
        Ok(Gift {
            gift: (self.gift != self.record).then_some(RecordId(self.gift)),
            party: PartyId(self.party),
            what: self.what,
            relation: read_as("gifts.relation", &self.relation, GiftRelation::named)?,
            received_on: self.received_on,
            value: self.value.map(|value| money("gifts.value", value, base)).transpose()?,
            evidence: self.evidence,
            fate: read_as("gifts.fate", &self.fate, GiftFate::named)?,
            fate_on: self.fate_on,
            source: self.source.map(SourceId),
            deal: self.deal.map(DealId),
        })
    }
}

impl Tx<'_> {
    /// Goods received, by the record that brought them, as they stand after the decisions so far.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn gift(&mut self, id: RecordId) -> Result<GiftFacts, StoreError> {
        let rows = self.gift_rows(Some(id)).await?;
        let records: Vec<Uuid> = rows.iter().map(|row| row.record).collect();
        // A decision's record has a later id than the goods': the newest row says what they are now.
        let newest = rows.into_iter().next_back().ok_or_else(|| Self::missing("gift", id))?;
        let last = newest.record;
        Ok(GiftFacts {
            record: id,
            decided: (last != id.0).then_some(RecordId(last)),
            shown_in: self.gift_shown_in(last).await?,
            posted: self.posted_gift(&records).await?,
            gift: newest.gift(self.card().base)?,
        })
    }

    /// All goods received, by the records that brought them, as they stand after the decisions so far.
    /// # Errors
    /// What the database could not do.
    pub async fn all_gifts(&mut self) -> Result<Vec<(RecordId, Gift)>, StoreError> {
        let base = self.card().base;
        let mut newest: Vec<(RecordId, Gift)> = Vec::new();
        for row in self.gift_rows(None).await? {
            let brought_by = RecordId(row.gift);
            let gift = row.gift(base)?;
            match newest.last_mut().filter(|(before, _)| *before == brought_by) {
                Some((_, standing)) => *standing = gift,
                None => newest.push((brought_by, gift)),
            }
        }
        Ok(newest)
    }

    /// What was recorded of one gift, or of all of them; the newest row of each last.
    async fn gift_rows(&mut self, only: Option<RecordId>) -> Result<Vec<GiftRow>, StoreError> {
        let mut query = gifts::table
            .filter(gifts::books_id.eq(self.id.0))
            .filter(live!(gifts))
            .order((gifts::gift_id, gifts::record_id, gifts::place))
            .select((
                gifts::record_id,
                gifts::gift_id,
                gifts::party_id,
                gifts::what,
                gifts::relation,
                gifts::received_on,
                gifts::value,
                gifts::evidence,
                gifts::fate,
                gifts::fate_on,
                gifts::source_id,
                gifts::deal_id,
            ))
            .into_boxed();
        if let Some(id) = only {
            query = query.filter(gifts::gift_id.eq(id.0));
        }
        Ok(query.load(self.connection).await?)
    }

    /// The objects of the last record about the goods: each decision names them anew or takes them over.
    async fn gift_shown_in(&mut self, record: Uuid) -> Result<Vec<CostObject>, StoreError> {
        let rows: Vec<(Option<Uuid>, Option<Uuid>)> = record_objects::table
            .filter(record_objects::books_id.eq(self.id.0))
            .filter(record_objects::record_id.eq(record))
            .order(record_objects::place)
            .select((record_objects::episode_id, record_objects::project_id))
            .load(self.connection)
            .await?;
        rows.into_iter().map(|(episode, project)| object_of(episode, project)).collect()
    }

    /// The entry that took the goods into income, whichever of their records made it; a later one gave them back.
    async fn posted_gift(&mut self, records: &[Uuid]) -> Result<Option<PostedGift>, StoreError> {
        let number: Option<i64> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::record_id.eq_any(records))
            .order(entries::number)
            .select(entries::number)
            .first(self.connection)
            .await
            .optional()?;
        let Some(number) = number else { return Ok(None) };
        let moved = self.gift_movements(number).await?;
        let became = became_of(moved.iter().map(|(_, _, kind)| *kind));
        let mut attributions = Vec::new();
        let mut movements = Vec::with_capacity(moved.len());
        for (movement, side, _) in moved {
            attributions.extend(self.given_of_source(movement.source, side).await?);
            movements.push(movement);
        }
        Ok(Some(PostedGift {
            number,
            postings: self.postings_of(number).await?,
            movements,
            attributions,
            became,
        }))
    }

    async fn gift_movements(&mut self, number: i64) -> Result<Vec<(Movement, Side, SourceKind)>, StoreError> {
        type Row = (Uuid, NaiveDate, String, Decimal, String, String);
        let rows: Vec<Row> = movements::table
            .inner_join(
                sources::table
                    .on(sources::books_id.eq(movements::books_id).and(sources::id.eq(movements::source_id))),
            )
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::entry_number.eq(number))
            .order(movements::id)
            .select((
                movements::source_id,
                movements::date,
                movements::kind,
                movements::amount,
                sources::side,
                sources::kind,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(source, date, kind, amount, side, of)| {
                let movement = Movement {
                    source: SourceId(source),
                    date,
                    kind: read_as("movements.kind", &kind, MovementKind::named)?,
                    amount: money("movements.amount", amount, base)?,
                    entry: None,
                };
                let side = read_as("sources.side", &side, Side::named)?;
                Ok((movement, side, read_as("sources.kind", &of, SourceKind::named)?))
            })
            .collect()
    }

    /// What each object has of a source by now, corrections counted.
    async fn given_of_source(
        &mut self,
        source: SourceId,
        side: Side,
    ) -> Result<Vec<Attribution>, StoreError> {
        type Row = (Option<Uuid>, Option<Uuid>, String, Option<NaiveDate>, Option<Decimal>);
        let rows: Vec<Row> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .group_by((attributions::episode_id, attributions::project_id, attributions::label))
            .order((attributions::episode_id, attributions::project_id, attributions::label))
            .select((
                attributions::episode_id,
                attributions::project_id,
                attributions::label,
                max(attributions::date),
                sum(attributions::amount),
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut given = Vec::with_capacity(rows.len());
        for (episode, project, label, date, amount) in rows {
            let amount = money("attributions.amount", amount.unwrap_or_default(), base)?;
            let (Some(date), false) = (date, amount.is_zero()) else { continue };
            let label = read_as("attributions.label", &label, |text| Label::named(side, text))?;
            given.push(Attribution { source, date, object: object_of(episode, project)?, label, amount });
        }
        Ok(given)
    }
}

/// By the kinds of the sources that the entry opened.
fn became_of(mut kinds: impl Iterator<Item = SourceKind>) -> GiftBecame {
    kinds
        .find_map(|kind| match kind {
            SourceKind::Tool => Some(GiftBecame::Tool),
            SourceKind::Piece => Some(GiftBecame::Piece),
            _ => None,
        })
        .unwrap_or(GiftBecame::Spent)
}
