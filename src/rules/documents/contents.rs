//! What a file is, told by its content alone: neither its name nor what the request says is believed. Pictures are
//! written anew from what is on a list of allowed parts; papers stay as they came, with a label for what they hold.

mod bytes;
mod icc;
mod jpeg;
mod notes;
mod papers;
mod pdf;
mod png;
mod webp;

use self::bytes::contains;
use super::DocumentFinding;
use crate::rules::rows::{DocumentKind, Holding, Location, Pixels};

const BREAKS_OFF: &str = "it breaks off";
const NO_SIZE: &str = "it does not say its size";
const NO_PICTURE: &str = "it holds no picture";

/// A file as it will be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contents {
    pub kind: DocumentKind,
    /// None for papers.
    pub pixels: Option<Pixels>,
    pub location: Location,
    /// What a paper holds beside its pages; in the order of [`Holding::ALL`].
    pub holds: Vec<Holding>,
    pub bytes: Vec<u8>,
    /// How many bytes behind the end of the picture were left away.
    pub cut_off: usize,
}

/// A picture written anew from its allowed parts.
struct Cleaned {
    pixels: Pixels,
    bytes: Vec<u8>,
    /// Whether anything that can carry words was left away, inside the picture or behind it.
    removed: bool,
    cut_off: usize,
}

/// Looks at a file without decoding its pixels. Of JPEG, PNG and WebP only the parts on a list are kept, so that no part
/// is left that could say where the picture was taken; the coded pixels are the same to the bit. What a picture shows,
/// and what somebody hides among the numbers of its pixels, nobody looks for. PDF and HEIC are kept as they came, and
/// are never said to be without a place.
/// # Errors
/// Why it is not taken.
pub fn look_at(file: &[u8]) -> Result<Contents, DocumentFinding> {
    let kind = kind_of(file)?;
    let cleaned = match kind {
        DocumentKind::Pdf => return papers::pdf(file),
        DocumentKind::Heic => return papers::heic(file),
        DocumentKind::Jpeg => jpeg::clean(file),
        DocumentKind::Png => png::clean(file),
        DocumentKind::Webp => webp::clean(file),
    };
    let Cleaned { pixels, bytes, removed, cut_off } =
        cleaned.map_err(|what| DocumentFinding::Damaged { kind, what })?;
    let location = if removed { Location::Removed } else { Location::None };
    Ok(Contents { kind, pixels: Some(pixels), location, holds: Vec::new(), bytes, cut_off })
}

/// # Source
/// ISO 32000-2 7.5.2 (PDF), ITU-T T.81 annex B (JPEG), PNG, third edition, 5.2, RFC 9649 2 (WebP), ISO/IEC 23008-12 10.2
/// (HEIF brands).
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
    if at(0, png::SIGNATURE) {
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
