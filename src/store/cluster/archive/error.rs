//! What can go wrong with an archive, each with what to do about it.

use std::path::PathBuf;

use chrono::{DateTime, Utc};

use crate::store::cluster::error::ClusterError;

/// Why the log was not archived or the books not recovered. The cause is in `source`, never repeated in the message.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ArchiveError {
    #[error(transparent)]
    Cluster(#[from] ClusterError),
    #[error("the private PostgreSQL did not answer")]
    Server(#[from] tokio_postgres::Error),
    #[error("the name of {} is not plain text: name another folder", folder.display())]
    NotInWords { folder: PathBuf },
    #[error("{} holds the archive of another data folder: name a new folder", folder.display())]
    OfAnother { folder: PathBuf },
    #[error("{} is not an archive (it has no cluster.json): give the folder that 'ledgerboard archive --to' was given", folder.display())]
    NoArchive { folder: PathBuf },
    #[error("{} cannot be read ({found}): restore that file from a copy of the archive", path.display())]
    Unreadable { path: PathBuf, found: String },
    #[error(
        "no piece of the log has arrived in {} for {seconds} s: {} says why; check the space left there, and who may \
         write in it", wal.display(), log.display()
    )]
    DoesNotArrive { wal: PathBuf, log: PathBuf, seconds: u64 },
    #[error(
        "{} is missing, which makes base backups: install it (Debian: apt-get install postgresql-client-{major})",
        program.display()
    )]
    NoProgram { program: PathBuf, major: u32 },
    #[error("{program} failed ({status}): {said}")]
    ProgramFailed { program: &'static str, status: String, said: String },
    #[error("there are books in {} already: name a new folder with --data-dir", folder.display())]
    BooksThere { folder: PathBuf },
    #[error(
        "the archive has no base backup of {} or before; its first is of {}: give --until with that time or a later one",
        until.to_rfc3339(), first.to_rfc3339()
    )]
    TooEarly { until: DateTime<Utc>, first: DateTime<Utc> },
    #[error("{} holds no finished base backup: run 'ledgerboard archive --to' with that folder, which makes one", folder.display())]
    NoBase { folder: PathBuf },
}
