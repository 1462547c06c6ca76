//! Revisions over HTTP: `PATCH` with `If-Match` (RFC 9110, 13.1.1), reads with an `ETag`, and the body of a change (JSON
//! Merge Patch, RFC 7396).

use std::borrow::Cow;
use std::future::Future;
use std::marker::PhantomData;
use std::pin::Pin;

use actix_web::http::header::{ETAG, EntityTag, HeaderName, HeaderValue, IF_MATCH, IF_NONE_MATCH};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};
use uuid::Uuid;

use super::answer::{self, Answer};
use super::checked::{Understood, bytes_of, check_value, off_the_workers};
use super::door::{Door, Reads, Records};
use super::json::read_json;
use super::problem::{Problem, ProblemError, ProblemKind, escaped};
use crate::rules::ids::RecordId;
use crate::rules::revisions::{Fields, Labels, Version};
use crate::store::error::{Fault, StoreError};
use crate::store::recording::{Mode, Outcome};
use crate::store::revisions::{Changed, Revised, ThingLabelled};

/// What the body of a `PATCH` may be marked as.
pub const PATCH_MEDIA: [&str; 2] = ["application/merge-patch+json", "application/json"];

/// What the labels of a thing are changed to; what is left out stays, null takes away.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct LabelPatch<L> {
    fields: Fields,
    #[serde(skip)]
    of: PhantomData<fn() -> L>,
}

/// The labels' own schema with nothing required. Written by hand, because the derived schema of a generic type goes
/// under one name for all of them.
impl<L: ToSchema> PartialSchema for LabelPatch<L> {
    fn schema() -> RefOr<Schema> {
        let mut schema = L::schema();
        if let RefOr::T(Schema::Object(object)) = &mut schema {
            object.required.clear();
            object.description =
                Some("What to change (RFC 7396): what is left out stays, null takes away.".to_owned());
        }
        schema
    }
}

impl<L: ToSchema> ToSchema for LabelPatch<L> {
    fn name() -> Cow<'static, str> {
        format!("{}Patch", L::name()).into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        L::schemas(schemas);
    }
}

/// The body of a `PATCH`, or what is wrong with it; kept until the door has let the caller in.
pub struct Patch<L>(Result<Understood<LabelPatch<L>>, Problem>);

impl<L: Labels + ToSchema> FromRequest for Patch<L> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let bytes = bytes_of(request, payload, &PATCH_MEDIA);
        Box::pin(async move {
            Ok(Self(match bytes.await {
                Ok(bytes) => off_the_workers(bytes, check_patch::<L>).await,
                Err(problem) => Err(problem),
            }))
        })
    }
}

/// Reads a patch: the labels that there are, and for everything else the way to change it.
fn check_patch<L: Labels + ToSchema>(bytes: &[u8]) -> Result<Understood<LabelPatch<L>>, Problem> {
    let sent = read_json(bytes)?;
    let mut known = sent.clone();
    let mut errors = Vec::new();
    if let Value::Object(fields) = &mut known {
        fields.retain(|name, _| {
            let changes = L::FIELDS.contains(&name.as_str());
            if !changes {
                errors.push(ProblemError {
                    pointer: format!("/{}", escaped(name)),
                    detail: format!("{name} of a {} does not change in place", L::THING.one()),
                    remedy: format!(
                        "what changes here is {}; what has an effect on money or tax changes by a dated event, or by \
                         taking the record back (POST /v1/records/{{id}}/reversal) and recording it anew",
                        L::FIELDS.join(", ")
                    ),
                });
            }
            changes
        });
    }
    match check_value::<LabelPatch<L>>(known) {
        Ok(understood) if errors.is_empty() => Ok(understood),
        Ok(_) => Err(Problem::new(ProblemKind::InvalidRequest).listing(errors)),
        Err(mut problem) => {
            errors.append(&mut problem.errors);
            Err(problem.listing(errors))
        }
    }
}

/// Which versions the caller has seen, as `If-Match` says, or what is wrong with it.
pub struct Seen(Result<Vec<Version>, Problem>);

impl FromRequest for Seen {
    type Error = Problem;
    type Future = std::future::Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        std::future::ready(Ok(Self(seen_by(request))))
    }
}

fn seen_by(request: &HttpRequest) -> Result<Vec<Version>, Problem> {
    match tags_in(request, &IF_MATCH)? {
        None => Err(Problem::new(ProblemKind::VersionNeeded)),
        Some(Tags::Any) => Err(Problem::new(ProblemKind::MalformedRequest).with(
            "If-Match: * would write over whatever stands; send the ETag of the read that your change rests on",
        )),
        // A tag that is weak or none of ours names no version (RFC 9110, 8.8.3.2): it was never what stands.
        Some(Tags::These(tags)) => Ok(tags.iter().filter(|tag| !tag.weak).filter_map(version_of).collect()),
    }
}

/// What `If-Match` or `If-None-Match` names.
#[derive(Clone, Debug)]
enum Tags {
    Any,
    These(Vec<EntityTag>),
}

/// The longest such header; a page of tags is nobody's list of versions.
const TAGS_MOST: usize = 200;

/// The tags of a header, on one line or several; none where it was not sent.
fn tags_in(request: &HttpRequest, name: &HeaderName) -> Result<Option<Tags>, Problem> {
    let unreadable = || {
        let header = if *name == IF_MATCH { "If-Match" } else { "If-None-Match" };
        Problem::new(ProblemKind::MalformedRequest).with(format!(
            "{header} can not be read; send the ETag of the read before, in its quotes, such as \"3\""
        ))
    };
    let lines: Option<Vec<&str>> = request.headers().get_all(name).map(|line| line.to_str().ok()).collect();
    match lines.ok_or_else(unreadable)?.as_slice() {
        [] => Ok(None),
        ["*"] => Ok(Some(Tags::Any)),
        lines if lines.iter().map(|line| line.len()).sum::<usize>() > TAGS_MOST => Err(unreadable()),
        lines => {
            let tags = lines.iter().flat_map(|line| line.split(',')).map(|tag| tag.trim().parse().ok());
            Ok(Some(Tags::These(tags.collect::<Option<_>>().ok_or_else(unreadable)?)))
        }
    }
}

fn version_of(tag: &EntityTag) -> Option<Version> {
    // Tags are compared as they are written (RFC 9110, 8.8.3.2): "+1" and "01" are not "1".
    tag.tag().parse().ok().map(Version).filter(|version| version.to_string() == tag.tag())
}

/// Which versions the caller has already, as `If-None-Match` says, or what is wrong with it.
pub struct Known(Result<Option<Tags>, Problem>);

impl Known {
    pub fn by(request: &HttpRequest) -> Self {
        Self(tags_in(request, &IF_NONE_MATCH))
    }

    /// Whether it is what that tag stands for; a weak one is as good here as a strong one (RFC 9110, 13.1.2).
    /// # Errors
    /// The header can not be read.
    pub fn has(&self, tag: &str) -> Result<bool, Problem> {
        Ok(match self.0.clone()? {
            None => false,
            Some(Tags::Any) => true,
            Some(Tags::These(tags)) => tags.iter().any(|one| one.tag() == tag),
        })
    }

    /// The thing in that version with its `ETag`, or 304 where the caller has it. What has no version has no tag.
    /// # Errors
    /// The header can not be read.
    pub fn answer(&self, version: Option<Version>, body: &impl Serialize) -> Answer {
        // What can not be read is refused for what has no version, too.
        let known = self.has(&version.map_or_else(String::new, |version| version.to_string()))?;
        let mut answer = match version {
            Some(_) if known => HttpResponse::NotModified().finish(),
            _ => HttpResponse::Ok().json(body),
        };
        tag(&mut answer, version);
        Ok(answer)
    }
}

fn tag(answer: &mut HttpResponse, version: Option<Version>) {
    let shown = version.map(|version| HeaderValue::from_str(&format!("\"{version}\"")));
    if let Some(Ok(shown)) = shown {
        answer.headers_mut().insert(ETAG, shown);
    }
}

/// A thing's labels as they stand.
#[derive(Debug, Serialize, ToSchema)]
pub struct LabelledBody<L> {
    pub id: Uuid,
    /// The record that brought it, a receipt or a gift perhaps: `GET /v1/records/{id}`.
    pub record: RecordId,
    /// The same as in the `ETag`.
    pub version: Version,
    pub labels: L,
}

/// The answer to a change of labels.
#[derive(Debug, Serialize, ToSchema)]
pub struct RevisedBody<L> {
    pub id: Uuid,
    /// False in a dry run, and where nothing was different: nothing was written.
    pub recorded: bool,
    /// The version that stands; left out in a dry run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub version: Option<Version>,
    /// All labels as they stand, or would.
    pub labels: L,
    /// Remarks in words.
    pub notes: Vec<String>,
}

/// The version that a kept answer told.
#[derive(Deserialize)]
struct VersionTold {
    version: Option<Version>,
}

fn render<L: Labels>(revised: &Revised<L>) -> Result<Vec<u8>, StoreError> {
    let kept = revised.mode == Mode::Record;
    let notes = match revised.changed {
        Changed::Something => Vec::new(),
        Changed::Nothing => vec!["nothing would be different, so nothing is written".to_owned()],
    };
    Ok(serde_json::to_vec(&RevisedBody {
        id: revised.id,
        recorded: kept && revised.changed == Changed::Something,
        version: kept.then_some(revised.now.version),
        labels: revised.now.labels.clone(),
        notes,
    })?)
}

impl Door<Records> {
    /// Changes labels, for a caller who has seen the version that stands. The write outlives the request.
    /// # Errors
    /// The problem to answer with: 428 without `If-Match`, 412 where the version is not the one seen.
    pub async fn revise<L: Labels>(self, id: Uuid, seen: Seen, patch: Patch<L>) -> Answer {
        let seen = seen.0?;
        let Understood { sent, value } = patch.0?;
        // The versions are a part of what a key stands for: the same change of another version is another request.
        let request = self.request_for(&json!({ "if_match": seen, "patch": sent }))?;
        let books = self.holder.books.clone();
        let write = async move { books.revise::<L>(&request, id, (&seen, &value.fields), render).await };
        let (mut answer, body) = match self.to_its_end(0, write).await {
            Ok(Ok(Outcome::Recorded { body } | Outcome::Shown { body })) => {
                (answer::shown(body.clone()), body)
            }
            Ok(Ok(Outcome::Replayed(kept))) => (answer::replayed(kept.clone()), kept.body),
            other => return self.answer_to(other, &sent).await,
        };
        let told: Option<VersionTold> = serde_json::from_slice(&body).ok();
        tag(&mut answer, told.and_then(|told| told.version));
        Ok(answer)
    }
}

impl Door<Reads> {
    /// Shows a thing's labels with their version.
    /// # Errors
    /// The problem to answer with.
    pub async fn labels<L: Labels>(self, id: Uuid) -> Answer {
        let found = self.look(async |tx| Ok::<ThingLabelled<L>, Fault>(tx.labelled::<L>(id).await?)).await?;
        let version = found.now.version;
        let body = LabelledBody { id, record: found.record, version, labels: found.now.labels };
        self.known.answer(Some(version), &body)
    }
}

/// The change of a thing's labels under its address.
macro_rules! revised {
    (
        $(#[$says:meta])* $tag:literal, $labels:ident, $patch:ident, $id:ident, $revise:ident $path:literal
    ) => {
        type $patch = crate::api::revisions::LabelPatch<$labels>;

        $(#[$says])*
        #[utoipa::path(
            tag = $tag,
            request_body(
                content = $patch,
                content_type = "application/merge-patch+json"
            ),
            responses((
                status = 200,
                description = "The labels as they stand, or would in a dry run",
                body = crate::api::revisions::RevisedBody<$labels>
            ))
        )]
        #[patch($path)]
        pub async fn $revise(
            door: crate::api::door::Door<crate::api::door::Records>,
            id: actix_web::web::Path<$id>,
            seen: crate::api::revisions::Seen,
            patch: crate::api::revisions::Patch<$labels>,
        ) -> crate::api::answer::Answer {
            door.revise(id.into_inner().0, seen, patch).await
        }
    };
}

/// The labels of a thing under an address of their own, where it is not shown as its record, and their change.
macro_rules! labelled {
    (
        $tag:literal, $labels:ident, $patch:ident, $id:ident, $path:literal,
        $(#[$shows:meta])* $show:ident,
        $(#[$says:meta])* $revise:ident
    ) => {
        $(#[$shows])*
        #[utoipa::path(tag = $tag, responses((
            status = 200,
            description = "The labels as they stand",
            body = crate::api::revisions::LabelledBody<$labels>
        )))]
        #[get($path)]
        pub async fn $show(
            door: crate::api::door::Door<crate::api::door::Reads>,
            id: actix_web::web::Path<$id>,
        ) -> crate::api::answer::Answer {
            door.labels::<$labels>(id.into_inner().0).await
        }

        crate::api::revisions::revised!($(#[$says])* $tag, $labels, $patch, $id, $revise $path);
    };
}
pub(super) use {labelled, revised};
