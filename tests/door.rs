//! The door: what one's books hold is no matter of anybody else's token, by any operation that the document names.
//! The doors are walked from the document, so that a new operation can not be forgotten.
#![cfg(test)]

use std::collections::BTreeSet;
use std::num::NonZeroU32;

use ledgerboard::api::limits::Limits;
use serde_json::{Value, json};

use crate::world::workshop::{Sent, workshop};
use crate::world::{Caller, Reply, World};

/// Every id in the owner's answers.
fn ids(sent: &[Sent]) -> BTreeSet<String> {
    fn gather(value: &Value, found: &mut BTreeSet<String>) {
        match value {
            Value::String(text) if text.parse::<uuid::Uuid>().is_ok() => drop(found.insert(text.clone())),
            Value::Array(items) => items.iter().for_each(|one| gather(one, found)),
            Value::Object(fields) => fields.values().for_each(|one| gather(one, found)),
            _ => {}
        }
    }
    let mut found = BTreeSet::new();
    sent.iter().for_each(|one| gather(&one.answer, &mut found));
    found
}

/// The ids under which that word's address may know something.
fn ids_of_word(word: &str, sent: &[Sent]) -> BTreeSet<String> {
    let own = |one: &&Sent| word == "records" || one.post.starts_with(&format!("/v1/{word}"));
    let records = sent.iter().filter(own).filter_map(|one| one.answer["id"].as_str().map(str::to_owned));
    let things = sent.iter().flat_map(|one| one.answer["things"].as_array().into_iter().flatten());
    let things = things.filter(|thing| thing["what"] == word);
    records.chain(things.filter_map(|thing| thing["id"].as_str().map(str::to_owned))).collect()
}

/// The addresses that the document reads, as they are for the owner's things.
fn addresses(sent: &[Sent]) -> Vec<(String, Vec<String>)> {
    let document = ledgerboard::api::document().unwrap();
    let mut all = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        if item.get("get").is_none() {
            continue;
        }
        let word = path.split('/').nth(2).unwrap();
        let path =
            path.replace("{year}", "2025").replace("{number}", "1").replace("{account}", "expense:supplies");
        let filled = match path.find('{') {
            None => vec![path.clone()],
            Some(at) => {
                let (before, rest) = path.split_at(at);
                let after = &rest[rest.find('}').unwrap() + 1..];
                ids_of_word(word, sent).into_iter().map(|id| format!("{before}{id}{after}")).collect()
            }
        };
        all.push((path, filled));
    }
    all
}

/// The addresses of things whose labels change, as the document has them, with what a change says of each.
fn changeable(sent: &[Sent]) -> Vec<(String, Vec<String>)> {
    let document = ledgerboard::api::document().unwrap();
    let paths = document["paths"].as_object().unwrap().iter();
    let changing = paths.filter(|(_, item)| item.get("patch").is_some());
    changing
        .map(|(path, _)| {
            let (before, _) = path.split_once("{id}").unwrap();
            let word = path.split('/').nth(2).unwrap();
            (path.clone(), ids_of_word(word, sent).iter().map(|id| format!("{before}{id}")).collect())
        })
        .collect()
}

/// Changes, under the version that stands, whatever the owner could; says how many that were.
fn a_stranger_changes_nothing(owner: &Caller, stranger: &Caller, sent: &[Sent]) -> usize {
    let (change, mut tried) = (json!({ "note": "mine now" }), 0);
    for (path, filled) in changeable(sent) {
        let before = tried;
        for address in &filled {
            // The control: the owner's own change of the same thing would take.
            if owner.patch(&format!("{address}?dry_run=true"), "\"1\"", &change).status == 200 {
                let theirs = stranger.patch(address, "\"1\"", &change);
                assert_eq!(theirs.status, 404, "PATCH {address} for a stranger: {}", theirs.text);
                tried += 1;
            }
        }
        assert!(tried > before, "for the owner nothing of {path} can be changed");
    }
    tried
}

/// Knocks at every door with a stranger's token and the owner's ids; says how many answers the owner got.
fn a_stranger_learns_nothing(owner: &Caller, stranger: &Caller, sent: &[Sent]) -> usize {
    let (ids, mut shown, mut silent) = (ids(sent), 0, Vec::new());
    for (path, filled) in addresses(sent) {
        let takes_an_id = path.contains('{');
        let mut good = 0;
        for address in &filled {
            if owner.get(address).status != 200 {
                continue;
            }
            good += 1;
            let theirs = stranger.get(address);
            if takes_an_id {
                assert_eq!(theirs.status, 404, "GET {address} for a stranger: {}", theirs.text);
            }
            // What was asked for may be said back; nothing else of the owner's.
            let leaked = ids.iter().find(|id| theirs.text.contains(*id) && !address.contains(*id));
            assert_eq!(leaked, None, "GET {address} for a stranger: {}", theirs.text);
        }
        shown += good;
        if good == 0 {
            silent.push(path);
        }
    }
    // The control: the doors that were knocked at open for the owner. Some only open for what the workshop has not.
    assert!(silent.len() <= 8, "for the owner nothing is behind {silent:?}");
    shown
}

fn a_stranger_writes_nothing(world: &World, stranger: &Caller, sent: &[Sent]) -> usize {
    let before = world.rows_written();
    let mut tried = a_stranger_changes_nothing(&world.owner(), stranger, sent);
    for one in sent.iter().filter(|one| one.names_others) {
        let reply = stranger.post(&one.post, &one.body);
        assert!(
            matches!(reply.status, 404 | 409 | 422),
            "POST {} for a stranger: {} {}",
            one.post,
            reply.status,
            reply.text
        );
        tried += 1;
    }
    assert_eq!(world.rows_written(), before, "a stranger wrote into books");
    tried
}

#[test]
fn a_strangers_token_opens_nothing_of_a_workshop_by_any_operation() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    let sent = workshop(&owner);
    let shown = a_stranger_learns_nothing(&owner, &stranger, &sent);
    let tried = a_stranger_writes_nothing(&world, &stranger, &sent);
    assert!(shown > 250 && tried > 70, "{shown} reads and {tried} writes were tried");
}

const SCOPES: [&str; 4] = ["read", "record", "close", "admin"];

/// What an operation of the document answers to that caller, who sends it nothing that fits.
fn knocked(caller: &Caller, method: &str, path: &str) -> Reply {
    let path = path.replace("{year}", "2025").replace("{number}", "1").replace("{account}", "cash");
    let any = "019af000-0000-7000-8000-000000000001";
    let address = ["{id}", "{lot}", "{promise}"].iter().fold(path, |path, place| path.replace(place, any));
    match method {
        "get" => caller.get(&address),
        "patch" => caller.patch(&address, "\"1\"", &json!({})),
        _ => caller.post(&address, &json!({})),
    }
}

/// Every operation of the document with no good token, with each lesser one, and with the one that it asks for.
#[test]
fn every_door_opens_to_the_scope_that_the_document_names_and_to_no_lesser_one() {
    let many = NonZeroU32::new(1_000).unwrap();
    let world = World::limited(Limits { wrong_tokens_per_minute: many, ..Limits::default() });
    let (owner, nobody) = (world.owner(), world.nobody());
    let holders = SCOPES.map(|scope| {
        let made = owner.records("/v1/tokens", json!({ "name": scope, "scope": scope }));
        Caller { token: made["token"].as_str().unwrap().to_owned(), ..owner.clone() }
    });
    let document = ledgerboard::api::document().unwrap();
    let (mut knocks, mut asked) = (0, BTreeSet::new());
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let scope = operation["x-scope"].as_str().unwrap();
            let place = SCOPES.iter().position(|one| *one == scope).unwrap();
            assert!(operation["description"].as_str().unwrap().contains(scope), "{method} {path}");
            assert_eq!(knocked(&nobody, method, path).status, 401, "{method} {path} without a good token");
            for (holder, lesser) in holders.iter().zip(SCOPES).take(place) {
                let refused = knocked(holder, method, path);
                assert_eq!(refused.status, 403, "{method} {path} for {lesser}: {}", refused.text);
                assert!(refused.text.contains(&format!("this asks for {scope}")), "{}", refused.text);
            }
            let let_in = knocked(&holders[place], method, path);
            assert!(![401, 403].contains(&let_in.status), "{method} {path} for {scope}: {}", let_in.text);
            knocks += place + 2;
            asked.insert(scope);
        }
    }
    assert!(knocks > 400 && asked.len() == SCOPES.len(), "{knocks} knocks at doors of {asked:?}");
}

/// The queries' own predicate holds without the second fence.
#[test]
fn with_row_security_taken_away_a_stranger_still_learns_nothing() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    let sent = workshop(&owner);
    world
        .try_as_superuser(
            "DO $$ DECLARE t record; BEGIN FOR t IN SELECT c.oid::regclass AS name FROM pg_class c \
             WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relrowsecurity LOOP \
             EXECUTE format('ALTER TABLE %s DISABLE ROW LEVEL SECURITY', t.name); END LOOP; END $$",
        )
        .unwrap();
    a_stranger_learns_nothing(&owner, &stranger, &sent);
    a_stranger_writes_nothing(&world, &stranger, &sent);
}

/// Row security holds without the queries' own predicate: a query that forgot it sees its own books only.
#[test]
fn with_the_predicate_left_out_of_a_query_row_security_still_shows_nothing_of_others() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    workshop(&owner);
    let theirs = stranger.reads("/v1/books")["id"].as_str().unwrap().to_owned();
    let own = owner.reads("/v1/books")["id"].as_str().unwrap().to_owned();
    let tables = world.texts(
        "SELECT c.relname::text FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid \
         AND a.attname = 'books_id' WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' ORDER BY 1",
    );
    assert!(tables.len() > 40, "{tables:?}");
    let mut filled = 0;
    for table in &tables {
        let seen = |books: &str| {
            let query = format!("SELECT books_id::text FROM {table}");
            world.as_the_service(books, &query).unwrap().into_iter().collect::<BTreeSet<_>>()
        };
        assert!(!seen(&theirs).contains(&own), "{table} shows a stranger the owner's rows");
        filled += usize::from(seen(&own).contains(&own));
        // Nor can a row be written for other books than those of the transaction.
        let moved = format!("UPDATE {table} SET books_id = '{own}' RETURNING books_id::text");
        assert!(world.as_the_service(&theirs, &moved).map_or(true, |rows| rows.is_empty()), "{table}");
        let gone = format!("DELETE FROM {table} RETURNING books_id::text");
        assert!(world.as_the_service(&theirs, &gone).is_err(), "{table} lets rows go");
    }
    assert!(filled > 30, "the workshop has rows in {filled} tables only");
}
