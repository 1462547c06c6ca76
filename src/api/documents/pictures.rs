//! Pictures whose parts can be taken out without touching a pixel: JPEG, PNG, WebP.

use std::io::Cursor;

use actix_web::web::Bytes;
use exif::experimental::Writer;
use exif::{Context, Exif, Field, In, Tag};
use img_parts::ImageEXIF;
use img_parts::jpeg::{Jpeg, markers};
use img_parts::png::Png;
use img_parts::webp::{CHUNK_ANMF, CHUNK_VP8, CHUNK_VP8L, CHUNK_XMP, WebP};

use super::contents::{Contents, contains};
use crate::rules::documents::DocumentFinding;
use crate::rules::rows::{DocumentKind, Location, Pixels};

const BREAKS_OFF: &str = "it breaks off";
const NO_SIZE: &str = "it does not say its size";
const NO_PICTURE: &str = "it holds no picture";

pub fn jpeg(bytes: Bytes) -> Result<Contents, DocumentFinding> {
    let damaged = |what| DocumentFinding::Damaged { kind: DocumentKind::Jpeg, what };
    let end = end_of_picture(&bytes).ok_or_else(|| damaged(BREAKS_OFF))?;
    let cut_off = bytes.len() - end;
    let mut jpeg = Jpeg::from_bytes(bytes.slice(..end)).ok().ok_or_else(|| damaged(BREAKS_OFF))?;
    let (width, height) = jpeg.dimensions().ok_or_else(|| damaged(NO_SIZE))?;
    if jpeg.segment_by_marker(markers::SOS).is_none() {
        return Err(damaged(NO_PICTURE));
    }
    let mut place = Found::Nothing;
    let before = jpeg.segments().len();
    jpeg.segments_mut().retain(|segment| {
        let words = matches!(segment.marker(), markers::APP1 | markers::APP13)
            && !segment.contents().starts_with(b"Exif\0\0");
        !(words && names_a_place(segment.contents()))
    });
    place.mark(jpeg.segments().len() < before);
    place.mark(clear_exif(&mut jpeg));
    Ok(Contents {
        kind: DocumentKind::Jpeg,
        pixels: Some(Pixels { width: width.into(), height: height.into() }),
        location: place.location(),
        bytes: jpeg.encoder().bytes(),
        cut_off,
    })
}

/// Where the picture ends: behind the marker that says so. What stands behind it is no part of the picture; phones keep
/// other pictures there, and others a whole archive.
/// # Source
/// ITU-T T.81 B.1.1 (markers, byte stuffing, restarts): from memory.
fn end_of_picture(data: &[u8]) -> Option<usize> {
    // Behind the marker that begins it.
    let mut at = 2;
    loop {
        at += data.get(at..)?.iter().position(|byte| *byte == 0xFF)? + 1;
        match *data.get(at)? {
            // A stuffed byte or a restart, within a scan; or padding before a marker.
            0x00 | 0x01 | 0xD0..=0xD7 => at += 1,
            0xFF => {}
            0xD9 => return Some(at + 1),
            _ => {
                let length = data.get(at + 1..at + 3)?.try_into().ok()?;
                at += 1 + usize::from(u16::from_be_bytes(length));
            }
        }
    }
}

pub fn png(bytes: Bytes) -> Result<Contents, DocumentFinding> {
    let damaged = |what| DocumentFinding::Damaged { kind: DocumentKind::Png, what };
    let came = bytes.len();
    let mut png = Png::from_bytes(bytes).ok().ok_or_else(|| damaged(BREAKS_OFF))?;
    if png.chunks().last().is_none_or(|chunk| chunk.kind() != *b"IEND") {
        return Err(damaged(BREAKS_OFF));
    }
    let (width, height) = png.dimensions().ok_or_else(|| damaged(NO_SIZE))?;
    if png.chunk_by_type(*b"IDAT").is_none() {
        return Err(damaged(NO_PICTURE));
    }
    let cut_off = came - png.len();
    let mut place = Found::Nothing;
    let before = png.chunks().len();
    png.chunks_mut().retain(|chunk| match &chunk.kind() {
        b"tEXt" => !names_a_place(chunk.contents()),
        b"iTXt" => !is_packed(chunk.contents()) && !names_a_place(chunk.contents()),
        // Nobody knows what is packed inside, and a receipt loses nothing by it.
        b"zTXt" => false,
        _ => true,
    });
    place.mark(png.chunks().len() < before);
    place.mark(clear_exif(&mut png));
    Ok(Contents {
        kind: DocumentKind::Png,
        pixels: Some(Pixels { width, height }),
        location: place.location(),
        bytes: png.encoder().bytes(),
        cut_off,
    })
}

/// Whether an international text is compressed: the byte behind its keyword says so.
fn is_packed(text: &[u8]) -> bool {
    let keyword = text.iter().position(|byte| *byte == 0);
    keyword.and_then(|end| text.get(end + 1)) != Some(&0)
}

pub fn webp(bytes: Bytes) -> Result<Contents, DocumentFinding> {
    let damaged = |what| DocumentFinding::Damaged { kind: DocumentKind::Webp, what };
    let came = bytes.len();
    let mut webp = WebP::from_bytes(bytes).ok().ok_or_else(|| damaged(BREAKS_OFF))?;
    let (width, height) = webp.dimensions().ok_or_else(|| damaged(NO_SIZE))?;
    if ![CHUNK_VP8, CHUNK_VP8L, CHUNK_ANMF].into_iter().any(|chunk| webp.has_chunk(chunk)) {
        return Err(damaged(NO_PICTURE));
    }
    let cut_off = came.saturating_sub(usize::try_from(webp.len()).unwrap_or(came));
    let mut place = Found::Nothing;
    let words = webp.chunk_by_id(CHUNK_XMP).and_then(|chunk| chunk.content().data());
    if words.is_some_and(|words| names_a_place(words)) {
        webp.remove_chunks_by_id(CHUNK_XMP);
        // Setting what is there already also mends the flags of the head.
        let exif = webp.exif();
        webp.set_exif(exif);
        place.mark(true);
    }
    place.mark(clear_exif(&mut webp));
    Ok(Contents {
        kind: DocumentKind::Webp,
        pixels: Some(Pixels { width, height }),
        location: place.location(),
        bytes: webp.encoder().bytes(),
        cut_off,
    })
}

/// Whether anything said where the picture was taken.
enum Found {
    Nothing,
    Place,
}

impl Found {
    fn mark(&mut self, found: bool) {
        if found {
            *self = Self::Place;
        }
    }

    const fn location(&self) -> Location {
        match self {
            Self::Nothing => Location::None,
            Self::Place => Location::Removed,
        }
    }
}

/// Takes what names a place out of the camera's notes, and says whether there was any. Notes that can not be read go
/// altogether: nobody can tell what they say.
fn clear_exif(picture: &mut impl ImageEXIF) -> bool {
    let Some(notes) = picture.exif() else { return false };
    let read = exif::Reader::new().read_raw(notes.to_vec());
    if read.as_ref().is_ok_and(|read| !read.fields().any(|field| field.tag.context() == Context::Gps)) {
        return false;
    }
    picture.set_exif(read.ok().and_then(|read| what_a_receipt_needs(&read)));
    true
}

/// Which way up the picture is, and when it was taken.
fn what_a_receipt_needs(read: &Exif) -> Option<Bytes> {
    const NEEDED: [Tag; 7] = [
        Tag::Orientation,
        Tag::DateTime,
        Tag::DateTimeOriginal,
        Tag::DateTimeDigitized,
        Tag::OffsetTime,
        Tag::OffsetTimeOriginal,
        Tag::OffsetTimeDigitized,
    ];
    let needed: Vec<&Field> =
        read.fields().filter(|field| field.ifd_num == In::PRIMARY && NEEDED.contains(&field.tag)).collect();
    let mut writer = Writer::new();
    needed.iter().for_each(|field| writer.push_field(field));
    let mut into = Cursor::new(Vec::new());
    writer.write(&mut into, read.little_endian()).ok().filter(|()| !needed.is_empty())?;
    Some(into.into_inner().into())
}

/// Whether words about a picture may say where it was taken: those of XMP by their names, those of IPTC by their
/// numbers (city, sublocation, province, country).
/// # Source
/// XMP part 2 (Exif and Photoshop schemas), IPTC-NAA Information Interchange Model 4.2 record 2: from memory.
fn names_a_place(words: &[u8]) -> bool {
    let small = words.to_ascii_lowercase();
    let named = [b"gps".as_slice(), b"city", b"location", b"country"];
    let numbered = [b"\x1C\x02\x5A".as_slice(), b"\x1C\x02\x5C", b"\x1C\x02\x5F", b"\x1C\x02\x65"];
    named.into_iter().any(|name| contains(&small, name))
        || numbered.into_iter().any(|number| contains(words, number))
}
