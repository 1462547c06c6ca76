//! JPEG: an allow-list of segments. What is not on it does not reach the disk, whether anybody knows its meaning or not.

use super::bytes::be16;
use super::{BREAKS_OFF, Cleaned, NO_PICTURE, NO_SIZE, icc, notes};
use crate::rules::rows::Pixels;

const EXIF: &[u8] = b"Exif\0\0";
const JFIF: &[u8] = b"JFIF\0";
const ADOBE: &[u8] = b"Adobe";
const ICC: &[u8] = b"ICC_PROFILE\0";
const BROKEN_TABLE: &str = "one of its tables is malformed";

/// A segment, or the data of a scan behind its head.
struct Segment<'f> {
    marker: u8,
    contents: &'f [u8],
    scan: &'f [u8],
}

/// What of a file is kept, as far as it has been read.
#[derive(Default)]
struct Kept<'f> {
    pixels: Option<Pixels>,
    jfif: Option<Vec<u8>>,
    exif: Option<Vec<u8>>,
    adobe: Option<Vec<u8>>,
    profile: Vec<&'f [u8]>,
    /// Tables, frame and scans in their order.
    body: Vec<u8>,
    scans: usize,
    removed: bool,
}

/// The picture with nothing but what decoding and showing it takes: frame, tables and scans as they came, the marks of
/// JFIF and Adobe without thumbnails, the colors of the profile, and which way up it is. What stands behind its end is
/// not part of it; phones keep further pictures there.
/// # Errors
/// Why it is not a picture.
/// # Source
/// ISO/IEC 10918-1 (ITU-T T.81) annex B (markers and segments), ISO/IEC 10918-5 (JFIF) 10.1, ISO/IEC 10918-6 6.5.3
/// (Adobe, APP14), ICC.1:2022 B.4 (profiles in JPEG), Exif 2.32 4.7 (APP1).
pub fn clean(file: &[u8]) -> Result<Cleaned, &'static str> {
    let mut kept = Kept::default();
    let mut at = 2;
    while let Some(segment) = next(file, &mut at, &mut kept.removed)? {
        kept.take(&segment)?;
    }
    if kept.scans == 0 {
        return Err(NO_PICTURE);
    }
    let behind = file.get(at..).unwrap_or_default();
    let pixels = kept.pixels.ok_or(NO_SIZE)?;
    let (bytes, removed) = kept.written();
    Ok(Cleaned {
        pixels,
        bytes,
        removed: removed || behind.iter().any(|byte| *byte != 0),
        cut_off: behind.len(),
    })
}

/// The next segment; None behind the marker that ends the picture.
fn next<'f>(file: &'f [u8], at: &mut usize, stray: &mut bool) -> Result<Option<Segment<'f>>, &'static str> {
    loop {
        let rest = file.get(*at..).ok_or(BREAKS_OFF)?;
        // Decoders skip what stands between two segments; it is not kept.
        let gap = rest.iter().position(|byte| *byte == 0xFF).ok_or(BREAKS_OFF)?;
        *stray |= gap > 0;
        let marker = *rest.get(gap + 1).ok_or(BREAKS_OFF)?;
        *at += gap + 1;
        match marker {
            // Padding: the marker is the byte behind it.
            0xFF => {}
            0x00 | 0x01 | 0xD0..=0xD8 => *at += 1,
            0xD9 => {
                *at += 1;
                return Ok(None);
            }
            _ => {
                let long = usize::from(be16(file, *at + 1).ok_or(BREAKS_OFF)?);
                let contents = file.get(*at + 3..*at + 1 + long).ok_or(BREAKS_OFF)?;
                *at += 1 + long;
                let scan = if marker == 0xDA { scan(file.get(*at..).unwrap_or_default())? } else { &[] };
                *at += scan.len();
                return Ok(Some(Segment { marker, contents, scan }));
            }
        }
    }
}

/// Coded data up to the next marker that is not a restart.
fn scan(rest: &[u8]) -> Result<&[u8], &'static str> {
    let ends = |pair: &[u8]| matches!(pair, [0xFF, next] if !matches!(next, 0x00 | 0xD0..=0xD7));
    let end = rest.windows(2).position(ends).ok_or(BREAKS_OFF)?;
    rest.get(..end).ok_or(BREAKS_OFF)
}

impl<'f> Kept<'f> {
    fn take(&mut self, segment: &Segment<'f>) -> Result<(), &'static str> {
        let contents = segment.contents;
        let holds_together = match segment.marker {
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF => self.frame(contents)?,
            0xC4 => huffman_tables(contents),
            0xCC => contents.len().is_multiple_of(2),
            0xDB => quantization_tables(contents),
            0xDC | 0xDD => contents.len() == 2,
            0xDA => {
                self.scans += 1;
                let components = contents.first().copied().map_or(0, usize::from);
                self.pixels.is_some() && (1..=4).contains(&components) && contents.len() == 4 + 2 * components
            }
            0xDE | 0xDF => return Err("it is a hierarchical JPEG, which is not read here"),
            _ => {
                self.extra(segment);
                return Ok(());
            }
        };
        if !holds_together {
            return Err(BROKEN_TABLE);
        }
        put(&mut self.body, segment.marker, contents);
        self.body.extend(segment.scan);
        Ok(())
    }

    /// Whether the head of the frame is as long as its components say; there is one frame.
    fn frame(&mut self, contents: &[u8]) -> Result<bool, &'static str> {
        let size = |at| be16(contents, at).map(u32::from).filter(|size| *size > 0).ok_or(NO_SIZE);
        let again = self.pixels.replace(Pixels { width: size(3)?, height: size(1)? }).is_some();
        let components = contents.get(5).copied().map_or(0, usize::from);
        Ok(!again && (1..=4).contains(&components) && contents.len() == 6 + 3 * components)
    }

    /// Segments that do not carry the picture. They count before the first scan, and each the first time.
    fn extra(&mut self, segment: &Segment<'f>) {
        let contents = segment.contents;
        let early = self.scans == 0;
        match segment.marker {
            0xE0 if early && self.jfif.is_none() && contents.starts_with(JFIF) && contents.len() >= 14 => {
                let head = contents.get(..12).unwrap_or_default();
                self.removed |= contents.get(12..) != Some(&[0, 0]);
                self.jfif = Some([head, &[0, 0]].concat());
            }
            0xEE if early && self.adobe.is_none() && contents.starts_with(ADOBE) && contents.len() >= 12 => {
                self.removed |= contents.len() > 12;
                self.adobe = contents.get(..12).map(<[u8]>::to_vec);
            }
            0xE1 if early && self.exif.is_none() && contents.starts_with(EXIF) => {
                let came = contents.get(EXIF.len()..).unwrap_or_default();
                self.exif = notes::kept(came);
                self.removed |= self.exif.as_deref() != Some(came);
            }
            0xE2 if early && contents.starts_with(ICC) => {
                self.profile.push(contents.get(ICC.len()..).unwrap_or_default());
            }
            _ => self.removed = true,
        }
    }

    fn written(mut self) -> (Vec<u8>, bool) {
        let mut file = vec![0xFF, 0xD8];
        if let Some(jfif) = &self.jfif {
            put(&mut file, 0xE0, jfif);
        }
        if let Some(exif) = &self.exif {
            put(&mut file, 0xE1, &[EXIF, exif].concat());
        }
        if !self.profile.is_empty() {
            let parts = profile_parts(&self.profile);
            let as_they_came = parts.iter().map(Vec::as_slice).eq(self.profile.iter().copied());
            self.removed |= !as_they_came;
            parts.iter().for_each(|part| put(&mut file, 0xE2, &[ICC, part].concat()));
        }
        if let Some(adobe) = &self.adobe {
            put(&mut file, 0xEE, adobe);
        }
        file.extend(self.body);
        file.extend([0xFF, 0xD9]);
        (file, self.removed)
    }
}

/// The colors of a profile in parts, each behind its number and their count; empty where the parts do not fit together.
fn profile_parts(came: &[&[u8]]) -> Vec<Vec<u8>> {
    const MOST: usize = 65_519;
    let numbered = came.iter().zip(1_u8..).all(|(part, number)| part.starts_with(&[number]));
    let counted = came.iter().all(|part| part.get(1).copied().map(usize::from) == Some(came.len()));
    let joined: Vec<u8> = came.iter().flat_map(|part| part.iter().skip(2)).copied().collect();
    let kept = icc::kept(&joined).filter(|_| numbered && counted).unwrap_or_default();
    let parts = kept.chunks(MOST);
    let Ok(count) = u8::try_from(parts.len()) else { return Vec::new() };
    parts.zip(1_u8..).map(|(part, number)| [&[number, count], part].concat()).collect()
}

/// Every segment comes out of one, or is shorter than it was.
fn put(file: &mut Vec<u8>, marker: u8, contents: &[u8]) {
    let Ok(long) = u16::try_from(contents.len() + 2) else { return };
    file.extend([0xFF, marker]);
    file.extend(long.to_be_bytes());
    file.extend(contents);
}

/// Whether tables follow each other to the end, with nothing between or behind them.
fn quantization_tables(mut rest: &[u8]) -> bool {
    while let Some((head, behind)) = rest.split_first() {
        let size = match head >> 4 {
            0 => 64,
            1 => 128,
            _ => return false,
        };
        let Some(next) = behind.get(size..).filter(|_| head & 0x0F < 4) else { return false };
        rest = next;
    }
    true
}

fn huffman_tables(mut rest: &[u8]) -> bool {
    while let Some((head, behind)) = rest.split_first() {
        let Some((counts, behind)) = behind.split_first_chunk::<16>() else { return false };
        let codes: usize = counts.iter().copied().map(usize::from).sum();
        let known = head >> 4 < 2 && head & 0x0F < 4 && codes <= 256;
        let Some(next) = behind.get(codes..).filter(|_| known) else { return false };
        rest = next;
    }
    true
}
