//! Calls on the database: each has a limit of time, and says what became of it where it did not come to its end.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use diesel_async::pooled_connection::deadpool::Object;
use diesel_async::{AnsiTransactionManager, AsyncPgConnection, TransactionManager};
use tokio::time::{Instant, sleep, timeout, timeout_at};

use super::books::{Turn, fence_of};
use super::connect::{Connection, Database, PATIENCE};
use super::error::StoreError;
use crate::rules::ids::BooksId;

/// How long one call may take, all its statements together: longer than PostgreSQL's own limit for a lock (10 s), and
/// short enough that a caller is answered while the server is frozen.
pub const CALL_LIMIT: Duration = Duration::from_secs(15);

/// The pause between two tries to connect.
const PAUSE: Duration = Duration::from_millis(50);

/// A connection that goes back to the pool only if its call came to its end. On one that was given up half-way an answer
/// may still come that belongs to nobody.
struct Lease(Option<Connection>);

impl Lease {
    fn connection(&mut self) -> Result<&mut AsyncPgConnection, StoreError> {
        self.0.as_deref_mut().ok_or_else(|| StoreError::Unreachable("the connection was given back".into()))
    }

    fn give_back(mut self) {
        drop(self.0.take());
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        if let Some(connection) = self.0.take() {
            drop(Object::take(connection));
        }
    }
}

impl Database {
    /// A connection. While the server is away or starting, it is tried for again, as long as a request may wait.
    async fn lease(&self) -> Result<Lease, StoreError> {
        let until = Instant::now() + PATIENCE;
        loop {
            self.refuse_while_the_disk_is_full()?;
            let error = match timeout_at(until, self.connection()).await {
                Ok(Ok(connection)) => return Ok(Lease(Some(connection))),
                Ok(Err(error)) => error,
                Err(_) => return Err(StoreError::Unreachable("no connection in time".into())),
            };
            if Instant::now() + PAUSE >= until {
                return Err(error);
            }
            sleep(PAUSE).await;
        }
    }

    /// A connection on which `begin` was said. One that turns out to be closed has done nothing yet, for a read or for
    /// a write, so another one is taken.
    async fn begun(&self, begin: &str) -> Result<Lease, StoreError> {
        let until = Instant::now() + PATIENCE;
        loop {
            let mut lease = self.lease().await?;
            match AnsiTransactionManager::begin_transaction_sql(lease.connection()?, begin).await {
                Ok(()) => return Ok(lease),
                Err(error) => match StoreError::from(error) {
                    StoreError::Unreachable(_) if Instant::now() < until => {}
                    error => return Err(error),
                },
            }
        }
    }

    /// Asks something outside of a transaction; once more where the connection turns out to be closed, so it may be
    /// only what does no harm twice.
    /// # Errors
    /// [`StoreError::TimedOut`]; what `question` could not do.
    pub(super) async fn ask<T>(
        &self,
        question: impl AsyncFn(&mut AsyncPgConnection) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let asked = async {
            let until = Instant::now() + PATIENCE;
            loop {
                let mut lease = self.lease().await?;
                match question(lease.connection()?).await {
                    Err(StoreError::Unreachable(_)) if Instant::now() < until => {}
                    Err(error @ StoreError::Unreachable(_)) => return Err(error),
                    told => {
                        lease.give_back();
                        return told;
                    }
                }
            }
        };
        timeout(self.call_limit(), asked).await.unwrap_or(Err(StoreError::TimedOut))
    }

    /// Runs `work` in a transaction that is fenced to `books`: committed if it succeeds, rolled back if not.
    /// # Errors
    /// What `work` says; [`StoreError::TimedOut`], and nothing is written; [`StoreError::OutcomeUnknown`] where the
    /// answer to the COMMIT of a write did not come.
    pub(super) async fn transaction<T, E: From<StoreError>>(
        &self,
        books: BooksId,
        turn: Turn,
        work: impl AsyncFnOnce(&mut AsyncPgConnection) -> Result<T, E>,
    ) -> Result<T, E> {
        let commits = AtomicBool::new(false);
        let call = self.uncounted_transaction(books, turn, &commits, work);
        match timeout(self.call_limit(), call).await {
            Ok(done) => done,
            Err(_) if turn == Turn::Writer && commits.load(Ordering::Relaxed) => {
                Err(StoreError::OutcomeUnknown.into())
            }
            Err(_) => Err(StoreError::TimedOut.into()),
        }
    }

    async fn uncounted_transaction<T, E: From<StoreError>>(
        &self,
        books: BooksId,
        turn: Turn,
        commits: &AtomicBool,
        work: impl AsyncFnOnce(&mut AsyncPgConnection) -> Result<T, E>,
    ) -> Result<T, E> {
        let begin = match turn {
            // Readers see one instant, so that a statement and its drill-down agree.
            Turn::Reader => "BEGIN TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY",
            Turn::Writer => "BEGIN TRANSACTION ISOLATION LEVEL READ COMMITTED",
        };
        // Begun and fenced in one trip to the server.
        let mut lease = self.begun(&format!("{begin}; {}", fence_of(books))).await?;
        match work(lease.connection()?).await {
            Ok(value) => {
                commits.store(true, Ordering::Relaxed);
                match AnsiTransactionManager::commit_transaction(lease.connection()?).await {
                    Ok(()) => lease.give_back(),
                    // What was read was read.
                    Err(_) if turn == Turn::Reader => {}
                    Err(error) => return Err(of_commit(StoreError::from(error)).into()),
                }
                Ok(value)
            }
            Err(error) => {
                // The reason for the rollback matters more than a failure of it; the connection is thrown away then.
                match AnsiTransactionManager::rollback_transaction(lease.connection()?).await {
                    Ok(()) => lease.give_back(),
                    Err(rollback) => tracing::debug!(%rollback, "a transaction could not be rolled back"),
                }
                Err(error)
            }
        }
    }
}

/// A server that ends while it commits may have written it to disk or not: recovery decides. Anything else that it says
/// of a COMMIT means that it was rolled back.
fn of_commit(error: StoreError) -> StoreError {
    match error {
        StoreError::Unreachable(_) | StoreError::DiskFull(_) => StoreError::OutcomeUnknown,
        certain => certain,
    }
}
