//! The dated rows that carry a tool's cost to episodes, old and new.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::rules::money::{Money, MoneyFinding};
use crate::rules::recording::CostObject;

/// A row to write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Charge {
    pub date: NaiveDate,
    pub object: CostObject,
    pub amount: Money,
}

/// Rows of one tool that together never pass its cap, on whatever day one looks.
#[derive(Debug)]
pub(super) struct Spread {
    cap: Money,
    first_open: NaiveDate,
    old: Vec<Charge>,
    new: Vec<Charge>,
}

impl Spread {
    pub(super) fn over(old: &[(NaiveDate, CostObject, Money)], cap: Money, first_open: NaiveDate) -> Self {
        let old =
            old.iter().map(|(date, object, amount)| Charge { date: *date, object: *object, amount: *amount });
        Self { cap, first_open, old: old.collect(), new: Vec::new() }
    }

    pub(super) fn first_open(&self) -> NaiveDate {
        self.first_open
    }

    pub(super) fn into_new(self) -> Vec<Charge> {
        self.new
    }

    fn all(&self) -> impl Iterator<Item = &Charge> {
        self.old.iter().chain(&self.new)
    }

    fn zero(&self) -> Money {
        Money::zero(self.cap.currency())
    }

    /// What may still be added; zero or more.
    pub(super) fn left(&self) -> Result<Money, MoneyFinding> {
        let total = Money::sum(self.cap.currency(), self.all().map(|charge| charge.amount))?;
        let left = self.cap.minus(total)?;
        Ok(if left.is_negative() { self.zero() } else { left })
    }

    /// What may still be added on `from` without passing the cap on that or a later day.
    fn headroom(&self, from: NaiveDate) -> Result<Money, MoneyFinding> {
        let mut days: BTreeMap<NaiveDate, Money> = BTreeMap::new();
        for charge in self.all() {
            let day = days.entry(charge.date.max(from)).or_insert(self.zero());
            *day = day.plus(charge.amount)?;
        }
        let mut left = self.cap.minus(days.remove(&from).unwrap_or(self.zero()))?;
        let mut least = left;
        for day in days.into_values() {
            left = left.minus(day)?;
            least = least.at_most(left);
        }
        Ok(least)
    }

    /// Charges an object, at most with what is left, and says how much that was. A row that would pass the
    /// cap on its own day (a reversal has made room only later) stands on the last row's day.
    pub(super) fn add(
        &mut self,
        object: CostObject,
        date: NaiveDate,
        wanted: Money,
    ) -> Result<Money, MoneyFinding> {
        let amount = wanted.at_most(self.left()?);
        if !amount.is_positive() {
            return Ok(self.zero());
        }
        let mut date = date.max(self.first_open);
        if self.headroom(date)?.amount() < amount.amount() {
            date = self.all().map(|charge| charge.date).max().map_or(date, |last| date.max(last));
        }
        self.new.push(Charge { date, object, amount });
        Ok(amount)
    }

    /// Takes back from an object, at most what it still bears: what was moved away by hand stays where it
    /// was put. The row stands on `date`, or later where the object was last charged later, up to `until`.
    pub(super) fn take_back(
        &mut self,
        object: CostObject,
        date: NaiveDate,
        until: NaiveDate,
        wanted: Money,
    ) -> Result<(), MoneyFinding> {
        let of_object = || self.all().filter(|charge| charge.object == object);
        let borne = Money::sum(self.cap.currency(), of_object().map(|charge| charge.amount))?;
        let amount = wanted.at_most(borne);
        let last = of_object().map(|charge| charge.date).filter(|day| *day <= until).max();
        let date = date.max(self.first_open).max(last.unwrap_or(date));
        if amount.is_positive() {
            self.new.push(Charge { date, object, amount: amount.negated() });
        }
        Ok(())
    }
}
