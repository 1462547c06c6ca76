//! From settings to an open database: a server that is named, or the private one.

use std::path::PathBuf;
use std::time::Duration;

use super::stop::{Interrupted, Stop};
use crate::store::cluster::{
    ADMIN, Cluster, ClusterError, ClusterSettings, Durability, Supervised, default_data_dir,
};
use crate::store::connect::{CONNECTIONS, CheckDurability, Database, DatabaseSettings};
use crate::store::error::StoreError;

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
    #[error("the private server has no database {name}, and it could not be made: {source}")]
    NoDatabase { name: &'static str, source: tokio_postgres::Error },
}

/// An open database, and the private server behind it if there is one.
pub struct Opened {
    pub database: Database,
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

/// Opens the books' database, starting the private server where none is named. Given up when the program is told to
/// stop; nothing is left running then.
/// # Errors
/// [`SetupError`], each with what to do.
pub async fn open(whereabouts: &Whereabouts, stop: &Stop) -> Result<Opened, SetupError> {
    let connections = whereabouts.connections.unwrap_or(CONNECTIONS);
    if let Some(url) = &whereabouts.database_url {
        let mut settings = DatabaseSettings { connections, ..DatabaseSettings::of_one_url(url) };
        if let Some(owner_url) = &whereabouts.owner_url {
            settings.owner_url.clone_from(owner_url);
            settings.service_url.clone_from(url);
        }
        let database = stop.unless_told(Database::open(&settings)).await??;
        return Ok(Opened { database, cluster: None });
    }
    if whereabouts.owner_url.is_some() {
        return Err(SetupError::OwnerAlone);
    }
    if connections > MOST_ON_PRIVATE {
        return Err(SetupError::TooManyConnections { most: MOST_ON_PRIVATE });
    }
    let data_dir = match &whereabouts.data_dir {
        Some(folder) => folder.clone(),
        None => default_data_dir()?,
    };
    let settings =
        ClusterSettings { data_dir, pg_bin: whereabouts.pg_bin.clone(), durability: Durability::Full };
    let cluster = match Cluster::start_unless(&settings, stop.told()).await {
        Err(ClusterError::Interrupted) => return Err(Interrupted.into()),
        started => started?,
    };
    let opened = match stop.unless_told(open_private(&cluster, connections)).await {
        Ok(opened) => opened,
        Err(interrupted) => Err(interrupted.into()),
    };
    match opened {
        Ok(database) => Ok(Opened { database, cluster: Some(cluster) }),
        Err(error) => {
            if let Err(error) = cluster.stop().await {
                tracing::warn!(%error, "the private PostgreSQL goes on running");
            }
            Err(error)
        }
    }
}

async fn open_private(cluster: &Cluster, connections: usize) -> Result<Database, SetupError> {
    make_database(cluster).await?;
    let settings = DatabaseSettings {
        owner_url: cluster.url(ADMIN, DATABASE),
        service_url: cluster.url("ledgerboard_service", DATABASE),
        connections,
        durability: CheckDurability::Insist,
    };
    Ok(Database::open(&settings).await?)
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
