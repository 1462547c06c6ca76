//! Loading the scenario through the public door, or recognizing it in books that have it, and reading it back.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};
use serde::Deserialize;
use serde_json::{Value, json};

use super::{Shown, Told, YEAR};

const SCENARIO: &str = include_str!("scenario.json");

/// Half-loaded books are finished by sending every step again under its key. Keys are kept for a week; a day less leaves
/// time to finish.
const KEYS_HOLD: TimeDelta = TimeDelta::days(6);

/// One request of the scenario. In its path and body `$name` stands for the id of what an earlier step made,
/// `$name.word` for the first thing of that word that it made, and `$name.attributed/2` for the source of its
/// third attribution.
#[derive(Debug, Deserialize)]
struct Step {
    name: String,
    post: String,
    body: Value,
}

/// How much of the scenario the demo's books hold.
enum Loaded {
    Nothing,
    /// The first steps, the first of them at that time.
    Partly(DateTime<Utc>),
    /// Everything, with the answer to each step as far as reading needs it: its id.
    Wholly(HashMap<String, Value>),
}

/// A recorded request, as the audit lists it.
#[derive(Deserialize)]
struct Line {
    at: DateTime<Utc>,
    action: String,
    record: Option<String>,
}

#[derive(Deserialize)]
struct Page {
    items: Vec<Line>,
    next: Option<String>,
}

/// The demo's way to the service: the public door, as for anyone.
pub(super) struct Door {
    pub(super) base: String,
    pub(super) token: String,
}

impl Door {
    fn agent() -> ureq::Agent {
        ureq::Agent::config_builder().http_status_as_error(false).build().new_agent()
    }

    fn post(&self, step: &Step, path: &str, body: &Value) -> Result<Value, Told> {
        let mut answer = Self::agent()
            .post(format!("{}{path}", self.base))
            .header("Authorization", format!("Bearer {}", self.token))
            .header("Idempotency-Key", format!("demo-{}", step.name))
            .send_json(body)?;
        let text = answer.body_mut().read_to_string()?;
        if answer.status() != 201 {
            return Err(format!("the demo's step {} was refused: {text}", step.name).into());
        }
        Ok(serde_json::from_str(&text)?)
    }

    fn get(&self, path: &str) -> Result<String, Told> {
        let mut answer = Self::agent()
            .get(format!("{}{path}", self.base))
            .header("Authorization", format!("Bearer {}", self.token))
            .call()?;
        let text = answer.body_mut().read_to_string()?;
        if answer.status() != 200 {
            return Err(format!("{path} cannot be read: {text}").into());
        }
        Ok(text)
    }

    /// The first requests that recorded something, as many as there are steps. The audit is append-only, so it tells
    /// what was loaded whatever was renamed, corrected or reopened since.
    fn recorded(&self, count: usize) -> Result<Vec<Line>, Told> {
        let mut recorded = Vec::new();
        let mut next = Some("/v1/audit?limit=200".to_owned());
        while let Some(path) = next.take()
            && recorded.len() < count
        {
            let page: Page = serde_json::from_str(&self.get(&path)?)?;
            let posted = |line: &Line| line.record.is_some() && line.action.starts_with("POST ");
            recorded.extend(page.items.into_iter().filter(posted));
            next = page.next;
        }
        recorded.truncate(count);
        Ok(recorded)
    }
}

/// Loads what the books do not hold yet, then reads statements and the year's summary.
pub(super) fn load_and_read(door: &Door, shown: Shown) -> Result<String, Told> {
    let steps: Vec<Step> = serde_json::from_str(SCENARIO)?;
    let made = match loaded(&steps, &door.recorded(steps.len())?)? {
        Loaded::Wholly(made) => made,
        Loaded::Partly(since) if Utc::now() - since > KEYS_HOLD => return Err(START_ANEW.into()),
        Loaded::Nothing | Loaded::Partly(_) => load(door, &steps)?,
    };
    read(door, shown, steps.len(), &made)
}

const START_ANEW: &str = "the demo's books hold only a part of this demo: an earlier run was interrupted, or they were \
                          loaded by another version. Remove them with 'ledgerboard demo --remove' and run the demo again";

fn loaded(steps: &[Step], recorded: &[Line]) -> Result<Loaded, Told> {
    let Some(first) = recorded.first() else { return Ok(Loaded::Nothing) };
    if !steps.iter().zip(recorded).all(|(step, line)| is_answered_by(&step.post, &line.action)) {
        return Err(START_ANEW.into());
    }
    if recorded.len() < steps.len() {
        return Ok(Loaded::Partly(first.at));
    }
    let ids =
        steps.iter().zip(recorded).map(|(step, line)| (step.name.clone(), json!({ "id": line.record })));
    Ok(Loaded::Wholly(ids.collect()))
}

/// Whether a recorded action, such as `POST /v1/tools/0192…/uses`, is that of a step with the path `/v1/tools/$saw/uses`.
fn is_answered_by(path: &str, action: &str) -> bool {
    let Some(asked) = action.strip_prefix("POST ") else { return false };
    let (step, asked): (Vec<_>, Vec<_>) = (path.split('/').collect(), asked.split('/').collect());
    step.len() == asked.len()
        && step.iter().zip(&asked).all(|(step, asked)| step.starts_with('$') || step == asked)
}

fn load(door: &Door, steps: &[Step]) -> Result<HashMap<String, Value>, Told> {
    let mut made = HashMap::new();
    for step in steps {
        let path = filled(&step.post, &made)?;
        let body = with_ids(&step.body, &made)?;
        made.insert(step.name.clone(), door.post(step, &path, &body)?);
    }
    Ok(made)
}

fn read(door: &Door, shown: Shown, count: usize, made: &HashMap<String, Value>) -> Result<String, Told> {
    let id = |name: &str| lookup(name, made);
    let statements = [
        format!("/v1/episodes/{}/statement", id("shelves")?),
        format!("/v1/episodes/{}/statement", id("dresser_episode")?),
        format!("/v1/projects/{}/statement", id("room")?),
    ];
    let summary = format!("/v1/tax-years/{YEAR}/summary");
    match shown {
        Shown::Json => {
            let mut cost_statements = Vec::new();
            for path in &statements {
                cost_statements.push(serde_json::from_str::<Value>(&door.get(path)?)?);
            }
            let year_summary: Value = serde_json::from_str(&door.get(&summary)?)?;
            let document = json!({ "cost_statements": cost_statements, "year_summary": year_summary });
            Ok(serde_json::to_string_pretty(&document)?)
        }
        Shown::Text => {
            let mut text = format!("{count} records of an invented workshop, loaded over HTTP.\n\n");
            for path in statements.iter().chain([&summary]) {
                text.push_str(&door.get(&format!("{path}?format=text"))?);
                text.push('\n');
            }
            Ok(text)
        }
    }
}

fn with_ids(body: &Value, made: &HashMap<String, Value>) -> Result<Value, Told> {
    Ok(match body {
        Value::String(text) => match text.strip_prefix('$') {
            Some(name) => Value::String(lookup(name, made)?),
            None => body.clone(),
        },
        Value::Array(items) => {
            Value::Array(items.iter().map(|one| with_ids(one, made)).collect::<Result<_, _>>()?)
        }
        Value::Object(fields) => Value::Object(
            fields
                .iter()
                .map(|(name, one)| Ok((name.clone(), with_ids(one, made)?)))
                .collect::<Result<_, Told>>()?,
        ),
        other => other.clone(),
    })
}

/// A path with its `$name` parts filled in.
fn filled(path: &str, made: &HashMap<String, Value>) -> Result<String, Told> {
    let parts: Result<Vec<_>, Told> = path
        .split('/')
        .map(|part| part.strip_prefix('$').map_or_else(|| Ok(part.to_owned()), |name| lookup(name, made)))
        .collect();
    Ok(parts?.join("/"))
}

fn lookup(name: &str, made: &HashMap<String, Value>) -> Result<String, Told> {
    let (step, part) = name.split_once('.').unwrap_or((name, ""));
    let answer = made.get(step).ok_or_else(|| format!("the scenario names {name} before it is made"))?;
    let things = answer.get("things").and_then(Value::as_array);
    let found = match part.split_once('/') {
        _ if part.is_empty() => answer.get("id"),
        Some(("attributed", place)) => answer.pointer(&format!("/attributions/{place}/source")),
        _ => {
            things.into_iter().flatten().find(|thing| thing["what"] == part).and_then(|thing| thing.get("id"))
        }
    };
    let found = found.and_then(Value::as_str).ok_or_else(|| format!("the scenario's {name} was not made"))?;
    Ok(found.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(action: &str, record: &str) -> Line {
        let at = "2026-01-05T10:00:00Z".parse().unwrap();
        Line { at, action: action.to_owned(), record: Some(record.to_owned()) }
    }

    fn steps() -> Vec<Step> {
        serde_json::from_value(json!([
            { "name": "saw", "post": "/v1/tools", "body": {} },
            { "name": "cut", "post": "/v1/tools/$saw/uses", "body": {} },
        ]))
        .unwrap()
    }

    #[test]
    fn books_with_every_step_are_recognized_and_give_the_ids() {
        let recorded = [line("POST /v1/tools", "a"), line("POST /v1/tools/a/uses", "b")];
        let Loaded::Wholly(made) = loaded(&steps(), &recorded).unwrap() else { panic!("not recognized") };
        assert_eq!(lookup("saw", &made).unwrap(), "a");
        assert_eq!(lookup("cut", &made).unwrap(), "b");
    }

    #[test]
    fn books_with_the_first_steps_are_half_loaded_and_those_with_other_records_are_refused() {
        assert!(matches!(loaded(&steps(), &[]).unwrap(), Loaded::Nothing));
        assert!(matches!(loaded(&steps(), &[line("POST /v1/tools", "a")]).unwrap(), Loaded::Partly(_)));
        for other in ["POST /v1/trips", "POST /v1/tools/a/uses", "PATCH /v1/tools"] {
            assert!(loaded(&steps(), &[line(other, "a")]).is_err(), "{other}");
        }
    }
}
