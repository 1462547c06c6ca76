//! Metrics for whoever runs the service, as text that Prometheus reads (format 0.0.4). They tell of all books at once,
//! so no token opens them: a token belongs to one books' owner, and the load of the others is none of their business.
//! They are served on an address of their own that only this machine reaches. No label holds an id, a token or
//! anything that a person wrote.

use std::net::TcpListener;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use actix_web::dev::Server;
use actix_web::http::Method;
use actix_web::{App, HttpResponse, HttpServer, web};
use prometheus_client::encoding::{EncodeLabelSet, prometheus_text};
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

use super::problem::{Problem, ProblemKind};
use crate::store::cluster::{ServerState, Supervised};
use crate::store::connect::Database;
use crate::store::error::Fault;
use crate::store::recording::Outcome;

/// What became of a request. The route is the pattern, not the path; whatever no route takes is `none`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    route: String,
    method: &'static str,
    status: u16,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OnRoute {
    route: String,
    method: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct OfKind {
    kind: &'static str,
}

/// Counts and gauges of one service, shared by its workers.
pub struct Figures {
    registry: Registry,
    requests: Family<Answered, Counter>,
    took: Family<OnRoute, Histogram, fn() -> Histogram>,
    under_way: Gauge,
    hung_up: Counter,
    shed: Counter,
    throttled: Family<OfKind, Counter>,
    records: Counter,
    problems: Family<OfKind, Counter>,
    pool: Family<OfKind, Gauge>,
    last_backup: Gauge,
    archived: Family<OfKind, Gauge>,
    resident: Gauge,
    postgres: Family<OfKind, Gauge>,
    disk: Family<OfKind, Gauge>,
}

/// Seconds; a read of a page lies in the first few, a write that waits for its turn in the last.
fn buckets() -> Histogram {
    Histogram::new([0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0])
}

impl Default for Figures {
    fn default() -> Self {
        let mut figures = Self {
            registry: Registry::with_prefix("ledgerboard"),
            requests: Family::default(),
            took: Family::new_with_constructor(buckets),
            under_way: Gauge::default(),
            hung_up: Counter::default(),
            shed: Counter::default(),
            throttled: Family::default(),
            records: Counter::default(),
            problems: Family::default(),
            pool: Family::default(),
            last_backup: Gauge::default(),
            archived: Family::default(),
            resident: Gauge::default(),
            postgres: Family::default(),
            disk: Family::default(),
        };
        figures.register();
        figures
    }
}

impl Figures {
    fn register(&mut self) {
        let registry = &mut self.registry;
        registry.register("requests", "Requests answered", self.requests.clone());
        registry.register_with_unit(
            "request_duration",
            "Time to the answer",
            Unit::Seconds,
            self.took.clone(),
        );
        registry.register("requests_under_way", "Requests being worked on", self.under_way.clone());
        registry.register("requests_hung_up", "Requests whose caller left first", self.hung_up.clone());
        registry.register("requests_shed", "Requests sent away for too many at once", self.shed.clone());
        registry.register(
            "requests_throttled",
            "Requests sent away for too many a minute",
            self.throttled.clone(),
        );
        registry.register("records", "Records written", self.records.clone());
        registry.register(
            "problems",
            "Answers of 400 and above, by the end of their type",
            self.problems.clone(),
        );
        registry.register(
            "pool_connections",
            "The pool to the database; waiting are requests, and queued those in front of their books",
            self.pool.clone(),
        );
        registry.register(
            "private_postgres",
            "Whether it runs (up is 1 or 0), and how often it was started again",
            self.postgres.clone(),
        );
        registry.register_with_unit(
            "disk",
            "The file system of the data folder: its size, and what is available",
            Unit::Bytes,
            self.disk.clone(),
        );
        registry.register_with_unit(
            "last_backup_timestamp",
            "When the last finished backup was taken, since 1970; 0 before the first",
            Unit::Seconds,
            self.last_backup.clone(),
        );
        registry.register_with_unit(
            "archive_timestamp",
            "When PostgreSQL last archived a piece of its log, and when that last failed, since 1970; 0 if never",
            Unit::Seconds,
            self.archived.clone(),
        );
        let process = registry.sub_registry_with_prefix("process");
        let started: Gauge = Gauge::default();
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        started.set(i64::try_from(since.as_secs()).unwrap_or_default());
        process.register_with_unit("start_time", "When it was started, since 1970", Unit::Seconds, started);
        if resident_bytes().is_some() {
            process.register_with_unit("resident_memory", "Memory held", Unit::Bytes, self.resident.clone());
        }
    }

    /// Counts a request as under way until what is given back is dropped.
    pub fn begin(self: &Arc<Self>) -> UnderWay {
        self.under_way.inc();
        UnderWay { figures: Arc::clone(self), answered: false }
    }

    /// Counts an answer; `route` is the pattern that took it, `problem` the end of its type where it is one.
    pub fn answered(
        &self,
        route: &str,
        method: &Method,
        status: u16,
        took: Duration,
        problem: Option<&'static str>,
    ) {
        let (route, method) = (if route.is_empty() { "none" } else { route }.to_owned(), known(method));
        self.took.get_or_create(&OnRoute { route: route.clone(), method }).observe(took.as_secs_f64());
        self.requests.get_or_create(&Answered { route, method, status }).inc();
        if let Some(kind) = problem {
            self.problems.get_or_create(&OfKind { kind }).inc();
        }
    }

    pub fn shed_one(&self) {
        self.shed.inc();
    }

    pub fn throttled_a_token(&self) {
        self.throttled.get_or_create(&OfKind { kind: "token" }).inc();
    }

    pub fn throttled_wrong_tokens(&self) {
        self.throttled.get_or_create(&OfKind { kind: "wrong_token" }).inc();
    }

    /// Counts what a write came to: a record, or as many as its batch has; none where it was answered before.
    pub fn wrote(&self, outcome: &Result<Outcome, Fault>, records: usize) {
        if matches!(outcome, Ok(Outcome::Recorded { .. })) {
            self.records.inc_by(u64::try_from(records).unwrap_or_default());
        }
    }

    fn show_server(&self, server: &Supervised) {
        let up = self.postgres.get_or_create_owned(&OfKind { kind: "up" });
        match server.state() {
            ServerState::Running { restarts } => {
                up.set(1);
                self.postgres.get_or_create(&OfKind { kind: "restarts" }).set(restarts.into());
            }
            ServerState::Restarting { .. } | ServerState::GivenUp => {
                up.set(0);
            }
        }
        let Some(space) = server.disk_space() else { return };
        for (kind, bytes) in [("size", space.size), ("available", space.available)] {
            self.disk.get_or_create(&OfKind { kind }).set(i64::try_from(bytes).unwrap_or(i64::MAX));
        }
    }

    fn shown(&self, database: &Database) -> Result<String, std::fmt::Error> {
        let pool = database.pool();
        let counts = [
            ("most", pool.most),
            ("open", pool.open),
            ("idle", pool.idle),
            ("waiting", pool.waiting),
            ("queued", pool.queued),
        ];
        for (kind, count) in counts {
            self.pool.get_or_create(&OfKind { kind }).set(i64::try_from(count).unwrap_or(i64::MAX));
        }
        if let Some(bytes) = resident_bytes() {
            self.resident.set(bytes);
        }
        if let Some(server) = database.server() {
            self.show_server(server);
        }
        let mut text = String::new();
        prometheus_text::encode(&mut text, &self.registry)?;
        Ok(text)
    }
}

/// A request under way; one that is dropped before its answer was hung up on.
pub struct UnderWay {
    figures: Arc<Figures>,
    answered: bool,
}

impl UnderWay {
    pub fn comes_to_its_end(mut self) {
        self.answered = true;
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        self.figures.under_way.dec();
        if !self.answered {
            self.figures.hung_up.inc();
        }
    }
}

/// A caller may make methods up; each would be a series of its own for ever.
fn known(method: &Method) -> &'static str {
    let ours = ["GET", "POST", "PATCH", "PUT", "DELETE", "HEAD", "OPTIONS"];
    ours.into_iter().find(|one| *one == method.as_str()).unwrap_or("other")
}

/// Where the system tells it (Linux: proc(5), `VmRSS` in kilobytes of 1024 bytes).
fn resident_bytes() -> Option<i64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    line.trim().strip_suffix(" kB")?.trim().parse::<i64>().ok()?.checked_mul(1024)
}

/// Serves the metrics alone, on a listener that is bound already.
/// # Errors
/// The listener can not be used.
pub fn server(database: Database, figures: Arc<Figures>, listener: TcpListener) -> std::io::Result<Server> {
    let server = HttpServer::new(move || {
        App::new()
            .app_data(web::Data::new(database.clone()))
            .app_data(web::Data::from(Arc::clone(&figures)))
            .service(web::resource("/metrics").route(web::get().to(show)))
            .default_service(web::to(|| async { Problem::new(ProblemKind::NotFound).response() }))
    });
    Ok(server.workers(1).shutdown_timeout(1).listen(listener)?.disable_signals().run())
}

async fn show(figures: web::Data<Figures>, database: web::Data<Database>) -> HttpResponse {
    // Metrics are wanted most while the database does not answer; the time of the last backup stays as it was then.
    match database.last_backup().await {
        Ok(taken) => {
            figures.last_backup.set(taken.map_or(0, |at| at.timestamp()));
        }
        Err(error) => tracing::warn!(%error, "the time of the last backup could not be read"),
    }
    match database.archiver().await {
        Ok(archiver) => {
            for (kind, at) in
                [("success", archiver.last_archived_time), ("failure", archiver.last_failed_time)]
            {
                figures.archived.get_or_create(&OfKind { kind }).set(at.map_or(0, |at| at.timestamp()));
            }
        }
        Err(error) => tracing::warn!(%error, "the state of the archive could not be read"),
    }
    match figures.shown(&database) {
        Ok(text) => HttpResponse::Ok().content_type(prometheus_text::CONTENT_TYPE).body(text),
        Err(_) => Problem::new(ProblemKind::Internal).response(),
    }
}
