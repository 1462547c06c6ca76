//! What can go wrong while a backup is made or restored, each with what to do about it.

use std::io;
use std::path::{Path, PathBuf};

use uuid::Uuid;

use crate::store::error::StoreError;

/// Why a backup was not made or not restored. The cause is in `source`, never repeated in the message.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BackupError {
    #[error("cannot {action} {}: check the folder, its permissions and the space left", path.display())]
    File { action: &'static str, path: PathBuf, source: io::Error },
    #[error("{} exists already: name another file, or a folder, where every backup gets a name of its own", path.display())]
    Exists { path: PathBuf },
    #[error("{} is not a Ledgerboard backup ({found}): check the name of the file", path.display())]
    NotABackup { path: PathBuf, found: String },
    #[error(
        "{} is incomplete ({found}): the backup was interrupted or the copy was cut off; copy it again or use another \
         backup", path.display()
    )]
    Incomplete { path: PathBuf, found: String },
    #[error("{} is damaged ({found}): copy it again or use another backup", path.display())]
    Damaged { path: PathBuf, found: String },
    #[error(
        "{} has backup format {format}, and this version of Ledgerboard reads format {known}: restore it with \
         Ledgerboard {program} or newer", path.display()
    )]
    NewerFormat { path: PathBuf, format: u32, known: u32, program: String },
    #[error(
        "{} was made by a newer version of Ledgerboard ({program}), whose migration {migration} this version does not \
         know: install that version or a newer one", path.display()
    )]
    NewerVersion { path: PathBuf, program: String, migration: String },
    #[error("{} is encrypted: give the file that holds the private key with --identity", path.display())]
    Encrypted { path: PathBuf },
    #[error("the key in {} does not decrypt {}: give the identity of one of its recipients", identity.display(), path.display())]
    WrongKey { path: PathBuf, identity: PathBuf },
    #[error("{} holds no age identity: give a file with a line AGE-SECRET-KEY-1..., as age-keygen writes it", path.display())]
    NoIdentity { path: PathBuf },
    #[error("{found:?} is not an age recipient ({why}): give a public key that begins with age1")]
    NotARecipient { found: String, why: &'static str },
    #[error(
        "the database has no books yet, so there is nothing to back up: run 'ledgerboard token' or 'serve' first"
    )]
    NothingHere,
    #[error(
        "the database is not empty (the table {table} has rows): restore into a new data folder (--data-dir) or into an \
         empty database"
    )]
    NotEmpty { table: String },
    #[error("another program is connected to the database ({count} connections): stop it, then restore")]
    InUse { count: i64 },
    #[error("cannot {action}")]
    Database { action: String, source: tokio_postgres::Error },
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("the restored books differ from the backup: {0}; nothing was kept, use another backup")]
    Differs(String),
    #[error(
        "{} is one set of books ({id}) and no whole backup: load it with 'ledgerboard books import', into a server that \
         may have other books", path.display()
    )]
    IsAnExport { path: PathBuf, id: Uuid },
    #[error(
        "{} is a whole backup and no single set of books: load it with 'ledgerboard restore', or have 'ledgerboard books \
         export' write the books that are to move", path.display()
    )]
    IsABackup { path: PathBuf },
    #[error(
        "{} was exported by an older version of Ledgerboard ({program}), from books without the migration {migration}: \
         install this version ({}) on the old server, and export the books there again", path.display(),
        env!("CARGO_PKG_VERSION")
    )]
    OlderExport { path: PathBuf, program: String, migration: String },
    #[error(
        "the books {id} are on this server already, and nothing was imported: 'ledgerboard books list' shows them; take \
         the export of other books, or another server"
    )]
    BooksAreHere { id: Uuid },
    #[error(
        "a token of the books {id} opens other books on this server already, and nothing was imported: import them into \
         another server, or find in the table token_directory which books have the same token"
    )]
    TokenIsHere { id: Uuid },
    #[error(
        "another import of the books {id} is under way on this server: wait until it has ended, then look for them with \
         'ledgerboard books list'"
    )]
    ImportUnderWay { id: Uuid },
    #[error("the imported books differ from the export: {0}; nothing of them was kept, export them again")]
    ImportDiffers(String),
    #[error("loading stopped before the file was read to its end")]
    Stopped,
}

impl BackupError {
    /// Names `path` and what was tried on it, for an error of the file system.
    pub(super) fn file(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self::File { action, path, source }
    }

    /// Names what was tried, for an error of the database.
    pub(super) fn database(action: impl Into<String>) -> impl FnOnce(tokio_postgres::Error) -> Self {
        let action = action.into();
        move |source| Self::Database { action, source }
    }

    /// What a failed read of a backup says about the file.
    pub(super) fn unreadable(path: &Path) -> impl Fn(io::Error) -> Self {
        let path = path.to_path_buf();
        move |error| {
            let (path, found) = (path.clone(), error.to_string());
            match error.kind() {
                io::ErrorKind::UnexpectedEof => Self::Incomplete { path, found },
                _ => Self::Damaged { path, found },
            }
        }
    }
}
