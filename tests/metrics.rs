//! Metrics: counts move with what happens, tell nothing about anybody, and are reached from this machine only.
#![cfg(test)]

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::num::NonZeroU32;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use ledgerboard::api::limits::Limits;
use ledgerboard::api::metrics;
use serde_json::json;

use crate::wire::{self, comes_true_within};
use crate::world::{Caller, World};

/// The metrics of a world, on a listener of their own as the command line has it.
struct Scraper {
    caller: Caller,
    handle: actix_web::dev::ServerHandle,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Scraper {
    fn of(world: &World) -> Self {
        let (database, figures) = (world.database(), Arc::clone(&world.figures));
        let (sender, receiver) = std::sync::mpsc::channel();
        let thread = std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
                let address = format!("http://{}", listener.local_addr().unwrap());
                let server = metrics::server(database, figures, listener).unwrap();
                sender.send((address, server.handle())).unwrap();
                server.await.unwrap();
            });
        });
        let (address, handle) = receiver.recv().unwrap();
        Self { caller: Caller { address, token: "none".to_owned() }, handle, thread: Some(thread) }
    }

    fn text(&self) -> String {
        let reply = self.caller.get("/metrics");
        assert_eq!(reply.status, 200);
        assert_eq!(reply.header("content-type"), Some("text/plain; version=0.0.4; charset=utf-8"));
        reply.text
    }

    fn read(&self) -> BTreeMap<String, String> {
        samples(&self.text())
    }
}

/// The metrics of that world, as text.
pub fn text_of(world: &World) -> String {
    Scraper::of(world).text()
}

impl Drop for Scraper {
    fn drop(&mut self) {
        actix_web::rt::System::new().block_on(self.handle.stop(false));
        self.thread.take().unwrap().join().unwrap();
    }
}

/// Every sample by its series, read strictly: HELP, TYPE and then the samples of that name, each series once, and
/// buckets that grow up to the count (Prometheus, exposition formats, text format 0.0.4; from memory).
fn samples(text: &str) -> BTreeMap<String, String> {
    let (mut found, mut named, mut told) = (BTreeMap::new(), BTreeSet::new(), String::new());
    for line in text.lines() {
        if let Some(rest) = line.strip_prefix("# HELP ") {
            let (name, help) = rest.split_once(' ').unwrap();
            assert!(named.insert(name.to_owned()) && !help.is_empty(), "{line}");
            told = name.to_owned();
        } else if let Some(rest) = line.strip_prefix("# TYPE ") {
            let (name, kind) = rest.split_once(' ').unwrap();
            assert!(name == told && ["counter", "gauge", "histogram"].contains(&kind), "{line}");
        } else {
            let (series, value) = line.rsplit_once(' ').unwrap();
            let name = series.split('{').next().unwrap();
            assert!(name.starts_with(&told) && !told.is_empty(), "{line} after {told}");
            assert!(name.bytes().all(|one| one.is_ascii_lowercase() || one == b'_'), "{line}");
            assert!(value.parse::<rust_decimal::Decimal>().is_ok(), "{line}");
            assert!(found.insert(series.to_owned(), value.to_owned()).is_none(), "{line} comes twice");
        }
    }
    assert!(text.ends_with('\n') && !found.is_empty());
    found
}

fn value(read: &BTreeMap<String, String>, series: &str) -> i64 {
    read.get(series).map_or(0, |value| value.trim_end_matches(".0").parse().unwrap())
}

#[test]
fn counts_move_with_what_is_asked_written_and_refused() {
    let world = World::open();
    let (owner, scraper) = (world.owner(), Scraper::of(&world));
    let posted = "ledgerboard_requests_total{route=\"/v1/parties\",method=\"POST\",status=\"201\"}";
    let before = scraper.read();
    assert_eq!(value(&before, posted), 0);
    let party = owner.has_party("Oakline Timber", "vendor");
    owner.has_party("Brickyard Fixings", "vendor");
    let two = json!({ "items": [{ "name": "One", "role": "helper" }, { "name": "Two", "role": "helper" }] });
    owner.records("/v1/parties/batch", two);
    for _ in 0..2 {
        let body = json!({ "name": "Three", "role": "helper" });
        assert_eq!(owner.post_with_key("/v1/parties", "three", &body).status, 201);
    }
    owner.reads(&format!("/v1/parties/{party}"));
    assert_eq!(owner.post("/v1/parties", &json!({ "name": "" })).status, 422);
    assert_eq!(world.nobody().get("/v1/books").status, 401);
    assert_eq!(owner.get("/no/such/address").status, 404);
    let after = scraper.read();
    let moved = |series: &str| value(&after, series) - value(&before, series);
    assert_eq!(moved(posted), 4);
    assert_eq!(moved("ledgerboard_records_total"), 5, "a replay writes nothing");
    assert_eq!(
        moved("ledgerboard_requests_total{route=\"/v1/parties/{id}\",method=\"GET\",status=\"200\"}"),
        1
    );
    assert_eq!(moved("ledgerboard_requests_total{route=\"none\",method=\"GET\",status=\"404\"}"), 1);
    for kind in ["invalid-request", "not-signed-in", "not-found"] {
        assert_eq!(moved(&format!("ledgerboard_problems_total{{kind=\"{kind}\"}}")), 1, "{kind}");
    }
    let took = "ledgerboard_request_duration_seconds_";
    let of = "route=\"/v1/parties\",method=\"POST\"";
    assert_eq!(moved(&format!("{took}count{{{of}}}")), 5);
    let buckets: Vec<_> = after
        .iter()
        .filter(|(series, _)| series.starts_with(&format!("{took}bucket")) && series.contains(of))
        .map(|(_, count)| count.parse::<i64>().unwrap())
        .collect();
    assert_eq!((buckets.len(), buckets.iter().max()), (13, Some(&5)));
    assert_eq!(value(&after, "ledgerboard_requests_under_way"), 0);
    assert_eq!(value(&after, "ledgerboard_pool_connections{kind=\"most\"}"), 8);
    assert!(value(&after, "ledgerboard_pool_connections{kind=\"open\"}") > 0);
    let started = value(&after, "ledgerboard_process_start_time_seconds");
    let now = chrono::Utc::now().timestamp();
    assert!((now - 600..=now).contains(&started));
    assert!(value(&after, "ledgerboard_process_resident_memory_bytes") > 1 << 20);
}

#[test]
fn requests_under_way_hung_up_on_shed_and_throttled_are_counted() {
    let at_once = Limits { at_once: 1, patience: Duration::from_secs(5), ..Limits::default() };
    let world = World::limited(Limits { per_minute: NonZeroU32::new(3).unwrap(), ..at_once });
    let (owner, scraper) = (world.owner(), Scraper::of(&world));
    let request =
        wire::post(&owner.token, "/v1/parties", None, &json!({ "name": "Oakline", "role": "vendor" }));
    let mut held = wire::connect(&world.address);
    held.write_all(&request.as_bytes()[..request.len() - 5]).unwrap();
    let under_way = || value(&scraper.read(), "ledgerboard_requests_under_way");
    assert!(comes_true_within(Duration::from_secs(3), || under_way() == 1));
    assert_eq!(owner.get("/v1/books").status, 503);
    assert_eq!(value(&scraper.read(), "ledgerboard_requests_shed_total"), 1);
    wire::reset(held);
    assert!(comes_true_within(Duration::from_secs(3), || under_way() == 0));
    assert_eq!(value(&scraper.read(), "ledgerboard_requests_hung_up_total"), 1);
    for _ in 0..4 {
        owner.get("/v1/books");
    }
    for _ in 0..11 {
        world.nobody().get("/v1/books");
    }
    let read = scraper.read();
    assert!(value(&read, "ledgerboard_requests_throttled_total{kind=\"token\"}") > 0);
    assert!(value(&read, "ledgerboard_requests_throttled_total{kind=\"wrong_token\"}") > 0);
}

#[test]
fn no_label_tells_of_anybody_and_made_up_methods_make_no_series() {
    let world = World::open();
    let (owner, scraper) = (world.owner(), Scraper::of(&world));
    let party = owner.has_party("Marigold Quill", "helper");
    owner.reads(&format!("/v1/parties/{party}"));
    owner.get("/v1/parties/marigold-quill?party=marigold");
    let mut stream = wire::connect(&world.address);
    let _answer =
        wire::asks(&mut stream, "BREW /v1/parties HTTP/1.1\r\nHost: here\r\nContent-Length: 0\r\n\r\n");
    let text = scraper.text();
    for private in [party.as_str(), owner.token.as_str(), "Marigold", "marigold", "BREW", "127.0.0.1"] {
        assert!(!text.contains(private), "{private} in {text}");
    }
    assert!(text.contains("method=\"other\""), "{text}");
}

#[test]
fn metrics_are_not_at_the_public_door_and_never_on_an_address_of_the_network() {
    let world = World::open();
    assert_eq!(world.owner().get("/metrics").status, 404);
    let told = Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(["serve", "--metrics-on", "0.0.0.0:9321", "--behind-tls-proxy"])
        .env_remove("DATABASE_URL")
        .output()
        .unwrap();
    assert!(!told.status.success());
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(told.contains("127.0.0.1"), "{told}");
}

/// `LEDGERBOARD_PYTHON=oracle/bin/python cargo test --test trade reads_the_metrics -- --ignored`
#[test]
#[ignore = "a command of its own: Prometheus's Python parser, from PyPI"]
fn the_parser_of_prometheus_reads_the_metrics() {
    const READS: &str = "import sys\nfrom prometheus_client.parser import text_string_to_metric_families as read\n\
        print(sum(len(family.samples) for family in read(sys.stdin.read())))";
    let world = World::open();
    let scraper = Scraper::of(&world);
    world.owner().has_party("Oakline Timber", "vendor");
    let text = scraper.text();
    let python = std::env::var("LEDGERBOARD_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let mut reader = Command::new(python)
        .args(["-c", READS])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    reader.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    let output = reader.wait_with_output().unwrap();
    assert!(output.status.success());
    let read: usize = String::from_utf8(output.stdout).unwrap().trim().parse().unwrap();
    assert_eq!(read, samples(&text).len(), "it reads as many samples as we do");
}
