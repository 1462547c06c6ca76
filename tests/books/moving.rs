//! Books that moved to another server: read here, changed there, and nothing lost on the way.

use ledgerboard::rules::ids::BooksId;
use ledgerboard::store::audit::Act;
use ledgerboard::store::books::Books;
use ledgerboard::store::error::StoreError;
use serde_json::{Value, json};
use url::Url;

use crate::world::{Caller, World};

const ELSEWHERE: &str = "https://books-2.example/";

fn books_of(world: &World, owner: &Caller) -> Books {
    let id = owner.reads("/v1/books")["id"].as_str().unwrap().parse().unwrap();
    Books::of(world.database(), BooksId(id))
}

fn moves(world: &World, books: &Books) {
    let act = Act::outside("a test");
    world.waits_for(books.move_to(&act, &ELSEWHERE.parse::<Url>().unwrap())).unwrap();
}

fn room() -> Value {
    json!({ "name": "The box room", "place": "own_home" })
}

#[test]
fn moved_books_are_read_here_and_each_change_is_told_the_new_address() {
    let world = World::open();
    let (owner, neighbor) = (world.owner(), world.stranger());
    let project = owner.has_project("The hall");
    moves(&world, &books_of(&world, &owner));
    let before = world.rows_written();

    assert_eq!(owner.reads("/v1/books")["moved_to"], ELSEWHERE);
    assert!(owner.get(&format!("/v1/projects/{project}")).text.contains("The hall"));
    let label = format!("/v1/projects/{project}");
    for refused in [
        owner.post("/v1/projects", &room()),
        owner.post("/v1/projects?dry_run=true", &room()),
        owner.post("/v1/tokens", &json!({ "name": "phone", "scope": "read" })),
        owner.patch(&label, "\"1\"", &json!({ "name": "The long hall" })),
    ] {
        let problem = refused.json();
        assert_eq!(refused.status, 409, "{problem}");
        assert_eq!((&problem["type"], &problem["moved_to"]), (&json!("/problems/moved"), &json!(ELSEWHERE)));
        assert!(problem["detail"].as_str().unwrap().contains(ELSEWHERE), "{problem}");
    }
    assert_eq!(world.rows_written(), before);
    // A control: books beside them go on.
    neighbor.records("/v1/projects", room());
    assert!(neighbor.reads("/v1/books").get("moved_to").is_none());
}

#[test]
fn a_write_that_was_answered_before_the_move_gets_its_answer_again() {
    let world = World::open();
    let owner = world.owner();
    let first = owner.post_with_key("/v1/projects", "box-room", &room());
    assert_eq!(first.status, 201);
    moves(&world, &books_of(&world, &owner));
    let again = owner.post_with_key("/v1/projects", "box-room", &room());
    assert_eq!((again.status, again.text), (201, first.text));
    assert_eq!(owner.post_with_key("/v1/projects", "hall", &room()).status, 409, "a control: a new key");
}

#[test]
fn books_that_come_back_take_changes_again_and_both_moves_are_in_the_change_log() {
    let world = World::open();
    let owner = world.owner();
    let books = books_of(&world, &owner);
    moves(&world, &books);
    let act = Act::outside("a test");
    let twice = world.waits_for(books.move_to(&act, &ELSEWHERE.parse().unwrap()));
    assert!(matches!(twice, Err(StoreError::Moved { .. })), "they are there already");
    world.waits_for(books.move_back(&act)).unwrap();
    owner.records("/v1/projects", room());
    let id = books.id().to_string();
    let lines = owner.reads("/v1/audit");
    let moves = lines["items"].as_array().unwrap().iter().filter(|line| line["about_books"] == id.as_str());
    assert_eq!(moves.count(), 2, "{lines:#}");
}

#[test]
fn the_database_lets_no_change_into_moved_books_either() {
    let world = World::open();
    let owner = world.owner();
    let line = "INSERT INTO audit_lines (books_id, id, request_id, action, about_books) \
                SELECT books_id, gen_random_uuid(), gen_random_uuid(), 'past the service', books_id FROM books";
    assert!(world.try_as_superuser(line).is_ok(), "a control: books that are here take it");
    moves(&world, &books_of(&world, &owner));
    let refused = world.try_as_superuser(line).unwrap_err();
    assert_eq!(refused.as_db_error().and_then(|error| error.constraint()), Some("books_are_here"));
}
