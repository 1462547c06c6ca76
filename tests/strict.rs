//! Strict input: what two readers could understand in two ways is refused, and the refusal says what to send.
#![cfg(test)]

use serde_json::json;

use crate::wire::{self, asks};
use crate::world::{Caller, Reply, World};

fn posts(owner: &Caller, path: &str, body: &str) -> Reply {
    owner.post_text(path, body, &[])
}

#[test]
fn a_field_that_comes_twice_is_refused_with_its_place_and_nothing_is_written() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let before = world.rows_written();
    let contribution = |fields: &str| format!(r#"{{"date":"2025-03-01","into":"{bank}",{fields}}}"#);
    for (fields, pointer) in [
        (r#""amount":"1.00","amount":"2.00""#, "/amount"),
        (r#""amount":"1.00","\u0061mount":"2.00""#, "/amount"),
        (r#""amount":"1.00","amount":"1.00""#, "/amount"),
    ] {
        let reply = posts(&owner, "/v1/accounts/contributions", &contribution(fields));
        assert_eq!(reply.status, 400, "{fields}: {}", reply.text);
        assert!(reply.error_at(pointer).starts_with("the field amount comes twice"), "{}", reply.text);
    }
    let party = r#"{"name":"Oakline Timber","role":"vendor"}"#;
    let batch = format!(r#"{{"items":[{party},{{"name":"One","role":"vendor","name":"Two"}}]}}"#);
    let reply = posts(&owner, "/v1/parties/batch", &batch);
    assert_eq!(reply.status, 400, "{}", reply.text);
    reply.error_at("/items/1/name");
    let named = owner.get("/v1/parties").json()["items"][0]["id"].as_str().map(str::to_owned);
    assert_eq!((named, world.rows_written()), (None, before), "nothing was written");
    // The control: each field once.
    let reply = posts(&owner, "/v1/accounts/contributions", &contribution(r#""amount":"1.00""#));
    assert_eq!(reply.status, 201, "{}", reply.text);
    assert_eq!(posts(&owner, "/v1/parties/batch", &format!(r#"{{"items":[{party},{party}]}}"#)).status, 201);
}

#[test]
fn a_field_that_comes_twice_in_a_change_of_labels_is_refused() {
    let world = World::open();
    let owner = world.owner();
    let party = owner.has_party("Oakline Timber", "vendor");
    let path = format!("/v1/parties/{party}");
    let tag = owner.get(&path).header("etag").unwrap_or("\"1\"").to_owned();
    let reply = owner.patch_text(&path, r#"{"name":"One","name":"Two"}"#, &[("If-Match", &tag)]);
    assert_eq!(reply.status, 400, "{}", reply.text);
    reply.error_at("/name");
    let plus = owner.patch_text(&path, r#"{"name":"One"}"#, &[("If-Match", "\"+1\"")]);
    assert_eq!(plus.status, 412, "a tag is compared as it is written: {}", plus.text);
    let again = owner.patch_text(&path, r#"{"name":"One"}"#, &[("If-Match", &tag)]);
    assert_eq!(again.status, 200, "the control: {}", again.text);
}

#[test]
fn a_zero_with_a_minus_is_refused_and_a_plain_one_is_understood() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let amount = |amount: &str| json!({ "date": "2025-03-01", "into": bank, "amount": amount });
    for zero in ["-0", "-0.00", "-0.0000"] {
        let refused = owner.is_refused(422, "/v1/accounts/contributions", amount(zero));
        let said = refused.error_at("/amount");
        assert!(said.contains("zero with a minus sign") && said.contains("without the minus sign"), "{said}");
    }
    let plain = owner.post("/v1/accounts/contributions", &amount("0.00"));
    assert!(!plain.text.contains("minus sign"), "the control is refused for another reason: {}", plain.text);
    assert_eq!(owner.post("/v1/accounts/contributions", &amount("0.01")).status, 201);
}

#[test]
fn marks_that_turn_the_writing_are_refused_in_names_and_joiners_stay() {
    let world = World::open();
    let owner = world.owner();
    for sign in ['\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202e}', '\u{2066}', '\u{2069}'] {
        let name = format!("Oakline {sign}rebmiT");
        let refused = owner.is_refused(422, "/v1/parties", json!({ "name": name, "role": "vendor" }));
        assert!(refused.error_at("/name").contains("direction of writing"), "{}", refused.text);
    }
    for name in [
        "\u{0645}\u{06cc}\u{200c}\u{062e}\u{0648}\u{0627}\u{0647}\u{0645}",
        "\u{1f469}\u{200d}\u{1f527} Repairs",
    ] {
        owner.has_party(name, "vendor");
    }
}

#[test]
fn a_body_in_another_charset_is_refused() {
    let world = World::open();
    let owner = world.owner();
    let party = r#"{"name":"Oakline Timber","role":"vendor"}"#;
    let sends = |media: &str| owner.post_text("/v1/parties", party, &[("Content-Type", media)]);
    for media in ["application/json; charset=iso-8859-1", "application/json;x=y; CHARSET=\"utf-16\""] {
        let refused = sends(media);
        assert_eq!(refused.status, 415, "{media}: {}", refused.text);
        assert!(refused.text.contains("UTF-8"), "{}", refused.text);
    }
    for media in ["application/json", "application/json; charset=utf-8", "application/json;charset=\"UTF-8\""]
    {
        assert_eq!(sends(media).status, 201, "{media}");
    }
}

#[test]
fn two_authorization_headers_are_refused_whichever_comes_first() {
    let world = World::open();
    let owner = world.owner();
    let (good, wrong) = (&owner.token, &world.nobody().token);
    for (first, second) in [(good, wrong), (wrong, good), (good, good)] {
        let request = format!(
            "GET /v1/books HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {first}\r\n\
             Authorization: Bearer {second}\r\n\r\n"
        );
        let heard = asks(&mut wire::connect(&world.address), &request).unwrap();
        assert_eq!(heard.status, 400, "{}", heard.body);
        assert!(heard.body.contains("several Authorization headers"), "{}", heard.body);
    }
    assert_eq!(owner.get("/v1/books").status, 200, "the control: one header");
}

/// RFC 9110, section 9.3.2.
#[test]
fn head_answers_like_get_without_a_body() {
    use std::io::{Read, Write};
    let world = World::open();
    let owner = world.owner();
    let party = owner.has_party("Oakline Timber", "vendor");
    for path in ["/v1/books".to_owned(), format!("/v1/parties/{party}"), "/openapi.json".to_owned()] {
        let get = owner.get(&path);
        assert_eq!(get.status, 200, "{path}");
        let mut stream = wire::connect(&world.address);
        let head = wire::get(&owner.token, &path)
            .replace("GET ", "HEAD ")
            .replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n");
        stream.write_all(head.as_bytes()).unwrap();
        let mut heard = String::new();
        stream.read_to_string(&mut heard).unwrap();
        let (head, body) = heard.split_once("\r\n\r\n").unwrap();
        assert!(head.starts_with("HTTP/1.1 200"), "{path}: {head}");
        assert_eq!(body, "", "{path}");
        for name in ["content-type", "etag"] {
            let line = get.header(name).map(|value| format!("{name}: {value}"));
            let found =
                line.as_ref().is_none_or(|line| head.lines().any(|one| one.eq_ignore_ascii_case(line)));
            assert!(found, "{path}: {line:?} in {head}");
        }
    }
    let mut stream = wire::connect(&world.address);
    let nobody = wire::get(&world.nobody().token, "/v1/books").replace("GET ", "HEAD ");
    stream.write_all(nobody.as_bytes()).unwrap();
    let mut start = [0; 12];
    stream.read_exact(&mut start).unwrap();
    assert_eq!(&start, b"HTTP/1.1 401", "a token is needed as with GET");
    let post_only = wire::get(&owner.token, "/v1/accounts/contributions/batch").replace("GET ", "HEAD ");
    let mut stream = wire::connect(&world.address);
    stream.write_all(post_only.as_bytes()).unwrap();
    stream.read_exact(&mut start).unwrap();
    assert!(["404", "405"].contains(&std::str::from_utf8(&start[9..]).unwrap()), "{start:?}");
}
