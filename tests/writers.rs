//! Many writers at once: nothing is lost, nothing is doubled, and a write that lost against another is run again.
#![cfg(test)]

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use serde_json::json;

use crate::wire::comes_true_within;
use crate::world::{Caller, Reply, World};

const WRITERS: usize = 64;

/// Sends it again, as `Retry-After` asks, until it is taken; with how often it was sent away.
fn insists(caller: &Caller, key: &str, bank: &str) -> (Reply, usize) {
    let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
    for sent_away in 0..30 {
        let reply = caller.post_with_key("/v1/accounts/contributions", key, &body);
        match reply.status {
            201 => return (reply, sent_away),
            409 | 429 | 503 => {
                let wait = reply.header("retry-after").unwrap().parse().unwrap();
                std::thread::sleep(Duration::from_secs(wait));
            }
            other => panic!("{other}: {}", reply.text),
        }
    }
    panic!("{key} was never taken");
}

/// Each writer's callers and accounts, `each` writes; the entry numbers given out, and how many were sent away.
fn all_write(writers: &[(Caller, String)], each: usize) -> (Vec<i64>, usize) {
    let begun = Instant::now();
    let written: Vec<_> = std::thread::scope(|scope| {
        let at_work = |(writer, (caller, bank)): (usize, &'_ (Caller, String))| {
            let (caller, bank) = (caller.clone(), bank.clone());
            scope.spawn(move || {
                let one = |write| insists(&caller, &format!("writer-{writer}-{write}"), &bank);
                (0..each).map(one).collect::<Vec<_>>()
            })
        };
        let all: Vec<_> = writers.iter().enumerate().map(at_work).collect();
        all.into_iter().flat_map(|one| one.join().unwrap()).collect()
    });
    let sent_away = written.iter().map(|(_, times)| times).sum();
    let ids: BTreeSet<_> = written.iter().map(|(reply, _)| reply.json()["id"].to_string()).collect();
    assert_eq!(ids.len(), written.len(), "an id was given twice");
    println!("{} writes in {:?}, {sent_away} sent away and taken later", written.len(), begun.elapsed());
    let number = |reply: &Reply| reply.json()["entries"][0]["number"].as_i64().unwrap();
    (written.iter().map(|(reply, _)| number(reply)).collect(), sent_away)
}

#[test]
fn sixty_four_writers_on_one_books_leave_no_gap_and_lose_nothing() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let writers: Vec<_> = (0..WRITERS).map(|_| (owner.clone(), bank.clone())).collect();
    let (mut numbers, _) = all_write(&writers, 3);
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=192).collect::<Vec<_>>(), "every number once");
    assert_eq!(world.count("SELECT count(*) FROM entries"), 192, "and no others in the journal");
    let standing = owner.reads(&format!("/v1/accounts/{bank}/standing"));
    assert_eq!(standing["balance"], "192.00");
}

#[test]
fn sixty_four_writers_on_books_of_their_own_do_not_disturb_each_other() {
    let world = World::open();
    let opens = |_| {
        let caller = world.stranger();
        let bank = caller.has_account("bank");
        (caller, bank)
    };
    let writers: Vec<_> = (0..WRITERS).map(opens).collect();
    let (numbers, _) = all_write(&writers, 3);
    let in_turn: Vec<_> = std::iter::repeat_n([1, 2, 3], WRITERS).flatten().collect();
    assert_eq!(numbers, in_turn, "each books counts by itself");
    for (caller, bank) in &writers {
        assert_eq!(caller.reads(&format!("/v1/accounts/{bank}/standing"))["balance"], "3.00");
    }
}

/// Where a write is made to fail.
#[derive(Clone, Copy)]
enum At {
    Statement,
    Commit,
}

/// From now on a write fails `times` times with that error, then goes through. A sequence counts, for it does not go
/// back when the transaction does.
fn fails(world: &World, at: At, times: i64, error: &str) {
    let trigger = match at {
        At::Statement => "CREATE TRIGGER fault BEFORE INSERT ON audit_lines FOR EACH ROW",
        At::Commit => {
            "CREATE CONSTRAINT TRIGGER fault AFTER INSERT ON audit_lines DEFERRABLE INITIALLY DEFERRED FOR EACH ROW"
        }
    };
    let sql = format!(
        "DROP TRIGGER IF EXISTS fault ON audit_lines; DROP SEQUENCE IF EXISTS faults; CREATE SEQUENCE faults; \
         CREATE OR REPLACE FUNCTION fault() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER \
         SET search_path = public AS $$ \
         BEGIN IF nextval('faults') <= {times} THEN {error} END IF; RETURN NEW; END $$; \
         {trigger} EXECUTE FUNCTION fault()"
    );
    world.try_as_superuser(&sql).unwrap();
}

fn tries(world: &World) -> i64 {
    world.count("SELECT last_value FROM faults")
}

fn assert_the_books_hold(world: &World) {
    for verdict in world.verdicts() {
        assert!(verdict.holds(), "{:#?}", verdict.breaches);
    }
}

const LOST: &str = "RAISE EXCEPTION 'could not serialize access' USING ERRCODE = '40001';";

#[test]
fn a_write_that_lost_against_another_is_run_again_and_told_once() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    for (at, key) in [(At::Statement, "while-writing"), (At::Commit, "at-commit")] {
        fails(&world, at, 3, LOST);
        let (reply, sent_away) = insists(&owner, key, &bank);
        assert_eq!((reply.status, sent_away, tries(&world)), (201, 0, 4), "three lost and the fourth won");
    }
    fails(&world, At::Statement, 2, LOST);
    let token = json!({ "name": "phone", "scope": "read" });
    assert_eq!(owner.post("/v1/tokens", &token).status, 201, "what is no record is run again too");
    assert_eq!(world.count("SELECT count(*) FROM entries"), 2);
    assert_the_books_hold(&world);
}

/// The control: what loses for ever is told so within its bound, and nothing of it is kept.
#[test]
fn a_write_that_loses_for_ever_is_sent_away_with_a_time_to_come_back() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let before = world.rows_written();
    for at in [At::Statement, At::Commit] {
        fails(&world, at, 1_000_000, LOST);
        let begun = Instant::now();
        let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
        let reply = owner.post_with_key("/v1/accounts/contributions", "one", &body);
        assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
        assert_eq!((reply.status, reply.header("retry-after")), (503, Some("1")), "{}", reply.text);
        assert_eq!(reply.header("content-type"), Some("application/problem+json"));
        assert_eq!(tries(&world), 5, "it was tried as often as it may be");
        assert_eq!(world.rows_written(), before);
    }
    // What is no race is not run again, and is a fault.
    fails(&world, At::Statement, 1_000_000, "RAISE EXCEPTION 'beams' USING ERRCODE = 'XX000';");
    let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
    assert_eq!(owner.post("/v1/accounts/contributions", &body).status, 500);
    assert_eq!(tries(&world), 1);
    assert_the_books_hold(&world);
}

/// PostgreSQL's own words for these states, as of version 15 (storage/smgr/md.c, tcop/postgres.c; from memory); the
/// first is no imitation, the backend ends itself.
#[test]
fn a_database_that_can_not_just_now_is_answered_with_a_time_to_come_back() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
    for (key, error) in [
        ("ended", "PERFORM pg_terminate_backend(pg_backend_pid());"),
        (
            "full",
            "RAISE 'could not extend file \"base/5/2619\": No space left on device' USING ERRCODE = '53100';",
        ),
        ("memory", "RAISE 'out of memory' USING ERRCODE = '53200';"),
        ("slow", "RAISE 'canceling statement due to statement timeout' USING ERRCODE = '57014';"),
        ("locked", "RAISE 'canceling statement due to lock timeout' USING ERRCODE = '55P03';"),
    ] {
        for (at, when) in [(At::Statement, "while-writing"), (At::Commit, "at-commit")] {
            let (key, before) = (format!("{key}-{when}"), world.rows_written());
            fails(&world, at, 1_000_000, error);
            let reply = owner.post_with_key("/v1/accounts/contributions", &key, &body);
            // RFC 4918, section 11.5: what met a full disk is not repeated before somebody has made room.
            let expected = if key == "full-while-writing" { (507, None) } else { (503, Some("1")) };
            assert_eq!((reply.status, reply.header("retry-after")), expected, "{key}: {}", reply.text);
            assert_eq!(world.rows_written(), before);
            fails(&world, at, 0, error);
            let (again, sent_away) = insists(&owner, &key, &bank);
            assert_eq!(sent_away, 0, "the pool threw the dead connection away");
            assert_eq!(again.header("idempotency-replayed"), None);
        }
    }
    assert_the_books_hold(&world);
}

/// Two sessions that lock the same two rows in opposite order: PostgreSQL ends the service's transaction, and the
/// service runs it again.
#[test]
fn a_deadlock_with_another_session_ends_in_one_record() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    let (other, driver) = runtime.block_on(async {
        let (other, connection) = tokio_postgres::connect(&world.url(), tokio_postgres::NoTls).await.unwrap();
        (other, tokio::spawn(connection))
    });
    // The service finds the deadlock, a second after it began to wait; the other session would much later.
    let first_row = "SET deadlock_timeout = '20s'; BEGIN; SELECT FROM accounts FOR UPDATE";
    runtime.block_on(other.batch_execute(first_row)).unwrap();
    let (reply, sent_away) = std::thread::scope(|scope| {
        let write = scope.spawn(|| insists(&owner, "one", &bank));
        let waits = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                     AND wait_event_type = 'Lock'";
        assert!(comes_true_within(Duration::from_secs(5), || world.count(waits) > 0));
        runtime.block_on(other.batch_execute("SELECT FROM books FOR UPDATE; COMMIT")).unwrap();
        write.join().unwrap()
    });
    drop(other);
    runtime.block_on(driver).unwrap().unwrap();
    // Finding the deadlock takes one of the two seconds that a write is run again in: on a busy machine they may be over
    // before the second run, and the caller is sent away once.
    assert!(reply.status == 201 && sent_away <= 1, "{} after {sent_away}", reply.status);
    let deadlocks = "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()";
    let counted = comes_true_within(Duration::from_secs(5), || world.count(deadlocks) == 1);
    assert!(counted, "there was no deadlock");
    assert_eq!(world.count("SELECT count(*) FROM records WHERE kind = 'contribution'"), 1);
}
