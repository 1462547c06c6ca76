//! How much space is left where the cluster is.

use std::io;
use std::path::Path;

use nix::sys::statvfs::statvfs;

use super::error::ClusterError;
use super::postmaster::Site;

/// PostgreSQL writes its log in pieces of 16 MiB; with less than two of them left it may not start.
const FULL: u64 = 32 << 20;

/// Less than this is worth a warning.
const NEARLY_FULL: u64 = 1 << 30;

/// The words for ENOSPC and EDQUOT, which PostgreSQL repeats.
const FULL_WORDS: [&str; 2] = ["No space left on device", "Disk quota exceeded"];

/// The space of a file system, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DiskSpace {
    pub size: u64,
    /// What is left for users other than root.
    pub available: u64,
}

impl DiskSpace {
    /// The space of the file system that `folder` is on, if the system tells.
    pub(super) fn of(folder: &Path) -> Option<Self> {
        let told = statvfs(folder).ok()?;
        let unit = told.fragment_size();
        let bytes = |blocks: u64| blocks.saturating_mul(unit);
        Some(Self { size: bytes(told.blocks()), available: bytes(told.blocks_available()) })
    }

    /// Whether so little is left that somebody should make room.
    #[must_use]
    pub const fn is_nearly_full(self) -> bool {
        self.available < NEARLY_FULL
    }
}

impl Site {
    pub(super) fn disk_is_full(&self) -> bool {
        DiskSpace::of(&self.cluster).is_some_and(|space| space.available < FULL)
    }

    /// Warns where little space is left.
    pub(super) fn warn_of_a_nearly_full_disk(&self) {
        if let Some(space) = DiskSpace::of(&self.cluster)
            && space.is_nearly_full()
        {
            let (folder, available_mib) = (self.data_dir.display(), space.available >> 20);
            tracing::warn!(%folder, available_mib, "the disk of the books is nearly full: make room");
        }
    }
}

impl ClusterError {
    /// Whether it came of a full disk.
    pub(super) fn says_disk_full(&self) -> bool {
        match self {
            Self::StartFailed { tail, .. } => FULL_WORDS.iter().any(|words| tail.contains(words)),
            Self::Folder { source, .. } => {
                matches!(source.kind(), io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded)
            }
            _ => false,
        }
    }
}
