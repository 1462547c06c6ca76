//! The cost statement of an episode.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::{EpisodeId, SourceId};
use super::super::journal::Stream;
use super::super::money::{Currency, Money, MoneyFinding, Quantity};
use super::super::named::named;
use super::super::recording::{Category, CostObject, Label, Side};
use super::super::refusal::{At, Refusal};
use super::rolling::is_within;
use super::{AttributedAmount, CostingFinding, ObjectFacts, Period, SourceFacts};

/// What a statement is worked out from.
#[derive(Clone, Debug)]
pub struct StatementFacts {
    pub episode: EpisodeId,
    pub currency: Currency,
    pub period: Period,
    pub facts: ObjectFacts,
    /// Every source that the attributions name.
    pub sources: Vec<SourceFacts>,
}

/// What an episode cost and earned.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Statement {
    pub episode: EpisodeId,
    pub currency: Currency,
    /// First day covered; null for the whole life.
    pub from: Option<NaiveDate>,
    /// Last day covered; null for the whole life.
    pub to: Option<NaiveDate>,
    #[serde(flatten)]
    pub figures: Figures,
}

/// The figures of a statement. Every total is the sum of the lines above it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Figures {
    pub costs: Vec<CostLine>,
    pub cost_total: Money,
    pub recoveries: Vec<RecoveryLine>,
    pub recovered_total: Money,
    /// Costs less recoveries.
    pub net_cost: Money,
    pub income: Vec<IncomeLine>,
    /// Sum of the income lines, those in kind included: what was used of a gift stands among the costs at its
    /// value, and left out here it would count against the episode.
    pub income_total: Money,
    /// What platforms, agencies and banks kept of it.
    pub income_fees: Money,
    /// Income less income fees less net cost.
    pub result: Money,
    /// The owner's own hours; never a cost.
    #[schema(value_type = Quantity, example = "31.50")]
    pub own_hours: Decimal,
    /// Result for each own hour, rounded half up to the minor unit; null where no hour was recorded.
    pub pay_per_hour: Option<Money>,
    pub budget: Vec<BudgetVariance>,
    /// Whether every source named rolls forward: on no day is more attributed than there is.
    pub reconciles: bool,
}

/// The costs of one category.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct CostLine {
    pub category: Category,
    pub amount: Money,
    /// Where the attributions behind it are listed. A project's total has none: each of its parts has its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "/v1/attributions?episode=0192a1b2-0000-7000-8000-000000000001&category=materials")]
    pub attributions: Option<String>,
}

named! {
    /// What came back of a cost.
    pub enum RecoveryKind {
        PersonalPieceSold => "personal_piece_sold",
        SetPieceSold => "set_piece_sold",
    }
}

/// What came back of the costs in one way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct RecoveryLine {
    pub kind: RecoveryKind,
    pub amount: Money,
}

/// The income of one stream before anything was kept of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct IncomeLine {
    pub stream: Stream,
    pub gross: Money,
    /// Received in goods; such lines stand apart, after the others.
    pub in_kind: bool,
}

/// A category of the budget beside what it came to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct BudgetVariance {
    pub category: Category,
    pub budget: Money,
    pub actual: Money,
    /// Actual less budget: positive where more was spent.
    pub variance: Money,
}

/// The cost statement of an episode, over its whole life unless the period says otherwise.
/// # Errors
/// [`CostingFinding`] for a period that ends before it begins, or rows that should not be there.
pub fn statement(facts: &StatementFacts) -> Result<Statement, Refusal> {
    let period = facts.period.checked()?;
    let sound = sound_sources(&facts.sources, period);
    let gathered = Gathered::of(&facts.facts, facts.currency, period)?;
    let figures = gathered.figures(&sound, Some((facts.facts.object, period)))?;
    Ok(Statement {
        episode: facts.episode,
        currency: facts.currency,
        from: period.from,
        to: period.to,
        figures,
    })
}

/// The sources that roll forward up to the period's end.
pub(super) fn sound_sources(sources: &[SourceFacts], period: Period) -> BTreeSet<SourceId> {
    let sound = sources.iter().filter(|source| is_within(source, period.to));
    sound.map(|source| source.source.id).collect()
}

/// Sums on their way to a statement, in its order.
#[derive(Clone, Debug)]
pub(super) struct Gathered {
    currency: Currency,
    costs: BTreeMap<Category, Money>,
    recoveries: BTreeMap<RecoveryKind, Money>,
    income: BTreeMap<(bool, Stream), Money>,
    fees: Money,
    own_hours: Decimal,
    budget: BTreeMap<Category, Money>,
    sources: BTreeSet<SourceId>,
}

fn add<K: Ord>(sums: &mut BTreeMap<K, Money>, key: K, amount: Money) -> Result<(), MoneyFinding> {
    let sum = sums.entry(key).or_insert_with(|| Money::zero(amount.currency()));
    *sum = sum.plus(amount)?;
    Ok(())
}

impl Gathered {
    pub(super) fn nothing(currency: Currency) -> Self {
        Self {
            currency,
            costs: BTreeMap::new(),
            recoveries: BTreeMap::new(),
            income: BTreeMap::new(),
            fees: Money::zero(currency),
            own_hours: Decimal::ZERO,
            budget: BTreeMap::new(),
            sources: BTreeSet::new(),
        }
    }

    pub(super) fn of(facts: &ObjectFacts, currency: Currency, period: Period) -> Result<Self, Refusal> {
        let mut gathered = Self::nothing(currency);
        for attribution in facts.attributions.iter().filter(|one| period.holds(one.date)) {
            gathered.take(attribution)?;
        }
        for own in facts.own_hours.iter().filter(|own| period.holds(own.date)) {
            gathered.work(own.hours)?;
        }
        for line in &facts.budget {
            add(&mut gathered.budget, line.category, line.amount).at("/budget")?;
        }
        Ok(gathered)
    }

    fn work(&mut self, hours: Decimal) -> Result<(), MoneyFinding> {
        self.own_hours = self.own_hours.checked_add(hours).ok_or(MoneyFinding::TooLarge)?;
        Ok(())
    }

    fn take(&mut self, one: &AttributedAmount) -> Result<(), Refusal> {
        if one.amount.currency() != self.currency {
            return Err(CostingFinding::NotInBase { amount: one.amount, base: self.currency }.into());
        }
        self.sources.insert(one.source);
        match (one.side, one.label) {
            (Side::Cost, Label::Category(category)) => add(&mut self.costs, category, one.amount)?,
            (Side::Income, Label::Stream(stream)) => add(&mut self.income, (false, stream), one.amount)?,
            (Side::InKind, Label::Stream(stream)) => add(&mut self.income, (true, stream), one.amount)?,
            (Side::Fee, Label::Stream(_)) => self.fees = self.fees.plus(one.amount)?,
            (Side::Recovery, Label::PersonalPieceSold) => {
                add(&mut self.recoveries, RecoveryKind::PersonalPieceSold, one.amount)?;
            }
            (Side::Recovery, Label::SetPieceSold) => {
                add(&mut self.recoveries, RecoveryKind::SetPieceSold, one.amount)?;
            }
            (side, label) => {
                return Err(CostingFinding::LabelOfAnotherSide { side, label, source: one.source }.into());
            }
        }
        Ok(())
    }

    /// Adds another part's sums to these.
    pub(super) fn include(&mut self, other: &Self) -> Result<(), Refusal> {
        for (category, amount) in &other.costs {
            add(&mut self.costs, *category, *amount)?;
        }
        for (kind, amount) in &other.recoveries {
            add(&mut self.recoveries, *kind, *amount)?;
        }
        for (line, amount) in &other.income {
            add(&mut self.income, *line, *amount)?;
        }
        for (category, amount) in &other.budget {
            add(&mut self.budget, *category, *amount)?;
        }
        self.fees = self.fees.plus(other.fees)?;
        self.work(other.own_hours)?;
        self.sources.extend(&other.sources);
        Ok(())
    }

    /// The statement's figures; with links to the attributions of `linked` where it is one object's.
    pub(super) fn figures(
        &self,
        sound: &BTreeSet<SourceId>,
        linked: Option<(CostObject, Period)>,
    ) -> Result<Figures, Refusal> {
        let cost_total = Money::sum(self.currency, self.costs.values().copied())?;
        let recovered_total = Money::sum(self.currency, self.recoveries.values().copied())?;
        let income_total = Money::sum(self.currency, self.income.values().copied())?;
        let net_cost = cost_total.minus(recovered_total)?;
        let result = income_total.minus(self.fees)?.minus(net_cost)?;
        let pay_per_hour =
            if self.own_hours.is_zero() { None } else { Some(result.portion(Decimal::ONE, self.own_hours)?) };
        Ok(Figures {
            costs: self
                .costs
                .iter()
                .filter(|(_, amount)| !amount.is_zero())
                .map(|(category, amount)| CostLine {
                    category: *category,
                    amount: *amount,
                    attributions: linked.map(|(object, period)| attributions_at(object, period, *category)),
                })
                .collect(),
            cost_total,
            recoveries: self
                .recoveries
                .iter()
                .filter(|(_, amount)| !amount.is_zero())
                .map(|(kind, amount)| RecoveryLine { kind: *kind, amount: *amount })
                .collect(),
            recovered_total,
            net_cost,
            income: self
                .income
                .iter()
                .filter(|(_, gross)| !gross.is_zero())
                .map(|((in_kind, stream), gross)| IncomeLine {
                    stream: *stream,
                    gross: *gross,
                    in_kind: *in_kind,
                })
                .collect(),
            income_total,
            income_fees: self.fees,
            result,
            own_hours: with_two_decimals(self.own_hours),
            pay_per_hour,
            budget: self.variances()?,
            reconciles: self.sources.is_subset(sound),
        })
    }

    fn variances(&self) -> Result<Vec<BudgetVariance>, Refusal> {
        let mut lines = Vec::with_capacity(self.budget.len());
        for (category, budget) in &self.budget {
            let actual = self.costs.get(category).copied().unwrap_or_else(|| Money::zero(self.currency));
            let variance = actual.minus(*budget)?;
            lines.push(BudgetVariance { category: *category, budget: *budget, actual, variance });
        }
        Ok(lines)
    }
}

fn attributions_at(object: CostObject, period: Period, category: Category) -> String {
    let mut link = match object {
        CostObject::Episode(id) => format!("/v1/attributions?episode={id}"),
        CostObject::Project(id) => format!("/v1/attributions?project={id}"),
    };
    link.push_str(&format!("&category={category}"));
    for (name, day) in [("from", period.from), ("to", period.to)] {
        if let Some(day) = day {
            link.push_str(&format!("&{name}={day}"));
        }
    }
    link
}

/// 31.5 hours are shown as 31.50, a third decimal where there is one.
pub(super) fn with_two_decimals(hours: Decimal) -> Decimal {
    let mut hours = hours.normalize();
    if hours.scale() < 2 {
        hours.rescale(2);
    }
    hours
}
