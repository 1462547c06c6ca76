//! From settings to an open database: a server that is named, or the private one.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::stop::{Interrupted, Stop};
use crate::api::saying::remark;
use crate::store::backup::{self, BackupError, Destination, Taken};
use crate::store::cluster::{
    ADMIN, ArchiveError, Cluster, ClusterError, ClusterSettings, Durability, Recovered, Supervised, Until,
    default_data_dir, recover,
};
use crate::store::connect::{CONNECTIONS, CheckDurability, Database, DatabaseSettings};
use crate::store::error::StoreError;
use crate::store::versions::{self, Standing};

/// Where the books are kept.
#[derive(Clone, Debug, Default)]
pub struct Whereabouts {
    /// A PostgreSQL server of the person's own; the private one where it is left out.
    pub database_url: Option<String>,
    /// The owner's log-in on that server, where the first is the service's own.
    pub owner_url: Option<String>,
    pub data_dir: Option<PathBuf>,
    pub pg_bin: Option<PathBuf>,
    /// The most connections of the pool; [`CONNECTIONS`] where it is left out.
    pub connections: Option<usize>,
    /// Where the backup before an upgrade is written; `backups` in the data folder where it is left out.
    pub backup_dir: Option<PathBuf>,
}

impl Whereabouts {
    fn data_dir(&self) -> Result<PathBuf, ClusterError> {
        self.data_dir.clone().map_or_else(default_data_dir, Ok)
    }

    fn backup_dir(&self) -> Result<PathBuf, ClusterError> {
        match &self.backup_dir {
            Some(folder) => Ok(folder.clone()),
            None => Ok(self.data_dir()?.join("backups")),
        }
    }
}

/// What can go wrong before the first request.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    #[error(transparent)]
    Cluster(#[from] ClusterError),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(
        "the owner's address is given without the service's; set DATABASE_URL too, or unset LEDGERBOARD_OWNER_URL"
    )]
    OwnerAlone,
    #[error("the private server takes up to {most} connections of one service; lower --connections")]
    TooManyConnections { most: usize },
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
    #[error(transparent)]
    Archive(#[from] ArchiveError),
    #[error(
        "point-in-time recovery is for the private PostgreSQL; leave DATABASE_URL out, or recover that server with its own \
         means"
    )]
    NotPrivate,
    #[error(
        "the books were not migrated, because the backup before it failed; name a folder for it with --backup-dir, or \
         make room"
    )]
    NotBackedUp(#[source] BackupError),
    #[error("the private server has no database {name}, and it could not be made: {source}")]
    NoDatabase { name: &'static str, source: tokio_postgres::Error },
}

/// An open database, and the private server behind it if there is one.
pub struct Opened {
    pub database: Database,
    /// The owner's log-in on it; it may hold a password.
    pub owner_url: String,
    pub cluster: Option<Cluster>,
}

impl Opened {
    /// Starts the private server again whenever it ends, and reports how it stands; none where another server is named.
    pub fn supervise(&mut self, limit: Duration) -> Option<Supervised> {
        let state = self.cluster.as_mut()?.supervise(limit);
        self.database = self.database.clone().served_by(state.clone());
        Some(state)
    }

    /// Leaves the private server, and stops it if nobody else uses it.
    /// # Errors
    /// It does not stop in time.
    pub async fn close(self) -> Result<(), ClusterError> {
        drop(self.database);
        match self.cluster {
            Some(cluster) => cluster.stop().await,
            None => Ok(()),
        }
    }
}

const DATABASE: &str = "ledgerboard";

/// The private server takes 64 connections, and other commands need some of them.
const MOST_ON_PRIVATE: usize = 48;

/// A server with the books' database on it, as it was found: nothing is migrated or checked yet.
pub struct Reached {
    pub settings: DatabaseSettings,
    pub cluster: Option<Cluster>,
}

impl Reached {
    /// Leaves the private server, and stops it if nobody else uses it.
    /// # Errors
    /// It does not stop in time.
    pub async fn close(self) -> Result<(), ClusterError> {
        match self.cluster {
            Some(cluster) => cluster.stop().await,
            None => Ok(()),
        }
    }
}

/// Finds the server, starting the private one where none is named, and makes its database if it is missing. Given up when
/// the program is told to stop; nothing is left running then.
/// # Errors
/// [`SetupError`], each with what to do.
pub async fn reach(whereabouts: &Whereabouts, stop: &Stop) -> Result<Reached, SetupError> {
    let connections = whereabouts.connections.unwrap_or(CONNECTIONS);
    if let Some(url) = &whereabouts.database_url {
        let mut settings = DatabaseSettings { connections, ..DatabaseSettings::of_one_url(url) };
        if let Some(owner_url) = &whereabouts.owner_url {
            settings.owner_url.clone_from(owner_url);
            settings.service_url.clone_from(url);
        }
        return Ok(Reached { settings, cluster: None });
    }
    if whereabouts.owner_url.is_some() {
        return Err(SetupError::OwnerAlone);
    }
    if connections > MOST_ON_PRIVATE {
        return Err(SetupError::TooManyConnections { most: MOST_ON_PRIVATE });
    }
    let data_dir = whereabouts.data_dir()?;
    let settings =
        ClusterSettings { data_dir, pg_bin: whereabouts.pg_bin.clone(), durability: Durability::Full };
    let cluster = match Cluster::start_unless(&settings, stop.told()).await {
        Err(ClusterError::Interrupted) => return Err(Interrupted.into()),
        started => started?,
    };
    let settings = DatabaseSettings {
        owner_url: cluster.url(ADMIN, DATABASE),
        service_url: cluster.url("ledgerboard_service", DATABASE),
        connections,
        durability: CheckDurability::Insist,
    };
    let made = stop.unless_told(make_database(&cluster)).await.map_err(SetupError::from).flatten();
    let reached = Reached { settings, cluster: Some(cluster) };
    match made {
        Ok(()) => Ok(reached),
        Err(error) => Err(leave(reached, error).await),
    }
}

/// Makes a new private cluster, with the books of an archive as they were at that moment; nothing is migrated or checked
/// yet.
/// # Errors
/// [`SetupError`]; the data folder then holds no cluster.
pub async fn recovered(
    whereabouts: &Whereabouts,
    archive: &Path,
    until: Until,
    stop: &Stop,
) -> Result<Recovered, SetupError> {
    if whereabouts.database_url.is_some() {
        return Err(SetupError::NotPrivate);
    }
    let (data_dir, pg_bin) = (whereabouts.data_dir()?, whereabouts.pg_bin.clone());
    let settings = ClusterSettings { data_dir, pg_bin, durability: Durability::Full };
    match recover(&settings, archive, until, stop.told()).await {
        Err(ArchiveError::Cluster(ClusterError::Interrupted)) => Err(Interrupted.into()),
        ended => Ok(ended?),
    }
}

/// Opens the books' database. Books of an older version are backed up, then migrated. Given up when the program is told to
/// stop; nothing is left running then.
/// # Errors
/// [`SetupError`], each with what to do.
pub async fn open(whereabouts: &Whereabouts, stop: &Stop) -> Result<Opened, SetupError> {
    let reached = reach(whereabouts, stop).await?;
    let migrated = stop.unless_told(migrated(&reached.settings, whereabouts)).await;
    match migrated.map_err(SetupError::from).flatten() {
        Ok(database) => {
            let Reached { settings, cluster } = reached;
            Ok(Opened { database, owner_url: settings.owner_url, cluster })
        }
        Err(error) => Err(leave(reached, error).await),
    }
}

/// Leaves a server that could not be opened; the reason for that matters more than a failure to leave.
async fn leave(reached: Reached, reason: SetupError) -> SetupError {
    if let Err(error) = reached.close().await {
        tracing::warn!(%error, "the private PostgreSQL goes on running");
    }
    reason
}

async fn migrated(settings: &DatabaseSettings, whereabouts: &Whereabouts) -> Result<Database, SetupError> {
    versions::refuse_unverified(&settings.owner_url).await?;
    let taken = back_up_before_migrating(settings, whereabouts).await?;
    let database = Database::open(settings).await?;
    if let Some(taken) = taken
        && let Err(error) = backup::note(&settings.owner_url, &taken).await
    {
        tracing::warn!(%error, "the backup before the upgrade is not in the list of backups");
    }
    Ok(database)
}

/// An upgrade that goes wrong must not be the end of the books.
async fn back_up_before_migrating(
    settings: &DatabaseSettings,
    whereabouts: &Whereabouts,
) -> Result<Option<Taken>, SetupError> {
    let Standing::Older { has } = versions::standing(&settings.owner_url).await? else { return Ok(None) };
    let destination = Destination::Folder(whereabouts.backup_dir()?);
    let taken = backup::take(&settings.owner_url, &destination, &[], &|_| ()).await;
    let taken = taken.map_err(SetupError::NotBackedUp)?;
    remark(format_args!(
        "ledgerboard: these books are of an older version (migration {has}); they are backed up in {} before they \
         are migrated",
        taken.path.display()
    ));
    Ok(Some(taken))
}

async fn make_database(cluster: &Cluster) -> Result<(), SetupError> {
    let failed = |source| SetupError::NoDatabase { name: DATABASE, source };
    let config = cluster.connection_config(ADMIN, "postgres");
    let (client, connection) = config.connect(tokio_postgres::NoTls).await.map_err(failed)?;
    let driver = tokio::spawn(connection);
    let there =
        client.query("SELECT FROM pg_database WHERE datname = $1", &[&DATABASE]).await.map_err(failed)?;
    if there.is_empty() {
        let made =
            client.batch_execute("CREATE DATABASE ledgerboard TEMPLATE template0 ENCODING 'UTF8'").await;
        // Two services starting at once both find it missing; the second is content with the first's.
        if let Err(error) = made
            && error.code() != Some(&tokio_postgres::error::SqlState::DUPLICATE_DATABASE)
            && error.code() != Some(&tokio_postgres::error::SqlState::UNIQUE_VIOLATION)
        {
            return Err(failed(error));
        }
    }
    drop(client);
    driver.abort();
    Ok(())
}
