//! Book schedules of a tool, by calendar month and year.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;

use crate::rules::money::{Money, MoneyFinding};
use crate::rules::refusal::Refusal;
use crate::rules::split::split_by_largest_remainder;

/// A calendar month, counted so that the next one is one more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Month(i64);

impl Month {
    pub(super) fn of(date: NaiveDate) -> Self {
        Self(i64::from(date.year()) * 12 + i64::from(date.month0()))
    }

    fn year(self) -> i64 {
        self.0.div_euclid(12)
    }

    fn after(self, months: u32) -> Self {
        Self(self.0 + i64::from(months))
    }

    /// Whole months from `earlier` to this one; zero if it is not earlier.
    pub(super) fn since(self, earlier: Self) -> u32 {
        u32::try_from(self.0 - earlier.0).unwrap_or(0)
    }
}

/// An amount spread evenly over so many months from one on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub amount: Money,
    pub from: Month,
    pub months: u32,
}

impl Stretch {
    /// How many of its months fall in each calendar year.
    fn months_by_year(self) -> Vec<(i64, u32)> {
        let mut years: Vec<(i64, u32)> = Vec::new();
        for offset in 0..self.months {
            let year = self.from.after(offset).year();
            match years.last_mut() {
                Some((last, months)) if *last == year => *months += 1,
                _ => years.push((year, 1)),
            }
        }
        years
    }

    /// Each year's amount. By years first and by months within, so that twelve months are their year.
    fn by_year(self) -> Result<Vec<(i64, u32, Money)>, Refusal> {
        let years = self.months_by_year();
        if years.is_empty() {
            return Ok(Vec::new());
        }
        let weights: Vec<_> = years.iter().map(|(_, months)| Decimal::from(*months)).collect();
        let parts = split_by_largest_remainder(self.amount, &weights)?;
        Ok(years.into_iter().zip(parts).map(|((year, months), part)| (year, months, part)).collect())
    }

    /// What each of its months bears; together `amount`.
    pub(super) fn by_month(self) -> Result<Vec<(Month, Money)>, Refusal> {
        let mut shares = Vec::new();
        for (_, months, part) in self.by_year()? {
            let weights: Vec<_> = (0..months).map(|_| Decimal::ONE).collect();
            shares.extend(split_by_largest_remainder(part, &weights)?);
        }
        Ok((0..self.months).map(|offset| self.from.after(offset)).zip(shares).collect())
    }
}

/// A year of a book schedule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BookYear {
    pub year: i64,
    pub charge: Money,
    /// What is left on the books at the end of it.
    pub book: Money,
}

/// Cost less salvage evenly over `months` from the month of service on, by calendar years; the charges add up
/// to cost less salvage to the minor unit.
///
/// # Errors
/// [`MoneyFinding`] for two currencies or a sum too large.
///
/// # Source
/// Principles of Financial Accounting, 11.3 (straight line), from memory.
pub fn straight_line_by_year(
    cost: Money,
    salvage: Money,
    in_service_on: NaiveDate,
    months: u32,
) -> Result<Vec<BookYear>, Refusal> {
    let amount = cost.minus(salvage)?;
    let mut book = cost;
    let mut years = Vec::new();
    for (year, _, charge) in (Stretch { amount, from: Month::of(in_service_on), months }).by_year()? {
        book = book.minus(charge)?;
        years.push(BookYear { year, charge, book });
    }
    Ok(years)
}

/// What `units` of use bear of `amount`, which lasts for `units_expected`; rounded half up once.
///
/// # Errors
/// [`MoneyFinding::DividedByZero`] where no units are expected, [`MoneyFinding::TooLarge`].
///
/// # Source
/// Principles of Financial Accounting, 11.3 (units of production), from memory.
pub fn units_of_use(amount: Money, units: Decimal, units_expected: Decimal) -> Result<Money, MoneyFinding> {
    amount.portion(units, units_expected)
}
