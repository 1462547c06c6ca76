//! Examples: what a workshop of invented people sends and is told. They are not made up: `tests/openapi/examples.rs`
//! writes the workshop through the door and holds `openapi/examples.json` to what came of it.

use serde_json::Value;

use super::shared::problem_at;

const KEPT: &str = include_str!("../../../openapi/examples.json");

/// Puts each example where it belongs in the written document.
///
/// # Errors
/// The kept examples are not JSON.
pub fn put_into(document: &mut Value) -> Result<(), serde_json::Error> {
    let kept: Value = serde_json::from_str(KEPT)?;
    let paths = document.get_mut("paths").and_then(Value::as_object_mut).into_iter().flatten();
    for (_, operation) in paths.filter_map(|(_, item)| item.as_object_mut()).flatten() {
        let id = operation.get("operationId").and_then(Value::as_str).unwrap_or_default();
        let Some(example) = kept.get(id).cloned() else { continue };
        if let (Some(body), Some(request)) = (operation.get_mut("requestBody"), example.get("request")) {
            show(body, request);
        }
        for (status, told) in example.get("answers").and_then(Value::as_object).into_iter().flatten() {
            operation
                .get_mut("responses")
                .and_then(|responses| responses.get_mut(status))
                .into_iter()
                .for_each(|answer| show(answer, told));
        }
        show_problems(operation);
    }
    let shared = document.pointer_mut("/components/responses").and_then(Value::as_object_mut);
    for (name, answer) in shared.into_iter().flatten() {
        if let Some(told) = kept.get("shared").and_then(|shared| shared.get(name)) {
            show(answer, told);
        }
    }
    Ok(())
}

/// The example of every JSON that the body or the answer may be.
fn show(place: &mut Value, example: &Value) {
    let content = place.get_mut("content").and_then(Value::as_object_mut);
    let json = content.into_iter().flatten().filter(|(media, _)| media.ends_with("json"));
    for (_, content) in json {
        if let Some(content) = content.as_object_mut() {
            content.insert("example".to_owned(), example.clone());
        }
    }
}

/// The problems that an operation describes in words of its own.
fn show_problems(operation: &mut Value) {
    let responses = operation.get_mut("responses").and_then(Value::as_object_mut);
    for (status, answer) in responses.into_iter().flatten() {
        problem_at(status).into_iter().for_each(|problem| show(answer, &problem));
    }
}
