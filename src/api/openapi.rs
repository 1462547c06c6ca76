//! The API's document (OpenAPI 3.1): generated from the handlers, completed in one place with what all of them
//! share.

pub mod bounds;
mod closed;
mod examples;
mod headers;
mod reach;
mod scopes;
mod shared;
mod tags;
mod words;

use actix_web::App;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::path::{Operation, ParameterIn};
use utoipa::openapi::schema::{ObjectBuilder, SchemaType, Type};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{
    Components, Contact, ContactBuilder, InfoBuilder, LicenseBuilder, OpenApi, OpenApiBuilder, PathItem,
    RefOr, ResponseBuilder, Server, ServerBuilder,
};
use utoipa_actix_web::AppExt;

use self::bounds::Way;
use super::answer::RecordedBody;
use super::problem::{Problem, ProblemError};
use super::revisions::PATCH_MEDIA;
use super::routes;

/// The whole document.
///
/// # Errors
/// The kept examples are not JSON.
pub fn document() -> Result<Value, serde_json::Error> {
    let mut written = serde_json::to_value(generated())?;
    let reached = reach::follow(&written);
    if let Some(schemas) = written.pointer_mut("/components/schemas").and_then(Value::as_object_mut) {
        // A shape that nothing points at was laid into another one.
        schemas.retain(|name, _| reached.all.contains(name));
        for (name, schema) in schemas {
            words::explain(schema);
            bounds::bound(schema, if reached.sent.contains(name) { Way::Sent } else { Way::Told });
        }
    }
    for shared in ["parameters", "headers", "responses"] {
        if let Some(shared) = written.pointer_mut(&format!("/components/{shared}")) {
            bounds::bound(shared, Way::Sent);
        }
    }
    let paths = written.get_mut("paths").and_then(Value::as_object_mut).into_iter().flatten();
    let operations = paths.filter_map(|(_, item)| item.as_object_mut()).flatten();
    for (_, operation) in operations {
        for (part, way) in [("parameters", Way::Sent), ("requestBody", Way::Sent), ("responses", Way::Told)] {
            operation.get_mut(part).into_iter().for_each(|part| bounds::bound(part, way));
        }
    }
    examples::put_into(&mut written)?;
    Ok(written)
}

/// What the handlers say, completed.
fn generated() -> OpenApi {
    let (_, mut document) = App::new()
        .into_utoipa_app()
        .openapi(base())
        .configure(|config| routes::register(config))
        .split_for_parts();
    let components = document.components.get_or_insert_with(Components::new);
    let mut schemas = Vec::new();
    for (name, schema) in [
        (Problem::name(), <Problem as utoipa::PartialSchema>::schema()),
        (ProblemError::name(), <ProblemError as utoipa::PartialSchema>::schema()),
        (RecordedBody::name(), <RecordedBody as utoipa::PartialSchema>::schema()),
    ] {
        components.schemas.insert(name.into_owned(), schema);
    }
    RecordedBody::schemas(&mut schemas);
    components.schemas.extend(schemas);
    components.security_schemes.insert(
        "token".to_owned(),
        RefOr::T(SecurityScheme::Http(
            Http::builder()
                .scheme(HttpAuthScheme::Bearer)
                .description(Some("A token of these books; 'ledgerboard token' makes the first one."))
                .build(),
        )),
    );
    shared::add_to(components);
    for (path, item) in &mut document.paths.paths {
        complete(path, item);
    }
    closed::close(&mut document);
    document
}

fn base() -> OpenApi {
    OpenApiBuilder::new()
        .info(
            InfoBuilder::new()
                .title("Ledgerboard")
                .version(env!("CARGO_PKG_VERSION"))
                .description(Some(
                    "Books for a renovation channel: what each episode truly cost and earned, and a tax year \
                     that can be filed from. Amounts, hours, quantities and shares are text. Every POST and PATCH \
                     takes an Idempotency-Key and ?dry_run=true. What the summaries show is a working paper, not \
                     advice: rules differ by place and change, and a licensed preparer decides.",
                ))
                .license(Some(LicenseBuilder::new().name("MIT").identifier(Some("MIT")).build()))
                .contact(Some(contact()))
                .extensions(Some(Extensions::from_iter([("x-api-id", API_ID), ("x-audience", "external-public")])))
                .build(),
        )
        .servers(Some([this_service()]))
        .tags(Some(tags::all()))
        .build()
}

/// The API's name for catalogues: drawn once, by chance.
const API_ID: &str = "5d0f1c9e-3a52-4a57-9c1e-7b1b6a0f2d84";

/// No address: the program cannot know how to reach the person who runs it, and an invented one would mislead.
fn contact() -> Contact {
    ContactBuilder::new().name(Some("The person who runs this service")).build()
}

fn this_service() -> Server {
    let mut server = ServerBuilder::new().url("/").description(Some(SERVER)).build();
    server.extensions = Some(Extensions::from_iter([("x-internal", false)]));
    server
}

const SERVER: &str = "The service that sent this document: your local or production one";

fn complete(path: &str, item: &mut PathItem) {
    if let Some(get) = &mut item.get {
        // The lists and single reads that every word has are described here, once.
        let word = get.tags.iter().flatten().next().cloned().unwrap_or_default();
        get.summary.get_or_insert_with(|| match path.ends_with('}') {
            true => format!("Reads one record of {word}, with its entries and attributions."),
            false => format!("Lists the records of {word}, oldest first."),
        });
        share(path, get);
    }
    if let Some(post) = &mut item.post {
        share(path, post);
        writes(post);
    }
    if let Some(patch) = &mut item.patch {
        share(path, patch);
        changes(patch);
        if let Some(get) = &mut item.get {
            tells_its_version(get);
        }
    }
    for operation in [&mut item.get, &mut item.post, &mut item.patch].into_iter().flatten() {
        headers::describe(operation);
        scopes::tell(operation);
    }
}

/// What reads and writes share: the token, the path's parameters, the problems.
fn share(path: &str, operation: &mut Operation) {
    operation.security = Some(vec![SecurityRequirement::new("token", Vec::<String>::new())]);
    let named: Vec<_> = path.split('{').skip(1).filter_map(|rest| rest.split('}').next()).collect();
    let parameters = operation.parameters.get_or_insert_default();
    parameters.retain(|one| !matches!(one, RefOr::T(one) if one.parameter_in == ParameterIn::Path));
    for name in named {
        parameters.push(RefOr::T(shared::path_parameter(name)));
    }
    shared::may_answer(operation, &["400", "401", "403", "404", "429", "500", "503", "507"]);
    if offers_formats(operation) {
        shared::may_answer(operation, &["406"]);
    }
}

/// Whether its answer comes in more than one format.
fn offers_formats(operation: &Operation) -> bool {
    let answer = operation.responses.responses.get("200");
    matches!(answer, Some(RefOr::T(answer)) if answer.content.len() > 1)
}

fn writes(operation: &mut Operation) {
    shared::takes(operation, "Idempotency-Key");
    let takes_a_record = !operation.responses.responses.contains_key("201")
        && !operation.responses.responses.contains_key("200")
        && !operation.responses.responses.contains_key("204");
    if takes_a_record {
        shared::takes(operation, "dry_run");
        if !TAKE_NO_REPLACES.contains(&operation.operation_id.as_deref().unwrap_or_default()) {
            shared::takes(operation, "replaces");
        }
        shared::answers_with_its_record(operation);
    }
    shared::may_answer(operation, &["408", "409", "413", "415", "422"]);
}

/// Records that are right by themselves: they correct, close or open again.
const TAKE_NO_REPLACES: [&str; 4] = ["reverse_entry", "reverse_record", "close_period", "reopen_period"];

/// A change of labels: it says which version it rests on, and tells the version after it.
fn changes(operation: &mut Operation) {
    writes(operation);
    shared::takes(operation, "dry_run");
    shared::takes(operation, "If-Match");
    tagged(operation);
    if let Some(RefOr::T(body)) = &mut operation.request_body {
        let written = body.content.values().next().cloned();
        body.content.extend(
            PATCH_MEDIA
                .iter()
                .zip(written.into_iter().cycle())
                .map(|(media, one)| ((*media).to_owned(), one)),
        );
    }
    shared::may_answer(operation, &["412", "428"]);
}

/// The read of a thing with labels that change.
fn tells_its_version(operation: &mut Operation) {
    shared::takes(operation, "If-None-Match");
    tagged(operation);
    let says = "As it was: the version that If-None-Match names";
    let mut unchanged = ResponseBuilder::new().description(says).build();
    headers::carries(&mut unchanged, headers::ETAG);
    operation.responses.responses.insert("304".to_owned(), RefOr::T(unchanged));
}

/// The successful answer tells the version.
fn tagged(operation: &mut Operation) {
    if let Some(RefOr::T(answer)) = operation.responses.responses.get_mut("200") {
        headers::carries(answer, headers::ETAG);
    }
}

fn text(pattern: Option<&str>, length: usize) -> utoipa::openapi::schema::Object {
    ObjectBuilder::new()
        .schema_type(SchemaType::new(Type::String))
        .pattern(pattern)
        .min_length(Some(1))
        .max_length(Some(length))
        .build()
}
