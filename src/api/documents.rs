//! Documents over HTTP: a file comes in, waits, proves a record, and is given out again as it is kept.

mod upload;

use actix_web::http::header::{ContentDisposition, DispositionParam, DispositionType, ETag, EntityTag};
use actix_web::{HttpResponse, get, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::answer::Answer;
use super::checked::Checked;
use super::door::{Door, Reads, Records, Uploads};
use super::lists::{Cursor, NextPage, PageBody, Placed, SealedCursor, cut_to, limit_of, listed, place_of};
use crate::rules::documents::{self, NewAttachment};
use crate::rules::ids::{DocumentId, PartyId, RecordId};
use crate::rules::rows::{DocumentKind, DocumentStanding, Holding, Location, Pixels};
use crate::store::documents::{DocumentFilter, DocumentListed, FileKept, Unproved};
use crate::store::records::After;
use upload::{Upload, UploadQuery};

listed!(Documents, "documents",
    list_document_records "/v1/documents/records", read_document_record "/v1/documents/records/{id}");

/// Which documents a list shows.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DocumentsQuery {
    /// The first day, included: of those that came from then on.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// `inbox` for those that prove nothing yet.
    pub standing: Option<DocumentStanding>,
    /// Those that prove it.
    pub record: Option<RecordId>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// Of which days purchases are looked through.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct UnprovedQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// A document.
#[derive(Debug, Serialize, ToSchema)]
pub struct DocumentBody {
    pub id: DocumentId,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 200)]
    pub name: Option<String>,
    /// Told by its content.
    pub kind: DocumentKind,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pixels: Option<Pixels>,
    /// Whether it says where it was made.
    pub location: Location,
    /// What a PDF holds beside its pages; left out where nothing was found.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 5)]
    pub holds: Vec<Holding>,
    pub received_on: NaiveDate,
    pub recorded_at: DateTime<Utc>,
    /// In bytes, as it is kept.
    #[schema(minimum = 1)]
    pub size: i32,
    /// SHA-256 of what is kept, in hexadecimal.
    #[schema(pattern = "^[0-9a-f]{64}$")]
    pub sha256: String,
    pub standing: DocumentStanding,
    /// The records that it proves.
    pub proves: Vec<RecordId>,
    /// Where the file itself is.
    pub content: String,
}

/// A purchase that no document proves.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnprovedBody {
    pub id: RecordId,
    pub date: NaiveDate,
    pub text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub party: Option<PartyId>,
    /// Where the purchase is.
    pub purchase: String,
}

impl From<DocumentListed> for DocumentBody {
    fn from(one: DocumentListed) -> Self {
        Self {
            content: format!("/v1/documents/{}/content", one.id),
            standing: match one.proves.is_empty() {
                true => DocumentStanding::Inbox,
                false => DocumentStanding::Attached,
            },
            id: one.id,
            name: one.name,
            kind: one.kind,
            pixels: one.pixels,
            location: one.location,
            holds: one.holds,
            received_on: one.received_on,
            recorded_at: one.recorded_at,
            size: one.size,
            sha256: one.sum.to_string(),
            proves: one.proves,
        }
    }
}

impl Placed for DocumentBody {
    fn place(&self) -> After {
        After { date: self.received_on, id: self.id.0 }
    }
}

impl From<Unproved> for UnprovedBody {
    fn from(one: Unproved) -> Self {
        Self {
            id: RecordId(one.id),
            date: one.date,
            text: one.text,
            party: one.party_id.map(PartyId),
            purchase: format!("/v1/purchases/{}", one.id),
        }
    }
}

impl Placed for UnprovedBody {
    fn place(&self) -> After {
        After { date: self.date, id: self.id.0 }
    }
}

/// A file as it is: bytes, not text. Only its shape in the document is of use.
#[derive(Debug, ToSchema)]
#[schema(value_type = String, format = Binary, max_length = 10_485_760)]
#[expect(dead_code, reason = "it describes what is read and sent as bytes")]
pub struct FileBody(Vec<u8>);

/// Takes in a picture or a paper: PDF, JPEG, PNG, WebP or HEIC, at most 10 MiB. It proves `record`, or waits in the
/// inbox until a purchase names it or it is attached.
#[utoipa::path(tag = "documents", params(UploadQuery), request_body(content(
    (FileBody = "application/pdf"), (FileBody = "image/jpeg"), (FileBody = "image/png"), (FileBody = "image/webp"),
    (FileBody = "image/heic")
), description = "The file's bytes"))]
#[post("/v1/documents")]
pub async fn receive_document(door: Door<Uploads>, query: web::Query<UploadQuery>, file: Upload) -> Answer {
    let new = file.read(query.into_inner()).await;
    door.record(new, async |desk, new| {
        let facts = desk.tx.receive_facts(new).await?;
        Ok(documents::receive(&mut desk.pen(), facts.kept, facts.same, facts.proves.as_ref(), new)?)
    })
    .await
}

/// Lists the documents that stand, the oldest first; `standing=inbox` shows what is still to be coded.
#[utoipa::path(tag = "documents", params(DocumentsQuery), responses(
    (status = 200, description = "A page", body = PageBody<DocumentBody>)
))]
#[get("/v1/documents")]
pub async fn list_documents(door: Door<Reads>, query: web::Query<DocumentsQuery>) -> Answer {
    let DocumentsQuery { from, to, standing, record, limit, cursor } = query.into_inner();
    let wanted = limit_of(limit)?;
    let after = place_of::<Cursor>(cursor.as_ref())?.map(|cursor| cursor.0);
    let filter = DocumentFilter { from, to, standing, record };
    let found = door.look(async |tx| Ok(tx.documents_listed(&filter, after, wanted + 1).await?)).await?;
    let (items, last) = page_of::<_, DocumentBody>(found, wanted);
    let next = last.map(|cursor| {
        NextPage::after("/v1/documents", cursor)
            .with("from", from)
            .with("to", to)
            .with("standing", standing)
            .with("record", record)
            .with("limit", limit)
    });
    Ok(door.page(items, next))
}

/// Lists the purchases that no document proves, the oldest first.
#[utoipa::path(tag = "documents", params(UnprovedQuery), responses(
    (status = 200, description = "A page", body = PageBody<UnprovedBody>)
))]
#[get("/v1/documents/missing")]
pub async fn list_unproved_purchases(door: Door<Reads>, query: web::Query<UnprovedQuery>) -> Answer {
    let UnprovedQuery { from, to, limit, cursor } = query.into_inner();
    let wanted = limit_of(limit)?;
    let after = place_of::<Cursor>(cursor.as_ref())?.map(|cursor| cursor.0);
    let found = door.look(async |tx| Ok(tx.unproved_purchases((from, to), after, wanted + 1).await?)).await?;
    let (items, last) = page_of::<_, UnprovedBody>(found, wanted);
    let next = last.map(|cursor| {
        NextPage::after("/v1/documents/missing", cursor)
            .with("from", from)
            .with("to", to)
            .with("limit", limit)
    });
    Ok(door.page(items, next))
}

/// What a page shows of what was found, and where the next one begins.
fn page_of<F, B: From<F> + Placed>(mut found: Vec<F>, limit: i64) -> (Vec<B>, Option<Cursor>) {
    let more = cut_to(&mut found, limit);
    let items: Vec<B> = found.into_iter().map(B::from).collect();
    let last = items.last().filter(|_| more).map(|last| Cursor(last.place()));
    (items, last)
}

/// Shows what is known of a document, and what it proves.
#[utoipa::path(tag = "documents", responses(
    (status = 200, description = "The document", body = DocumentBody)
))]
#[get("/v1/documents/{id}")]
pub async fn show_document(door: Door<Reads>, id: web::Path<DocumentId>) -> Answer {
    let id = id.into_inner();
    door.read(async |tx| Ok(DocumentBody::from(tx.document(id).await?))).await
}

/// Gives out the file, checked against its SHA-256. What it is named and what it holds is never shown in place: it is
/// handed over to be kept.
#[utoipa::path(tag = "documents", responses(
    (status = 200, description = "The file", content(
        (FileBody = "application/pdf"), (FileBody = "image/jpeg"), (FileBody = "image/png"),
        (FileBody = "image/webp"), (FileBody = "image/heic")
    )),
    (status = 304, description = "It is what If-None-Match names")
))]
#[get("/v1/documents/{id}/content")]
pub async fn fetch_document(door: Door<Reads>, id: web::Path<DocumentId>) -> Answer {
    let id = id.into_inner();
    let file = door.look(async |tx| Ok(tx.document_file(id).await?)).await?;
    let sum = file.sum.to_string();
    let known = door.known.has(&sum)?;
    let tag = ETag(EntityTag::new_strong(sum));
    if known {
        return Ok(HttpResponse::NotModified().insert_header(tag).finish());
    }
    Ok(handed_over(id, file, tag))
}

fn handed_over(id: DocumentId, file: FileKept, tag: ETag) -> HttpResponse {
    let name = file.name.unwrap_or_else(|| format!("{id}.{}", ending(file.kind)));
    let disposition = ContentDisposition {
        disposition: DispositionType::Attachment,
        parameters: vec![DispositionParam::FilenameExt(actix_web::http::header::ExtendedValue {
            charset: actix_web::http::header::Charset::Ext("UTF-8".to_owned()),
            language_tag: None,
            value: name.into_bytes(),
        })],
    };
    HttpResponse::Ok()
        .insert_header(tag)
        .insert_header(("content-type", file.kind.as_str()))
        .insert_header(disposition)
        .insert_header(("content-security-policy", "default-src 'none'; sandbox"))
        .body(file.bytes)
}

const fn ending(kind: DocumentKind) -> &'static str {
    match kind {
        DocumentKind::Pdf => "pdf",
        DocumentKind::Jpeg => "jpg",
        DocumentKind::Png => "png",
        DocumentKind::Webp => "webp",
        DocumentKind::Heic => "heic",
    }
}

/// Attaches a document to the record that it proves. Taking either back puts the document into the inbox again.
#[utoipa::path(tag = "documents", request_body = NewAttachment)]
#[post("/v1/documents/{id}/attachments")]
pub async fn attach_document(
    door: Door<Records>,
    id: web::Path<DocumentId>,
    body: Checked<NewAttachment>,
) -> Answer {
    let id = id.into_inner();
    door.record(body, async move |desk, new| {
        let facts = desk.tx.attach_facts(id, new.record).await?;
        Ok(documents::attach(&facts)?)
    })
    .await
}
