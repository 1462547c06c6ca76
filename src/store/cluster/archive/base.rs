//! Base backups: a copy of the whole cluster's files to start a recovery from.

use std::fs::{self, File};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use chrono::{DateTime, NaiveDateTime, TimeDelta, Utc};
use serde::Deserialize;

use super::error::ArchiveError;
use super::{Archiving, WAL, archive_of};
use crate::store::cluster::error::ClusterError;
use crate::store::cluster::folders::tail;
use crate::store::cluster::{ADMIN, Cluster};

const BEFORE: &str = "base-";
/// Names sort by time.
const TIME: &str = "%Y-%m-%dT%H-%M-%S%.3fZ";
/// Marks a base backup under way.
const UNFINISHED: &str = ".base.new-";

/// PostgreSQL's default, which `initdb` is left at.
const PIECE_SIZE: u64 = 16 << 20;

/// A finished base backup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BaseBackup {
    pub folder: PathBuf,
    /// A recovery that starts from it reaches this moment and any later one.
    pub finished_at: DateTime<Utc>,
}

/// What pg_basebackup writes down of the log that its backup needs (`backup_manifest`).
#[derive(Deserialize)]
#[serde(rename_all = "PascalCase")]
struct Manifest {
    #[serde(rename = "WAL-Ranges")]
    wal_ranges: Vec<WalRange>,
}

#[derive(Deserialize)]
#[serde(rename_all = "PascalCase")]
struct WalRange {
    timeline: u32,
    #[serde(rename = "Start-LSN")]
    start_lsn: String,
}

impl BaseBackup {
    /// The finished base backups in an archive folder, the oldest first.
    pub(super) fn all(archive: &Path) -> Result<Vec<Self>, ArchiveError> {
        let entries = fs::read_dir(archive).map_err(ClusterError::folder("read", archive))?;
        let mut found: Vec<Self> = entries
            .flatten()
            .filter_map(|entry| {
                let finished_at = time_in(entry.file_name().to_str()?)?;
                Some(Self { folder: entry.path(), finished_at })
            })
            .collect();
        found.sort_unstable_by_key(|base| base.finished_at);
        Ok(found)
    }

    /// The name of the first piece of the log that it needs, without its ending.
    fn first_piece(&self) -> Result<String, ArchiveError> {
        let path = self.folder.join("backup_manifest");
        let unreadable = |found: String| ArchiveError::Unreadable { path: path.clone(), found };
        let text = fs::read(&path).map_err(ClusterError::folder("read", &path))?;
        let manifest: Manifest =
            serde_json::from_slice(&text).map_err(|error| unreadable(error.to_string()))?;
        let pieces: Option<Vec<String>> = manifest.wal_ranges.iter().map(piece_of).collect();
        pieces
            .and_then(|pieces| pieces.into_iter().min())
            .ok_or_else(|| unreadable("no range of the log".to_owned()))
    }
}

/// `0/2000028` on timeline 1 is in the piece `000000010000000000000002`.
fn piece_of(range: &WalRange) -> Option<String> {
    let (high, low) = range.start_lsn.split_once('/')?;
    let (high, low) = (u64::from_str_radix(high, 16).ok()?, u64::from_str_radix(low, 16).ok()?);
    Some(format!("{:08X}{high:08X}{:08X}", range.timeline, low / PIECE_SIZE))
}

/// The time in a name of ours; `None` for any other name.
fn time_in(name: &str) -> Option<DateTime<Utc>> {
    let time = name.strip_prefix(BEFORE)?;
    let at = NaiveDateTime::parse_from_str(time, TIME).ok()?;
    (at.format(TIME).to_string() == time).then(|| at.and_utc())
}

impl Cluster {
    /// Makes a base backup in the archive folder, while the server is in use.
    /// # Errors
    /// [`ArchiveError`]; no half-made backup is taken for a whole one.
    pub async fn base_backup(&self, archive: &Path) -> Result<BaseBackup, ArchiveError> {
        let archive = fs::canonicalize(archive).map_err(ClusterError::folder("find", archive))?;
        let site = &self.site;
        let program = site.programs.program("pg_basebackup");
        if !program.is_file() {
            return Err(ArchiveError::NoProgram { program, major: site.programs.major });
        }
        sweep(&archive);
        let begun = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_nanos();
        let unfinished = archive.join(format!("{UNFINISHED}{begun}"));
        let mut command = site.account.command(&program);
        command.arg("-D").arg(&unfinished).args(["--format=tar", "--gzip", "--wal-method=stream"]);
        command.args([
            "--checkpoint=fast",
            "--label=ledgerboard",
            "--no-password",
            "-U",
            ADMIN,
            "-p",
            "5432",
            "-h",
        ]);
        command.arg(&site.socket_dir);
        let output = tokio::process::Command::from(command).kill_on_drop(true).output().await;
        let output = output.map_err(|source| ClusterError::ProgramBroken { program, source })?;
        if !output.status.success() {
            sweep(&archive);
            let said = tail(&String::from_utf8_lossy(&output.stderr));
            let status = output.status.to_string();
            return Err(ArchiveError::ProgramFailed { program: "pg_basebackup", status, said });
        }
        // Names are cut to the millisecond, and the moment must not lie before the end of the backup.
        let finished_at = Utc::now() + TimeDelta::milliseconds(1);
        let name = format!("{BEFORE}{}", finished_at.format(TIME));
        let finished_at = time_in(&name).unwrap_or(finished_at);
        let folder = archive.join(name);
        fs::rename(&unfinished, &folder)
            .and_then(|()| File::open(&archive)?.sync_all())
            .map_err(ClusterError::folder("write", &folder))?;
        Ok(BaseBackup { folder, finished_at })
    }

    /// Deletes all but the newest `keep` base backups, and the pieces of the log that only older ones need. Returns the base
    /// backups that were deleted.
    /// # Errors
    /// [`ArchiveError`].
    pub fn keep_newest(archive: &Path, keep: NonZeroUsize) -> Result<Vec<BaseBackup>, ArchiveError> {
        let mut all = BaseBackup::all(archive)?;
        let kept = all.split_off(all.len().saturating_sub(keep.get()));
        let Some(oldest) = kept.first() else { return Ok(Vec::new()) };
        if all.is_empty() {
            return Ok(all);
        }
        let first = oldest.first_piece()?;
        for base in &all {
            fs::remove_dir_all(&base.folder).map_err(ClusterError::folder("delete", &base.folder))?;
        }
        let wal = archive.join(WAL);
        for entry in fs::read_dir(&wal).map_err(ClusterError::folder("read", &wal))?.flatten() {
            let name = entry.file_name();
            let piece =
                name.to_str().and_then(|name| name.strip_suffix(".gz")).and_then(|name| name.get(..24));
            // The list of timelines (a name of eight digits) is small and may be needed by any recovery.
            if piece.is_some_and(|piece| piece < first.as_str()) {
                fs::remove_file(entry.path()).map_err(ClusterError::folder("delete", &entry.path()))?;
            }
        }
        Ok(all)
    }

    /// Where the log is copied to; `None` while archiving is off.
    /// # Errors
    /// [`ClusterError::Folder`].
    pub fn archives_to(&self) -> Result<Option<PathBuf>, ClusterError> {
        archive_of(&self.site.data_dir)
    }
}

impl Archiving {
    /// Whether the server was restarted.
    #[must_use]
    pub const fn restarted(self) -> bool {
        matches!(self, Self::TurnedOn | Self::TurnedOff)
    }
}

/// Removes what a killed base backup left. One that cannot be removed only takes space.
fn sweep(archive: &Path) {
    let Ok(entries) = fs::read_dir(archive) else { return };
    for entry in entries.flatten() {
        if entry.file_name().to_str().is_some_and(|name| name.starts_with(UNFINISHED))
            && let Err(error) = fs::remove_dir_all(entry.path())
        {
            tracing::warn!(folder = %entry.path().display(), %error, "cannot remove a half-made base backup");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Names of pieces as PostgreSQL's manual gives them (pg_walfile_name, section "Backup Control Functions").
    #[test]
    fn the_piece_of_a_place_in_the_log_is_named_as_postgresql_names_it() {
        let piece = |timeline, start: &str| piece_of(&WalRange { timeline, start_lsn: start.to_owned() });
        assert_eq!(piece(1, "0/2000028").as_deref(), Some("000000010000000000000002"));
        assert_eq!(piece(2, "1A/FF000000").as_deref(), Some("000000020000001A000000FF"));
        assert_eq!(piece(1, "2000028"), None);
    }

    #[test]
    fn only_names_that_it_gave_itself_are_taken_for_base_backups() {
        let folder = tempfile::tempdir().unwrap();
        for name in [
            "base-2026-12-01T05-20-01.123Z",
            "base-2026-12-01",
            ".base.new-7",
            "wal",
            "base-2026-11-30T00-00-00.000Z",
        ] {
            fs::create_dir(folder.path().join(name)).unwrap();
        }
        let found: Vec<_> = BaseBackup::all(folder.path())
            .unwrap()
            .into_iter()
            .map(|base| base.finished_at.to_rfc3339())
            .collect();
        assert_eq!(found, ["2026-11-30T00:00:00+00:00", "2026-12-01T05:20:01.123+00:00"]);
    }
}
