//! Backups: taken from a service that is in use, restored elsewhere, verified; bad files are refused and change nothing.
#![cfg(test)]

mod archive;
pub mod files;
mod versions;

use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::documents::files::jpeg;
use crate::world::{Caller, World};

/// A folder that the database's own user can pass through.
pub fn a_root() -> TempDir {
    let root = tempfile::tempdir().unwrap();
    std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    root
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

pub fn program(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(arguments)
        .env_remove("DATABASE_URL")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// Runs the program, which must succeed, and returns what it printed.
pub fn runs(arguments: &[&str]) -> String {
    let output = program(arguments);
    assert!(output.status.success(), "{arguments:?}: {}{}", text(&output.stdout), text(&output.stderr));
    text(&output.stdout)
}

/// Runs the program, which must fail, and returns its message.
pub fn is_refused(arguments: &[&str]) -> String {
    let output = program(arguments);
    assert!(!output.status.success(), "{arguments:?}: {}", text(&output.stdout));
    text(&output.stderr)
}

/// The service as a process of its own; stopped when dropped.
pub struct Served {
    child: Child,
    address: String,
}

impl Served {
    pub fn from(data_dir: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
            .args(["serve", "--listen", "127.0.0.1:0", "--requests-per-minute", "100000", "--data-dir"])
            .arg(data_dir)
            .env_remove("DATABASE_URL")
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().rsplit(' ').next().unwrap().to_owned();
        assert!(address.starts_with("http://"), "{line}");
        Self { child, address }
    }

    pub fn caller(&self, token: &str) -> Caller {
        Caller { address: self.address.clone(), token: token.to_owned() }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        kill(Pid::from_raw(i32::try_from(self.child.id()).unwrap()), Signal::SIGTERM).unwrap();
        self.child.wait().unwrap();
    }
}

pub fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The whole of it as a person does it: the service runs and is written to, the backup is made beside it, and another
/// data folder gets everything that was acknowledged before the backup began, with the token that opened the first.
#[test]
fn a_backup_taken_while_the_service_is_written_to_restores_verifies_and_opens_with_the_same_token() {
    let root = a_root();
    let (here, there) = (root.path().join("here"), root.path().join("there"));
    let file = root.path().join("books.tar.gz");
    let token = runs(&["token", "--data-dir", path(&here), "--new", "--books", "Fernbank Workshop"]);
    let served = Served::from(&here);
    let owner = served.caller(token.trim());
    let photo = owner.has_document("/v1/documents?name=till.jpg", "image/jpeg", &jpeg(30, 40, &[]));
    let (_, _, kept) = owner.fetches(&photo, &[]);
    let (acknowledged, stop) = (Arc::new(Mutex::new(Vec::new())), Arc::new(AtomicBool::new(false)));
    let writers: Vec<_> = (0..3)
        .map(|writer| {
            let (owner, acknowledged, stop) = (owner.clone(), Arc::clone(&acknowledged), Arc::clone(&stop));
            std::thread::spawn(move || {
                for number in 0.. {
                    if stop.load(Ordering::SeqCst) {
                        break;
                    }
                    let id = owner.has_party(&format!("Supplier {writer}-{number}"), "vendor");
                    acknowledged.lock().unwrap().push(id);
                }
            })
        })
        .collect();
    let minute = std::time::Duration::from_secs(60);
    assert!(crate::wire::comes_true_within(minute, || acknowledged.lock().unwrap().len() > 50));
    let before = acknowledged.lock().unwrap().clone();
    runs(&["backup", "--data-dir", path(&here), "--to", path(&file)]);
    let after = acknowledged.lock().unwrap().len();
    stop.store(true, Ordering::SeqCst);
    writers.into_iter().for_each(|writer| writer.join().unwrap());
    assert!(after > before.len(), "nothing was written while the backup was made, so this proves nothing");
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    drop(served);

    let said = runs(&["restore", "--data-dir", path(&there), "--from", path(&file)]);
    assert!(said.contains("restored 1 set(s) of books"), "{said}");
    let restored = Served::from(&there);
    let owner = restored.caller(token.trim());
    for id in &before {
        assert_eq!(
            owner.get(&format!("/v1/parties/{id}")).status,
            200,
            "{id} was acknowledged before the backup"
        );
    }
    assert_eq!(owner.fetches(&photo, &[]).2, kept);
    owner.has_party("Written after the restore", "vendor");
    drop(restored);
    // Neither may be restored over.
    let refused = is_refused(&["restore", "--data-dir", path(&there), "--from", path(&file)]);
    assert!(refused.contains("not empty") && refused.contains("--data-dir"), "{refused}");
    runs(&["verify", "--data-dir", path(&there)]);
}

/// A backup that forgets a table is worse than none, so what row security would hide is counted past it.
#[test]
fn the_role_for_backups_reads_every_table_and_changes_none() {
    let world = World::open();
    let tables = "SELECT relname::text FROM pg_class c WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' \
                  AND relname NOT LIKE '\\_\\_%' AND NOT (EXISTS (SELECT FROM pg_policy p WHERE p.polrelid = c.oid \
                  AND polname = 'backup_reads' AND polcmd = 'r' AND pg_get_expr(polqual, polrelid) = 'true') \
                  AND has_table_privilege('ledgerboard_backup', c.oid, 'SELECT'))";
    assert_eq!(world.texts(tables), Vec::<String>::new());
    let writes = "SELECT relname::text FROM pg_class c WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' \
                  AND has_table_privilege('ledgerboard_backup', c.oid, 'INSERT, UPDATE, DELETE, TRUNCATE')";
    assert_eq!(world.texts(writes), Vec::<String>::new());
    let sequences =
        "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'S'";
    assert_eq!(world.texts(sequences), Vec::<String>::new(), "a backup holds tables only");
    // Controls: a table without the policy is found, and a right too many.
    world.try_as_superuser("CREATE TABLE forgotten (books_id uuid)").unwrap();
    assert_eq!(world.texts(tables), ["forgotten"]);
    world.try_as_superuser("GRANT INSERT ON forgotten TO ledgerboard_backup").unwrap();
    assert_eq!(world.texts(writes), ["forgotten"]);
    world.try_as_superuser("DROP TABLE forgotten").unwrap();
}

#[test]
fn the_time_of_the_last_backup_is_in_the_metrics_and_on_the_readiness_page() {
    let world = World::open();
    world.owner().has_party("Brickyard Fixings", "vendor");
    let ready = || world.nobody().get("/health/ready");
    assert_eq!(ready().header("last-backup"), Some("never"));
    let folder = tempfile::tempdir().unwrap();
    let taken = world.backs_up_to(folder.path(), &[]);
    assert_eq!(ready().header("last-backup"), Some(taken.manifest.header.taken_at.to_rfc3339().as_str()));
    let metrics = crate::metrics::text_of(&world);
    let line =
        format!("ledgerboard_last_backup_timestamp_seconds {}", taken.manifest.header.taken_at.timestamp());
    assert!(metrics.contains(&line), "{metrics}");
}

/// What a subset of a document says must be in the whole; later versions may say more.
fn says(whole: &Value, part: &Value, place: &str) {
    match (whole, part) {
        (Value::Object(whole), Value::Object(part)) => {
            for (name, value) in part {
                says(whole.get(name).unwrap_or(&json!("missing")), value, &format!("{place}/{name}"));
            }
        }
        (Value::Array(whole), Value::Array(part)) => {
            assert_eq!(whole.len(), part.len(), "{place}");
            for (number, value) in part.iter().enumerate() {
                says(&whole[number], value, &format!("{place}/{number}"));
            }
        }
        _ => assert_eq!(whole, part, "{place}"),
    }
}

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/backups").join(name)
}

/// The demo's books as the version of 2026-11-25 made them, kept under `tests/backups`: whatever the schema becomes, they
/// restore, verify, and say what they said then.
#[test]
fn the_books_of_the_first_version_restore_and_say_what_they_said_then() {
    let root = a_root();
    let books = root.path().join("books");
    let file = fixture("demo-2026-11-25.tar.gz");
    runs(&["restore", "--data-dir", path(&books), "--from", path(&file)]);
    let token = runs(&["token", "--data-dir", path(&books), "--books", "Fernbank Workshop (demo)"]);
    let served = Served::from(&books);
    let owner = served.caller(token.trim());
    let then: Value =
        serde_json::from_slice(&std::fs::read(fixture("demo-2026-11-25.json")).unwrap()).unwrap();
    let statements = then["cost_statements"].as_array().unwrap();
    assert_eq!(statements.len(), 3);
    for was in statements {
        let address = match (was["episode"].as_str(), was["project"].as_str()) {
            (Some(episode), _) => format!("/v1/episodes/{episode}/statement"),
            (None, project) => format!("/v1/projects/{}/statement", project.unwrap()),
        };
        says(&owner.reads(&address), was, &address);
    }
    says(&owner.reads("/v1/tax-years/2025/summary"), &then["year_summary"], "summary");
}
