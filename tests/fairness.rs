//! Fairness: one busy set of books does not keep other owners from the database.
#![cfg(test)]

use std::time::Duration;

use serde_json::json;

use crate::wire::comes_true_within;
use crate::world::{Caller, Reply, World};

/// Many more than the eight connections of a world's service, and than may wait for one set of books.
const WRITERS: usize = 40;

/// Another session that holds rows until it is told to let go.
struct Holder {
    runtime: tokio::runtime::Runtime,
    client: tokio_postgres::Client,
}

impl Holder {
    fn of_all_books(world: &World) -> Self {
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let client = runtime.block_on(async {
            let (client, connection) =
                tokio_postgres::connect(&world.url(), tokio_postgres::NoTls).await.unwrap();
            tokio::spawn(connection);
            client.batch_execute("BEGIN; SELECT FROM books FOR UPDATE").await.unwrap();
            client
        });
        Self { runtime, client }
    }

    fn lets_go(self) {
        self.runtime.block_on(self.client.batch_execute("COMMIT")).unwrap();
    }
}

fn writes(caller: &Caller, bank: &str, key: &str) -> Reply {
    let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
    caller.post_with_key("/v1/accounts/contributions", key, &body)
}

/// The books of the busy owner are locked by another session, so each of the forty writers takes as long as that likes.
#[test]
fn forty_writers_of_one_set_of_books_keep_no_reader_of_other_books_waiting() {
    let world = World::open();
    let (busy, calm) = (world.owner(), world.stranger());
    let bank = busy.has_account("bank");
    let holder = Holder::of_all_books(&world);
    let (reads, replies) = std::thread::scope(|scope| {
        let begins = |number: usize| {
            let (busy, bank) = (&busy, &bank);
            scope.spawn(move || writes(busy, bank, &format!("writer-{number}")))
        };
        let writers: Vec<_> = (0..WRITERS).map(begins).collect();
        // The first 33 have their place by now, and the others their answer.
        let surplus = || writers.iter().filter(|writer| writer.is_finished()).count();
        assert!(comes_true_within(Duration::from_secs(10), || surplus() == WRITERS - 33), "{}", surplus());
        let reads: Vec<_> = (0..20).map(|_| calm.get("/v1/books")).collect();
        assert!(surplus() < WRITERS, "writers still wait while the other owner reads");
        assert!(world.connections().1 <= 8);
        assert_eq!(world.connections().0, 1, "they hold one connection together");
        holder.lets_go();
        (reads, writers.into_iter().map(|writer| writer.join().unwrap()).collect::<Vec<_>>())
    });
    assert!(reads.iter().all(|read| read.status == 200));
    let made = replies.iter().filter(|reply| reply.status == 201).count();
    let told: Vec<_> = replies.iter().filter(|reply| reply.status == 429).collect();
    // On a busy machine the reads take so long that some of those who wait have waited their eight seconds.
    let late = replies.iter().filter(|reply| reply.status == 503).count();
    assert!(made > 0);
    assert_eq!((made + late, told.len()), (33, WRITERS - 33));
    for reply in told {
        assert_eq!(reply.header("retry-after"), Some("1"));
        assert!(reply.text.contains("32 requests to these books are waiting already"), "{}", reply.text);
    }
    let written = world.count("SELECT count(*) FROM records WHERE kind = 'contribution'");
    assert_eq!(written, i64::try_from(made).unwrap());
}

/// The control for the test above: it is the queue that bounds them, not the number of writers.
#[test]
fn as_many_writers_as_may_wait_are_all_served() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let statuses: Vec<_> = std::thread::scope(|scope| {
        let begins = |number: usize| {
            let (owner, bank) = (&owner, &bank);
            scope.spawn(move || writes(owner, bank, &format!("writer-{number}")).status)
        };
        let writers: Vec<_> = (0..33).map(begins).collect();
        writers.into_iter().map(|writer| writer.join().unwrap()).collect()
    });
    assert_eq!(statuses, [201; 33]);
}

/// A copy that comes while the first waits in the queue learns at once that the first is still running.
#[test]
fn a_second_copy_of_a_waiting_write_is_answered_at_once() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let holder = Holder::of_all_books(&world);
    let waits = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                 AND wait_event_type = 'Lock'";
    std::thread::scope(|scope| {
        let ahead = scope.spawn(|| writes(&owner, &bank, "ahead"));
        assert!(comes_true_within(Duration::from_secs(5), || world.count(waits) == 1));
        let first = scope.spawn(|| writes(&owner, &bank, "one"));
        let copy = || {
            let reply = writes(&owner, &bank, "two");
            (reply.status, reply.header("retry-after").map(str::to_owned))
        };
        let second = scope.spawn(copy);
        // One of the two copies waits, the other comes back; which one is a matter of the threads.
        let third = scope.spawn(copy);
        assert!(comes_true_within(Duration::from_secs(5), || second.is_finished() || third.is_finished()));
        assert!(!ahead.is_finished() && !first.is_finished());
        holder.lets_go();
        let mut copies = [second.join().unwrap(), third.join().unwrap()];
        copies.sort();
        assert_eq!(copies, [(201, None), (409, Some("1".to_owned()))]);
        assert_eq!((ahead.join().unwrap().status, first.join().unwrap().status), (201, 201));
    });
}
