//! The tie: which postings have sources behind them, and what it means that a source rolls forward (invariant 6).

use std::collections::BTreeMap;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::journal::{Account, TaxClass};
use super::money::Money;
use super::named::named;
use super::recording::Side;

named! {
    /// Which part of the journal sources are held against.
    pub enum TieOf {
        /// Cost accounts and the owner's draw for home and personal shares, against costs and fees.
        Costs => "costs",
        /// Income accounts, goods for promotion and what went back of income, against income in money and in kind.
        Income => "income",
        /// Proceeds of personal and business property, against recoveries.
        Recoveries => "recoveries",
    }
}

impl TieOf {
    /// Which side's movements stand behind it.
    pub const fn of_side(side: Side) -> Self {
        match side {
            Side::Cost | Side::Fee => Self::Costs,
            Side::Income | Side::InKind => Self::Income,
            Side::Recovery => Self::Recoveries,
        }
    }

    /// What a posting adds to it; its sign is the sources'. Nothing for postings that no source stands behind.
    pub fn of_posting(account: Account, class: Option<TaxClass>, amount: Money) -> Option<(Self, Money)> {
        let proceeds = matches!(class, Some(TaxClass::PersonalPropertySale | TaxClass::BusinessPropertySale));
        if proceeds {
            Some((Self::Recoveries, amount.negated()))
        } else if carries_income(account) {
            Some((Self::Income, amount.negated()))
        } else {
            account.carries_costs().then_some((Self::Costs, amount))
        }
    }
}

/// What goes back of an income stands in an account of its own, and is less of its source.
const fn carries_income(account: Account) -> bool {
    matches!(account, Account::Income(_) | Account::GoodsForPromotion | Account::ReturnsAllowances)
}

/// Whether `attributed` lies between nothing and what there is. A source may be below zero, such as a payout's
/// adjustment: then nothing and it change places.
pub fn rolls(available: Decimal, attributed: Decimal) -> bool {
    if available >= Decimal::ZERO {
        Decimal::ZERO <= attributed && attributed <= available
    } else {
        available <= attributed && attributed <= Decimal::ZERO
    }
}

/// A day on which more was attributed of a source than there was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayOut {
    pub date: NaiveDate,
    pub available: Decimal,
    pub attributed: Decimal,
}

/// The first day at whose end a source does not [roll](rolls). From the dates, what came or went, and what was
/// attributed, in any order; `as_of` is the last day looked at.
pub fn first_day_out(
    changes: impl IntoIterator<Item = (NaiveDate, Decimal, Decimal)>,
    as_of: Option<NaiveDate>,
) -> Option<DayOut> {
    let mut days: BTreeMap<NaiveDate, (Decimal, Decimal)> = BTreeMap::new();
    for (date, moved, attributed) in changes {
        if as_of.is_none_or(|end| date <= end) {
            let day = days.entry(date).or_default();
            *day = (day.0.saturating_add(moved), day.1.saturating_add(attributed));
        }
    }
    let (mut available, mut attributed) = (Decimal::ZERO, Decimal::ZERO);
    for (date, (moved, taken)) in days {
        available = available.saturating_add(moved);
        attributed = attributed.saturating_add(taken);
        if !rolls(available, attributed) {
            return Some(DayOut { date, available, attributed });
        }
    }
    None
}
