//! Making a new cluster, so that it is there whole or not at all.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use tokio::time::timeout;

use super::account::Account;
use super::error::ClusterError;
use super::folders::tail;
use super::programs::Programs;
use super::{ADMIN, Durability};

/// Marks the folder of an `initdb` or a recovery under way: `postgres-15.new-<time>`.
pub(super) const UNFINISHED: &str = ".new-";

const INIT_LIMIT: Duration = Duration::from_secs(180);

/// Removes what an `initdb` or a recovery that was killed midway left behind.
/// One that cannot be removed only takes space, so it is logged and tried again at the next start.
pub(super) fn sweep_unfinished(data_dir: &Path) -> Result<(), ClusterError> {
    let entries = fs::read_dir(data_dir).map_err(ClusterError::folder("read", data_dir))?;
    for entry in entries.flatten() {
        let name = entry.file_name();
        let unfinished =
            name.to_str().is_some_and(|name| name.starts_with("postgres-") && name.contains(UNFINISHED));
        if !unfinished {
            continue;
        }
        match fs::remove_dir_all(entry.path()) {
            Ok(()) => tracing::warn!(folder = %entry.path().display(), "removed a half-made cluster"),
            Err(error) => {
                tracing::warn!(folder = %entry.path().display(), %error, "cannot remove a half-made cluster");
            }
        }
    }
    Ok(())
}

/// Makes the cluster in a folder of its own and renames it when it is whole; call it under the lock.
/// The name is new each time: an `initdb` that outlived its killed service may still write under the old one.
/// # Errors
/// [`ClusterError::InitFailed`].
pub(super) async fn initialise(
    data_dir: &Path,
    programs: &Programs,
    account: &Account,
    durability: Durability,
) -> Result<PathBuf, ClusterError> {
    let name = format!("postgres-{}", programs.major);
    let time = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_nanos();
    let unfinished = data_dir.join(format!("{name}{UNFINISHED}{time}"));
    let folder = data_dir.join(name);
    if let Err(error) = run_initdb(&unfinished, programs, account, durability).await {
        sweep_unfinished(data_dir)?;
        return Err(error);
    }
    fs::rename(&unfinished, &folder).map_err(ClusterError::folder("make", &folder))?;
    File::open(data_dir)
        .and_then(|parent| parent.sync_all())
        .map_err(ClusterError::folder("write through to disk", data_dir))?;
    Ok(folder)
}

async fn run_initdb(
    folder: &Path,
    programs: &Programs,
    account: &Account,
    durability: Durability,
) -> Result<(), ClusterError> {
    let program = programs.program("initdb");
    let mut command = account.command(&program);
    command.arg("-D").arg(folder).args(["-U", ADMIN, "-E", "UTF8", "--data-checksums"]);
    command.args(["--auth-local=trust", "--auth-host=reject", "--locale=C"]);
    if cfg!(target_os = "linux") {
        // Sorts by bytes, yet knows the upper case of é; macOS has no such locale.
        command.arg("--lc-ctype=C.UTF-8");
    }
    if durability == Durability::ThrowAway {
        command.arg("--no-sync");
    }
    let output = tokio::process::Command::from(command).kill_on_drop(true).output();
    let Ok(ended) = timeout(INIT_LIMIT, output).await else {
        let (status, output) = (format!("not done in {} s", INIT_LIMIT.as_secs()), "stopped".to_owned());
        return Err(ClusterError::InitFailed { status, output });
    };
    let output = ended.map_err(|source| ClusterError::ProgramBroken { program, source })?;
    if output.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(ClusterError::InitFailed { status: output.status.to_string(), output: tail(&said) })
}
