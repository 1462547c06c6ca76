//! Point-in-time recovery: the log is archived while the service works, and the books come back as they were at a moment.

use std::path::Path;
use std::time::Duration;

use chrono::{DateTime, SecondsFormat, Utc};

use super::{Served, a_root, fixture, is_refused, path, program, runs, text};
use crate::wire::comes_true_within;
use crate::world::Caller;

/// A moment that lies after everything acknowledged so far and before everything sent from now on.
fn now_between() -> DateTime<Utc> {
    let pause = || std::thread::sleep(Duration::from_millis(20));
    pause();
    let at = Utc::now();
    pause();
    at
}

fn spelled(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Micros, true)
}

fn has(owner: &Caller, party: &str) -> bool {
    owner.get(&format!("/v1/parties/{party}")).status == 200
}

fn entries(folder: &Path, start: &str) -> usize {
    let names = std::fs::read_dir(folder).unwrap().flatten();
    names.filter(|entry| entry.file_name().to_str().unwrap().starts_with(start)).count()
}

#[test]
fn books_are_recovered_as_they_were_at_a_moment_and_at_the_latest() {
    let root = a_root();
    let [here, archive] = ["here", "archive of the log"].map(|name| root.path().join(name));
    let place = ["--data-dir", path(&here)];
    let token = runs(&[&["token", "--new", "--books", "Fernbank Workshop"][..], &place].concat());
    let served = Served::from(&here);
    let owner = served.caller(token.trim());
    let in_base = owner.has_party("Brickyard Fixings", "vendor");
    let too_early = now_between();
    let said = runs(&[&["archive", "--to", path(&archive)][..], &place].concat());
    assert!(said.contains("can be recovered"), "{said}");
    // PostgreSQL was restarted; the service finds it again by itself.
    let ready = || owner.get("/health/ready").status == 204;
    assert!(comes_true_within(Duration::from_secs(30), ready), "the service does not go on");
    let before = owner.has_party("Lathe and Plaster Supply", "vendor");
    let moment = now_between();
    let after = owner.has_party("Written by mistake", "vendor");
    // The second base backup ends the piece of the log that these changes are in.
    let again = runs(&[&["archive", "--to", path(&archive)][..], &place].concat());
    assert!(again.contains("base-"), "{again}");
    assert!(ready(), "archiving was on already, so nothing is restarted");
    assert_eq!(entries(&archive, "base-"), 2);

    let recovered = |name: &str, until: &str| {
        let there = root.path().join(name);
        let output =
            program(&["restore", "--from", path(&archive), "--until", until, "--data-dir", path(&there)]);
        assert!(output.status.success(), "{}{}", text(&output.stdout), text(&output.stderr));
        assert!(text(&output.stdout).contains("recovered 1 set(s) of books"), "{}", text(&output.stdout));
        let served = Served::from(&there);
        let owner = served.caller(token.trim());
        let found = [&in_base, &before, &after].map(|party| has(&owner, party));
        // They are books like any others: changes are taken.
        owner.has_party("Written after the recovery", "vendor");
        drop(served);
        (found, text(&output.stderr))
    };
    let (found, said) = recovered("at the moment", &spelled(moment));
    assert_eq!(found, [true, true, false], "{said}");
    assert!(!said.contains("nothing later"), "{said}");
    let (found, _) = recovered("latest", "latest");
    assert_eq!(found, [true; 3]);
    // A moment after everything that was archived: all of it, and a warning.
    let (found, said) = recovered("later than all", &spelled(Utc::now() + Duration::from_secs(3600)));
    assert_eq!(found, [true; 3]);
    assert!(said.contains("the archive holds nothing later"), "{said}");

    let never = root.path().join("never");
    let early = spelled(too_early);
    let said =
        is_refused(&["restore", "--from", path(&archive), "--until", &early, "--data-dir", path(&never)]);
    assert!(said.contains("no base backup of") && said.contains("its first is of"), "{said}");
    assert!(!never.exists(), "a refusal leaves nothing behind");
    let latest = ["restore", "--from", path(&archive), "--until", "latest", "--data-dir", path(&here)];
    let said = is_refused(&latest);
    assert!(said.contains("there are books in") && said.contains("--data-dir"), "{said}");

    // Only what recoveries to the newest base backup and later need is kept.
    let pieces = entries(&archive.join("wal"), "0");
    runs(&[&["archive", "--to", path(&archive), "--keep", "1"][..], &place].concat());
    assert_eq!(entries(&archive, "base-"), 1);
    assert!(entries(&archive.join("wal"), "0") < pieces + 2, "no piece was deleted");
    let (found, _) = recovered("after the cut", "latest");
    assert_eq!(found, [true; 3]);
    runs(&[&["archive", "--off"][..], &place].concat());
    assert!(comes_true_within(Duration::from_secs(30), ready));
    let said = runs(&[&["archive", "--off"][..], &place].concat());
    assert!(said.contains("nothing to turn off"), "{said}");
    drop(served);
}

#[test]
fn an_archive_of_other_books_and_a_place_that_is_no_archive_are_refused_in_words() {
    let root = a_root();
    let [first, second, archive, there] =
        ["first", "second", "archive", "there"].map(|name| root.path().join(name));
    for books in [&first, &second] {
        runs(&["token", "--new", "--books", "Fernbank Workshop", "--data-dir", path(books)]);
    }
    runs(&["archive", "--to", path(&archive), "--data-dir", path(&first)]);
    let said = is_refused(&["archive", "--to", path(&archive), "--data-dir", path(&second)]);
    assert!(said.contains("archive of another data folder"), "{said}");
    let place = ["--data-dir", path(&there)];
    let refused = |arguments: &[&str], part: &str| {
        let said = is_refused(&[arguments, &place].concat());
        assert!(said.contains(part), "{said}");
    };
    refused(&["restore", "--from", path(&archive)], "--until 2026-12-01T10:00:00Z");
    refused(&["restore", "--from", path(&first), "--until", "latest"], "is not an archive");
    let backup = fixture("demo-2026-11-25.tar.gz");
    refused(&["restore", "--from", path(&backup), "--until", "latest"], "a backup holds one moment");
    refused(
        &["restore", "--from", path(&archive), "--until", "yesterday"],
        "2026-12-01T10:00:00Z, or latest",
    );
    refused(&["archive"], "--to");
    let elsewhere = ["--database-url", "postgres://owner@127.0.0.1/books"];
    refused(&[&["archive", "--to", path(&archive)][..], &elsewhere].concat(), "DATABASE_URL");
    // A base backup that was killed halfway is not one to start from.
    let base = std::fs::read_dir(&archive).unwrap().flatten().map(|entry| entry.path());
    let base = base.into_iter().find(|path| path.join("base.tar.gz").exists()).unwrap();
    std::fs::rename(&base, archive.join(".base.new-1")).unwrap();
    refused(&["restore", "--from", path(&archive), "--until", "latest"], "no finished base backup");
    assert!(!there.exists());
    // The control: finished, it is.
    std::fs::rename(archive.join(".base.new-1"), &base).unwrap();
    runs(&[&["restore", "--from", path(&archive), "--until", "latest"][..], &place].concat());
    // A damaged one leaves no cluster.
    std::fs::write(base.join("base.tar.gz"), "cut").unwrap();
    let damaged = root.path().join("damaged");
    let said =
        is_refused(&["restore", "--from", path(&archive), "--until", "latest", "--data-dir", path(&damaged)]);
    assert!(said.contains("tar failed"), "{said}");
    assert_eq!(entries(&damaged, "postgres-"), 0);
}
