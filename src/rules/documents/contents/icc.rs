//! Color profiles (ICC). What changes colors is kept, number for number; names, descriptions, copyright, dates and
//! private tags are not, since they are free text. What is left is written as a new profile.

use super::bytes::{be16, be32, length};

const HEAD: usize = 128;
/// The most tags read; profiles have some twenty.
const MOST_TAGS: u32 = 100;

/// The tags that say how colors are computed.
/// # Source
/// ICC.1:2022, 9.2 (tag listing).
const TAGS: [&[u8; 4]; 19] = [
    b"wtpt", b"bkpt", b"chad", b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC", b"kTRC", b"lumi",
    b"cicp", b"A2B0", b"A2B1", b"A2B2", b"B2A0", b"B2A1", b"B2A2", b"gamt",
];

/// The profile written anew with its colors only; None where it is malformed or does not say enough to convert colors.
/// # Source
/// ICC.1:2022, 7.2 (header), 7.3 (tag table), 10 (tag types).
pub fn kept(profile: &[u8]) -> Option<Vec<u8>> {
    let stated = length(be32(profile, 0)?)?;
    let profile = profile.get(..stated)?;
    if profile.get(36..40)? != b"acsp" {
        return None;
    }
    let count = be32(profile, HEAD).filter(|count| *count <= MOST_TAGS)?;
    let entries: Vec<_> = profile.get(HEAD + 4..)?.chunks_exact(12).take(length(count)?).collect();
    let found = |tag: &[u8; 4]| {
        let entry = entries.iter().find(|entry| entry.starts_with(tag))?;
        let (from, size) = (length(be32(entry, 4)?)?, length(be32(entry, 8)?)?);
        colors(profile.get(from..from.checked_add(size)?)?)
    };
    let tags: Vec<(&[u8; 4], Vec<u8>)> =
        TAGS.into_iter().filter_map(|tag| Some((tag, found(tag)?))).collect();
    let has = |wanted: &[&[u8; 4]]| wanted.iter().all(|wanted| tags.iter().any(|(tag, _)| tag == wanted));
    let usable =
        has(&[b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"]) || has(&[b"kTRC"]) || has(&[b"A2B0"]);
    let head = head(profile).filter(|_| usable)?;
    written(head, tags, *profile.get(8)?)
}

/// The data of a tag, as long as its type says and no longer; None for types that hold text or whose length is not
/// known beforehand.
fn colors(data: &[u8]) -> Option<Vec<u8>> {
    let size = match data.get(..4)? {
        b"XYZ " => 20,
        b"sf32" => 8 + 4 * 9,
        b"cicp" => 12,
        b"curv" => 12 + 2 * length(be32(data, 8).filter(|count| *count <= 65_536)?)?,
        b"para" => 12 + 4 * [1, 3, 4, 5, 7].get(usize::from(be16(data, 8)?))?,
        b"mft1" => 48 + table(data, 256, 256)?,
        b"mft2" => {
            let entries = |at| be16(data, at).map(usize::from).filter(|count| (2..=4096).contains(count));
            52 + 2 * table(data, entries(48)?, entries(50)?)?
        }
        _ => return None,
    };
    let mut kept = data.get(..size)?.to_vec();
    kept.get_mut(4..8)?.fill(0);
    Some(kept)
}

/// How many numbers a look-up table has: curves before it, the grid, and curves behind it.
fn table(data: &[u8], before: usize, behind: usize) -> Option<usize> {
    let number = |at: usize| data.get(at).copied().map(usize::from).filter(|number| *number > 0);
    let (inputs, outputs, points) = (number(8)?, number(9)?, number(10)?);
    let grid = points.checked_pow(u32::try_from(inputs).ok()?)?.checked_mul(outputs)?;
    (before * inputs).checked_add(grid)?.checked_add(behind * outputs)
}

/// The head, with the fields that colors depend upon: version, class, color spaces, rendering intent.
fn head(profile: &[u8]) -> Option<[u8; HEAD]> {
    let signs = |from: usize, known: &[&[u8; 4]]| {
        let sign: [u8; 4] = *profile.get(from..)?.first_chunk()?;
        known.iter().any(|one| **one == sign).then_some(sign)
    };
    let mut head = [0; HEAD];
    let mut put = |at: usize, bytes: &[u8]| {
        head.iter_mut().skip(at).zip(bytes).for_each(|(place, byte)| *place = *byte);
    };
    put(8, profile.get(8..10)?);
    put(12, &signs(12, &[b"scnr", b"mntr", b"prtr", b"spac"])?);
    put(16, &signs(16, &[b"RGB ", b"GRAY", b"CMYK"])?);
    put(20, &signs(20, &[b"XYZ ", b"Lab "])?);
    // A date has to stand there: the first day of 2000, as six numbers.
    put(24, &[0x07, 0xD0, 0, 1, 0, 1]);
    put(36, b"acsp");
    put(64, &be32(profile, 64).filter(|intent| *intent <= 3).unwrap_or(0).to_be_bytes());
    // D50, the only illuminant that the standard allows here.
    put(68, &[0, 0, 0xF6, 0xD6, 0, 1, 0, 0, 0, 0, 0xD3, 0x2D]);
    Some(head)
}

/// Head, table and data. Tags with the same data share it, as the curves of the three colors mostly do.
fn written(mut head: [u8; HEAD], tags: Vec<(&[u8; 4], Vec<u8>)>, version: u8) -> Option<Vec<u8>> {
    let [description, copyright] = required(version);
    let all = [(b"desc", description), (b"cprt", copyright)].into_iter().chain(tags);
    let all: Vec<(&[u8; 4], Vec<u8>)> = all.collect();
    let start = HEAD + 4 + 12 * all.len();
    let (mut table, mut data) = (Vec::new(), Vec::new());
    let mut placed: Vec<(usize, &[u8])> = Vec::new();
    for (tag, contents) in &all {
        let place = match placed.iter().find(|(_, one)| one == contents) {
            Some((place, _)) => *place,
            None => {
                let place = start + data.len();
                data.extend(contents);
                data.resize(data.len().next_multiple_of(4), 0);
                placed.push((place, contents));
                place
            }
        };
        table.extend(*tag);
        table.extend(u32::try_from(place).ok()?.to_be_bytes());
        table.extend(u32::try_from(contents.len()).ok()?.to_be_bytes());
    }
    let count = u32::try_from(all.len()).ok()?.to_be_bytes();
    let size = u32::try_from(start + data.len()).ok()?.to_be_bytes();
    head.iter_mut().zip(size).for_each(|(place, byte)| *place = byte);
    Some([head.as_slice(), &count, &table, &data].concat())
}

/// Description and copyright, which the standard requires: one letter each, in the form of the profile's version.
fn required(version: u8) -> [Vec<u8>; 2] {
    if version < 4 {
        let description = [b"desc\0\0\0\0\0\0\0\x02p\0".as_slice(), &[0; 78]].concat();
        return [description, b"text\0\0\0\0p\0".to_vec()];
    }
    let text = b"mluc\0\0\0\0\0\0\0\x01\0\0\0\x0CenUS\0\0\0\x02\0\0\0\x1C\0p".to_vec();
    [text.clone(), text]
}
