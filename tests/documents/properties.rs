//! What the readers of files promise of any bytes at all.

use std::sync::LazyLock;

use ledgerboard::rules::documents::look_at;
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;

use super::files::{chunk, exif_segment, heic, notes, pdf, png_chunk, xmp_segment};
use super::hidden::{holds_place, jpeg_with, png_with, profile, webp_with};

fn looks_twice(file: &[u8]) -> Result<(), TestCaseError> {
    let Ok(kept) = look_at(file) else { return Ok(()) };
    let again = look_at(&kept.bytes).map_err(|why| TestCaseError::fail(format!("{why:?}")))?;
    prop_assert_eq!(&again.bytes, &kept.bytes, "cleaning twice gives the same bytes");
    prop_assert_eq!((again.kind, again.pixels, again.cut_off), (kept.kind, kept.pixels, 0));
    match kept.kind.as_str() {
        "application/pdf" | "image/heic" => {
            prop_assert_ne!(kept.location.as_str(), "none");
            prop_assert_eq!(kept.bytes.as_slice(), file);
        }
        _ => {
            prop_assert_eq!(again.location.as_str(), "none", "nothing was left to remove");
            prop_assert!(kept.location.as_str() == "removed" || kept.bytes.len() <= file.len());
        }
    }
    Ok(())
}

/// One good file of every kind, with everything in it that is kept or removed.
static GOOD: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let words = b"Comment\0words";
    vec![
        jpeg_with(&[
            exif_segment(true),
            xmp_segment("words"),
            super::files::segment(0xE2, &[b"ICC_PROFILE\0\x01\x01", profile().as_slice()].concat()),
        ]),
        png_with(
            &[png_chunk(b"gAMA", &[0, 0, 0xB1, 0x8F]), png_chunk(b"eXIf", &notes(true))],
            &[png_chunk(b"tEXt", words)],
        ),
        webp_with(
            0x2C,
            &[chunk(b"ICCP", &profile())],
            &[chunk(b"EXIF", &notes(true)), chunk(b"XMP ", words)],
        ),
        heic(40, 30, b"data"),
        pdf("an invoice"),
    ]
});

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_behind_the_sign_of_any_kind_are_refused_or_kept_in_a_form_that_lasts(
        sign in 0..5_usize, rest in proptest::collection::vec(any::<u8>(), 0..600),
    ) {
        let signs: [&[u8]; 5] =
            [b"\xFF\xD8\xFF", b"\x89PNG\r\n\x1A\n", b"RIFF\x40\0\0\0WEBP", b"\0\0\0\x14ftypheic", b"%PDF-1.7"];
        looks_twice(&[signs[sign], &rest].concat())?;
    }

    #[test]
    fn a_good_file_that_was_corrupted_is_refused_or_cleaned(
        which in 0..5_usize,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..8),
        cut in proptest::option::of(any::<prop::sample::Index>()),
        inserted in proptest::option::of((any::<prop::sample::Index>(), proptest::collection::vec(any::<u8>(), 1..40))),
    ) {
        let mut file = GOOD[which].clone();
        for (place, byte) in changes {
            let place = place.index(file.len());
            file[place] = byte;
        }
        if let Some((place, bytes)) = inserted {
            let place = place.index(file.len());
            file.splice(place..place, bytes);
        }
        if let Some(cut) = cut {
            file.truncate(cut.index(file.len()));
        }
        looks_twice(&file)?;
    }
}

/// The control for the two above: the good files are kept, and pictures come out without what they held.
#[test]
fn every_good_file_is_kept_and_cleaned() {
    for file in GOOD.iter() {
        let kept = look_at(file).unwrap();
        assert!(!holds_place(&kept.bytes));
        looks_twice(file).unwrap();
    }
    assert!(
        GOOD.iter().filter(|file| holds_place(file)).count() == 2,
        "two of them hold a place in a profile"
    );
}
