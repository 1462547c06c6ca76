//! A body that fits its published schema: every field error at once, with a pointer and a remedy.

mod heavy;

use std::collections::{HashMap, HashSet};
use std::future::Future;
use std::pin::Pin;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use actix_web::error::PayloadError;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_ENCODING, CONTENT_TYPE};
use actix_web::{FromRequest, HttpRequest, dev, web};
use chrono::{Datelike, NaiveDate};
use jsonschema::Validator;
use jsonschema::error::{TypeKind, ValidationError, ValidationErrorKind};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use utoipa::ToSchema;

use super::json::read_json;
use super::openapi::bounds::{DAY, PRINTABLE, Way, bound};
use super::problem::{MOST_ERRORS, Problem, ProblemError, ProblemKind, escaped};
pub use heavy::off_the_workers;

/// The largest body; it counts after decompression.
pub const BODY_LIMIT: usize = 1024 * 1024;

/// A body as it was sent and as what it means.
#[derive(Debug)]
pub struct Understood<T> {
    pub sent: Value,
    pub value: T,
}

/// A body, or what is wrong with it. The problem is kept until the door has let the caller in: a stranger learns
/// nothing of the fields.
#[derive(Debug)]
pub struct Checked<T>(Result<Understood<T>, Problem>);

impl<T> Checked<T> {
    /// What was read in another way than as JSON.
    pub const fn of(read: Result<Understood<T>, Problem>) -> Self {
        Self(read)
    }

    /// # Errors
    /// The problem to answer with.
    pub fn understood(self) -> Result<Understood<T>, Problem> {
        self.0
    }
}

type Checker = Arc<(Validator, Value)>;

/// The years that books are kept for: what is earlier or later is a slip of the pen, and the database would refuse it.
pub const OUR_YEARS: std::ops::Range<i32> = 1900..2200;

/// Whether the day is of the years that books are kept for.
pub fn in_our_years(date: NaiveDate) -> bool {
    OUR_YEARS.contains(&date.year())
}

/// Built once for each kind of body, from the same schema that the API's document shows.
static CHECKERS: LazyLock<Mutex<HashMap<String, Checker>>> = LazyLock::new(Mutex::default);

fn checker<T: ToSchema>() -> Result<Checker, Problem> {
    let name = T::name().into_owned();
    let mut checkers = CHECKERS.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(checker) = checkers.get(&name) {
        return Ok(Arc::clone(checker));
    }
    let mut schemas = Vec::new();
    T::schemas(&mut schemas);
    schemas.push((name.clone(), T::schema()));
    let schemas: HashMap<_, _> = schemas.into_iter().collect();
    let mut schema = json!({
        "$ref": format!("#/components/schemas/{name}"),
        "components": { "schemas": schemas },
    });
    bound(&mut schema, Way::Sent);
    let validator = jsonschema::options()
        .should_validate_formats(true)
        .with_format("date", |text: &str| text.parse().is_ok_and(in_our_years))
        .build(&schema)
        .map_err(|error| {
            tracing::error!(%error, name, "the schema of a body is broken");
            Problem::new(ProblemKind::Internal)
        })?;
    let checker = Arc::new((validator, schema));
    checkers.insert(name, Arc::clone(&checker));
    Ok(checker)
}

/// Reads a body's bytes as `T`.
///
/// # Errors
/// The problem to answer with.
pub fn check<T: ToSchema + DeserializeOwned>(bytes: &[u8]) -> Result<Understood<T>, Problem> {
    check_value(read_json(bytes)?)
}

/// Understands what was sent as `T`.
///
/// # Errors
/// The problem to answer with.
pub fn check_value<T: ToSchema + DeserializeOwned>(sent: Value) -> Result<Understood<T>, Problem> {
    let checker = checker::<T>()?;
    let (validator, schema) = checker.as_ref();
    let misfit = |errors| Err(Problem::new(ProblemKind::InvalidRequest).listing(errors));
    let too_long = heavy::too_long(schema, &sent);
    if !too_long.is_empty() {
        return misfit(too_long);
    }
    if !validator.is_valid(&sent) {
        return misfit(heavy::misfits(validator, schema, &sent));
    }
    match serde_path_to_error::deserialize(&sent) {
        Ok(value) => Ok(Understood { sent, value }),
        Err(error) => {
            let pointer = pointer_of(error.path());
            Err(Problem::new(ProblemKind::InvalidRequest).at(
                &pointer,
                error.into_inner().to_string(),
                "give it as the API's document shows (/openapi.json)",
            ))
        }
    }
}

fn pointer_of(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter()
        .map(|segment| match segment {
            Segment::Seq { index } => format!("/{index}"),
            Segment::Map { key } => format!("/{}", escaped(key)),
            Segment::Enum { variant } => format!("/{}", escaped(variant)),
            Segment::Unknown => String::new(),
        })
        .collect()
}

/// Puts the schema errors of one value into words. What has the wrong form is told so once.
fn all_findings(errors: &[ValidationError<'_>], schema: &Value, into: &mut Vec<ProblemError>) {
    let misformed: HashSet<_> = errors
        .iter()
        .filter(|error| matches!(error.kind(), ValidationErrorKind::Format { .. }))
        .map(|error| error.instance_path().as_str())
        .collect();
    let says_more = |error: &&ValidationError<'_>| {
        let form = matches!(
            error.kind(),
            ValidationErrorKind::MaxLength { .. } | ValidationErrorKind::Pattern { .. }
        );
        !(form && misformed.contains(error.instance_path().as_str()))
    };
    for error in errors.iter().filter(says_more) {
        if into.len() > MOST_ERRORS {
            return;
        }
        findings(error, schema, into);
    }
}

/// Puts one schema error into words; alternatives are followed into the one that fits best.
fn findings(error: &ValidationError<'_>, schema: &Value, into: &mut Vec<ProblemError>) {
    let pointer = error.instance_path().as_str().to_owned();
    let mut say = |pointer: String, detail: String, remedy: String| {
        // One more than an answer lists says that there are more.
        if into.len() <= MOST_ERRORS {
            into.push(ProblemError { pointer, detail, remedy });
        }
    };
    match error.kind() {
        ValidationErrorKind::AdditionalProperties { unexpected } => {
            for name in unexpected {
                say(
                    format!("{pointer}/{}", escaped(name)),
                    format!("the field {name} is not known here"),
                    "leave it out, or check its spelling against the API's document (/openapi.json)".into(),
                );
            }
        }
        ValidationErrorKind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            say(pointer, format!("the field {name} is missing"), format!("give {name}"));
        }
        ValidationErrorKind::Type { kind } => {
            let (detail, remedy) = wrong_type(error.instance(), kind);
            say(pointer, detail, remedy);
        }
        ValidationErrorKind::Enum { options } => {
            let options: Vec<_> =
                options.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
            say(
                pointer,
                format!("{} is not one of the choices", error.instance()),
                format!("give one of: {}", options.join(", ")),
            );
        }
        ValidationErrorKind::AnyOf { context } | ValidationErrorKind::OneOfNotValid { context } => {
            // The branch that allows null is never the one the person meant.
            let meant = context
                .iter()
                .filter(|branch| !branch.iter().any(|error| is_null_branch(error)))
                .min_by_key(|branch| branch.len());
            if let Some(errors) = meant {
                all_findings(errors, schema, into);
            }
        }
        _ => {
            let (detail, remedy) = misshapen(error, schema).unwrap_or_else(|| {
                (error.to_string(), "give it as the API's document shows (/openapi.json)".into())
            });
            say(pointer, detail, remedy);
        }
    }
}

const A_DAY: &str = "a day of the years 1900 to 2199, as 2025-03-31";

/// What is wrong with the form or the size of a text or a list, and the remedy; None where it is something else.
fn misshapen(error: &ValidationError<'_>, schema: &Value) -> Option<(String, String)> {
    let misformed = |wanted: &str| {
        (format!("{} does not have the right form", error.instance()), format!("give {wanted}"))
    };
    match error.kind() {
        ValidationErrorKind::Pattern { pattern } if pattern == PRINTABLE => Some((
            "this text has characters that can not be seen or printed".into(),
            "write it anew without them; tabs, ends of lines and the joiners that scripts need are welcome, and marks \
             that change the direction of writing (such as U+202E) are not"
                .into(),
        )),
        ValidationErrorKind::Pattern { pattern } if pattern == DAY => Some(misformed(A_DAY)),
        ValidationErrorKind::Pattern { .. } if error.instance().as_str().is_some_and(is_negative_zero) => Some((
            format!("{} is a zero with a minus sign", error.instance()),
            "write zero without the minus sign, such as \"0.00\"".into(),
        )),
        ValidationErrorKind::Pattern { pattern } => {
            Some(misformed(description_of(schema, pattern).unwrap_or("the form the document shows")))
        }
        ValidationErrorKind::Format { format } => Some(misformed(match format.as_str() {
            "date" => A_DAY,
            "date-time" => "an instant as 2025-03-31T12:00:00Z",
            "uuid" => "an id as the service gave it",
            other => other,
        })),
        ValidationErrorKind::MaxLength { limit } => {
            Some((format!("this text has more than {limit} characters"), "make it shorter".into()))
        }
        ValidationErrorKind::MaxItems { limit } => {
            Some(too_many_items(error.instance().as_array().map_or(0, Vec::len), *limit))
        }
        ValidationErrorKind::MinItems { .. } if error.instance().as_array().is_some_and(Vec::is_empty) => {
            Some(("this list is empty".into(), "give one at least".into()))
        }
        ValidationErrorKind::MinLength { .. } if error.instance().as_str() == Some("") => {
            Some(("this text is empty".into(), "say it in a few words".into()))
        }
        _ => None,
    }
}

fn too_many_items(given: usize, most: u64) -> (String, String) {
    (
        format!("{given} are given in one list, which takes {most}"),
        "send the rest in a call of their own".into(),
    )
}

/// A zero that somebody took for less than nothing: they meant another amount, or a plain zero.
fn is_negative_zero(text: &str) -> bool {
    text.strip_prefix('-')
        .is_some_and(|rest| !rest.is_empty() && rest.bytes().all(|one| b"0.".contains(&one)))
}

fn is_null_branch(error: &ValidationError<'_>) -> bool {
    matches!(error.kind(), ValidationErrorKind::Type { kind: TypeKind::Single(one) }
        if *one == jsonschema::JsonType::Null)
}

fn wrong_type(found: &Value, wanted: &TypeKind) -> (String, String) {
    let wants_text = match wanted {
        TypeKind::Single(one) => *one == jsonschema::JsonType::String,
        TypeKind::Multiple(several) => several.contains(jsonschema::JsonType::String),
    };
    match found {
        Value::Number(number) if wants_text => (
            format!("{number} is a JSON number; amounts and quantities are text, so that no digit is lost"),
            // A fraction has lost digits by the time it is read; it must not be handed back as what was meant.
            match number.is_f64() {
                true => "write it in quotes with all its digits, such as \"180.00\"".into(),
                false => format!("put it in quotes: \"{number}\""),
            },
        ),
        other => {
            let found = match other {
                Value::Null => "null",
                Value::Bool(_) => "true or false",
                Value::Number(_) => "a number",
                Value::String(_) => "text",
                Value::Array(_) => "a list",
                Value::Object(_) => "an object",
            };
            (format!("this is {found}"), "give the type that the API's document shows (/openapi.json)".into())
        }
    }
}

/// What the document says of the text with that pattern.
fn description_of<'s>(schema: &'s Value, pattern: &str) -> Option<&'s str> {
    match schema {
        Value::Object(fields) => {
            if fields.get("pattern").and_then(Value::as_str) == Some(pattern) {
                return fields.get("description").and_then(Value::as_str);
            }
            fields.values().find_map(|field| description_of(field, pattern))
        }
        Value::Array(items) => items.iter().find_map(|item| description_of(item, pattern)),
        _ => None,
    }
}

/// Whether the body was given up because it came too slowly.
pub fn is_too_slow(error: &PayloadError) -> bool {
    matches!(error, PayloadError::Io(error) if error.kind() == std::io::ErrorKind::TimedOut)
}

/// How the body is packed, where it is in a way that is not unpacked here (RFC 9110, 15.5.16).
fn packed_otherwise(request: &HttpRequest) -> Option<String> {
    let told = request.headers().get(CONTENT_ENCODING)?;
    let known = ["gzip", "deflate", "identity"]
        .iter()
        .any(|one| told.as_bytes().eq_ignore_ascii_case(one.as_bytes()));
    (!known).then(|| String::from_utf8_lossy(told.as_bytes()).into_owned())
}

/// The charset that a Content-Type names, where it is not UTF-8.
fn other_charset(stated: &str) -> Option<String> {
    let parameters = stated.split(';').skip(1).filter_map(|one| one.split_once('='));
    let mut charsets = parameters.filter(|(name, _)| name.trim().eq_ignore_ascii_case("charset"));
    charsets.find_map(|(_, value)| {
        let value = value.trim().trim_matches('"');
        let utf8 = ["utf-8", "utf8"].iter().any(|known| value.eq_ignore_ascii_case(known));
        (!utf8).then(|| value.to_owned())
    })
}

/// A body's bytes, if it is marked as one of those media types.
pub fn bytes_of(
    request: &HttpRequest,
    payload: &mut dev::Payload,
    taken: &'static [&'static str],
) -> impl Future<Output = Result<web::Bytes, Problem>> + use<> {
    let stated = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let media = stated.map(|value| value.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    let charset = stated.and_then(other_charset);
    let packed = packed_otherwise(request);
    let bytes = web::Bytes::from_request(request, payload);
    async move {
        if !media.is_some_and(|media| taken.contains(&media.as_str())) {
            return Err(Problem::new(ProblemKind::UnsupportedMediaType)
                .with(format!("send Content-Type: {}", taken.join(" or "))));
        }
        if let Some(charset) = charset {
            return Err(Problem::new(ProblemKind::UnsupportedMediaType).with(format!(
                "the body is marked as charset={charset}; JSON is read as UTF-8 only (RFC 8259): send it in UTF-8, and \
                 charset=utf-8 or none"
            )));
        }
        if let Some(packed) = packed {
            return Err(Problem::new(ProblemKind::UnsupportedMediaType).with(format!(
                "a body packed as {packed:?} is not read; send Content-Encoding: gzip, or it as it is"
            )));
        }
        match bytes.await {
            Ok(bytes) => Ok(bytes),
            Err(error) if error.as_error::<PayloadError>().is_some_and(is_too_slow) => {
                Err(Problem::new(ProblemKind::TooSlow))
            }
            Err(error) => Err(match error.as_response_error().status_code() {
                StatusCode::PAYLOAD_TOO_LARGE => Problem::new(ProblemKind::TooLarge),
                _ => {
                    Problem::new(ProblemKind::MalformedRequest).with("the body could not be read to its end")
                }
            }),
        }
    }
}

impl<T: ToSchema + DeserializeOwned + Send + 'static> FromRequest for Checked<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let bytes = bytes_of(request, payload, &["application/json"]);
        Box::pin(async move {
            Ok(Self(match bytes.await {
                Ok(bytes) => off_the_workers(bytes, check).await,
                Err(problem) => Err(problem),
            }))
        })
    }
}
