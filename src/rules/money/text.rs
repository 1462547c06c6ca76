//! Decimals on the wire: JSON strings of a strict grammar, never JSON numbers, which pass through a float.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};
use utoipa::openapi::{RefOr, schema};

use super::super::money::{Currency, Money, MoneyFinding};

/// Reads plain decimal text: digits, one point, at most `scale` digits behind it. No exponent, no plus,
/// no separators, no leading zeros, no minus before a zero.
pub fn parse_decimal(text: &str, scale: usize) -> Option<Decimal> {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, behind) = match digits.split_once('.') {
        Some((whole, behind)) => (whole, Some(behind)),
        None => (digits, None),
    };
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let whole_is_plain = all_digits(whole) && (whole == "0" || !whole.starts_with('0')) && whole.len() <= 15;
    let behind_is_plain = behind.is_none_or(|part| all_digits(part) && part.len() <= scale);
    if !whole_is_plain || !behind_is_plain {
        return None;
    }
    let value = Decimal::from_str_exact(text).ok()?;
    // Whoever writes -0.00 meant something else, or has a fault in their arithmetic.
    (!value.is_zero() || !text.starts_with('-')).then_some(value)
}

pub(super) fn text_schema(pattern: &str, example: &str, description: &str) -> RefOr<Schema> {
    RefOr::T(Schema::Object(
        ObjectBuilder::new()
            .schema_type(SchemaType::new(Type::String))
            .pattern(Some(pattern))
            .max_length(Some(24))
            .examples([serde_json::Value::String(example.to_owned())])
            .description(Some(description))
            .build(),
    ))
}

macro_rules! decimal_texts {
    ($($(#[$note:meta])* $name:ident { whole: $whole:literal, scale: $scale:literal, pattern: $pattern:literal, example: $example:literal, says: $says:literal })+) => {$(
        $(#[$note])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(Decimal);

        impl $name {
            /// From plain decimal text.
            pub fn parse(text: &str) -> Option<Self> {
                let whole = text.trim_start_matches('-').split('.').next().map_or(0, str::len);
                if whole > $whole {
                    return None;
                }
                parse_decimal(text, $scale).map(Self)
            }

            /// From a decimal of our own making; digits beyond the scale are refused, not rounded.
            pub fn of(value: Decimal) -> Option<Self> {
                Self::parse(&value.normalize().to_string())
            }

            pub const fn decimal(self) -> Decimal {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(out)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
                out.collect_str(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = String::deserialize(from)?;
                Self::parse(&text).ok_or_else(|| serde::de::Error::custom(concat!("expected ", $says)))
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<schema::Schema> {
                text_schema($pattern, $example, $says)
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }
        }
    )+};
}

decimal_texts! {
    /// An amount of money before its currency is known; at most four decimals.
    Amount {
        whole: 15,
        scale: 4,
        pattern: r"^((0|[1-9][0-9]{0,14})(\.[0-9]{1,4})?|-[1-9][0-9]{0,14}(\.[0-9]{1,4})?|-0\.([1-9][0-9]{0,3}|0[1-9][0-9]{0,2}|00[1-9][0-9]?|000[1-9]))$",
        example: "41.10",
        says: "an amount of money as text, such as \"41.10\""
    }
    /// A price for one unit; at most six decimals.
    UnitPrice {
        whole: 15,
        scale: 6,
        pattern: r"^(0|[1-9][0-9]{0,14})(\.[0-9]{1,6})?$",
        example: "1.715625",
        says: "a unit price as text, such as \"1.715625\""
    }
    /// Base units for one unit of a foreign currency, or money for one mile; at most six decimals.
    Rate {
        whole: 15,
        scale: 6,
        pattern: r"^(0|[1-9][0-9]{0,14})(\.[0-9]{1,6})?$",
        example: "1.085",
        says: "a rate as text, such as \"1.085\""
    }
    /// How much of a material, or how far; at most six decimals.
    Quantity {
        whole: 15,
        scale: 6,
        pattern: r"^(0|[1-9][0-9]{0,14})(\.[0-9]{1,6})?$",
        example: "2.5",
        says: "a quantity as text, such as \"2.5\""
    }
    /// Hours, fewer than ten million; at most four decimals.
    Hours {
        whole: 7,
        scale: 4,
        pattern: r"^(0|[1-9][0-9]{0,6})(\.[0-9]{1,4})?$",
        example: "7.25",
        says: "fewer than ten million hours as text, such as \"7.25\""
    }
    /// A percentage of a whole, 0 to 100; at most four decimals.
    Share {
        whole: 3,
        scale: 4,
        pattern: r"^(0|[1-9][0-9]{0,2})(\.[0-9]{1,4})?$",
        example: "62.5",
        says: "a percentage as text, such as \"62.5\""
    }
}

impl Amount {
    /// # Errors
    /// As [`Money::exact`].
    pub fn money(self, currency: Currency) -> Result<Money, MoneyFinding> {
        Money::exact(self.0, currency)
    }

    /// Zero or more.
    /// # Errors
    /// [`MoneyFinding::Negative`], else as [`Money::exact`].
    pub fn not_negative(self, currency: Currency) -> Result<Money, MoneyFinding> {
        if self.0 < Decimal::ZERO {
            return Err(MoneyFinding::Negative { amount: self.0 });
        }
        self.money(currency)
    }

    /// More than zero.
    /// # Errors
    /// [`MoneyFinding::NotPositive`], else as [`Money::exact`].
    pub fn positive(self, currency: Currency) -> Result<Money, MoneyFinding> {
        if self.0 <= Decimal::ZERO {
            return Err(MoneyFinding::NotPositive { amount: self.0 });
        }
        self.money(currency)
    }
}
