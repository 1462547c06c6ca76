//! Point-in-time recovery of the private cluster: its write-ahead log is copied to a folder, beside base backups that a
//! recovery starts from.
//!
//! In the archive folder, which belongs to the user PostgreSQL runs as and is closed to others:
//!
//! | name | what |
//! |---|---|
//! | `cluster.json` | which cluster the archive is of |
//! | `base-<time>/` | a base backup made by `pg_basebackup`, finished at that time |
//! | `wal/<piece>.gz` | the log, in pieces |
//!
//! The file `archive` in the data folder names the archive folder while archiving is on. Whichever command starts the
//! server reads it, so archiving does not depend on who was first.

mod base;
mod error;
mod recovery;

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::{Deserialize, Serialize};
use tokio::time::{Instant, sleep};

pub use base::BaseBackup;
pub use error::ArchiveError;
pub use recovery::{Reached, Recovered, Until, recover};

use super::account::Account;
use super::error::ClusterError;
use super::postmaster::connect;
use super::{Cluster, folders};

/// In the data folder; holds the path of the archive folder.
const SETTING: &str = "archive";
const IDENTITY: &str = "cluster.json";
const WAL: &str = "wal";

/// A piece of the log is copied when it is full, and after so many seconds in which anything was written.
const LONGEST_DELAY: u32 = 60;

/// How long the first piece may take to arrive.
const ARRIVAL_LIMIT: Duration = Duration::from_secs(60);

/// Which cluster an archive is of; a recovery needs the programs of the same major version.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Identity {
    system_identifier: String,
    postgresql: u32,
}

impl Identity {
    /// The identity of the archive in `folder`; `None` if there is no archive.
    fn of(folder: &Path) -> Result<Option<Self>, ArchiveError> {
        let path = folder.join(IDENTITY);
        let text = match fs::read(&path) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
            read => read.map_err(ClusterError::folder("read", &path))?,
        };
        let read = serde_json::from_slice(&text);
        read.map(Some).map_err(|error| ArchiveError::Unreadable { path, found: error.to_string() })
    }
}

/// What was done about archiving.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Archiving {
    /// It was turned on, or sent to another folder; the server was restarted for that.
    TurnedOn,
    /// It was on already.
    WentOn,
    /// It was turned off; the server was restarted for that.
    TurnedOff,
    /// It was off already.
    StayedOff,
}

impl Cluster {
    /// Copies the log to `folder` from now on, if it does not go there already, and waits until the first piece of it has
    /// arrived. Turning it on restarts the server once; a service that uses it goes on by itself.
    /// # Errors
    /// [`ArchiveError`].
    pub async fn archive_to(&self, folder: &Path) -> Result<Archiving, ArchiveError> {
        let site = &self.site;
        let folder = std::path::absolute(folder).map_err(ClusterError::folder("find", folder))?;
        let folder = folders::prepare_data_dir(&folder, &site.account)?;
        if folder.to_str().is_none_or(|text| text.contains('\n')) {
            return Err(ArchiveError::NotInWords { folder });
        }
        self.claim(&folder).await?;
        let wal = folder.join(WAL);
        folders::make_owned(&wal, &site.account)?;
        let done = if archive_of(&site.data_dir)?.as_deref() == Some(folder.as_path()) {
            Archiving::WentOn
        } else {
            let setting = format!("{}\n", folder.display());
            write_whole(&site.data_dir.join(SETTING), setting.as_bytes(), &site.account)?;
            self.stay.lock().await.restart().await?;
            Archiving::TurnedOn
        };
        self.first_piece_arrives(&wal).await?;
        Ok(done)
    }

    /// Copies the log no more; what was copied stays.
    /// # Errors
    /// [`ArchiveError`].
    pub async fn stop_archiving(&self) -> Result<Archiving, ArchiveError> {
        let setting = self.site.data_dir.join(SETTING);
        match fs::remove_file(&setting) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Archiving::StayedOff),
            removed => removed.map_err(ClusterError::folder("remove", &setting))?,
        }
        self.stay.lock().await.restart().await?;
        Ok(Archiving::TurnedOff)
    }

    /// Writes down whose archive it is, or refuses the archive of another cluster.
    async fn claim(&self, folder: &Path) -> Result<(), ArchiveError> {
        let client = connect(&self.site.socket_dir).await?;
        let row = client.query_one("SELECT system_identifier::text FROM pg_control_system()", &[]).await?;
        let ours = Identity { system_identifier: row.try_get(0)?, postgresql: self.site.programs.major };
        match Identity::of(folder)? {
            Some(found) if found == ours => Ok(()),
            Some(_) => Err(ArchiveError::OfAnother { folder: folder.to_path_buf() }),
            None => {
                let text = serde_json::to_vec_pretty(&ours).unwrap_or_default();
                Ok(write_whole(&folder.join(IDENTITY), &text, &self.site.account)?)
            }
        }
    }

    /// Ends the current piece of the log and waits until it has arrived, so that an archive that cannot be written is
    /// noticed now.
    async fn first_piece_arrives(&self, wal: &Path) -> Result<(), ArchiveError> {
        // A switch does nothing right after another one, so something is written first.
        const SWITCH: &str = "SELECT pg_walfile_name(pg_switch_wal()) FROM \
                              (SELECT pg_create_restore_point('archiving begins')) AS written";
        let client = connect(&self.site.socket_dir).await?;
        let piece: String = client.query_one(SWITCH, &[]).await?.try_get(0)?;
        let arrives = wal.join(format!("{piece}.gz"));
        let begun = Instant::now();
        while !arrives.exists() {
            if begun.elapsed() > ARRIVAL_LIMIT {
                let (wal, log) = (wal.to_path_buf(), self.site.log.path.clone());
                return Err(ArchiveError::DoesNotArrive { wal, log, seconds: ARRIVAL_LIMIT.as_secs() });
            }
            sleep(Duration::from_millis(50)).await;
        }
        Ok(())
    }
}

/// Where the cluster of that data folder archives to; `None` while archiving is off.
pub(super) fn archive_of(data_dir: &Path) -> Result<Option<PathBuf>, ClusterError> {
    let path = data_dir.join(SETTING);
    match fs::read_to_string(&path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        read => {
            let text = read.map_err(ClusterError::folder("read", &path))?;
            Ok(Some(PathBuf::from(text.trim_end_matches('\n'))))
        }
    }
}

/// The settings that make the server copy its log.
pub(super) fn settings_of(data_dir: &Path) -> Result<Vec<String>, ClusterError> {
    let Some(folder) = archive_of(data_dir)? else { return Ok(Vec::new()) };
    let command = format!("archive_command={}", copies_to(&folder.join(WAL)));
    Ok(vec!["archive_mode=on".to_owned(), format!("archive_timeout={LONGEST_DELAY}"), command])
}

/// The shell command that copies one piece. It writes through to the disk before the piece gets its name, and never puts
/// another content in the place of a piece, as PostgreSQL's manual asks (section "Continuous Archiving").
fn copies_to(wal: &Path) -> String {
    let wal = quoted(wal);
    format!(
        "cd {wal} && if [ -e %f.gz ]; then gzip -dc %f.gz | cmp -s - \"$OLDPWD/%p\"; else \
         gzip -c \"$OLDPWD/%p\" > .%f.part && sync .%f.part && mv .%f.part %f.gz && sync .; fi"
    )
}

/// The shell command that fetches one piece, and fails where the archive has none by that name.
fn fetches_from(wal: &Path) -> String {
    let wal = quoted(wal);
    format!("[ -e {wal}/%f.gz ] && gzip -dc {wal}/%f.gz > \"%p\"")
}

/// A path as one word for the shell, in a setting in which PostgreSQL replaces `%p` and `%f`.
fn quoted(path: &Path) -> String {
    format!("'{}'", path.display().to_string().replace('\'', "'\\''").replace('%', "%%"))
}

/// Writes a file that is there whole or not at all.
fn write_whole(path: &Path, content: &[u8], account: &Account) -> Result<(), ClusterError> {
    let unfinished = path.with_extension("new");
    match fs::remove_file(&unfinished) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(ClusterError::folder("replace", &unfinished)(error));
        }
        Ok(()) | Err(_) => {}
    }
    let mut file = folders::open_private(&unfinished, account)?;
    file.write_all(content)
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::rename(&unfinished, path))
        .map_err(ClusterError::folder("write", path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_with_quotes_and_percent_signs_is_one_word_in_the_commands() {
        let wal = Path::new("/books/100%p of Ada's/wal");
        assert_eq!(quoted(wal), "'/books/100%%p of Ada'\\''s/wal'");
        assert!(fetches_from(wal).ends_with("gzip -dc '/books/100%%p of Ada'\\''s/wal'/%f.gz > \"%p\""));
    }
}
