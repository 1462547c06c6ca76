//! Who uses the cluster. Every process that does holds a shared lock on `cluster.users` for as long; the last one to
//! leave gets the lock alone, and stops the server. The kernel lets go of the locks of a process that was killed.

use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

use super::account::Account;
use super::error::ClusterError;
use super::folders::open_private;

/// A place among the users of the cluster; given up when it is dropped. Ask for it and leave under `cluster.lock`.
#[derive(Debug)]
pub(super) struct User {
    file: File,
    path: PathBuf,
}

impl User {
    /// Joins the users.
    /// # Errors
    /// [`ClusterError::Folder`].
    pub(super) fn join(data_dir: &Path, account: &Account) -> Result<Self, ClusterError> {
        let path = data_dir.join("cluster.users");
        let file = open_private(&path, account)?;
        // Nobody holds it alone for long: that happens under `cluster.lock`, which the caller has.
        file.lock_shared().map_err(ClusterError::folder("lock", &path))?;
        Ok(Self { file, path })
    }

    /// Leaves the users, and says whether nobody else is left.
    /// # Errors
    /// [`ClusterError::Folder`].
    pub(super) fn leaves_last(self) -> Result<bool, ClusterError> {
        self.file.unlock().map_err(ClusterError::folder("unlock", &self.path))?;
        match self.file.try_lock() {
            Ok(()) => Ok(true),
            Err(TryLockError::WouldBlock) => Ok(false),
            Err(TryLockError::Error(source)) => Err(ClusterError::folder("lock", &self.path)(source)),
        }
    }
}
