//! The contract: the checked-in document is the generated one, and it says what every operation needs to say.
#![cfg(test)]

use serde_json::Value;

fn document() -> Value {
    serde_json::to_value(ledgerboard::api::document()).unwrap()
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
                && (method != "post" || has("/responses/422"));
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
