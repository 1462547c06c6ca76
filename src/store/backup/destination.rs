//! Where a backup is written, and which older ones beside it are deleted.

use std::fs;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::{DateTime, NaiveDateTime, Utc};

use super::error::BackupError;

const BEFORE: &str = "ledgerboard-";
const AFTER: [&str; 2] = [".tar.gz", ".tar.gz.age"];
/// The time in a name, to the millisecond; names sort by time.
const TIME: &str = "%Y-%m-%dT%H-%M-%S%.3fZ";
const PARTIAL: &str = ".partial";
/// A half that nobody has written to for so long was left by a backup that was killed.
const ABANDONED: Duration = Duration::from_secs(60 * 60);

/// Where a backup goes.
#[derive(Clone, Debug)]
pub enum Destination {
    /// Under this name, which must be free.
    File(PathBuf),
    /// Under a name with the time in this folder, which is made if missing.
    Folder(PathBuf),
}

impl Destination {
    /// A folder if it is one already or its name ends in a slash, else a file.
    pub fn named(path: &Path) -> Self {
        if path.is_dir() || path.as_os_str().as_encoded_bytes().ends_with(b"/") {
            Self::Folder(path.to_path_buf())
        } else {
            Self::File(path.to_path_buf())
        }
    }

    /// The file to write, in a folder that exists.
    pub(super) fn prepared(&self, at: DateTime<Utc>, encrypted: bool) -> Result<PathBuf, BackupError> {
        let path = match self {
            Self::File(path) => path.clone(),
            Self::Folder(folder) => {
                if !folder.is_dir() {
                    make_private(folder).map_err(BackupError::file("make the folder", folder))?;
                }
                sweep_abandoned(folder);
                let [plain, age] = AFTER;
                folder.join(format!("{BEFORE}{}{}", at.format(TIME), if encrypted { age } else { plain }))
            }
        };
        if path.exists() {
            return Err(BackupError::Exists { path });
        }
        Ok(path)
    }

    /// Deletes all but the newest `keep` backups of the folder and returns what was deleted. Only files named exactly
    /// like the backups of this program are looked at.
    /// # Errors
    /// The folder cannot be read, or a file not be deleted.
    pub fn keep_newest(&self, keep: NonZeroUsize) -> Result<Vec<PathBuf>, BackupError> {
        let Self::Folder(folder) = self else { return Ok(Vec::new()) };
        let mut ours = Vec::new();
        for entry in fs::read_dir(folder).map_err(BackupError::file("read the folder", folder))?.flatten() {
            let name = entry.file_name();
            if let Some(at) = name.to_str().and_then(time_in)
                && entry.file_type().is_ok_and(|kind| kind.is_file())
            {
                ours.push((at, entry.path()));
            }
        }
        ours.sort_unstable_by(|left, right| right.cmp(left));
        let old: Vec<_> = ours.into_iter().skip(keep.get()).map(|(_, path)| path).collect();
        for path in &old {
            fs::remove_file(path).map_err(BackupError::file("delete", path))?;
        }
        Ok(old)
    }
}

fn make_private(folder: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::DirBuilderExt;
    fs::DirBuilder::new().recursive(true).mode(0o700).create(folder)
}

/// The time in a name of ours; `None` for any other name.
fn time_in(name: &str) -> Option<NaiveDateTime> {
    let rest = name.strip_prefix(BEFORE)?;
    let time = AFTER.iter().rev().find_map(|after| rest.strip_suffix(after))?;
    let at = NaiveDateTime::parse_from_str(time, TIME).ok()?;
    // Names that only parse alike are somebody else's.
    (at.format(TIME).to_string() == time).then_some(at)
}

/// The name a backup has until it is whole, beside its final one.
pub(super) fn partial_of(path: &Path) -> PathBuf {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!(".{name}{PARTIAL}"))
}

fn sweep_abandoned(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let ours = name
            .to_str()
            .and_then(|name| name.strip_prefix('.')?.strip_suffix(PARTIAL))
            .is_some_and(|name| time_in(name).is_some());
        let age = entry.metadata().and_then(|data| data.modified()).ok().and_then(|at| at.elapsed().ok());
        if ours
            && age.is_some_and(|age| age > ABANDONED)
            && let Err(error) = fs::remove_file(entry.path())
        {
            tracing::warn!(%error, "a half-written backup could not be deleted");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_newest_backups_are_kept_and_files_of_others_stay() {
        let folder = tempfile::tempdir().unwrap();
        let names = [
            "ledgerboard-2026-01-01T00-00-00.000Z.tar.gz",
            "ledgerboard-2026-01-02T00-00-00.000Z.tar.gz.age",
            "ledgerboard-2026-01-03T00-00-00.000Z.tar.gz",
            "ledgerboard-2026-01-04T00-00-00.000Z.tar.gz",
            "ledgerboard-2025-13-01T00-00-00.000Z.tar.gz",
            "ledgerboard-2025-01-01.tar.gz",
            "my-ledgerboard-2025-01-01T00-00-00.000Z.tar.gz",
            "notes.txt",
        ];
        for name in names {
            fs::write(folder.path().join(name), name).unwrap();
        }
        let to = Destination::named(folder.path());
        let deleted = to.keep_newest(NonZeroUsize::new(2).unwrap()).unwrap();
        assert_eq!(deleted.len(), 2, "{deleted:?}");
        let left = |name: &str| folder.path().join(name).exists();
        assert_eq!(names.map(left), [false, false, true, true, true, true, true, true]);
    }

    #[test]
    fn a_name_says_whether_a_folder_is_meant_and_a_file_that_exists_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let new = folder.path().join("new/");
        let Destination::Folder(_) = Destination::named(&new) else { panic!("a slash names a folder") };
        let file = folder.path().join("books.tar.gz");
        let to = Destination::named(&file);
        assert_eq!(to.prepared(Utc::now(), false).unwrap(), file);
        fs::write(&file, "").unwrap();
        let refused = to.prepared(Utc::now(), false).unwrap_err().to_string();
        assert!(refused.contains("exists already"), "{refused}");
    }
}
