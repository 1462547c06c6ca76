//! The contract: every answer that a test receives is held to the API's document.
//!
//! [`hold`] stands where `tests/world.rs` reads an answer, so each test of each word is a test of the document too.
#![cfg(test)]

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex};

use jsonschema::Validator;
use serde_json::{Value, json};

use crate::world::{Reply, World};

static DOCUMENT: LazyLock<Value> = LazyLock::new(|| ledgerboard::api::document().unwrap());

/// Built once for each schema of an answer, by its place in the document.
static CHECKERS: LazyLock<Mutex<HashMap<String, Arc<Validator>>>> = LazyLock::new(Mutex::default);

/// Fails the test that asked, where the answer is not what the document says.
pub fn hold(method: &str, target: &str, reply: &Reply) {
    let found = differences(method, target, reply);
    assert!(
        found.is_empty(),
        "{method} {target} answered {} otherwise than the document says:\n{}\n{}",
        reply.status,
        found.join("\n"),
        reply.text
    );
}

/// How an answer differs from the document. Pages and other addresses outside `/v1` are not in it.
fn differences(method: &str, target: &str, reply: &Reply) -> Vec<String> {
    let path = target.split('?').next().unwrap_or_default();
    let unended = expected(ends_with_one_newline(reply), "the JSON does not end with exactly one newline");
    if !path.starts_with("/v1/") {
        return unended.into_iter().collect();
    }
    let Some(template) = template_of(path) else {
        return expected(reply.status == 404, "the address is not documented").into_iter().collect();
    };
    let place = format!("/paths/{}/{method}", escaped(template));
    if DOCUMENT.pointer(&place).is_none() {
        return expected(reply.status == 405, "the method is not documented").into_iter().collect();
    }
    let place = followed(format!("{place}/responses/{}", reply.status));
    let Some(response) = DOCUMENT.pointer(&place) else {
        return vec![format!("the status {} is not documented", reply.status)];
    };
    let mut found = missing_headers(response, reply);
    found.extend(body_differences(&place, response, reply));
    found.extend(unended);
    found
}

/// Whether the answer is not JSON, or ends as a line does.
fn ends_with_one_newline(reply: &Reply) -> bool {
    let json = reply.header("content-type").is_some_and(|media| media.contains("json"));
    let ended = reply.text.strip_suffix('\n').is_some_and(|text| !text.ends_with('\n'));
    !json || reply.text.is_empty() || ended
}

fn expected(holds: bool, otherwise: &str) -> Option<String> {
    (!holds).then(|| otherwise.to_owned())
}

/// The documented path that an address is one of; written words go before parameters, as in the service.
pub fn template_of(path: &str) -> Option<&'static str> {
    let asked: Vec<_> = path.split('/').collect();
    let fits = |template: &&str| {
        let known: Vec<_> = template.split('/').collect();
        known.len() == asked.len()
            && known.iter().zip(&asked).all(|(known, asked)| known.starts_with('{') || known == asked)
    };
    let known = DOCUMENT["paths"].as_object().unwrap().keys().map(String::as_str);
    known.filter(fits).min_by_key(|template| template.matches('{').count())
}

/// RFC 6901, section 3.
pub fn escaped(token: &str) -> String {
    token.replace('~', "~0").replace('/', "~1")
}

/// The place that a place of the document stands for: itself, or the component that it points at.
fn followed(place: String) -> String {
    let pointer = DOCUMENT.pointer(&place).and_then(|found| found["$ref"].as_str());
    pointer.map_or(place, |pointer| pointer.trim_start_matches('#').to_owned())
}

fn missing_headers(response: &Value, reply: &Reply) -> Vec<String> {
    let documented = response["headers"].as_object().into_iter().flatten();
    let required = documented.filter(|(_, header)| {
        let place = header["$ref"].as_str().unwrap_or_default().trim_start_matches('#');
        DOCUMENT.pointer(place).unwrap_or(header)["required"] == true
    });
    required
        .filter(|(name, _)| reply.header(name).is_none())
        .map(|(name, _)| format!("the header {name} is missing"))
        .collect()
}

fn body_differences(place: &str, response: &Value, reply: &Reply) -> Vec<String> {
    let Some(offered) = response["content"].as_object() else {
        return expected(reply.text.is_empty(), "a body where none is documented").into_iter().collect();
    };
    let media = reply.header("content-type").unwrap_or_default().split(';').next().unwrap_or_default();
    let Some(shape) = offered.get(media) else {
        return vec![format!("the content type {media:?} is not documented")];
    };
    let body = match media {
        _ if shape["schema"].is_null() => return Vec::new(),
        _ if media.starts_with("text/") => json!(reply.text),
        _ if !media.ends_with("json") => return Vec::new(),
        _ => match serde_json::from_str(&reply.text) {
            Ok(body) => body,
            Err(_) => return vec!["the body is not JSON".to_owned()],
        },
    };
    let checker = checker(&format!("{place}/content/{}/schema", escaped(media)));
    checker.iter_errors(&body).map(|error| format!("at {}: {error}", error.instance_path())).collect()
}

fn checker(place: &str) -> Arc<Validator> {
    let mut checkers = CHECKERS.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some(checker) = checkers.get(place) {
        return Arc::clone(checker);
    }
    let schema = json!({
        "allOf": [DOCUMENT.pointer(place).unwrap()],
        "components": { "schemas": DOCUMENT["components"]["schemas"] },
    });
    let built = jsonschema::options().should_validate_formats(true).build(&schema);
    let checker = Arc::new(built.unwrap_or_else(|error| panic!("the schema at {place}: {error}")));
    checkers.insert(place.to_owned(), Arc::clone(&checker));
    checker
}

/// The control: one true answer, spoilt in one way at a time.
#[test]
fn an_answer_that_differs_from_the_document_is_noticed() {
    let world = World::open();
    let owner = world.owner();
    let party = owner.has_party("Brickyard Fixings", "vendor");
    let path = format!("/v1/parties/{party}");
    let spoilt = |spoil: &dyn Fn(&mut Reply)| {
        let mut reply = owner.get(&path);
        spoil(&mut reply);
        differences("get", &path, &reply).join("; ")
    };
    let with_body = |change: &dyn Fn(&mut Value)| {
        spoilt(&|reply: &mut Reply| {
            let mut body = reply.json();
            change(&mut body);
            reply.text = format!("{body}\n");
        })
    };
    assert_eq!(spoilt(&|_| {}), "");
    assert_eq!(spoilt(&|reply| reply.status = 418), "the status 418 is not documented");
    assert_eq!(spoilt(&|reply| reply.text.replace_range(1.., "\n")), "the body is not JSON");
    let unended = "the JSON does not end with exactly one newline";
    assert_eq!(spoilt(&|reply| reply.text.truncate(reply.text.len() - 1)), unended);
    assert_eq!(spoilt(&|reply| reply.text.push('\n')), unended);
    assert_eq!(
        spoilt(&|reply| drop(reply.headers.remove("x-request-id"))),
        "the header X-Request-Id is missing"
    );
    assert_eq!(
        spoilt(&|reply| drop(reply.headers.insert("content-type", "text/html".parse().unwrap()))),
        "the content type \"text/html\" is not documented"
    );
    let without = with_body(&|body| drop(body.as_object_mut().unwrap().remove("word")));
    assert!(without.contains("\"word\" is a required property"), "{without}");
    let wrong = with_body(&|body| body["recorded_at"] = json!("yesterday"));
    assert!(wrong.contains("at /recorded_at"), "{wrong}");
    let more = with_body(&|body| body["colour"] = json!("green"));
    assert!(more.contains("colour"), "{more}");

    // A problem is described once for all operations, so what is spoilt here is noticed by way of a reference.
    let unknown = "/v1/parties/019af000-0000-7000-8000-000000000001";
    let mut refused = owner.get(unknown);
    assert_eq!(differences("get", unknown, &refused), [""; 0]);
    refused.text = refused.text.replace("\"status\"", "\"state\"");
    refused.headers.remove("x-request-id");
    let found = differences("get", unknown, &refused).join("; ");
    assert!(found.starts_with("the header X-Request-Id is missing; at "), "{found}");
    assert!(found.contains("\"status\" is a required property"), "{found}");

    let reply = owner.get(&path);
    assert_eq!(differences("get", "/v1/wallpaper", &reply), ["the address is not documented"]);
    assert_eq!(differences("delete", &path, &reply), ["the method is not documented"]);
}

/// What a written word and a parameter could both be is the written word's.
#[test]
fn an_address_is_one_of_the_documented_paths() {
    assert_eq!(template_of("/v1/tools/records"), Some("/v1/tools/records"));
    assert_eq!(template_of("/v1/deals/records/7"), Some("/v1/deals/records/{id}"));
    assert_eq!(template_of("/v1/tools/7/standing"), Some("/v1/tools/{id}/standing"));
    assert_eq!(template_of("/v1/wallpaper"), None);
}
