//! The service killed between the commit of a write and its answer, on a server that keeps what it acknowledged: the
//! caller asks again under the same key and finds one record.
#![cfg(test)]

use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use ledgerboard::store::cluster::{ADMIN, Cluster, ClusterSettings, Durability};
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::runtime::Runtime;

use crate::chance::Chance;
use crate::wire::{self, comes_true_within};
use crate::world::Caller;

/// What becomes of the server's answer to the next COMMIT.
const PASSES: u8 = 0;
/// It is kept back, and its connection stays open.
const IS_KEPT_BACK: u8 = 1;
/// It is lost, and its connection with it.
const IS_LOST: u8 = 2;

/// Stands between the service and its database. Whatever is said passes, but for the answer to a COMMIT.
struct Between {
    folder: TempDir,
    next: Arc<AtomicU8>,
    committed: Receiver<()>,
}

impl Between {
    fn stand_before(server: PathBuf) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let listener = UnixListener::bind(folder.path().join(".s.PGSQL.5432")).unwrap();
        let next = Arc::new(AtomicU8::new(PASSES));
        let (sender, committed) = channel();
        let asked = Arc::clone(&next);
        std::thread::spawn(move || {
            for service in listener.incoming().flatten() {
                let Ok(database) = UnixStream::connect(&server) else { continue };
                carry(service, database, Arc::clone(&asked), sender.clone());
            }
        });
        Self { folder, next, committed }
    }

    fn url(&self) -> String {
        url_through("ledgerboard_service", self.folder.path())
    }

    fn ask_that_it(&self, next: u8) {
        self.next.store(next, Ordering::SeqCst);
    }

    /// Waits until the server has said that a transaction is committed.
    fn wait_for_the_commit(&self) {
        self.committed.recv_timeout(Duration::from_secs(20)).unwrap();
    }
}

fn url_through(user: &str, folder: &Path) -> String {
    let folder = folder.to_str().unwrap().replace('/', "%2F");
    format!("postgres://{user}@/ledgerboard?host={folder}&port=5432")
}

/// Carries bytes both ways. A COMMIT is seen on its way up, so that what comes down next is the answer to it.
fn carry(service: UnixStream, database: UnixStream, next: Arc<AtomicU8>, committed: Sender<()>) {
    let (mut from_service, mut to_service) = (service.try_clone().unwrap(), service);
    let (mut from_database, mut to_database) = (database.try_clone().unwrap(), database);
    let held = Arc::new(AtomicU8::new(PASSES));
    let hold = Arc::clone(&held);
    std::thread::spawn(move || {
        let mut part = [0; 65_536];
        while let Ok(read @ 1..) = from_service.read(&mut part) {
            let commits = part[..read].windows(7).any(|seven| seven == b"COMMIT\0");
            if commits {
                hold.store(next.swap(PASSES, Ordering::SeqCst), Ordering::SeqCst);
            }
            if to_database.write_all(&part[..read]).is_err() {
                break;
            }
        }
        let _gone = to_database.shutdown(std::net::Shutdown::Both);
    });
    std::thread::spawn(move || {
        let mut part = [0; 65_536];
        while let Ok(read @ 1..) = from_database.read(&mut part) {
            let held = held.load(Ordering::SeqCst);
            if held != PASSES {
                let _nobody_waits = committed.send(());
            }
            if held == IS_LOST || (held == PASSES && to_service.write_all(&part[..read]).is_err()) {
                break;
            }
        }
        let _gone = to_service.shutdown(std::net::Shutdown::Both);
    });
}

/// A server that keeps what it acknowledged, books in it, and the service as a process of its own.
struct Place {
    _root: TempDir,
    runtime: Runtime,
    cluster: Option<Cluster>,
    between: Between,
    owner_url: String,
    token: String,
}

impl Place {
    fn new() -> Self {
        let root = tempfile::tempdir().unwrap();
        std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let settings = ClusterSettings {
            data_dir: root.path().join("books"),
            pg_bin: std::env::var_os("LEDGERBOARD_PG_BIN").map(PathBuf::from),
            durability: Durability::Full,
        };
        let cluster = runtime.block_on(Cluster::start(&settings)).unwrap();
        let socket = runtime.block_on(async {
            let config = cluster.connection_config(ADMIN, "postgres");
            let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
            tokio::spawn(connection);
            client
                .batch_execute("CREATE DATABASE ledgerboard TEMPLATE template0 ENCODING 'UTF8'")
                .await
                .unwrap();
            let folder: String = client
                .query_one("SELECT current_setting('unix_socket_directories')", &[])
                .await
                .unwrap()
                .get(0);
            PathBuf::from(folder.trim_matches('"')).join(".s.PGSQL.5432")
        });
        let between = Between::stand_before(socket);
        let owner_url = cluster.url(ADMIN, "ledgerboard");
        let mut place =
            Self { _root: root, runtime, cluster: Some(cluster), between, owner_url, token: String::new() };
        let mut made =
            place.program(&["token", "--new", "--books", "Fernbank Workshop", "--began-on", "2023-01-01"]);
        let made = made.stderr(Stdio::inherit()).output().unwrap();
        assert!(made.status.success());
        place.token = String::from_utf8(made.stdout).unwrap().trim().to_owned();
        place
    }

    fn program(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerboard"));
        command.args(arguments).env("DATABASE_URL", self.between.url());
        command.env("LEDGERBOARD_OWNER_URL", &self.owner_url).env_remove("LEDGERBOARD_LISTEN");
        command
    }

    fn serve(&self) -> Serving {
        let mut command =
            self.program(&["serve", "--listen", "127.0.0.1:0", "--requests-per-minute", "1000000"]);
        let mut process = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let (_, address) = line.trim().split_once("listens on ").unwrap();
        let caller = Caller { address: address.to_owned(), token: self.token.clone() };
        Serving { process, caller }
    }

    fn count(&self, query: &str) -> i64 {
        self.runtime.block_on(async {
            let (client, connection) =
                tokio_postgres::connect(&self.owner_url, tokio_postgres::NoTls).await.unwrap();
            let driver = tokio::spawn(connection);
            let found = client.query_one(query, &[]).await.unwrap().get(0);
            drop(client);
            driver.await.unwrap().unwrap();
            found
        })
    }

    fn contributions(&self) -> i64 {
        self.count("SELECT count(*) FROM records WHERE kind = 'contribution'")
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        if let Some(cluster) = self.cluster.take() {
            self.runtime.block_on(cluster.stop()).unwrap();
        }
    }
}

struct Serving {
    process: Child,
    caller: Caller,
}

impl Serving {
    fn dies(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _gone_already = self.process.kill();
        let _reaped = self.process.wait();
    }
}

fn contribution(bank: &str) -> Value {
    json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" })
}

const ADDRESS: &str = "/v1/accounts/contributions";

/// Sends a write, kills the service once the database has said that it is committed, and says whether the caller was
/// left without an answer.
fn is_killed_in_the_window(place: &Place, serving: &mut Serving, key: Option<&str>, bank: &str) -> bool {
    let mut stream = wire::connect(&serving.caller.address);
    place.between.ask_that_it(IS_KEPT_BACK);
    stream.write_all(wire::post(&place.token, ADDRESS, key, &contribution(bank)).as_bytes()).unwrap();
    place.between.wait_for_the_commit();
    serving.dies();
    wire::hear(&mut stream).is_none()
}

/// The same, killed at any moment: committed or not, answered or not.
fn is_killed_any_time(place: &Place, serving: &mut Serving, key: &str, bank: &str, chance: &mut Chance) {
    let mut stream = wire::connect(&serving.caller.address);
    stream.write_all(wire::post(&place.token, ADDRESS, Some(key), &contribution(bank)).as_bytes()).unwrap();
    std::thread::sleep(Duration::from_micros(u64::try_from(chance.below(25_000)).unwrap()));
    serving.dies();
}

/// Kills the service that often, every fourth time at any moment, and asks again under the same key each time.
fn kills(trials: u64, seed: u64) {
    let place = Place::new();
    let mut serving = place.serve();
    let bank = serving.caller.has_account("bank");
    let mut chance = Chance::of(seed);
    let (mut in_the_window, mut before_the_commit, mut restarts) = (0, 0, Vec::new());
    for trial in 0..trials {
        let (key, before) = (format!("killed-{trial}"), place.contributions());
        let by_chance = trial % 4 == 3;
        if by_chance {
            is_killed_any_time(&place, &mut serving, &key, &bank, &mut chance);
        } else {
            assert!(is_killed_in_the_window(&place, &mut serving, Some(&key), &bank), "it was answered");
            in_the_window += 1;
        }
        // What the dead service had under way ends with its connections.
        let busy = "SELECT count(*) FROM pg_stat_activity WHERE usename = 'ledgerboard_service'";
        assert!(comes_true_within(Duration::from_secs(5), || place.count(busy) == 0));
        let written = place.contributions() - before;
        assert!(by_chance || written == 1, "it was committed before the kill");
        before_the_commit += u64::from(written == 0);
        let begun = Instant::now();
        serving = place.serve();
        restarts.push(begun.elapsed());
        let again = serving.caller.post_with_key(ADDRESS, &key, &contribution(&bank));
        assert_eq!(again.status, 201, "{}", again.text);
        assert_eq!(again.header("idempotency-replayed"), (written == 1).then_some("true"));
        assert_eq!(place.contributions() - before, 1, "one record");
        let id = again.json()["id"].as_str().unwrap().to_owned();
        assert_eq!(place.count(&format!("SELECT count(*) FROM entries WHERE record_id = '{id}'")), 1);
    }
    restarts.sort_unstable();
    println!(
        "seed {seed}: {trials} kills, {in_the_window} of them between commit and answer, {before_the_commit} before \
         the commit; one record each; the service was back within {:?} (median {:?})",
        restarts[restarts.len() - 1],
        restarts[restarts.len() / 2]
    );
    drop(serving);
    let verified = place.program(&["verify"]).output().unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stdout));
}

#[test]
fn a_service_killed_between_commit_and_answer_has_one_record_after_the_retry() {
    kills(8, 1);
}

/// `cargo test --release --test trade a_thousand_kills -- --ignored --nocapture`;
/// `LEDGERBOARD_TEST_SEED` and `LEDGERBOARD_TEST_KILLS` for others and more.
#[test]
#[ignore = "a command of its own: a thousand starts of the service"]
fn a_thousand_kills_between_commit_and_answer_double_nothing() {
    kills(wire::number("LEDGERBOARD_TEST_KILLS", 1000), wire::number("LEDGERBOARD_TEST_SEED", 7));
}

/// The control: without a key nobody can know that the first was kept.
#[test]
fn a_retry_without_a_key_after_a_kill_makes_a_second_record() {
    let place = Place::new();
    let mut serving = place.serve();
    let bank = serving.caller.has_account("bank");
    assert!(is_killed_in_the_window(&place, &mut serving, None, &bank));
    serving = place.serve();
    assert_eq!(serving.caller.post(ADDRESS, &contribution(&bank)).status, 201);
    assert_eq!(place.contributions(), 2);
}

/// The connection to the database is cut after the commit and before its acknowledgement: the service can not know
/// what became of it, says so, and tells the truth when it is asked again.
#[test]
fn an_acknowledgement_lost_on_its_way_from_the_database_is_found_again_under_the_key() {
    let place = Place::new();
    let serving = place.serve();
    let bank = serving.caller.has_account("bank");
    for trial in 0..20 {
        let (key, before) = (format!("lost-{trial}"), place.contributions());
        place.between.ask_that_it(IS_LOST);
        let told = serving.caller.post_with_key(ADDRESS, &key, &contribution(&bank));
        assert_eq!((told.status, told.header("retry-after")), (503, Some("1")), "{}", told.text);
        assert_eq!(told.json()["type"], "/problems/outcome-unknown");
        place.between.wait_for_the_commit();
        let again = serving.caller.post_with_key(ADDRESS, &key, &contribution(&bank));
        assert_eq!((again.status, again.header("idempotency-replayed")), (201, Some("true")));
        assert_eq!(place.contributions() - before, 1);
    }
}

/// Eight writes wait for their books, held by another session, when the service is told to stop: one in the database, the
/// others in the service's own queue.
#[test]
fn a_service_told_to_stop_answers_what_is_under_way_and_ends_within_five_seconds() {
    let place = Place::new();
    let mut serving = place.serve();
    let bank = serving.caller.has_account("bank");
    let (holder, driver) = place.runtime.block_on(async {
        let (client, connection) =
            tokio_postgres::connect(&place.owner_url, tokio_postgres::NoTls).await.unwrap();
        let driver = tokio::spawn(connection);
        client.batch_execute("BEGIN; SELECT FROM books FOR UPDATE").await.unwrap();
        (client, driver)
    });
    let mut streams: Vec<_> = (0..8).map(|_| wire::connect(&serving.caller.address)).collect();
    for (place_in_line, stream) in streams.iter_mut().enumerate() {
        let key = format!("last-{place_in_line}");
        stream
            .write_all(wire::post(&place.token, ADDRESS, Some(&key), &contribution(&bank)).as_bytes())
            .unwrap();
    }
    let waiting = "SELECT count(*) FROM pg_stat_activity WHERE usename = 'ledgerboard_service' \
                   AND wait_event_type = 'Lock'";
    assert!(comes_true_within(Duration::from_secs(5), || place.count(waiting) == 1));
    std::thread::sleep(Duration::from_millis(500));
    assert_eq!(place.count(waiting), 1, "one connection waits, not eight");
    let told = Instant::now();
    kill(Pid::from_raw(i32::try_from(serving.process.id()).unwrap()), Signal::SIGTERM).unwrap();
    std::thread::sleep(Duration::from_millis(1000));
    assert!(serving.process.try_wait().unwrap().is_none(), "it waits for what is under way");
    place.runtime.block_on(holder.batch_execute("COMMIT")).unwrap();
    for stream in &mut streams {
        assert_eq!(wire::hear(stream).unwrap().status, 201);
    }
    let ended = comes_true_within(Duration::from_secs(5), || serving.process.try_wait().unwrap().is_some());
    assert!(ended && told.elapsed() < Duration::from_secs(5), "{:?}", told.elapsed());
    assert!(serving.process.wait().unwrap().success());
    assert_eq!(place.contributions(), 8);
    drop(holder);
    place.runtime.block_on(driver).unwrap().unwrap();
}
