//! The folders and files of the cluster: made private, handed to the right user, locked while starting.

use std::fs::{self, DirBuilder, File, OpenOptions, Permissions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt, fchown, lchown};
use std::path::{Path, PathBuf};
use std::time::Duration;

use nix::fcntl::OFlag;
use tokio::time::{Instant, sleep};

use super::account::{Account, name_of};
use super::error::ClusterError;

/// What PostgreSQL calls its socket; the number is only part of the name, no port is opened.
pub(super) const SOCKET_NAME: &str = ".s.PGSQL.5432";

/// The longest path of a socket, in bytes.
const SOCKET_PATH_LIMIT: usize = if cfg!(target_os = "linux") { 107 } else { 103 };

/// How long to wait for another service that is starting the same cluster.
pub(super) const LOCK_LIMIT: Duration = Duration::from_secs(300);

/// A server log longer than this is moved to `postgres.log.1`.
const LOG_LIMIT: u64 = 4 << 20;

/// How much of the end of the log is shown.
const TAIL_LINES: usize = 6;

/// Makes the data folder for `account` alone, or takes over an existing one; answers its real path.
/// A folder with files in it is never given to another user: it might be `/etc`.
/// # Errors
/// [`ClusterError::ParentClosed`], [`ClusterError::WrongOwner`], [`ClusterError::TooOpen`].
pub(super) fn prepare_data_dir(data_dir: &Path, account: &Account) -> Result<PathBuf, ClusterError> {
    let parent = data_dir.parent().unwrap_or(data_dir);
    if account.drops_root()
        && let Some(existing) = parent.ancestors().find(|folder| folder.exists())
    {
        refuse_closed_parents(existing, account)?;
    }
    make_parents(parent, account)?;
    make_private(data_dir, account)?;
    let real = fs::canonicalize(data_dir).map_err(ClusterError::folder("find", data_dir))?;
    if account.drops_root() {
        refuse_closed_parents(&real, account)?;
    }
    Ok(real)
}

fn refuse_closed_parents(folder: &Path, account: &Account) -> Result<(), ClusterError> {
    let real = fs::canonicalize(folder).map_err(ClusterError::folder("find", folder))?;
    if account.may_enter(&real)? {
        return Ok(());
    }
    let mut closed = real.as_path();
    for parent in real.ancestors() {
        if account.may_enter(parent)? {
            break;
        }
        closed = parent;
    }
    Err(ClusterError::ParentClosed { parent: closed.to_path_buf(), account: account.name.clone() })
}

/// Missing parents are made open to pass through if another user has to, private otherwise.
fn make_parents(parent: &Path, account: &Account) -> Result<(), ClusterError> {
    let missing: Vec<&Path> = parent.ancestors().take_while(|folder| !folder.exists()).collect();
    let mode = if account.drops_root() { 0o755 } else { 0o700 };
    for folder in missing.into_iter().rev() {
        match DirBuilder::new().mode(mode).create(folder) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            made => made
                .and_then(|()| fs::set_permissions(folder, Permissions::from_mode(mode)))
                .map_err(ClusterError::folder("make", folder))?,
        }
    }
    Ok(())
}

fn make_private(folder: &Path, account: &Account) -> Result<(), ClusterError> {
    match DirBuilder::new().mode(0o700).create(folder) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => {
            return Err(ClusterError::folder("make", folder)(error));
        }
        Ok(()) | Err(_) => {}
    }
    // Emptiness is asked first: a rival service hands the folder over before it puts files there.
    let empty = is_empty(folder).map_err(ClusterError::folder("read", folder))?;
    let found = folder.metadata().map_err(ClusterError::folder("read", folder))?;
    let ours = found.uid() == account.uid.as_raw();
    let free = empty && account.drops_root() && found.uid() == 0;
    if !(ours || free) {
        return wrong_owner(folder, found.uid(), account);
    }
    if empty {
        let real = fs::canonicalize(folder).map_err(ClusterError::folder("find", folder))?;
        return lchown(&real, Some(account.uid.as_raw()), Some(account.gid.as_raw()))
            .and_then(|()| fs::set_permissions(&real, Permissions::from_mode(0o700)))
            .map_err(ClusterError::folder("make private", folder));
    }
    if found.mode() & 0o022 != 0 {
        return Err(ClusterError::TooOpen { folder: folder.to_path_buf(), mode: found.mode() & 0o777 });
    }
    Ok(())
}

/// Makes a folder of `account`'s own inside one that is; one that is there stays as it is.
/// # Errors
/// [`ClusterError::Folder`].
pub(super) fn make_owned(folder: &Path, account: &Account) -> Result<(), ClusterError> {
    match DirBuilder::new().mode(0o700).create(folder) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => return Ok(()),
        made => made.map_err(ClusterError::folder("make", folder))?,
    }
    if account.drops_root() {
        lchown(folder, Some(account.uid.as_raw()), Some(account.gid.as_raw()))
            .map_err(ClusterError::folder("hand over", folder))?;
    }
    Ok(())
}

/// The cluster's own folder has to be PostgreSQL's too: the copy of one may belong to whoever made it.
/// # Errors
/// [`ClusterError::WrongOwner`].
pub(super) fn refuse_wrong_owner(folder: &Path, account: &Account) -> Result<(), ClusterError> {
    let found = folder.metadata().map_err(ClusterError::folder("read", folder))?;
    if found.uid() == account.uid.as_raw() { Ok(()) } else { wrong_owner(folder, found.uid(), account) }
}

fn wrong_owner(folder: &Path, owner: u32, account: &Account) -> Result<(), ClusterError> {
    let (folder, owner) = (folder.to_path_buf(), name_of(owner)?);
    Err(ClusterError::WrongOwner { folder, owner, account: account.name.clone() })
}

/// A freshly made file system has a `lost+found`, which does not count.
fn is_empty(folder: &Path) -> io::Result<bool> {
    let mut entries = fs::read_dir(folder)?;
    Ok(entries.all(|entry| entry.is_ok_and(|entry| entry.file_name() == "lost+found")))
}

/// The folder for the socket: `run` in the data folder, or where that is too long for a socket's path or
/// has a comma in it, one under `$XDG_RUNTIME_DIR` or `/tmp` named after the data folder.
/// # Errors
/// [`ClusterError::WrongOwner`] or [`ClusterError::TooOpen`] if somebody else made it.
pub(super) fn prepare_socket_dir(data_dir: &Path, account: &Account) -> Result<PathBuf, ClusterError> {
    let inside = data_dir.join("run");
    let folder = if fits(&inside) { inside } else { short_socket_dir(data_dir, account) };
    match DirBuilder::new().mode(0o700).create(&folder) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => {
            return Err(ClusterError::folder("make", &folder)(error));
        }
        Ok(()) | Err(_) => {}
    }
    let found = folder.symlink_metadata().map_err(ClusterError::folder("read", &folder))?;
    if found.is_dir() && found.uid() == 0 && account.drops_root() {
        lchown(&folder, Some(account.uid.as_raw()), Some(account.gid.as_raw()))
            .map_err(ClusterError::folder("hand over", &folder))?;
    } else if found.uid() != account.uid.as_raw() {
        wrong_owner(&folder, found.uid(), account)?;
    }
    if !found.is_dir() || found.mode() & 0o077 != 0 {
        return Err(ClusterError::TooOpen { folder, mode: found.mode() & 0o777 });
    }
    Ok(folder)
}

/// Short enough for a socket, and fit for a `host` in a URL, where a comma separates hosts.
fn fits(folder: &Path) -> bool {
    let spelled = folder.to_str().is_some_and(|text| !text.contains([',', '\n']));
    spelled && folder.join(SOCKET_NAME).as_os_str().len() <= SOCKET_PATH_LIMIT
}

fn short_socket_dir(data_dir: &Path, account: &Account) -> PathBuf {
    let name = format!("ledgerboard-{:016x}", fnv1a(data_dir.as_os_str().as_bytes()));
    let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
    runtime
        .filter(|folder| !account.drops_root() && folder.is_absolute() && folder.is_dir())
        .map(|folder| folder.join(&name))
        .filter(|folder| fits(folder))
        .unwrap_or_else(|| Path::new("/tmp").join(&name))
}

/// FNV-1a: only to give the same folder the same name; the folder's owner is checked, not its name.
fn fnv1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

const LOCK: &str = "cluster.lock";

/// Waits for the right to initialise, start, attach or leave; the lock goes with the file.
/// # Errors
/// [`ClusterError::Busy`] after `limit`.
pub(super) async fn lock(data_dir: &Path, account: &Account, limit: Duration) -> Result<File, ClusterError> {
    let path = data_dir.join(LOCK);
    let file = open_private(&path, account)?;
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::Error(source)) => return Err(ClusterError::folder("lock", &path)(source)),
            Err(TryLockError::WouldBlock) if begun.elapsed() > limit => {
                return Err(ClusterError::Busy { lock: path, seconds: limit.as_secs() });
            }
            Err(TryLockError::WouldBlock) => sleep(Duration::from_millis(25)).await,
        }
    }
}

/// The same at once; `None` if somebody else has it.
pub(super) fn lock_at_once(data_dir: &Path, account: &Account) -> Option<File> {
    let file = open_private(&data_dir.join(LOCK), account).ok()?;
    file.try_lock().is_ok().then_some(file)
}

/// Opens for appending a file that only `account` may read; never follows a link in its place.
pub(super) fn open_private(path: &Path, account: &Account) -> Result<File, ClusterError> {
    let mut options = OpenOptions::new();
    options.read(true).append(true).create(true).mode(0o600).custom_flags(OFlag::O_NOFOLLOW.bits());
    let file = options.open(path).map_err(ClusterError::folder("open", path))?;
    if account.drops_root() {
        fchown(&file, Some(account.uid.as_raw()), Some(account.gid.as_raw()))
            .map_err(ClusterError::folder("hand over", path))?;
    }
    Ok(file)
}

/// The server's log: `postgres.log`, with the one before it in `postgres.log.1`.
#[derive(Debug, Clone)]
pub(super) struct ServerLog {
    pub(super) path: PathBuf,
    account: Account,
}

impl ServerLog {
    pub(super) fn of(data_dir: &Path, account: &Account) -> Self {
        Self { path: data_dir.join("postgres.log"), account: account.clone() }
    }

    /// The file to append to, and its length so far.
    pub(super) fn open(&self) -> Result<(File, u64), ClusterError> {
        let file = open_private(&self.path, &self.account)?;
        let length = file.metadata().map_err(ClusterError::folder("read", &self.path))?.len();
        Ok((file, length))
    }

    /// Empties a log past 4 MiB into `postgres.log.1`. The server goes on appending to the same file;
    /// lines it writes in that instant are lost.
    pub(super) fn keep_short(&self) -> Result<(), ClusterError> {
        let (mut log, length) = self.open()?;
        if length <= LOG_LIMIT {
            return Ok(());
        }
        let older = self.path.with_extension("log.1");
        let mut copy = open_private(&older, &self.account)?;
        copy.set_len(0)
            .and_then(|()| log.seek(SeekFrom::Start(length.saturating_sub(LOG_LIMIT))))
            .and_then(|_| io::copy(&mut (&log).take(LOG_LIMIT), &mut copy))
            .and_then(|_| log.set_len(0))
            .map_err(ClusterError::folder("shorten", &self.path))
    }

    /// What was written after the first `mark` bytes, at most 64 KiB of it.
    pub(super) fn since(&self, mark: u64) -> Result<String, ClusterError> {
        let (mut log, length) = self.open()?;
        let from = mark.max(length.saturating_sub(64 << 10));
        let mut bytes = Vec::new();
        log.seek(SeekFrom::Start(from))
            .and_then(|_| log.read_to_end(&mut bytes))
            .map_err(ClusterError::folder("read", &self.path))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// The last lines of `text`, as one line.
pub(super) fn tail(text: &str) -> String {
    let lines: Vec<&str> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    lines.get(lines.len().saturating_sub(TAIL_LINES)..).unwrap_or_default().join(" | ")
}

/// The cluster in the data folder: `postgres-<major>`, the highest if there are several, and the major version
/// that made it.
/// # Errors
/// [`ClusterError::NotACluster`] if it holds files but no `PG_VERSION`.
pub(super) fn find_cluster(data_dir: &Path) -> Result<Option<(PathBuf, u32)>, ClusterError> {
    let read = |entries: fs::ReadDir| entries.collect::<io::Result<Vec<_>>>();
    let entries = fs::read_dir(data_dir).and_then(read).map_err(ClusterError::folder("read", data_dir))?;
    let mut highest = None;
    for entry in entries {
        let name = entry.file_name();
        let number = name.to_str().and_then(|name| name.strip_prefix("postgres-")?.parse::<u32>().ok());
        let folder = entry.path();
        if folder.is_dir()
            && number.is_some_and(|number| number < 1000)
            && number > highest.as_ref().and_then(|(number, _)| *number)
            && !is_empty(&folder).map_err(ClusterError::folder("read", &folder))?
        {
            highest = Some((number, folder));
        }
    }
    let Some((_, folder)) = highest else { return Ok(None) };
    let version = match fs::read_to_string(folder.join("PG_VERSION")) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => {
            return Err(ClusterError::folder("read", &folder)(error));
        }
        read => read.unwrap_or_default(),
    };
    match version.trim().parse() {
        Ok(major) => Ok(Some((folder, major))),
        Err(_) => Err(ClusterError::NotACluster { folder }),
    }
}
