//! Money: a decimal amount with its currency, exact to the currency's minor unit (ISO 4217).

mod iso4217;
#[cfg(test)]
mod tests;
mod text;

use std::fmt;

use chrono::NaiveDate;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::refusal::{At, Explain, Refusal, Said};

pub use text::{Amount, Hours, Quantity, Rate, Share, UnitPrice, parse_decimal};

/// The largest amount the books hold, exclusive: NUMERIC(19,4) leaves fifteen digits before the point.
const CEILING: Decimal = Decimal::from_parts(2_764_472_320, 232_830, 0, false, 0);

/// How many digits a currency has behind the point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MinorUnits {
    Digits(u32),
    /// Metals, test codes and baskets: not money that can be paid.
    None,
}

#[derive(Debug)]
struct CurrencyRow {
    code: &'static str,
    number: &'static str,
    minor: MinorUnits,
    withdrawn: Option<(i32, u32, u32)>,
}

impl CurrencyRow {
    const fn current(code: &'static str, number: &'static str, minor: MinorUnits) -> Self {
        Self { code, number, minor, withdrawn: None }
    }

    const fn withdrawn(
        code: &'static str,
        number: &'static str,
        minor: MinorUnits,
        day: (i32, u32, u32),
    ) -> Self {
        Self { code, number, minor, withdrawn: Some(day) }
    }
}

/// A currency of ISO 4217's list one, or one withdrawn from it.
#[derive(Clone, Copy)]
pub struct Currency(&'static CurrencyRow);

impl Currency {
    /// # Errors
    /// [`MoneyFinding::UnknownCurrency`] for a code that ISO 4217 does not list or that nobody can pay in.
    pub fn find(code: &str) -> Result<Self, MoneyFinding> {
        iso4217::CURRENCIES
            .iter()
            .find(|row| row.code == code && row.minor != MinorUnits::None)
            .map(Self)
            .ok_or_else(|| MoneyFinding::UnknownCurrency { code: code.to_owned() })
    }

    /// The same, for a record of that day: a withdrawn code is good for old dates only.
    /// # Errors
    /// [`MoneyFinding::UnknownCurrency`] or [`MoneyFinding::Withdrawn`].
    pub fn find_on(code: &str, day: NaiveDate) -> Result<Self, MoneyFinding> {
        let currency = Self::find(code)?;
        currency.good_on(day).map(|()| currency)
    }

    /// Whether a record of that day can be in it.
    /// # Errors
    /// [`MoneyFinding::Withdrawn`].
    pub fn good_on(self, day: NaiveDate) -> Result<(), MoneyFinding> {
        match self.withdrawn_on() {
            Some(end) if day >= end => Err(MoneyFinding::Withdrawn { code: self.code(), end }),
            _ => Ok(()),
        }
    }

    pub const fn code(self) -> &'static str {
        self.0.code
    }

    /// ISO 4217's three-digit number, leading zeros kept.
    pub const fn number(self) -> &'static str {
        self.0.number
    }

    pub const fn minor_digits(self) -> u32 {
        match self.0.minor {
            MinorUnits::Digits(digits) => digits,
            MinorUnits::None => 0,
        }
    }

    /// The smallest amount of it, such as 0.01.
    pub fn minor_unit(self) -> Decimal {
        Decimal::new(1, self.minor_digits())
    }

    pub fn withdrawn_on(self) -> Option<NaiveDate> {
        self.0.withdrawn.and_then(|(year, month, day)| NaiveDate::from_ymd_opt(year, month, day))
    }

    /// Every listed code with its minor units, for the check against the published list.
    pub fn listed() -> impl Iterator<Item = (&'static str, MinorUnits, Option<(i32, u32, u32)>)> {
        iso4217::CURRENCIES.iter().map(|row| (row.code, row.minor, row.withdrawn))
    }
}

impl PartialEq for Currency {
    fn eq(&self, other: &Self) -> bool {
        self.code() == other.code()
    }
}

impl Eq for Currency {}

impl fmt::Debug for Currency {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.code())
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.code())
    }
}

impl Serialize for Currency {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(self.code())
    }
}

impl<'de> Deserialize<'de> for Currency {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let code = String::deserialize(from)?;
        Self::find(&code).map_err(|finding| serde::de::Error::custom(finding.say().detail))
    }
}

impl utoipa::PartialSchema for Currency {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        text::text_schema("^[A-Z]{3}$", "USD", "ISO 4217 code of a currency")
    }
}

impl utoipa::ToSchema for Currency {}

/// An amount of one currency, always at that currency's scale: 1.5 dollars are kept and shown as 1.50.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Money {
    amount: Decimal,
    currency: Currency,
}

impl Money {
    /// The amount as it stands.
    /// # Errors
    /// [`MoneyFinding::TooManyDecimals`] rather than a silent rounding; [`MoneyFinding::TooLarge`].
    pub fn exact(amount: Decimal, currency: Currency) -> Result<Self, MoneyFinding> {
        if amount.normalize().scale() > currency.minor_digits() {
            return Err(MoneyFinding::TooManyDecimals { amount, currency });
        }
        Self::rounded(amount, currency)
    }

    /// Half up to the minor unit, away from zero for negative amounts.
    /// # Errors
    /// [`MoneyFinding::TooLarge`] from 10^15 on.
    pub fn rounded(amount: Decimal, currency: Currency) -> Result<Self, MoneyFinding> {
        if amount.abs() >= CEILING {
            return Err(MoneyFinding::TooLarge);
        }
        let digits = currency.minor_digits();
        let mut amount = amount.round_dp_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero);
        amount.rescale(digits);
        if amount.is_zero() {
            amount.set_sign_positive(true);
        }
        Ok(Self { amount, currency })
    }

    pub fn zero(currency: Currency) -> Self {
        Self { amount: Decimal::new(0, currency.minor_digits()), currency }
    }

    pub const fn amount(self) -> Decimal {
        self.amount
    }

    pub const fn currency(self) -> Currency {
        self.currency
    }

    pub fn is_zero(self) -> bool {
        self.amount.is_zero()
    }

    pub fn is_negative(self) -> bool {
        self.amount < Decimal::ZERO
    }

    pub fn is_positive(self) -> bool {
        self.amount > Decimal::ZERO
    }

    /// # Errors
    /// [`MoneyFinding::TwoCurrencies`], [`MoneyFinding::TooLarge`].
    pub fn plus(self, other: Self) -> Result<Self, MoneyFinding> {
        if self.currency != other.currency {
            return Err(MoneyFinding::TwoCurrencies { one: self.currency, other: other.currency });
        }
        let sum = self.amount.checked_add(other.amount).ok_or(MoneyFinding::TooLarge)?;
        Self::rounded(sum, self.currency)
    }

    /// # Errors
    /// As [`Money::plus`].
    pub fn minus(self, other: Self) -> Result<Self, MoneyFinding> {
        self.plus(other.negated())
    }

    pub fn negated(self) -> Self {
        if self.is_zero() { self } else { Self { amount: -self.amount, currency: self.currency } }
    }

    pub fn absolute(self) -> Self {
        if self.is_negative() { self.negated() } else { self }
    }

    /// # Errors
    /// As [`Money::plus`].
    pub fn sum(currency: Currency, parts: impl IntoIterator<Item = Self>) -> Result<Self, MoneyFinding> {
        parts.into_iter().try_fold(Self::zero(currency), Self::plus)
    }

    /// This amount times a factor, rounded half up to the minor unit.
    /// # Errors
    /// [`MoneyFinding::TooLarge`].
    pub fn times(self, factor: Decimal) -> Result<Self, MoneyFinding> {
        let product = self.amount.checked_mul(factor).ok_or(MoneyFinding::TooLarge)?;
        Self::rounded(product, self.currency)
    }

    /// This amount times `part` / `whole`, rounded half up once.
    /// # Errors
    /// [`MoneyFinding::DividedByZero`], [`MoneyFinding::TooLarge`].
    pub fn portion(self, part: Decimal, whole: Decimal) -> Result<Self, MoneyFinding> {
        if whole.is_zero() {
            return Err(MoneyFinding::DividedByZero);
        }
        let product = self.amount.checked_mul(part).ok_or(MoneyFinding::TooLarge)?;
        let quotient = product.checked_div(whole).ok_or(MoneyFinding::TooLarge)?;
        Self::rounded(quotient, self.currency)
    }

    /// The same sum in `base`, at `rate` base units for one unit of this currency; rounded half up.
    /// # Errors
    /// [`MoneyFinding::TooLarge`].
    pub fn converted(self, base: Currency, rate: Decimal) -> Result<Self, MoneyFinding> {
        let product = self.amount.checked_mul(rate).ok_or(MoneyFinding::TooLarge)?;
        Self::rounded(product, base)
    }

    /// Itself, or nothing where it is negative.
    #[must_use]
    pub fn or_zero(self) -> Self {
        if self.is_negative() { Self::zero(self.currency) } else { self }
    }

    /// The smaller of two amounts of the same currency.
    pub fn at_most(self, other: Self) -> Self {
        if other.amount < self.amount { other } else { self }
    }

    /// Whole units, as a return asks for them: half up.
    pub fn whole_units(self) -> Decimal {
        self.amount.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.amount.fmt(out)
    }
}

impl fmt::Debug for Money {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} {}", self.amount, self.currency)
    }
}

impl Serialize for Money {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(&self.amount)
    }
}

impl utoipa::PartialSchema for Money {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        <Amount as utoipa::PartialSchema>::schema()
    }
}

impl utoipa::ToSchema for Money {
    fn name() -> std::borrow::Cow<'static, str> {
        "Money".into()
    }
}

/// What can be wrong with an amount.
#[derive(Clone, Debug, PartialEq)]
pub enum MoneyFinding {
    UnknownCurrency { code: String },
    Withdrawn { code: &'static str, end: NaiveDate },
    TooManyDecimals { amount: Decimal, currency: Currency },
    TwoCurrencies { one: Currency, other: Currency },
    TooLarge,
    DividedByZero,
    Negative { amount: Decimal },
    NotPositive { amount: Decimal },
    RateMissing { currency: Currency, base: Currency },
    RateWithoutForeignCurrency { base: Currency },
}

impl Explain for MoneyFinding {
    fn say(&self) -> Said {
        match self {
            Self::UnknownCurrency { code } => Said::invalid(
                format!("{code} is not a currency of ISO 4217 that money can be paid in"),
                "give the three-letter code, such as USD",
            ),
            Self::Withdrawn { code, end } => Said::invalid(
                format!("{code} was withdrawn on {end}"),
                "give the currency that replaced it, or the date the old one was paid on",
            ),
            Self::TooManyDecimals { amount, currency } => Said::invalid(
                format!("{amount} has more decimals than {currency} has ({})", currency.minor_digits()),
                format!(
                    "round it yourself to {} decimals; nothing is rounded silently",
                    currency.minor_digits()
                ),
            ),
            Self::TwoCurrencies { one, other } => Said::invalid(
                format!("{one} and {other} can not be added"),
                "give both in one currency, with the rate beside the foreign one",
            ),
            Self::TooLarge => Said::invalid("the amount is 10^15 or more", "check the digits"),
            Self::DividedByZero => {
                Said::invalid("this would divide by zero", "give a total that is not zero")
            }
            Self::Negative { amount } => Said::invalid(
                format!("{amount} is negative"),
                "give zero or more; money the other way has a record of its own",
            ),
            Self::NotPositive { amount } => {
                Said::invalid(format!("{amount} is not more than zero"), "give an amount above zero")
            }
            Self::RateMissing { currency, base } => Said::invalid(
                format!("the amounts are in {currency}, the books in {base}, and no rate is given"),
                format!("give rate: how many {base} one {currency} was worth that day"),
            ),
            Self::RateWithoutForeignCurrency { base } => Said::invalid(
                format!("a rate is given, but the record is in {base} like the books"),
                "leave rate out, or give the foreign currency",
            ),
        }
    }
}

/// The currency of a record and how its amounts reach the books' own.
#[derive(Clone, Copy, Debug)]
pub struct Exchange {
    pub currency: Currency,
    pub base: Currency,
    /// Base units for one unit of `currency`; one where they are the same.
    pub rate: Decimal,
}

impl Exchange {
    /// # Errors
    /// A foreign record without a rate, or a rate where nothing is foreign, at `/rate`.
    pub fn of(currency: Option<Currency>, rate: Option<Rate>, base: Currency) -> Result<Self, Refusal> {
        let currency = currency.unwrap_or(base);
        match (currency == base, rate) {
            (true, None) => Ok(Self { currency, base, rate: Decimal::ONE }),
            (false, Some(rate)) if rate.decimal() > Decimal::ZERO => {
                Ok(Self { currency, base, rate: rate.decimal() })
            }
            (false, Some(rate)) => {
                Err(Refusal::new("/rate", MoneyFinding::NotPositive { amount: rate.decimal() }))
            }
            (true, Some(_)) => Err(Refusal::new("/rate", MoneyFinding::RateWithoutForeignCurrency { base })),
            (false, None) => Err(Refusal::new("/rate", MoneyFinding::RateMissing { currency, base })),
        }
    }

    /// The same for a record of that day which states its currency itself. What follows from an earlier record goes on in
    /// the currency of that one, whatever became of it.
    /// # Errors
    /// A currency that was withdrawn by then, at `/currency`; else as [`Exchange::of`].
    pub fn on(
        day: NaiveDate,
        currency: Option<Currency>,
        rate: Option<Rate>,
        base: Currency,
    ) -> Result<Self, Refusal> {
        currency.map_or(Ok(()), |currency| currency.good_on(day)).at("/currency")?;
        Self::of(currency, rate, base)
    }

    /// An amount of the record, in its own currency.
    /// # Errors
    /// As [`Money::exact`].
    pub fn own(self, amount: Amount) -> Result<Money, MoneyFinding> {
        Money::exact(amount.decimal(), self.currency)
    }

    /// An optional part of a record, zero where it is left out, in the record's own currency.
    /// # Errors
    /// [`MoneyFinding::Negative`], else as [`Money::exact`].
    pub fn part(self, amount: Option<Amount>) -> Result<Money, MoneyFinding> {
        amount.map_or(Ok(Money::zero(self.currency)), |amount| amount.not_negative(self.currency))
    }

    /// Money of the record's own currency in the books' base currency, rounded half up.
    /// # Errors
    /// As [`Money::converted`].
    pub fn in_base(self, own: Money) -> Result<Money, MoneyFinding> {
        own.converted(self.base, self.rate)
    }

    /// The same in the books' base currency.
    /// # Errors
    /// As [`Money::exact`] and [`Money::converted`].
    pub fn base_of(self, amount: Amount) -> Result<Money, MoneyFinding> {
        self.own(amount)?.converted(self.base, self.rate)
    }
}
