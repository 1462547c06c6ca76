//! The first command of the README, on the embedded default: the program itself, its own PostgreSQL, real HTTP.
#![cfg(test)]

mod life;

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use ledgerboard::store::cluster::{ADMIN, Cluster, ClusterSettings, Durability};
use serde_json::Value;
use tempfile::TempDir;

fn a_folder(name: &str) -> (TempDir, PathBuf) {
    let root = tempfile::tempdir().unwrap();
    std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    let data_dir = root.path().join(name);
    (root, data_dir)
}

fn program(data_dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(arguments)
        .arg("--data-dir")
        .arg(data_dir)
        .env_remove("DATABASE_URL")
        // As somebody has it who set it for the service; no command of the demo minds.
        .env("LEDGERBOARD_LISTEN", "127.0.0.1:0")
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn demo(data_dir: &Path) -> Value {
    let output = program(data_dir, &["demo", "--once", "--format", "json"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

async fn as_superuser(data_dir: &Path, statement: &str) {
    in_session(data_dir, async |client| client.batch_execute(statement).await.unwrap()).await;
}

/// The one text that a query gives.
async fn in_database(data_dir: &Path, query: &str) -> String {
    in_session(data_dir, async |client| client.query_one(query, &[]).await.unwrap().get(0)).await
}

async fn in_session<T>(data_dir: &Path, work: impl AsyncFnOnce(&tokio_postgres::Client) -> T) -> T {
    let settings = ClusterSettings {
        data_dir: data_dir.to_owned(),
        pg_bin: std::env::var_os("LEDGERBOARD_PG_BIN").map(PathBuf::from),
        durability: Durability::Full,
    };
    let cluster = Cluster::start(&settings).await.unwrap();
    let config = cluster.connection_config(ADMIN, "ledgerboard");
    let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
    let driver = tokio::spawn(connection);
    let done = work(&client).await;
    drop(client);
    driver.await.unwrap().unwrap();
    cluster.stop().await.unwrap();
    done
}

/// How many records there are in books that may still be in the making; it starts nothing.
async fn records_so_far(data_dir: &Path) -> i64 {
    let mut config = tokio_postgres::Config::new();
    config.host_path(data_dir.join("run")).user(ADMIN).dbname("ledgerboard");
    let Ok((client, connection)) = config.connect(tokio_postgres::NoTls).await else { return 0 };
    let driver = tokio::spawn(connection);
    let found = client.query_one("SELECT count(*) FROM records", &[]).await;
    drop(client);
    driver.await.unwrap().unwrap();
    found.map_or(0, |row| row.get(0))
}

/// A new private server in that folder, with an empty database of the name that the program looks for.
pub async fn on_a_private_server(data_dir: &Path, work: impl AsyncFnOnce(String)) {
    let settings = ClusterSettings {
        data_dir: data_dir.to_owned(),
        pg_bin: std::env::var_os("LEDGERBOARD_PG_BIN").map(PathBuf::from),
        durability: Durability::Full,
    };
    let cluster = Cluster::start(&settings).await.unwrap();
    let config = cluster.connection_config(ADMIN, "postgres");
    let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
    tokio::spawn(connection);
    client.batch_execute("CREATE DATABASE ledgerboard TEMPLATE template0 ENCODING 'UTF8'").await.unwrap();
    drop(client);
    work(cluster.url(ADMIN, "ledgerboard")).await;
    cluster.stop().await.unwrap();
}

/// From a folder with a space in its name, twice, with verify in between and after a hand in the journal.
#[tokio::test(flavor = "multi_thread")]
async fn the_demo_twice_gives_the_same_figures_and_verify_names_a_row_changed_by_hand() {
    let (_root, data_dir) = a_folder("my books");
    let first = demo(&data_dir);
    assert_eq!(first["cost_statements"].as_array().unwrap().len(), 3);
    assert_eq!(first["cost_statements"][0]["reconciles"], true);
    assert_eq!(first["cost_statements"][1]["reconciles"], true);
    let verified = program(&data_dir, &["verify"]);
    assert!(verified.status.success(), "{}{}", text(&verified.stdout), text(&verified.stderr));
    assert_eq!(demo(&data_dir), first, "a second run doubles nothing");
    only_the_chosen_books_are_verified(&data_dir);
    let hand = "ALTER TABLE postings DISABLE TRIGGER USER; \
                UPDATE postings SET amount = amount + 1 WHERE entry_number = 7 AND line = 0; \
                ALTER TABLE postings ENABLE TRIGGER USER;";
    as_superuser(&data_dir, hand).await;
    let verified = program(&data_dir, &["verify"]);
    assert_eq!(verified.status.code(), Some(1));
    let said = text(&verified.stdout);
    assert!(said.contains("entry 7"), "{said}");
    // Without taking the triggers away, not even the owner changes a row.
    let settings_off = "DO $$ BEGIN UPDATE postings SET amount = amount - 1 WHERE entry_number = 7 AND line = 0; \
                        RAISE 'changed'; EXCEPTION WHEN restrict_violation THEN NULL; END $$;";
    as_superuser(&data_dir, settings_off).await;
}

fn only_the_chosen_books_are_verified(data_dir: &Path) {
    let verified = |arguments: &[&str]| {
        let output = program(data_dir, &[&["verify", "--format", "json"], arguments].concat());
        let (stdout, stderr) = (text(&output.stdout), text(&output.stderr));
        assert_eq!(output.status.success(), !stdout.is_empty(), "{stdout}{stderr}");
        (serde_json::from_str::<Value>(&stdout).unwrap_or_default()["books"].clone(), stderr)
    };
    let (all, _) = verified(&["--jobs", "3"]);
    let id = all[0]["books"].as_str().unwrap();
    assert_eq!(verified(&["--books", "Fernbank Workshop (demo)"]).0, all);
    assert_eq!(verified(&["--books-id", id]).0, all);
    let (_, said) = verified(&["--books", "Fernbank"]);
    assert!(said.contains("no books on this server are called \"Fernbank\""), "{said}");
    let (_, said) = verified(&["--books-id", "0192a1b2-0000-7000-8000-000000000001"]);
    assert!(said.contains("no books on this server have the id 0192a1b2"), "{said}");
}

#[test]
fn the_demo_reads_as_tables_with_the_caution_on_them() {
    let (_root, data_dir) = a_folder("books");
    let output = program(&data_dir, &["demo", "--once"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let shown = text(&output.stdout);
    for expected in ["Shelves from floor to ceiling", "materials", "Own hours: 31.50", "licensed preparer"] {
        assert!(shown.contains(expected), "{expected} is missing in\n{shown}");
    }
}
