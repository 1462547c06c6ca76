//! The private PostgreSQL killed, frozen and out of disk under a running service: it recovers by itself, callers are
//! told what became of their writes, and nothing that was acknowledged is lost. Each fault has its control.
#![cfg(test)]

mod disk;

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::{Value, json};
use tempfile::{NamedTempFile, TempDir};

use crate::chance::Chance;
use crate::wire::{self, comes_true_within};
use crate::world::Caller;

const ADDRESS: &str = "/v1/accounts/contributions";

/// A service with its own PostgreSQL, as `ledgerboard serve` runs it.
struct Place {
    root: Option<TempDir>,
    data_dir: PathBuf,
    service: Child,
    caller: Caller,
    log: NamedTempFile,
}

fn program(data_dir: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerboard"));
    command.args(arguments).arg("--data-dir").arg(data_dir).stderr(Stdio::null());
    command.env_remove("DATABASE_URL").env_remove("LEDGERBOARD_LISTEN");
    command
}

impl Place {
    fn new(options: &[&str]) -> Self {
        let root = tempfile::tempdir().unwrap();
        std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
        let data_dir = root.path().join("books");
        let mut place = Self::within(data_dir, options);
        place.root = Some(root);
        place
    }

    fn within(data_dir: PathBuf, options: &[&str]) -> Self {
        let mut asked = vec!["token", "--books", "Fernbank Workshop"];
        if !data_dir.exists() {
            asked.extend(["--new", "--began-on", "2023-01-01"]);
        }
        let token = program(&data_dir, &asked).output().unwrap();
        assert!(token.status.success());
        let token = String::from_utf8(token.stdout).unwrap().trim().to_owned();
        let serve = ["serve", "--listen", "127.0.0.1:0", "--requests-per-minute", "10000000"];
        let arguments: Vec<&str> = serve.into_iter().chain(options.iter().copied()).collect();
        let log = NamedTempFile::new().unwrap();
        let mut serving = program(&data_dir, &arguments);
        let mut service = serving.stdout(Stdio::piped()).stderr(log.reopen().unwrap()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(service.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let (_, address) = line.trim().split_once("listens on ").unwrap();
        let caller = Caller { address: address.to_owned(), token };
        Self { root: None, data_dir, service, caller, log }
    }

    /// What the service has logged.
    fn said(&self) -> String {
        std::fs::read_to_string(self.log.path()).unwrap()
    }

    /// The processes of the server, the postmaster first.
    fn servers(&self) -> Vec<Pid> {
        let Some(postmaster) = self.postmaster() else { return Vec::new() };
        let entries = std::fs::read_dir("/proc").unwrap().flatten();
        let numbers = entries.filter_map(|entry| entry.file_name().to_str()?.parse::<i32>().ok());
        let here = |pid: &i32| {
            let works_in = std::fs::read_link(format!("/proc/{pid}/cwd"));
            works_in.is_ok_and(|folder| folder.starts_with(&self.data_dir))
                && Pid::from_raw(*pid) != postmaster
        };
        std::iter::once(postmaster).chain(numbers.filter(here).map(Pid::from_raw)).collect()
    }

    fn postmaster(&self) -> Option<Pid> {
        let folders = std::fs::read_dir(&self.data_dir).ok()?.flatten();
        let files =
            folders.filter_map(|folder| std::fs::read_to_string(folder.path().join("postmaster.pid")).ok());
        let numbers = files.filter_map(|file| file.lines().next()?.parse::<i32>().ok());
        numbers.map(Pid::from_raw).find(|pid| Path::new(&format!("/proc/{pid}/cwd")).exists())
    }

    fn signals_all(&self, signal: Signal) {
        for pid in self.servers() {
            // One that has ended by itself is as good.
            let _ended = kill(pid, signal);
        }
    }

    fn is_ready(&self) -> bool {
        self.caller.get("/health/ready").status == 204
    }

    fn is_ready_within(&self, limit: Duration) {
        assert!(comes_true_within(limit, || self.is_ready()), "{}", self.caller.get("/health/ready").text);
    }

    /// Every record that the books have, by its id.
    fn records(&self) -> Vec<String> {
        let mut found = Vec::new();
        let mut next = Some("/v1/accounts?limit=200".to_owned());
        while let Some(path) = next {
            let page = self.caller.reads(&path);
            let items = page["items"].as_array().unwrap();
            found.extend(items.iter().filter_map(|item| item["id"].as_str()).map(str::to_owned));
            next = page["next"].as_str().map(str::to_owned);
        }
        found
    }

    fn stops_and_verifies(mut self) -> bool {
        kill(Pid::from_raw(i32::try_from(self.service.id()).unwrap()), Signal::SIGTERM).unwrap();
        assert!(self.service.wait().unwrap().success());
        let verified = program(&self.data_dir, &["verify"]).stdout(Stdio::null()).status().unwrap();
        assert!(self.servers().is_empty(), "a server is left running");
        verified.success()
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        // A test that failed may have left it frozen.
        self.signals_all(Signal::SIGCONT);
        let _told = kill(Pid::from_raw(i32::try_from(self.service.id()).unwrap()), Signal::SIGTERM);
        let _reaped = self.service.wait();
    }
}

fn contribution(bank: &str) -> Value {
    json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" })
}

/// What the writers of a drill heard.
#[derive(Default)]
struct Heard {
    acknowledged: BTreeSet<String>,
    asked_again: u64,
}

/// Writes under keys of its own, each sent until it is acknowledged, until told to stop.
fn writes(caller: &Caller, bank: &str, name: &str, over: &AtomicBool, acknowledged: &AtomicU64) -> Heard {
    let mut heard = Heard::default();
    let mut number = 0;
    while !over.load(Ordering::Relaxed) {
        number += 1;
        let key = format!("writer-{name}-{number}");
        loop {
            let told = caller.post_with_key(ADDRESS, &key, &contribution(bank));
            if told.status == 201 {
                heard.acknowledged.insert(told.json()["id"].as_str().unwrap().to_owned());
                acknowledged.fetch_add(1, Ordering::Relaxed);
                break;
            }
            assert!([503, 409].contains(&told.status), "{} {}", told.status, told.text);
            heard.asked_again += 1;
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    heard
}

/// Kills PostgreSQL that often under writers: all of its processes, the postmaster alone, or one that serves a
/// connection. Says how long each took from the kill to the next write that was acknowledged.
fn kills(place: &Place, bank: &str, times: u64, seed: u64) -> (Heard, Vec<Duration>) {
    let (over, acknowledged) = (AtomicBool::new(false), AtomicU64::new(0));
    let mut chance = Chance::of(seed);
    std::thread::scope(|scope| {
        let start = |name| {
            let (over, acknowledged, name) = (&over, &acknowledged, format!("{seed}-{name}"));
            scope.spawn(move || writes(&place.caller, bank, &name, over, acknowledged))
        };
        let running: Vec<_> = (0..8).map(start).collect();
        let mut took = Vec::new();
        for kill_number in 0..times {
            std::thread::sleep(Duration::from_millis(u64::try_from(chance.below(300)).unwrap()));
            let servers = place.servers();
            let killed = match kill_number % 4 {
                3 => servers.get(1..2).unwrap_or_default(),
                2 => servers.get(..1).unwrap_or_default(),
                _ => &servers,
            };
            killed.iter().for_each(|pid| {
                let _ended = kill(*pid, Signal::SIGKILL);
            });
            let (begun, before) = (Instant::now(), acknowledged.load(Ordering::Relaxed));
            // One answer may have been on its way already.
            let again = || acknowledged.load(Ordering::Relaxed) > before + 1;
            assert!(comes_true_within(Duration::from_secs(60), again), "it does not recover");
            took.push(begun.elapsed());
        }
        over.store(true, Ordering::Relaxed);
        let mut all = Heard::default();
        for writer in running {
            let mut heard = writer.join().unwrap();
            all.acknowledged.append(&mut heard.acknowledged);
            all.asked_again += heard.asked_again;
        }
        took.sort_unstable();
        (all, took)
    })
}

/// The log of what was acknowledged is the oracle: all of it is in the books, and nothing else.
fn lost_and_doubled(place: &Place, heard: &Heard) -> (usize, usize) {
    let listed = place.records();
    let kept: BTreeSet<String> = listed.iter().cloned().collect();
    assert_eq!(kept.len(), listed.len(), "the list names each record once");
    let lost = heard.acknowledged.difference(&kept).count();
    (lost, kept.len() - (heard.acknowledged.len() - lost))
}

fn drill(times: u64, seed: u64) {
    let place = Place::new(&[]);
    let bank = place.caller.has_account("bank");
    let before = place.records().len();
    let (heard, took) = kills(&place, &bank, times, seed);
    let (lost, others) = lost_and_doubled(&place, &heard);
    println!(
        "seed {seed}: {times} kills of PostgreSQL under 8 writers; {} writes acknowledged, {} asked again, {lost} lost; \
         back within {:?} (median {:?})",
        heard.acknowledged.len(),
        heard.asked_again,
        took[took.len() - 1],
        took[took.len() / 2],
    );
    assert_eq!(lost, 0, "an acknowledged write is lost");
    assert_eq!(others, before, "a record that nobody was told of, or a second one for a key");
    assert!(place.stops_and_verifies());
}

#[test]
fn postgresql_killed_under_load_is_started_again_and_loses_nothing() {
    drill(6, 1);
}

/// `cargo test --release --test trade a_hundred_kills_of_postgresql -- --ignored --nocapture`;
/// `LEDGERBOARD_TEST_SEED` and `LEDGERBOARD_TEST_KILLS` for others and more.
#[test]
#[ignore = "a command of its own: a hundred starts of PostgreSQL"]
fn a_hundred_kills_of_postgresql_under_load_lose_nothing() {
    drill(wire::number("LEDGERBOARD_TEST_KILLS", 100), wire::number("LEDGERBOARD_TEST_SEED", 7));
}

/// The control: a server that acknowledges before it has written is found out by the same log of acknowledgements.
#[test]
fn a_server_that_acknowledges_too_early_is_found_out_by_the_log_of_acknowledgements() {
    let place = Place::new(&[]);
    let bank = place.caller.has_account("bank");
    let lax = "ALTER ROLE ledgerboard_service SET synchronous_commit = off";
    as_superuser(&place, lax);
    // Connections that are open keep the setting they began with.
    place.signals_all(Signal::SIGKILL);
    let lost = (0..10).any(|round| {
        let (heard, _) = kills(&place, &bank, 2, 40 + round);
        lost_and_doubled(&place, &heard).0 > 0
    });
    assert!(lost, "nothing was lost: this drill has no teeth");
}

fn as_superuser(place: &Place, statement: &str) {
    use ledgerboard::store::cluster::{ADMIN, Cluster, ClusterSettings, Durability};
    let settings = ClusterSettings {
        data_dir: place.data_dir.clone(),
        pg_bin: std::env::var_os("LEDGERBOARD_PG_BIN").map(PathBuf::from),
        durability: Durability::Full,
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let cluster = Cluster::start(&settings).await.unwrap();
        let config = cluster.connection_config(ADMIN, "ledgerboard");
        let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
        let driver = tokio::spawn(connection);
        client.batch_execute(statement).await.unwrap();
        drop(client);
        driver.await.unwrap().unwrap();
        cluster.stop().await.unwrap();
    });
}

#[test]
fn a_server_that_does_not_start_again_ends_the_service_with_a_status_for_supervisors() {
    let mut place = Place::new(&["--restart-seconds", "2"]);
    let cluster = std::fs::read_dir(&place.data_dir).unwrap().flatten().map(|entry| entry.path());
    let version = { cluster }.map(|folder| folder.join("PG_VERSION")).find(|file| file.exists()).unwrap();
    let good = std::fs::read(&version).unwrap();
    std::fs::write(&version, "12\n").unwrap();
    place.signals_all(Signal::SIGKILL);
    assert!(comes_true_within(Duration::from_secs(5), || place.caller.get("/health/ready").status == 503));
    let told = place.caller.get("/health/ready");
    assert!(told.text.contains("is being started again"), "{}", told.text);
    assert_eq!(place.service.wait().unwrap().code(), Some(69));
    // Control: with the folder as it was, the next start takes the books up again.
    std::fs::write(&version, good).unwrap();
    let (data_dir, root) = (place.data_dir.clone(), place.root.take());
    drop(place);
    assert!(Place::within(data_dir, &[]).stops_and_verifies());
    drop(root);
}

/// Every process of the server is stopped with SIGSTOP: it is there, and says nothing.
#[test]
fn while_postgresql_is_frozen_everybody_is_answered_in_time_and_writes_say_what_became_of_them() {
    let place = Place::new(&["--call-seconds", "3"]);
    let bank = place.caller.has_account("bank");
    place.is_ready_within(Duration::from_secs(5));
    let (over, acknowledged) = (AtomicBool::new(false), AtomicU64::new(0));
    std::thread::scope(|scope| {
        let (over, acknowledged, bank) = (&over, &acknowledged, bank.as_str());
        let caller = &place.caller;
        let writers = ['a', 'b', 'c', 'd']
            .map(|name| scope.spawn(move || writes(caller, bank, &name.to_string(), over, acknowledged)));
        std::thread::sleep(Duration::from_millis(300));
        place.signals_all(Signal::SIGSTOP);
        // Every connection of the pool is taken up by then, and still it is answered.
        for _ in 0..4 {
            let begun = Instant::now();
            let (ready, took) = (caller.get("/health/ready"), begun.elapsed());
            assert_eq!(ready.status, 503, "{}", ready.text);
            assert!(took < Duration::from_secs(2), "{took:?}");
            std::thread::sleep(Duration::from_millis(300));
        }
        let begun = Instant::now();
        let told = caller.post(ADDRESS, &contribution(bank));
        let took = begun.elapsed();
        assert_eq!(told.status, 503, "{}", told.text);
        assert!(took < Duration::from_secs(8), "{took:?}");
        place.signals_all(Signal::SIGCONT);
        place.is_ready_within(Duration::from_secs(10));
        let before = acknowledged.load(Ordering::Relaxed);
        assert!(
            comes_true_within(Duration::from_secs(10), || acknowledged.load(Ordering::Relaxed) > before + 4)
        );
        over.store(true, Ordering::Relaxed);
        let mut heard = Heard::default();
        for writer in writers {
            heard.acknowledged.append(&mut writer.join().unwrap().acknowledged);
        }
        // The account, and the write without a key that may have been committed when the server went on.
        let (lost, others) = lost_and_doubled(&place, &heard);
        assert!(lost == 0 && others <= 2, "{lost} lost, {others} others");
    });
    assert!(place.stops_and_verifies());
}
