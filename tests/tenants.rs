//! Fifty tenants whose requests come interleaved over eight connections to the database, some cut by resets: no answer
//! holds a word or an amount of somebody else's books.
#![cfg(test)]

use std::collections::BTreeMap;
use std::io::Write;
use std::net::TcpStream;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::chance::Chance;
use crate::wire::{self, Heard, comes_true_within, reset};
use crate::world::World;

const TENANTS: usize = 50;
const CLIENTS: u64 = 8;

/// Whoever keeps these books marks every name with `mark`, and moves money in multiples of `step` cents only.
struct Tenant {
    mark: String,
    step: i64,
    token: String,
    bank: String,
    parties: Mutex<Vec<String>>,
}

/// Numbers between 10.00 and 100.00 none of which divides a sum of the others but by accident.
const fn step_of(number: i64) -> i64 {
    1009 + number * 58
}

fn tenants(world: &World) -> Vec<Tenant> {
    let opens = |number: usize| {
        let (caller, mark) = (world.stranger(), format!("tenant-{number:02};"));
        let account = json!({ "name": format!("{mark} bank"), "kind": "bank" });
        let bank = caller.makes("/v1/accounts", account);
        let first = caller.has_party(&format!("{mark} the first"), "vendor");
        let step = step_of(i64::try_from(number).unwrap());
        Tenant { mark, step, token: caller.token, bank, parties: Mutex::new(vec![first]) }
    };
    (0..TENANTS).map(opens).collect()
}

/// Marks in `text` that are not `own`.
fn foreign_marks<'t>(text: &'t str, own: &str) -> Vec<&'t str> {
    let marks = text.match_indices("tenant-").filter_map(|(at, _)| text.get(at..at + own.len()));
    marks.filter(|mark| *mark != own).collect()
}

/// Amounts in an answer that can not be the sum of amounts in multiples of `step`.
fn foreign_amounts(answer: &Value, step: i64) -> Vec<String> {
    match answer {
        Value::String(text) => {
            let cents = text.split_once('.').filter(|(_, cents)| cents.len() == 2);
            let cents = cents.and_then(|(whole, cents)| format!("{whole}{cents}").parse::<i64>().ok());
            cents.filter(|cents| cents % step != 0).map(|_| text.clone()).into_iter().collect()
        }
        Value::Array(items) => items.iter().flat_map(|one| foreign_amounts(one, step)).collect(),
        Value::Object(fields) => fields.values().flat_map(|one| foreign_amounts(one, step)).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) => Vec::new(),
    }
}

fn amount(cents: i64) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}

/// What is asked, and what a good answer to it is.
struct Asked {
    what: &'static str,
    request: String,
    status: u16,
    /// Whether the tenant's own mark has to be in it.
    marked: Marked,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Marked {
    Yes,
    NotAlways,
}

fn writes(tenant: &Tenant, key: &str, chance: &mut Chance) -> Asked {
    if chance.one_in(2) {
        let party = json!({ "name": format!("{} {key}", tenant.mark), "role": "vendor" });
        let request = wire::post(&tenant.token, "/v1/parties", Some(key), &party);
        return Asked { what: "a party", request, status: 201, marked: Marked::Yes };
    }
    let cents = tenant.step * chance.between(1, 9);
    let body = json!({ "date": "2025-03-01", "into": tenant.bank, "amount": amount(cents) });
    let request = wire::post(&tenant.token, "/v1/accounts/contributions", Some(key), &body);
    Asked { what: "a contribution", request, status: 201, marked: Marked::NotAlways }
}

fn reads(tenant: &Tenant, other: &Tenant, chance: &mut Chance) -> Asked {
    let own = chance.pick(&tenant.parties.lock().unwrap()).clone();
    let (what, path, status, marked) = match chance.below(9) {
        0 | 1 => ("the list of parties", "/v1/parties?limit=20".to_owned(), 200, Marked::Yes),
        2 | 3 => ("a party", format!("/v1/parties/{own}"), 200, Marked::Yes),
        4 => {
            let theirs = chance.pick(&other.parties.lock().unwrap()).clone();
            ("somebody else's party", format!("/v1/parties/{theirs}"), 404, Marked::NotAlways)
        }
        5 => ("the standing", format!("/v1/accounts/{}/standing", tenant.bank), 200, Marked::Yes),
        6 => ("the trial balance", "/v1/ledger/trial-balance".to_owned(), 200, Marked::NotAlways),
        7 => ("the journal", "/v1/entries?limit=20".to_owned(), 200, Marked::NotAlways),
        _ => ("the postings", "/v1/postings?limit=20".to_owned(), 200, Marked::NotAlways),
    };
    Asked { what, request: wire::get(&tenant.token, &path), status, marked }
}

fn assert_own(asked: &Asked, tenant: &Tenant, heard: &Heard) {
    let (what, own) = (asked.what, &tenant.mark);
    assert_eq!(heard.status, asked.status, "{what} of {own}: {}", heard.body);
    let marks = foreign_marks(&heard.body, own);
    assert!(marks.is_empty(), "{what} of {own} shows {marks:?}: {}", heard.body);
    if asked.status < 300 {
        assert!(
            asked.marked == Marked::NotAlways || heard.body.contains(own),
            "{what} of {own}: {}",
            heard.body
        );
        let amounts = foreign_amounts(&heard.json(), tenant.step);
        assert!(amounts.is_empty(), "{what} of {own} shows {amounts:?}: {}", heard.body);
    }
}

/// How the requests of a client ended.
#[derive(Default)]
struct Tally {
    by_what: BTreeMap<&'static str, u64>,
    sent_away: u64,
    cut: u64,
}

/// One client on one connection, which all tenants take turns on; it is cut now and then.
fn comes(world: &World, tenants: &[Tenant], client: u64, requests: u64, seed: u64) -> Tally {
    let mut chance = Chance::of(seed.wrapping_mul(1000) + client);
    let (mut tally, mut line): (Tally, Option<TcpStream>) = (Tally::default(), None);
    for number in 0..requests {
        let (tenant, other) = (chance.pick(tenants), chance.pick(tenants));
        let other = if std::ptr::eq(tenant, other) {
            &tenants[usize::from(tenant.mark == tenants[0].mark)]
        } else {
            other
        };
        let asked = if chance.below(100) < 35 {
            writes(tenant, &format!("{client}-{number}"), &mut chance)
        } else {
            reads(tenant, other, &mut chance)
        };
        let mut stream = line.take().unwrap_or_else(|| wire::connect(&world.address));
        if chance.one_in(40) {
            let sent = stream.write_all(asked.request.as_bytes());
            sent.unwrap();
            std::thread::sleep(Duration::from_micros(u64::try_from(chance.below(8_000)).unwrap()));
            reset(stream);
            tally.cut += 1;
            continue;
        }
        let heard = wire::asks(&mut stream, &asked.request).unwrap();
        if [429, 503].contains(&heard.status) {
            assert!(
                heard.has_header("retry-after: 1") && foreign_marks(&heard.body, &tenant.mark).is_empty()
            );
            tally.sent_away += 1;
        } else {
            assert_own(&asked, tenant, &heard);
            *tally.by_what.entry(asked.what).or_default() += 1;
            if asked.what == "a party" && heard.status == 201 {
                remember(tenant, &heard);
            }
        }
        line = Some(stream);
    }
    tally
}

/// A few of each tenant's own parties are enough to ask for.
fn remember(tenant: &Tenant, heard: &Heard) {
    let mut parties = tenant.parties.lock().unwrap();
    if parties.len() < 40 {
        parties.push(heard.json()["id"].as_str().unwrap().to_owned());
    }
}

fn fifty_tenants_ask(requests: u64, seed: u64) {
    let world = World::open();
    let tenants = tenants(&world);
    let begun = Instant::now();
    let tallies: Vec<_> = std::thread::scope(|scope| {
        let client = |client| {
            let (world, tenants) = (&world, &tenants);
            scope.spawn(move || comes(world, tenants, client, requests / CLIENTS, seed))
        };
        let clients: Vec<_> = (0..CLIENTS).map(client).collect();
        clients.into_iter().map(|client| client.join().unwrap()).collect()
    });
    let (took, mut by_what) = (begun.elapsed(), BTreeMap::new());
    for (what, count) in tallies.iter().flat_map(|tally| &tally.by_what) {
        *by_what.entry(*what).or_insert(0) += count;
    }
    let (sent_away, cut) = (
        tallies.iter().map(|tally| tally.sent_away).sum::<u64>(),
        tallies.iter().map(|tally| tally.cut).sum::<u64>(),
    );
    println!("seed {seed}: {requests} requests in {took:?}, {cut} cut, {sent_away} sent away: {by_what:?}");
    assert_eq!(by_what.len(), 8, "everything was asked and answered");
    assert!(cut > 0 && sent_away < requests / 10);
    assert!(comes_true_within(Duration::from_secs(1), || world.connections().0 == 0));
    assert!(world.connections().1 <= 8);
    // And in the database: a record's party and account are of its own books.
    let mixed =
        "SELECT count(*) FROM records r JOIN parties p ON p.id = r.party_id WHERE p.books_id <> r.books_id";
    assert_eq!(world.count(mixed), 0);
}

#[test]
fn no_answer_to_one_of_fifty_tenants_shows_anything_of_another() {
    fifty_tenants_ask(3_000, 1);
}

/// `cargo test --release --test trade a_million_requests -- --ignored --nocapture`;
/// `LEDGERBOARD_TEST_SEED` and `LEDGERBOARD_TEST_REQUESTS` for others, and for parts of it.
///
/// Every hundred thousand have books and a seed of their own: a read grows with its books, and would be all that is
/// measured.
#[test]
#[ignore = "a command of its own: a million requests"]
fn a_million_requests_of_fifty_tenants_show_nothing_foreign() {
    const PART: u64 = 100_000;
    let mut left = wire::number("LEDGERBOARD_TEST_REQUESTS", 1_000_000);
    for seed in wire::number("LEDGERBOARD_TEST_SEED", 7).. {
        let part = left.min(PART);
        fifty_tenants_ask(part, seed);
        left -= part;
        if left == 0 {
            break;
        }
    }
}

/// The control: a pool of one connection whose borrower sets the books for the session, as this service never does,
/// shows them to the next borrower who forgets to; and the marks and steps above do tell.
#[test]
fn a_setting_left_in_a_pooled_connection_does_leak_and_is_noticed() {
    let world = World::open();
    let tenants = tenants(&world);
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
    let books = world.texts("SELECT books_id::text FROM parties WHERE name LIKE 'tenant-00;%'");
    let next_borrower_sees = |local: &str| {
        runtime.block_on(async {
            let (client, connection) =
                tokio_postgres::connect(&world.service_url(), tokio_postgres::NoTls).await.unwrap();
            let driver = tokio::spawn(connection);
            let set = format!(
                "BEGIN; SELECT set_config('app.books', '{}', {local}); SELECT FROM parties; COMMIT",
                books[0]
            );
            client.batch_execute(&set).await.unwrap();
            let rows = client.query("SELECT name FROM parties", &[]).await.unwrap();
            let seen = rows.iter().map(|row| row.get::<_, String>(0)).collect::<Vec<_>>().join(" ");
            drop(client);
            driver.await.unwrap().unwrap();
            seen
        })
    };
    let leaked = next_borrower_sees("false");
    assert_eq!(foreign_marks(&leaked, &tenants[1].mark), ["tenant-00;"], "{leaked}");
    assert_eq!(next_borrower_sees("true"), "", "local to the transaction, nothing is left");
    let theirs = json!({ "items": [{ "amount": amount(tenants[0].step * 3) }] });
    assert_eq!(foreign_amounts(&theirs, tenants[1].step), [amount(tenants[0].step * 3)]);
    assert!(foreign_amounts(&theirs, tenants[0].step).is_empty());
}
