//! Comma-separated tables (RFC 4180) that a spreadsheet can not be tricked with.

use std::borrow::Cow;

use super::{ExportError, Holds, Table};

#[cfg(test)]
mod tests;

/// First characters that make a spreadsheet read a cell as a formula, or hide one behind a blank.
const STARTS_A_FORMULA: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\0'];

/// The table as RFC 4180 bytes: UTF-8 without a byte-order mark, lines end in CRLF, a heading line first, cells
/// quoted only where they must be. Cells of text columns are [`guarded`]. An absent figure and an empty text are
/// both written as nothing between two commas; readers take both as absent.
/// # Errors
/// [`ExportError::NotANumber`] where a column of numbers holds anything but `-?digits[.digits]` or nothing;
/// [`ExportError::Ragged`] where a row does not have a cell for each column.
pub fn write(table: &Table) -> Result<Vec<u8>, ExportError> {
    let mut writer =
        ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::<u8>::new());
    writer.write_record(table.columns().iter().map(|column| column.heading)).map_err(ExportError::Csv)?;
    for (row, cells) in table.rows().iter().enumerate() {
        if cells.len() != table.columns().len() {
            let (cells, columns) = (cells.len(), table.columns().len());
            return Err(ExportError::Ragged { row, cells, columns });
        }
        let mut written = Vec::with_capacity(cells.len());
        for (column, cell) in table.columns().iter().zip(cells) {
            written.push(match column.holds {
                Holds::Text => guarded(cell),
                Holds::Numbers if cell.is_empty() || is_plain_number(cell) => Cow::Borrowed(cell.as_str()),
                Holds::Numbers => {
                    let (column, value) = (column.heading, cell.clone());
                    return Err(ExportError::NotANumber { column, row, value });
                }
            });
        }
        writer.write_record(written.iter().map(|cell| cell.as_bytes())).map_err(ExportError::Csv)?;
    }
    writer.into_inner().map_err(|fault| {
        // The error carries the writer itself; nothing of it is worth keeping for a buffer in memory.
        drop(fault);
        ExportError::Buffer
    })
}

/// A text that no spreadsheet takes for a formula: a single quote stands before a first `=`, `+`, `-`, `@`, tab,
/// carriage return or NUL. A text that already begins with quotes before such a character gets one more, so that
/// [`unguarded`] gives back exactly what was written.
pub fn guarded(text: &str) -> Cow<'_, str> {
    if looks_like_a_formula(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// Undoes [`guarded`], for reading back what was exported.
pub fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if looks_like_a_formula(rest) => rest,
        _ => text,
    }
}

fn looks_like_a_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(STARTS_A_FORMULA)
}

/// `^-?\d+(\.\d+)?$`, ASCII digits only.
pub fn is_plain_number(cell: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let plain = cell.strip_prefix('-').unwrap_or(cell);
    match plain.split_once('.') {
        Some((whole, behind)) => digits(whole) && digits(behind),
        None => digits(plain),
    }
}
