//! The roll-forward: what every source was, what came and went, what was attributed of it and what is left, and
//! whether all of it together is what the journal says (invariant 6).

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::super::ids::SourceId;
use super::super::money::{Currency, Money, MoneyFinding};
use super::super::recording::{MovementKind, Side, SourceKind};
use super::super::refusal::Refusal;
use super::super::tie::{TieOf, first_day_out};
use super::{PostedSum, SourceFacts};

/// Opening + incurred - returned - removed - attributed = closing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Sums {
    pub opening: Money,
    pub incurred: Money,
    /// Positive where something went back.
    pub returned: Money,
    /// Positive where something left without being attributed.
    pub removed: Money,
    pub attributed: Money,
    /// What is still unattributed.
    pub closing: Money,
}

/// How one source rolls forward.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct RolledSource {
    pub source: SourceId,
    pub side: Side,
    pub kind: SourceKind,
    pub text: String,
    #[serde(flatten)]
    pub sums: Sums,
    /// Whether on every day no more was attributed than there was.
    pub rolls_forward: bool,
}

/// The sums of a kind of source, or of a whole side where `kind` is null.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct RolledTotal {
    pub side: Side,
    pub kind: Option<SourceKind>,
    #[serde(flatten)]
    pub sums: Sums,
}

/// What the journal says beside what the sources say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct LedgerTie {
    pub of: TieOf,
    pub ledger: Money,
    /// Sum of the movements that an entry stands behind.
    pub sources: Money,
    /// Ledger less sources: zero, or something is wrong.
    pub difference: Money,
}

/// Every source up to a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct RollForward {
    /// The last day counted; null for all that is recorded.
    pub as_of: Option<NaiveDate>,
    pub currency: Currency,
    /// Every source, one a line.
    pub sources: Vec<RolledSource>,
    /// By side, then by kind, each side's total after its kinds.
    pub totals: Vec<RolledTotal>,
    /// The sums of the journal beside those of the sources.
    pub ledger: Vec<LedgerTie>,
    /// Every source rolls forward and every sum ties.
    pub reconciles: bool,
}

/// What no episode and no project has taken up yet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Unattributed {
    pub source: SourceId,
    pub side: Side,
    pub kind: SourceKind,
    pub text: String,
    pub amount: Money,
}

impl RollForward {
    /// Sources with something left, by side, the largest first.
    pub fn unattributed(&self) -> Vec<Unattributed> {
        let mut left: Vec<_> = self
            .sources
            .iter()
            .filter(|source| !source.sums.closing.is_zero())
            .map(|source| Unattributed {
                source: source.source,
                side: source.side,
                kind: source.kind,
                text: source.text.clone(),
                amount: source.sums.closing,
            })
            .collect();
        left.sort_by_key(|one| (one.side, std::cmp::Reverse(one.amount.absolute().amount()), one.source));
        left
    }
}

/// Whether the source rolls forward at the end of every day up to `as_of`.
pub(super) fn is_within(facts: &SourceFacts, as_of: Option<NaiveDate>) -> bool {
    let moved = facts.movements.iter().map(|one| (one.date, one.amount.amount(), Decimal::ZERO));
    let attributed = facts.attributed.iter().map(|one| (one.date, Decimal::ZERO, one.amount.amount()));
    first_day_out(moved.chain(attributed), as_of).is_none()
}

impl Sums {
    fn nothing(currency: Currency) -> Self {
        let zero = Money::zero(currency);
        Self { opening: zero, incurred: zero, returned: zero, removed: zero, attributed: zero, closing: zero }
    }

    fn of(facts: &SourceFacts, currency: Currency, as_of: Option<NaiveDate>) -> Result<Self, MoneyFinding> {
        let mut sums = Self::nothing(currency);
        for movement in facts.movements.iter().filter(|one| as_of.is_none_or(|end| one.date <= end)) {
            let (sum, amount) = match movement.kind {
                MovementKind::Opening => (&mut sums.opening, movement.amount),
                MovementKind::Incurred => (&mut sums.incurred, movement.amount),
                MovementKind::Returned => (&mut sums.returned, movement.amount.negated()),
                MovementKind::Removed => (&mut sums.removed, movement.amount.negated()),
            };
            *sum = sum.plus(amount)?;
            sums.closing = sums.closing.plus(movement.amount)?;
        }
        for one in facts.attributed.iter().filter(|one| as_of.is_none_or(|end| one.date <= end)) {
            sums.attributed = sums.attributed.plus(one.amount)?;
            sums.closing = sums.closing.minus(one.amount)?;
        }
        Ok(sums)
    }

    fn include(&mut self, other: &Self) -> Result<(), MoneyFinding> {
        *self = Self {
            opening: self.opening.plus(other.opening)?,
            incurred: self.incurred.plus(other.incurred)?,
            returned: self.returned.plus(other.returned)?,
            removed: self.removed.plus(other.removed)?,
            attributed: self.attributed.plus(other.attributed)?,
            closing: self.closing.plus(other.closing)?,
        };
        Ok(())
    }
}

/// Rolls every source forward and holds the sums against the journal's, up to and with `as_of`.
/// `ledger` must be summed to the same day.
/// # Errors
/// [`MoneyFinding`] where a sum is too large or in another currency than the books.
pub fn roll_forward(
    sources: &[SourceFacts],
    ledger: &[PostedSum],
    currency: Currency,
    as_of: Option<NaiveDate>,
) -> Result<RollForward, Refusal> {
    let mut rolled = Vec::with_capacity(sources.len());
    let mut totals: BTreeMap<Side, (Sums, BTreeMap<SourceKind, Sums>)> = BTreeMap::new();
    for facts in sources {
        let (sums, source) = (Sums::of(facts, currency, as_of)?, &facts.source);
        let nothing = || Sums::nothing(currency);
        let (side, kinds) = totals.entry(source.side).or_insert_with(|| (nothing(), BTreeMap::new()));
        side.include(&sums)?;
        kinds.entry(source.kind).or_insert_with(nothing).include(&sums)?;
        rolled.push(RolledSource {
            source: source.id,
            side: source.side,
            kind: source.kind,
            text: source.text.clone(),
            sums,
            rolls_forward: is_within(facts, as_of),
        });
    }
    rolled.sort_by_key(|source| (source.side, source.kind, source.source));
    let mut lines = Vec::new();
    for (side, (whole, kinds)) in totals {
        lines.extend(kinds.into_iter().map(|(kind, sums)| RolledTotal { side, kind: Some(kind), sums }));
        lines.push(RolledTotal { side, kind: None, sums: whole });
    }
    let ledger = ties(sources, ledger, currency, as_of)?;
    let ties = ledger.iter().all(|tie| tie.difference.is_zero());
    let reconciles = ties && rolled.iter().all(|source| source.rolls_forward);
    Ok(RollForward { as_of, currency, sources: rolled, totals: lines, ledger, reconciles })
}

fn ties(
    sources: &[SourceFacts],
    ledger: &[PostedSum],
    currency: Currency,
    as_of: Option<NaiveDate>,
) -> Result<Vec<LedgerTie>, MoneyFinding> {
    let zero = Money::zero(currency);
    let mut sums: BTreeMap<TieOf, (Money, Money)> = TieOf::ALL.iter().map(|of| (*of, (zero, zero))).collect();
    for posted in ledger {
        if let Some((of, amount)) = TieOf::of_posting(posted.account, posted.class, posted.amount) {
            let sum = &mut sums.entry(of).or_insert((zero, zero)).0;
            *sum = sum.plus(amount)?;
        }
    }
    for facts in sources {
        let sum = &mut sums.entry(TieOf::of_side(facts.source.side)).or_insert((zero, zero)).1;
        for movement in facts.movements.iter().filter(|one| as_of.is_none_or(|end| one.date <= end)) {
            if movement.entry_kind.is_some_and(|kind| kind.ties_to_sources()) {
                *sum = sum.plus(movement.amount)?;
            }
        }
    }
    sums.into_iter()
        .map(|(of, (ledger, sources))| {
            Ok(LedgerTie { of, ledger, sources, difference: ledger.minus(sources)? })
        })
        .collect()
}
