//! Checks that stay cheap whatever was sent: lengths of lists come before their items, findings come to an end, and a
//! large body is not checked on a worker that others wait for.

use std::fmt::Display;
use std::sync::LazyLock;

use actix_web::web;
use jsonschema::Validator;
use serde_json::Value;
use tokio::sync::Semaphore;

use super::{all_findings, too_many_items};
use crate::api::problem::{MOST_ERRORS, Problem, ProblemError, ProblemKind, escaped};

/// Bytes of a body that is checked where it came in: less than a millisecond's work.
const LIGHT: usize = 32 * 1024;

/// Bodies that are checked at the same time beside the workers; one fewer than the processors, so that some are left
/// for everybody else.
static AT_ONCE: LazyLock<Semaphore> = LazyLock::new(|| {
    let processors = std::thread::available_parallelism().map_or(2, usize::from);
    Semaphore::new(processors.saturating_sub(1).max(1))
});

/// Values of a body in which all findings are looked for. More than a full batch has; a body of one megabyte that is
/// made to cost much has ten times as many.
const MOST_VALUES: usize = 50_000;

/// Looks at a body, beside the workers where it is large.
/// # Errors
/// What `look` finds.
pub async fn off_the_workers<T: Send + 'static>(
    bytes: web::Bytes,
    look: impl FnOnce(&[u8]) -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    if bytes.len() <= LIGHT {
        return look(&bytes);
    }
    let turn = AT_ONCE.acquire().await.map_err(|error| not_checked(&error))?;
    let looked = web::block(move || {
        // Held until the work is done, and not only as long as somebody waits for it.
        let _turn = turn;
        look(&bytes)
    });
    looked.await.map_err(|error| not_checked(&error))?
}

fn not_checked(error: &impl Display) -> Problem {
    tracing::error!(%error, "a body could not be checked");
    Problem::new(ProblemKind::Internal)
}

/// Lists that have more items than the schema allows, each with its place; what is in them is not looked at.
pub fn too_long(schema: &Value, sent: &Value) -> Vec<ProblemError> {
    let mut found = Vec::new();
    lengths(schema, schema, sent, &mut String::new(), &mut found);
    found.dedup();
    found
}

fn lengths(root: &Value, shape: &Value, sent: &Value, pointer: &mut String, found: &mut Vec<ProblemError>) {
    if found.len() > MOST_ERRORS {
        return;
    }
    if let Some(name) = shape.get("$ref").and_then(Value::as_str)
        && let Some(named) = root.pointer(name.trim_start_matches('#'))
    {
        lengths(root, named, sent, pointer, found);
    }
    for several in ["allOf", "anyOf", "oneOf"] {
        for branch in shape.get(several).and_then(Value::as_array).into_iter().flatten() {
            lengths(root, branch, sent, pointer, found);
        }
    }
    let mut inside = |step: String, shape: &Value, sent: &Value| {
        let before = pointer.len();
        pointer.push_str(&step);
        lengths(root, shape, sent, pointer, found);
        pointer.truncate(before);
    };
    match sent {
        Value::Array(items) => {
            let most = shape.get("maxItems").and_then(Value::as_u64);
            match most.filter(|most| u64::try_from(items.len()).is_ok_and(|given| given > *most)) {
                Some(most) => {
                    let (detail, remedy) = too_many_items(items.len(), most);
                    found.push(ProblemError { pointer: pointer.clone(), detail, remedy });
                }
                None => {
                    for (shape, (place, item)) in shape
                        .get("items")
                        .into_iter()
                        .flat_map(|shape| items.iter().enumerate().map(move |item| (shape, item)))
                    {
                        inside(format!("/{place}"), shape, item);
                    }
                }
            }
        }
        Value::Object(fields) => {
            for (name, shape) in shape.get("properties").and_then(Value::as_object).into_iter().flatten() {
                if let Some(field) = fields.get(name) {
                    inside(format!("/{}", escaped(name)), shape, field);
                }
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// What does not fit the schema, up to one more than is listed in an answer.
pub fn misfits(validator: &Validator, schema: &Value, sent: &Value) -> Vec<ProblemError> {
    let mut errors = Vec::new();
    let mut left = MOST_VALUES;
    // The library collects every error before it hands out the first, so what it looks at is bounded instead.
    let part = beginning_of(sent, &mut left);
    let found: Vec<_> = validator.iter_errors(&part).collect();
    all_findings(&found, schema, &mut errors);
    if errors.is_empty()
        && let Err(first) = validator.validate(sent)
    {
        all_findings(&[first], schema, &mut errors);
    }
    errors.dedup();
    errors
}

/// The value with its lists cut where `left` values have been seen; two items stay, for lists that ask for that many.
fn beginning_of(value: &Value, left: &mut usize) -> Value {
    *left = left.saturating_sub(1);
    match value {
        Value::Array(items) => {
            let mut kept = Vec::new();
            for item in items {
                if *left == 0 && kept.len() >= 2 {
                    break;
                }
                kept.push(beginning_of(item, left));
            }
            Value::Array(kept)
        }
        Value::Object(fields) => {
            let kept = fields.iter().map(|(name, field)| (name.clone(), beginning_of(field, left)));
            Value::Object(kept.collect())
        }
        other => other.clone(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_list_that_is_too_long_is_found_at_every_depth_and_before_its_items() {
        let schema = json!({
            "$ref": "#/components/schemas/Batch",
            "components": { "schemas": {
                "Batch": { "properties": { "items": {
                    "type": "array", "maxItems": 3, "items": { "$ref": "#/components/schemas/Item" }
                } } },
                "Item": { "properties": { "a/b": {
                    "anyOf": [{ "type": "null" }, { "type": "array", "maxItems": 1, "items": { "type": "string" } }]
                } } }
            } }
        });
        let places =
            |sent: Value| too_long(&schema, &sent).into_iter().map(|one| one.pointer).collect::<Vec<_>>();
        assert_eq!(places(json!({ "items": [1, 1, 1, 1] })), ["/items"]);
        assert_eq!(places(json!({ "items": [{}, { "a/b": ["x", "y"] }] })), ["/items/1/a~1b"]);
        assert!(places(json!({ "items": [1, { "a/b": ["x"] }, {}] })).is_empty());
    }

    #[test]
    fn findings_come_to_an_end_and_the_last_values_are_looked_at_too() {
        let schema = json!({ "type": "array", "items": { "type": "array", "items": { "type": "string" } } });
        let validator = jsonschema::options().build(&schema).unwrap();
        let many = json!(vec![vec![1; 1000]; 300]);
        assert_eq!(misfits(&validator, &schema, &many).len(), MOST_ERRORS + 1);
        let mut late = vec![vec![json!("fits"); 1000]; 100];
        late[99][999] = json!(1);
        let found = misfits(&validator, &schema, &json!(late));
        assert_eq!(found.len(), 1, "one error behind fifty thousand values that fit");
        assert_eq!(found[0].pointer, "/99/999");
    }
}
