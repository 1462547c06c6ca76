//! What can keep the private cluster from running, each with what to do about it.

use std::io;
use std::path::{Path, PathBuf};

use nix::unistd::geteuid;
use thiserror::Error;

use super::programs::majors;

/// Why the private PostgreSQL cluster could not be started, attached to or stopped.
/// The message names what was found and the remedy; the cause is in `source`, never repeated in it.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ClusterError {
    /// Neither `XDG_DATA_HOME` nor a home folder is known.
    #[error("this user has no home folder to keep books in: name a data folder")]
    NoHome,
    /// Root needs another user to run PostgreSQL as, and there is none.
    #[error(
        "PostgreSQL does not run as root, and there is no user `postgres` or `ledgerboard`: \
         useradd --system --user-group ledgerboard"
    )]
    NoAccount,
    /// PostgreSQL looks its own user up, and does not run as a bare number.
    #[error(
        "PostgreSQL would run as user {uid}, who is not in the list of users: run the service as a named user, such \
         as postgres, or add one (useradd --uid {uid} ledgerboard)"
    )]
    NamelessUser {
        /// The user's number.
        uid: u32,
    },
    /// The system's list of users could not be asked.
    #[error("cannot look up {user} in the list of users: repair /etc/nsswitch.conf and /etc/passwd")]
    UserLookup {
        /// Who was looked up.
        user: String,
        /// The system's answer.
        source: nix::Error,
    },
    /// A file or folder of the cluster could not be used.
    #[error("cannot {action} {}: check its permissions and the space left, or name another data folder", path.display())]
    Folder {
        /// What was tried: a verb.
        action: &'static str,
        /// On what.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// A folder is somebody else's.
    #[error(
        "{} belongs to user {owner}, but PostgreSQL would run as {account}: {}",
        folder.display(), change_owner(folder, owner, account)
    )]
    WrongOwner {
        /// The folder.
        folder: PathBuf,
        /// Its owner's name, or number.
        owner: String,
        /// The user PostgreSQL would run as.
        account: String,
    },
    /// Others may write in the folder or, for the folder of the socket, enter it.
    #[error("{} is open to other users (mode {mode:03o}): chmod 700 it", folder.display())]
    TooOpen {
        /// The folder.
        folder: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// A folder above the data folder is closed to the user PostgreSQL runs as.
    #[error(
        "user {account} may not pass through {}, a parent of the data folder: chmod o+x it, or name a data folder \
         elsewhere, such as /var/lib/ledgerboard", parent.display()
    )]
    ParentClosed {
        /// The topmost closed parent.
        parent: PathBuf,
        /// The user PostgreSQL would run as.
        account: String,
    },
    /// No `initdb` and `postgres` were found.
    #[error(
        "no PostgreSQL server programs (initdb, postgres) in {looked_in}: apt-get install postgresql (Debian, Ubuntu), \
         dnf install postgresql-server (Fedora) or brew install postgresql (macOS), or name their folder"
    )]
    ProgramsMissing {
        /// The folders searched, in order.
        looked_in: String,
    },
    /// A program was found but did not run, or did not tell its version.
    #[error("{} does not run or does not tell its version: install PostgreSQL anew, or name another folder", program.display())]
    ProgramBroken {
        /// The program.
        program: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// The books were made by a major version whose programs are not installed.
    #[error(
        "the books in {} were made by PostgreSQL {cluster}; installed here is {}: install the programs of \
         {cluster} beside it (Debian: apt-get install postgresql-{cluster}); to move to another version, run 'ledgerboard \
         backup --to FILE' with the programs of {cluster}, then 'ledgerboard restore --from FILE --data-dir NEW' with the \
         others", folder.display(), majors(installed)
    )]
    OtherMajor {
        /// The cluster's folder.
        folder: PathBuf,
        /// The major version that made it.
        cluster: u32,
        /// The major versions found on this machine.
        installed: Vec<u32>,
    },
    /// A folder by the cluster's name holds something else.
    #[error("{} holds files but no readable PG_VERSION, so it is no cluster: move it away, or restore it from a backup", folder.display())]
    NotACluster {
        /// The folder.
        folder: PathBuf,
    },
    /// `initdb` failed; what it made is removed.
    #[error("initdb could not make the cluster ({status}): {output}: mend that and start again")]
    InitFailed {
        /// How it ended.
        status: String,
        /// The end of what it said.
        output: String,
    },
    /// Another service has held the start-up lock all the while.
    #[error("another service has been starting these books for {seconds} s (it holds {}): wait for it, or stop it", lock.display())]
    Busy {
        /// The lock file.
        lock: PathBuf,
        /// How long was waited.
        seconds: u64,
    },
    /// The start was given up.
    #[error("told to stop before the private PostgreSQL was ready")]
    Interrupted,
    /// The postmaster ended instead of becoming ready.
    #[error("PostgreSQL did not start, {} says: {tail}: mend that and start again", log.display())]
    StartFailed {
        /// The server log.
        log: PathBuf,
        /// Its last lines.
        tail: String,
    },
    /// A living postmaster does not take connections.
    #[error("PostgreSQL (process {pid}) runs but took no connection for {seconds} s: read {}, wait, or stop it with kill -INT {pid}", log.display())]
    Unresponsive {
        /// The postmaster.
        pid: i32,
        /// How long was waited.
        seconds: u64,
        /// The server log.
        log: PathBuf,
    },
    /// Server processes of a dead postmaster still work on the cluster.
    #[error(
        "the postmaster of {} was killed and its server processes have not left for {seconds} s: end the remaining \
         `postgres` processes (kill -TERM, never -KILL) and start again", folder.display()
    )]
    OrphansRemain {
        /// The cluster's folder.
        folder: PathBuf,
        /// How long was waited.
        seconds: u64,
    },
    /// The server would lose recorded work in a crash.
    #[error(
        "PostgreSQL runs with {setting} = {value}, so a power cut may lose or damage the books: {remedy}"
    )]
    NotDurable {
        /// The setting.
        setting: String,
        /// Its value, as the server tells it.
        value: String,
        /// What to do: names file and line where known.
        remedy: String,
    },
    /// The server took the connection but not the question.
    #[error("PostgreSQL refuses its administrator `{admin}`: was pg_hba.conf changed, or the cluster made by other hands?", admin = super::ADMIN)]
    Refused {
        /// The server's answer.
        source: tokio_postgres::Error,
    },
    /// A data folder is to be deleted while a server runs on it.
    #[error("PostgreSQL (process {pid}) still runs on {}: stop the ledgerboard that uses it (Ctrl-C) and try again", folder.display())]
    StillServed {
        /// The data folder.
        folder: PathBuf,
        /// The postmaster.
        pid: i32,
    },
    /// The postmaster did not end after a fast shutdown was asked for.
    #[error(
        "PostgreSQL (process {pid}) was told to stop and has not for {seconds} s: wait, or kill -INT {pid} again; never kill -KILL"
    )]
    StillRunning {
        /// The postmaster.
        pid: i32,
        /// How long was waited.
        seconds: u64,
    },
}

/// Root hands a copy that it made to PostgreSQL's user; nobody else may.
fn change_owner(folder: &Path, owner: &str, account: &str) -> String {
    let folder = folder.display();
    if geteuid().is_root() {
        return format!(
            "if these are your books, such as a copy that root made, run chown -R {account}: {folder} and start \
             again; else name a new folder"
        );
    }
    format!("name a new folder, or run the service as {owner} if its books are meant")
}

impl ClusterError {
    /// Names `path` and what was tried on it, for an error of the file system.
    pub(super) fn folder(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self::Folder { action, path, source }
    }
}
