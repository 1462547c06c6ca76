//! WebP: an allow-list of chunks, and a head that says what is there.

use super::bytes::{le24, le32, length};
use super::{BREAKS_OFF, Cleaned, NO_PICTURE, NO_SIZE, icc, notes};
use crate::rules::rows::Pixels;

const ALPHA: u8 = 0x10;

/// Name and contents of a chunk.
type Chunk<'f> = ([u8; 4], &'f [u8]);

/// The picture with nothing but what decoding and showing it takes: its data, alpha, animation, the colors of the
/// profile, and which way up it is.
/// # Errors
/// Why it is not a picture.
/// # Source
/// RFC 9649: 2.3 to 2.6 (RIFF, simple formats), 2.7 (extended format, VP8X, ANIM, ANMF, ALPH, ICCP, EXIF, unknown
/// chunks).
pub fn clean(file: &[u8]) -> Result<Cleaned, &'static str> {
    let stated = le32(file, 4).and_then(length).ok_or(BREAKS_OFF)?;
    let end = stated.checked_add(8).filter(|end| *end <= file.len()).ok_or(BREAKS_OFF)?;
    let (chunks, mut removed) = chunks(file.get(12..end).ok_or(BREAKS_OFF)?)?;
    // The head of an extended file is its first chunk.
    let extended = chunks.first().filter(|(name, _)| name == b"VP8X").map(|(_, contents)| *contents);
    let (pixels, kept) = match extended {
        Some(head) => extended_chunks(head, &chunks)?,
        None => {
            let image = image(&chunks).ok_or(NO_PICTURE)?;
            (size(&image).ok_or(NO_SIZE)?, vec![(image.0, image.1.to_vec())])
        }
    };
    removed |= !kept.iter().map(|(name, contents)| (*name, contents.as_slice())).eq(chunks.iter().copied());
    let mut parts = b"WEBP".to_vec();
    kept.iter().try_for_each(|(name, contents)| put(&mut parts, name, contents)).ok_or(BREAKS_OFF)?;
    let mut bytes = Vec::new();
    put(&mut bytes, b"RIFF", &parts).ok_or(BREAKS_OFF)?;
    let behind = file.get(end..).unwrap_or_default();
    removed |= behind.iter().any(|byte| *byte != 0);
    Ok(Cleaned { pixels, bytes, removed, cut_off: behind.len() })
}

/// The chunks one after the other, and whether anything stands between or behind them.
fn chunks(mut rest: &[u8]) -> Result<(Vec<Chunk<'_>>, bool), &'static str> {
    let (mut found, mut stray) = (Vec::new(), false);
    while let Some(name) = rest.first_chunk::<4>() {
        let Some(long) = le32(rest, 4).and_then(length) else { break };
        let end = long.checked_add(8).ok_or(BREAKS_OFF)?;
        found.push((*name, rest.get(8..end).ok_or(BREAKS_OFF)?));
        // A byte of padding behind an odd length is zero.
        let padding = long % 2;
        stray |= padding == 1 && rest.get(end).is_some_and(|byte| *byte != 0);
        rest = rest.get(end + padding..).unwrap_or_default();
    }
    Ok((found, stray || !rest.is_empty()))
}

/// The first still picture among those chunks.
fn image<'f>(chunks: &[Chunk<'f>]) -> Option<Chunk<'f>> {
    chunks.iter().find(|(name, _)| matches!(name, b"VP8 " | b"VP8L")).copied()
}

/// The picture's data, with its alpha before it where that is a chunk of its own.
fn still(chunks: &[Chunk<'_>]) -> Option<Vec<([u8; 4], Vec<u8>)>> {
    let image = image(chunks)?;
    size(&image)?;
    let lossy = &image.0 == b"VP8 ";
    let alpha = chunks.iter().find(|(name, _)| name == b"ALPH" && lossy);
    Some(alpha.into_iter().chain([&image]).map(|(name, contents)| (*name, contents.to_vec())).collect())
}

type Kept = (Pixels, Vec<([u8; 4], Vec<u8>)>);

fn extended_chunks(head: &[u8], chunks: &[Chunk<'_>]) -> Result<Kept, &'static str> {
    let flags = head.first().copied().ok_or(NO_SIZE)?;
    let side = |at| le24(head, at).map(|less| less + 1).ok_or(NO_SIZE);
    let pixels = Pixels { width: side(4)?, height: side(7)? };
    let first = |wanted: &[u8; 4]| chunks.iter().find(|(name, _)| name == wanted).map(|(_, one)| *one);
    let profile = first(b"ICCP").and_then(icc::kept);
    let notes = first(b"EXIF").and_then(|came| notes::kept(came.strip_prefix(b"Exif\0\0").unwrap_or(came)));
    let (pictures, animated) = match still(chunks) {
        Some(still) => (still, 0),
        None => (frames(first(b"ANIM"), chunks).ok_or(NO_PICTURE)?, 0x02),
    };
    let with = |there: bool, flag: u8| if there { flag } else { 0 };
    let flags = with(profile.is_some(), 0x20) | (flags & ALPHA) | with(notes.is_some(), 0x08) | animated;
    let canvas = head.get(4..10).ok_or(NO_SIZE)?;
    let mut kept = vec![(*b"VP8X", [&[flags, 0, 0, 0], canvas].concat())];
    kept.extend(profile.map(|profile| (*b"ICCP", profile)));
    kept.extend(pictures);
    kept.extend(notes.map(|notes| (*b"EXIF", notes)));
    Ok((pixels, kept))
}

/// The frames of an animation, each with its place and its picture only.
fn frames(anim: Option<&[u8]>, all: &[Chunk<'_>]) -> Option<Vec<([u8; 4], Vec<u8>)>> {
    let mut kept = vec![(*b"ANIM", anim?.get(..6)?.to_vec())];
    for (_, frame) in all.iter().filter(|(name, _)| name == b"ANMF") {
        let (place, inside) = frame.split_first_chunk::<16>()?;
        let [place @ .., flags] = place;
        let mut contents = [place.as_slice(), &[flags & 0x03]].concat();
        for (name, picture) in still(&chunks(inside).ok()?.0)? {
            put(&mut contents, &name, &picture)?;
        }
        kept.push((*b"ANMF", contents));
    }
    (kept.len() > 1).then_some(kept)
}

/// # Source
/// RFC 6386 9.1 (a key frame of VP8), RFC 9649 3.4 (the header of VP8L).
fn size((name, contents): &Chunk<'_>) -> Option<Pixels> {
    let pixels = match name {
        b"VP8L" => {
            let packed = le32(contents, 1).filter(|_| contents.first() == Some(&0x2F))?;
            Pixels { width: (packed & 0x3FFF) + 1, height: (packed >> 14 & 0x3FFF) + 1 }
        }
        _ => {
            let key_frame = contents.first()? & 1 == 0 && contents.get(3..6)? == b"\x9D\x01\x2A";
            let packed = le32(contents, 6).filter(|_| key_frame)?;
            Pixels { width: packed & 0x3FFF, height: packed >> 16 & 0x3FFF }
        }
    };
    (pixels.width > 0 && pixels.height > 0).then_some(pixels)
}

fn put(file: &mut Vec<u8>, name: &[u8; 4], contents: &[u8]) -> Option<()> {
    file.extend(name);
    file.extend(u32::try_from(contents.len()).ok()?.to_le_bytes());
    file.extend(contents);
    file.resize(file.len() + contents.len() % 2, 0);
    Some(())
}
