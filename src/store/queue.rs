//! Fairness between books: requests of one set of books wait here, in the process, before they take a connection.
//!
//! PostgreSQL lets one writer of a set of books work at a time (its row is locked). If the others waited for that lock,
//! each would hold a connection meanwhile, and one busy owner would keep everybody from the pool. So the writers of one
//! set of books queue up first, all writers together leave some connections to readers, and no set of books reads on
//! more than half of the pool. The row lock stays: several processes may serve one database.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;

use super::books::Turn;
use super::error::StoreError;
use crate::rules::ids::BooksId;

/// Requests of one kind (reads or writes) of one set of books that may wait; the next ones are turned away at once.
const MOST_WAITING: usize = 32;

/// How long a request waits before it is turned away. A batch of a thousand records takes about a second.
const PATIENCE: Duration = Duration::from_secs(8);

/// The queues of all books that have a request in the store at this moment.
pub(super) struct Queues {
    lanes: Mutex<HashMap<BooksId, Lane>>,
    /// Connections that writers of all books may hold together.
    writers: Arc<Semaphore>,
    /// Connections that the readers of one set of books may hold together.
    readers_of_one: usize,
    patience: Duration,
}

/// The requests of one set of books.
struct Lane {
    write: Arc<Semaphore>,
    read: Arc<Semaphore>,
    writers: usize,
    readers: usize,
    /// The idempotency keys of its writers.
    keys: HashSet<String>,
}

/// A request's turn, until it is dropped. The fields are dropped in their order: the connections' shares first.
pub(super) struct Held {
    _permits: Vec<OwnedSemaphorePermit>,
    _place: Place,
}

/// A request that is counted in its lane.
struct Place {
    queues: Arc<Queues>,
    books: BooksId,
    turn: Turn,
    key: Option<String>,
}

impl Queues {
    /// Queues in front of a pool of so many connections.
    pub(super) fn of(connections: usize) -> Arc<Self> {
        Arc::new(Self::patient(connections, PATIENCE))
    }

    fn patient(connections: usize, patience: Duration) -> Self {
        let for_readers = connections.div_ceil(4);
        Self {
            lanes: Mutex::default(),
            writers: Arc::new(Semaphore::new(connections.saturating_sub(for_readers).max(1))),
            readers_of_one: connections.div_euclid(2).max(1),
            patience,
        }
    }

    /// Requests that wait for their turn or have it.
    pub(super) fn len(&self) -> usize {
        self.lanes().values().map(|lane| lane.writers + lane.readers).sum()
    }

    /// Waits for a turn; first come, first served within a set of books.
    /// # Errors
    /// [`StoreError::StillRunning`] where a writer with the same key is ahead, [`StoreError::Crowded`] where too many
    /// wait, [`StoreError::WaitedTooLong`].
    pub(super) async fn enter(
        self: &Arc<Self>,
        books: BooksId,
        turn: Turn,
        key: Option<&str>,
    ) -> Result<Held, StoreError> {
        let (place, lane) = self.line_up(books, turn, key)?;
        let wait = async {
            // Never the other way round: a share of the pool that waits for its books would keep others waiting too.
            let mut permits = vec![lane.acquire_owned().await];
            if turn == Turn::Writer {
                permits.push(Arc::clone(&self.writers).acquire_owned().await);
            }
            permits.into_iter().collect::<Result<Vec<_>, _>>()
        };
        match timeout(self.patience, wait).await {
            Ok(Ok(permits)) => Ok(Held { _permits: permits, _place: place }),
            // The semaphores are never closed, so this is the timeout.
            Ok(Err(_)) | Err(_) => Err(StoreError::WaitedTooLong),
        }
    }

    fn line_up(
        self: &Arc<Self>,
        books: BooksId,
        turn: Turn,
        key: Option<&str>,
    ) -> Result<(Place, Arc<Semaphore>), StoreError> {
        let mut lanes = self.lanes();
        let lane = lanes.entry(books).or_insert_with(|| Lane {
            write: Arc::new(Semaphore::new(1)),
            read: Arc::new(Semaphore::new(self.readers_of_one)),
            writers: 0,
            readers: 0,
            keys: HashSet::new(),
        });
        let (semaphore, count, at_work) = match turn {
            Turn::Writer => (&lane.write, &mut lane.writers, 1),
            Turn::Reader => (&lane.read, &mut lane.readers, self.readers_of_one),
        };
        if key.is_some_and(|key| lane.keys.contains(key)) {
            return Err(StoreError::StillRunning);
        }
        if *count >= at_work + MOST_WAITING {
            return Err(StoreError::Crowded { waiting: MOST_WAITING });
        }
        *count += 1;
        let semaphore = Arc::clone(semaphore);
        lane.keys.extend(key.map(str::to_owned));
        let place = Place { queues: Arc::clone(self), books, turn, key: key.map(str::to_owned) };
        Ok((place, semaphore))
    }

    fn lanes(&self) -> MutexGuard<'_, HashMap<BooksId, Lane>> {
        self.lanes.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut lanes = self.queues.lanes();
        let Some(lane) = lanes.get_mut(&self.books) else { return };
        match self.turn {
            Turn::Writer => lane.writers = lane.writers.saturating_sub(1),
            Turn::Reader => lane.readers = lane.readers.saturating_sub(1),
        }
        if let Some(key) = &self.key {
            lane.keys.remove(key);
        }
        if lane.writers == 0 && lane.readers == 0 {
            lanes.remove(&self.books);
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn books(number: u128) -> BooksId {
        BooksId(Uuid::from_u128(number))
    }

    #[tokio::test]
    async fn one_writer_of_a_set_of_books_works_at_a_time_and_another_owner_does_not_wait() {
        let queues = Queues::of(16);
        let first = queues.enter(books(1), Turn::Writer, None).await.unwrap();
        let second = queues.enter(books(1), Turn::Writer, None);
        let waits = timeout(Duration::from_millis(50), second).await;
        assert!(waits.is_err(), "the second writer of the same books waits");
        let other = timeout(Duration::from_millis(50), queues.enter(books(2), Turn::Writer, None)).await;
        assert!(other.is_ok_and(|held| held.is_ok()), "a writer of other books does not");
        drop(first);
        assert!(queues.enter(books(1), Turn::Writer, None).await.is_ok(), "the turn is passed on");
        assert_eq!(queues.len(), 0, "nothing is left behind");
        assert!(queues.lanes().is_empty());
    }

    #[tokio::test]
    async fn writers_of_all_books_together_leave_connections_to_readers() {
        let queues = Queues::of(8);
        let mut held = Vec::new();
        for number in 0..6 {
            held.push(queues.enter(books(number), Turn::Writer, None).await.unwrap());
        }
        let seventh = timeout(Duration::from_millis(50), queues.enter(books(7), Turn::Writer, None)).await;
        assert!(seventh.is_err(), "two of eight connections are never a writer's");
        let reader = timeout(Duration::from_millis(50), queues.enter(books(7), Turn::Reader, None)).await;
        assert!(reader.is_ok_and(|held| held.is_ok()));
    }

    #[tokio::test]
    async fn the_readers_of_one_set_of_books_take_half_of_the_pool_at_most() {
        let queues = Queues::of(8);
        let mut held = Vec::new();
        for _ in 0..4 {
            held.push(queues.enter(books(1), Turn::Reader, None).await.unwrap());
        }
        let fifth = timeout(Duration::from_millis(50), queues.enter(books(1), Turn::Reader, None)).await;
        assert!(fifth.is_err());
        assert!(queues.enter(books(2), Turn::Reader, None).await.is_ok());
    }

    #[tokio::test]
    async fn a_key_that_waits_already_and_a_full_queue_are_turned_away_at_once() {
        let queues = Queues::of(8);
        let _first = queues.enter(books(1), Turn::Writer, Some("one")).await.unwrap();
        let again = queues.enter(books(1), Turn::Writer, Some("one")).await;
        assert!(matches!(again, Err(StoreError::StillRunning)));
        assert!(queues.enter(books(2), Turn::Writer, Some("one")).await.is_ok(), "other books, another key");
        let waiting: Vec<_> =
            (0..MOST_WAITING).map(|_| queues.line_up(books(1), Turn::Writer, None).unwrap()).collect();
        let surplus = queues.enter(books(1), Turn::Writer, None).await;
        assert!(matches!(surplus, Err(StoreError::Crowded { waiting: MOST_WAITING })));
        drop(waiting);
        assert!(queues.line_up(books(1), Turn::Writer, None).is_ok(), "the control: there is room again");
    }

    #[tokio::test]
    async fn who_waits_too_long_is_turned_away_and_leaves_the_queue() {
        let queues = Arc::new(Queues::patient(8, Duration::from_millis(50)));
        let _first = queues.enter(books(1), Turn::Writer, None).await.unwrap();
        let late = queues.enter(books(1), Turn::Writer, Some("late")).await;
        assert!(matches!(late, Err(StoreError::WaitedTooLong)));
        assert_eq!(queues.len(), 1);
    }
}
