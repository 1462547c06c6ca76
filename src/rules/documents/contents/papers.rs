//! Files that are kept as they came: PDF, and HEIC, whose parts are found by their place in the file.

use std::io::Cursor;

use exif::Context;

use super::bytes::{be32, contains};
use super::{Contents, pdf};
use crate::rules::documents::DocumentFinding;
use crate::rules::rows::{DocumentKind, Location, Pixels};

/// # Source
/// ISO 32000-2 7.5 (header, trailer). Programs look for the end within the last 1,024 bytes (common
/// practice, no source).
pub fn pdf(bytes: &[u8]) -> Result<Contents, DocumentFinding> {
    let kind = DocumentKind::Pdf;
    let version = bytes.get(5..7).unwrap_or_default();
    if version != b"1." && version != b"2." {
        return Err(DocumentFinding::Damaged { kind, what: "its version is none" });
    }
    let head: Vec<u8> = bytes.iter().take(1024).map(u8::to_ascii_lowercase).collect();
    if [b"<html".as_slice(), b"<script", b"<svg"].into_iter().any(|mark| contains(&head, mark)) {
        return Err(DocumentFinding::TwoThings { kind, other: "a web page" });
    }
    refuse_archive(kind, bytes)?;
    let tail = bytes.get(bytes.len().saturating_sub(1024)..).unwrap_or_default();
    if !contains(tail, b"%%EOF") {
        return Err(DocumentFinding::Damaged { kind, what: "its end is missing" });
    }
    let holds = pdf::holds(bytes);
    Ok(Contents { kind, pixels: None, location: Location::Unknown, holds, bytes: bytes.to_vec(), cut_off: 0 })
}

/// An archive is read from its end, so it can hide behind anything.
/// # Source
/// The archive format's application note, 4.3.16 (end of central directory record).
fn refuse_archive(kind: DocumentKind, bytes: &[u8]) -> Result<(), DocumentFinding> {
    const SIGN: &[u8] = b"PK\x05\x06";
    const FIXED: usize = 22;
    let from = bytes.len().saturating_sub(FIXED + usize::from(u16::MAX));
    let tail = bytes.get(from..).unwrap_or_default();
    let ends_here = |(place, part): (usize, &[u8])| {
        let record = tail.get(place..).unwrap_or_default();
        let comment = record.get(20..22).and_then(|two| two.try_into().ok()).map(u16::from_le_bytes);
        part == SIGN && comment.is_some_and(|comment| record.len() == FIXED + usize::from(comment))
    };
    match tail.windows(SIGN.len()).enumerate().any(ends_here) {
        true => Err(DocumentFinding::TwoThings { kind, other: "an archive" }),
        false => Ok(()),
    }
}

/// The brands of pictures coded with HEVC, and those of the container.
pub const HEIC_BRANDS: [&[u8]; 6] = [b"heic", b"heix", b"hevc", b"hevx", b"mif1", b"msf1"];

/// The major and the compatible brands of the first box.
pub fn brands(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let first = Boxes(bytes).next();
    let contents = first.map(|one| one.contents).unwrap_or_default();
    // The second four bytes are the minor version.
    contents.chunks_exact(4).enumerate().filter(|(place, _)| *place != 1).map(|(_, brand)| brand)
}

/// # Source
/// ISO/IEC 14496-12 4.2 (boxes), ISO/IEC 23008-12 6.5.3 (image spatial extents).
pub fn heic(bytes: &[u8]) -> Result<Contents, DocumentFinding> {
    let kind = DocumentKind::Heic;
    let damaged = |what| DocumentFinding::Damaged { kind, what };
    let mut whole = 0;
    let mut meta = None;
    for part in Boxes(bytes) {
        whole += part.length;
        meta = meta.or((part.name == b"meta").then_some(part.contents));
    }
    if whole != bytes.len() {
        return Err(damaged("it breaks off"));
    }
    refuse_archive(kind, bytes)?;
    // A version and flags stand before the boxes inside.
    let inside = meta.and_then(|meta| meta.get(4..)).ok_or_else(|| damaged("it holds no picture"))?;
    let properties = inner(inside, b"iprp").and_then(|found| inner(found, b"ipco")).unwrap_or_default();
    let sizes = Boxes(properties).filter(|one| one.name == b"ispe").filter_map(|one| extents(one.contents));
    let pixels =
        sizes.max_by_key(|pixels| pixels.count()).ok_or_else(|| damaged("it does not say its size"))?;
    let location = place_in(bytes);
    let bytes = bytes.to_vec();
    Ok(Contents { kind, pixels: Some(pixels), location, holds: Vec::new(), bytes, cut_off: 0 })
}

/// Whether it says where it was made. Its parts are found by their place in the file, so none is taken out; and since
/// not every part can be read, that nothing was found is not said to be nothing.
fn place_in(bytes: &[u8]) -> Location {
    let read = exif::Reader::new().read_from_container(&mut Cursor::new(bytes));
    let noted = read.is_ok_and(|found| found.fields().any(|field| field.tag.context() == Context::Gps));
    if noted || contains(bytes, b"GPSLatitude") { Location::Present } else { Location::Unknown }
}

fn extents(contents: &[u8]) -> Option<Pixels> {
    let number = |from| be32(contents, from).filter(|number| *number > 0);
    Some(Pixels { width: number(4)?, height: number(8)? })
}

fn inner<'b>(bytes: &'b [u8], name: &[u8]) -> Option<&'b [u8]> {
    Boxes(bytes).find(|one| one.name == name).map(|one| one.contents)
}

struct Part<'b> {
    name: &'b [u8],
    contents: &'b [u8],
    /// With the head.
    length: usize,
}

/// Boxes one after the other; it ends where what follows is none.
struct Boxes<'b>(&'b [u8]);

impl<'b> Iterator for Boxes<'b> {
    type Item = Part<'b>;

    fn next(&mut self) -> Option<Part<'b>> {
        let size = u32::from_be_bytes(self.0.get(..4)?.try_into().ok()?);
        let name = self.0.get(4..8)?;
        let (head, length) = match size {
            // Up to the end of the file.
            0 => (8, self.0.len()),
            1 => (16, usize::try_from(u64::from_be_bytes(self.0.get(8..16)?.try_into().ok()?)).ok()?),
            size => (8, usize::try_from(size).ok()?),
        };
        let contents = self.0.get(head..length)?;
        self.0 = self.0.get(length..)?;
        Some(Part { name, contents, length })
    }
}
