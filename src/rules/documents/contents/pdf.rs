//! What a PDF holds beside its pages. Nothing is taken out: a paper is kept as it came, with a label.

use flate2::{Decompress, FlushDecompress, Status};

use super::bytes::contains;
use crate::rules::rows::Holding;

/// The most that is unpacked of one file: object streams hold names and numbers, not pictures.
const MOST_UNPACKED: usize = 32 * 1024 * 1024;

/// Names of dictionaries and actions, and what each stands for.
/// # Source
/// ISO 32000-2: 12.6.4.17 (JavaScript), 12.7.8 (XFA forms), 12.6.3 (additional actions), 12.6.4 (launch, submit-form,
/// import-data, go-to-embedded, rendition, rich-media-execute), 7.11.4 (embedded files), 7.6 (encryption).
const NAMES: [(&[u8], Holding); 14] = [
    (b"JavaScript", Holding::Script),
    (b"JS", Holding::Script),
    (b"XFA", Holding::Script),
    (b"Launch", Holding::Action),
    (b"SubmitForm", Holding::Action),
    (b"ImportData", Holding::Action),
    (b"GoToE", Holding::Action),
    (b"Rendition", Holding::Action),
    (b"RichMedia", Holding::Action),
    (b"AA", Holding::Action),
    (b"EmbeddedFile", Holding::EmbeddedFile),
    (b"EmbeddedFiles", Holding::EmbeddedFile),
    (b"AF", Holding::EmbeddedFile),
    (b"Encrypt", Holding::Sealed),
];

/// What is found, in the order of [`Holding::ALL`]. The whole file is searched, not only what its table of objects
/// names: programs that repair a broken file read it in this way.
pub fn holds(file: &[u8]) -> Vec<Holding> {
    let mut found = named(file);
    let packed = object_streams(file);
    found.extend(packed.texts.iter().flat_map(|text| named(text)));
    if packed.sealed {
        found.push(Holding::Sealed);
    }
    if has_archive(file) || has_tail(file) {
        found.push(Holding::Archive);
    }
    Holding::ALL.iter().copied().filter(|one| found.contains(one)).collect()
}

/// The holdings that names in this text stand for.
fn named(text: &[u8]) -> Vec<Holding> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(slash) = rest.iter().position(|byte| *byte == b'/') {
        rest = rest.get(slash + 1..).unwrap_or_default();
        let (name, behind) = name(rest);
        found.extend(NAMES.iter().filter(|(one, _)| *one == name).map(|(_, holding)| *holding));
        if name == b"OpenAction" && !is_destination(behind) {
            found.push(Holding::Action);
        }
        rest = behind;
    }
    found
}

/// A name, with `#4A` read as `J`, and what follows it.
/// # Source
/// ISO 32000-2: 7.3.5 (name objects), 7.2.3 (delimiters and white space).
fn name(text: &[u8]) -> (Vec<u8>, &[u8]) {
    const MOST: usize = 512;
    let ends = |byte: &u8| {
        matches!(
            byte,
            0 | b'\t'
                | b'\n'
                | 0x0C
                | b'\r'
                | b' '
                | b'('
                | b')'
                | b'<'
                | b'>'
                | b'['
                | b']'
                | b'{'
                | b'}'
                | b'/'
                | b'%'
        )
    };
    let end = text.iter().take(MOST).position(ends).unwrap_or(text.len().min(MOST));
    let (mut raw, behind) = text.split_at_checked(end).unwrap_or((text, &[]));
    let mut name = Vec::new();
    while let Some((first, rest)) = raw.split_first() {
        let digits = rest.first_chunk::<2>().filter(|_| *first == b'#');
        let escaped = digits.and_then(|two| u8::from_str_radix(std::str::from_utf8(two).ok()?, 16).ok());
        name.push(escaped.unwrap_or(*first));
        raw = rest.get(if escaped.is_some() { 2 } else { 0 }..).unwrap_or_default();
    }
    (name, behind)
}

/// Whether what follows is a place to go to, `[3 0 R /Fit]`: it only says where reading begins.
fn is_destination(behind: &[u8]) -> bool {
    behind.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'[')
}

/// What object streams say, unpacked.
#[derive(Default)]
struct Packed {
    texts: Vec<Vec<u8>>,
    /// One of them could not be read to its end.
    sealed: bool,
}

/// # Source
/// ISO 32000-2: 7.5.7 (object streams), 7.4.4 (FlateDecode).
fn object_streams(file: &[u8]) -> Packed {
    const STREAM: &[u8] = b"stream";
    let mut packed = Packed::default();
    let mut left = MOST_UNPACKED;
    let mut from = 0;
    while let Some(place) = find(file, STREAM, from) {
        let head = file.get(from..place).unwrap_or_default();
        let head = head.get(head.len().saturating_sub(1024)..).unwrap_or_default();
        from = place + STREAM.len();
        // From where its object begins, so that what another stream says is not taken for its own.
        let object = head.windows(4).rposition(|part| part == b" obj").unwrap_or(0);
        let dictionary = head.get(object..).unwrap_or(head);
        if head.ends_with(b"end") || !says(dictionary, b"ObjStm") {
            continue;
        }
        let data = file.get(from..).unwrap_or_default();
        let data = data.strip_prefix(b"\r").unwrap_or(data);
        let data = data.strip_prefix(b"\n").unwrap_or(data);
        let unpacked = if says(dictionary, b"FlateDecode") {
            unpacked(data, &mut left)
        } else if says(dictionary, b"Filter") {
            None
        } else {
            // Plain text, which is searched with the whole file.
            continue;
        };
        match unpacked.filter(|_| !says(dictionary, b"DecodeParms") && !says(dictionary, b"Crypt")) {
            Some(text) => packed.texts.push(text),
            None => packed.sealed = true,
        }
    }
    packed
}

fn says(dictionary: &[u8], wanted: &[u8]) -> bool {
    dictionary.split(|byte| *byte == b'/').skip(1).any(|part| name(part).0 == wanted)
}

fn find(file: &[u8], wanted: &[u8], from: usize) -> Option<usize> {
    let rest = file.get(from..)?;
    rest.windows(wanted.len()).position(|part| part == wanted).map(|place| from + place)
}

/// The unpacked data; None where it is damaged or there is no room left for it.
fn unpacked(data: &[u8], left: &mut usize) -> Option<Vec<u8>> {
    let mut reader = Decompress::new(true);
    let mut text = Vec::new();
    loop {
        text.reserve(64 * 1024);
        let before = (reader.total_in(), reader.total_out());
        let rest = data.get(usize::try_from(reader.total_in()).ok()?..)?;
        let status = reader.decompress_vec(rest, &mut text, FlushDecompress::None).ok()?;
        if status == Status::StreamEnd {
            *left = left.checked_sub(text.len())?;
            return Some(text);
        }
        if text.len() > *left || before == (reader.total_in(), reader.total_out()) {
            *left = left.saturating_sub(text.len());
            return None;
        }
    }
}

/// Whether an archive begins or ends anywhere in the file.
/// # Source
/// The ZIP application note, 4.3.7 (local file header) and 4.3.16 (end of central directory record).
fn has_archive(file: &[u8]) -> bool {
    [b"PK\x03\x04".as_slice(), b"PK\x05\x06"].into_iter().any(|sign| contains(file, sign))
}

/// Whether data stands behind the last mark of the end.
/// # Source
/// ISO 32000-2: 7.5.5 (the last line is `%%EOF`).
fn has_tail(file: &[u8]) -> bool {
    const END: &[u8] = b"%%EOF";
    let last = file.windows(END.len()).rposition(|part| part == END);
    let behind = last.and_then(|last| file.get(last + END.len()..)).unwrap_or_default();
    behind.iter().any(|byte| !byte.is_ascii_whitespace() && *byte != 0)
}
