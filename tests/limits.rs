//! Limits: what is too much or too slow is told so, at once, and hurts nobody else.
#![cfg(test)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::num::NonZeroU32;
use std::time::Duration;

use ledgerboard::api::limits::Limits;
use serde_json::json;

use crate::world::{Caller, Reply, World};

fn per_minute(requests: u32) -> Limits {
    Limits { per_minute: NonZeroU32::new(requests).unwrap(), ..Limits::default() }
}

#[test]
fn a_token_that_asks_too_often_is_told_when_to_come_back() {
    let world = World::limited(per_minute(5));
    let owner = world.owner();
    let first = owner.get("/v1/books");
    assert_eq!(first.header("ratelimit-policy"), Some("\"token\";q=5;w=60"));
    assert_eq!(first.header("ratelimit"), Some("\"token\";r=4;t=12"));
    let replies: Vec<_> = (0..6).map(|_| owner.get("/v1/books")).collect();
    let over = replies.iter().find(|reply| reply.status == 429).unwrap();
    assert_eq!(over.header("content-type"), Some("application/problem+json"));
    assert_eq!(over.header("ratelimit"), Some("\"token\";r=0;t=60"));
    let wait: u64 = over.header("retry-after").unwrap().parse().unwrap();
    assert!((1..=12).contains(&wait), "one request comes back every twelve seconds: {wait}");
    assert_eq!(world.stranger().get("/v1/books").status, 200, "another token has its own count");
}

#[test]
fn whoever_tries_wrong_tokens_is_slowed_down_and_good_tokens_still_get_in() {
    let world = World::limited(Limits::default());
    let nobody = world.nobody();
    let first = nobody.get("/v1/books");
    assert_eq!((first.status, first.header("ratelimit")), (401, Some("\"wrong-tokens\";r=9;t=6")));
    assert_eq!(first.header("ratelimit-policy"), Some("\"wrong-tokens\";q=10;w=60"));
    let statuses: Vec<_> = (1..12).map(|_| nobody.get("/v1/books").status).collect();
    assert_eq!(statuses[..9], [401; 9]);
    assert_eq!(statuses[9..], [429; 2]);
    assert!(nobody.get("/v1/books").header("retry-after").is_some());
    assert_eq!(world.owner().get("/v1/books").status, 200);
}

/// What a raw request gets, up to the end of what comes within a few seconds.
fn answer(stream: &mut TcpStream) -> String {
    stream.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let mut got = Vec::new();
    let mut part = [0; 4096];
    while let Ok(read) = stream.read(&mut part) {
        got.extend_from_slice(&part[..read]);
        if read == 0 || String::from_utf8_lossy(&got).contains("remedy") || got.ends_with(b"}") {
            break;
        }
    }
    String::from_utf8_lossy(&got).into_owned()
}

fn begins_a_body(world: &World, length: usize) -> TcpStream {
    let head = format!(
        "POST /v1/parties HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {}\r\n\
         Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{{",
        world.owner().token
    );
    let mut stream = TcpStream::connect(world.address.trim_start_matches("http://")).unwrap();
    stream.write_all(head.as_bytes()).unwrap();
    stream
}

#[test]
fn a_body_that_pauses_or_trickles_is_given_up() {
    let world = World::limited(Limits { patience: Duration::from_millis(1100), ..Limits::default() });
    let mut paused = begins_a_body(&world, 40);
    let said = answer(&mut paused);
    assert!(said.starts_with("HTTP/1.1 408 "), "{said}");
    assert!(said.contains("/problems/too-slow"), "{said}");
    let mut trickling = begins_a_body(&world, 100_000);
    for _ in 0..6 {
        std::thread::sleep(Duration::from_millis(400));
        if trickling.write_all(b" ").is_err() {
            break;
        }
    }
    let said = answer(&mut trickling);
    assert!(said.starts_with("HTTP/1.1 408 "), "{said}");
    // The control: the same body without pauses is a record.
    world.owner().has_party("Oakline Timber", "vendor");
}

#[test]
fn what_comes_on_top_of_a_full_house_is_sent_away_at_once_and_the_health_page_is_not() {
    let limits = Limits { at_once: 1, patience: Duration::from_secs(3), ..Limits::default() };
    let world = World::limited(limits);
    let owner = world.owner();
    let held = begins_a_body(&world, 40);
    std::thread::sleep(Duration::from_millis(300));
    let over = owner.get("/v1/books");
    assert_eq!((over.status, over.header("retry-after")), (503, Some("1")));
    assert_eq!(over.header("content-type"), Some("application/problem+json"));
    assert_eq!(owner.get("/health/live").status, 204);
    drop(held);
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(owner.get("/v1/books").status, 200, "the place was given back");
}

/// Two hundred at the same time; `key` says under which key each comes, if under any.
fn two_hundred_come(owner: &Caller, key: Option<&str>) -> Vec<Reply> {
    let party = json!({ "name": "Oakline Timber", "role": "vendor" });
    std::thread::scope(|scope| {
        let sends = |_| {
            scope.spawn(|| match key {
                Some(key) => owner.post_with_key("/v1/parties", key, &party),
                None => owner.post("/v1/parties", &party),
            })
        };
        let all: Vec<_> = (0..200).map(sends).collect();
        all.into_iter().map(|one| one.join().unwrap()).collect()
    })
}

#[test]
fn two_hundred_requests_under_one_key_make_one_record() {
    let world = World::open();
    let owner = world.owner();
    let replies = two_hundred_come(&owner, Some("one"));
    assert_eq!(world.count("SELECT count(*) FROM parties"), 1);
    let first = replies.iter().find(|reply| reply.status == 201).unwrap();
    let (mut made, mut told) = (0, 0);
    for reply in &replies {
        match reply.status {
            201 => {
                assert_eq!(reply.text, first.text, "the same answer to the byte");
                made += 1;
            }
            409 => {
                assert_eq!(reply.header("retry-after"), Some("1"));
                assert!(reply.text.contains("/problems/still-running"), "{}", reply.text);
                told += 1;
            }
            429 | 503 => assert_eq!(reply.header("retry-after"), Some("1")),
            other => panic!("{other}: {}", reply.text),
        }
    }
    let fresh =
        replies.iter().filter(|one| one.status == 201 && one.header("idempotency-replayed").is_none());
    assert_eq!(fresh.count(), 1, "{made} answers and {told} told to come back");
    // Whoever was told to come back gets the first answer then, byte for byte.
    let late =
        owner.post_with_key("/v1/parties", "one", &json!({ "name": "Oakline Timber", "role": "vendor" }));
    assert_eq!((late.status, late.header("idempotency-replayed")), (201, Some("true")));
    assert_eq!(late.text, first.text);
}

/// The control: it is the key that makes them one.
#[test]
fn two_hundred_requests_without_a_key_make_as_many_records_as_were_taken() {
    let world = World::open();
    let replies = two_hundred_come(&world.owner(), None);
    let taken = replies.iter().filter(|reply| reply.status == 201).count();
    assert!(taken > 1);
    assert!(replies.iter().all(|reply| [201, 429, 503].contains(&reply.status)));
    assert_eq!(world.count("SELECT count(*) FROM parties"), i64::try_from(taken).unwrap());
}

#[test]
fn an_answer_is_kept_for_a_week_and_then_forgotten() {
    let world = World::open();
    let owner = world.owner();
    let party = json!({ "name": "Oakline Timber", "role": "vendor" });
    for key in ["old", "young"] {
        assert_eq!(owner.post_with_key("/v1/parties", key, &party).status, 201);
    }
    assert_eq!(world.forgets_old_answers(), 0);
    let aged = |key: &str, age: &str| {
        let sql = format!("UPDATE idempotency_answers SET at = now() - interval '{age}' WHERE key = '{key}'");
        world.try_as_superuser(&sql).unwrap();
    };
    aged("old", "7 days 1 minute");
    aged("young", "6 days 23 hours");
    assert_eq!(world.forgets_old_answers(), 1);
    let again = owner.post_with_key("/v1/parties", "young", &party);
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
}
