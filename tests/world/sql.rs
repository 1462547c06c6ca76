//! SQL of tests, past the public door.

use std::path::Path;
use std::sync::atomic::Ordering;

use ledgerboard::store::backup::{self, Destination, Recipient, Taken};

use super::{ADMIN, World, run_sql, shared};

/// A new database of the shared server without any table. Its owner is a superuser or, where named, a new role that may
/// only make roles. Returns the owner's log-in.
pub fn an_empty_database(name: &str, owner: Option<&str>) -> String {
    let shared = shared();
    shared.runtime.block_on(async {
        if let Some(owner) = owner {
            let made = format!("CREATE ROLE {owner} LOGIN NOSUPERUSER CREATEROLE");
            run_sql(&shared.cluster, "postgres", &made).await;
        }
        let owner = owner.unwrap_or(ADMIN);
        let made = format!("CREATE DATABASE {name} OWNER {owner} TEMPLATE template0 ENCODING 'UTF8'");
        run_sql(&shared.cluster, "postgres", &made).await;
        shared.cluster.url(owner, name)
    })
}

impl World {
    /// Runs SQL past every fence, for faults that no door allows and for what the database must refuse.
    pub fn try_as_superuser(&self, text: &str) -> Result<(), tokio_postgres::Error> {
        let shared = shared();
        shared.runtime.block_on(async {
            let config = shared.cluster.connection_config(ADMIN, &self.name);
            let (client, connection) = config.connect(tokio_postgres::NoTls).await?;
            let driver = tokio::spawn(connection);
            let done = client.batch_execute(text).await;
            drop(client);
            driver.await.unwrap()?;
            self.tampered.fetch_or(done.is_ok(), Ordering::Relaxed);
            done
        })
    }

    /// A column of text as the service's own role gets it in a transaction fenced to those books.
    pub fn as_the_service(&self, books: &str, query: &str) -> Result<Vec<String>, tokio_postgres::Error> {
        let shared = shared();
        shared.runtime.block_on(async {
            let config = shared.cluster.connection_config("ledgerboard_service", &self.name);
            let (mut client, connection) = config.connect(tokio_postgres::NoTls).await?;
            let driver = tokio::spawn(connection);
            let found = async {
                let fenced = client.transaction().await?;
                fenced.execute("SELECT set_config('app.books', $1, true)", &[&books]).await?;
                let rows = fenced.query(query, &[]).await?;
                Ok(rows.iter().map(|row| row.get(0)).collect())
            }
            .await;
            drop(client);
            driver.await.unwrap()?;
            found
        })
    }

    /// A finished backup in that folder, noted in the database as the command line does.
    pub fn backs_up_to(&self, folder: &Path, recipients: &[Recipient]) -> Taken {
        let to = Destination::named(folder);
        shared().runtime.block_on(async {
            let taken = backup::take(&self.url(), &to, recipients, &|_| ()).await.unwrap();
            backup::note(&self.url(), &taken).await.unwrap();
            taken
        })
    }

    /// A column of text from the database, past every fence.
    pub fn texts(&self, query: &str) -> Vec<String> {
        let shared = shared();
        shared.runtime.block_on(async {
            let config = shared.cluster.connection_config(ADMIN, &self.name);
            let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
            let driver = tokio::spawn(connection);
            let found = client.query(query, &[]).await.unwrap().iter().map(|row| row.get(0)).collect();
            drop(client);
            driver.await.unwrap().unwrap();
            found
        })
    }
}
