//! A caller that resets the connection in the middle of a write leaves the whole record or none of it.
#![cfg(test)]

use std::io::Write;
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use ledgerboard::api::limits::Limits;
use serde_json::{Value, json};

use crate::chance::Chance;
use crate::wire::{self, comes_true_within, reset};
use crate::world::{Caller, World};

/// Connections of a world's service.
const POOL: usize = 8;

fn key(client: u64, trial: u64) -> String {
    format!("cut-{client}-{trial}")
}

fn contribution(bank: &str) -> Value {
    json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" })
}

/// Sends a write and resets the connection at a random moment, before its last byte now and then.
fn is_cut(owner: &Caller, bank: &str, key: &str, chance: &mut Chance) {
    let request = wire::post(&owner.token, "/v1/accounts/contributions", Some(key), &contribution(bank));
    let mut stream = wire::connect(&owner.address);
    let sent = if chance.one_in(10) { chance.below(request.len()) } else { request.len() };
    stream.write_all(&request.as_bytes()[..sent]).unwrap();
    let wait = u64::try_from(chance.below(30_000)).unwrap();
    std::thread::sleep(Duration::from_micros(wait));
    reset(stream);
}

/// Every record has its entry, its two postings, its audit line and its key with its id, and nothing else is there.
fn assert_all_or_nothing(world: &World) -> i64 {
    let halves = "WITH e AS (SELECT record_id, count(*) AS n FROM entries GROUP BY 1), \
         p AS (SELECT record_id, count(*) AS n FROM entries JOIN postings ON postings.books_id = entries.books_id \
               AND entry_number = number GROUP BY 1), \
         a AS (SELECT record_id, count(*) AS n FROM audit_lines GROUP BY 1) \
         SELECT count(*) FROM records r LEFT JOIN e ON e.record_id = r.id LEFT JOIN p ON p.record_id = r.id \
         LEFT JOIN a ON a.record_id = r.id WHERE r.kind = 'contribution' AND (e.n, p.n, a.n) IS DISTINCT FROM (1, 2, 1)";
    assert_eq!(world.count(halves), 0, "records in part");
    let written = world.count("SELECT count(*) FROM records WHERE kind = 'contribution'");
    let keys = "SELECT count(*) FROM idempotency_answers i JOIN records r ON r.books_id = i.books_id \
                AND r.id::text = convert_from(i.body, 'UTF8')::jsonb ->> 'id' WHERE i.key LIKE 'cut-%'";
    assert_eq!(world.count(keys), written, "keys that name their record, of {written} records");
    let all = "SELECT (SELECT count(*) FROM entries) * 1000000 + (SELECT count(*) FROM postings)";
    assert_eq!(world.count(all), written * 1_000_000 + written * 2, "entries and postings of no record");
    written
}

/// Eight callers who hang up; how many writes were whole at the cut.
fn callers_hang_up(world: &World, each: u64, seed: u64) -> i64 {
    let owner = world.owner();
    let bank = owner.has_account("bank");
    std::thread::scope(|scope| {
        for client in 0..8 {
            let (owner, bank) = (&owner, &bank);
            scope.spawn(move || {
                let mut chance = Chance::of(seed + client);
                for trial in 0..each {
                    is_cut(owner, bank, &key(client, trial), &mut chance);
                }
            });
        }
    });
    // A write outlives its caller, so those that wait in line come to their end first: up to eight seconds for their
    // turn, and their own work, with other tests on the same cores. From then on the pool has a second.
    let ended = Instant::now();
    let done = || world.connections().0 == 0 && world.database().pool().queued == 0;
    let given_back = comes_true_within(Duration::from_secs(15), done);
    assert!(given_back, "connections still in use: {:?}", world.connections());
    println!("every connection was given back {:?} after the last reset", ended.elapsed());
    let begun = Instant::now();
    let all_at_once = std::thread::scope(|scope| {
        let readers: Vec<_> = (0..POOL).map(|_| scope.spawn(|| owner.get("/v1/books").status)).collect();
        readers.into_iter().all(|reader| reader.join().unwrap() == 200)
    });
    assert!(all_at_once && begun.elapsed() < Duration::from_secs(1), "{:?}", begun.elapsed());
    let open = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                AND state LIKE 'idle in transaction%'";
    assert_eq!(world.count(open), 0, "no transaction is left open");
    let written = assert_all_or_nothing(world);
    // Every cut request, sent once more under its key, gives one record each.
    std::thread::scope(|scope| {
        for client in 0..8 {
            let (owner, bank) = (&owner, &bank);
            scope.spawn(move || {
                for trial in 0..each {
                    let (key, body) = (key(client, trial), contribution(bank));
                    let reply = owner.post_with_key("/v1/accounts/contributions", &key, &body);
                    assert_eq!(reply.status, 201, "{}", reply.text);
                }
            });
        }
    });
    let trials = i64::try_from(each * 8).unwrap();
    assert_eq!(assert_all_or_nothing(world), trials);
    println!("seed {seed}: {trials} writes cut, {written} of them were whole, all are once after a retry");
    written
}

#[test]
fn a_write_cut_by_a_reset_is_there_as_a_whole_or_not_at_all() {
    let world = World::open();
    let written = callers_hang_up(&world, 20, 1);
    assert!((1..160).contains(&written), "some got through before the cut and some did not: {written}");
}

/// `cargo test --release --test trade ten_thousand_writes -- --ignored --nocapture`;
/// `LEDGERBOARD_TEST_SEED` and `LEDGERBOARD_TEST_RESETS` for others and more.
#[test]
#[ignore = "a command of its own: ten thousand resets"]
fn ten_thousand_writes_cut_by_resets_are_whole_or_not_there() {
    let world = World::open();
    let trials = wire::number("LEDGERBOARD_TEST_RESETS", 10_000);
    let written = callers_hang_up(&world, trials / 8, wire::number("LEDGERBOARD_TEST_SEED", 7));
    assert!(written > 0);
}

/// Otherwise callers who hang up could pile up more writes than the service takes on at once.
#[test]
fn a_write_whose_caller_hung_up_keeps_its_place_until_it_has_come_to_its_end() {
    let world = World::limited(Limits { at_once: 1, ..Limits::default() });
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let waits = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                 AND wait_event_type = 'Lock'";
    std::thread::scope(|scope| {
        // Holds the books for longer than the write takes to get there.
        let held = scope.spawn(|| {
            world
                .try_as_superuser("BEGIN; SELECT FROM books FOR UPDATE; SELECT pg_sleep(2); COMMIT")
                .unwrap();
        });
        let sleeps = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                      AND wait_event = 'PgSleep'";
        assert!(comes_true_within(Duration::from_secs(5), || world.count(sleeps) > 0));
        let write = wire::post(&owner.token, "/v1/accounts/contributions", Some("cut"), &contribution(&bank));
        let mut stream = wire::connect(&owner.address);
        stream.write_all(write.as_bytes()).unwrap();
        assert!(comes_true_within(Duration::from_secs(1), || world.count(waits) > 0));
        reset(stream);
        std::thread::sleep(Duration::from_millis(200));
        assert_eq!(owner.get("/v1/books").status, 503, "the write still holds the only place");
        held.join().unwrap();
    });
    assert!(comes_true_within(Duration::from_secs(1), || owner.get("/v1/books").status == 200));
    assert_eq!(world.count("SELECT count(*) FROM records WHERE kind = 'contribution'"), 1);
}

/// The control: a handler that does its work itself is cut by a reset, so the reset above has teeth.
#[test]
fn a_handler_that_is_not_detached_is_cut_by_a_reset() {
    use actix_web::{App, HttpServer, web};
    let finished = Arc::new(AtomicBool::new(false));
    let (sender, receiver) = std::sync::mpsc::channel();
    let flag = Arc::clone(&finished);
    let thread = std::thread::spawn(move || {
        actix_web::rt::System::new().block_on(async move {
            let server = HttpServer::new(move || {
                let flag = Arc::clone(&flag);
                App::new().route(
                    "/",
                    web::to(move || {
                        let flag = Arc::clone(&flag);
                        async move {
                            actix_web::rt::time::sleep(Duration::from_millis(400)).await;
                            flag.store(true, Ordering::SeqCst);
                            "done"
                        }
                    }),
                )
            })
            .workers(1)
            .disable_signals()
            .bind("127.0.0.1:0")
            .unwrap();
            let address = server.addrs()[0];
            let running = server.run();
            sender.send((address, running.handle())).unwrap();
            running.await.unwrap();
        });
    });
    let (address, handle) = receiver.recv().unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    stream.write_all(b"GET / HTTP/1.1\r\nHost: here\r\n\r\n").unwrap();
    std::thread::sleep(Duration::from_millis(100));
    reset(stream);
    std::thread::sleep(Duration::from_millis(700));
    assert!(!finished.load(Ordering::SeqCst), "the reset did not cut the handler");
    actix_web::rt::System::new().block_on(handle.stop(false));
    thread.join().unwrap();
}
