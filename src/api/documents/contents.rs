//! What a file is, told by its content alone: neither its name nor what the request says is believed.

use actix_web::web::Bytes;

use super::{papers, pictures};
use crate::rules::documents::DocumentFinding;
use crate::rules::rows::{DocumentKind, Location, Pixels};

/// A file as it will be kept.
#[derive(Clone, Debug)]
pub struct Contents {
    pub kind: DocumentKind,
    /// None for papers.
    pub pixels: Option<Pixels>,
    pub location: Location,
    pub bytes: Bytes,
    /// How many bytes behind the end of the picture were left away.
    pub cut_off: usize,
}

/// Looks at a file without decoding it. Of pictures whose parts can be taken out without touching a pixel, what says
/// where they were taken is taken out.
/// # Errors
/// Why it is not taken.
pub fn look_at(bytes: Bytes) -> Result<Contents, DocumentFinding> {
    match kind_of(&bytes)? {
        DocumentKind::Pdf => papers::pdf(bytes),
        DocumentKind::Heic => papers::heic(bytes),
        DocumentKind::Jpeg => pictures::jpeg(bytes),
        DocumentKind::Png => pictures::png(bytes),
        DocumentKind::Webp => pictures::webp(bytes),
    }
}

/// # Source
/// ISO 32000-2 7.5.2 (PDF), ITU-T T.81 annex B (JPEG), PNG 3rd edition 5.2, RFC 9649 2 (WebP), ISO/IEC 23008-12 10.2
/// (HEIF brands): all from memory.
fn kind_of(bytes: &[u8]) -> Result<DocumentKind, DocumentFinding> {
    let at = |from: usize, what: &[u8]| bytes.get(from..).is_some_and(|rest| rest.starts_with(what));
    if bytes.is_empty() {
        return Err(DocumentFinding::Empty);
    }
    if at(0, b"%PDF-") {
        return Ok(DocumentKind::Pdf);
    }
    if at(0, b"\xFF\xD8\xFF") {
        return Ok(DocumentKind::Jpeg);
    }
    if at(0, b"\x89PNG\r\n\x1A\n") {
        return Ok(DocumentKind::Png);
    }
    if at(0, b"RIFF") && at(8, b"WEBP") {
        return Ok(DocumentKind::Webp);
    }
    if at(4, b"ftyp") && papers::brands(bytes).any(|brand| papers::HEIC_BRANDS.contains(&brand)) {
        return Ok(DocumentKind::Heic);
    }
    Err(DocumentFinding::UnknownKind { seems: seems(bytes) })
}

/// What a file of another kind seems to be, to say it to the person.
fn seems(bytes: &[u8]) -> Option<&'static str> {
    let head: Vec<u8> = bytes.iter().take(512).map(u8::to_ascii_lowercase).collect();
    [
        (b"gif8".as_slice(), "a GIF"),
        (b"<svg", "an SVG drawing"),
        (b"<!doctype html", "a web page"),
        (b"<html", "a web page"),
        (b"<script", "a web page"),
        (b"pk\x03\x04", "an archive or an office file"),
        (b"mz", "a program"),
        (b"\x7felf", "a program"),
    ]
    .into_iter()
    .find(|(sign, _)| match sign.first() {
        // Marks may stand behind a declaration or spaces; the others are the first bytes or nothing.
        Some(b'<') => contains(&head, sign),
        _ => head.starts_with(sign),
    })
    .map(|(_, seems)| seems)
}

/// Whether the bytes hold that sequence anywhere.
pub(super) fn contains(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|part| part == wanted)
}
