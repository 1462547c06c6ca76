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
//! | `cluster.lock` | held by the service that makes, starts or attaches |

mod account;
mod error;
mod folders;
mod initialise;
mod pidfile;
mod postmaster;
mod programs;

use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::task::JoinHandle;
use tokio_postgres::Config;

pub use account::default_data_dir;
pub use error::ClusterError;

use account::Account;
use folders::ServerLog;
use postmaster::{Launch, Postmaster};
use programs::Programs;

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

/// Whether the server is ours to stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tenure {
    /// This process started it.
    Started,
    /// It ran already, started by another service or left by one that was killed.
    Attached,
}

/// A running cluster. Dropped without [`stop`](Self::stop), a server this process started is told to stop
/// but not waited for.
#[derive(Debug)]
pub struct Cluster {
    postmaster: Option<Postmaster>,
    log_keeper: JoinHandle<()>,
    folder: PathBuf,
    socket_dir: PathBuf,
    programs: Programs,
}

impl Cluster {
    /// Makes the cluster if there is none, and starts it or attaches to it if it runs.
    /// Of several services that start at the same moment one does the work and the others attach.
    /// Root runs PostgreSQL as the data folder's owner, `postgres` or `ledgerboard`.
    /// # Errors
    /// [`ClusterError`] says what was found and what to do; a server that was started and refused is stopped again.
    pub async fn start(settings: &ClusterSettings) -> Result<Self, ClusterError> {
        let data_dir = std::path::absolute(&settings.data_dir)
            .map_err(ClusterError::folder("find", &settings.data_dir))?;
        let account = Account::for_data_dir(&data_dir)?;
        let data_dir = folders::prepare_data_dir(&data_dir, &account)?;
        let lock = folders::lock(&data_dir, &account).await?;
        let cluster = Self::start_locked(&data_dir, &account, settings).await;
        drop(lock);
        cluster
    }

    async fn start_locked(
        data_dir: &Path,
        account: &Account,
        settings: &ClusterSettings,
    ) -> Result<Self, ClusterError> {
        let durability = settings.durability;
        initialise::sweep_unfinished(data_dir)?;
        let existing = folders::find_cluster(data_dir)?;
        let wanted = existing.as_ref().map(|(folder, major)| (folder.as_path(), *major));
        let programs = Programs::find(settings.pg_bin.as_deref(), account, wanted)?;
        let folder = match existing {
            Some((folder, _)) => folder,
            None => initialise::initialise(data_dir, &programs, account, durability).await?,
        };
        let log = ServerLog::of(data_dir, account);
        let socket_dir = folders::prepare_socket_dir(data_dir, account)?;
        let launch = Launch {
            cluster: &folder,
            socket_dir: &socket_dir,
            programs: &programs,
            account,
            log: &log,
            durability,
        };
        let (postmaster, socket_dir) = launch.attach_or_start().await?;
        if durability == Durability::Full
            && let Err(error) = postmaster::assert_durable(&socket_dir).await
        {
            if let Some(postmaster) = postmaster
                && let Err(error) = postmaster.stop().await
            {
                tracing::warn!(%error, "a server that was refused goes on running");
            }
            return Err(error);
        }
        Ok(Self { postmaster, log_keeper: keep_log_short(log), folder, socket_dir, programs })
    }

    /// Whether the server is ours to stop.
    #[must_use]
    pub fn tenure(&self) -> Tenure {
        if self.postmaster.is_some() { Tenure::Started } else { Tenure::Attached }
    }

    /// The cluster's own folder, `postgres-<major>` in the data folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The folder of the fitting programs, among them `pg_dump` and `psql` on most machines.
    #[must_use]
    pub fn programs(&self) -> &Path {
        &self.programs.folder
    }

    /// How to connect as `user` to `database`.
    #[must_use]
    pub fn connection_config(&self, user: &str, database: &str) -> Config {
        connection_config(&self.socket_dir, user, database)
    }

    /// The same as a `postgres://` URL, which `psql` and `pg_dump` take too.
    #[must_use]
    pub fn url(&self, user: &str, database: &str) -> String {
        let socket_dir = percent_encoded(self.socket_dir.as_os_str().as_encoded_bytes());
        let [user, database] = [user, database].map(|name| percent_encoded(name.as_bytes()));
        format!("postgres://{user}@/{database}?host={socket_dir}&port=5432")
    }

    /// Stops the server if this process started it, ending all sessions; one it attached to is left running.
    /// # Errors
    /// [`ClusterError::StillRunning`] after a minute.
    pub async fn stop(mut self) -> Result<(), ClusterError> {
        match self.postmaster.take() {
            Some(postmaster) => postmaster.stop().await,
            None => Ok(()),
        }
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.log_keeper.abort();
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
