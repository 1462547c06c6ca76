//! Numbers out of bytes, none where the bytes end.

pub fn be16(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(bytes.get(at..)?.first_chunk().copied()?))
}

pub fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..)?.first_chunk().copied()?))
}

pub fn le32(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..)?.first_chunk().copied()?))
}

/// A number of 24 bits.
pub fn le24(bytes: &[u8], at: usize) -> Option<u32> {
    let [low, middle, high] = bytes.get(at..)?.first_chunk().copied()?;
    Some(u32::from_le_bytes([low, middle, high, 0]))
}

/// A length as a position in memory; None where this machine cannot count so far.
pub fn length(number: u32) -> Option<usize> {
    usize::try_from(number).ok()
}

/// Whether the bytes hold that sequence anywhere.
pub fn contains(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|part| part == wanted)
}
