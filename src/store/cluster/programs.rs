//! Finding PostgreSQL's server programs on this machine.

use std::env;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::account::Account;
use super::error::ClusterError;

/// A folder with `initdb` and `postgres`, and their major version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Programs {
    pub(super) folder: PathBuf,
    pub(super) major: u32,
}

/// Where to look, in order.
#[derive(Debug)]
struct Places {
    configured: Option<PathBuf>,
    usual: Vec<PathBuf>,
}

impl Programs {
    /// The programs to use: those of `wanted`'s major version if the books exist already, else the first found.
    /// A configured folder comes first; it must hold programs, but those of another version are passed over.
    /// # Errors
    /// [`ClusterError::ProgramsMissing`] if there are none. Of another version than `wanted`:
    /// [`ClusterError::OtherMajor`].
    pub(super) fn find(
        configured: Option<&Path>,
        account: &Account,
        wanted: Option<(&Path, u32)>,
    ) -> Result<Self, ClusterError> {
        let path = env::var_os("PATH").unwrap_or_default();
        let mut usual = usual_folders(Path::new("/"));
        usual.extend(env::split_paths(&path).filter(|folder| folder.is_absolute()));
        Places { configured: configured.map(Path::to_path_buf), usual }.search(account, wanted)
    }

    pub(super) fn program(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

impl Places {
    fn search(self, account: &Account, wanted: Option<(&Path, u32)>) -> Result<Programs, ClusterError> {
        let mut found = Vec::new();
        if let Some(folder) = self.configured {
            if !holds_programs(&folder) {
                return Err(ClusterError::ProgramsMissing { looked_in: folder.display().to_string() });
            }
            found.push(told_version(&folder, account)?);
        }
        for folder in self.usual.iter().filter(|folder| holds_programs(folder)) {
            if wanted.is_none() && !found.is_empty() {
                break;
            }
            match told_version(folder, account) {
                Ok(programs) => found.push(programs),
                Err(error) => tracing::warn!(folder = %folder.display(), %error, "passed over"),
            }
        }
        if found.is_empty() {
            let folders: Vec<_> = self.usual.iter().map(|folder| folder.display().to_string()).collect();
            return Err(ClusterError::ProgramsMissing { looked_in: folders.join(", ") });
        }
        let mut installed: Vec<u32> = found.iter().map(|programs| programs.major).collect();
        let fitting =
            found.into_iter().find(|programs| wanted.is_none_or(|(_, major)| programs.major == major));
        installed.sort_unstable();
        installed.dedup();
        match (fitting, wanted) {
            (Some(programs), _) => Ok(programs),
            (None, Some((folder, cluster))) => {
                Err(ClusterError::OtherMajor { folder: folder.to_path_buf(), cluster, installed })
            }
            (None, None) => Err(ClusterError::ProgramsMissing { looked_in: String::new() }),
        }
    }
}

/// The distributions' folders under `root`, the highest version first in each.
fn usual_folders(root: &Path) -> Vec<PathBuf> {
    let mut folders = versioned(&root.join("usr/lib/postgresql"), "");
    folders.extend(versioned(&root.join("usr"), "pgsql-"));
    folders.push(root.join("usr/bin"));
    folders.extend(versioned(&root.join("opt/homebrew/opt"), "postgresql@"));
    folders.extend(versioned(&root.join("usr/local/opt"), "postgresql@"));
    folders
}

/// `parent/{prefix}{version}/bin` for every version there, the highest first.
fn versioned(parent: &Path, prefix: &str) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(parent) else { return Vec::new() };
    let mut versions: Vec<(u32, PathBuf)> = entries
        .flatten()
        .filter_map(|entry| {
            let name = entry.file_name();
            let version = name.to_str()?.strip_prefix(prefix)?.parse().ok()?;
            Some((version, entry.path().join("bin")))
        })
        .collect();
    versions.sort_unstable_by(|left, right| right.cmp(left));
    versions.into_iter().map(|(_, folder)| folder).collect()
}

fn holds_programs(folder: &Path) -> bool {
    ["initdb", "postgres"].iter().all(|name| folder.join(name).is_file())
}

/// Asks `postgres --version`, which answers `postgres (PostgreSQL) 15.8 (Debian 15.8-0+deb12u1)`.
fn told_version(folder: &Path, account: &Account) -> Result<Programs, ClusterError> {
    let program = folder.join("postgres");
    let broken = |source| ClusterError::ProgramBroken { program: program.clone(), source };
    let answer = account.command(&program).arg("--version").output().map_err(broken)?;
    let text = String::from_utf8_lossy(&answer.stdout);
    let digits: String = text
        .split_once("(PostgreSQL) ")
        .map(|(_, version)| version.chars().take_while(char::is_ascii_digit).collect())
        .unwrap_or_default();
    let major = digits.parse().ok().ok_or_else(|| {
        broken(io::Error::other(format!("it says {text:?} and ends with {}", answer.status)))
    })?;
    Ok(Programs { folder: folder.to_path_buf(), major })
}

/// `14, 15` for a message.
pub(super) fn majors(found: &[u32]) -> String {
    found.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    /// Programs that only tell a version.
    fn install(root: &Path, folder: &str, version: &str) -> PathBuf {
        let bin = root.join(folder);
        fs::create_dir_all(&bin).unwrap();
        for name in ["initdb", "postgres"] {
            let script = format!("#!/bin/sh\necho '{name} (PostgreSQL) {version} (Debian)'\n");
            fs::write(bin.join(name), script).unwrap();
            fs::set_permissions(bin.join(name), fs::Permissions::from_mode(0o755)).unwrap();
        }
        bin
    }

    fn machine() -> (tempfile::TempDir, Account) {
        let root = tempfile::tempdir().unwrap();
        fs::set_permissions(root.path(), fs::Permissions::from_mode(0o755)).unwrap();
        let account = Account::for_data_dir(root.path()).unwrap();
        (root, account)
    }

    #[test]
    fn the_highest_version_is_taken_by_number_and_debian_comes_before_fedora() {
        let (root, account) = machine();
        install(root.path(), "usr/lib/postgresql/9/bin", "9.6.1");
        let highest = install(root.path(), "usr/lib/postgresql/16/bin", "16.4");
        install(root.path(), "usr/pgsql-17/bin", "17.1");
        let places = Places { configured: None, usual: usual_folders(root.path()) };
        let found = places.search(&account, None).unwrap();
        assert_eq!(found, Programs { folder: highest, major: 16 });
    }

    #[test]
    fn a_configured_folder_comes_first_unless_the_books_are_of_another_version() {
        let (root, account) = machine();
        let configured = install(root.path(), "mine", "14.2");
        let fitting = install(root.path(), "opt/homebrew/opt/postgresql@17/bin", "17beta1");
        let places = || Places { configured: Some(configured.clone()), usual: usual_folders(root.path()) };
        assert_eq!(places().search(&account, None).unwrap().folder, configured);
        let books = Path::new("/books/postgres-17");
        assert_eq!(places().search(&account, Some((books, 17))).unwrap().folder, fitting);
        let refused = places().search(&account, Some((books, 15))).unwrap_err().to_string();
        assert!(refused.contains("installed here is 14, 17"), "{refused}");
    }

    #[test]
    fn a_machine_without_programs_is_told_in_one_line_how_to_install_them() {
        let (root, account) = machine();
        let places = || Places { configured: None, usual: usual_folders(root.path()) };
        let refused = places().search(&account, None).unwrap_err().to_string();
        assert!(!refused.contains('\n') && refused.contains("apt-get install postgresql"), "{refused}");
        install(root.path(), "usr/bin", "15.1");
        assert_eq!(places().search(&account, None).unwrap().major, 15);
    }
}
