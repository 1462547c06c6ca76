//! PNG: an allow-list of chunks, each of the length that the standard gives it.

use flate2::{Compress, Compression, Decompress, FlushCompress, FlushDecompress, Status};

use super::bytes::{be32, length};
use super::{BREAKS_OFF, Cleaned, NO_PICTURE, NO_SIZE, icc, notes};
use crate::rules::documents::PIXELS_LIMIT;
use crate::rules::rows::Pixels;

pub const SIGNATURE: &[u8] = b"\x89PNG\r\n\x1A\n";
const BROKEN_HEAD: &str = "its head is malformed";
/// The name of every profile that is kept: the one it had is free text.
const PROFILE_NAME: &[u8] = b"profile\0\0";
/// The largest color profile, unpacked.
const MOST_PROFILE: usize = 4 * 1024 * 1024;

struct Chunk<'f> {
    kind: [u8; 4],
    contents: &'f [u8],
}

/// What the first chunk says.
struct Head {
    pixels: Pixels,
    depth: u8,
    color: u8,
    interlaced: bool,
}

/// The picture with nothing but what decoding and showing it takes: palette, data, transparency, color spaces, size of
/// a pixel, and which way up it is. Further frames of an animation go; what is left is its still picture. Packed data
/// has to be the picture's lines and no more.
/// # Errors
/// Why it is not a picture.
/// # Source
/// PNG, third edition (W3C, 2025): 5.3 (chunk layout), 5.6 (ordering), 11.2 (critical chunks), 11.3 (ancillary chunks).
pub fn clean(file: &[u8]) -> Result<Cleaned, &'static str> {
    let mut at = SIGNATURE.len();
    let first = next(file, &mut at)?;
    let head = head(&first)?;
    let mut before = vec![(first.kind, first.contents.to_vec())];
    let mut data: Vec<&[u8]> = Vec::new();
    let mut removed = false;
    loop {
        let chunk = next(file, &mut at)?;
        match &chunk.kind {
            b"IEND" => {
                removed |= !chunk.contents.is_empty();
                break;
            }
            b"IDAT" => data.push(chunk.contents),
            b"IHDR" => return Err(BROKEN_HEAD),
            kind => {
                let twice = before.iter().any(|(one, _)| one == kind);
                // Chunks that tell how to read the data stand before it; a decoder passes over those behind it.
                let late = !data.is_empty() && kind != b"eXIf";
                let kept = kept(&head, &before, &chunk)?.filter(|_| !twice && !late);
                removed |= kept.as_deref() != Some(chunk.contents);
                before.extend(kept.map(|kept| (*kind, kept)));
            }
        }
    }
    let nothing = data.iter().all(|part| part.is_empty());
    if nothing || (head.color == 3 && !before.iter().any(|(kind, _)| kind == b"PLTE")) {
        return Err(NO_PICTURE);
    }
    let used = packed_lines(&head, &data)?;
    removed |= used < data.iter().map(|part| part.len()).sum::<usize>();
    let behind = file.get(at..).unwrap_or_default();
    let bytes = written(&before, &data, used);
    removed |= behind.iter().any(|byte| *byte != 0);
    Ok(Cleaned { pixels: head.pixels, bytes, removed, cut_off: behind.len() })
}

fn next<'f>(file: &'f [u8], at: &mut usize) -> Result<Chunk<'f>, &'static str> {
    let read = || {
        let long = length(be32(file, *at)?)?;
        let kind = *file.get(*at + 4..)?.first_chunk()?;
        let end = (*at + 8).checked_add(long)?;
        let summed = crc32fast::hash(file.get(*at + 4..end)?);
        let contents = file.get(*at + 8..end)?;
        (be32(file, end)? == summed).then_some((Chunk { kind, contents }, end + 4))
    };
    let (chunk, end) = read().ok_or(BREAKS_OFF)?;
    *at = end;
    Ok(chunk)
}

fn head(first: &Chunk<'_>) -> Result<Head, &'static str> {
    let side = |at| be32(first.contents, at).filter(|side| *side > 0).ok_or(NO_SIZE);
    if &first.kind != b"IHDR" {
        return Err(BROKEN_HEAD);
    }
    let pixels = Pixels { width: side(0)?, height: side(4)? };
    let Some(&[depth, color, 0, 0, interlaced @ 0..=1]) = first.contents.get(8..) else {
        return Err(BROKEN_HEAD);
    };
    let known = match color {
        0 => matches!(depth, 1 | 2 | 4 | 8 | 16),
        3 => matches!(depth, 1 | 2 | 4 | 8),
        2 | 4 | 6 => matches!(depth, 8 | 16),
        _ => false,
    };
    let head = Head { pixels, depth, color, interlaced: interlaced == 1 };
    known.then_some(head).ok_or(BROKEN_HEAD)
}

/// What of a chunk is kept; None for whatever is not on the list.
fn kept(
    head: &Head,
    before: &[([u8; 4], Vec<u8>)],
    chunk: &Chunk<'_>,
) -> Result<Option<Vec<u8>>, &'static str> {
    let contents = chunk.contents;
    let colors = contents.len() / 3;
    let of_color = |lengths: [usize; 7]| lengths.get(usize::from(head.color)).copied();
    let long = match &chunk.kind {
        b"gAMA" | b"cICP" => Some(4),
        b"cHRM" => Some(32),
        b"sRGB" => Some(1),
        b"pHYs" => Some(9),
        b"mDCV" => Some(24),
        b"cLLI" => Some(8),
        b"sBIT" => of_color([1, 0, 3, 3, 2, 0, 4]),
        b"bKGD" => of_color([2, 0, 6, 1, 2, 0, 6]),
        b"tRNS" if head.color == 3 => {
            let palette = before.iter().find(|(kind, _)| kind == b"PLTE").map_or(0, |(_, one)| one.len() / 3);
            Some(contents.len().min(palette))
        }
        b"tRNS" => of_color([2, 0, 6, 0, 0, 0, 0]).filter(|long| *long > 0),
        b"PLTE" if head.color == 3 && contents.len().is_multiple_of(3) && (1..=256).contains(&colors) => {
            Some(3 * colors.min(1 << head.depth))
        }
        b"iCCP" => return Ok(profile(contents)),
        b"eXIf" => return Ok(notes::kept(contents)),
        // A suggested palette: the picture is whole without it.
        b"PLTE" if matches!(head.color, 2 | 6) => None,
        // Upper case in front: not to be shown by whoever does not know it.
        [b'A'..=b'Z', ..] => return Err("it has a critical part that is malformed or not known"),
        _ => None,
    };
    let shortened = matches!(&chunk.kind, b"PLTE" | b"tRNS") && head.color == 3;
    Ok(long
        .filter(|long| shortened || contents.len() == *long)
        .and_then(|long| contents.get(..long))
        .map(<[u8]>::to_vec))
}

/// The colors of a profile, packed anew.
fn profile(contents: &[u8]) -> Option<Vec<u8>> {
    let name = contents.iter().position(|byte| *byte == 0).filter(|name| *name < 80)?;
    let packed = contents.get(name + 2..)?;
    let mut unpacked = Vec::new();
    let mut reader = Decompress::new(true);
    loop {
        unpacked.reserve(64 * 1024);
        let rest = packed.get(usize::try_from(reader.total_in()).ok()?..)?;
        let before = (reader.total_in(), reader.total_out());
        let status = reader.decompress_vec(rest, &mut unpacked, FlushDecompress::None).ok()?;
        if status == Status::StreamEnd {
            break;
        }
        if unpacked.len() > MOST_PROFILE || before == (reader.total_in(), reader.total_out()) {
            return None;
        }
    }
    let kept = icc::kept(&unpacked)?;
    let mut writer = Compress::new(Compression::default(), true);
    // Data that does not pack grows by less than this.
    let mut packed = Vec::with_capacity(kept.len() + kept.len() / 100 + 64);
    let done = writer.compress_vec(&kept, &mut packed, FlushCompress::Finish).ok()?;
    (done == Status::StreamEnd).then(|| [PROFILE_NAME, &packed].concat())
}

/// How many bytes of the packed data the picture's lines take. Pictures above the limit of pixels are not unpacked,
/// since they are refused anyway.
/// # Source
/// PNG, third edition: 8.1 (interlacing), 9.2 (a filter byte before each line), 10 (compression).
fn packed_lines(head: &Head, data: &[&[u8]]) -> Result<usize, &'static str> {
    if head.pixels.count() > PIXELS_LIMIT {
        return Ok(data.iter().map(|part| part.len()).sum());
    }
    let expected = lines(head);
    let mut reader = Decompress::new(true);
    let mut out = vec![0; 64 * 1024];
    let mut used = 0;
    for part in data {
        let mut rest = *part;
        loop {
            let (before_in, before_out) = (reader.total_in(), reader.total_out());
            let status = reader.decompress(rest, &mut out, FlushDecompress::None);
            let status = status.ok().ok_or("its pixels cannot be unpacked")?;
            let taken = usize::try_from(reader.total_in() - before_in).unwrap_or(usize::MAX);
            used += taken;
            rest = rest.get(taken..).unwrap_or_default();
            if reader.total_out() > expected {
                return Err("it holds more than its pixels");
            }
            if status == Status::StreamEnd {
                return if reader.total_out() == expected { Ok(used) } else { Err(BREAKS_OFF) };
            }
            if taken == 0 && reader.total_out() == before_out {
                break;
            }
        }
    }
    Err(BREAKS_OFF)
}

/// The bytes of all lines, each with its filter byte; at most 50 million pixels of eight bytes come in here.
fn lines(head: &Head) -> u64 {
    let samples = match head.color {
        2 => 3,
        4 => 2,
        6 => 4,
        _ => 1,
    };
    let bits = samples * u64::from(head.depth);
    let (width, height) = (u64::from(head.pixels.width), u64::from(head.pixels.height));
    let pass = |(left, across, top, down): (u64, u64, u64, u64)| {
        let columns = width.saturating_sub(left).div_ceil(across);
        let rows = height.saturating_sub(top).div_ceil(down);
        if columns == 0 { 0 } else { rows * ((columns * bits).div_ceil(8) + 1) }
    };
    if !head.interlaced {
        return pass((0, 1, 0, 1));
    }
    let passes =
        [(0, 8, 0, 8), (4, 8, 0, 8), (0, 4, 4, 8), (2, 4, 0, 4), (0, 2, 2, 4), (1, 2, 0, 2), (0, 1, 1, 2)];
    passes.into_iter().map(pass).sum()
}

/// The chunks in front of the data, `used` bytes of the data, and the end.
fn written(before: &[([u8; 4], Vec<u8>)], data: &[&[u8]], used: usize) -> Vec<u8> {
    let mut file = SIGNATURE.to_vec();
    let mut put = |kind: &[u8; 4], contents: &[u8]| {
        let Ok(long) = u32::try_from(contents.len()) else { return };
        let named = [kind.as_slice(), contents].concat();
        file.extend(long.to_be_bytes());
        file.extend(&named);
        file.extend(crc32fast::hash(&named).to_be_bytes());
    };
    before.iter().for_each(|(kind, contents)| put(kind, contents));
    let mut left = used;
    for part in data {
        let part = part.get(..left.min(part.len())).unwrap_or_default();
        left -= part.len();
        if !part.is_empty() {
            put(b"IDAT", part);
        }
    }
    put(b"IEND", b"");
    file
}
