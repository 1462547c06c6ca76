//! The commands as a person gives them, and an import that is killed.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use ledgerboard::store::cluster::ADMIN;
use serde_json::json;
use tempfile::TempDir;

use super::WAITING;
use crate::backup::{Served, a_root, is_refused, path, program, runs, text};
use crate::wire::comes_true_within;

/// Somebody past every fence at the private server of a data folder, which runs.
struct Hand {
    runtime: tokio::runtime::Runtime,
    client: tokio_postgres::Client,
}

impl Hand {
    fn at(data_dir: &Path) -> Self {
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let client = runtime.block_on(async {
            let mut config = tokio_postgres::Config::new();
            config.host_path(data_dir.join("run")).user(ADMIN).dbname("ledgerboard");
            let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
            tokio::spawn(connection);
            client
        });
        Self { runtime, client }
    }

    fn does(&self, statement: &str) {
        self.runtime.block_on(self.client.batch_execute(statement)).unwrap();
    }

    fn counts(&self, query: &str) -> i64 {
        self.runtime.block_on(self.client.query_one(query, &[])).unwrap().get(0)
    }
}

/// What the program said: whether it went well, its answer, and its words on the side.
fn books(data_dir: &Path, arguments: &[&str]) -> (bool, String, String) {
    let output = program(&[&["books", "--data-dir", path(data_dir)], arguments].concat());
    (output.status.success(), text(&output.stdout), text(&output.stderr))
}

fn importing(data_dir: &Path, file: &Path) -> Child {
    Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(["books", "--data-dir", path(data_dir), "import", "--from", path(file)])
        .env_remove("DATABASE_URL")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Makes books in a data folder, new or not, and returns their token.
fn made(data_dir: &Path, name: &str) -> String {
    runs(&["token", "--data-dir", path(data_dir), "--new", "--books", name]).trim().to_owned()
}

/// Books with a supplier in a data folder, and the file to move them by.
struct Here {
    root: TempDir,
    folder: PathBuf,
    there: PathBuf,
    file: PathBuf,
    id: String,
    token: String,
}

impl Here {
    fn new() -> Self {
        let root = a_root();
        let (folder, there) = (root.path().join("here"), root.path().join("there"));
        let file = root.path().join("books.tar.gz");
        let token = made(&folder, "Fernbank Workshop");
        let (_, listed, _) = books(&folder, &["list"]);
        let id = listed.split_whitespace().next().unwrap().to_owned();
        Served::from(&folder).caller(&token).has_party("Brickyard Fixings", "vendor");
        Self { root, folder, there, file, id, token }
    }

    fn exports(&self, to: &Path) -> (bool, String, String) {
        books(&self.folder, &["export", "--books-id", &self.id, "--to", path(to)])
    }

    fn marks(&self) {
        let address = "https://books-2.example";
        let (done, _, said) = books(&self.folder, &["moved", "--books-id", &self.id, "--to", address]);
        assert!(done, "{said}");
    }
}

#[test]
fn each_step_of_a_move_says_what_was_done_and_what_comes_next() {
    let here = Here::new();
    let (id, folder, there) = (&here.id, &here.folder, &here.there);
    let nobody = "0192a1b2-0000-7000-8000-000000000001";
    let (done, _, said) = books(folder, &["export", "--books-id", nobody, "--to", path(&here.file)]);
    assert!(!done && said.contains(nobody) && said.contains(id) && said.contains("Fernbank"), "{said}");
    let (done, _, said) = here.exports(here.root.path());
    assert!(!done && said.contains("is a folder"), "{said}");
    let early = here.root.path().join("early.tar.gz");
    let (done, told, said) = here.exports(&early);
    assert!(done && told.contains("last entry 0, SHA-256"), "{told}{said}");
    assert!(said.contains("warning") && said.contains(&format!("books moved --books-id {id}")), "{said}");
    let (done, _, said) = here.exports(&early);
    assert!(!done && said.contains("exists already"), "{said}");
    here.marks();
    let (done, told, said) = here.exports(&here.file);
    assert!(done && told.contains("next: ") && told.contains("https://books-2.example"), "{told}{said}");
    assert!(!said.contains("warning"), "the control: {said}");

    let refused = is_refused(&["restore", "--data-dir", path(there), "--from", path(&here.file)]);
    assert!(refused.contains("books import") && !there.exists(), "{refused}");
    let (done, told, said) = books(there, &["import", "--from", path(&here.file)]);
    assert!(done && told.contains("imported Fernbank Workshop") && told.contains(id), "{told}{said}");
    assert!(told.contains("verified") && told.contains("last entry 0, SHA-256"), "{told}");
    assert!(told.contains("next: send their clients") && !told.contains("is missing here"), "{told}");
    let (done, _, said) = books(there, &["import", "--from", path(&early)]);
    assert!(!done && said.contains("are on this server already"), "{said}");
    let third = here.root.path().join("third");
    let (done, told, said) = books(&third, &["import", "--from", path(&early)]);
    assert!(done && told.contains("is missing here") && told.contains("books moved"), "{told}{said}");
}

/// Killed where it can do the most harm, once with every row written and once with everything verified.
#[test]
fn an_import_that_is_killed_leaves_nothing_and_goes_well_the_next_time() {
    let here = Here::new();
    here.marks();
    assert!(here.exports(&here.file).0);
    let there = &here.there;
    let neighbor = made(there, "Next door");
    let new = Served::from(there);
    let (neighbor, owner) = (new.caller(&neighbor), new.caller(&here.token));
    let hand = Hand::at(there);
    hand.does(
        "CREATE FUNCTION hold() RETURNS trigger LANGUAGE plpgsql AS \
         $$ BEGIN PERFORM pg_advisory_xact_lock(77); RETURN NEW; END $$",
    );
    let points = [
        "CREATE CONSTRAINT TRIGGER hold AFTER INSERT ON books DEFERRABLE INITIALLY DEFERRED FOR EACH ROW \
         EXECUTE FUNCTION hold()",
        "CREATE TRIGGER hold BEFORE INSERT ON audit_lines FOR EACH ROW \
         WHEN (NEW.action = 'ledgerboard books import' AND NOT books_are_loaded()) EXECUTE FUNCTION hold()",
    ];
    for (hold, table) in points.into_iter().zip(["books", "audit_lines"]) {
        hand.does(hold);
        hand.does("SELECT pg_advisory_lock(77)");
        let mut import = importing(there, &here.file);
        assert!(comes_true_within(Duration::from_secs(60), || hand.counts(WAITING) == 1), "{hold}");
        assert_eq!(owner.get("/v1/books").status, 401);
        neighbor.has_party("Written meanwhile", "vendor");
        import.kill().unwrap();
        import.wait().unwrap();
        hand.does("SELECT pg_advisory_unlock(77)");
        let gone =
            "SELECT count(*) FROM pg_stat_activity WHERE usename = current_user AND pid <> pg_backend_pid()";
        assert!(comes_true_within(Duration::from_secs(20), || hand.counts(gone) == 0));
        assert_eq!(owner.get("/v1/books").status, 401);
        let (_, listed, _) = books(there, &["list"]);
        assert!(!listed.contains(&here.id) && listed.contains("Next door"), "{listed}");
        let parties = "SELECT count(*) FROM parties WHERE name = 'Brickyard Fixings'";
        assert_eq!(hand.counts(parties), 0);
        hand.does(&format!("DROP TRIGGER hold ON {table}"));
    }
    // The control: the same file, and nobody kills it.
    assert!(importing(there, &here.file).wait().unwrap().success());
    assert!(owner.reads("/v1/parties").to_string().contains("Brickyard Fixings"));
    owner.records("/v1/projects", json!({ "name": "The attic", "place": "own_home" }));
    assert!(owner.reads("/v1/audit").to_string().contains("ledgerboard books import"));
    drop(hand);
    runs(&["verify", "--data-dir", path(there)]);
}
