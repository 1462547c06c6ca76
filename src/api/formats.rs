//! Formats: JSON, or a file to keep. The query's `format` decides; without one, the `Accept` header.

use actix_web::http::header::{self, Accept, ContentType, Header};
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;

use super::answer::Answer;
use super::problem::{Problem, ProblemKind};
use crate::export::ExportError;

/// What a report can be had as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    Json,
    Csv,
    Text,
}

impl Format {
    pub const ALL: &[Self] = &[Self::Json, Self::Csv, Self::Text];

    const fn name(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Csv => "csv",
            Self::Text => "text",
        }
    }

    const fn media(self) -> (&'static str, &'static str) {
        match self {
            Self::Json => ("application", "json"),
            Self::Csv => ("text", "csv"),
            Self::Text => ("text", "plain"),
        }
    }
}

/// The format to answer in, among those offered; the first is the usual one.
/// # Errors
/// 406 for a format, or only media types, that are not offered.
pub fn format_of(
    asked: Option<&str>,
    request: &HttpRequest,
    offered: &'static [Format],
) -> Result<Format, Problem> {
    let names = || offered.iter().map(|one| one.name()).collect::<Vec<_>>().join(", ");
    if let Some(asked) = asked {
        return offered.iter().copied().find(|one| one.name() == asked).ok_or_else(|| {
            Problem::new(ProblemKind::NotAcceptable).with(format!(
                "format={asked} is none of {}; leave it out for {}",
                names(),
                offered_first(offered)
            ))
        });
    }
    if !request.headers().contains_key(header::ACCEPT) {
        return Ok(offered.first().copied().unwrap_or(Format::Json));
    }
    let accept = Accept::parse(request).map_err(|error| {
        Problem::new(ProblemKind::MalformedRequest)
            .with(format!("the header Accept can not be read: {error}"))
    })?;
    let fits = |wanted: &actix_web::mime::Mime, one: &Format| {
        let (kind, sub) = one.media();
        (wanted.type_() == "*" || wanted.type_() == kind)
            && (wanted.subtype() == "*" || wanted.subtype() == sub)
    };
    let ranked = accept.ranked();
    let found = ranked.iter().find_map(|wanted| offered.iter().copied().find(|one| fits(wanted, one)));
    found.ok_or_else(|| {
        Problem::new(ProblemKind::NotAcceptable)
            .with(format!("none of the media types in Accept is offered; ask for one of {}", names()))
    })
}

fn offered_first(offered: &[Format]) -> &'static str {
    offered.first().map_or("json", |one| one.name())
}

/// A report in the format asked for; only that one is written. `name` is what its table is kept under.
/// # Errors
/// 500: the export is a fault of ours.
pub fn report<T: Serialize>(
    format: Format,
    name: &str,
    shown: &T,
    csv: impl FnOnce() -> Result<Vec<u8>, ExportError>,
    text: impl FnOnce() -> String,
) -> Answer {
    match format {
        Format::Json => Ok(HttpResponse::Ok().json(shown)),
        Format::Csv => csv_file(name, csv()),
        Format::Text => Ok(plain_text(text())),
    }
}

/// A table for a spreadsheet, to be kept under that name.
/// # Errors
/// 500: the export is a fault of ours.
pub fn csv_file(name: &str, written: Result<Vec<u8>, ExportError>) -> Answer {
    let bytes = written.map_err(|error| {
        tracing::error!(%error, name, "an export could not be written");
        Problem::new(ProblemKind::Internal)
    })?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, "text/csv; charset=utf-8"))
        .insert_header((header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}.csv\"")))
        .insert_header((header::VARY, "Accept"))
        .body(bytes))
}

/// A page of plain text.
fn plain_text(text: String) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header(ContentType::plaintext())
        .insert_header((header::VARY, "Accept"))
        .body(text)
}
