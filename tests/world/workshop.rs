//! The invented workshop: the demo's hundred records, written through the door as its owner would.

use serde_json::{Value, json};

use super::Caller;

/// The invented workshop's hundred records, the same that the demo loads.
const SCENARIO: &str = include_str!("../../src/api/command/demo/scenario.json");

/// A step of a scenario as it was sent, and what it made.
pub struct Sent {
    pub name: String,
    pub post: String,
    pub body: Value,
    pub names_others: bool,
    pub answer: Value,
}

/// The id that `$name`, `$name.word` or `$name.attributed/2` stands for; the number of its entry for `$name.entry`; and
/// a source by its text for `$source of text`.
fn looked_up(owner: &Caller, name: &str, made: &[Sent]) -> String {
    if let Some(text) = name.strip_prefix("source of ") {
        let listed = owner.reads("/v1/sources");
        let found = listed["sources"].as_array().unwrap().iter().find(|one| one["text"] == text);
        return found.unwrap()["source"].as_str().unwrap().to_owned();
    }
    let (step, part) = name.split_once('.').unwrap_or((name, ""));
    let answer = &made.iter().find(|one| one.name == step).unwrap().answer;
    if part == "entry" {
        return answer["entries"][0]["number"].to_string();
    }
    let found = match part.split_once('/') {
        _ if part.is_empty() => &answer["id"],
        Some((_, place)) => answer.pointer(&format!("/attributions/{place}/source")).unwrap(),
        None => {
            let things = answer["things"].as_array().unwrap();
            &things.iter().find(|thing| thing["what"] == part).unwrap()["id"]
        }
    };
    found.as_str().unwrap().to_owned()
}

fn filled(owner: &Caller, value: &Value, made: &[Sent]) -> Value {
    match value {
        Value::String(text) if text.starts_with('$') => json!(looked_up(owner, &text[1..], made)),
        Value::Array(items) => items.iter().map(|one| filled(owner, one, made)).collect(),
        Value::Object(fields) => fields
            .iter()
            .map(|(name, one)| (name.clone(), filled(owner, one, made)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
        other => other.clone(),
    }
}

/// The workshop's books, written through the door.
pub fn workshop(owner: &Caller) -> Vec<Sent> {
    let mut sent = Vec::new();
    goes_on(owner, SCENARIO, &mut sent);
    sent
}

/// Takes the steps of one more part of a scenario; they may name what those before them made.
pub fn goes_on(owner: &Caller, steps: &str, sent: &mut Vec<Sent>) {
    let steps: Vec<Value> = serde_json::from_str(steps).unwrap();
    for step in steps {
        let part =
            |part: &str| part.strip_prefix('$').map_or(part.to_owned(), |name| looked_up(owner, name, sent));
        let post = step["post"].as_str().unwrap().split('/').map(part).collect::<Vec<_>>().join("/");
        let body = filled(owner, &step["body"], sent);
        let names_others =
            step["post"].as_str().unwrap().contains('$') || step["body"].to_string().contains("\"$");
        let answer = owner.records(&post, body.clone());
        let name = step["name"].as_str().unwrap().to_owned();
        sent.push(Sent { name, post, body, names_others, answer });
    }
}
