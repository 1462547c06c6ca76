//! The yearly summary as files: one flat comma-separated table with every figure, and a readable text.

mod amended;
mod flat;
mod pages;
mod tools;

#[cfg(test)]
mod tests;

use super::{ExportError, csv as separated};
use crate::rules::tax_year::YearSummary;
use crate::rules::tax_year::amended::Amended;
use crate::rules::tax_year::tools::ToolsBeside;

/// Every figure of the summary on a row of its own: section, line, label, exact, whole, drill_down. `exact` is to
/// the cent, `whole` in whole units where the form has such a line; both are empty where there is no figure. The
/// first row is the caution.
/// # Errors
/// As [`super::csv::write`].
pub fn csv(summary: &YearSummary) -> Result<Vec<u8>, ExportError> {
    separated::write(&flat::table(summary))
}

/// The summary to read and to print: tables no wider than 100 characters, the caution first and last.
pub fn text(summary: &YearSummary) -> String {
    pages::text(summary)
}

/// The filed year beside the books: section, line, label, filed, now, difference, the three in whole units, link. The
/// lines of the form come first, then what was recorded since with its postings of the year under `now`.
/// # Errors
/// As [`super::csv::write`].
pub fn amended_csv(shown: &Amended) -> Result<Vec<u8>, ExportError> {
    separated::write(&amended::table(shown))
}

/// The same to read and to print: what changed first, then the records since, then what stayed.
pub fn amended_text(shown: &Amended) -> String {
    amended::text(shown)
}

/// Tools in the books and for tax: a row a tool, one in all, and the ledger beside them in words.
/// # Errors
/// As [`super::csv::write`].
pub fn tools_csv(shown: &ToolsBeside) -> Result<Vec<u8>, ExportError> {
    separated::write(&tools::table(shown))
}

/// The same to read and to print, with the reasons in words.
pub fn tools_text(shown: &ToolsBeside) -> String {
    tools::text(shown)
}
