//! How much space is left where the cluster is.

use std::io;
use std::path::Path;
use std::time::Duration;

use nix::sys::statvfs::statvfs;
use tokio::time::Instant;

use super::error::ClusterError;
use super::postmaster::Site;

/// PostgreSQL writes its log in pieces of 16 MiB; with less than two of them left it may not start.
const FULL: u64 = 32 << 20;

/// Less than this is worth a warning.
const NEARLY_FULL: u64 = 1 << 30;

/// How often to look while the server runs.
const LOOK: Duration = Duration::from_secs(5);

/// How long a disk that stays nearly full is not told of again.
const SILENCE: Duration = Duration::from_secs(60 * 60);

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

    /// Warns where little space is left, and says whether it did.
    pub(super) fn warn_of_a_nearly_full_disk(&self) -> bool {
        let Some(space) = DiskSpace::of(&self.cluster).filter(|space| space.is_nearly_full()) else {
            return false;
        };
        let (folder, available_mib) = (self.data_dir.display(), space.available >> 20);
        tracing::warn!(%folder, available_mib, "the disk of the books is nearly full: make room");
        true
    }
}

/// Looks at the disk now and then while the server runs, and warns once an hour at most.
#[derive(Debug)]
pub(super) struct DiskWatch {
    next: Instant,
}

impl DiskWatch {
    /// The disk was looked at, and warned of, when the server was started.
    pub(super) fn begin(site: &Site) -> Self {
        let warned = DiskSpace::of(&site.cluster).is_some_and(DiskSpace::is_nearly_full);
        Self { next: Instant::now() + if warned { SILENCE } else { LOOK } }
    }

    pub(super) fn look(&mut self, site: &Site) {
        if Instant::now() >= self.next {
            let warned = site.warn_of_a_nearly_full_disk();
            self.next = Instant::now() + if warned { SILENCE } else { LOOK };
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
