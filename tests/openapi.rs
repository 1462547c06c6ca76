//! The contract: the checked-in document is the generated one, and it says what every operation needs to say.
#![cfg(test)]

use serde_json::{Value, json};

mod examples;
mod probe;

use crate::wire;
use crate::world::World;

fn document() -> Value {
    ledgerboard::api::document().unwrap()
}

#[test]
fn the_checked_in_document_is_the_generated_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/openapi/ledgerboard.json");
    let kept: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(
        kept == document(),
        "run: cargo run -- openapi > openapi/ledgerboard.json, and read the difference"
    );
}

#[test]
fn every_operation_has_a_summary_a_tag_an_id_its_security_and_its_problems() {
    let document = document();
    assert_eq!(document["openapi"], "3.1.0");
    let mut broken = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let has = |pointer: &str| operation.pointer(pointer).is_some_and(|found| !found.is_null());
            let id = operation["operationId"].as_str().unwrap_or_default();
            let summary = operation["summary"].as_str().unwrap_or_default();
            let complete = !id.is_empty()
                && !summary.is_empty()
                && has("/tags/0")
                && has("/security/0/token")
                && has("/responses/401")
                && has("/responses/404")
                && (method == "get" || has("/responses/422"))
                && (method != "patch" || (has("/responses/412") && has("/responses/428")));
            if !complete {
                broken.push(format!("{method} {path}"));
            }
            for name in path.split('{').skip(1).filter_map(|rest| rest.split('}').next()) {
                let named = operation["parameters"].as_array().into_iter().flatten();
                if !named.clone().any(|one| one["name"] == name && one["in"] == "path") {
                    broken.push(format!("{method} {path} does not describe {name}"));
                }
            }
        }
    }
    assert_eq!(broken, Vec::<String>::new());
}

#[test]
fn what_can_be_had_in_several_formats_says_that_others_are_refused() {
    let document = document();
    let mut tried = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        let formats =
            item.pointer("/get/responses/200/content").map_or(0, |all| all.as_object().unwrap().len());
        let refused = item.pointer("/get/responses/406").is_some();
        tried += usize::from(formats > 1);
        assert_eq!(refused, formats > 1, "{path}");
    }
    assert!(tried > 8, "{tried}");
}

/// Every address of the document, with each method that it does not take.
#[test]
fn every_address_says_which_methods_it_takes_when_another_is_tried() {
    let world = World::open();
    let token = world.owner().token;
    let document = document();
    let mut stream = wire::connect(&world.address);
    let (mut tried, mut wrong) = (0, Vec::new());
    for (path, item) in document["paths"].as_object().unwrap() {
        let taken: Vec<_> = item.as_object().unwrap().keys().map(|method| method.to_uppercase()).collect();
        let address = path.replace("{account}", "cash").replace("{year}", "2025").replace("{number}", "1");
        let filled = address
            .split('/')
            .map(|part| if part.starts_with('{') { "019af000-0000-7000-8000-000000000001" } else { part });
        let address = filled.collect::<Vec<_>>().join("/");
        for method in ["GET", "POST", "PUT", "PATCH", "DELETE"] {
            if taken.iter().any(|one| one == method) {
                continue;
            }
            let asked = wire::get(&token, &address).replacen("GET", method, 1);
            let heard = wire::asks(&mut stream, &asked).unwrap();
            tried += 1;
            // Where GET is taken, so is HEAD (RFC 9110, 9.3.2); the document does not say so at every address.
            let allowed = taken.join(", ").replacen("GET", "GET, HEAD", 1);
            if heard.status != 405 || !heard.has_header(&format!("allow: {allowed}")) {
                wrong.push(format!("{method} {address}: {}", heard.head));
            }
        }
    }
    assert!(tried > 300, "{tried}");
    assert_eq!(wrong, Vec::<String>::new());
}

/// Every reference in the document leads somewhere.
#[test]
fn every_reference_resolves() {
    fn references(value: &Value, found: &mut Vec<String>) {
        match value {
            Value::Object(fields) => {
                if let Some(Value::String(target)) = fields.get("$ref") {
                    found.push(target.clone());
                }
                fields.values().for_each(|field| references(field, found));
            }
            Value::Array(items) => items.iter().for_each(|item| references(item, found)),
            _ => {}
        }
    }
    let document = document();
    let mut found = Vec::new();
    references(&document, &mut found);
    assert!(found.len() > 100);
    let dangling: Vec<_> =
        found.iter().filter(|target| document.pointer(target.trim_start_matches('#')).is_none()).collect();
    assert!(dangling.is_empty(), "{dangling:?}");
}

/// Every shape of the document, with its place.
fn shapes<'d>(value: &'d Value, place: &str, found: &mut Vec<(String, &'d Value)>) {
    match value {
        Value::Object(fields) => {
            if fields.get("type").is_some_and(|kind| kind.is_string() || kind.is_array()) {
                found.push((place.to_owned(), value));
            }
            let inner = fields.iter().filter(|(name, _)| *name != "example" && *name != "examples");
            inner.for_each(|(name, one)| shapes(one, &format!("{place}/{name}"), found));
        }
        Value::Array(items) => items.iter().for_each(|one| shapes(one, place, found)),
        _ => {}
    }
}

// OWASP API Security Top 10 (2023), API4, how to prevent: sizes of strings, arrays and numbers are stated (seen).
#[test]
fn every_text_list_and_number_says_how_large_it_gets() {
    let document = document();
    let mut found = Vec::new();
    shapes(&document, "", &mut found);
    let unbounded = |(_, shape): &&(String, &Value)| {
        let is = |kind: &str| {
            shape["type"] == kind || shape["type"].as_array().is_some_and(|all| all.contains(&json!(kind)))
        };
        let has = |names: &[&str]| names.iter().all(|name| !shape[name].is_null());
        let says_its_words = has(&["enum"]) || has(&["const"]);
        is("string") && !says_its_words && !(has(&["maxLength"]) && (has(&["pattern"]) || has(&["format"])))
            || is("array") && !has(&["maxItems"])
            || is("integer") && !has(&["minimum", "maximum", "format"])
    };
    let places: Vec<_> = found.iter().filter(unbounded).map(|(place, _)| place).collect();
    assert!(found.len() > 1_000, "{} shapes", found.len());
    assert_eq!(places, Vec::<&String>::new());
}

#[test]
fn every_word_that_groups_operations_is_explained_and_every_shape_is_of_use() {
    let document = document();
    let explained: Vec<_> = document["tags"].as_array().unwrap().iter().map(|tag| &tag["name"]).collect();
    let operations =
        document["paths"].as_object().unwrap().values().flat_map(|item| item.as_object().unwrap());
    let used: std::collections::BTreeSet<_> =
        operations.map(|(_, operation)| operation["tags"][0].as_str().unwrap()).collect();
    assert_eq!(explained, used.into_iter().collect::<Vec<_>>());
    let written = document.to_string();
    let unused = document["components"]["schemas"].as_object().unwrap().keys();
    let unused: Vec<_> =
        unused.filter(|name| !written.contains(&format!("\"#/components/schemas/{name}\""))).collect();
    assert_eq!(unused, Vec::<&String>::new());
}
