use ledgerboard::rules::documents::look_at;

/// What every reader promises of any bytes.
pub fn look_twice(file: &[u8]) {
    let Ok(kept) = look_at(file) else { return };
    let again = look_at(&kept.bytes).expect("what is kept is not refused when it comes again");
    assert_eq!(again.bytes, kept.bytes, "cleaning twice gives the same bytes");
    assert_eq!((again.kind, again.pixels, again.cut_off), (kept.kind, kept.pixels, 0));
    let picture = kept.pixels.is_some() && kept.kind.as_str() != "image/heic";
    if picture {
        assert_eq!(again.location.as_str(), "none", "nothing was left to remove");
    } else {
        assert_ne!(kept.location.as_str(), "none", "what is kept as it came is never said to be without a place");
        assert_eq!((&again.holds, &kept.bytes[..]), (&kept.holds, file));
    }
}
