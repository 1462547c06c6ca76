//! The HTTP server: limits, headers, and answers for what no handler takes.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::{Duration, Instant};

use actix_web::body::MessageBody;
use actix_web::dev::{Server, ServiceRequest, ServiceResponse};
use actix_web::error::PathError;
use actix_web::http::header::{
    ALLOW, CONTENT_ENCODING, CONTENT_TYPE, ContentType, ETAG, HeaderName, HeaderValue,
    STRICT_TRANSPORT_SECURITY,
};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::{Compress, Next, from_fn};
use actix_web::{App, HttpMessage, HttpRequest, HttpResponse, HttpServer, web};
use serde_json::Value;
use tokio::time::timeout;
use utoipa_swagger_ui::SwaggerUi;
use uuid::Uuid;

use super::checked::BODY_LIMIT;
use super::descriptors::connections_of_each;
use super::door::let_in;
use super::limits::{Gate, Limits, stand_at_the_gate};
use super::metrics::Figures;
use super::newline::end_json_with_a_newline;
use super::problem::{Problem, ProblemKind, Slug};
use super::tls::Wire;
use super::{openapi, routes};
use crate::store::cluster::{ServerState, Supervised};
use crate::store::connect::Database;

/// A listener that is bound already, and what is spoken on it.
pub struct Listening {
    pub listener: TcpListener,
    pub wire: Wire,
}

/// What registers the pages; the rooms on top do not know each other.
pub type Pages = fn(&mut web::ServiceConfig);

/// How long an answer under way may take after the service is told to stop.
const SHUTDOWN_SECONDS: u64 = 5;

/// Whoever asks whether the service is ready is answered within two seconds, whatever the database does.
const READY_LIMIT: Duration = Duration::from_millis(1500);

/// Serves the books on a listener that is bound already.
/// # Errors
/// The listener can not be used.
pub fn server(
    database: Database,
    listening: Listening,
    workers: usize,
    limits: Limits,
    figures: Arc<Figures>,
    pages: Pages,
) -> std::io::Result<Server> {
    let gate = Arc::new(Gate::new(limits, Arc::clone(&figures)));
    let document = openapi::document().map_err(std::io::Error::other)?;
    let addresses = Arc::new(Addresses::of(&document));
    // Written out once and shared: the document itself weighs more than the rest of an idle service.
    let shown = web::Bytes::from(document.to_string());
    drop(document);
    let server = HttpServer::new(move || {
        let shown = shown.clone();
        App::new()
            .app_data(web::Data::new(database.clone()))
            .app_data(web::Data::from(Arc::clone(&gate)))
            .app_data(web::Data::from(Arc::clone(&figures)))
            .app_data(web::PayloadConfig::new(BODY_LIMIT))
            .app_data(web::PathConfig::default().error_handler(no_id))
            .app_data(web::QueryConfig::default().error_handler(|error, _| {
                Problem::of_query(&error, "compare it with the API's document (/openapi.json)").into()
            }))
            .configure(routes::register)
            .service(web::redirect("/docs", "/docs/"))
            .service(SwaggerUi::new("/docs/{_:.*}").config(utoipa_swagger_ui::Config::from("/openapi.json")))
            .configure(pages)
            .service(web::resource("/problems/{slug}").route(web::get().to(super::problem::explain)))
            .service(
                web::resource("/openapi.json").route(web::get().to(move || show_document(shown.clone()))),
            )
            .service(web::resource("/health/live").route(web::get().to(live)))
            .service(web::resource("/health/ready").route(web::get().to(ready)))
            .app_data(web::Data::from(Arc::clone(&addresses)))
            .default_service(web::to(nowhere))
            .wrap(from_fn(end_json_with_a_newline))
            .wrap(from_fn(take_known_methods))
            .wrap(from_fn(send_one_form_of_what_is_tagged))
            .wrap(Compress::default())
            .wrap(from_fn(stand_at_the_gate))
            .wrap(from_fn(speak_in_problems))
            .wrap(from_fn(answer_head_as_get))
            .wrap(from_fn(name_the_request))
    });
    let server = server
        .workers(workers)
        .max_connections(connections_of_each(workers))
        .shutdown_timeout(SHUTDOWN_SECONDS)
        .client_request_timeout(Duration::from_secs(5))
        .keep_alive(Duration::from_secs(15))
        .client_disconnect_timeout(Duration::from_secs(1))
        .disable_signals();
    let Listening { listener, wire } = listening;
    let server = match wire {
        Wire::Plain => server.listen(listener)?,
        Wire::Tls(config, _) => server.listen_rustls_0_23(listener, Arc::unwrap_or_clone(config))?,
    };
    Ok(server.run())
}

/// Which methods each address takes, from the document.
struct Addresses(Vec<(Vec<String>, String)>);

impl Addresses {
    fn of(document: &Value) -> Self {
        let paths = document.get("paths").and_then(Value::as_object);
        let addresses = paths.into_iter().flatten().map(|(path, item)| {
            let methods = ["get", "post", "patch"].into_iter().filter(|method| item.get(method).is_some());
            let methods: Vec<_> = methods.map(str::to_uppercase).collect();
            let methods = methods.join(", ").replacen("GET", "GET, HEAD", 1);
            (path.split('/').map(str::to_owned).collect(), methods)
        });
        Self(addresses.collect())
    }

    /// An address that is written out comes before one with a place for an id.
    fn methods_of(&self, path: &str) -> Option<&str> {
        let asked: Vec<_> = path.split('/').collect();
        let fits = |known: &[String]| {
            known.len() == asked.len()
                && known.iter().zip(&asked).all(|(known, asked)| known.starts_with('{') || known == asked)
        };
        let written_out = self.0.iter().find(|(known, _)| *known == asked);
        let found = written_out.or_else(|| self.0.iter().find(|(known, _)| fits(known)));
        found.map(|(_, methods)| methods.as_str())
    }
}

fn takes_only(methods: &str) -> HttpResponse {
    let mut answer = Problem::new(ProblemKind::MethodNotAllowed).response();
    if let Ok(methods) = HeaderValue::from_str(methods) {
        answer.headers_mut().insert(ALLOW, methods);
    }
    answer
}

/// Sends away a method that the address does not take and a caller without a good token, before anything of the body is
/// read. What is written out, such as `batch`, is never taken for an id.
async fn take_known_methods(
    addresses: web::Data<Addresses>,
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    match addresses.methods_of(request.path()) {
        Some(methods) if !methods.split(", ").any(|one| one == request.method().as_str()) => {
            Ok(request.into_response(takes_only(methods)).map_into_left_body())
        }
        Some(_) => match let_in(request.request()).await {
            Ok(_) => Ok(next.call(request).await?.map_into_right_body()),
            Err(problem) => Ok(request.into_response(problem.response()).map_into_left_body()),
        },
        None => Ok(next.call(request).await?.map_into_right_body()),
    }
}

/// HEAD is GET without the body (RFC 9110, section 9.3.2): it takes the way of GET, and the framework, which remembers
/// what was asked, leaves the body out.
async fn answer_head_as_get(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    if request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    next.call(request).await
}

async fn nowhere() -> HttpResponse {
    Problem::new(ProblemKind::NotFound).response()
}

/// A word where an id is asked for is no id of anything.
fn no_id(_: PathError, _: &HttpRequest) -> actix_web::Error {
    Problem::new(ProblemKind::NotFound).into()
}

async fn show_document(written: web::Bytes) -> HttpResponse {
    HttpResponse::Ok().insert_header(ContentType::json()).body(written)
}

async fn live() -> HttpResponse {
    HttpResponse::NoContent().finish()
}

/// When the last backup was taken, on the readiness page: a time (RFC 3339), or `never`.
const LAST_BACKUP: HeaderName = HeaderName::from_static("last-backup");

async fn ready(database: web::Data<Database>) -> HttpResponse {
    let failed = match database.server().map(Supervised::state) {
        Some(ServerState::Restarting { failed, disk_full }) => {
            let kind = if disk_full { ProblemKind::DiskFull } else { ProblemKind::Unavailable };
            let problem = Problem::new(kind);
            let remedy = kind.remedy();
            problem.with(format!(
                "PostgreSQL has ended and is being started again; failed starts: {failed}. {remedy}"
            ))
        }
        Some(ServerState::GivenUp) => Problem::new(ProblemKind::Unavailable)
            .with("PostgreSQL has ended and does not start again; the service ends too. Read its log."),
        Some(ServerState::Running { .. }) | None => {
            match timeout(READY_LIMIT, database.last_backup()).await {
                Ok(Ok(taken)) => {
                    let taken = taken.map_or_else(|| "never".to_owned(), |at| at.to_rfc3339());
                    return HttpResponse::NoContent().insert_header((LAST_BACKUP, taken)).finish();
                }
                Ok(Err(error)) => Problem::of_store(&error, None),
                Err(_) => Problem::new(ProblemKind::Unavailable)
                    .with("PostgreSQL has not answered for 1.5 s. Ask again; if it stays so, read its log."),
            }
        }
    };
    failed.response()
}

/// A name for the request, in its answer, its log line and the audit.
#[derive(Clone, Copy, Debug)]
struct RequestId(Uuid);

/// The request's name.
pub fn request_id_of(request: &HttpRequest) -> Uuid {
    request.extensions().get::<RequestId>().map_or_else(Uuid::now_v7, |id| id.0)
}

/// Names the request, and says in one line what became of it: never its query, its body, a token or an address,
/// which may tell of people.
async fn name_the_request(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let (id, begun) = (Uuid::now_v7(), Instant::now());
    let method = request.method().clone();
    request.extensions_mut().insert(RequestId(id));
    let counted = request.app_data::<web::Data<Figures>>().cloned().map(web::Data::into_inner);
    let under_way = counted.as_ref().map(Figures::begin);
    let mut answer = next.call(request).await?;
    let shown = HeaderValue::from_str(&id.to_string()).map_err(actix_web::error::ErrorInternalServerError)?;
    answer.headers_mut().insert(HeaderName::from_static("x-request-id"), shown);
    let (route, took) = (answer.request().match_pattern().unwrap_or_default(), begun.elapsed());
    let status = answer.status().as_u16();
    if let Some(figures) = counted {
        let problem = answer.response().extensions().get::<Slug>().map(|slug| slug.0);
        figures.answered(&route, &method, status, took, problem);
    }
    if let Some(under_way) = under_way {
        under_way.comes_to_its_end();
    }
    tracing::info!(
        request = %id,
        %method,
        route,
        status,
        milliseconds = took.as_millis(),
        "answered"
    );
    Ok(answer)
}

/// A tag stands for the very bytes of one form (RFC 9110, section 8.8.3): what carries one is not packed on its way, so
/// that the packed and the plain form never share it. The mark is taken off again before the answer goes out.
async fn send_one_form_of_what_is_tagged(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let mut answer = next.call(request).await?;
    if answer.headers().contains_key(ETAG) {
        answer.headers_mut().insert(CONTENT_ENCODING, AS_IT_IS);
    }
    Ok(answer)
}

/// Tells the packer that the body is not to be packed; it says nothing to a caller (RFC 9110, section 8.4.1).
const AS_IT_IS: HeaderValue = HeaderValue::from_static("identity");

/// What the framework says in plain text is said as a problem, and every answer carries the safe headers.
async fn speak_in_problems(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let inside_tls = request.app_config().secure();
    let answer = next.call(request).await?;
    let status = answer.status();
    let is_problem = answer
        .headers()
        .get(CONTENT_TYPE)
        .is_some_and(|media| media.as_bytes().starts_with(b"application/problem+json"));
    let mut answer = if (status.is_client_error() || status.is_server_error()) && !is_problem {
        let kind = match status {
            StatusCode::NOT_FOUND => ProblemKind::NotFound,
            StatusCode::METHOD_NOT_ALLOWED => ProblemKind::MethodNotAllowed,
            StatusCode::PAYLOAD_TOO_LARGE => ProblemKind::TooLarge,
            StatusCode::BAD_REQUEST => ProblemKind::MalformedRequest,
            StatusCode::INTERNAL_SERVER_ERROR => ProblemKind::Internal,
            other => ProblemKind::Other(other),
        };
        let request = answer.request().clone();
        ServiceResponse::new(request, Problem::new(kind).response()).map_into_left_body()
    } else {
        answer.map_into_right_body()
    };
    if answer.headers().get(CONTENT_ENCODING) == Some(&AS_IT_IS) {
        answer.headers_mut().remove(CONTENT_ENCODING);
    }
    // What is not in the document is read only: pages, the document itself, the health of the service.
    if answer.status() == StatusCode::METHOD_NOT_ALLOWED && !answer.headers().contains_key(ALLOW) {
        answer.headers_mut().insert(ALLOW, HeaderValue::from_static("GET, HEAD"));
    }
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "no-referrer"),
        ("cache-control", "no-store"),
    ] {
        answer.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if inside_tls {
        // RFC 6797: for a year, nobody asks for this service in plain.
        let value = HeaderValue::from_static("max-age=31536000");
        answer.headers_mut().insert(STRICT_TRANSPORT_SECURITY, value);
    }
    Ok(answer)
}

/// Binds the address; a taken port says so in words.
/// # Errors
/// The address is taken or not ours to bind.
pub fn bind(address: SocketAddr) -> std::io::Result<TcpListener> {
    let listener = TcpListener::bind(address)?;
    listener.set_nonblocking(true)?;
    Ok(listener)
}
