//! The server process: launched, waited for, asked whether it is durable, stopped.

use std::ffi::OsString;
use std::os::unix::ffi::{OsStrExt, OsStringExt};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::thread;
use std::time::Duration;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use tokio::time::{Instant, sleep, timeout};
use tokio_postgres::error::SqlState;
use tokio_postgres::{Client, Config, NoTls};

use super::account::Account;
use super::error::ClusterError;
use super::folders::{ServerLog, tail};
use super::pidfile::{PidFile, remove_socket};
use super::programs::Programs;
use super::{ADMIN, Durability, archive, connection_config};

/// How long a living postmaster may take until it accepts; replaying its log after a crash takes time.
const READY_LIMIT: Duration = Duration::from_secs(180);
/// How long a fast shutdown may take; it writes a checkpoint.
const STOP_LIMIT: Duration = Duration::from_secs(60);
/// How long the orphans of a killed postmaster may take to notice.
const ORPHANS_LIMIT: Duration = Duration::from_secs(60);
/// How long to wait before a server that was told to stop is told again.
const ASK_AGAIN: Duration = Duration::from_millis(500);
const STEP: Duration = Duration::from_millis(20);
const CONNECT_LIMIT: Duration = Duration::from_secs(5);

/// What the server says when it finds orphans; `LC_ALL=C` keeps it in English.
const ORPHANS_FOUND: &str = "pre-existing shared memory block";

/// What it says when another postmaster was quicker.
const RIVAL_FOUND: &str = "\"postmaster.pid\" already exists";

/// Settings on the command line, which override the files; fsync and its like are left out, so that a file
/// that turns them off is found out. Statements and row values are kept out of the log.
const SETTINGS: [&str; 18] = [
    "listen_addresses=",
    "port=5432",
    "unix_socket_permissions=0700",
    "max_connections=64",
    "shared_buffers=64MB",
    "max_logical_replication_workers=0",
    "max_parallel_workers_per_gather=0",
    "jit=off",
    "timezone=UTC",
    "cluster_name=ledgerboard",
    "log_destination=stderr",
    "logging_collector=off",
    "log_timezone=UTC",
    "log_line_prefix=%m [%p] ",
    "log_checkpoints=off",
    "log_error_verbosity=terse",
    "log_min_error_statement=panic",
    "lc_messages=C",
];

/// Commits still reach the kernel, so even a throw-away survives the kill of its processes.
const THROW_AWAY: [&str; 2] = ["fsync=off", "full_page_writes=off"];

/// A postmaster that this process started. Dropped, it runs on, and is waited for so that it leaves no zombie.
#[derive(Debug)]
pub(super) struct Postmaster {
    child: Option<Child>,
}

/// Where the cluster is, and all that launching its server takes.
#[derive(Debug)]
pub(super) struct Site {
    pub(super) data_dir: PathBuf,
    pub(super) cluster: PathBuf,
    pub(super) socket_dir: PathBuf,
    pub(super) programs: Programs,
    pub(super) account: Account,
    pub(super) log: ServerLog,
    pub(super) durability: Durability,
    pub(super) launch: Launch,
}

/// What is special about the way a server is started.
#[derive(Debug)]
pub(super) struct Launch {
    /// Settings that come after the usual ones and override them.
    pub(super) settings: Vec<String>,
    /// How long it may take until it accepts.
    pub(super) limit: Duration,
}

impl Launch {
    pub(super) const fn usual() -> Self {
        Self { settings: Vec::new(), limit: READY_LIMIT }
    }
}

impl Site {
    /// Attaches to the server if it runs, else starts it, into `started`; answers the folder of its socket.
    /// Call it under the lock.
    /// # Errors
    /// [`ClusterError::Unresponsive`], [`ClusterError::StartFailed`], [`ClusterError::OrphansRemain`].
    pub(super) async fn attach_or_start(
        &self,
        started: &mut Option<Postmaster>,
    ) -> Result<PathBuf, ClusterError> {
        *started = None;
        loop {
            if let Some(socket_dir) = self.find_running().await? {
                return Ok(socket_dir);
            }
            self.start(started).await?;
            if started.is_some() {
                return Ok(self.socket_dir.clone());
            }
        }
    }

    /// Whether a postmaster of this cluster lives, ready or not; its number.
    /// # Errors
    /// [`ClusterError::Folder`].
    pub(super) fn living(&self) -> Result<Option<i32>, ClusterError> {
        Ok(PidFile::read(&self.cluster)?.and_then(|file| file.living_postmaster(&self.cluster)))
    }

    /// Asks the server for a fast shutdown, which ends the sessions; whoever started it.
    pub(super) fn interrupt(&self) -> Result<(), ClusterError> {
        if let Some(pid) = self.living()?
            && let Err(error) = kill(Pid::from_raw(pid), Signal::SIGINT)
        {
            tracing::warn!(pid, %error, "cannot signal the postmaster");
        }
        Ok(())
    }

    /// The same, and waits for its end.
    /// # Errors
    /// [`ClusterError::StillRunning`] after a minute.
    pub(super) async fn stop(&self, started: &mut Option<Postmaster>) -> Result<(), ClusterError> {
        let begun = Instant::now();
        // One that was launched a moment ago has not written its file yet.
        let launched = match started.as_mut() {
            Some(postmaster) => !postmaster.has_ended()?,
            None => false,
        };
        let mut asked = None::<Instant>;
        loop {
            // More than once: a server that was launched a moment ago takes no signal yet, and where a script started the
            // service in the background it ignores this one until then.
            if asked.is_none_or(|at| at.elapsed() > ASK_AGAIN) {
                asked = Some(Instant::now());
                match started.as_ref() {
                    Some(postmaster) if launched => postmaster.interrupt(),
                    Some(_) | None => self.interrupt()?,
                }
            }
            let ended = match started.as_mut() {
                Some(postmaster) => postmaster.has_ended()?,
                None => true,
            };
            let living = self.living()?;
            match living {
                None if ended => return Ok(()),
                _ if begun.elapsed() > STOP_LIMIT => {
                    let pid = living.unwrap_or_default();
                    return Err(ClusterError::StillRunning { pid, seconds: STOP_LIMIT.as_secs() });
                }
                _ => sleep(STEP).await,
            }
        }
    }

    /// The socket folder of a living postmaster of this cluster, once it accepts; `None` if there is none.
    async fn find_running(&self) -> Result<Option<PathBuf>, ClusterError> {
        let begun = Instant::now();
        loop {
            let Some(file) = PidFile::read(&self.cluster)? else { return Ok(None) };
            let Some(pid) = file.living_postmaster(&self.cluster) else { return Ok(None) };
            if file.says_ready() && accepts(&file.socket_dir()).await? {
                return Ok(Some(file.socket_dir()));
            }
            if begun.elapsed() > self.launch.limit {
                return Err(self.unresponsive(pid));
            }
            sleep(STEP).await;
        }
    }

    fn unresponsive(&self, pid: i32) -> ClusterError {
        ClusterError::Unresponsive { pid, seconds: self.launch.limit.as_secs(), log: self.log.path.clone() }
    }

    /// Starts the server into `started` and waits until it accepts, and before that until a dead postmaster's orphans
    /// have left. `started` stays empty if a postmaster of the cluster has come to life meanwhile: one that a process
    /// launched just before it was killed.
    async fn start(&self, started: &mut Option<Postmaster>) -> Result<(), ClusterError> {
        self.log.keep_short()?;
        let begun = Instant::now();
        loop {
            if let Some(found) = PidFile::read(&self.cluster)? {
                if found.living_postmaster(&self.cluster).is_some() {
                    return Ok(());
                }
                found.disown(&self.cluster, &self.account)?;
            }
            remove_socket(&self.socket_dir)?;
            let (_, mark) = self.log.open()?;
            let postmaster = started.insert(self.spawn()?);
            if self.is_ready(postmaster).await? {
                return Ok(());
            }
            *started = None;
            let said = self.log.since(mark)?;
            if !said.contains(ORPHANS_FOUND) && !said.contains(RIVAL_FOUND) {
                return Err(ClusterError::StartFailed { log: self.log.path.clone(), tail: tail(&said) });
            }
            if begun.elapsed() > ORPHANS_LIMIT {
                let (folder, seconds) = (self.cluster.clone(), ORPHANS_LIMIT.as_secs());
                return Err(ClusterError::OrphansRemain { folder, seconds });
            }
            sleep(STEP * 10).await;
        }
    }

    fn spawn(&self) -> Result<Postmaster, ClusterError> {
        let program = self.programs.program("postgres");
        let (log, _) = self.log.open()?;
        let copy = log.try_clone().map_err(ClusterError::folder("open", &self.log.path))?;
        let mut command = self.account.command(&program);
        command.arg("-D").arg(&self.cluster).arg("-c").arg(socket_setting(&self.socket_dir));
        let throw_away = THROW_AWAY.iter().filter(|_| self.durability == Durability::ThrowAway);
        for setting in SETTINGS.iter().chain(throw_away) {
            command.args(["-c", setting]);
        }
        // Of a setting that is given twice, the last one counts.
        for setting in archive::settings_of(&self.data_dir)?.iter().chain(&self.launch.settings) {
            command.args(["-c", setting]);
        }
        // A process group of its own: Ctrl-C is for the service. The server may outlive the process that started it,
        // while others use it; no lock goes along, since every file of ours is closed when another program is run.
        command.process_group(0).stdout(copy).stderr(log);
        let child = command.spawn().map_err(|source| ClusterError::ProgramBroken { program, source })?;
        Ok(Postmaster { child: Some(child) })
    }

    /// Waits until the server accepts; false if it ended instead.
    async fn is_ready(&self, postmaster: &mut Postmaster) -> Result<bool, ClusterError> {
        let begun = Instant::now();
        let pid = postmaster.pid();
        loop {
            if postmaster.has_ended()? {
                return Ok(false);
            }
            let file = PidFile::read(&self.cluster)?.filter(|file| pid.is_some() && file.pid() == pid);
            if file.is_some_and(|file| file.says_ready()) && accepts(&self.socket_dir).await? {
                return Ok(true);
            }
            if begun.elapsed() > self.launch.limit {
                return Err(self.unresponsive(pid.unwrap_or_default()));
            }
            sleep(STEP).await;
        }
    }
}

/// The setting is a list: a folder is quoted, so that commas in it do not part it.
fn socket_setting(socket_dir: &Path) -> OsString {
    let mut setting = b"unix_socket_directories=\"".to_vec();
    for byte in socket_dir.as_os_str().as_bytes() {
        setting.push(*byte);
        if *byte == b'"' {
            setting.push(b'"');
        }
    }
    setting.push(b'"');
    OsString::from_vec(setting)
}

impl Postmaster {
    fn pid(&self) -> Option<i32> {
        self.child.as_ref().and_then(|child| i32::try_from(child.id()).ok())
    }

    pub(super) fn has_ended(&mut self) -> Result<bool, ClusterError> {
        let Some(child) = self.child.as_mut() else { return Ok(true) };
        let ended = child.try_wait().map_err(ClusterError::folder("wait for", Path::new("postgres")))?;
        if ended.is_some() {
            self.child = None;
        }
        Ok(ended.is_some())
    }

    /// Signals a child that was not waited for yet, so its number cannot be another process's.
    pub(super) fn interrupt(&self) {
        if let Some(pid) = self.pid()
            && let Err(error) = kill(Pid::from_raw(pid), Signal::SIGINT)
        {
            tracing::warn!(pid, %error, "cannot signal the postmaster");
        }
    }
}

impl Drop for Postmaster {
    fn drop(&mut self) {
        if matches!(self.has_ended(), Ok(true)) {
            return;
        }
        if let Some(mut child) = self.child.take() {
            let reap = thread::Builder::new().name("postmaster".to_owned()).spawn(move || child.wait());
            if let Err(error) = reap {
                tracing::warn!(%error, "cannot wait for the postmaster");
            }
        }
    }
}

/// Connects as the administrator; the connection is driven by a task and ends with the client.
pub(super) async fn connect(socket_dir: &Path) -> Result<Client, tokio_postgres::Error> {
    let config: Config = connection_config(socket_dir, ADMIN, "postgres");
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}

/// Whether the server takes connections; a server that is starting or stopping does not, yet.
async fn accepts(socket_dir: &Path) -> Result<bool, ClusterError> {
    match timeout(CONNECT_LIMIT, connect(socket_dir)).await {
        Ok(Ok(_)) => Ok(true),
        Ok(Err(source)) if is_final(&source) => Err(ClusterError::Refused { source }),
        Ok(Err(_)) | Err(_) => Ok(false),
    }
}

/// Waiting does not help: the administrator or its database is unknown or kept out.
fn is_final(error: &tokio_postgres::Error) -> bool {
    error.code().is_some_and(|code| {
        code == &SqlState::INVALID_CATALOG_NAME
            || code == &SqlState::INVALID_PASSWORD
            || code == &SqlState::INVALID_AUTHORIZATION_SPECIFICATION
    })
}

/// Asks the server itself whether what it confirms will survive a power cut.
/// # Errors
/// [`ClusterError::NotDurable`], naming the file and line that say otherwise.
pub(super) async fn assert_durable(socket_dir: &Path) -> Result<(), ClusterError> {
    const QUESTION: &str = "select name, setting, source, sourcefile, sourceline from pg_settings \
        where name in ('fsync', 'full_page_writes', 'synchronous_commit') and setting = 'off' order by name";
    let refused = |source| ClusterError::Refused { source };
    let client = connect(socket_dir).await.map_err(refused)?;
    let Some(row) = client.query_opt(&format!("{QUESTION} limit 1"), &[]).await.map_err(refused)? else {
        return Ok(());
    };
    let setting: String = row.try_get(0).map_err(refused)?;
    let value = row.try_get(1).map_err(refused)?;
    let source: String = row.try_get(2).map_err(refused)?;
    let file: Option<String> = row.try_get(3).map_err(refused)?;
    let line: Option<i32> = row.try_get(4).map_err(refused)?;
    let remedy = match (file, line) {
        (Some(file), Some(line)) => format!("remove line {line} of {file}, stop PostgreSQL and start again"),
        _ if source == "command line" => {
            "stop that PostgreSQL, which was started as a throw-away, and start again".to_owned()
        }
        _ => format!("set {setting} back to on (it comes from: {source}), stop PostgreSQL and start again"),
    };
    Err(ClusterError::NotDurable { setting, value, remedy })
}
