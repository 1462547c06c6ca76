//! Units of a material: bought by the box or gallon, used by the piece or pint, with a factor that is an exact
//! fraction between them.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};

use super::money::Quantity;
use super::recording::words_of;
use super::refusal::{At, Explain, Findings, Refusal, Said};
use super::rows::{BoughtIn, Lot};

#[cfg(test)]
mod tests;

/// Quantities are kept to six decimals.
const QUANTITY_DIGITS: u32 = 6;

/// What one unit is in another, as an exact fraction in lowest terms; above zero. Both sides have at most eighteen
/// digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Factor {
    over: u64,
    under: u64,
}

/// The unit that a lot is kept in, where that is another than the one it was bought in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KeptIn {
    /// The unit of use, such as "piece" or "pint".
    #[schema(min_length = 1, max_length = 40, example = "piece")]
    pub unit: String,
    /// How many of it one of the unit bought is.
    pub factor: Factor,
}

/// Why a quantity can not be taken in that unit.
#[derive(Clone, Debug, PartialEq)]
pub enum UnitFinding {
    NotPositive { quantity: Decimal },
    SameUnit { unit: String },
    Unknown { unit: String, known: Vec<String> },
    NotExact { quantity: Decimal, unit: String, factor: Factor, kept_in: String },
    OutOfReach { quantity: Decimal, unit: String },
}

impl Explain for UnitFinding {
    fn say(&self) -> Said {
        match self {
            Self::NotPositive { quantity } => {
                Said::invalid(format!("a quantity of {quantity} moves nothing"), "give more than zero")
            }
            Self::SameUnit { unit } => Said::invalid(
                format!("it was bought by the {unit} and would be kept in the same"),
                "leave kept_in out, or name the other unit",
            ),
            Self::Unknown { unit, known } => Said::invalid(
                format!("it is not known how much a {unit} of it is"),
                format!("give the quantity in {}", known.join(" or ")),
            ),
            Self::NotExact { quantity, unit, factor, kept_in } => Said::invalid(
                format!(
                    "{} {unit} at {factor} {kept_in} each do not come out in six decimals of a {kept_in}, and nothing is \
                     rounded",
                    quantity.normalize()
                ),
                format!(
                    "give the quantity in {kept_in}; or take the receipt back and keep the lot in the finer unit \
                     (kept_in)"
                ),
            ),
            Self::OutOfReach { quantity, unit } => Said::invalid(
                format!("{} {unit} are more than a lot can hold", quantity.normalize()),
                "check the quantity and the factor",
            ),
        }
    }
}

impl Factor {
    pub const ONE: Self = Self { over: 1, under: 1 };

    /// From text such as `12`, `3.785411784` or `1250/381`; none for zero, signs, exponents, spaces, or more than
    /// eighteen digits on a side.
    pub fn parse(text: &str) -> Option<Self> {
        let (over, under) = text.split_once('/').unwrap_or((text, "1"));
        let (whole, behind) = over.split_once('.').unwrap_or((over, ""));
        let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit()) && part.len() <= 18;
        let starts = |part: &str| part == "0" || !part.starts_with('0');
        if whole.is_empty() || under.is_empty() || over.ends_with('.') || !starts(whole) || !starts(under) {
            return None;
        }
        if !plain(whole) || !plain(behind) || !plain(under) {
            return None;
        }
        let places = u32::try_from(behind.len()).ok()?;
        let over: u128 = format!("{whole}{behind}").parse().ok()?;
        let under = under.parse::<u128>().ok()?.checked_mul(10_u128.checked_pow(places)?)?;
        Self::reduced(over, under)
    }

    fn reduced(over: u128, under: u128) -> Option<Self> {
        if over == 0 || under == 0 {
            return None;
        }
        let shared = greatest_divisor(over, under);
        let within = |side: u128| u64::try_from(side / shared).ok().filter(|side| *side < 10_u64.pow(18));
        Some(Self { over: within(over)?, under: within(under)? })
    }

    /// `quantity` times this, where that comes out in six decimals and fifteen digits before them.
    fn times(self, quantity: Decimal) -> Result<Decimal, OffScale> {
        Fraction::of(quantity)
            .ok_or(OffScale::OutOfReach)?
            .times(self)
            .ok_or(OffScale::OutOfReach)?
            .quantity()
    }
}

impl fmt::Display for Factor {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.under == 1 { self.over.fmt(out) } else { write!(out, "{}/{}", self.over, self.under) }
    }
}

impl Serialize for Factor {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Factor {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        let expected = || {
            serde::de::Error::custom("expected a factor above zero as text, such as \"12\" or \"1250/381\"")
        };
        Self::parse(&text).ok_or_else(expected)
    }
}

impl utoipa::PartialSchema for Factor {
    fn schema() -> RefOr<Schema> {
        let text = ObjectBuilder::new()
            .schema_type(SchemaType::new(Type::String))
            .pattern(Some(r"^(0|[1-9][0-9]{0,17})(\.[0-9]{1,17})?(/[1-9][0-9]{0,17})?$"))
            .max_length(Some(40))
            .examples([serde_json::Value::String("1250/381".to_owned())])
            .description(Some(
                "a whole number, a decimal or a fraction as text, such as \"12\" or \"1250/381\"",
            ));
        RefOr::T(Schema::Object(text.build()))
    }
}

impl utoipa::ToSchema for Factor {
    fn name() -> std::borrow::Cow<'static, str> {
        "Factor".into()
    }
}

enum OffScale {
    NotExact,
    OutOfReach,
}

/// A quantity as an exact fraction, so that what is still asked for can go from lot to lot in whichever unit
/// each is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fraction {
    over: u128,
    under: u128,
}

impl Fraction {
    pub const ZERO: Self = Self { over: 0, under: 1 };

    /// None for a negative quantity, or one of more digits than a lot holds.
    pub fn of(quantity: Decimal) -> Option<Self> {
        let quantity = quantity.normalize();
        let over = u128::try_from(quantity.mantissa()).ok()?;
        Self::reduced(over, 10_u128.checked_pow(quantity.scale())?)
    }

    fn reduced(over: u128, under: u128) -> Option<Self> {
        let shared = greatest_divisor(over, under);
        Some(Self { over: over.checked_div(shared)?, under: under.checked_div(shared)? })
    }

    pub const fn is_zero(self) -> bool {
        self.over == 0
    }

    /// None past 38 digits.
    pub fn times(self, factor: Factor) -> Option<Self> {
        let (over, under) = (u128::from(factor.over), u128::from(factor.under));
        let across = greatest_divisor(self.over, under).max(1);
        let back = greatest_divisor(over, self.under).max(1);
        let top = (self.over / across).checked_mul(over / back)?;
        Some(Self { over: top, under: (self.under / back).checked_mul(under / across)? })
    }

    /// None past 38 digits.
    pub fn divided_by(self, factor: Factor) -> Option<Self> {
        self.times(Factor { over: factor.under, under: factor.over })
    }

    /// None past 38 digits, or where more is taken than is there.
    pub fn minus(self, other: Self) -> Option<Self> {
        let one = self.over.checked_mul(other.under)?;
        let over = one.checked_sub(other.over.checked_mul(self.under)?)?;
        Self::reduced(over, self.under.checked_mul(other.under)?)
    }

    /// None past 38 digits.
    pub fn at_least(self, other: Self) -> Option<bool> {
        Some(self.over.checked_mul(other.under)? >= other.over.checked_mul(self.under)?)
    }

    /// In six decimals.
    fn quantity(self) -> Result<Decimal, OffScale> {
        let scale = 10_u128.pow(QUANTITY_DIGITS);
        let shared = greatest_divisor(scale, self.under).max(1);
        if self.under / shared != 1 {
            return Err(OffScale::NotExact);
        }
        let units = self.over.checked_mul(scale / shared).and_then(|units| i128::try_from(units).ok());
        let quantity = units.and_then(|units| Decimal::try_from_i128_with_scale(units, QUANTITY_DIGITS).ok());
        let quantity = quantity.map(|quantity| quantity.normalize());
        quantity.filter(|quantity| Quantity::of(*quantity).is_some()).ok_or(OffScale::OutOfReach)
    }
}

fn greatest_divisor(one: u128, other: u128) -> u128 {
    let (mut one, mut other) = (one, other);
    while other != 0 {
        (one, other) = (other, one % other);
    }
    one
}

/// What a lot is kept in: the unit, the quantity in it, and what it was bought in where that is another.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    pub unit: String,
    pub quantity: Decimal,
    pub bought_in: Option<BoughtIn>,
}

/// Reads `quantity` of `unit` as bought into what it is kept in.
/// # Errors
/// [`UnitFinding`] and empty names, at `/unit`, `/kept_in/unit` and `/kept_in/factor`, all at once.
pub fn kept_in(unit: &str, quantity: Decimal, asked: Option<&KeptIn>) -> Result<Kept, Refusal> {
    let mut findings = Findings::new();
    let bought = findings.keep(words_of("unit", unit).at("/unit")).unwrap_or_default();
    let Some(asked) = asked else {
        findings.or_refuse()?;
        return Ok(Kept { unit: bought, quantity, bought_in: None });
    };
    let unit = findings.keep(words_of("unit", &asked.unit).at("/kept_in/unit")).unwrap_or_default();
    if unit == bought && !unit.is_empty() {
        findings.add(Refusal::new("/kept_in/unit", UnitFinding::SameUnit { unit: unit.clone() }));
    }
    let factor = asked.factor;
    let kept = converted(quantity, &bought, factor, &unit).at("/kept_in/factor");
    let kept = findings.keep(kept);
    findings.or_refuse()?;
    let bought_in = Some(BoughtIn { unit: bought, factor });
    Ok(Kept { unit, quantity: kept.unwrap_or_default(), bought_in })
}

fn converted(quantity: Decimal, unit: &str, factor: Factor, kept_in: &str) -> Result<Decimal, UnitFinding> {
    let (unit, kept_in) = (unit.to_owned(), kept_in.to_owned());
    factor.times(quantity).map_err(|off| match off {
        OffScale::NotExact => UnitFinding::NotExact { quantity, unit, factor, kept_in },
        OffScale::OutOfReach => UnitFinding::OutOfReach { quantity, unit },
    })
}

impl Lot {
    /// The units it knows, its own first, each with how much of its own unit one of it is.
    pub fn units(&self) -> Vec<(&str, Factor)> {
        let mut units = vec![(self.unit.as_str(), Factor::ONE)];
        units.extend(self.bought_in.as_ref().map(|bought| (bought.unit.as_str(), bought.factor)));
        units
    }

    /// How much of its own unit one `unit` is; its own where none is named.
    /// # Errors
    /// [`UnitFinding::Unknown`] with the units that it knows.
    pub fn factor_of(&self, unit: Option<&str>) -> Result<Factor, UnitFinding> {
        let Some(asked) = unit.map(str::trim) else { return Ok(Factor::ONE) };
        let known = self.units();
        let found = known.iter().find(|(name, _)| *name == asked).map(|(_, factor)| *factor);
        let names = || known.iter().map(|(name, _)| (*name).to_owned()).collect();
        found.ok_or_else(|| UnitFinding::Unknown { unit: asked.to_owned(), known: names() })
    }

    /// `quantity` of `unit` in the lot's own unit, exactly.
    /// # Errors
    /// An unknown unit at `/unit`; a quantity that does not come out in six decimals, at `quantity_at`.
    pub fn in_its_unit(
        &self,
        quantity: Decimal,
        unit: Option<&str>,
        quantity_at: &str,
    ) -> Result<Decimal, Refusal> {
        let factor = self.factor_of(unit).at("/unit")?;
        if factor == Factor::ONE {
            return Ok(quantity);
        }
        converted(quantity, unit.unwrap_or(&self.unit).trim(), factor, &self.unit).at(quantity_at)
    }

    /// What is asked for of a lot as a quantity of it.
    /// # Errors
    /// [`UnitFinding::NotExact`], [`UnitFinding::OutOfReach`].
    pub fn of_it(&self, asked: Fraction, unit: &str, factor: Factor) -> Result<Decimal, UnitFinding> {
        let own = asked.times(factor).ok_or(OffScale::OutOfReach).and_then(Fraction::quantity);
        let (unit, kept_in) = (unit.to_owned(), self.unit.clone());
        own.map_err(|off| {
            let quantity = in_words(asked);
            match off {
                OffScale::NotExact => UnitFinding::NotExact { quantity, unit, factor, kept_in },
                OffScale::OutOfReach => UnitFinding::OutOfReach { quantity, unit },
            }
        })
    }
}

/// Near enough to be read: a third has no end.
fn in_words(asked: Fraction) -> Decimal {
    let side = |side: u128| {
        i128::try_from(side).ok().and_then(|side| Decimal::try_from_i128_with_scale(side, 0).ok())
    };
    let near = side(asked.over).zip(side(asked.under)).and_then(|(over, under)| over.checked_div(under));
    near.unwrap_or_default().trunc_with_scale(QUANTITY_DIGITS)
}
