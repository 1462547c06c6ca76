//! Purchases: receipts, their lines as the books hold them now, and invoices that wait to be paid.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::{Fault, StoreError};
use super::recording::ordinal;
use super::records::object_of;
use super::schema::{attributions, movements, purchase_line_treatments, purchase_lines, records, sources};
use super::{live, money, read_as};
use crate::rules::ids::{RecordId, SourceId};
use crate::rules::money::Money;
use crate::rules::purchases::{
    LineBought, LotBought, NewPurchase, PurchaseBought, PurchaseFacts, PurchaseToPay,
};
use crate::rules::recording::{CostObject, Label, Side, SourceKind, Word};
use crate::rules::refusal::Refusal;
use crate::rules::rows::{PurchaseLine, Target};
use crate::rules::treatment::Treatment;

diesel::define_sql_function! {
    /// In small letters.
    fn lower(text: diesel::sql_types::Nullable<diesel::sql_types::Text>)
        -> diesel::sql_types::Nullable<diesel::sql_types::Text>;
}

impl Tx<'_> {
    pub(super) async fn add_purchase_line(
        &mut self,
        record: RecordId,
        row: &PurchaseLine,
    ) -> Result<(), StoreError> {
        let (position, part) = (ordinal(row.position), ordinal(row.part));
        diesel::insert_into(purchase_lines::table)
            .values((
                purchase_lines::books_id.eq(self.id.0),
                purchase_lines::record_id.eq(record.0),
                purchase_lines::position.eq(position),
                purchase_lines::part.eq(part),
                purchase_lines::text.eq(&row.text),
                purchase_lines::source_id.eq(row.source.0),
                purchase_lines::amount.eq(row.amount.amount()),
                purchase_lines::vehicle.eq(&row.vehicle),
            ))
            .execute(self.connection)
            .await?;
        let treatments: Vec<_> = row
            .treatments
            .iter()
            .enumerate()
            .map(|(place, (treatment, amount))| {
                (
                    purchase_line_treatments::books_id.eq(self.id.0),
                    purchase_line_treatments::record_id.eq(record.0),
                    purchase_line_treatments::position.eq(position),
                    purchase_line_treatments::part.eq(part),
                    purchase_line_treatments::place.eq(ordinal(place)),
                    purchase_line_treatments::treatment.eq(treatment.code()),
                    purchase_line_treatments::amount.eq(amount.amount()),
                )
            })
            .collect();
        diesel::insert_into(purchase_line_treatments::table)
            .values(treatments)
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// What the rules must know beside a receipt: its accounts, its pieces, tools repaired, vehicles at the
    /// standard rate.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn purchase_facts(&mut self, new: &NewPurchase) -> Result<PurchaseFacts, StoreError> {
        let mut facts = PurchaseFacts::default();
        for id in new.paid_from.into_iter().chain(new.paid.iter().map(|part| part.account)) {
            facts.accounts.push(self.money_account(id).await?);
        }
        for piece in new.lines.iter().filter_map(|line| line.piece) {
            facts.pieces.push(self.piece_in_work(piece).await?);
        }
        for tool in new.lines.iter().filter_map(|line| line.repairs) {
            facts.tools.push(self.tool_in_repair(tool).await?);
        }
        let asks = new
            .lines
            .iter()
            .any(|line| line.vehicle.is_some() || line.tool.is_some() || !line.tools.is_empty());
        facts.at_rate = self.vehicles_at_rate_for(asks).await?;
        facts.documents = self.documents_on_hand(&new.documents).await?;
        Ok(facts)
    }

    /// Whether actual costs of that vehicle are recorded in that year; small and capital letters are the same.
    /// # Errors
    /// What the database could not do.
    pub async fn vehicle_has_actual_costs(
        &mut self,
        vehicle: &str,
        first: NaiveDate,
        last: NaiveDate,
    ) -> Result<bool, StoreError> {
        let lines = purchase_lines::table
            .inner_join(records::table.on(
                records::books_id.eq(purchase_lines::books_id).and(records::id.eq(purchase_lines::record_id)),
            ))
            .filter(purchase_lines::books_id.eq(self.id.0))
            .filter(lower(purchase_lines::vehicle).eq(lower(vehicle)))
            .filter(records::date.between(first, last))
            .filter(live!(purchase_lines));
        Ok(diesel::select(diesel::dsl::exists(lines)).get_result(self.connection).await?)
    }

    /// An invoice, and whether it was paid.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn purchase_to_pay(&mut self, id: RecordId) -> Result<PurchaseToPay, StoreError> {
        let kept = self.live_purchase(id).await?;
        let purchase: NewPurchase = serde_json::from_value(kept)?;
        let facts = self.purchase_facts(&purchase).await?;
        let paid_by = self.live_dependants(id, Word::Purchases, "payment").await?.into_iter().next();
        Ok(PurchaseToPay { record: id, purchase, paid_by, facts })
    }

    async fn live_purchase(&mut self, id: RecordId) -> Result<serde_json::Value, StoreError> {
        let kept = self.record(Some(Word::Purchases), id).await?;
        let is_purchase = matches!(kept.kind.as_str(), "purchase" | "invoice");
        if kept.reversed_by.is_some() || !is_purchase {
            return Err(Self::missing("purchase", id));
        }
        Ok(kept.facts)
    }

    /// A purchase with its lines as the books hold them, and of lots what can go back `on` that day. An invoice of
    /// cash books has its lines with its payment.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn purchase_bought(&mut self, id: RecordId, on: NaiveDate) -> Result<PurchaseBought, Fault> {
        self.live_purchase(id).await?;
        let kept = self.record(None, id).await?;
        let payment = self.live_dependants(id, Word::Purchases, "payment").await?.into_iter().next();
        let mut lines = self.lines_bought(id, on).await?;
        let (mut record, mut date) = (id, kept.date);
        if let (true, Some(payment)) = (lines.is_empty(), payment) {
            lines = self.lines_bought(payment, on).await?;
            (record, date) = (payment, self.record(None, payment).await?.date);
        }
        let returns = self.live_dependants(record, Word::Purchases, "return").await?;
        Ok(PurchaseBought { record, date, text: kept.text, lines, returns })
    }

    async fn lines_bought(&mut self, record: RecordId, on: NaiveDate) -> Result<Vec<LineBought>, Fault> {
        type Row = (i32, i32, String, Uuid, Decimal, String, Option<String>);
        let rows: Vec<Row> = purchase_lines::table
            .inner_join(sources::table.on(
                sources::books_id.eq(purchase_lines::books_id).and(sources::id.eq(purchase_lines::source_id)),
            ))
            .filter(purchase_lines::books_id.eq(self.id.0))
            .filter(purchase_lines::record_id.eq(record.0))
            .order((purchase_lines::position, purchase_lines::part))
            .select((
                purchase_lines::position,
                purchase_lines::part,
                purchase_lines::text,
                purchase_lines::source_id,
                purchase_lines::amount,
                sources::kind,
                purchase_lines::vehicle,
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut lines = Vec::with_capacity(rows.len());
        for (place, part, text, source, amount, kind, vehicle) in rows {
            let source = SourceId(source);
            let line = PurchaseLine {
                position: usize::try_from(place).unwrap_or_default(),
                part: usize::try_from(part).unwrap_or_default(),
                text,
                source,
                amount: money("purchase_lines.amount", amount, base)?,
                treatments: self.line_treatments(record, place, part).await?,
                vehicle,
            };
            lines.push(LineBought {
                line,
                kind: read_as("sources.kind", &kind, SourceKind::named)?,
                held: self.held_by(source).await?,
                attributed: self.standing_at(source).await?,
                last_given: self.last_given_of(source).await?,
                lot: self.lot_left(source, on).await?,
            });
        }
        Ok(lines)
    }

    async fn line_treatments(
        &mut self,
        record: RecordId,
        position: i32,
        part: i32,
    ) -> Result<Vec<(Treatment, Money)>, StoreError> {
        let rows: Vec<(String, Decimal)> = purchase_line_treatments::table
            .filter(purchase_line_treatments::books_id.eq(self.id.0))
            .filter(purchase_line_treatments::record_id.eq(record.0))
            .filter(purchase_line_treatments::position.eq(position))
            .filter(purchase_line_treatments::part.eq(part))
            .order(purchase_line_treatments::place)
            .select((purchase_line_treatments::treatment, purchase_line_treatments::amount))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(treatment, amount)| {
                let treatment =
                    read_as("purchase_line_treatments.treatment", &treatment, Treatment::of_code)?;
                Ok((treatment, money("purchase_line_treatments.amount", amount, base)?))
            })
            .collect()
    }

    async fn held_by(&mut self, source: SourceId) -> Result<Money, StoreError> {
        let held: Option<Decimal> = movements::table
            .filter(movements::books_id.eq(self.id.0))
            .filter(movements::source_id.eq(source.0))
            .select(diesel::dsl::sum(movements::amount))
            .first(self.connection)
            .await?;
        money("movements.amount", held.unwrap_or_default(), self.card().base)
    }

    async fn standing_at(&mut self, source: SourceId) -> Result<Vec<(CostObject, Label, Money)>, StoreError> {
        type Row = (Option<Uuid>, Option<Uuid>, String, Option<Decimal>);
        let rows: Vec<Row> = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .filter(attributions::source_id.eq(source.0))
            .group_by((attributions::episode_id, attributions::project_id, attributions::label))
            .order((attributions::episode_id, attributions::project_id, attributions::label))
            .select((
                attributions::episode_id,
                attributions::project_id,
                attributions::label,
                diesel::dsl::sum(attributions::amount),
            ))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        let mut standing = Vec::with_capacity(rows.len());
        for (episode, project, label, amount) in rows {
            let amount = money("attributions.amount", amount.unwrap_or_default(), base)?;
            let label = read_as("attributions.label", &label, |one| Label::named(Side::Cost, one))?;
            if !amount.is_zero() {
                standing.push((object_of(episode, project)?, label, amount));
            }
        }
        Ok(standing)
    }

    /// The lot behind a line that went to stock, with what can go back on that day.
    async fn lot_left(&mut self, source: SourceId, on: NaiveDate) -> Result<Option<LotBought>, Fault> {
        let Some(facts) = self.lot_of_source(source).await? else { return Ok(None) };
        let free = facts.free_on(on).map_err(Refusal::from)?;
        let moves = self.standing_moves_of_lot(facts.lot.id).await?;
        let moves: Vec<_> = moves.into_iter().map(|moved| (moved.record, moved.row)).collect();
        let mut pieces = Vec::new();
        let named = moves.iter().filter_map(|(_, row)| match row.to {
            Target::Piece(piece) => Some(piece),
            _ => None,
        });
        for piece in named.collect::<std::collections::BTreeSet<_>>() {
            pieces.push(self.piece_in_work(piece).await?);
        }
        Ok(Some(LotBought { lot: facts.lot, left: free.quantity, left_cost: free.cost, moves, pieces }))
    }
}
