//! What the document's requests and answers reach among its components, by following references.

use std::collections::BTreeSet;

use serde_json::Value;

const SCHEMAS: &str = "#/components/schemas/";

/// The names of the schemas that requests send, and of all that anything points at.
#[derive(Debug, Default)]
pub struct Reached {
    pub sent: BTreeSet<String>,
    pub all: BTreeSet<String>,
}

/// Follows every reference of the document.
pub fn follow(document: &Value) -> Reached {
    let mut reached = Reached::default();
    for operation in inner(document.get("paths")).flat_map(|item| inner(Some(item))) {
        for sent in ["requestBody", "parameters"].iter().filter_map(|part| operation.get(part)) {
            gather(sent, document, &mut reached.sent);
        }
        gather(operation, document, &mut reached.all);
    }
    for shared in ["responses", "parameters", "headers"] {
        let place = format!("/components/{shared}");
        document.pointer(&place).into_iter().for_each(|one| gather(one, document, &mut reached.all));
    }
    reached
}

fn inner(value: Option<&Value>) -> impl Iterator<Item = &Value> {
    value.and_then(Value::as_object).into_iter().flat_map(serde_json::Map::values)
}

fn gather(value: &Value, document: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::Array(several) => several.iter().for_each(|one| gather(one, document, into)),
        Value::Object(fields) => {
            let pointed = fields.get("$ref").and_then(Value::as_str);
            if let Some(name) = pointed.and_then(|place| place.strip_prefix(SCHEMAS))
                && into.insert(name.to_owned())
                && let Some(schema) = document.pointer(&format!("/components/schemas/{name}"))
            {
                gather(schema, document, into);
            }
            fields.values().for_each(|one| gather(one, document, into));
        }
        _ => {}
    }
}
