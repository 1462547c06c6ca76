//! The headers of every answer, by its status.

use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::header::{Header, HeaderBuilder};
use utoipa::openapi::path::Operation;
use utoipa::openapi::schema::{KnownFormat, Object, ObjectBuilder, SchemaFormat, SchemaType, Type};
use utoipa::openapi::{RefOr, Response};

use super::text;

/// Describes the headers that the service sends with each answer of the operation.
pub fn describe(operation: &mut Operation) {
    for (status, response) in &mut operation.responses.responses {
        if let RefOr::T(response) = response {
            describe_one(status, response);
        }
    }
}

fn describe_one(status: &str, response: &mut Response) {
    let mut has = |name: &str, header: Header| {
        response.headers.insert(name.to_owned(), RefOr::T(header));
    };
    let id = ObjectBuilder::new()
        .schema_type(SchemaType::new(Type::String))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)))
        .build();
    has("X-Request-Id", always(id, "The request's name, as the log and the audit have it"));
    // A token that is not let in has no quota of its own.
    if status.starts_with('2') {
        has(
            "RateLimit",
            always(quota(r#"^"token";r=[0-9]+;t=[0-9]+$"#), "What is left, and when it is full again"),
        );
        has(
            "RateLimit-Policy",
            always(quota(r#"^"token";q=[0-9]+;w=60$"#), "Requests that a token may make in a minute"),
        );
    }
    match status {
        "401" => has("WWW-Authenticate", always(text(Some("^Bearer$"), 6), "How to sign in")),
        "429" | "503" => {
            let seconds = ObjectBuilder::new()
                .schema_type(SchemaType::new(Type::Integer))
                .format(Some(SchemaFormat::KnownFormat(KnownFormat::Int32)))
                .minimum(Some(1))
                .maximum(Some(3600))
                .build();
            has("Retry-After", always(seconds, "Seconds to wait, rounded up"));
        }
        _ => {}
    }
}

fn quota(pattern: &str) -> Object {
    text(Some(pattern), 60)
}

/// A header that is never left out. The builder has no word for `required`, which is a field of the standard's own
/// (OpenAPI 3.1.0, Header Object), so it goes in as a field beside.
fn always(schema: Object, says: &str) -> Header {
    HeaderBuilder::new()
        .schema(Some(schema))
        .description(Some(says))
        .extensions(Some(Extensions::from_iter([("required", true)])))
        .build()
}
