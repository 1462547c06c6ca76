//! Projects, their budgets and what bad input gets at the door.
#![cfg(test)]

use serde_json::json;

use crate::world::World;

#[test]
fn a_project_with_a_budget_is_opened_and_read_again() {
    let world = World::open();
    let owner = world.owner();
    let project = owner.makes(
        "/v1/projects",
        json!({ "name": "The reading room", "place": "own_home",
                "budget": [{ "category": "materials", "amount": "300.00" }] }),
    );
    let read = owner.reads(&format!("/v1/projects/{project}"));
    assert_eq!(read["record"]["name"], "The reading room");
    assert_eq!(read["record"]["budget"][0]["amount"], "300.00");
    assert_eq!(owner.reads("/v1/projects")["items"].as_array().unwrap().len(), 1);
}

#[test]
fn every_field_that_does_not_fit_is_said_at_once_and_nothing_is_written() {
    let world = World::open();
    let before = world.rows_written();
    let reply = world.owner().is_refused(
        422,
        "/v1/projects",
        json!({ "name": "The reading room", "place": "on_the_moon", "colour": "green",
                "budget": [{ "category": "materials", "amount": 300 }] }),
    );
    // A number with a fraction was rounded when it was read, so it is not offered as what to write.
    let lossy = r#"{"name": "Attic", "place": "own_home", "budget": [{"category": "tools", "amount": 12345678901234567.89}]}"#;
    let told = world.owner().post_text("/v1/projects", lossy, &[]).error_at("/budget/0/amount");
    assert!(told.ends_with("write it in quotes with all its digits, such as \"180.00\""), "{told}");
    assert!(reply.error_at("/place").contains("own_home"));
    assert!(reply.error_at("/colour").contains("not known"));
    assert_eq!(
        reply.error_at("/budget/0/amount"),
        "300 is a JSON number; amounts and quantities are text, so that no digit is lost | put it in quotes: \"300\""
    );
    assert_eq!(world.rows_written(), before);
}

#[test]
fn a_dry_run_shows_a_project_and_writes_nothing() {
    let world = World::open();
    let owner = world.owner();
    let before = world.rows_written();
    let reply =
        owner.post("/v1/projects?dry_run=true", &json!({ "name": "The reading room", "place": "own_home" }));
    assert_eq!(reply.status, 200);
    assert_eq!(reply.json()["recorded"], false);
    assert!(reply.json().get("id").is_none());
    assert_eq!(world.rows_written(), before);
}

#[test]
fn an_episode_of_a_project_that_is_not_there_is_refused_at_its_field() {
    let world = World::open();
    let owner = world.owner();
    let elsewhere = world.stranger().has_project("Somebody else's hall");
    let body = json!({ "title": "Shelves", "project": elsewhere });
    let reply = owner.is_refused(422, "/v1/episodes", body);
    assert!(reply.error_at("/project").contains("no projects with the id"));
}

#[test]
fn a_stranger_and_nobody_see_nothing() {
    let world = World::open();
    let project = world.owner().has_project("The reading room");
    let path = format!("/v1/projects/{project}");
    assert_eq!(world.stranger().get(&path).status, 404);
    assert_eq!(world.stranger().reads("/v1/projects")["items"], json!([]));
    assert_eq!(world.nobody().get(&path).status, 401);
    assert_eq!(world.owner().get(&path).status, 200);
}

#[test]
fn the_same_key_gets_the_first_answer_again_and_another_request_under_it_is_refused() {
    let world = World::open();
    let owner = world.owner();
    let body = json!({ "name": "The reading room", "place": "own_home" });
    let first = owner.post_with_key("/v1/projects", "k-1", &body);
    let again = owner.post_with_key("/v1/projects", "\"k-1\"", &body);
    assert_eq!((first.status, again.status), (201, 201));
    assert_eq!(again.text, first.text);
    assert_eq!(
        (first.header("idempotency-replayed"), again.header("idempotency-replayed")),
        (None, Some("true"))
    );
    let other = json!({ "name": "The attic", "place": "own_home" });
    assert_eq!(owner.post_with_key("/v1/projects", "k-1", &other).status, 422);
    assert_eq!(owner.reads("/v1/projects")["items"].as_array().unwrap().len(), 1);
    // A control: without the key the same request is a second project.
    assert_eq!(owner.post("/v1/projects", &body).status, 201);
    assert_eq!(owner.reads("/v1/projects")["items"].as_array().unwrap().len(), 2);
}

#[test]
fn pages_follow_each_other_without_a_gap() {
    let world = World::open();
    let owner = world.owner();
    for number in 0..5 {
        owner.has_project(&format!("Room {number}"));
    }
    let mut names = Vec::new();
    let mut next = Some("/v1/projects?limit=2".to_owned());
    while let Some(path) = next {
        let page = owner.reads(&path);
        names.extend(
            page["items"].as_array().unwrap().iter().map(|one| one["text"].as_str().unwrap().to_owned()),
        );
        next = page["next"].as_str().map(str::to_owned);
    }
    assert_eq!(names, ["Room 0", "Room 1", "Room 2", "Room 3", "Room 4"]);
    assert_eq!(owner.get("/v1/projects?limit=201").status, 400);
    assert_eq!(owner.get("/v1/projects?cursor=nonsense").status, 400);
}

#[test]
fn what_no_handler_takes_is_said_as_a_problem() {
    let world = World::open();
    let owner = world.owner();
    let nowhere = owner.get("/v1/nowhere");
    assert_eq!((nowhere.status, nowhere.json()["type"].as_str()), (404, Some("/problems/not-found")));
    let broken = owner.post_text("/v1/projects", "{\"name\": ", &[]);
    assert_eq!((broken.status, broken.header("content-type")), (400, Some("application/problem+json")));
    let wrong_id = owner.get("/v1/projects/not-an-id");
    assert_eq!(wrong_id.status, 404);
    let explained = owner.get("/problems/refused");
    assert_eq!(explained.status, 200);
}

#[test]
fn a_stranger_learns_nothing_of_the_fields() {
    let world = World::open();
    let reply = world.nobody().post("/v1/projects", &json!({ "nonsense": 1 }));
    assert_eq!(reply.status, 401);
    assert!(!reply.text.contains("nonsense"));
}
