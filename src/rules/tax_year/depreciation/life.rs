//! A tool's years, one after the other: what each takes by that year's share of business use, and what comes back
//! where the use falls to half or less.

use chrono::Datelike;
use rust_decimal::Decimal;

use super::super::super::money::{Money, MoneyFinding};
use super::super::super::rows::{DisposalKind, PropertyType};
use super::plan::slower_way;
use super::{Charge, HALF, Pattern, Plan, Standing};

/// A tool at the end of a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AtYearEnd {
    /// Taken in earlier years, less what came back of it.
    pub prior: Money,
    pub charge: Charge,
    /// What is left to take if its use stays what it was in the year; where it left, the basis its going met.
    pub left: Money,
}

/// An amount by the first year's share of use, and one by use for the business alone. Both are kept, for an amount
/// that was rounded to the cent is not scaled up again.
#[derive(Clone, Copy, Debug)]
struct Both {
    first: Money,
    full: Money,
}

impl Both {
    fn plus(self, other: Self) -> Result<Self, MoneyFinding> {
        Ok(Self { first: self.first.plus(other.first)?, full: self.full.plus(other.full)? })
    }

    fn minus(self, other: Self) -> Result<Self, MoneyFinding> {
        Ok(Self { first: self.first.minus(other.first)?, full: self.full.minus(other.full)? })
    }

    fn at_most(self, other: Self) -> Self {
        Self { first: self.first.at_most(other.first), full: self.full.at_most(other.full) }
    }
}

/// Where a tool is on its way.
struct Life {
    pattern: Pattern,
    /// What its years give of what is spread, the first year first.
    amounts: Vec<Both>,
    left: Both,
    /// Less what came back.
    taken: Money,
}

impl Plan<'_> {
    fn zero(&self) -> Money {
        Money::zero(self.opened.basis.currency())
    }

    /// What was taken before `year`, and what `year` takes.
    /// # Errors
    /// As [`Plan::at`].
    pub fn through(&self, year: i32) -> Result<(Money, Charge), MoneyFinding> {
        let AtYearEnd { prior, charge, .. } = self.at(year)?;
        Ok((prior, charge))
    }

    /// How the tool stands at the end of `year`. Nothing is taken twice, and no more than it cost.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    /// # Source
    /// Pub. 946 ch. 4 and 5: the percentage applies to the whole basis, and the year's deduction is that year's
    /// business share of it (from memory).
    pub fn at(&self, year: i32) -> Result<AtYearEnd, MoneyFinding> {
        let (start, basis, zero) = (self.opened.year(), self.opened.basis, self.zero());
        let nothing = AtYearEnd { prior: zero, charge: Charge::nothing(zero), left: basis };
        let first = self.first_of_ours();
        match self.opened.standing {
            Standing::NoBasis | Standing::SameYear => return Ok(nothing),
            Standing::Small(_) if year > start => {
                return Ok(AtYearEnd { prior: basis, left: zero, ..nothing });
            }
            Standing::Small(_) if year == start => {
                let charge = Charge { expensed: basis, ..nothing.charge };
                return Ok(AtYearEnd { charge, left: zero, ..nothing });
            }
            Standing::Small(_) => return Ok(nothing),
            Standing::Opening(_) | Standing::Depreciable if year < first => return Ok(nothing),
            Standing::Opening(_) | Standing::Depreciable => {}
        }
        let mut life = self.beginning()?;
        let mut end = nothing;
        for one in first..=year {
            end.prior = life.taken;
            end.charge = self.take(&mut life, one)?;
        }
        let gone = self.opened.disposal.is_some_and(|gone| gone.date.year() <= year);
        end.left = if gone {
            self.business_cost(life.taken)?.minus(life.taken)?
        } else {
            self.by_use_of(year, life.left)?
        };
        Ok(end)
    }

    /// The first year these books work out themselves.
    fn first_of_ours(&self) -> i32 {
        match self.opened.standing {
            Standing::Opening(_) => self.first_year,
            _ => self.opened.year(),
        }
    }

    /// The year's business share of an amount.
    fn by_use_of(&self, year: i32, amount: Both) -> Result<Money, MoneyFinding> {
        self.eighths_by_use_of(year, amount, 8)
    }

    /// The year's business share of that many eighths of an amount, rounded once.
    fn eighths_by_use_of(&self, year: i32, amount: Both, eighths: u32) -> Result<Money, MoneyFinding> {
        let (share, eighths) = (self.opened.share_in(year), Decimal::from(eighths));
        if share == self.opened.first_share() {
            amount.first.portion(eighths, Decimal::from(8_u32))
        } else {
            amount.full.portion(share * eighths, Decimal::from(800_u32))
        }
    }

    /// The whole of a tool, without first-year write-offs.
    fn whole(&self) -> Both {
        Both { first: self.opened.basis, full: self.opened.tool.cost }
    }

    fn spread_by(&self, spread: Both, pattern: Pattern) -> Result<Vec<Both>, MoneyFinding> {
        let first = self.fitted(spread.first, pattern)?.into_iter();
        let full = self.fitted(spread.full, pattern)?;
        Ok(first.zip(full).map(|(first, full)| Both { first, full }).collect())
    }

    /// An amount that was worked out by the first year's share, as use for the business alone would give it.
    fn as_full(&self, of_first_share: Money) -> Result<Money, MoneyFinding> {
        let share = self.opened.first_share();
        if share.is_zero() { Ok(self.zero()) } else { of_first_share.portion(Decimal::ONE_HUNDRED, share) }
    }

    fn beginning(&self) -> Result<Life, MoneyFinding> {
        let (start, first) = (self.opened.year(), self.first_of_ours());
        let fallen_before = self.is_listed() && self.falls_in().is_some_and(|fallen| fallen < first);
        let pattern = if fallen_before { slower_way(self.opened.tool.class) } else { self.pattern };
        let spread = if fallen_before { self.whole() } else { self.spread_of_both()? };
        let amounts = self.spread_by(spread, pattern)?;
        let Standing::Opening(prior) = self.opened.standing else {
            return Ok(Life { pattern, amounts, left: spread, taken: self.zero() });
        };
        let most = (start..first).map(|year| self.opened.share_in(year)).max();
        let most = self.opened.tool.cost.portion(most.unwrap_or(Decimal::ZERO), Decimal::ONE_HUNDRED)?;
        let taken = prior.taken.at_most(most);
        let as_ever = (start..first).all(|year| self.opened.share_in(year) == self.opened.first_share());
        let left = if as_ever && !self.opened.first_share().is_zero() {
            self.whole().minus(Both { first: taken, full: self.as_full(taken)? })?
        } else {
            let zero = Both { first: self.zero(), full: self.zero() };
            let ours = (start..).zip(&amounts).filter(|(year, _)| *year >= first);
            ours.map(|(_, amount)| *amount).try_fold(zero, Both::plus)?
        };
        let left = Both { first: left.first.or_zero(), full: left.full.or_zero() };
        Ok(Life { pattern, amounts, left, taken })
    }

    /// What is spread, by both shares.
    fn spread_of_both(&self) -> Result<Both, MoneyFinding> {
        let (cost, first) = (self.opened.tool.cost, self.spread);
        let full = match self.opened.standing {
            Standing::Opening(prior) => cost.minus(self.as_full(prior.first_year_write_off)?)?,
            _ => {
                let after_179 = cost.minus(self.as_full(self.opened.section_179)?)?;
                let percent = self.allowance.map_or(Decimal::ZERO, |(percent, _)| percent);
                after_179.minus(after_179.portion(percent, Decimal::ONE_HUNDRED)?)?
            }
        };
        Ok(Both { first, full: full.or_zero() })
    }

    /// Goes through one year.
    fn take(&self, life: &mut Life, year: i32) -> Result<Charge, MoneyFinding> {
        let mut charge = Charge::nothing(self.zero());
        if year == self.opened.year() && self.opened.standing == Standing::Depreciable {
            charge.section_179 = self.opened.section_179;
            charge.special_allowance = self.special_allowance;
        }
        if self.falls_in() == Some(year) {
            charge.recaptured = self.fall_back(life, year)?.or_zero();
        }
        let so_far = life.taken.plus(charge.net()?)?;
        let amount = self.amount_of(life, year).at_most(life.left);
        life.left = life.left.minus(amount)?;
        let kept = self.eighths_kept(year, life.pattern);
        let yearly = self.eighths_by_use_of(year, amount, kept)?;
        charge.yearly = yearly.at_most(self.opened.tool.cost.minus(so_far)?);
        life.taken = so_far.plus(charge.yearly)?;
        Ok(charge)
    }

    fn amount_of(&self, life: &Life, year: i32) -> Both {
        let amount = (self.opened.year()..).zip(&life.amounts).find(|(one, _)| *one == year);
        amount.map_or(Both { first: self.zero(), full: self.zero() }, |(_, amount)| *amount)
    }

    fn is_listed(&self) -> bool {
        self.opened.tool.property == PropertyType::Listed
    }

    /// The first year, within its recovery period, whose use is half or less business after a first one that was
    /// more. In the year it is sold, section 1245 takes the place of the recapture of section 179; going to private
    /// use is no sale.
    /// # Source
    /// Pub. 946 ch. 2, when to recapture the deduction (the sale: from memory).
    pub(super) fn falls_in(&self) -> Option<i32> {
        if self.opened.first_share() <= HALF {
            return None;
        }
        let life = if self.is_listed() { slower_way(self.opened.tool.class) } else { self.pattern };
        let last = self.last_year_of(life);
        let last = self.opened.disposal.map_or(last, |gone| {
            let counts = self.is_listed() || gone.kind == DisposalKind::PersonalUse;
            last.min(gone.date.year() - i32::from(!counts))
        });
        // The first year itself was more than half, as asked above.
        (self.opened.year()..=last).find(|year| self.opened.share_in(*year) <= HALF)
    }

    /// What comes back in the year the use falls to half or less, and how the tool goes on. Listed property gives
    /// back what it took beyond the slower way, and keeps to that from then on. Any other gives back section 179
    /// beyond what its table would have given by then; what came back is taken by the table in later years.
    ///
    /// Section 179 is compared with the table alone, as the published example has it; where the special allowance
    /// would have been due instead, less may come back, which is asked.
    /// # Source
    /// IRC 280F(b)(2), Pub. 946 ch. 5, recapture of excess depreciation (seen; that later years keep to the slower
    /// way: from memory); IRC 179(d)(10), Pub. 946 ch. 2, when to recapture the deduction (seen).
    fn fall_back(&self, life: &mut Life, year: i32) -> Result<Money, MoneyFinding> {
        let start = self.opened.year();
        if self.is_listed() {
            let pattern = slower_way(self.opened.tool.class);
            let amounts = self.spread_by(self.whole(), pattern)?;
            let mut allowable = self.zero();
            let mut left = self.whole();
            for (one, amount) in (start..year).zip(&amounts) {
                allowable = allowable.plus(self.by_use_of(one, *amount)?)?;
                left = left.minus(*amount)?;
            }
            let excess = life.taken.minus(allowable)?;
            (life.pattern, life.amounts, life.left) = (pattern, amounts, left);
            return Ok(excess);
        }
        let elected = self.opened.section_179;
        let of_179 = Both { first: elected, full: self.as_full(elected)? };
        let mut excess = elected;
        let amounts = self.spread_by(of_179, self.pattern)?;
        for ((one, amount), in_life) in (start..).zip(amounts).zip(&mut life.amounts) {
            if one <= year {
                let kept = self.eighths_kept(one, self.pattern);
                excess = excess.minus(self.eighths_by_use_of(one, amount, kept)?)?;
            } else {
                *in_life = in_life.plus(amount)?;
                life.left = life.left.plus(amount)?;
            }
        }
        Ok(excess)
    }

    /// Whether something would come back were the use of `year` half or less: section 179 was taken, or listed property
    /// took the faster way, and it is the first such year of the recovery period.
    pub(in super::super) fn could_still_fall_in(&self, year: i32) -> bool {
        let took_faster = match self.opened.standing {
            Standing::Opening(_) => self.is_listed(),
            Standing::Depreciable => self.is_listed() || self.opened.section_179.is_positive(),
            Standing::NoBasis | Standing::Small(_) | Standing::SameYear => false,
        };
        let life = if self.is_listed() { slower_way(self.opened.tool.class) } else { self.pattern };
        took_faster
            && self.opened.first_share() > HALF
            && !self.has_fallen_by(year)
            && year <= self.last_year_of(life)
    }

    pub(super) fn has_fallen_by(&self, year: i32) -> bool {
        self.falls_in().is_some_and(|fallen| fallen <= year)
    }

    /// How it is written off in a year.
    pub(super) fn pattern_in(&self, year: i32) -> Pattern {
        if self.is_listed() && self.has_fallen_by(year) {
            slower_way(self.opened.tool.class)
        } else {
            self.pattern
        }
    }

    /// What the years before the books give by the tables, first-year write-offs included.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    pub(super) fn before_the_books(&self) -> Result<Money, MoneyFinding> {
        let Standing::Opening(prior) = self.opened.standing else { return Ok(self.zero()) };
        let life = self.beginning()?;
        let at_once = if life.pattern == self.pattern { prior.first_year_write_off } else { self.zero() };
        let years = (self.opened.year()..self.first_year).zip(&life.amounts);
        years.into_iter().try_fold(at_once, |sum, (year, amount)| sum.plus(self.by_use_of(year, *amount)?))
    }

    /// The part of the cost that its going weighs the price against: by the average of its years' shares, and no
    /// less than what was taken on it.
    /// # Errors
    /// [`MoneyFinding`] if a sum is too large.
    /// # Source
    /// Pub. 544 ch. 1, property used partly for business, which is sold as two things (from memory); that the years
    /// count alike is our own choice, and asked.
    pub(in super::super) fn business_cost(&self, taken: Money) -> Result<Money, MoneyFinding> {
        let last = self.opened.disposal.map_or(self.opened.year(), |gone| gone.date.year());
        let shares: Vec<Decimal> =
            (self.opened.year()..=last).map(|year| self.opened.share_in(year)).collect();
        // What left before it came into service has no year of use.
        let by_use = if self.opened.standing == Standing::NoBasis || shares.is_empty() {
            self.opened.basis
        } else {
            let years = Decimal::from(shares.len()) * Decimal::ONE_HUNDRED;
            self.opened.tool.cost.portion(shares.iter().sum(), years)?
        };
        Ok(if by_use.amount() < taken.amount() { taken } else { by_use })
    }
}
