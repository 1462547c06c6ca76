//! The headers of every answer, by its status. Each stands once among the components.

use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::header::{Header, HeaderBuilder};
use utoipa::openapi::path::Operation;
use utoipa::openapi::schema::{KnownFormat, Object, ObjectBuilder, SchemaFormat, SchemaType, Type};
use utoipa::openapi::{Ref, RefOr, Response};

use super::shared::uuid;
use super::text;

/// The version of what can change.
pub const ETAG: &str = "ETag";
/// Told where the answer was given before.
pub const REPLAYED: &str = "Idempotency-Replayed";

const LEFT: &str = "What is left of the quota, and in how many seconds it is full again";
const POLICY: &str =
    "Requests that a token may make in a minute, or wrong tokens that may come from one address";

/// Every header that an answer may carry, by its component's name.
pub fn all() -> [(&'static str, Header); 9] {
    [
        ("X-Request-Id", always(uuid(), "The request's name, as the log and the audit have it")),
        ("RateLimit", always(quota(r#"^"token";r=[0-9]+;t=[0-9]+$"#), LEFT)),
        ("RateLimit-Policy", always(quota(r#"^"token";q=[0-9]+;w=60$"#), POLICY)),
        ("RateLimitOrNone", at_times(quota(r#"^"(token|wrong-tokens)";r=[0-9]+;t=[0-9]+$"#), LEFT)),
        ("RateLimitPolicyOrNone", at_times(quota(r#"^"(token|wrong-tokens)";q=[0-9]+;w=60$"#), POLICY)),
        ("WWW-Authenticate", always(text(Some("^Bearer$"), 6), "How to sign in")),
        ("Retry-After", always(seconds(), "Seconds to wait, rounded up")),
        (
            ETAG,
            at_times(
                text(Some("^\"[1-9][0-9]*\"$"), 12),
                "The version; left out in a dry run and where the record was taken back",
            ),
        ),
        (REPLAYED, at_times(text(Some("^true$"), 4), "true where the first answer came again")),
    ]
}

/// Describes the headers that the service sends with each answer of the operation.
pub fn describe(operation: &mut Operation) {
    for (status, response) in &mut operation.responses.responses {
        if let RefOr::T(response) = response {
            describe_one(status, response);
        }
    }
}

/// Describes the headers that the service sends with an answer of that status.
pub fn describe_one(status: &str, response: &mut Response) {
    carries(response, "X-Request-Id");
    // Where nobody was let in and no token was shown, there is no quota to tell.
    if status.starts_with('2') || status.starts_with('3') {
        carries(response, "RateLimit");
        carries(response, "RateLimit-Policy");
    } else {
        carries_as(response, "RateLimit", "RateLimitOrNone");
        carries_as(response, "RateLimit-Policy", "RateLimitPolicyOrNone");
    }
    match status {
        "401" => carries(response, "WWW-Authenticate"),
        "429" | "503" => carries(response, "Retry-After"),
        _ => {}
    }
}

/// Says that the answer carries the shared header of that name.
pub fn carries(response: &mut Response, name: &str) {
    carries_as(response, name, name);
}

fn carries_as(response: &mut Response, name: &str, component: &str) {
    let place = Ref::new(format!("#/components/headers/{component}"));
    response.headers.insert(name.to_owned(), RefOr::Ref(place));
}

fn seconds() -> Object {
    ObjectBuilder::new()
        .schema_type(SchemaType::new(Type::Integer))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Int32)))
        .minimum(Some(1))
        .maximum(Some(3600))
        .build()
}

fn quota(pattern: &str) -> Object {
    text(Some(pattern), 60)
}

fn at_times(schema: Object, says: &str) -> Header {
    HeaderBuilder::new().schema(Some(schema)).description(Some(says)).build()
}

/// A header that is never left out. The builder has no word for `required`, which is a field of the standard's own
/// (OpenAPI 3.1.0, Header Object), so it goes in as a field beside.
fn always(schema: Object, says: &str) -> Header {
    let mut header = at_times(schema, says);
    header.extensions = Some(Extensions::from_iter([("required", true)]));
    header
}
