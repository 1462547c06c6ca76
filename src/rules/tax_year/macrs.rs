//! The percentage tables of the general depreciation system, cell by cell.
//!
//! They are data because they can not be had by rounding a formula: the seven-year half-year column prints 8.93,
//! 8.92, 8.93 where arithmetic gives 8.92 three times. [`without_tables`] is that arithmetic, for property whose
//! basis changed and that has left the tables.
//!
//! # Source
//! Pub. 946 Appendix A, tables. complete, the first five years of complete
//! for five and seven years and the third quarter's year 6 (five years) and years 6 and 7 (seven years): seen in
//! public copies. The other tail cells from memory, confirmed by the column's sum and by recomputation.

use chrono::{Datelike, NaiveDate};
use rust_decimal::{Decimal, RoundingStrategy};

use super::super::named::named;
use super::super::rows::RecoveryClass;

named! {
    /// A quarter of the tax year.
    pub enum Quarter { First => "1", Second => "2", Third => "3", Fourth => "4" }
}

impl Quarter {
    pub fn of(date: NaiveDate) -> Self {
        match date.month() {
            1..=3 => Self::First,
            4..=6 => Self::Second,
            7..=9 => Self::Third,
            _ => Self::Fourth,
        }
    }
}

/// How the first and the last year count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Averaging {
    HalfYear,
    /// Each tool by the quarter in which it came into service.
    MidQuarter(Quarter),
}

impl Averaging {
    /// The part of the first year, in eighths.
    /// # Source
    /// Pub. 946 ch. 4: 1/2 (seen); 7/8, 5/8, 3/8, 1/8 (from memory; they reproduce the tables).
    pub const fn first_year_eighths(self) -> u32 {
        match self {
            Self::HalfYear => 4,
            Self::MidQuarter(Quarter::First) => 7,
            Self::MidQuarter(Quarter::Second) => 5,
            Self::MidQuarter(Quarter::Third) => 3,
            Self::MidQuarter(Quarter::Fourth) => 1,
        }
    }

    /// The part of the year's full amount that is left when the tool goes on `date`, in eighths.
    /// # Source
    /// Pub. 946 ch. 4, sale or other disposition: half (seen); 12.5 % in the first quarter (seen), 37.5, 62.5 and
    /// 87.5 % in the others (from memory).
    pub fn disposal_year_eighths(self, date: NaiveDate) -> u32 {
        match (self, Quarter::of(date)) {
            (Self::HalfYear, _) => 4,
            (Self::MidQuarter(_), Quarter::First) => 1,
            (Self::MidQuarter(_), Quarter::Second) => 3,
            (Self::MidQuarter(_), Quarter::Third) => 5,
            (Self::MidQuarter(_), Quarter::Fourth) => 7,
        }
    }

    /// The table's number.
    pub const fn table(self) -> &'static str {
        match self {
            Self::HalfYear => "A-1",
            Self::MidQuarter(Quarter::First) => "A-2",
            Self::MidQuarter(Quarter::Second) => "A-3",
            Self::MidQuarter(Quarter::Third) => "A-4",
            Self::MidQuarter(Quarter::Fourth) => "A-5",
        }
    }

    pub const fn words(self) -> &'static str {
        match self {
            Self::HalfYear => "half-year convention",
            Self::MidQuarter(Quarter::First) => "mid-quarter convention, first quarter",
            Self::MidQuarter(Quarter::Second) => "mid-quarter convention, second quarter",
            Self::MidQuarter(Quarter::Third) => "mid-quarter convention, third quarter",
            Self::MidQuarter(Quarter::Fourth) => "mid-quarter convention, fourth quarter",
        }
    }
}

/// Percent of the basis for each year, in hundredths of a percent.
const fn column(averaging: Averaging, class: RecoveryClass) -> &'static [u16] {
    match (averaging, class) {
        (Averaging::HalfYear, RecoveryClass::Three) => &[3333, 4445, 1481, 741],
        (Averaging::HalfYear, RecoveryClass::Five) => &[2000, 3200, 1920, 1152, 1152, 576],
        (Averaging::HalfYear, RecoveryClass::Seven) => &[1429, 2449, 1749, 1249, 893, 892, 893, 446],
        (Averaging::MidQuarter(Quarter::First), RecoveryClass::Three) => &[5833, 2778, 1235, 154],
        (Averaging::MidQuarter(Quarter::First), RecoveryClass::Five) => &[3500, 2600, 1560, 1101, 1101, 138],
        (Averaging::MidQuarter(Quarter::First), RecoveryClass::Seven) => {
            &[2500, 2143, 1531, 1093, 875, 874, 875, 109]
        }
        (Averaging::MidQuarter(Quarter::Second), RecoveryClass::Three) => &[4167, 3889, 1414, 530],
        (Averaging::MidQuarter(Quarter::Second), RecoveryClass::Five) => &[2500, 3000, 1800, 1137, 1137, 426],
        (Averaging::MidQuarter(Quarter::Second), RecoveryClass::Seven) => {
            &[1785, 2347, 1676, 1197, 887, 887, 887, 334]
        }
        (Averaging::MidQuarter(Quarter::Third), RecoveryClass::Three) => &[2500, 5000, 1667, 833],
        (Averaging::MidQuarter(Quarter::Third), RecoveryClass::Five) => &[1500, 3400, 2040, 1224, 1130, 706],
        (Averaging::MidQuarter(Quarter::Third), RecoveryClass::Seven) => {
            &[1071, 2551, 1822, 1302, 930, 885, 886, 553]
        }
        (Averaging::MidQuarter(Quarter::Fourth), RecoveryClass::Three) => &[833, 6111, 2037, 1019],
        (Averaging::MidQuarter(Quarter::Fourth), RecoveryClass::Five) => &[500, 3800, 2280, 1368, 1094, 958],
        (Averaging::MidQuarter(Quarter::Fourth), RecoveryClass::Seven) => {
            &[357, 2755, 1968, 1406, 1004, 873, 873, 764]
        }
    }
}

/// The published percentages of a class, one a year, such as 14.29.
pub fn percentages(averaging: Averaging, class: RecoveryClass) -> impl Iterator<Item = Decimal> {
    column(averaging, class).iter().map(|hundredths| Decimal::new(i64::from(*hundredths), 2))
}

/// Years of the recovery period.
pub const fn years(class: RecoveryClass) -> u32 {
    match class {
        RecoveryClass::Three => 3,
        RecoveryClass::Five => 5,
        RecoveryClass::Seven => 7,
    }
}

/// The yearly amounts by arithmetic: twice the straight-line rate on what is left, going over to the straight line
/// over the life left as soon as that gives as much. Each year is rounded half up to `digits` before the next.
/// # Source
/// Pub. 946 ch. 4, figuring the deduction without tables (inputs and years 1, 2 and 5 of its example seen).
pub fn without_tables(
    basis: Decimal,
    averaging: Averaging,
    class: RecoveryClass,
    digits: u32,
) -> Vec<Decimal> {
    let life = Decimal::from(years(class));
    let rate = Decimal::TWO / life;
    let first = Decimal::from(averaging.first_year_eighths()) / Decimal::from(8_u32);
    let mut left = basis;
    let mut life_left = life;
    let mut amounts = Vec::new();
    for year in 0..=years(class) {
        let part = if year == 0 { first } else { life_left.min(Decimal::ONE) };
        let straight = if life_left > part { left / life_left * part } else { left };
        let declining = left * rate * part;
        let amount = straight.max(declining).min(left);
        let amount = amount.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
        left -= amount;
        life_left -= part;
        amounts.push(amount);
    }
    amounts
}
