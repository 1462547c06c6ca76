//! The version for viewers: what the room cost at the till, nothing private.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::EpisodeId;
use super::super::money::{Currency, Money};
use super::super::recording::{Category, Label, Side};
use super::super::refusal::Refusal;
use super::StatementFacts;

/// What the room cost at the till. It says nothing of income, result, hours, sales or what a helper was paid.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StatementForViewers {
    pub episode: EpisodeId,
    pub currency: Currency,
    /// The costs that viewers are shown, by category.
    pub costs: Vec<CostForViewers>,
    pub total: Money,
    /// What is not in it, in words; the same for every episode, so that it gives nothing away.
    pub left_out: &'static str,
}

/// A category as viewers are shown it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct CostForViewers {
    pub category: Category,
    pub amount: Money,
}

const LEFT_OUT: &str = "Left out: goods that were given, anybody's work, trips, furniture bought to be sold \
                        again, and the running costs of the channel. A tool counts with the share of it that \
                        was used here.";

/// Whether a category is paid at a till for the room; pay is the helper's own matter, the rest the channel's.
const fn is_paid_at_the_till(category: Category) -> bool {
    match category {
        Category::Materials
        | Category::Furniture
        | Category::Tools
        | Category::Services
        | Category::PermitsDelivery
        | Category::Other => true,
        Category::PiecesSold | Category::PaidLabour | Category::Trips | Category::Overhead => false,
    }
}

/// What the room cost at the till: costs of what was bought for it, without goods that were given, without
/// recoveries.
/// # Errors
/// As [`statement`](super::statement()), but for labels, which are skipped.
pub fn statement_for_viewers(facts: &StatementFacts) -> Result<StatementForViewers, Refusal> {
    let period = facts.period.checked()?;
    let given: BTreeSet<_> =
        facts.sources.iter().filter(|source| source.given).map(|source| source.source.id).collect();
    let mut sums: BTreeMap<Category, Money> = BTreeMap::new();
    for one in facts.facts.attributions.iter().filter(|one| period.holds(one.date)) {
        let (Side::Cost, Label::Category(category)) = (one.side, one.label) else { continue };
        if is_paid_at_the_till(category) && !given.contains(&one.source) {
            let sum = sums.entry(category).or_insert_with(|| Money::zero(facts.currency));
            *sum = sum.plus(one.amount)?;
        }
    }
    let costs: Vec<_> = sums
        .into_iter()
        .filter(|(_, amount)| !amount.is_zero())
        .map(|(category, amount)| CostForViewers { category, amount })
        .collect();
    Ok(StatementForViewers {
        episode: facts.episode,
        currency: facts.currency,
        total: Money::sum(facts.currency, costs.iter().map(|cost| cost.amount))?,
        costs,
        left_out: LEFT_OUT,
    })
}
