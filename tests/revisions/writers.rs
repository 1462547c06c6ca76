//! Many writers on one note: nobody's change is lost while each says which version it rests on.

use std::sync::Barrier;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use serde_json::json;

use crate::wire::number;
use crate::world::{Caller, Reply, World};

const WRITERS: u32 = 50;

/// How a writer comes to the tag it sends.
#[derive(Clone, Copy, PartialEq)]
enum Tag {
    /// That of the read its sum rests on.
    OfTheRead,
    /// A fresh one, whatever it read before: the check of the version is as good as left out.
    Fresh,
}

/// How many changes each writer makes; a hundred in the long form.
fn each() -> u32 {
    u32::try_from(number("LEDGERBOARD_TEST_CHANGES", 3)).unwrap()
}

fn reads_when_it_can(writer: &Caller, path: &str) -> Reply {
    loop {
        let read = writer.get(path);
        match read.status {
            200 => break read,
            429 | 503 => std::thread::sleep(Duration::from_millis(100)),
            other => panic!("{other}: {}", read.text),
        }
    }
}

/// Counts the note up, so many times, beginning anew wherever somebody else was faster; says how often that was.
fn counts_up(writer: &Caller, path: &str, tag: Tag, begin: &Barrier) -> u32 {
    let mut late = 0;
    begin.wait();
    for _ in 0..each() {
        for wait in 0.. {
            let read = reads_when_it_can(writer, path);
            let counted: u32 = read.json()["record"]["note"].as_str().unwrap().parse().unwrap();
            let seen = match tag {
                Tag::OfTheRead => read,
                Tag::Fresh => reads_when_it_can(writer, path),
            };
            let change = json!({ "note": (counted + 1).to_string() });
            let reply = writer.patch(path, seen.header("etag").unwrap(), &change);
            match reply.status {
                200 if reply.json()["recorded"] == true => break,
                // Somebody wrote the very same note between the two reads: this one is lost, too.
                200 if tag == Tag::Fresh => break,
                // Longer each time, or fifty writers ask most of the time for nothing.
                412 => {
                    late += 1;
                    std::thread::sleep(Duration::from_millis(20 * wait));
                }
                // Nothing was written: too much was under way. On a busy machine that is most of the time.
                429 | 503 => std::thread::sleep(Duration::from_millis(100)),
                other => panic!("{other}: {}", reply.text),
            }
        }
    }
    late
}

/// The note after all writers are done, its version, and how often a writer was told 412.
fn after_all(tag: Tag) -> (u32, i64, u32) {
    let world = World::open();
    let owner = world.owner();
    let new = json!({ "name": "Hollow Oak Timber", "role": "vendor", "note": "0" });
    let path = format!("/v1/parties/{}", owner.makes("/v1/parties", new));
    let begin = Barrier::new(usize::try_from(WRITERS).unwrap());
    let late = AtomicU32::new(0);
    std::thread::scope(|scope| {
        for _ in 0..WRITERS {
            scope.spawn(|| late.fetch_add(counts_up(&owner, &path, tag, &begin), Ordering::Relaxed));
        }
    });
    let read = owner.reads(&path);
    let note = read["record"]["note"].as_str().unwrap().parse().unwrap();
    (note, read["version"].as_i64().unwrap(), late.into_inner())
}

/// Every writer of the fifty sees each of its changes take, and whoever came too late was told 412.
#[test]
fn fifty_writers_of_one_note_lose_nothing() {
    let (note, version, late) = after_all(Tag::OfTheRead);
    assert_eq!(note, WRITERS * each());
    assert_eq!(version, i64::from(WRITERS * each()) + 1);
    assert!(late > 0, "nobody came too late: the writers did not meet");
}

/// The control: the same writers, without what the check is for, do lose changes, so the test above would see it.
#[test]
fn writers_that_do_not_say_what_they_saw_lose_changes() {
    let (note, _, _) = after_all(Tag::Fresh);
    assert!(note < WRITERS * each(), "nothing was lost");
}
