//! The API's document (OpenAPI 3.1): generated from the handlers, completed in one place with what all of them
//! share.

mod closed;
mod headers;

use actix_web::App;
use utoipa::ToSchema;
use utoipa::openapi::header::{Header, HeaderBuilder};
use utoipa::openapi::path::{Operation, Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{ObjectBuilder, SchemaType, Type};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{
    Components, ContentBuilder, InfoBuilder, LicenseBuilder, OpenApi, OpenApiBuilder, PathItem, Ref, RefOr,
    Required, Response, ResponseBuilder, ServerBuilder,
};
use utoipa_actix_web::AppExt;

use super::answer::RecordedBody;
use super::problem::{Problem, ProblemError};
use super::revisions::PATCH_MEDIA;
use super::routes;
use crate::rules::ids::RecordId;

const PROBLEM_JSON: &str = "application/problem+json";

/// The whole document.
pub fn document() -> OpenApi {
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
                .build(),
        )
        .servers(Some([ServerBuilder::new().url("/").description(Some("This service")).build()]))
        .build()
}

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
    }
}

/// What reads and writes share: the token, the path's parameters, the problems.
fn share(path: &str, operation: &mut Operation) {
    operation.security = Some(vec![SecurityRequirement::new("token", Vec::<String>::new())]);
    let named: Vec<_> = path.split('{').skip(1).filter_map(|rest| rest.split('}').next()).collect();
    let parameters = operation.parameters.get_or_insert_default();
    parameters.retain(|one| !matches!(one, RefOr::T(one) if one.parameter_in == ParameterIn::Path));
    for name in named {
        parameters.push(RefOr::T(path_parameter(name)));
    }
    for (status, says) in [
        ("400", "The request can not be read"),
        ("401", "A token is needed"),
        ("403", "The token does not reach this far"),
        ("404", "Not in these books"),
        ("429", "Too many requests; Retry-After says when to come back"),
        ("500", "A fault of the service"),
        ("503", "The books can not be reached just now; try again"),
    ] {
        operation.responses.responses.insert(status.to_owned(), RefOr::T(problem(says)));
    }
    if offers_formats(operation) {
        let none_fits = || RefOr::T(problem("None of the formats asked for is offered"));
        operation.responses.responses.entry("406".to_owned()).or_insert_with(none_fits);
    }
}

/// Whether its answer comes in more than one format.
fn offers_formats(operation: &Operation) -> bool {
    let answer = operation.responses.responses.get("200");
    matches!(answer, Some(RefOr::T(answer)) if answer.content.len() > 1)
}

fn writes(operation: &mut Operation) {
    operation.parameters.get_or_insert_default().push(RefOr::T(
        ParameterBuilder::new()
            .name("Idempotency-Key")
            .parameter_in(ParameterIn::Header)
            .required(Required::False)
            .description(Some(
                "The same key with the same request gets the first answer again; kept for a week",
            ))
            .schema(Some(text(Some("^[!-~]{1,255}$"), 255)))
            .build(),
    ));
    let takes_a_record = !operation.responses.responses.contains_key("201")
        && !operation.responses.responses.contains_key("200")
        && !operation.responses.responses.contains_key("204");
    if takes_a_record {
        operation.parameters.get_or_insert_default().push(RefOr::T(dry_run()));
        if !TAKE_NO_REPLACES.contains(&operation.operation_id.as_deref().unwrap_or_default()) {
            operation.parameters.get_or_insert_default().push(RefOr::T(replaces()));
        }
        operation.responses.responses.insert("201".to_owned(), RefOr::T(recorded("Recorded")));
        operation
            .responses
            .responses
            .insert("200".to_owned(), RefOr::T(recorded("A dry run: shown, nothing written")));
    }
    for (status, says) in [
        ("408", "The body came too slowly"),
        ("409", "The books do not allow this now"),
        ("413", "The body is too large"),
        ("415", "The body is not marked as JSON"),
        ("422", "Fields that do not fit, or what the rules refuse, all at once"),
    ] {
        operation.responses.responses.insert(status.to_owned(), RefOr::T(problem(says)));
    }
}

/// Records that are right by themselves: they correct, close or open again.
const TAKE_NO_REPLACES: [&str; 4] = ["reverse_entry", "reverse_record", "close_period", "reopen_period"];

fn replaces() -> Parameter {
    ParameterBuilder::new()
        .name("replaces")
        .parameter_in(ParameterIn::Query)
        .required(Required::False)
        .description(Some(
            "The id of a record that was taken back and that this one stands in for: the two are linked, and each \
             names the other",
        ))
        .schema(Some(<RecordId as utoipa::PartialSchema>::schema()))
        .build()
}

fn dry_run() -> Parameter {
    ParameterBuilder::new()
        .name("dry_run")
        .parameter_in(ParameterIn::Query)
        .required(Required::False)
        .description(Some("true shows what would be written, and writes nothing"))
        .schema(Some(ObjectBuilder::new().schema_type(SchemaType::new(Type::Boolean)).build()))
        .build()
}

/// A change of labels: it says which version it rests on, and tells the version after it.
fn changes(operation: &mut Operation) {
    writes(operation);
    let parameters = operation.parameters.get_or_insert_default();
    parameters.push(RefOr::T(dry_run()));
    let says = "The ETag of the read that the change rests on; * and weak tags are refused";
    parameters.push(RefOr::T(tag_parameter("If-Match", Required::True, says)));
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
    for (status, says) in
        [("412", "It has changed since the version that If-Match names"), ("428", "If-Match is missing")]
    {
        operation.responses.responses.insert(status.to_owned(), RefOr::T(problem(says)));
    }
}

/// The read of a thing with labels that change.
fn tells_its_version(operation: &mut Operation) {
    let says = "The ETag of a read before: where it still stands, the answer is 304 without a body";
    let parameters = operation.parameters.get_or_insert_default();
    parameters.push(RefOr::T(tag_parameter("If-None-Match", Required::False, says)));
    tagged(operation);
    let unchanged = ResponseBuilder::new().description("As it was: the version that If-None-Match names");
    operation
        .responses
        .responses
        .insert("304".to_owned(), RefOr::T(unchanged.header("ETag", etag()).build()));
}

/// The successful answer tells the version.
fn tagged(operation: &mut Operation) {
    if let Some(RefOr::T(answer)) = operation.responses.responses.get_mut("200") {
        answer.headers.insert("ETag".to_owned(), RefOr::T(etag()));
    }
}

fn etag() -> Header {
    HeaderBuilder::new()
        .schema(Some(text(Some("^\"[1-9][0-9]*\"$"), 12)))
        .description(Some("The version; left out in a dry run and where the record was taken back"))
        .build()
}

fn tag_parameter(name: &str, required: Required, says: &str) -> Parameter {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Header)
        .required(required)
        .description(Some(says))
        .schema(Some(text(None, 200)))
        .build()
}

fn path_parameter(name: &str) -> Parameter {
    let schema = match name {
        "number" | "year" => {
            ObjectBuilder::new().schema_type(SchemaType::new(Type::Integer)).minimum(Some(1)).build().into()
        }
        "account" => text(Some("^[a-z_]+(:[0-9a-z_-]+)?$"), 60).into(),
        _ => ObjectBuilder::new()
            .schema_type(SchemaType::new(Type::String))
            .format(Some(utoipa::openapi::SchemaFormat::KnownFormat(utoipa::openapi::KnownFormat::Uuid)))
            .build()
            .into(),
    };
    ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Path)
        .required(Required::True)
        .schema(Some::<RefOr<utoipa::openapi::Schema>>(schema))
        .build()
}

fn text(pattern: Option<&str>, length: usize) -> utoipa::openapi::schema::Object {
    ObjectBuilder::new()
        .schema_type(SchemaType::new(Type::String))
        .pattern(pattern)
        .min_length(Some(1))
        .max_length(Some(length))
        .build()
}

fn problem(says: &str) -> Response {
    let schema = RefOr::Ref(Ref::from_schema_name("Problem"));
    ResponseBuilder::new()
        .description(says)
        .content(PROBLEM_JSON, ContentBuilder::new().schema(Some(schema)).build())
        .build()
}

fn recorded(says: &str) -> Response {
    let schema = RefOr::Ref(Ref::from_schema_name("RecordedBody"));
    ResponseBuilder::new()
        .description(says)
        .content("application/json", ContentBuilder::new().schema(Some(schema)).build())
        .header(
            "Idempotency-Replayed",
            HeaderBuilder::new()
                .schema(Some(text(None, 5)))
                .description(Some("true where the first answer came again"))
                .build(),
        )
        .build()
}
