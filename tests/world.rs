//! A world a test: its own database in one private cluster a run, its own service, its own people.
//!
//! `let world = World::open(); let owner = world.owner();` then `owner.records("/v1/parties", json!({…}))`.
//! Helpers use the public door only; [`World::try_as_superuser`] is for faults that no door allows.
#![cfg(test)]

mod changes;
mod problems;
pub mod server;
mod sql;
pub mod workshop;

use std::net::TcpListener;
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, LazyLock, Mutex, OnceLock};
use std::thread::JoinHandle;

use chrono::NaiveDate;
use ledgerboard::api::limits::Limits;
use ledgerboard::api::metrics::Figures;
use ledgerboard::api::serve::Listening;
use ledgerboard::api::tls::Wire;
use ledgerboard::rules::books::{TaxProfile, TimeZone};
use ledgerboard::rules::costing::StartMonth;
use ledgerboard::rules::ids::BooksId;
use ledgerboard::rules::money::Currency;
use ledgerboard::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use ledgerboard::rules::tokens::{Scope, ShownToken, write_token};
use ledgerboard::rules::verify::{Verdict, verify};
use ledgerboard::store::audit::Act;
use ledgerboard::store::books::{Books, NewBooks};
use ledgerboard::store::cluster::{ADMIN, Cluster, ClusterSettings, Durability};
use ledgerboard::store::connect::{CheckDurability, Database, DatabaseSettings, migrate};
use ledgerboard::store::tokens::TokenToKeep;
pub use sql::an_empty_database;

use serde_json::{Value, json};

const TEMPLATE: &str = "template_books";

/// One cluster for the whole run; it is stopped and swept away when this process has gone.
struct Shared {
    cluster: Cluster,
    runtime: tokio::runtime::Runtime,
}

static SHARED: OnceLock<Shared> = OnceLock::new();
static NEXT: AtomicU32 = AtomicU32::new(1);
pub static AGENT: LazyLock<ureq::Agent> =
    LazyLock::new(|| ureq::Agent::config_builder().http_status_as_error(false).build().new_agent());

fn shared() -> &'static Shared {
    SHARED.get_or_init(|| {
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let folder = tempfile::Builder::new().prefix("ledgerboard-tests-").tempdir().unwrap().keep();
        make_passable(&folder);
        let settings = ClusterSettings {
            data_dir: folder.join("books"),
            pg_bin: std::env::var_os("LEDGERBOARD_PG_BIN").map(PathBuf::from),
            durability: Durability::ThrowAway,
        };
        let cluster = runtime.block_on(Cluster::start(&settings)).unwrap();
        sweep_afterwards(&folder, &cluster);
        runtime.block_on(async {
            run_sql(&cluster, "postgres", &format!("CREATE DATABASE {TEMPLATE}")).await;
            migrate(&cluster.url(ADMIN, TEMPLATE)).await.unwrap();
        });
        Shared { cluster, runtime }
    })
}

/// The database's own user has to pass through to its data folder.
fn make_passable(folder: &std::path::Path) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o755)).unwrap();
}

/// A shell that waits for this process to end, then stops the server and removes its folder.
fn sweep_afterwards(folder: &std::path::Path, cluster: &Cluster) {
    let pid_file = cluster.folder().join("postmaster.pid");
    let script = "(while kill -0 \"$1\" 2>/dev/null; do sleep 0.3; done; \
                  kill -INT \"$(head -n 1 \"$2\")\" 2>/dev/null; sleep 1; rm -rf \"$3\") &";
    Command::new("sh")
        .args(["-c", script, "sweep", &std::process::id().to_string()])
        .arg(pid_file)
        .arg(folder)
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .status()
        .unwrap();
}

async fn run_sql(cluster: &Cluster, database: &str, text: &str) {
    let config = cluster.connection_config(ADMIN, database);
    let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
    let driver = tokio::spawn(connection);
    client.batch_execute(text).await.unwrap();
    drop(client);
    driver.await.unwrap().unwrap();
}

/// A database with its service, and books whose owner has an admin token.
pub struct World {
    pub address: String,
    pub name: String,
    pub figures: Arc<Figures>,
    database: Database,
    owner: Caller,
    handle: actix_web::dev::ServerHandle,
    thread: Mutex<Option<JoinHandle<()>>>,
    /// Whether a test went past the fences: then its books need not hold any more.
    tampered: AtomicBool,
}

/// How a world's books are kept; `Kept::usual()` and change what the test is about.
pub struct Kept {
    pub currency: &'static str,
    pub method: AccountingMethod,
    pub timing: MaterialsTiming,
    pub flow: MaterialsFlow,
    pub began_on: &'static str,
}

impl Kept {
    pub fn usual() -> Self {
        Self {
            currency: "USD",
            method: AccountingMethod::Cash,
            timing: MaterialsTiming::WhenUsed,
            flow: MaterialsFlow::Fifo,
            began_on: "2023-01-01",
        }
    }
}

impl World {
    pub fn open() -> Self {
        Self::keeping(&Kept::usual())
    }

    pub fn keeping(kept: &Kept) -> Self {
        Self::serving(kept, no_limits(), Wire::Plain)
    }

    /// A service that lets no more through than that.
    pub fn limited(limits: Limits) -> Self {
        Self::serving(&Kept::usual(), limits, Wire::Plain)
    }

    /// A service that is spoken to in that way.
    pub fn speaking(wire: Wire) -> Self {
        Self::serving(&Kept::usual(), no_limits(), wire)
    }

    fn serving(kept: &Kept, limits: Limits, wire: Wire) -> Self {
        let shared = shared();
        let name = format!("world_{}", NEXT.fetch_add(1, Ordering::Relaxed));
        let made = format!("CREATE DATABASE {name} TEMPLATE {TEMPLATE}");
        shared.runtime.block_on(run_sql(&shared.cluster, "postgres", &made));
        let settings = DatabaseSettings {
            owner_url: shared.cluster.url(ADMIN, &name),
            service_url: shared.cluster.url("ledgerboard_service", &name),
            connections: 8,
            durability: CheckDurability::Waive,
        };
        let figures = Arc::<Figures>::default();
        let counted = Arc::clone(&figures);
        let (sender, receiver) = std::sync::mpsc::channel();
        let thread = std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let database = Database::join(&settings).await.unwrap();
                let listener = TcpListener::bind("127.0.0.1:0").unwrap();
                let address = format!("{}://{}", wire.scheme(), listener.local_addr().unwrap());
                let listening = Listening { listener, wire };
                let pages = ledgerboard::web::pages::register;
                let server =
                    ledgerboard::api::serve::server(database.clone(), listening, 2, limits, counted, pages)
                        .unwrap();
                sender.send((database, address, server.handle())).unwrap();
                server.await.unwrap();
            });
        });
        let (database, address, handle) = receiver.recv().unwrap();
        let books = open_books(&database, kept);
        let token = add_token(&books, Scope::Admin);
        let owner = Caller { address: address.clone(), token };
        Self {
            address,
            name,
            figures,
            database,
            owner,
            handle,
            thread: Mutex::new(Some(thread)),
            tampered: AtomicBool::new(false),
        }
    }

    /// Holds an admin token of the world's books.
    pub fn owner(&self) -> Caller {
        self.owner.clone()
    }

    /// Holds an admin token of other books in the same database.
    pub fn stranger(&self) -> Caller {
        let books = open_books(&self.database, &Kept::usual());
        Caller { address: self.address.clone(), token: add_token(&books, Scope::Admin) }
    }

    /// Shows no good token.
    pub fn nobody(&self) -> Caller {
        Caller { address: self.address.clone(), token: write_token(BooksId(uuid::Uuid::now_v7()), &[9; 32]) }
    }

    /// The owner's log-in on this world's database, for programs that take a URL.
    pub fn url(&self) -> String {
        shared().cluster.url(ADMIN, &self.name)
    }

    /// The log-in of the service's own role, for what a service may do wrong.
    pub fn service_url(&self) -> String {
        shared().cluster.url("ledgerboard_service", &self.name)
    }

    pub fn database(&self) -> Database {
        self.database.clone()
    }

    /// Connections of the service's pool that are in use, and how many it has open.
    pub fn connections(&self) -> (usize, usize) {
        self.database.connections()
    }

    /// What verifying says of all books in this database.
    pub fn verdicts(&self) -> Vec<Verdict> {
        shared().runtime.block_on(async {
            let mut verdicts = Vec::new();
            for listed in self.database.books_on_this_server().await.unwrap() {
                let books = Books::of(self.database.clone(), BooksId(listed.books_id));
                verdicts.push(verify(&books.to_verify().await.unwrap()));
            }
            verdicts
        })
    }

    /// Forgets what the hourly housekeeping would, and says how many answers that were.
    pub fn forgets_old_answers(&self) -> u64 {
        shared().runtime.block_on(self.database.forget_old_answers()).unwrap()
    }

    /// Waits for what a test asks of the store itself.
    pub fn waits_for<T>(&self, work: impl Future<Output = T>) -> T {
        shared().runtime.block_on(work)
    }

    /// Stops the service; the database stays.
    pub fn stop_serving(&self) {
        shared().runtime.block_on(self.handle.stop(false));
        if let Some(thread) = self.thread.lock().unwrap().take() {
            thread.join().unwrap();
        }
    }

    /// One number from the database, past every fence.
    pub fn count(&self, query: &str) -> i64 {
        let shared = shared();
        shared.runtime.block_on(async {
            let config = shared.cluster.connection_config(ADMIN, &self.name);
            let (client, connection) = config.connect(tokio_postgres::NoTls).await.unwrap();
            let driver = tokio::spawn(connection);
            let found = client.query_one(query, &[]).await.unwrap().get(0);
            drop(client);
            driver.await.unwrap().unwrap();
            found
        })
    }

    /// How many rows the records and the journal hold: the same before and after says that nothing was written.
    pub fn rows_written(&self) -> i64 {
        self.count(
            "SELECT (SELECT count(*) FROM records) + (SELECT count(*) FROM entries) \
             + (SELECT count(*) FROM postings) + (SELECT count(*) FROM sources) \
             + (SELECT count(*) FROM movements) + (SELECT count(*) FROM attributions) \
             + (SELECT count(*) FROM audit_lines WHERE record_id IS NOT NULL) + (SELECT count(*) FROM revisions) \
             + (SELECT count(*) FROM idempotency_answers)",
        )
    }
}

impl Drop for World {
    fn drop(&mut self) {
        if !std::thread::panicking() && !self.tampered.load(Ordering::Relaxed) {
            // Whatever a test recorded, its books have to hold at the end.
            for verdict in self.verdicts() {
                assert!(verdict.holds(), "{:#?}", verdict.breaches);
            }
            if self.address.starts_with("http://") && self.thread.lock().unwrap().is_some() {
                problems::follow(&self.address);
            }
        }
        self.stop_serving();
    }
}

/// A test asks faster than any person.
fn no_limits() -> Limits {
    Limits { per_minute: NonZeroU32::MAX, wrong_tokens_per_minute: NonZeroU32::MAX, ..Limits::default() }
}

fn open_books(database: &Database, kept: &Kept) -> Books {
    let new = NewBooks {
        name: "Fernbank Workshop".to_owned(),
        base: Currency::find(kept.currency).unwrap(),
        method: kept.method,
        timing: kept.timing,
        flow: kept.flow,
        tax_profile: TaxProfile::UnitedStates,
        time_zone: TimeZone::UTC,
        fiscal_year_begins: StartMonth::January,
        began_on: kept.began_on.parse::<NaiveDate>().unwrap(),
        mark: None,
    };
    shared().runtime.block_on(database.open_books(&new)).unwrap()
}

fn add_token(books: &Books, scope: Scope) -> String {
    static SEED: AtomicU32 = AtomicU32::new(1);
    let mut random = [1; 32];
    // A byte stands for one of 62 signs, so a seed is written in signs: else every 62nd token is the same again.
    let mut seed = SEED.fetch_add(1, Ordering::Relaxed);
    for byte in &mut random[..4] {
        *byte = u8::try_from(seed % 62).unwrap();
        seed /= 62;
    }
    let token = write_token(books.id(), &random);
    let hash = ShownToken::read(&token).unwrap().hash;
    let expires_at = chrono::Utc::now() + chrono::TimeDelta::days(1);
    let kept = TokenToKeep { name: "test".to_owned(), scope, expires_at, hash };
    shared().runtime.block_on(books.add_token(&Act::outside("a test"), None, &kept)).unwrap();
    token
}

/// Somebody at the public door.
#[derive(Clone)]
pub struct Caller {
    pub address: String,
    pub token: String,
}

/// An answer.
pub struct Reply {
    pub status: u16,
    pub headers: ureq::http::HeaderMap,
    pub text: String,
}

impl Reply {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|_| panic!("not JSON: {}", self.text))
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name).and_then(|value| value.to_str().ok())
    }

    /// The problem's errors at that pointer, as "detail | remedy".
    pub fn error_at(&self, pointer: &str) -> String {
        let body = self.json();
        let found = body["errors"].as_array().into_iter().flatten().find(|one| one["pointer"] == pointer);
        match found {
            Some(one) => format!("{} | {}", one["detail"].as_str().unwrap(), one["remedy"].as_str().unwrap()),
            None => panic!("nothing at {pointer:?} in {body:#}"),
        }
    }
}

/// Reads an answer to its end, and holds it to the document.
pub fn reply(method: &str, path: &str, response: ureq::http::Response<ureq::Body>) -> Reply {
    let (parts, mut body) = response.into_parts();
    let text = body.read_to_string().unwrap();
    let reply = Reply { status: parts.status.as_u16(), headers: parts.headers, text };
    crate::contract::hold(method, path, &reply);
    problems::note(&reply);
    reply
}

impl Caller {
    pub fn get(&self, path: &str) -> Reply {
        let request = AGENT.get(format!("{}{path}", self.address));
        reply("get", path, request.header("Authorization", format!("Bearer {}", self.token)).call().unwrap())
    }

    pub fn get_accepting(&self, path: &str, accept: &str) -> Reply {
        let request = AGENT.get(format!("{}{path}", self.address)).header("Accept", accept);
        reply("get", path, request.header("Authorization", format!("Bearer {}", self.token)).call().unwrap())
    }

    pub fn post(&self, path: &str, body: &Value) -> Reply {
        self.post_text(path, &body.to_string(), &[])
    }

    pub fn post_with_key(&self, path: &str, key: &str, body: &Value) -> Reply {
        self.post_text(path, &body.to_string(), &[("Idempotency-Key", key)])
    }

    pub fn post_text(&self, path: &str, body: &str, headers: &[(&str, &str)]) -> Reply {
        let mut request = AGENT
            .post(format!("{}{path}", self.address))
            .header("Authorization", format!("Bearer {}", self.token));
        if !headers.iter().any(|(name, _)| *name == "Content-Type") {
            request = request.header("Content-Type", "application/json");
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        reply("post", path, request.send(body).unwrap())
    }

    /// The body of a read that succeeds.
    pub fn reads(&self, path: &str) -> Value {
        let reply = self.get(path);
        assert_eq!(reply.status, 200, "GET {path}: {}", reply.text);
        reply.json()
    }

    /// The answer to a write that succeeds.
    pub fn records(&self, path: &str, body: Value) -> Value {
        let reply = self.post(path, &body);
        assert_eq!(reply.status, 201, "POST {path} {body}: {}", reply.text);
        reply.json()
    }

    /// The id of what a write made.
    pub fn makes(&self, path: &str, body: Value) -> String {
        self.records(path, body)["id"].as_str().unwrap().to_owned()
    }

    /// A problem that answers a write; the status is checked.
    pub fn is_refused(&self, status: u16, path: &str, body: Value) -> Reply {
        let reply = self.post(path, &body);
        assert_eq!(reply.status, status, "POST {path} {body}: {}", reply.text);
        assert_eq!(reply.header("content-type"), Some("application/problem+json"));
        reply
    }

    pub fn has_party(&self, name: &str, role: &str) -> String {
        self.makes("/v1/parties", json!({ "name": name, "role": role }))
    }

    pub fn has_project(&self, name: &str) -> String {
        self.makes("/v1/projects", json!({ "name": name, "place": "own_home" }))
    }

    pub fn has_episode(&self, project: &str, title: &str) -> String {
        self.makes("/v1/episodes", json!({ "title": title, "project": project }))
    }

    /// A money account of that kind, such as bank or cash.
    pub fn has_account(&self, kind: &str) -> String {
        self.makes("/v1/accounts", json!({ "name": format!("the {kind}"), "kind": kind }))
    }
}

/// An entry's postings as "account amount class", in their order.
pub fn postings(entry: &Value) -> Vec<String> {
    let lines = entry["postings"].as_array().unwrap();
    let one = |line: &Value| {
        let class = line["class"].as_str().map(|class| format!(" {class}")).unwrap_or_default();
        let account = line["account"].as_str().unwrap();
        let account = if account.starts_with("money:") { "money" } else { account };
        format!("{account} {}{class}", line["amount"].as_str().unwrap())
    };
    lines.iter().map(one).collect()
}
