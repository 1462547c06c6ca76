//! What a stranger, or one caller among others, may cost: requests that are answered before their body is read, bodies
//! that never end, and answers that list everything that is wrong.
#![cfg(test)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use ledgerboard::api::limits::Limits;
use serde_json::json;

use crate::wire::{self, comes_true_within};
use crate::world::{Caller, World};

fn head(token: &str, path: &str, framing: &str) -> String {
    format!(
        "POST {path} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\n{framing}\r\n\r\n"
    )
}

/// Begins a body and does not go on with it.
fn begins(address: &str, token: &str, framing: &str, beginning: &str) -> TcpStream {
    let mut stream = wire::connect(address);
    stream.write_all(head(token, "/v1/parties", framing).as_bytes()).unwrap();
    stream.write_all(beginning.as_bytes()).unwrap();
    stream
}

/// What is said until the connection is closed, and how long that took.
fn until_closed(mut stream: TcpStream) -> (String, Duration) {
    let begun = Instant::now();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let mut heard = Vec::new();
    let mut part = [0; 4096];
    while let Ok(read @ 1..) = stream.read(&mut part) {
        heard.extend_from_slice(&part[..read]);
    }
    (String::from_utf8_lossy(&heard).into_owned(), begun.elapsed())
}

const SIZED: &str = "Content-Length: 1000000";
const CHUNKED: &str = "Transfer-Encoding: chunked";

#[test]
fn a_stranger_is_answered_before_the_body_and_the_connection_is_closed() {
    let world = World::limited(Limits { patience: Duration::from_secs(60), ..Limits::default() });
    let forged = world.nobody().token;
    for token in [forged.as_str(), "no-token-at-all"] {
        for (framing, beginning) in [(SIZED, "{"), (CHUNKED, "1\r\n{\r\n")] {
            let (heard, took) = until_closed(begins(&world.address, token, framing, beginning));
            assert!(heard.starts_with("HTTP/1.1 401 "), "{framing}: {heard}");
            assert!(took < Duration::from_secs(10), "{framing}: closed after {took:?}");
        }
    }
    // The control: whoever has a good token is waited for, and may end the body.
    let mut stream = begins(&world.address, &world.owner().token, CHUNKED, "1\r\n{\r\n");
    stream.set_read_timeout(Some(Duration::from_millis(1500))).unwrap();
    assert!(stream.read(&mut [0; 16]).is_err(), "no answer yet");
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let rest = r#""name":"Oakline Timber","role":"vendor"}"#;
    stream.write_all(format!("{:x}\r\n{rest}\r\n0\r\n\r\n", rest.len()).as_bytes()).unwrap();
    assert_eq!(wire::hear(&mut stream).unwrap().status, 201);
}

#[test]
fn a_token_of_too_small_a_scope_is_answered_before_the_body() {
    let world = World::open();
    let made = world.owner().records("/v1/tokens", json!({ "name": "phone", "scope": "read" }));
    let reader = made["token"].as_str().unwrap();
    let (heard, took) = until_closed(begins(&world.address, reader, CHUNKED, "1\r\n{\r\n"));
    assert!(heard.starts_with("HTTP/1.1 403 ") && took < Duration::from_secs(10), "{took:?}: {heard}");
}

#[test]
fn a_hundred_bodies_in_chunks_that_never_end_leave_no_connection_open() {
    let world = World::limited(Limits { patience: Duration::from_secs(60), ..Limits::default() });
    let forged = world.nobody().token;
    let streams: Vec<_> = (0..100).map(|_| begins(&world.address, &forged, CHUNKED, "1\r\n{\r\n")).collect();
    assert_eq!(world.owner().get("/v1/books").status, 200);
    for stream in streams {
        let (heard, took) = until_closed(stream);
        assert!(heard.starts_with("HTTP/1.1 401 ") || heard.starts_with("HTTP/1.1 429 "), "{heard}");
        assert!(took < Duration::from_secs(10), "closed after {took:?}");
    }
}

/// A body that is there as a whole is read to its end, so that its connection takes the next request.
#[test]
fn a_connection_whose_request_came_as_a_whole_takes_the_next_one() {
    let world = World::open();
    let (owner, nobody) = (world.owner(), world.nobody());
    let mut stream = wire::connect(&world.address);
    let body = json!({ "name": "Oakline Timber", "role": "vendor" });
    for (token, status) in [(&nobody.token, 401), (&owner.token, 201), (&owner.token, 201)] {
        let heard = wire::asks(&mut stream, &wire::post(token, "/v1/parties", None, &body)).unwrap();
        assert_eq!(heard.status, status, "{}", heard.body);
    }
}

#[test]
fn slow_bodies_of_one_token_leave_places_to_other_books() {
    let limits = Limits { at_once: 16, patience: Duration::from_secs(60), ..Limits::default() };
    let world = World::limited(limits);
    let (greedy, other) = (world.owner(), world.stranger());
    let held: Vec<_> = (0..12).map(|_| begins(&world.address, &greedy.token, SIZED, "{")).collect();
    let over = comes_true_within(Duration::from_secs(5), || {
        let reply = greedy.get("/v1/books");
        reply.status == 429
            && reply.header("retry-after") == Some("1")
            && reply.text.contains("this token has 4 requests under way")
    });
    assert!(over, "the token has a quarter of the places under way: {}", greedy.get("/v1/books").text);
    // Until the requests over that share are turned away, they count for their address, which everybody here shares.
    let settled = comes_true_within(Duration::from_secs(5), || other.get("/v1/books").status == 200);
    assert!(settled, "{}", other.get("/v1/books").text);
    std::thread::sleep(Duration::from_millis(500));
    for _ in 0..20 {
        assert_eq!(other.get("/v1/books").status, 200, "another token is served");
    }
    drop(held);
    let back = comes_true_within(Duration::from_secs(5), || greedy.get("/v1/books").status == 200);
    assert!(back, "the control: the places are given back");
}

fn gets_from(world: &World, token: &str, client: &str) -> u16 {
    let request = format!(
        "GET /v1/books HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\nX-Forwarded-For: {client}\r\n\r\n"
    );
    wire::asks(&mut wire::connect(&world.address), &request).unwrap().status
}

#[test]
fn clients_behind_a_trusted_proxy_are_told_apart_and_others_cannot_claim_an_address() {
    let trusting = |proxies: &[&str]| Limits {
        trusted_proxies: proxies.iter().map(|one| one.parse().unwrap()).collect(),
        ..Limits::default()
    };
    for (proxies, other_clients_status) in [(&["127.0.0.0/8"][..], 401), (&[][..], 429)] {
        let world = World::limited(trusting(proxies));
        let forged = world.nobody().token;
        let first: Vec<_> = (0..12).map(|_| gets_from(&world, &forged, "203.0.113.7")).collect();
        assert_eq!(first[10..], [429; 2], "ten wrong tokens a minute: {first:?}");
        assert_eq!(gets_from(&world, &forged, "203.0.113.8"), other_clients_status, "{proxies:?}");
        let invented = gets_from(&world, &forged, "198.51.100.1, 203.0.113.7");
        assert_eq!(invented, 429, "what stands to the left of the client is not believed");
    }
}

fn answer_to(caller: &Caller, path: &str, body: &str) -> (u16, serde_json::Value, usize) {
    let reply = caller.post_text(path, body, &[]);
    (reply.status, reply.json(), reply.text.len())
}

#[test]
fn an_answer_lists_a_hundred_errors_and_says_that_there_are_more() {
    let world = World::open();
    let owner = world.owner();
    let wrong = json!({ "items": vec![json!({ "name": 1, "role": "nobody", "shoe_size": 43 }); 900] });
    let (status, problem, length) = answer_to(&owner, "/v1/parties/batch", &wrong.to_string());
    assert_eq!(status, 422);
    let errors = problem["errors"].as_array().unwrap();
    assert_eq!(errors.len(), 101);
    assert_eq!(errors[100]["detail"], "and more");
    assert!(length < 100_000, "{length}");
    // The control: what is less is listed as a whole.
    let fewer = json!({ "items": vec![json!({ "name": 1, "role": "vendor" }); 100] });
    let (_, problem, _) = answer_to(&owner, "/v1/parties/batch", &fewer.to_string());
    assert_eq!(problem["errors"].as_array().unwrap().len(), 100);
    assert_eq!(problem["errors"][99]["pointer"], "/items/99/name");
}

/// Half a million items in a megabyte: the length of the list is the only thing that is said.
#[test]
fn the_length_of_a_list_comes_before_its_items() {
    let world = World::open();
    let body = format!("{{\"items\":[{}1]}}", "1,".repeat(499_000));
    let (status, problem, length) = answer_to(&world.owner(), "/v1/parties/batch", &body);
    assert_eq!(status, 422);
    let errors = problem["errors"].as_array().unwrap();
    assert_eq!((errors.len(), &errors[0]["pointer"]), (1, &json!("/items")));
    assert!(errors[0]["detail"].as_str().unwrap().contains("499001 are given"), "{problem}");
    assert!(length < 1000);
}
