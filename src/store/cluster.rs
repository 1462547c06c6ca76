//! The private PostgreSQL cluster that the service runs when no `DATABASE_URL` is given.
//!
//! It is made once, from the PostgreSQL programs installed on the machine, and listens on a Unix socket only.
//! In the data folder, which belongs to the user PostgreSQL runs as and is closed to others:
//!
//! | name | what |
//! |---|---|
//! | `postgres-15/` | the cluster, named after the major version that made it |
//! | `postgres-15.new-…/` | an `initdb` under way; swept at the next start if it was killed |
//! | `run/` | the socket; elsewhere if its path would be too long |
//! | `postgres.log`, `postgres.log.1` | the server's log, at most 4 MiB each plus an hour's lines |
//! | `archive` | names the folder that the log is archived in; missing while that is off |
//! | `cluster.lock` | held by the process that makes, starts, attaches or leaves |
//! | `cluster.users` | held, together with others, by every process that uses the server |

mod account;
mod archive;
mod disk;
mod error;
mod folders;
mod initialise;
mod pidfile;
mod postmaster;
mod programs;
mod removal;
mod stay;
mod supervisor;
mod users;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Mutex, watch};
use tokio::task::JoinHandle;
use tokio_postgres::Config;

pub use account::default_data_dir;
pub use archive::{ArchiveError, Archiving, BaseBackup, Reached, Recovered, Until, recover};
pub use disk::DiskSpace;
pub use error::ClusterError;
pub use removal::{holds_books, remove};
pub use supervisor::{ServerState, Supervised};

use account::Account;
use folders::ServerLog;
use postmaster::{Launch, Site};
use programs::Programs;
use stay::Stay;

/// The superuser of the cluster.
pub const ADMIN: &str = "ledgerboard_admin";

const LOG_LOOK: Duration = Duration::from_secs(3600);

/// Where the cluster is and how it is run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClusterSettings {
    /// The folder all of it is kept in; made if missing. See [`default_data_dir`].
    pub data_dir: PathBuf,
    /// A folder with `initdb` and `postgres` to prefer to those found on the machine.
    pub pg_bin: Option<PathBuf>,
    /// Whether what is confirmed must survive a power cut.
    pub durability: Durability,
}

/// Whether what is confirmed must survive a power cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Durability {
    /// Yes: books. A server that is set up otherwise is refused.
    Full,
    /// No: a cluster for tests, which is faster without.
    ThrowAway,
}

/// How this process came to the server. Whoever leaves last stops it, no matter who started it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tenure {
    /// This process started it.
    Started,
    /// It ran already, started by another process.
    Attached,
}

/// A running cluster. Dropped without [`stop`](Self::stop), the last user tells the server to stop but does not wait
/// for it.
#[derive(Debug)]
pub struct Cluster {
    stay: Arc<Mutex<Stay>>,
    site: Arc<Site>,
    tenure: Tenure,
    log_keeper: JoinHandle<()>,
    supervisor: Option<JoinHandle<()>>,
}

impl Cluster {
    /// Makes the cluster if there is none, and starts it or attaches to it if it runs.
    /// Of several services that start at the same moment one does the work and the others attach.
    /// Root runs PostgreSQL as the data folder's owner, `postgres` or `ledgerboard`.
    /// # Errors
    /// [`ClusterError`] says what was found and what to do; a server that was started and refused is stopped again.
    pub async fn start(settings: &ClusterSettings) -> Result<Self, ClusterError> {
        Self::start_unless(settings, std::future::pending()).await
    }

    /// The same, given up as soon as `told` is done: what was started by then is stopped, and waited for.
    /// # Errors
    /// As [`start`](Self::start), and [`ClusterError::Interrupted`].
    pub async fn start_unless(
        settings: &ClusterSettings,
        told: impl Future<Output = ()>,
    ) -> Result<Self, ClusterError> {
        let mut told = std::pin::pin!(told);
        let data_dir = std::path::absolute(&settings.data_dir)
            .map_err(ClusterError::folder("find", &settings.data_dir))?;
        let account = Account::for_data_dir(&data_dir)?;
        let data_dir = folders::prepare_data_dir(&data_dir, &account)?;
        let prepared = async {
            let lock = folders::lock(&data_dir, &account, folders::LOCK_LIMIT).await?;
            let site = Self::prepare_site(&data_dir, &account, settings).await?;
            Stay::begin(site, lock)
        };
        let mut stay = tokio::select! {
            stay = prepared => stay?,
            () = &mut told => return Err(ClusterError::Interrupted),
        };
        let brought_up = tokio::select! {
            up = stay.bring_up() => up,
            () = &mut told => Err(ClusterError::Interrupted),
        };
        match brought_up {
            Ok(tenure) => {
                stay.unlock();
                let site = stay.site();
                let log_keeper = keep_log_short(site.log.clone());
                site.warn_of_a_nearly_full_disk();
                Ok(Self { stay: Arc::new(Mutex::new(stay)), site, tenure, log_keeper, supervisor: None })
            }
            // It may be replaying a long log, so it is given its time; the next start waits for it again.
            Err(error @ ClusterError::Unresponsive { .. }) => {
                stay.leaves_it_running();
                Err(error)
            }
            Err(error) => {
                if let Err(error) = stay.leave().await {
                    tracing::warn!(%error, "PostgreSQL was started, refused, and does not stop");
                }
                Err(error)
            }
        }
    }

    async fn prepare_site(
        data_dir: &Path,
        account: &Account,
        settings: &ClusterSettings,
    ) -> Result<Site, ClusterError> {
        let durability = settings.durability;
        initialise::sweep_unfinished(data_dir)?;
        let existing = folders::find_cluster(data_dir)?;
        let wanted = existing.as_ref().map(|(folder, major)| (folder.as_path(), *major));
        let programs = Programs::find(settings.pg_bin.as_deref(), account, wanted)?;
        let cluster = match existing {
            Some((folder, _)) => {
                folders::refuse_wrong_owner(&folder, account)?;
                folder
            }
            None => initialise::initialise(data_dir, &programs, account, durability).await?,
        };
        let log = ServerLog::of(data_dir, account);
        let socket_dir = folders::prepare_socket_dir(data_dir, account)?;
        let (data_dir, account) = (data_dir.to_path_buf(), account.clone());
        let launch = Launch::usual();
        Ok(Site { data_dir, cluster, socket_dir, programs, account, log, durability, launch })
    }

    /// Whether this process started the server.
    #[must_use]
    pub const fn tenure(&self) -> Tenure {
        self.tenure
    }

    /// The cluster's own folder, `postgres-<major>` in the data folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.site.cluster
    }

    /// The folder of the fitting programs, among them `pg_dump` and `psql` on most machines.
    #[must_use]
    pub fn programs(&self) -> &Path {
        &self.site.programs.folder
    }

    /// How to connect as `user` to `database`.
    #[must_use]
    pub fn connection_config(&self, user: &str, database: &str) -> Config {
        connection_config(&self.site.socket_dir, user, database)
    }

    /// The same as a `postgres://` URL, which `psql` and `pg_dump` take too.
    #[must_use]
    pub fn url(&self, user: &str, database: &str) -> String {
        let socket_dir = percent_encoded(self.site.socket_dir.as_os_str().as_encoded_bytes());
        let [user, database] = [user, database].map(|name| percent_encoded(name.as_bytes()));
        format!("postgres://{user}@/{database}?host={socket_dir}&port=5432")
    }

    /// Starts the server again whenever it ends from now on, and reports how it stands. It is given up after `limit`
    /// without a start that succeeds; at once where `limit` is zero.
    pub fn supervise(&mut self, limit: Duration) -> Supervised {
        let (sender, state) = watch::channel(ServerState::Running { restarts: 0 });
        let task = supervisor::supervise(Arc::clone(&self.stay), limit, sender);
        if let Some(before) = self.supervisor.replace(tokio::spawn(task)) {
            before.abort();
        }
        Supervised::of(state, self.site.cluster.clone())
    }

    /// Leaves the cluster. The last user stops the server, whoever started it; others leave it running.
    /// # Errors
    /// [`ClusterError::StillRunning`] after a minute.
    pub async fn stop(mut self) -> Result<(), ClusterError> {
        if let Some(supervisor) = self.supervisor.take() {
            supervisor.abort();
            // Aborted or at its end: either way it starts nothing any more.
            let _ended = supervisor.await;
        }
        self.stay.lock().await.leave().await
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.log_keeper.abort();
        if let Some(supervisor) = &self.supervisor {
            supervisor.abort();
        }
    }
}

fn keep_log_short(log: ServerLog) -> JoinHandle<()> {
    tokio::spawn(async move {
        loop {
            tokio::time::sleep(LOG_LOOK).await;
            if let Err(error) = log.keep_short() {
                tracing::warn!(%error, "the server's log grows");
            }
        }
    })
}

fn connection_config(socket_dir: &Path, user: &str, database: &str) -> Config {
    let mut config = Config::new();
    config.host_path(socket_dir).port(5432).user(user).dbname(database);
    config
}

fn percent_encoded(bytes: &[u8]) -> String {
    let mut encoded = String::with_capacity(bytes.len());
    for byte in bytes {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                encoded.push(char::from(*byte));
            }
            _ => encoded.push_str(&format!("%{byte:02X}")),
        }
    }
    encoded
}
