//! A file as the body of a request. It is read after the door has let the caller in: a stranger sends no megabytes.

use std::future::{Ready, ready};
use std::sync::Arc;

use actix_web::http::header::{CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE};
use actix_web::{FromRequest, HttpRequest, dev, web};
use chrono::Utc;
use futures_util::StreamExt;
use serde::Deserialize;
use serde_json::json;
use tokio::sync::Semaphore;
use utoipa::IntoParams;

use crate::api::checked::{Checked, Understood, is_too_slow};
use crate::api::openapi::bounds::is_bidi_control;
use crate::api::problem::{Problem, ProblemKind};
use crate::rules::documents::{Contents, FILE_LIMIT, NewDocument, look_at};
use crate::rules::ids::RecordId;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{DocumentKind, FileBytes};

/// Files that are read at the same time. Each may have ten megabytes, and the service is small.
static AT_ONCE: Semaphore = Semaphore::const_new(8);

/// What is said about a file that comes in; the door refuses every other name.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct UploadQuery {
    /// What the file is called; folders before the name are left away.
    #[param(
        max_length = 200,
        pattern = r"^[^\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]*$"
    )]
    pub name: Option<String>,
    /// The record that it proves; without one it waits in the inbox.
    pub record: Option<RecordId>,
}

/// A body that has not been read yet.
pub struct Upload {
    head: HttpRequest,
    payload: dev::Payload,
}

impl FromRequest for Upload {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        ready(Ok(Self { head: request.clone(), payload: payload.take() }))
    }
}

impl Upload {
    /// Reads the file and looks at it; what is wrong is kept as with every body.
    pub async fn read(self, asked: UploadQuery) -> Checked<NewDocument> {
        Checked::of(self.understood(asked).await)
    }

    async fn understood(self, asked: UploadQuery) -> Result<Understood<NewDocument>, Problem> {
        let busy = || Problem::new(ProblemKind::Unavailable).with("too many files come in at once");
        let _reading = AT_ONCE.try_acquire().ok().ok_or_else(busy)?;
        let stated = self.stated()?;
        let name = asked.name.as_deref().map(plain_name).transpose()?.flatten();
        let bytes = self.bytes().await?;
        let came = FileBytes(Arc::from(&*bytes)).sum();
        let sent = json!({
            "sha256": came.to_string(), "kind": stated, "name": name, "record": asked.record,
        });
        let looked = web::block(move || look_at(&bytes)).await.map_err(|error| {
            tracing::error!(%error, "a file could not be looked at");
            Problem::new(ProblemKind::Internal)
        })?;
        let Contents { kind, pixels, location, holds, bytes, cut_off } =
            looked.map_err(|why| Problem::of_refusal(&Refusal::from(why)))?;
        let bytes = FileBytes(Arc::from(bytes));
        let value = NewDocument {
            received_on: Utc::now().date_naive(),
            name,
            stated,
            kind,
            pixels,
            location,
            holds,
            cut_off,
            sha256: bytes.sum().to_string(),
            record: asked.record,
            bytes,
        };
        Ok(Understood { sent, value })
    }

    /// What the request says the file is.
    fn stated(&self) -> Result<DocumentKind, Problem> {
        let header = |name| self.head.headers().get(name).and_then(|value| value.to_str().ok());
        let unsupported = |detail: &str| Problem::new(ProblemKind::UnsupportedMediaType).with(detail);
        if header(CONTENT_ENCODING).is_some_and(|packed| packed != "identity") {
            return Err(unsupported("send the file as it is, without Content-Encoding"));
        }
        let media = header(CONTENT_TYPE).and_then(|media| media.split(';').next()).unwrap_or_default();
        DocumentKind::named(&media.trim().to_ascii_lowercase()).ok_or_else(|| {
            let kinds: Vec<_> = DocumentKind::ALL.iter().map(|kind| kind.as_str()).collect();
            unsupported(&format!("send Content-Type with one of: {}", kinds.join(", ")))
        })
    }

    async fn bytes(mut self) -> Result<web::Bytes, Problem> {
        let too_large = || {
            Problem::new(ProblemKind::TooLarge).with(
                "a file may have 10 MiB; take the picture with fewer pixels, or print it to a smaller PDF",
            )
        };
        let length = self.head.headers().get(CONTENT_LENGTH).and_then(|value| value.to_str().ok());
        if length.and_then(|length| length.parse().ok()).is_some_and(|length: usize| length > FILE_LIMIT) {
            return Err(too_large());
        }
        let mut bytes = web::BytesMut::new();
        while let Some(part) = self.payload.next().await {
            let part = part.map_err(|error| match is_too_slow(&error) {
                true => Problem::new(ProblemKind::TooSlow),
                false => {
                    Problem::new(ProblemKind::MalformedRequest).with("the file could not be read to its end")
                }
            })?;
            if bytes.len() + part.len() > FILE_LIMIT {
                return Err(too_large());
            }
            bytes.extend_from_slice(&part);
        }
        Ok(bytes.freeze())
    }
}

/// The last part of a path, for whatever is called so is never opened by its name here; none where nothing is left.
fn plain_name(name: &str) -> Result<Option<String>, Problem> {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default().trim();
    if last.chars().any(|sign| sign.is_control() || is_bidi_control(sign)) || last.chars().count() > 200 {
        return Err(Problem::new(ProblemKind::MalformedRequest)
            .with("name takes up to 200 signs that can be seen; leave it out, or shorten it"));
    }
    Ok(Some(last.trim_matches('.')).filter(|last| !last.is_empty()).map(str::to_owned))
}
