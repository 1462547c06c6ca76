//! What many operations share stands once among the document's components, and the operations point there: the
//! problems, the answers to a record, the parameters of every write.

use actix_web::http::StatusCode;
use serde_json::{Value, json};
use utoipa::openapi::path::{Operation, Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{KnownFormat, Object, ObjectBuilder, SchemaFormat, SchemaType, Type};
use utoipa::openapi::{Components, ContentBuilder, Ref, RefOr, Required, Response, ResponseBuilder, Schema};

use super::{headers, text};
use crate::api::problem::{Problem, ProblemKind};
use crate::rules::ids::RecordId;

const PROBLEM_JSON: &str = "application/problem+json";

/// The problems, each with its component's name (the status's own phrase, RFC 9110, section 15) and what it says.
const PROBLEMS: [(ProblemKind, &str, &str); 17] = [
    (ProblemKind::MalformedRequest, "BadRequest", "The request can not be read"),
    (ProblemKind::NotSignedIn, "Unauthorized", "A token is needed"),
    (ProblemKind::NotAllowed, "Forbidden", "The token does not reach this far"),
    (ProblemKind::NotFound, "NotFound", "Not in these books"),
    (ProblemKind::NotAcceptable, "NotAcceptable", "None of the formats asked for is offered"),
    (ProblemKind::TooSlow, "RequestTimeout", "The body came too slowly"),
    (ProblemKind::Conflict, "Conflict", "The books do not allow this now"),
    (ProblemKind::Stale, "PreconditionFailed", "It has changed since the version that If-Match names"),
    (ProblemKind::TooLarge, "ContentTooLarge", "The body is too large"),
    (ProblemKind::UnsupportedMediaType, "UnsupportedMediaType", "The body is not marked as JSON"),
    (
        ProblemKind::InvalidRequest,
        "UnprocessableContent",
        "Fields that do not fit, or what the rules refuse, all at once",
    ),
    (ProblemKind::VersionNeeded, "PreconditionRequired", "If-Match is missing"),
    (ProblemKind::TooMany, "TooManyRequests", "Too many requests; Retry-After says when to come back"),
    (ProblemKind::Internal, "InternalServerError", "A fault of the service"),
    (ProblemKind::Unavailable, "ServiceUnavailable", "The books can not be reached just now; try again"),
    (ProblemKind::DiskFull, "InsufficientStorage", "The disk of the service is full"),
    (ProblemKind::Other(StatusCode::NOT_IMPLEMENTED), "Otherwise", "Any other problem"),
];

/// The problem's place among an operation's answers: `default` is every status that is not named (OpenAPI 3.1.0,
/// Responses Object).
fn status_of(kind: ProblemKind) -> String {
    match kind {
        ProblemKind::Other(_) => "default".to_owned(),
        kind => kind.status().as_str().to_owned(),
    }
}

/// An example of the problem that stands at that place, in the words that the service itself has for it.
pub fn problem_at(status: &str) -> Option<Value> {
    let (kind, ..) = PROBLEMS.into_iter().find(|(kind, ..)| status_of(*kind) == status)?;
    Some(match kind {
        ProblemKind::InvalidRequest => {
            json!(Problem::new(kind).at("/gross", "the field gross is missing", "give gross"))
        }
        kind => json!(Problem::new(kind)),
    })
}

/// The answers to what records: their statuses, components and what they say.
const RECORDED: [(&str, &str, &str); 2] =
    [("201", "Recorded", "Recorded"), ("200", "Shown", "A dry run: shown, nothing written")];

/// Puts what is shared among the components.
pub fn add_to(components: &mut Components) {
    for (kind, name, says) in PROBLEMS {
        let status = status_of(kind);
        let mut told = answer(&status, says, PROBLEM_JSON, "Problem");
        for content in told.content.values_mut() {
            if let RefOr::T(content) = content {
                content.example = problem_at(&status);
            }
        }
        components.responses.insert(name.to_owned(), RefOr::T(told));
    }
    for (status, name, says) in RECORDED {
        let shown = answer(status, says, "application/json", "RecordedBody");
        components.responses.insert(name.to_owned(), RefOr::T(shown));
    }
    for one in [idempotency_key(), dry_run(), replaces(), if_match(), if_none_match()] {
        components.parameters.insert(one.name.clone(), RefOr::T(one));
    }
    for (name, header) in headers::all() {
        components.headers.insert(name.to_owned(), RefOr::T(header));
    }
}

/// Says that the operation may answer with these problems; whatever else goes wrong, out of the ordinary, has the same
/// form.
pub fn may_answer(operation: &mut Operation, statuses: &[&str]) {
    for (kind, name, _) in PROBLEMS {
        let status = status_of(kind);
        if statuses.contains(&status.as_str()) || status == "default" {
            put(operation, &status, name);
        }
    }
}

/// Says that the operation answers with the record that it made, or that it would have made.
pub fn answers_with_its_record(operation: &mut Operation) {
    RECORDED.iter().for_each(|(status, name, _)| put(operation, status, name));
}

fn put(operation: &mut Operation, status: &str, name: &str) {
    let place = RefOr::Ref(Ref::new(format!("#/components/responses/{name}")));
    operation.responses.responses.insert(status.to_owned(), place);
}

/// Says that the operation takes the shared parameter of that name.
pub fn takes(operation: &mut Operation, name: &str) {
    let place = RefOr::Ref(Ref::new(format!("#/components/parameters/{name}")));
    operation.parameters.get_or_insert_default().push(place);
}

fn answer(status: &str, says: &str, media: &str, schema: &str) -> Response {
    let schema = RefOr::Ref(Ref::from_schema_name(schema));
    let content = ContentBuilder::new().schema(Some(schema)).build();
    let mut answer = ResponseBuilder::new().description(says).content(media, content).build();
    headers::describe_one(status, &mut answer);
    if media != PROBLEM_JSON {
        headers::carries(&mut answer, headers::REPLAYED);
    }
    answer
}

fn idempotency_key() -> Parameter {
    let says = "The same key with the same request gets the first answer again; kept for a week";
    parameter(
        "Idempotency-Key",
        ParameterIn::Header,
        Required::False,
        says,
        text(Some("^[!-~]{1,255}$"), 255),
    )
}

fn dry_run() -> Parameter {
    let says = "true shows what would be written, and writes nothing";
    let truth = ObjectBuilder::new().schema_type(SchemaType::new(Type::Boolean)).build();
    parameter("dry_run", ParameterIn::Query, Required::False, says, truth)
}

fn replaces() -> Parameter {
    let says = "The id of a record that was taken back and that this one stands in for: the two are linked, and \
                each names the other";
    let id = <RecordId as utoipa::PartialSchema>::schema();
    parameter("replaces", ParameterIn::Query, Required::False, says, id)
}

fn if_match() -> Parameter {
    let says = "The ETag of the read that the change rests on; * and weak tags are refused";
    parameter("If-Match", ParameterIn::Header, Required::True, says, text(Some(VERSIONS), 200))
}

fn if_none_match() -> Parameter {
    let says = "The ETag of a read before: where it still stands, the answer is 304 without a body";
    parameter("If-None-Match", ParameterIn::Header, Required::False, says, text(Some(TAGS), 200))
}

/// A part of the address: an id, a year, a number of an entry, a code of an account.
pub fn path_parameter(name: &str) -> Parameter {
    let (says, schema) = match name {
        "year" => ("The calendar year", counted()),
        "number" => ("The entry's number: 1 is the first of the books", counted()),
        "account" => ("The account's code, as the trial balance has it", text(Some(ACCOUNT), 60)),
        _ => ("Its id, as the answer that made it said", uuid()),
    };
    parameter(name, ParameterIn::Path, Required::True, says, schema)
}

/// One version or several, each in its quotes.
const VERSIONS: &str = r#"^"[1-9][0-9]*"(, "[1-9][0-9]*")*$"#;
/// Any, or tags in their quotes, weak ones too; ours have no commas.
const TAGS: &str = r#"^([*]|(W/)?"[!#-+\--~]*"(, *(W/)?"[!#-+\--~]*")*)$"#;
const ACCOUNT: &str = "^[a-z_]+(:[0-9a-z_-]+)?$";

fn parameter(
    name: &str,
    placed: ParameterIn,
    required: Required,
    says: &str,
    schema: impl Into<RefOr<Schema>>,
) -> Parameter {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(placed)
        .required(required)
        .description(Some(says))
        .schema(Some(schema))
        .build()
}

fn counted() -> Object {
    ObjectBuilder::new().schema_type(SchemaType::new(Type::Integer)).minimum(Some(1)).build()
}

/// An id as text.
pub fn uuid() -> Object {
    ObjectBuilder::new()
        .schema_type(SchemaType::new(Type::String))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)))
        .build()
}
