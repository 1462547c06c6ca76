//! Problems: what goes over the wire when something is wrong (RFC 9457). Every finding at once, each with a
//! pointer into the sent body and a remedy; never SQL, a table's name or a stack.

mod page;

use std::fmt;
use std::time::Duration;

use actix_web::error::QueryPayloadError;
use actix_web::http::StatusCode;
use actix_web::http::header::{ContentType, HeaderValue, RETRY_AFTER};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::openapi::bounds::is_bidi_control;
use crate::rules::refusal::{Refusal, Standing};
use crate::store::error::{Fault, StoreError};
pub use page::explain;

/// The kinds of problem; each has a page of its own at its type address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProblemKind {
    MalformedRequest,
    InvalidRequest,
    Refused,
    Conflict,
    Stale,
    VersionNeeded,
    StillRunning,
    Moved,
    NotSignedIn,
    NotAllowed,
    NotFound,
    MethodNotAllowed,
    NotAcceptable,
    TooSlow,
    TooLarge,
    UnsupportedMediaType,
    TooMany,
    Unavailable,
    OutcomeUnknown,
    DiskFull,
    Internal,
    Corrupt,
    Other(StatusCode),
}

impl ProblemKind {
    pub const fn status(self) -> StatusCode {
        match self {
            Self::MalformedRequest => StatusCode::BAD_REQUEST,
            Self::InvalidRequest => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Refused => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Conflict => StatusCode::CONFLICT,
            Self::Stale => StatusCode::PRECONDITION_FAILED,
            Self::VersionNeeded => StatusCode::PRECONDITION_REQUIRED,
            Self::StillRunning | Self::Moved => StatusCode::CONFLICT,
            Self::NotSignedIn => StatusCode::UNAUTHORIZED,
            Self::NotAllowed => StatusCode::FORBIDDEN,
            Self::NotFound => StatusCode::NOT_FOUND,
            Self::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Self::NotAcceptable => StatusCode::NOT_ACCEPTABLE,
            Self::TooSlow => StatusCode::REQUEST_TIMEOUT,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::UnsupportedMediaType => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::TooMany => StatusCode::TOO_MANY_REQUESTS,
            Self::Unavailable | Self::OutcomeUnknown => StatusCode::SERVICE_UNAVAILABLE,
            // RFC 4918, section 11.5.
            Self::DiskFull => StatusCode::INSUFFICIENT_STORAGE,
            Self::Internal | Self::Corrupt => StatusCode::INTERNAL_SERVER_ERROR,
            Self::Other(status) => status,
        }
    }

    /// The end of its address, and its title.
    pub const fn names(self) -> (&'static str, &'static str) {
        match self {
            Self::MalformedRequest => ("malformed-request", "The request can not be read"),
            Self::InvalidRequest => ("invalid-request", "The request has fields that do not fit"),
            Self::Refused => ("refused", "The rules refuse this record"),
            Self::Conflict => ("conflict", "The books do not allow this now"),
            Self::Stale => ("stale", "It has changed since you read it"),
            Self::VersionNeeded => ("version-needed", "Say which version you have seen"),
            Self::StillRunning => ("still-running", "The first request under this key is still running"),
            Self::Moved => ("moved", "These books are kept at another address now"),
            Self::NotSignedIn => ("not-signed-in", "A token is needed"),
            Self::NotAllowed => ("not-allowed", "The token does not reach this far"),
            Self::NotFound => ("not-found", "Not in these books"),
            Self::MethodNotAllowed => ("method-not-allowed", "This address does not take that method"),
            Self::NotAcceptable => ("not-acceptable", "No such format here"),
            Self::TooSlow => ("too-slow", "The request came too slowly"),
            Self::TooLarge => ("too-large", "The body is too large"),
            Self::UnsupportedMediaType => ("unsupported-media-type", "The body is not marked as JSON"),
            Self::TooMany => ("too-many-requests", "Too many requests"),
            Self::Unavailable => ("unavailable", "The books can not be reached just now"),
            Self::OutcomeUnknown => ("outcome-unknown", "Whether it was recorded is unknown"),
            Self::DiskFull => ("disk-full", "The disk of the service is full"),
            Self::Internal => ("internal", "A fault of the service"),
            Self::Corrupt => ("corrupt", "The file is not what it was"),
            Self::Other(_) => ("other", "The request was not taken"),
        }
    }

    /// Every kind that has a page.
    pub const ALL: [Self; 23] = [
        Self::MalformedRequest,
        Self::InvalidRequest,
        Self::Refused,
        Self::Conflict,
        Self::Stale,
        Self::VersionNeeded,
        Self::StillRunning,
        Self::Moved,
        Self::NotSignedIn,
        Self::NotAllowed,
        Self::NotFound,
        Self::MethodNotAllowed,
        Self::NotAcceptable,
        Self::TooSlow,
        Self::TooLarge,
        Self::UnsupportedMediaType,
        Self::TooMany,
        Self::Unavailable,
        Self::OutcomeUnknown,
        Self::DiskFull,
        Self::Internal,
        Self::Corrupt,
        // One page, whatever the status.
        Self::Other(StatusCode::BAD_REQUEST),
    ];
}

/// One thing that is wrong, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ProblemError {
    /// JSON Pointer (RFC 6901) into the sent body; empty for the whole of it.
    #[schema(pattern = "^(/([^~/]|~[01])*)*$", max_length = 2_097_152)]
    pub pointer: String,
    /// What is wrong with it.
    #[schema(max_length = 2_001)]
    pub detail: String,
    /// What to do about it.
    #[schema(max_length = 2_001)]
    pub remedy: String,
}

/// The body of every answer of 400 and above.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Problem {
    /// A stable address that explains the kind, relative to the service's own.
    #[serde(rename = "type")]
    #[schema(example = "/problems/refused", value_type = String, format = "uri-reference")]
    pub type_: Box<str>,
    /// The kind of problem, in a few words.
    pub title: &'static str,
    /// The status of the answer, once more.
    #[schema(minimum = 400, maximum = 599)]
    pub status: u16,
    /// What is wrong, and what to do about it.
    #[schema(max_length = 2_001)]
    pub detail: String,
    /// What is wrong with what was sent, field by field: the first hundred, and then an entry that says that there is more.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 101)]
    pub errors: Vec<ProblemError>,
    /// The address where the books are kept now, in a problem of the type /problems/moved.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, format = "uri", max_length = 2_000)]
    pub moved_to: Option<Box<str>>,
    #[serde(skip)]
    #[schema(ignore)]
    pub kind: Option<ProblemKindKept>,
    /// When it is worth another try; sent as `Retry-After`.
    #[serde(skip)]
    #[schema(ignore)]
    pub retry_after: Option<Duration>,
}

/// Errors that one answer lists.
pub const MOST_ERRORS: usize = 100;

/// When somebody whose queue was too long may try again: about as long as a batch takes.
const COME_BACK: Duration = Duration::from_secs(1);

/// The end of a problem's type, kept with its answer to be counted.
#[derive(Clone, Copy, Debug)]
pub struct Slug(pub &'static str);

/// Kept beside the body to know the status again.
#[derive(Clone, Copy, Debug)]
pub struct ProblemKindKept(ProblemKind);

impl Problem {
    pub fn new(kind: ProblemKind) -> Self {
        let (slug, title) = kind.names();
        Self {
            type_: format!("/problems/{slug}").into(),
            title,
            status: kind.status().as_u16(),
            detail: format!("{} {}", kind.meaning(), kind.remedy()),
            errors: Vec::new(),
            moved_to: None,
            kind: Some(ProblemKindKept(kind)),
            retry_after: matches!(
                kind,
                ProblemKind::Unavailable | ProblemKind::OutcomeUnknown | ProblemKind::StillRunning
            )
            .then_some(Duration::from_secs(1)),
        }
    }

    /// A query that can not be read: what is wrong with it, without the reader's own preamble, and the remedy.
    pub fn of_query(error: &QueryPayloadError, remedy: &str) -> Self {
        let found = match error {
            QueryPayloadError::Deserialize(found) => found.to_string(),
            other => other.to_string(),
        };
        Self::new(ProblemKind::MalformedRequest).with(format!("the query can not be read: {found}; {remedy}"))
    }

    pub const fn retry_after(mut self, wait: Duration) -> Self {
        self.retry_after = Some(wait);
        self
    }

    pub fn with(mut self, detail: impl Into<String>) -> Self {
        self.detail = detail.into();
        self
    }

    pub fn listing(mut self, errors: Vec<ProblemError>) -> Self {
        let mut errors = errors;
        if errors.len() > MOST_ERRORS {
            self.detail =
                format!("more than {MOST_ERRORS} things have to be fixed; the first of them are listed");
            errors.truncate(MOST_ERRORS);
            errors.push(ProblemError {
                pointer: String::new(),
                detail: "and more".to_owned(),
                remedy: "fix these first and send it again; the answer then lists what is left".to_owned(),
            });
        } else if let [one] = errors.as_slice() {
            self.detail.clone_from(&one.detail);
        } else if !errors.is_empty() {
            self.detail = format!("{} things have to be mended", errors.len());
        }
        self.errors = errors;
        self
    }

    /// One error about one place of the body.
    pub fn at(self, pointer: &str, detail: impl Into<String>, remedy: impl Into<String>) -> Self {
        self.listing(vec![ProblemError {
            pointer: pointer.to_owned(),
            detail: detail.into(),
            remedy: remedy.into(),
        }])
    }

    /// What the rules refuse, in words.
    pub fn of_refusal(refusal: &Refusal) -> Self {
        let kind = match refusal.standing() {
            Standing::Invalid => ProblemKind::Refused,
            Standing::Conflict => ProblemKind::Conflict,
            Standing::Stale => ProblemKind::Stale,
        };
        let errors = refusal
            .findings()
            .map(|finding| {
                let said = finding.said();
                ProblemError { pointer: finding.pointer.clone(), detail: said.detail, remedy: said.remedy }
            })
            .collect();
        Self::new(kind).listing(errors)
    }

    /// What the store could not do, without a word of how it is built. `sent` is searched for ids.
    pub fn of_store(error: &StoreError, sent: Option<&Value>) -> Self {
        match error {
            StoreError::Unreachable(_) | StoreError::Busy(_) => Self::new(ProblemKind::Unavailable),
            StoreError::Unable(source) => {
                tracing::error!(%source, "the database can not do what it is asked");
                Self::new(ProblemKind::Unavailable)
            }
            StoreError::TimedOut => Self::new(ProblemKind::Unavailable).with(
                "PostgreSQL did not answer in time and nothing was recorded; send the same request again",
            ),
            StoreError::OutcomeUnknown => Self::new(ProblemKind::OutcomeUnknown),
            StoreError::DiskFull(source) => {
                tracing::error!(?source, "the disk of the database is full");
                Self::new(ProblemKind::DiskFull)
            }
            StoreError::StillRunning => Self::new(ProblemKind::StillRunning),
            StoreError::Moved { to } => Self {
                moved_to: Some(to.as_str().into()),
                ..Self::new(ProblemKind::Moved).with(format!(
                    "these books are kept at {to} now and take no changes here; send the request there with the same \
                     token"
                ))
            },
            StoreError::Crowded { waiting } => Self::new(ProblemKind::TooMany)
                .with(format!(
                    "{waiting} requests to these books are waiting already; nothing was done: send it again later, and \
                     fewer at the same time"
                ))
                .retry_after(COME_BACK),
            StoreError::WaitedTooLong => Self::new(ProblemKind::Unavailable)
                .with(
                    "other requests to these books took too long; nothing was done: send it again later, and fewer at \
                     the same time",
                )
                .retry_after(COME_BACK),
            StoreError::NotFound { what, id } => {
                Self::new(ProblemKind::NotFound).with(format!("there is no {what} {id} in these books"))
            }
            StoreError::UnknownId { what, id } => Self::unknown_ids(what, sent, &[*id]),
            StoreError::UnknownReference { what } => Self::unknown_ids(what, sent, &[]),
            StoreError::Constraint { constraint, message } => {
                tracing::warn!(constraint, message, "the database refused what the rules let through");
                Self::new(ProblemKind::Conflict).with(
                    "the books refuse this record: it would break a rule that the database holds by itself",
                )
            }
            StoreError::Corrupt { id } => {
                tracing::error!(document = %id, "a kept file no longer fits its sum");
                Self::new(ProblemKind::Corrupt)
            }
            StoreError::Unreadable { .. }
            | StoreError::Database(_)
            | StoreError::Unsafe(_)
            | StoreError::Json(_) => {
                tracing::error!(?error, "the store failed");
                Self::new(ProblemKind::Internal)
            }
        }
    }

    /// Ids in `sent` that these books do not have, each at its place.
    pub fn unknown_ids(what: &str, sent: Option<&Value>, unknown: &[Uuid]) -> Self {
        // The table money_accounts is reached under the word accounts.
        let (word, list) = match what {
            "money_accounts" => ("accounts", "accounts"),
            "pieces" => ("furniture", "furniture"),
            "lots" => ("materials", "materials"),
            "overhead_pools" => ("overhead pools", "costing/overhead"),
            "loans" => ("loans", "accounts"),
            other => (other, other),
        };
        let places = sent.map(ids_in).unwrap_or_default();
        let errors: Vec<_> = places
            .into_iter()
            .filter(|(_, id)| unknown.contains(id))
            .map(|(pointer, id)| ProblemError {
                pointer,
                detail: format!("these books have no {word} with the id {id}"),
                remedy: format!("list them with GET /v1/{list}, or record it first"),
            })
            .collect();
        let problem = Self::new(ProblemKind::Refused);
        if errors.is_empty() {
            let detail = format!("the request names one of {word} that these books do not have");
            return problem.at("", detail, format!("list them with GET /v1/{list}"));
        }
        problem.listing(errors)
    }

    pub fn of_fault(fault: &Fault, sent: Option<&Value>) -> Self {
        match fault {
            Fault::Refusal(refusal) => Self::of_refusal(refusal),
            Fault::Store(error) => Self::of_store(error, sent),
        }
    }

    /// Its texts as they are told: they may repeat what was sent, whatever that was. Pointers stay, since they have to
    /// resolve in the sent body.
    fn plain(&self) -> Self {
        let plain_error = |error: &ProblemError| ProblemError {
            pointer: error.pointer.clone(),
            detail: plain(&error.detail),
            remedy: plain(&error.remedy),
        };
        let errors = self.errors.iter().map(plain_error).collect();
        Self { detail: plain(&self.detail), errors, ..self.clone() }
    }

    pub fn response(&self) -> HttpResponse {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let mut answer = HttpResponse::build(status);
        answer.insert_header(ContentType("application/problem+json".parse().unwrap_or(mime_json())));
        if let Some(wait) = self.retry_after {
            // Whole seconds, rounded up: never so few that it is too early again.
            let seconds = wait.as_secs() + u64::from(wait.subsec_nanos() > 0);
            answer.insert_header((RETRY_AFTER, HeaderValue::from(seconds)));
        }
        if matches!(self.kind, Some(ProblemKindKept(ProblemKind::NotSignedIn))) {
            answer.insert_header(("WWW-Authenticate", "Bearer"));
        }
        if let Some(ProblemKindKept(kind)) = self.kind {
            answer.extensions_mut().insert(Slug(kind.names().0));
        }
        let mut body = serde_json::to_vec(&self.plain()).unwrap_or_default();
        body.push(b'\n');
        answer.body(body)
    }
}

/// Characters of a text that is told; what is longer was never written by the service itself.
const LONGEST: usize = 2_000;

/// The text without characters that cannot be seen, cut where it gets too long to be read.
fn plain(text: &str) -> String {
    let unseen = |one: char| one.is_control() || is_bidi_control(one);
    let seen = text.chars().map(|one| if unseen(one) { char::REPLACEMENT_CHARACTER } else { one });
    let mut plain: String = seen.clone().take(LONGEST).collect();
    if seen.clone().nth(LONGEST).is_some() {
        plain.push('\u{2026}');
    }
    plain
}

fn mime_json() -> actix_web::mime::Mime {
    actix_web::mime::APPLICATION_JSON
}

/// Every id in `sent`, with its place.
pub fn ids_in(sent: &Value) -> Vec<(String, Uuid)> {
    let nested = |name: String, value: &Value| {
        ids_in(value).into_iter().map(move |(rest, id)| (format!("/{name}{rest}"), id)).collect::<Vec<_>>()
    };
    match sent {
        Value::String(text) => text.parse().map(|id| (String::new(), id)).into_iter().collect(),
        Value::Array(items) => {
            items.iter().enumerate().flat_map(|(place, item)| nested(place.to_string(), item)).collect()
        }
        Value::Object(fields) => {
            fields.iter().flat_map(|(name, field)| nested(escaped(name), field)).collect()
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => Vec::new(),
    }
}

/// A field's name inside a JSON Pointer.
pub fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} {}: {}", self.status, self.title, self.detail)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        self.response()
    }
}
