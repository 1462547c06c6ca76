//! Lists page by page: what is there is seen once, whatever comes in meanwhile, and a cursor is good for its own list
//! only.
#![cfg(test)]

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

use serde_json::{Value, json};

use crate::wire::number;
use crate::world::{Caller, World};

/// Some day of 2025, the same for the same number.
fn day(number: u32) -> String {
    format!("2025-{:02}-{:02}", number * 7 % 12 + 1, number * 13 % 28 + 1)
}

fn rooms(owner: &Caller, numbers: std::ops::Range<u32>, what: &str) -> Vec<String> {
    let items: Vec<_> = numbers
        .map(|number| json!({ "name": format!("{what} {number}"), "place": "own_home", "date": day(number) }))
        .collect();
    let made = owner.records("/v1/projects/batch", json!({ "items": items }));
    made["items"].as_array().unwrap().iter().map(|one| one["id"].as_str().unwrap().to_owned()).collect()
}

/// How often each record is seen from the first page to the last.
fn walked(owner: &Caller, first: &str) -> (BTreeMap<String, u32>, u32) {
    let (mut seen, mut pages, mut next) = (BTreeMap::new(), 0, Some(first.to_owned()));
    while let Some(path) = next {
        let page = owner.reads(&path);
        for one in page["items"].as_array().unwrap() {
            *seen.entry(one["id"].as_str().unwrap().to_owned()).or_default() += 1;
        }
        pages += 1;
        next = page["next"].as_str().map(str::to_owned);
    }
    (seen, pages)
}

/// The long form walks a hundred thousand records beside twenty writers:
/// `LEDGERBOARD_TEST_RECORDS=100000 LEDGERBOARD_TEST_WRITERS=20 cargo test --release --test trade every_record_of_the_start`
#[test]
fn every_record_of_the_start_is_seen_once_while_others_write_before_and_behind_the_reader() {
    let asked = |name: &str, usual: u64| u32::try_from(number(name, usual)).unwrap();
    let (records, writers) = (asked("LEDGERBOARD_TEST_RECORDS", 2_000), asked("LEDGERBOARD_TEST_WRITERS", 2));
    let world = World::open();
    let owner = world.owner();
    let from_the_start: Vec<_> =
        (0..records / 500).flat_map(|part| rooms(&owner, part * 500..(part + 1) * 500, "Room")).collect();
    let walking = AtomicBool::new(true);
    let (seen, pages, written) = std::thread::scope(|scope| {
        let writers: Vec<_> = (0..writers)
            .map(|writer| {
                let (walking, world) = (&walking, &world);
                scope.spawn(move || {
                    let owner = world.owner();
                    let mut round = 0;
                    // Not for ever: many writers together write faster than one reads.
                    while walking.load(Ordering::Relaxed) && round < 500 {
                        let first = 1_000_000 + writer * 100_000 + round * 5;
                        rooms(&owner, first..first + 5, "Annexe");
                        round += 1;
                    }
                    round * 5
                })
            })
            .collect();
        let (seen, pages) = walked(&owner, "/v1/projects?limit=50");
        walking.store(false, Ordering::Relaxed);
        (seen, pages, writers.into_iter().map(|one| one.join().unwrap()).sum::<u32>())
    });
    println!("{pages} pages of 50 over {records} records, {written} written meanwhile");
    assert!(pages >= records / 50 && written > 20, "{pages} pages, {written} written meanwhile");
    assert!(seen.len() > from_the_start.len(), "the reader met some of what was written meanwhile");
    let missed_or_doubled: Vec<_> = from_the_start.iter().filter(|id| seen.get(*id) != Some(&1)).collect();
    assert!(missed_or_doubled.is_empty(), "{missed_or_doubled:?}");
}

/// The control: pages counted off from the front, as a list without cursors would, lose or double a record as soon as
/// somebody writes before the reader.
#[test]
fn pages_counted_off_from_the_front_would_double_a_record() {
    let world = World::open();
    let owner = world.owner();
    rooms(&owner, 0..4, "Room");
    let page = |skip: u32| -> Vec<String> {
        world.texts(&format!("SELECT id::text FROM records ORDER BY date, id OFFSET {skip} LIMIT 2"))
    };
    let first = page(0);
    owner.records("/v1/projects", json!({ "name": "Cellar", "place": "own_home", "date": "2025-01-01" }));
    assert!(page(2).iter().any(|id| first.contains(id)));
}

#[test]
fn a_cursor_is_good_for_its_own_list_filters_and_books_only() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    rooms(&owner, 0..6, "Room");
    rooms(&stranger, 0..6, "Hall");
    let page = owner.get("/v1/projects?from=2025-01-01&limit=2");
    let next = page.json()["next"].as_str().unwrap().to_owned();
    assert_eq!(page.header("link"), Some(format!("<{next}>; rel=\"next\"").as_str()));
    assert_eq!(owner.reads(&next)["items"].as_array().unwrap().len(), 2);
    let wider = next.replace("limit=2", "limit=4");
    assert_eq!(owner.reads(&wider)["items"].as_array().unwrap().len(), 4, "a page may grow");
    let altered = [
        next.replace("cursor=2025", "cursor=2024"),
        next.replace("from=2025-01-01", "from=2025-01-02"),
        next.replace("&from=2025-01-01", ""),
        next.replace("/v1/projects", "/v1/episodes"),
        format!("{next}&to=2025-12-31"),
        next.replace('~', ""),
    ];
    for path in &altered {
        let refused = owner.get(path);
        assert_eq!(refused.status, 400, "{path}");
        let said = refused.json()["detail"].as_str().unwrap_or_default().to_owned();
        assert!(said.contains("follow the next link"), "{said}");
    }
    assert_eq!(stranger.get(&next).status, 400, "other books seal otherwise");
}

/// Every list of the document that takes a cursor refuses one that it did not give.
#[test]
fn no_list_takes_a_cursor_that_it_did_not_give() {
    let world = World::open();
    let owner = world.owner();
    let document = ledgerboard::api::document().unwrap();
    let mut lists = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        let parameters = item["get"]["parameters"].as_array().into_iter().flatten();
        if !parameters.clone().any(|one: &Value| one["name"] == "cursor") {
            continue;
        }
        lists += 1;
        let path = path.replace("{account}", "cash");
        for cursor in
            ["7", "2025-03-01.019af000000070008000000000000001", "7~", "7~019af000000070008000000000000001"]
        {
            let refused = owner.get(&format!("{path}?cursor={cursor}"));
            assert_eq!(refused.status, 400, "{path} {cursor}: {}", refused.text);
        }
    }
    assert!(lists > 15, "{lists} lists");
}
