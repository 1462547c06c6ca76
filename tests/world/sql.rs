//! SQL of tests, past the public door.

use std::sync::atomic::Ordering;

use super::{ADMIN, World, shared};

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
