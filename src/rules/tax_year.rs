//! The tax year: a reader that looks across all words and fills in a year's working paper from what the books
//! hold. Which figures and form lines a year has is data with dates ([`profile`]); how tools are written off is
//! [`depreciation`], with the published tables in [`macrs`]; [`summary`] puts it together.
//!
//! A working paper, not a return: where the facts do not decide, it asks ([`questions`]) instead of guessing.

pub mod amended;
pub mod depreciation;
pub mod disposals;
pub mod elect;
pub mod elections;
pub mod facts;
pub mod filing;
pub mod form;
pub mod home;
pub mod home_office;
pub mod macrs;
pub mod payees;
pub mod profile;
pub mod questions;
pub mod reconciliation;
pub mod schedules;
pub mod section_179;
pub mod summary;
pub mod tools;
pub mod year_end;

mod us;
mod us_2023;
mod us_2024;
mod us_2025;
mod us_2026;

#[cfg(test)]
mod tests;

pub use facts::YearFacts;
pub use profile::Profile;
pub use summary::{YearSummary, summarise};

use super::money::Currency;
use super::refusal::{Explain, Said};

/// Stands on every summary and every page printed from it.
pub const CAUTION: &str = "This is a working paper made from the books, not tax advice and not a return. Rules \
    differ from place to place and change from year to year, and the books can not know everything that \
    matters. Have a licensed preparer check it and decide.";

/// Why no summary is given.
#[derive(Clone, Debug, PartialEq)]
pub enum TaxFinding {
    NoProfile { jurisdiction: String, year: i32, known: String },
    OtherCurrency { base: Currency, asked: &'static str },
    FormHasNoLine { line: &'static str },
    NotFiled { year: i32 },
}

impl Explain for TaxFinding {
    fn say(&self) -> Said {
        match self {
            Self::NoProfile { jurisdiction, year, known } => Said::invalid(
                format!("there is no tax profile '{jurisdiction}' for {year}"),
                format!(
                    "ask for one of {known} (GET /v1/tax-years), or take the year's postings by class (GET \
                     /v1/postings?tax_year={year})"
                ),
            ),
            Self::OtherCurrency { base, asked } => Said::conflict(
                format!("the books are kept in {base}, but the form of this profile is filled in {asked}"),
                format!("choose a profile for books in {base}, or keep books in {asked} for this business"),
            ),
            Self::NotFiled { year } => Said::conflict(
                format!("no filing of {year} is recorded, so there is nothing to compare the books with"),
                format!(
                    "record the filing once the return is filed (POST /v1/tax-years/{year}/filing); until then the \
                     books' figures are at /v1/tax-years/{year}/summary"
                ),
            ),
            Self::FormHasNoLine { line } => Said::invalid(
                format!("the form's data name a line {line} that can not be worked out"),
                "this is a fault of ours: please report it",
            ),
        }
    }
}
