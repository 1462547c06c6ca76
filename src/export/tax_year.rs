//! The yearly summary as files: one flat comma-separated table with every figure, and a readable text.

mod flat;
mod pages;

#[cfg(test)]
mod tests;

use super::{ExportError, csv as separated};
use crate::rules::tax_year::YearSummary;

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
