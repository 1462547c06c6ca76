//! `postmaster.pid`: which process serves a cluster, and whether it still lives.

use std::ffi::OsStr;
use std::fs;
use std::io::{self, Write};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::account::Account;
use super::error::ClusterError;
use super::folders::{SOCKET_NAME, open_private};

const PID_FILE: &str = "postmaster.pid";

/// The lines of `postmaster.pid`: process, folder, start, port, socket folder, address, memory key, state.
#[derive(Debug)]
pub(super) struct PidFile {
    lines: Vec<Vec<u8>>,
}

impl PidFile {
    /// `None` if there is none: the server was stopped properly, or never ran.
    pub(super) fn read(cluster: &Path) -> Result<Option<Self>, ClusterError> {
        let path = cluster.join(PID_FILE);
        match fs::read(&path) {
            Ok(bytes) => {
                Ok(Some(Self { lines: bytes.split(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect() }))
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(ClusterError::folder("read", &path)(error)),
        }
    }

    fn line(&self, number: usize) -> &[u8] {
        self.lines.get(number.saturating_sub(1)).map_or(&[], |line| line.trim_ascii())
    }

    /// The process; PostgreSQL writes it negative for a single-user session.
    pub(super) fn pid(&self) -> Option<i32> {
        std::str::from_utf8(self.line(1)).ok()?.parse::<i32>().ok()?.checked_abs()
    }

    pub(super) fn socket_dir(&self) -> PathBuf {
        PathBuf::from(OsStr::from_bytes(self.line(5)))
    }

    pub(super) fn says_ready(&self) -> bool {
        self.line(8) == b"ready"
    }

    /// The process, if it lives and is a server of the cluster in this folder: not a zombie, not another
    /// program that was given the number since, not the server of the folder this one was copied from.
    pub(super) fn living_postmaster(&self, cluster: &Path) -> Option<i32> {
        let pid = self.pid()?;
        let (state, program) =
            if Path::new("/proc/self/stat").exists() { told_by_proc(pid)? } else { told_by_ps(pid)? };
        let server = program.ends_with("postgres") || program.ends_with("postmaster");
        (server && !state.starts_with(['Z', 'X']) && self.serves(pid, cluster)).then_some(pid)
    }

    /// A postmaster works in its cluster's folder; where that cannot be seen, the file's own word counts.
    fn serves(&self, pid: i32, cluster: &Path) -> bool {
        match (fs::metadata(format!("/proc/{pid}/cwd")), fs::metadata(cluster)) {
            (Ok(works_in), Ok(cluster)) => (works_in.dev(), works_in.ino()) == (cluster.dev(), cluster.ino()),
            _ => self.line(2) == cluster.as_os_str().as_bytes(),
        }
    }

    /// Puts our own process in the place of a dead one. PostgreSQL takes its parent's number for stale
    /// and still asks the memory key in the file whether orphans of the dead one are at work; it would not
    /// if the file were removed, and would not start if the number now belonged to a zombie or to a stranger.
    pub(super) fn disown(&self, cluster: &Path, account: &Account) -> Result<(), ClusterError> {
        let path = cluster.join(PID_FILE);
        let replacement = cluster.join("postmaster.pid.stale");
        let own = std::process::id().to_string().into_bytes();
        let lines: Vec<Vec<u8>> = std::iter::once(own).chain(self.lines.iter().skip(1).cloned()).collect();
        let mut file = open_private(&replacement, account)?;
        file.set_len(0)
            .and_then(|()| file.write_all(&lines.join(&b'\n')))
            .and_then(|()| fs::rename(&replacement, &path))
            .map_err(ClusterError::folder("replace", &path))
    }
}

/// Removes the socket of a dead postmaster; its lock file would stop a new one if the number is in use again.
pub(super) fn remove_socket(socket_dir: &Path) -> Result<(), ClusterError> {
    for name in [SOCKET_NAME.to_owned(), format!("{SOCKET_NAME}.lock")] {
        let path = socket_dir.join(name);
        match fs::remove_file(&path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                return Err(ClusterError::folder("remove", &path)(error));
            }
            Ok(()) | Err(_) => {}
        }
    }
    Ok(())
}

/// State and program from `/proc/<pid>/stat`, which reads `4711 (postgres) S 1 …`.
fn told_by_proc(pid: i32) -> Option<(String, String)> {
    let stat = fs::read(format!("/proc/{pid}/stat")).ok()?;
    let stat = String::from_utf8_lossy(&stat);
    let (before, state) = stat.rsplit_once(')')?;
    let (_, program) = before.split_once('(')?;
    Some((state.trim().to_owned(), program.to_owned()))
}

/// State and program from `ps`, where there is no `/proc`.
fn told_by_ps(pid: i32) -> Option<(String, String)> {
    let told =
        Command::new("/bin/ps").args(["-o", "stat=", "-o", "comm=", "-p", &pid.to_string()]).output().ok()?;
    let line = String::from_utf8_lossy(&told.stdout).trim().to_owned();
    let (state, program) = line.split_once(' ')?;
    Some((state.to_owned(), program.trim().to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ps_and_proc_tell_the_same_of_a_living_process_and_nothing_of_a_missing_one() {
        let own = i32::try_from(std::process::id()).unwrap();
        if Path::new("/proc/self/stat").exists() && Path::new("/bin/ps").exists() {
            assert_eq!(told_by_ps(own).unwrap().1, told_by_proc(own).unwrap().1);
        }
        assert_eq!(told_by_proc(i32::MAX), None);
        assert_eq!(told_by_ps(i32::MAX), None);
    }
}
