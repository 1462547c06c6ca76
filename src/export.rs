//! Files that people keep: comma-separated tables for a spreadsheet, plain-text tables for a reader.
//! An export takes what the rules worked out and gives bytes; it knows of no database and no network, and the
//! same figures give the same bytes.

pub mod costing;
pub mod csv;
pub mod ledger;
pub mod tax_year;
pub mod text;

/// Why an export gives nothing rather than something wrong.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// A spreadsheet might read the cell as a formula or as text, and sums over the column would lie.
    #[error("row {row}: the column {column} holds plain numbers, and '{value}' is not one")]
    NotANumber { column: &'static str, row: usize, value: String },
    #[error("row {row} has {cells} cells, but the table has {columns} columns")]
    Ragged { row: usize, cells: usize, columns: usize },
    #[error("the comma-separated table could not be written")]
    Csv(#[source] ::csv::Error),
    #[error("the written table could not be taken out of its buffer")]
    Buffer,
}

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    Text,
    /// Plain decimal numbers, or nothing where there is no figure.
    Numbers,
}

/// One column: its heading and what it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    pub heading: &'static str,
    pub holds: Holds,
}

impl Column {
    pub const fn text(heading: &'static str) -> Self {
        Self { heading, holds: Holds::Text }
    }

    pub const fn numbers(heading: &'static str) -> Self {
        Self { heading, holds: Holds::Numbers }
    }
}

/// A table on its way to a file: [`csv::write`] and [`text::render`] both take it.
///
/// ```
/// # use ledgerboard::export::{Column, Table, csv, text};
/// let mut table = Table::new(&[Column::text("what"), Column::numbers("amount")]);
/// table.push(["paint", "41.10"]);
/// assert_eq!(csv::write(&table).unwrap(), b"what,amount\r\npaint,41.10\r\n");
/// assert_eq!(text::render(&table, 100), "what   amount\n-----  ------\npaint   41.10\n");
/// ```
#[derive(Clone, Debug)]
pub struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub fn new(columns: &[Column]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new() }
    }

    /// Adds a row; that it has a cell for each column is checked as it is written.
    pub fn push<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }

    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    pub fn rows(&self) -> &[Vec<String>] {
        &self.rows
    }

    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}
