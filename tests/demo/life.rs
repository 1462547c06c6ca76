//! The demo from its first run to its removal: later runs, interrupted runs, its token.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::Value;

use super::{a_folder, as_superuser, demo, in_database, program, text};

const LIVE_TOKENS: &str = "SELECT count(*)::text FROM tokens WHERE revoked_at IS NULL";
const RECORDS: &str = "SELECT count(*)::text FROM records";

fn started(data_dir: &Path, arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(arguments)
        .arg("--data-dir")
        .arg(data_dir)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

fn stopped(mut child: Child, how: Signal) {
    kill(Pid::from_raw(child.id().try_into().unwrap()), how).unwrap();
    child.wait().unwrap();
}

/// A demo that serves: the process, the API's address and the token that it printed.
fn serving(data_dir: &Path) -> (Child, String, String) {
    let mut child = started(data_dir, &["demo", "--listen", "127.0.0.1:0"]);
    let (mut address, mut token) = (None, None);
    for line in BufReader::new(child.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        if let Some(found) = line.strip_prefix("The API listens on ") {
            address = found.split("/v1;").next().map(str::to_owned);
        }
        if line.starts_with("A token for it") {
            token = line.rsplit(' ').next().map(str::to_owned);
        }
        if line.starts_with("Stop with Ctrl-C") {
            break;
        }
    }
    (child, address.unwrap(), token.unwrap())
}

fn answer(address: &str, path: &str, token: &str) -> (u16, Value) {
    let agent = ureq::Agent::config_builder().http_status_as_error(false).build().new_agent();
    let mut answer = agent
        .get(format!("{address}{path}"))
        .header("Authorization", format!("Bearer {token}"))
        .call()
        .unwrap();
    let body = answer.body_mut().read_to_string().unwrap();
    (answer.status().as_u16(), serde_json::from_str(&body).unwrap())
}

/// `serve` forgets the answers to idempotency keys after a week.
#[tokio::test(flavor = "multi_thread")]
async fn a_demo_whose_keys_are_forgotten_is_recognized_and_loads_nothing_again() {
    let (_root, data_dir) = a_folder("books");
    let first = demo(&data_dir);
    let records = in_database(&data_dir, RECORDS).await;
    let forget = "ALTER TABLE idempotency_answers DISABLE TRIGGER USER; DELETE FROM idempotency_answers;";
    as_superuser(&data_dir, forget).await;
    assert_eq!(demo(&data_dir), first);
    assert_eq!(in_database(&data_dir, RECORDS).await, records);
    assert_eq!(in_database(&data_dir, "SELECT count(*)::text FROM idempotency_answers").await, "0");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_demo_that_is_killed_while_it_loads_finishes_in_the_next_run() {
    let (_root, data_dir) = a_folder("books");
    let child = started(&data_dir, &["demo", "--once"]);
    let begun = Instant::now();
    while !data_dir.join("postgres.log").exists() {
        assert!(begun.elapsed() < Duration::from_secs(120), "no server was started");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let mut before = 0;
    while before < 10 {
        assert!(begun.elapsed() < Duration::from_secs(120), "nothing was loaded");
        tokio::time::sleep(Duration::from_millis(10)).await;
        before = super::records_so_far(&data_dir).await;
    }
    stopped(child, Signal::SIGKILL);
    let before: u32 = in_database(&data_dir, RECORDS).await.parse().unwrap();
    let whole = demo(&data_dir);
    let after: u32 = in_database(&data_dir, RECORDS).await.parse().unwrap();
    assert!(before < after, "the kill came after the end: {before} of {after} records");
    assert_eq!(demo(&data_dir), whole);
    assert_eq!(in_database(&data_dir, RECORDS).await, after.to_string());
    assert_eq!(in_database(&data_dir, "SELECT count(*)::text FROM books").await, "1");

    // Long after the kill, the keys of what was loaded are gone: sending it again would double it.
    let (_root, data_dir) = a_folder("books");
    demo(&data_dir);
    let older = "ALTER TABLE audit_lines DISABLE TRIGGER USER; \
                 DELETE FROM audit_lines WHERE id IN (SELECT id FROM audit_lines ORDER BY at DESC LIMIT 30); \
                 UPDATE audit_lines SET at = at - interval '7 days';";
    as_superuser(&data_dir, older).await;
    let refused = program(&data_dir, &["demo", "--once"]);
    assert!(!refused.status.success());
    assert!(text(&refused.stderr).contains("ledgerboard demo --remove"), "{}", text(&refused.stderr));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demos_token_ends_with_its_run_and_within_a_day_otherwise() {
    let (_root, data_dir) = a_folder("books");
    demo(&data_dir);
    assert_eq!(in_database(&data_dir, LIVE_TOKENS).await, "0");
    let (child, address, token) = serving(&data_dir);
    let (status, listed) = answer(&address, "/v1/tokens", &token);
    assert_eq!(status, 200, "{listed}");
    let live: Vec<_> =
        listed["items"].as_array().unwrap().iter().filter(|one| one["revoked_at"].is_null()).collect();
    assert_eq!(live.len(), 1, "{listed}");
    let ends: chrono::DateTime<chrono::Utc> = live[0]["expires_at"].as_str().unwrap().parse().unwrap();
    assert!(ends <= chrono::Utc::now() + chrono::TimeDelta::hours(24), "{ends}");
    let agent =
        ureq::Agent::config_builder().max_redirects(0).max_redirects_will_error(false).build().new_agent();
    let docs = agent.get(format!("{address}/docs")).call().unwrap();
    assert_eq!((docs.status().as_u16(), docs.headers()["location"].to_str().unwrap()), (307, "/docs/"));
    assert_eq!(agent.get(format!("{address}/docs/")).call().unwrap().status().as_u16(), 200);
    stopped(child, Signal::SIGINT);
    assert_eq!(in_database(&data_dir, LIVE_TOKENS).await, "0");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_demo_is_removed_only_where_nothing_else_is_and_nobody_uses_it() {
    let (_root, data_dir) = a_folder("books");
    let removal = || {
        let output = program(&data_dir, &["demo", "--remove"]);
        (output.status.success(), text(&output.stdout) + &text(&output.stderr))
    };
    let (done, said) = removal();
    assert!(done && said.starts_with("There is no demo in "), "{said}");

    let (child, _, _) = serving(&data_dir);
    let (done, said) = removal();
    assert!(!done && said.contains("still runs"), "{said}");
    stopped(child, Signal::SIGINT);

    as_superuser(&data_dir, "UPDATE books SET mark = NULL, name = 'My workshop'").await;
    let (done, said) = removal();
    assert!(!done && said.contains("\"My workshop\""), "{said}");
    as_superuser(&data_dir, "UPDATE books SET mark = 'demo'").await;

    std::fs::write(data_dir.join("notes.txt"), "mine").unwrap();
    let (done, said) = removal();
    assert!(done && said.contains("also holds notes.txt"), "{said}");
    let left: Vec<_> =
        std::fs::read_dir(&data_dir).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["notes.txt"]);

    std::fs::remove_file(data_dir.join("notes.txt")).unwrap();
    demo(&data_dir);
    let (done, said) = removal();
    assert!(done && !data_dir.exists(), "{said}");
}
