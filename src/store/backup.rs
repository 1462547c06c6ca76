//! Backups: every row of every set of books in one file, and back from it into an empty database. And exports: one set
//! of books in a file of the same kind, and from it into a server that has other books.
//!
//! The file is a tar archive inside gzip, optionally encrypted in the age format, so that ordinary tools open it:
//!
//! | entry | what |
//! |---|---|
//! | `ledgerboard-backup.json` | format, program and PostgreSQL version, time; of an export, which books |
//! | `tables/<table>/<number>.copy` | the rows in the text format of PostgreSQL's COPY, in pieces |
//! | `manifest.json` | migrations; columns, rows and SHA-256 of each table; the chain head of each set of books |
//!
//! The manifest comes last: a file without it is incomplete and is refused. pg_dump is not used, because the one of an
//! older PostgreSQL refuses a newer server, and because row security makes it fail or, worse, succeed with empty tables.

mod copying;
mod destination;
mod error;
mod importing;
mod prepare;
mod reading;
mod restoring;
mod taking;
mod writing;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

pub use destination::Destination;
pub use error::BackupError;
pub use importing::{Export, Imported, checked_export, import};
pub use reading::BackupFile;
pub use restoring::{checked, clear, insist_on_empty, load};
pub use taking::{Taken, export, note, take};
pub use writing::Recipient;

use crate::rules::chain::{Hash, Head};

/// The version of the layout of a whole backup.
const ALL_BOOKS: u32 = 1;

/// The version of the layout of an export. It is the same layout with fewer rows, and has a number of its own so that a
/// program which knows whole backups only refuses it, instead of restoring one set of books in place of all.
const ONE_SET_OF_BOOKS: u32 = 2;

/// The newest layout that this program reads.
const NEWEST: u32 = ONE_SET_OF_BOOKS;

const HEADER_ENTRY: &str = "ledgerboard-backup.json";
const MANIFEST_ENTRY: &str = "manifest.json";
const TABLES_FOLDER: &str = "tables";

/// Bytes of COPY text in one entry of the archive; a row may be spread over several.
const PIECE: usize = 1 << 20;

/// What is known before the first row is read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    pub format: u32,
    /// The version of Ledgerboard that made the backup.
    pub program: String,
    pub postgresql: String,
    /// What was committed before this moment is in the backup.
    pub taken_at: DateTime<Utc>,
    /// The books that an export is about; a whole backup has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only_books: Option<OnlyBooks>,
}

/// The books of an export, as they stood then.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OnlyBooks {
    pub id: Uuid,
    /// The address they were marked as moved to; without it, changes may have been made after the export.
    pub moved_to: Option<String>,
}

/// What the whole backup holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "Written", into = "Written")]
pub struct Manifest {
    pub header: Header,
    /// The versions of the migrations that made the schema, in order.
    pub migrations: Vec<String>,
    pub tables: Vec<TableInBackup>,
    pub books: Vec<BooksInBackup>,
}

/// The manifest as it stands in the file: the header's fields are repeated beside the rest. Spelled out, since serde's own
/// way to flatten them reads numbers by way of floats.
#[derive(Clone, Serialize, Deserialize)]
struct Written {
    format: u32,
    program: String,
    postgresql: String,
    taken_at: DateTime<Utc>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    only_books: Option<OnlyBooks>,
    migrations: Vec<String>,
    tables: Vec<TableInBackup>,
    books: Vec<BooksInBackup>,
}

impl From<Written> for Manifest {
    fn from(written: Written) -> Self {
        let Written { format, program, postgresql, taken_at, only_books, migrations, tables, books } =
            written;
        let header = Header { format, program, postgresql, taken_at, only_books };
        Self { header, migrations, tables, books }
    }
}

impl From<Manifest> for Written {
    fn from(manifest: Manifest) -> Self {
        let Manifest { header, migrations, tables, books } = manifest;
        let Header { format, program, postgresql, taken_at, only_books } = header;
        Self { format, program, postgresql, taken_at, only_books, migrations, tables, books }
    }
}

/// One table's rows as COPY text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableInBackup {
    pub name: String,
    pub columns: Vec<String>,
    pub rows: u64,
    pub bytes: u64,
    pub sha256: Hash,
}

/// One set of books and the last entry of its chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BooksInBackup {
    pub id: Uuid,
    pub head: Head,
}

impl Manifest {
    pub fn rows(&self) -> u64 {
        self.tables.iter().map(|table| table.rows).sum()
    }
}

/// Receives a line about what is being done.
pub type Progress<'a> = &'a (dyn Fn(&str) + Sync);

/// A name as SQL takes it.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

fn columns_quoted(columns: &[String]) -> String {
    columns.iter().map(|column| quoted(column)).collect::<Vec<_>>().join(", ")
}
