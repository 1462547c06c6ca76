//! Costing: what a statement and a roll-forward are worked out from.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{attributions, budget_lines, entries, gifts, movements, postings, sources, tools};
use super::{live, money, read_as};
use crate::rules::costing::{
    AttributedAmount, BudgetedAmount, DatedAmount, EpisodeFacts, MovementFacts, ObjectFacts, Period,
    PostedSum, ProjectFacts, ProjectOfYear, SourceFacts, StatementFacts,
};
use crate::rules::ids::{EpisodeId, ProjectId, SourceId};
use crate::rules::journal::{Account, EntryKind, TaxClass};
use crate::rules::recording::{Category, CostObject, Label, MovementKind, Side, Source, SourceKind};
use crate::rules::rows::ToolOrigin;

impl Tx<'_> {
    /// # Errors
    /// What the database could not do; a row that does not fit.
    pub async fn statement_facts(
        &mut self,
        episode: EpisodeId,
        period: Period,
    ) -> Result<StatementFacts, StoreError> {
        let facts = self.object_facts(CostObject::Episode(episode)).await?;
        let sources = self.sources_of(&[&facts]).await?;
        Ok(StatementFacts { episode, currency: self.card().base, period, facts, sources })
    }

    /// The project's own facts and its episodes', in the order they were recorded.
    /// # Errors
    /// As [`Tx::statement_facts`].
    pub async fn project_facts(
        &mut self,
        project: ProjectId,
        period: Period,
    ) -> Result<ProjectFacts, StoreError> {
        let own = self.object_facts(CostObject::Project(project)).await?;
        let mut episodes = Vec::new();
        for episode in self.episodes_of(project).await? {
            let facts = self.object_facts(CostObject::Episode(episode.id)).await?;
            episodes.push(EpisodeFacts { episode: episode.id, facts });
        }
        let parts: Vec<&ObjectFacts> =
            std::iter::once(&own).chain(episodes.iter().map(|episode| &episode.facts)).collect();
        let sources = self.sources_of(&parts).await?;
        Ok(ProjectFacts { project, currency: self.card().base, period, episodes, own, sources })
    }

    /// Every project with what it has to show for those days.
    /// # Errors
    /// As [`Tx::statement_facts`].
    pub async fn projects_of_year(&mut self, period: Period) -> Result<Vec<ProjectOfYear>, StoreError> {
        let mut found = Vec::new();
        for id in self.projects().await? {
            let name = self.project(id).await?.name;
            let titles = self.episodes_of(id).await?.into_iter().map(|one| (one.id, one.title)).collect();
            found.push(ProjectOfYear { name, titles, facts: self.project_facts(id, period).await? });
        }
        Ok(found)
    }

    async fn object_facts(&mut self, object: CostObject) -> Result<ObjectFacts, StoreError> {
        Ok(ObjectFacts {
            object,
            attributions: self.attributed_to(object).await?,
            own_hours: self
                .own_hours(Some(object), Period::default())
                .await?
                .into_iter()
                .map(|(_, own)| own)
                .collect(),
            budget: self.budget_of(object).await?,
        })
    }

    async fn attributed_to(&mut self, object: CostObject) -> Result<Vec<AttributedAmount>, StoreError> {
        type Row = (Uuid, String, NaiveDate, String, Decimal);
        let source =
            sources::books_id.eq(attributions::books_id).and(sources::id.eq(attributions::source_id));
        let query = attributions::table
            .inner_join(sources::table.on(source))
            .filter(attributions::books_id.eq(self.id.0))
            .order((attributions::date, attributions::id))
            .select((
                attributions::source_id,
                sources::side,
                attributions::date,
                attributions::label,
                attributions::amount,
            ))
            .into_boxed();
        let query = match object {
            CostObject::Episode(id) => query.filter(attributions::episode_id.eq(id.0)),
            CostObject::Project(id) => query.filter(attributions::project_id.eq(id.0)),
        };
        let rows: Vec<Row> = query.load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(source, side, date, label, amount)| {
                let side = read_as("sources.side", &side, Side::named)?;
                Ok(AttributedAmount {
                    source: SourceId(source),
                    side,
                    label: read_as("attributions.label", &label, |label| Label::named(side, label))?,
                    date,
                    amount: money("attributions.amount", amount, base)?,
                })
            })
            .collect()
    }

    /// An episode's lines, or a project's that name no episode.
    async fn budget_of(&mut self, object: CostObject) -> Result<Vec<BudgetedAmount>, StoreError> {
        let query = budget_lines::table
            .filter(budget_lines::books_id.eq(self.id.0))
            .filter(live!(budget_lines))
            .order(budget_lines::id)
            .select((budget_lines::category, budget_lines::amount))
            .into_boxed();
        let query = match object {
            CostObject::Episode(id) => query.filter(budget_lines::episode_id.eq(id.0)),
            CostObject::Project(id) => {
                query.filter(budget_lines::project_id.eq(id.0)).filter(budget_lines::episode_id.is_null())
            }
        };
        let rows: Vec<(String, Decimal)> = query.load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(category, amount)| {
                Ok(BudgetedAmount {
                    category: read_as("budget_lines.category", &category, Category::named)?,
                    amount: money("budget_lines.amount", amount, base)?,
                })
            })
            .collect()
    }

    async fn sources_of(&mut self, parts: &[&ObjectFacts]) -> Result<Vec<SourceFacts>, StoreError> {
        let ids: BTreeSet<Uuid> =
            parts.iter().flat_map(|part| part.attributions.iter().map(|one| one.source.0)).collect();
        self.source_facts(Wanted::These(ids.into_iter().collect())).await
    }

    /// Every source of the books with everything that ever happened to it.
    /// # Errors
    /// As [`Tx::statement_facts`].
    pub async fn all_sources(&mut self) -> Result<Vec<SourceFacts>, StoreError> {
        self.source_facts(Wanted::All).await
    }

    async fn source_facts(&mut self, wanted: Wanted) -> Result<Vec<SourceFacts>, StoreError> {
        let mut query = sources::table
            .filter(sources::books_id.eq(self.id.0))
            .order(sources::id)
            .select((sources::id, sources::side, sources::kind, sources::text))
            .into_boxed();
        if let Wanted::These(ids) = &wanted {
            query = query.filter(sources::id.eq_any(ids.clone()));
        }
        let rows: Vec<(Uuid, String, String, String)> = query.load(self.connection).await?;
        let given = self.given_goods().await?;
        let mut moved = self.movements_by_source(&wanted).await?;
        let mut attributed = self.amounts_by_source(&wanted).await?;
        rows.into_iter()
            .map(|(id, side, kind, text)| {
                let kind = read_as("sources.kind", &kind, SourceKind::named)?;
                let side = read_as("sources.side", &side, Side::named)?;
                Ok(SourceFacts {
                    source: Source { id: SourceId(id), side, kind, text },
                    given: kind == SourceKind::Gift || given.contains(&id),
                    movements: moved.remove(&id).unwrap_or_default(),
                    attributed: attributed.remove(&id).unwrap_or_default(),
                })
            })
            .collect()
    }

    /// Sources of goods that nobody paid for: gifts, and the tools and pieces that came as such.
    async fn given_goods(&mut self) -> Result<BTreeSet<Uuid>, StoreError> {
        let gifts: Vec<Option<Uuid>> = gifts::table
            .filter(gifts::books_id.eq(self.id.0))
            .filter(gifts::source_id.is_not_null())
            .filter(live!(gifts))
            .select(gifts::source_id)
            .load(self.connection)
            .await?;
        let free = [ToolOrigin::ForPromotion, ToolOrigin::PersonalGift, ToolOrigin::Loan];
        let tools: Vec<Uuid> = tools::table
            .filter(tools::books_id.eq(self.id.0))
            .filter(tools::origin.eq_any(free.map(ToolOrigin::as_str)))
            .select(tools::source_id)
            .load(self.connection)
            .await?;
        Ok(gifts.into_iter().flatten().chain(tools).collect())
    }

    async fn movements_by_source(
        &mut self,
        wanted: &Wanted,
    ) -> Result<BTreeMap<Uuid, Vec<MovementFacts>>, StoreError> {
        type Row = (Uuid, NaiveDate, String, Decimal, Option<String>, Option<String>);
        let taken_back = diesel::alias!(entries as taken_back);
        let behind = entries::books_id
            .eq(movements::books_id)
            .and(entries::number.nullable().eq(movements::entry_number));
        let original = taken_back
            .field(entries::books_id)
            .eq(movements::books_id)
            .and(taken_back.field(entries::number).nullable().eq(entries::reverses.nullable()));
        let mut query = movements::table
            .left_join(entries::table.on(behind))
            .left_join(taken_back.on(original))
            .filter(movements::books_id.eq(self.id.0))
            .order((movements::date, movements::id))
            .select((
                movements::source_id,
                movements::date,
                movements::kind,
                movements::amount,
                entries::kind.nullable(),
                taken_back.field(entries::kind).nullable(),
            ))
            .into_boxed();
        if let Wanted::These(ids) = wanted {
            query = query.filter(movements::source_id.eq_any(ids.clone()));
        }
        let rows: Vec<Row> = query.load(self.connection).await?;
        let base = self.card().base;
        let mut found: BTreeMap<Uuid, Vec<MovementFacts>> = BTreeMap::new();
        for (source, date, kind, amount, entry_kind, taken_back) in rows {
            let entry_kind = taken_back.or(entry_kind);
            found.entry(source).or_default().push(MovementFacts {
                date,
                kind: read_as("movements.kind", &kind, MovementKind::named)?,
                amount: money("movements.amount", amount, base)?,
                entry_kind: entry_kind
                    .map(|kind| read_as("entries.kind", &kind, EntryKind::named))
                    .transpose()?,
            });
        }
        Ok(found)
    }

    async fn amounts_by_source(
        &mut self,
        wanted: &Wanted,
    ) -> Result<BTreeMap<Uuid, Vec<DatedAmount>>, StoreError> {
        let mut query = attributions::table
            .filter(attributions::books_id.eq(self.id.0))
            .order((attributions::date, attributions::id))
            .select((attributions::source_id, attributions::date, attributions::amount))
            .into_boxed();
        if let Wanted::These(ids) = wanted {
            query = query.filter(attributions::source_id.eq_any(ids.clone()));
        }
        let rows: Vec<(Uuid, NaiveDate, Decimal)> = query.load(self.connection).await?;
        let base = self.card().base;
        let mut found: BTreeMap<Uuid, Vec<DatedAmount>> = BTreeMap::new();
        for (source, date, amount) in rows {
            let amount = money("attributions.amount", amount, base)?;
            found.entry(source).or_default().push(DatedAmount { date, amount });
        }
        Ok(found)
    }

    /// What the journal holds by account and class up to and with `as_of`, without entries that no source stands
    /// behind and without their reversals.
    /// # Errors
    /// As [`Tx::statement_facts`].
    pub async fn posted_sums(&mut self, as_of: Option<NaiveDate>) -> Result<Vec<PostedSum>, StoreError> {
        let apart: Vec<&str> =
            EntryKind::ALL.iter().filter(|kind| !kind.ties_to_sources()).map(|kind| kind.as_str()).collect();
        let taken_back = diesel::alias!(entries as taken_back);
        let of_entry =
            entries::books_id.eq(postings::books_id).and(entries::number.eq(postings::entry_number));
        let original = taken_back
            .field(entries::books_id)
            .eq(entries::books_id)
            .and(taken_back.field(entries::number).nullable().eq(entries::reverses));
        let original_kind = taken_back.field(entries::kind).nullable();
        let mut query = postings::table
            .inner_join(entries::table.on(of_entry))
            .left_join(taken_back.on(original))
            .filter(postings::books_id.eq(self.id.0))
            .filter(entries::kind.ne_all(apart.clone()))
            .filter(original_kind.is_null().or(original_kind.ne_all(apart)))
            .group_by((postings::account, postings::tax_class))
            .select((postings::account, postings::tax_class, diesel::dsl::sum(postings::amount)))
            .into_boxed();
        if let Some(as_of) = as_of {
            query = query.filter(entries::date.le(as_of));
        }
        let rows: Vec<(String, Option<String>, Option<Decimal>)> = query.load(self.connection).await?;
        let base = self.card().base;
        rows.into_iter()
            .map(|(account, class, amount)| {
                Ok(PostedSum {
                    account: read_as("postings.account", &account, Account::of_code)?,
                    class: class
                        .map(|class| read_as("postings.tax_class", &class, TaxClass::named))
                        .transpose()?,
                    amount: money("postings.amount", amount.unwrap_or_default(), base)?,
                })
            })
            .collect()
    }
}

/// Which sources are looked at.
enum Wanted {
    All,
    These(Vec<Uuid>),
}
