//! Small files of every kind, written part by part, and the sending and fetching of them.

use std::io::{Cursor, Write};

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use flate2::Compression;
use flate2::write::ZlibEncoder;

use crate::world::{AGENT, Caller, Reply, reply};

/// What a camera notes: which way up, the day, and where.
pub fn notes(place: bool) -> Vec<u8> {
    let degrees = Value::Rational(vec![Rational { num: 51, denom: 1 }; 3]);
    let mut fields = vec![
        Field { tag: Tag::Orientation, ifd_num: In::PRIMARY, value: Value::Short(vec![6]) },
        Field {
            tag: Tag::DateTimeOriginal,
            ifd_num: In::PRIMARY,
            value: Value::Ascii(vec![b"2025:03:04 10:11:12".to_vec()]),
        },
        Field { tag: Tag::Model, ifd_num: In::PRIMARY, value: Value::Ascii(vec![b"Pocket Nine".to_vec()]) },
    ];
    if place {
        let half = Value::Ascii(vec![b"N".to_vec()]);
        fields.push(Field { tag: Tag::GPSLatitudeRef, ifd_num: In::PRIMARY, value: half });
        fields.push(Field { tag: Tag::GPSLatitude, ifd_num: In::PRIMARY, value: degrees });
    }
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut into = Cursor::new(Vec::new());
    writer.write(&mut into, false).unwrap();
    into.into_inner()
}

pub fn segment(marker: u8, contents: &[u8]) -> Vec<u8> {
    let length = u16::try_from(contents.len() + 2).unwrap().to_be_bytes();
    [&[0xFF, marker], length.as_slice(), contents].concat()
}

/// The scan of every picture here; a restart and a stuffed byte are in it.
pub const SCAN: &[u8] = b"\x11\x22\xFF\x00\x33\xFF\xD0\x44";

/// A JPEG with these segments before its frame.
pub fn jpeg(width: u16, height: u16, segments: &[Vec<u8>]) -> Vec<u8> {
    let mut frame = vec![8];
    frame.extend(height.to_be_bytes());
    frame.extend(width.to_be_bytes());
    frame.extend([1, 1, 0x11, 0]);
    let mut file = vec![0xFF, 0xD8];
    segments.iter().for_each(|one| file.extend(one));
    file.extend(segment(0xC0, &frame));
    file.extend(segment(0xDA, &[1, 1, 0, 0, 63, 0]));
    file.extend(SCAN);
    file.extend([0xFF, 0xD9]);
    file
}

pub fn exif_segment(place: bool) -> Vec<u8> {
    segment(0xE1, &[b"Exif\0\0", notes(place).as_slice()].concat())
}

pub fn xmp_segment(words: &str) -> Vec<u8> {
    segment(0xE1, &[b"http://ns.adobe.com/xap/1.0/\0", words.as_bytes()].concat())
}

pub fn packed(bytes: &[u8], how: Compression) -> Vec<u8> {
    let mut packing = ZlibEncoder::new(Vec::new(), how);
    packing.write_all(bytes).unwrap();
    packing.finish().unwrap()
}

pub fn png_chunk(kind: &[u8; 4], contents: &[u8]) -> Vec<u8> {
    let named = [kind.as_slice(), contents].concat();
    let length = u32::try_from(contents.len()).unwrap().to_be_bytes();
    [length.as_slice(), &named, &crc32fast::hash(&named).to_be_bytes()].concat()
}

/// A PNG of that size, all black, with these chunks before its data.
pub fn png(width: u32, height: u32, chunks: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
    let head = [width.to_be_bytes().as_slice(), &height.to_be_bytes(), &[8, 0, 0, 0, 0]].concat();
    // Pictures of too many pixels are refused by their head alone.
    let lines = u64::from(width + 1) * u64::from(height);
    let data = packed(&vec![0; usize::try_from(lines.min(1_000_000)).unwrap()], Compression::fast());
    let mut file = b"\x89PNG\r\n\x1A\n".to_vec();
    file.extend(png_chunk(b"IHDR", &head));
    chunks.iter().for_each(|(kind, contents)| file.extend(png_chunk(kind, contents)));
    file.extend(png_chunk(b"IDAT", &data));
    file.extend(png_chunk(b"IEND", b""));
    file
}

pub fn chunk(name: &[u8; 4], contents: &[u8]) -> Vec<u8> {
    let length = u32::try_from(contents.len()).unwrap().to_le_bytes();
    let padding = vec![0; contents.len() % 2];
    [name.as_slice(), &length, contents, &padding].concat()
}

/// A WebP of 16 by 16 pixels, with notes or without.
pub fn webp(notes: Option<Vec<u8>>) -> Vec<u8> {
    let mut parts = b"WEBP".to_vec();
    let picture = b"\x2F\x0F\xC0\x03\x00\x01";
    if let Some(notes) = notes {
        parts.extend(chunk(b"VP8X", &[0x08, 0, 0, 0, 15, 0, 0, 15, 0, 0]));
        parts.extend(chunk(b"VP8L", picture));
        parts.extend(chunk(b"EXIF", &notes));
    } else {
        parts.extend(chunk(b"VP8L", picture));
    }
    chunk(b"RIFF", &parts)
}

fn boxed(name: &[u8; 4], contents: &[u8]) -> Vec<u8> {
    let length = u32::try_from(contents.len() + 8).unwrap().to_be_bytes();
    [length.as_slice(), name, contents].concat()
}

/// A HEIC of that size; `words` stand among its data.
pub fn heic(width: u32, height: u32, words: &[u8]) -> Vec<u8> {
    let size = [&[0; 4], width.to_be_bytes().as_slice(), &height.to_be_bytes()].concat();
    let properties = boxed(b"iprp", &boxed(b"ipco", &boxed(b"ispe", &size)));
    [
        boxed(b"ftyp", b"heic\0\0\0\0mif1heic"),
        boxed(b"meta", &[&[0; 4], properties.as_slice()].concat()),
        boxed(b"mdat", words),
    ]
    .concat()
}

pub fn pdf(words: &str) -> Vec<u8> {
    format!("%PDF-1.7\n1 0 obj\n<</Type /Catalog>>\nendobj\n% {words}\ntrailer\n<</Root 1 0 R>>\nstartxref\n0\n%%EOF\n")
        .into_bytes()
}

/// The end of an archive: what makes a file one, wherever it begins.
pub fn end_of_an_archive() -> Vec<u8> {
    [b"PK\x05\x06".as_slice(), &[0; 18]].concat()
}

impl Caller {
    pub fn sends(&self, path: &str, kind: &str, file: &[u8]) -> Reply {
        self.sends_with(path, kind, file, &[])
    }

    pub fn sends_with(&self, path: &str, kind: &str, file: &[u8], headers: &[(&str, &str)]) -> Reply {
        let mut request = AGENT
            .post(format!("{}{path}", self.address))
            .header("Authorization", format!("Bearer {}", self.token))
            .header("Content-Type", kind);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        reply("post", path, request.send(file).unwrap())
    }

    /// The id of a document that is taken in.
    pub fn has_document(&self, path: &str, kind: &str, file: &[u8]) -> String {
        let reply = self.sends(path, kind, file);
        assert_eq!(reply.status, 201, "POST {path}: {}", reply.text);
        reply.json()["id"].as_str().unwrap().to_owned()
    }

    /// A kept file, its status and its headers.
    pub fn fetches(&self, document: &str, headers: &[(&str, &str)]) -> (u16, ureq::http::HeaderMap, Vec<u8>) {
        let address = format!("{}/v1/documents/{document}/content", self.address);
        let mut request = AGENT.get(address).header("Authorization", format!("Bearer {}", self.token));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let (parts, mut body) = request.call().unwrap().into_parts();
        (parts.status.as_u16(), parts.headers, body.read_to_vec().unwrap())
    }
}
