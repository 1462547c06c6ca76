//! New books from the command line, and the checks that they share with `POST /v1/books`.

use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::json;
use tempfile::TempDir;

use crate::world::{Caller, World};

/// A service with a data folder of its own; every command joins its database.
struct Service {
    _root: TempDir,
    data_dir: PathBuf,
    process: Child,
    address: String,
}

fn program(data_dir: &PathBuf, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerboard"));
    command.args(arguments).arg("--data-dir").arg(data_dir);
    command.env_remove("DATABASE_URL").env_remove("LEDGERBOARD_LISTEN");
    command
}

impl Service {
    fn start() -> Self {
        let root = tempfile::tempdir().unwrap();
        std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
        let data_dir = root.path().join("books");
        let mut process =
            program(&data_dir, &["serve", "--listen", "127.0.0.1:0"]).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().split_once("listens on ").unwrap().1.to_owned();
        Self { _root: root, data_dir, process, address }
    }

    fn token(&self, arguments: &[&str]) -> Output {
        program(&self.data_dir, &[&["token"], arguments].concat()).output().unwrap()
    }

    fn makes(&self, arguments: &[&str]) -> Caller {
        let made = self.token(arguments);
        assert!(made.status.success(), "{arguments:?}: {}", said(&made));
        let token = String::from_utf8(made.stdout).unwrap().trim().to_owned();
        Caller { address: self.address.clone(), token }
    }

    fn refuses(&self, arguments: &[&str]) -> String {
        let refused = self.token(arguments);
        assert!(!refused.status.success() && refused.stdout.is_empty(), "{arguments:?}");
        said(&refused)
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // An orderly stop, which takes the private PostgreSQL with it.
        kill(Pid::from_raw(i32::try_from(self.process.id()).unwrap()), Signal::SIGTERM).unwrap();
        let _stopped = self.process.wait();
    }
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn the_command_line_makes_new_books_only_when_it_is_asked_to() {
    let service = Service::start();
    assert!(service.refuses(&[]).contains("there are no books here yet: add --new"));
    assert!(service.refuses(&["--books", "Fernbank"]).contains("there are no books here yet: add --new"));
    let first = service.makes(&["--new", "--books", "Fernbank Workshop", "--began-on", "2025-01-01"]);
    let books = first.reads("/v1/books");
    assert_eq!((&books["name"], &books["began_on"]), (&json!("Fernbank Workshop"), &json!("2025-01-01")));

    let typo = service.refuses(&["--books", "Fernbank Workshp"]);
    assert!(typo.contains("\"Fernbank Workshp\"; the names are \"Fernbank Workshop\""), "{typo}");
    assert!(typo.contains("add --new"), "{typo}");
    for taken in ["Fernbank Workshop", " fernbank workshop"] {
        let refused = service.refuses(&["--new", "--books", taken]);
        assert!(refused.contains("there are books named \"Fernbank Workshop\" already"), "{refused}");
    }
    // The control: the right name opens the books that exist, and so does no name while there is only one.
    for arguments in [["--books", "Fernbank Workshop"].as_slice(), &[]] {
        assert_eq!(service.makes(arguments).reads("/v1/books")["id"], books["id"]);
    }

    let second = service.makes(
        &[
            &["--new", "--books", "Second", "--currency", "EUR", "--began-on", "2025-04-01"],
            ["--accounting-method", "accrual", "--materials-flow", "moving_average"].as_slice(),
            &["--materials-timing", "when_paid", "--time-zone", "europe/berlin"],
            &["--tax-profile", "us", "--fiscal-year-begins", "april"],
        ]
        .concat(),
    );
    let shown = second.reads("/v1/books");
    let chosen = json!({
        "name": "Second", "base_currency": "EUR", "began_on": "2025-04-01", "accounting_method": "accrual",
        "materials_flow": "moving_average", "materials_timing": "when_paid", "time_zone": "Europe/Berlin",
        "tax_profile": "us", "fiscal_year_begins": "april",
    });
    for (field, value) in chosen.as_object().unwrap() {
        assert_eq!(&shown[field], value, "{field}");
    }
    let which = service.refuses(&[]);
    assert!(which.contains("2 sets of books"), "{which}");
    assert!(which.contains("\"Fernbank Workshop\", \"Second\""), "{which}");
}

/// None of these needs a server: the data folder is a file, and no error mentions it.
#[test]
fn options_that_do_not_apply_or_are_not_on_their_list_are_refused_before_a_server_starts() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let refused = |arguments: &[&str]| {
        let output = program(&file.path().to_owned(), &[&["token"], arguments].concat()).output().unwrap();
        assert!(!output.status.success(), "{arguments:?}");
        said(&output)
    };
    for (option, value) in [
        ("--currency", "USD"),
        ("--began-on", "2025-01-01"),
        ("--accounting-method", "cash"),
        ("--materials-flow", "fifo"),
        ("--materials-timing", "when_used"),
        ("--time-zone", "UTC"),
        ("--tax-profile", "us"),
        ("--fiscal-year-begins", "july"),
    ] {
        let told = refused(&["--books", "Fernbank Workshop", option, value]);
        assert!(told.contains(&format!("{option} can be chosen for new books only")), "{told}");
        let told = refused(&["--new", "--books", "Fernbank Workshop", option, "none of these"]);
        assert!(told.contains(option), "{told}");
        assert!(!told.contains("can be chosen for new books only"), "{told}");
    }
    let told = refused(&["--new", "--books", "Second", "--time-zone", "Chicago"]);
    assert!(told.contains("--time-zone: \"Chicago\" is not a name in the IANA time zone database"), "{told}");
    assert!(told.contains("give America/Chicago"), "{told}");
    let told = refused(&["--new", "--books", "Second", "--materials-flow", "lifo"]);
    assert!(told.contains("fifo, moving_average"), "{told}");
    // ISO 4217 list one of 2026-01-01: the lev is withdrawn from that day on.
    let told = refused(&["--new", "--books", "Second", "--currency", "BGN", "--began-on", "2026-01-01"]);
    assert!(told.contains("--currency: BGN was withdrawn"), "{told}");
    assert!(refused(&["--new", "--books", ""]).contains("--books: this text is empty"));
    assert!(refused(&["--new"]).contains("--books"), "new books need a name");
    // The control: with good options it is the data folder that is in the way.
    let told = refused(&["--new", "--books", "Second", "--time-zone", "America/Chicago"]);
    assert!(!told.contains("--time-zone"), "{told}");
}

#[test]
fn books_made_over_http_take_their_choices_from_the_same_lists() {
    let world = World::open();
    let owner = world.owner();
    let new = |field: &str, value: &str| {
        let mut body = json!({ "name": "Second", "base_currency": "EUR", "began_on": "2025-01-01" });
        body[field] = json!(value);
        body
    };
    for (field, value, says) in [
        ("time_zone", "America/Chicagoo", "not a name in the IANA time zone database"),
        ("tax_profile", "mars", "not one of the choices"),
        ("accounting_method", "barter", "not one of the choices"),
        ("materials_flow", "lifo", "not one of the choices"),
        ("materials_timing", "never", "not one of the choices"),
        ("fiscal_year_begins", "smarch", "not one of the choices"),
    ] {
        let refused = owner.is_refused(422, "/v1/books", new(field, value));
        assert!(refused.error_at(&format!("/{field}")).contains(says), "{field}: {}", refused.text);
    }
    assert_eq!(world.count("SELECT count(*) FROM books WHERE name = 'Second'"), 0);
    let made = owner.records("/v1/books", new("time_zone", "america/chicago"));
    let second = Caller { token: made["token"].as_str().unwrap().to_owned(), ..owner.clone() };
    assert_eq!(second.reads("/v1/books")["time_zone"], "America/Chicago");
}
