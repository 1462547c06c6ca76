//! The user PostgreSQL runs as, and where that user's books are kept.

use std::env;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use nix::unistd::{Gid, Uid, User, getegid, geteuid};

use super::error::ClusterError;

/// The users root lends to PostgreSQL, in order of preference.
const LENT: [&str; 2] = ["postgres", "ledgerboard"];

/// What a server program keeps of the service's environment: no `PG*`, no secrets.
const KEPT: [&str; 3] = ["PATH", "LD_LIBRARY_PATH", "TMPDIR"];

/// The user PostgreSQL runs as.
#[derive(Debug, Clone)]
pub(super) struct Account {
    pub(super) uid: Uid,
    pub(super) gid: Gid,
    pub(super) name: String,
    change: Change,
}

/// Whether a program has to change its user first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    Stay,
    Drop,
}

impl Account {
    /// The service's own user; for root, the owner of the existing data folder, else `postgres`, else `ledgerboard`.
    /// # Errors
    /// [`ClusterError::NoAccount`] for root without such a user; [`ClusterError::NamelessUser`].
    pub(super) fn for_data_dir(data_dir: &Path) -> Result<Self, ClusterError> {
        let own = geteuid();
        if !own.is_root() {
            return Ok(Self { gid: getegid(), ..Self::named(own, Change::Stay)? });
        }
        if let Ok(found) = data_dir.metadata()
            && found.uid() != 0
        {
            return Self::named(Uid::from_raw(found.uid()), Change::Drop);
        }
        for name in LENT {
            let user = User::from_name(name)
                .map_err(|source| ClusterError::UserLookup { user: name.to_owned(), source })?;
            if let Some(user) = user.filter(|user| !user.uid.is_root()) {
                return Ok(Self { uid: user.uid, gid: user.gid, name: user.name, change: Change::Drop });
            }
        }
        Err(ClusterError::NoAccount)
    }

    fn named(uid: Uid, change: Change) -> Result<Self, ClusterError> {
        let user = user_of(uid)?.ok_or(ClusterError::NamelessUser { uid: uid.as_raw() })?;
        Ok(Self { uid, gid: user.gid, name: user.name, change })
    }

    /// A command that runs `program` as this user, in `/`, with a nearly empty environment and no input.
    pub(super) fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command.env_clear().env("LC_ALL", "C").current_dir("/").stdin(Stdio::null());
        command.envs(KEPT.iter().filter_map(|name| env::var_os(name).map(|value| (name, value))));
        if self.drops_root() {
            command.uid(self.uid.as_raw()).gid(self.gid.as_raw());
        }
        command
    }

    /// Whether the service is root and this user is another.
    pub(super) fn drops_root(&self) -> bool {
        self.change == Change::Drop
    }

    /// Whether this user may pass through `folder`; asked by going there, so access lists count too.
    pub(super) fn may_enter(&self, folder: &Path) -> Result<bool, ClusterError> {
        let mut visit = self.command(Path::new("/bin/sh"));
        match visit.args(["-c", ":"]).current_dir(folder).status() {
            Ok(_) => Ok(true),
            Err(refused) if refused.kind() == io::ErrorKind::PermissionDenied => Ok(false),
            Err(source) => Err(ClusterError::folder("enter", folder)(source)),
        }
    }
}

fn user_of(uid: Uid) -> Result<Option<User>, ClusterError> {
    User::from_uid(uid).map_err(|source| ClusterError::UserLookup { user: format!("user {uid}"), source })
}

/// The user's name, or the number of a user without one.
pub(super) fn name_of(uid: u32) -> Result<String, ClusterError> {
    Ok(user_of(Uid::from_raw(uid))?.map_or_else(|| uid.to_string(), |user| user.name))
}

/// Where books are kept unless told otherwise: `$XDG_DATA_HOME/ledgerboard`, `~/.local/share/ledgerboard`,
/// or `/var/lib/ledgerboard` for root, whose home is closed to the user PostgreSQL runs as.
/// # Errors
/// [`ClusterError::NoHome`] if the user has no home folder.
pub fn default_data_dir() -> Result<PathBuf, ClusterError> {
    let uid = geteuid();
    if uid.is_root() {
        return Ok(PathBuf::from("/var/lib/ledgerboard"));
    }
    let absolute = |name| env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    if let Some(share) = absolute("XDG_DATA_HOME") {
        return Ok(share.join("ledgerboard"));
    }
    let home = match absolute("HOME") {
        Some(home) => home,
        None => user_of(uid)?.map(|user| user.dir).ok_or(ClusterError::NoHome)?,
    };
    Ok(home.join(".local/share/ledgerboard"))
}
