//! The document's examples are what the service takes and answers: a whole workshop is written through the door, and
//! what was sent and told is what `openapi/examples.json` keeps. Ids, instants, seals and secrets are put in order.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use jsonschema::Validator;
use regex_lite::Regex;
use serde_json::{Map, Value, json};

use super::document;
use crate::documents::files::jpeg;
use crate::world::workshop::{Sent, goes_on, workshop};
use crate::world::{Caller, Reply, World};

const KEPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/openapi/examples.json");
/// What the demo's workshop does not do.
const FURTHER: &str = include_str!("further.json");

/// And the year's end, after which nothing more of it is recorded.
const FILED: &str = r#"[
  {"name": "closed", "post": "/v1/books/closing", "body": {"through": "2025-12-31", "reason": "the year is done"}},
  {"name": "filed", "post": "/v1/tax-years/2025/filing", "body": {"date": "2026-03-01", "note": "by the preparer"}}
]"#;

/// What is told anew each time, and what stands for it in an example.
static CHANGING: LazyLock<Vec<(Regex, &str)>> = LazyLock::new(|| {
    [
        (r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z", "2026-03-14T15:09:26.535897Z"),
        (r"\b[0-9a-f]{64}\b", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"),
        (r"lbt_[0-9A-Za-z]+", "lbt_ThisIsNoTokenItIsAnExampleOfOne00000000"),
        (r"cursor=[^&]+", "cursor=2025-03-01.019af00000007000800000000000000a~c2VhbGVkIGZvciB0aGlz"),
    ]
    .map(|(pattern, instead)| (Regex::new(pattern).unwrap(), instead))
    .into()
});

static AN_ID: LazyLock<Regex> =
    LazyLock::new(|| Regex::new("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}").unwrap());

/// The example with its ids in the order in which they come, and without what changes from day to day.
fn in_order(example: &Value, today: &str) -> Value {
    let mut text = example.to_string().replace(today, "2026-03-14");
    for (changing, instead) in CHANGING.iter() {
        text = changing.replace_all(&text, *instead).into_owned();
    }
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    let ordered = AN_ID.replace_all(&text, |found: &regex_lite::Captures<'_>| {
        let next = known.len() + 1;
        format!("019af000-0000-7000-8000-{:012}", known.entry(found[0].to_owned()).or_insert(next))
    });
    serde_json::from_str(&ordered).unwrap()
}

/// What an operation of the document was sent, and what it answered.
#[derive(Default)]
struct Seen {
    request: Option<Value>,
    answers: BTreeMap<String, Value>,
}

struct Gathered {
    document: Value,
    today: String,
    seen: BTreeMap<String, Seen>,
}

impl Gathered {
    /// The operation's id and place in the document.
    fn operation(&self, method: &str, path: &str) -> Option<(String, &Value)> {
        let template = crate::contract::template_of(path)?;
        let operation = self.document["paths"][template].get(method)?;
        Some((operation["operationId"].as_str().unwrap().to_owned(), operation))
    }

    fn note(&mut self, method: &str, path: &str, sent: Option<&Value>, status: u16, told: &Value) {
        let Some((id, operation)) = self.operation(method, path) else { return };
        let takes = operation["requestBody"]["content"].get("application/json").is_some();
        let status = status.to_string();
        let told_here = operation["responses"][&status]["content"].get("application/json").is_some();
        let seen = self.seen.entry(id).or_default();
        if let Some(sent) = sent.filter(|_| takes) {
            seen.request.get_or_insert_with(|| in_order(sent, &self.today));
        }
        if told_here {
            seen.answers.entry(status).or_insert_with(|| in_order(told, &self.today));
        }
    }

    fn note_reply(&mut self, method: &str, path: &str, sent: Option<&Value>, reply: &Reply) {
        let path = path.split('?').next().unwrap();
        self.note(method, path, sent, reply.status, &reply.json());
    }

    /// Reads what can be read of the things that were made.
    fn reads(&mut self, owner: &Caller, sent: &[Sent]) {
        let made = sent.iter().filter_map(|one| one.answer["id"].as_str());
        let things = sent.iter().flat_map(|one| one.answer["things"].as_array().into_iter().flatten());
        let ids: Vec<_> = made.chain(things.filter_map(|thing| thing["id"].as_str())).collect();
        for path in self.paths(|_, item| item.get("get").is_some()) {
            let get = self.document["paths"][&path]["get"].clone();
            if get["responses"]["200"]["content"].get("application/json").is_none() {
                continue;
            }
            let limited =
                get["parameters"].as_array().into_iter().flatten().any(|one| one["name"] == "limit");
            let query = if limited { "?limit=1" } else { "" };
            let path = path
                .replace("{year}", "2025")
                .replace("{number}", "1")
                .replace("{account}", "expense:supplies");
            let tried = ids.iter().map(|id| path.replace("{id}", id).replace("{lot}", id));
            let first = tried.map(|path| (owner.get(&format!("{path}{query}")), path));
            let mut good = first.filter(|(reply, _)| reply.status == 200);
            let (reply, path) = good.next().unwrap_or_else(|| panic!("nothing is read at {path}"));
            self.note_reply("get", &path, None, &reply);
        }
    }

    /// Changes labels.
    fn changes(&mut self, owner: &Caller, sent: &[Sent]) {
        let note = json!({ "note": "on the second shelf, behind the paint" });
        for path in self.paths(|_, item| item.get("patch").is_some()) {
            let made = sent.iter().filter_map(|one| one.answer["id"].as_str());
            let things = sent.iter().flat_map(|one| one.answer["things"].as_array().into_iter().flatten());
            let ids = made.chain(things.filter_map(|thing| thing["id"].as_str()));
            let tried = ids.map(|id| path.replace("{id}", id));
            let mut tried = tried.map(|path| (owner.patch(&path, "\"1\"", &note), path));
            let (reply, path) = tried.find(|(reply, _)| reply.status == 200).unwrap();
            self.note_reply("patch", &path, Some(&note), &reply);
        }
    }

    /// Sends in one call, first to be shown, what was sent one by one and may be recorded a second time.
    fn sends_batches(&mut self, owner: &Caller, sent: &[Sent]) {
        for path in self.paths(|path, _| path.ends_with("/batch")) {
            let single = path.trim_end_matches("/batch");
            let again = |one: &&Sent| {
                one.post == single && owner.post(&format!("{single}?dry_run=true"), &one.body).status == 200
            };
            let items: Vec<_> = sent.iter().filter(again).take(2).map(|one| &one.body).collect();
            let body = json!({ "items": items });
            for (path, status) in [(format!("{path}?dry_run=true"), 200), (path.clone(), 201)] {
                let reply = owner.post(&path, &body);
                assert_eq!(reply.status, status, "{path} {body}: {}", reply.text);
                self.note_reply("post", &path, Some(&body), &reply);
            }
        }
    }

    fn paths(&self, wanted: impl Fn(&str, &Value) -> bool) -> Vec<String> {
        let all = self.document["paths"].as_object().unwrap().iter();
        all.filter(|(path, item)| wanted(path, item)).map(|(path, _)| path.clone()).collect()
    }

    fn written(self) -> Value {
        let operations = self.seen.into_iter().map(|(id, seen)| {
            let mut one = Map::new();
            one.extend(seen.request.map(|request| ("request".to_owned(), request)));
            if !seen.answers.is_empty() {
                one.insert("answers".to_owned(), json!(seen.answers));
            }
            (id, Value::Object(one))
        });
        Value::Object(operations.filter(|(_, one)| one != &json!({})).collect())
    }
}

/// The workshop with a document, and with what its own scenario has no need of.
pub fn with_more(owner: &Caller) -> Vec<Sent> {
    let mut sent = workshop(owner);
    let slip = owner.has_document("/v1/documents?name=till.jpg", "image/jpeg", &jpeg(30, 40, &[]));
    sent.push(Sent {
        name: "till_slip".to_owned(),
        post: "/v1/documents".to_owned(),
        body: Value::Null,
        names_others: false,
        answer: json!({ "id": slip }),
    });
    goes_on(owner, FURTHER, &mut sent);
    sent
}

/// Everything that the workshop sends and is told, once.
fn gathered() -> Value {
    let world = World::open();
    let owner = world.owner();
    let day = chrono::Utc::now().date_naive();
    let mut all = Gathered { document: document(), today: day.to_string(), seen: BTreeMap::new() };
    let mut sent = with_more(&owner);
    all.changes(&owner, &sent);
    let sale = sent.iter().find(|one| one.name == "old_dresser_sold").unwrap();
    let shown = owner.post(&format!("{}?dry_run=true", sale.post), &sale.body).json();
    goes_on(&owner, FILED, &mut sent);
    for one in sent.iter().filter(|one| !one.body.is_null()) {
        all.note("post", &one.post, Some(&one.body), 201, &one.answer);
    }
    for (path, body) in [
        (
            "/v1/costing/break-even",
            json!({ "price": "60.00", "variable_cost": "35.00", "fixed_cost": "500.00" }),
        ),
        (
            "/v1/deals/floor",
            json!({ "net_cost": "310.00", "own_hours": "14", "pay_per_hour": "25.00",
                                    "agency_share": "20", "tax_set_aside": "30" }),
        ),
    ] {
        let worked_out = owner.post(path, &body);
        all.note_reply("post", path, Some(&body), &worked_out);
    }
    all.reads(&owner, &sent);
    owner.records("/v1/books/reopening", json!({ "from": "2025-01-01", "reason": "to show batches" }));
    all.sends_batches(&owner, &sent);
    let sale = sent.iter().find(|one| one.name == "old_dresser_sold").unwrap();
    let mut written = all.written();
    let today = day.to_string();
    written["shared"] =
        json!({ "Recorded": in_order(&sale.answer, &today), "Shown": in_order(&shown, &today) });
    written
}

/// `LEDGERBOARD_KEEP_EXAMPLES=1 cargo test --test trade examples`, then the document anew.
#[test]
fn the_examples_are_what_a_workshop_sends_and_is_told() {
    let gathered = gathered();
    if std::env::var_os("LEDGERBOARD_KEEP_EXAMPLES").is_some() {
        std::fs::write(KEPT, format!("{gathered:#}\n")).unwrap();
    }
    let kept: Value = serde_json::from_str(&std::fs::read_to_string(KEPT).unwrap()).unwrap();
    let differing: Vec<_> = gathered
        .as_object()
        .unwrap()
        .iter()
        .filter(|(name, one)| kept.get(name.as_str()) != Some(one))
        .map(|(name, one)| format!("{name}: {one}"))
        .collect();
    assert!(differing.is_empty(), "kept otherwise: {}", differing.join("\n"));
    assert_eq!(kept.as_object().unwrap().len(), gathered.as_object().unwrap().len());
}

fn validator(document: &Value, place: &str) -> Validator {
    let schema = json!({ "allOf": [document.pointer(place).unwrap()], "components": document["components"] });
    jsonschema::options().should_validate_formats(true).build(&schema).unwrap()
}

/// Every place of the document where something is sent or told as JSON, by its pointer.
fn places_of_json(value: &Value, place: &str, found: &mut Vec<String>) {
    if let Value::Object(fields) = value {
        for (name, one) in fields {
            let here = format!("{place}/{}", crate::contract::escaped(name));
            if name.ends_with("json") && place.ends_with("/content") {
                found.push(here);
            } else {
                places_of_json(one, &here, found);
            }
        }
    }
}

#[test]
fn whatever_is_sent_or_told_has_an_example_and_each_fits_its_schema() {
    let document = document();
    let mut places = Vec::new();
    places_of_json(&document["paths"], "/paths", &mut places);
    places_of_json(&document["components"]["responses"], "/components/responses", &mut places);
    let mut wrong = Vec::new();
    for place in &places {
        match document.pointer(&format!("{place}/example")) {
            None => wrong.push(format!("{place} has no example")),
            Some(example) => {
                let checker = validator(&document, &format!("{place}/schema"));
                wrong.extend(checker.iter_errors(example).map(|error| format!("{place}: {error}")));
            }
        }
    }
    assert!(places.len() > 180, "{}", places.len());
    assert_eq!(wrong, Vec::<String>::new());
}
