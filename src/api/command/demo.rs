//! The demo: an invented scenario of ours, loaded through the HTTP API like anybody's records, then read back.

use std::collections::HashMap;
use std::net::SocketAddr;
use std::process::ExitCode;
use std::sync::Arc;

use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::{Value, json};

use super::serving::workers;
use super::{Told, serving};
use crate::api::limits::Limits;
use crate::api::serve::{self, Listening, Pages};
use crate::api::setup::{self, Opened, Whereabouts};
use crate::api::stop::Stop;
use crate::api::tls::Wire;
use crate::rules::books::{TaxProfile, TimeZone};
use crate::rules::costing::StartMonth;
use crate::rules::ids::BooksId;
use crate::rules::money::Currency;
use crate::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use crate::rules::tokens::Scope;
use crate::store::books::{Books, NewBooks};
use crate::store::connect::Database;

const SCENARIO: &str = include_str!("demo/scenario.json");
/// Marks the demo's books, so that a second run finds them.
const MARK: &str = "demo";
const YEAR: i32 = 2025;

/// What happens after the tables are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Afterwards {
    GoOnServing,
    Exit,
}

/// How the result is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Shown {
    Text,
    Json,
}

/// One request of the scenario. In its path and body `$name` stands for the id of what an earlier step made,
/// `$name.word` for the first thing of that word that it made, and `$name.attributed/2` for the source of its
/// third attribution.
#[derive(Debug, Deserialize)]
struct Step {
    name: String,
    post: String,
    body: Value,
}

pub(super) async fn demo(
    whereabouts: &Whereabouts,
    listen: SocketAddr,
    pages: Pages,
    afterwards: Afterwards,
    shown: Shown,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let mut opened = setup::open(whereabouts, stop).await?;
    opened.supervise(serving::RESTART_LIMIT);
    let demonstrated = demonstrate(&opened, listen, pages, afterwards, shown, stop).await;
    opened.close().await?;
    demonstrated
}

async fn demonstrate(
    opened: &Opened,
    listen: SocketAddr,
    pages: Pages,
    afterwards: Afterwards,
    shown: Shown,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let books = demo_books(&opened.database).await?;
    let token = serving::first_token(&books, "ledgerboard demo", "demo", Scope::Admin).await?;
    // A demo that exits takes any free port, so that it runs beside a service.
    let address = if afterwards == Afterwards::Exit { SocketAddr::from(([127, 0, 0, 1], 0)) } else { listen };
    let listener = serving::bound(address)?;
    let base = format!("http://{}", listener.local_addr()?);
    let server = serve::server(
        opened.database.clone(),
        Listening { listener, wire: Wire::Plain },
        workers(),
        Limits::default(),
        Arc::default(),
        pages,
    )?;
    let handle = server.handle();
    let told = stop.clone();
    let told = async move { told.told().await };
    let running = tokio::spawn(serving::until_told(server, told));
    let door = Door { base: base.clone(), token: token.clone() };
    let told = tokio::task::spawn_blocking(move || load_and_read(&door, shown)).await?;
    match told {
        Ok(text) => println!("{text}"),
        Err(error) => {
            handle.stop(false).await;
            return Err(error);
        }
    }
    if afterwards == Afterwards::Exit {
        handle.stop(true).await;
    } else {
        println!(
            "The API listens on {base}/v1; its documentation is at {base}/docs/ and {base}/openapi.json."
        );
        println!("A token for it, shown this once: {token}");
        println!("Stop with Ctrl-C.");
    }
    running.await??;
    Ok(ExitCode::SUCCESS)
}

async fn demo_books(database: &Database) -> Result<Books, Told> {
    let listed = database.books_on_this_server().await?;
    if let Some(found) = listed.into_iter().find(|one| one.mark.as_deref() == Some(MARK)) {
        return Ok(Books::of(database.clone(), BooksId(found.books_id)));
    }
    let new = NewBooks {
        name: "Fernbank Workshop (demo)".to_owned(),
        base: Currency::find("USD").map_err(crate::rules::refusal::Refusal::from)?,
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        tax_profile: TaxProfile::UnitedStates,
        time_zone: TimeZone::UTC,
        fiscal_year_begins: StartMonth::January,
        began_on: NaiveDate::from_ymd_opt(YEAR, 1, 1).unwrap_or_default(),
        mark: Some(MARK.to_owned()),
    };
    Ok(database.open_books(&new).await?)
}

/// The demo's way to the service: the public door, like anybody's.
struct Door {
    base: String,
    token: String,
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
            return Err(format!("{path} can not be read: {text}").into());
        }
        Ok(text)
    }
}

/// Posts every step (the keys see to it that a second run doubles nothing), then reads statements and summary.
fn load_and_read(door: &Door, shown: Shown) -> Result<String, Told> {
    let steps: Vec<Step> = serde_json::from_str(SCENARIO)?;
    let mut made: HashMap<String, Value> = HashMap::new();
    for step in &steps {
        let path = filled(&step.post, &made)?;
        let body = with_ids(&step.body, &made)?;
        made.insert(step.name.clone(), door.post(step, &path, &body)?);
    }
    let id = |name: &str| lookup(name, &made);
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
            let mut text = format!("{} records of an invented workshop, loaded over HTTP.\n\n", steps.len());
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
