//! Ways to hide a place in a picture: whatever the part is called, it does not reach the disk, and the pixels do.

use flate2::Compression;
use image::{DynamicImage, ImageDecoder, ImageEncoder, ImageReader, RgbImage};

use super::files::{chunk, packed, png_chunk, segment};
use crate::world::World;

const PLACE: &[u8] = b"51.4779N 0.0015W, 9 Elm Street";
const JPEG: &str = "image/jpeg";
const PNG: &str = "image/png";
const WEBP: &str = "image/webp";

/// A picture whose pixels all differ, and whose sides are not multiples of the blocks that codecs use.
fn pixels() -> RgbImage {
    RgbImage::from_fn(37, 21, |x, y| {
        image::Rgb([x, y, x * y].map(|one| u8::try_from(one * 5 % 256).unwrap()))
    })
}

pub fn jpeg() -> Vec<u8> {
    let (picture, mut file) = (pixels(), Vec::new());
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 90);
    encoder.write_image(&picture, 37, 21, image::ExtendedColorType::Rgb8).unwrap();
    file
}

pub fn png() -> Vec<u8> {
    let (picture, mut file) = (pixels(), Vec::new());
    let encoder = image::codecs::png::PngEncoder::new(&mut file);
    encoder.write_image(&picture, 37, 21, image::ExtendedColorType::Rgb8).unwrap();
    file
}

pub fn webp() -> Vec<u8> {
    let (picture, mut file) = (pixels(), Vec::new());
    let encoder = image::codecs::webp::WebPEncoder::new_lossless(&mut file);
    encoder.write_image(&picture, 37, 21, image::ExtendedColorType::Rgb8).unwrap();
    file
}

/// A JPEG with segments behind its first marker.
pub fn jpeg_with(parts: &[Vec<u8>]) -> Vec<u8> {
    let (first, rest) = (&jpeg()[..2], &jpeg()[2..]);
    [first, &parts.concat(), rest].concat()
}

/// A PNG with chunks before its data, behind it, and data behind its end.
pub fn png_with(before: &[Vec<u8>], behind: &[Vec<u8>]) -> Vec<u8> {
    let file = png();
    // Signature and head have 33 bytes, the end 12.
    let (head, data) = file.split_at(33);
    let (data, end) = data.split_at(data.len() - 12);
    [head, &before.concat(), data, &behind.concat(), end].concat()
}

/// An extended WebP with chunks before and behind its picture.
pub fn webp_with(flags: u8, before: &[Vec<u8>], behind: &[Vec<u8>]) -> Vec<u8> {
    let head = chunk(b"VP8X", &[flags, 0, 0, 0, 36, 0, 0, 20, 0, 0]);
    riff(&[head, before.concat(), webp()[12..].to_vec(), behind.concat()].concat())
}

fn riff(chunks: &[u8]) -> Vec<u8> {
    chunk(b"RIFF", &[b"WEBP", chunks].concat())
}

/// Notes in the form of TIFF with one text, of that tag.
pub fn exif_text(tag: u16, text: &[u8]) -> Vec<u8> {
    let mut notes = b"MM\0\x2A\0\0\0\x08\0\x01".to_vec();
    notes.extend(tag.to_be_bytes());
    notes.extend(b"\0\x02");
    notes.extend(u32::try_from(text.len() + 1).unwrap().to_be_bytes());
    notes.extend(b"\0\0\0\x1A\0\0\0\0");
    [notes.as_slice(), text, b"\0"].concat()
}

/// A profile for three colors (ICC.1:2022, 8.4.3), with `PLACE` as its description, in a private tag, in its head, in
/// the reserved bytes of a tag and behind its last one.
pub fn profile() -> Vec<u8> {
    let xyz = |x: u32, y: u32, z: u32| {
        [b"XYZ \0\0\0\0".to_vec(), [x, y, z].map(u32::to_be_bytes).concat()].concat()
    };
    let curve = b"curv\0\0\0\0\0\0\0\x01\x02\x33\0\0".to_vec();
    let tags: [(&[u8; 4], Vec<u8>); 10] = [
        (b"desc", [b"desc\0\0\0\0\0\0\0\x1F", PLACE, &[0; 79]].concat()),
        (b"cprt", [b"text\0\0\0\0", PLACE, b"\0"].concat()),
        (b"wtpt", xyz(0xF6D6, 0x10000, 0xD32D)),
        (b"rXYZ", [xyz(0x6FA2, 0x38F5, 0x390), PLACE.to_vec()].concat()),
        (b"gXYZ", xyz(0x6299, 0xB785, 0x18DA)),
        (b"bXYZ", xyz(0x24A0, 0xF84, 0xB6CF)),
        (b"rTRC", curve.clone()),
        (b"gTRC", curve.clone()),
        (b"bTRC", curve),
        (b"myOw", [b"data\0\0\0\0\0\0\0\0", PLACE].concat()),
    ];
    let (mut table, mut data) = (Vec::new(), Vec::new());
    for (name, contents) in &tags {
        table.extend(*name);
        table.extend(u32::try_from(132 + 12 * tags.len() + data.len()).unwrap().to_be_bytes());
        table.extend(u32::try_from(contents.len()).unwrap().to_be_bytes());
        data.extend(contents);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    data.extend(PLACE);
    let size = u32::try_from(132 + table.len() + data.len()).unwrap().to_be_bytes();
    let mut head = [size.as_slice(), &[0; 4], b"\x02\x40\0\0mntrRGB XYZ "].concat();
    head.resize(36, 0);
    head.extend(b"acsp");
    head.resize(68, 0);
    head.extend(b"\0\0\xF6\xD6\0\x01\0\0\0\0\xD3\x2D");
    head.extend(&PLACE[..20]);
    head.resize(128, 0);
    [head, vec![0, 0, 0, 10], table, data].concat()
}

fn with(head: &[u8]) -> Vec<u8> {
    [head, PLACE].concat()
}

fn in_jpegs() -> Vec<(&'static str, &'static str, Vec<u8>)> {
    let exif = |notes: Vec<u8>| segment(0xE1, &[b"Exif\0\0", notes.as_slice()].concat());
    let jfif = |tail: &[u8]| segment(0xE0, &[b"JFIF\0\x01\x02\0\0\x48\0\x48", tail].concat());
    let ways: Vec<(&str, Vec<u8>)> = vec![
        ("Exif", exif(exif_text(0x010E, PLACE))),
        ("Exif in place of a time", exif(exif_text(0x0132, PLACE))),
        ("Exif that cannot be read", exif(with(b"II"))),
        (
            "a second Exif",
            [exif(exif_text(0x0132, b"2025:03:04 10:11:12")), exif(exif_text(0x010E, PLACE))].concat(),
        ),
        ("XMP", segment(0xE1, &with(b"http://ns.adobe.com/xap/1.0/\0"))),
        ("extended XMP", segment(0xE1, &with(b"http://ns.adobe.com/xmp/extension/\0"))),
        (
            "Photoshop's blocks",
            segment(0xED, &with(b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x1E\x1C\x02\x5A\0\x1A")),
        ),
        ("a comment", segment(0xFE, PLACE)),
        ("APP4", segment(0xE4, PLACE)),
        ("APP15", segment(0xEF, PLACE)),
        ("an index of further pictures", segment(0xE2, &with(b"MPF\0II*\0"))),
        ("a profile", segment(0xE2, &[b"ICC_PROFILE\0\x01\x01", profile().as_slice()].concat())),
        ("a profile that is none", segment(0xE2, &with(b"ICC_PROFILE\0\x01\x01"))),
        ("a thumbnail of JFIF", jfif(&with(&[1, 10]))),
        ("an extension of JFIF", segment(0xE0, &with(b"JFXX\0\x10"))),
        ("behind Adobe's mark", segment(0xEE, &with(b"Adobe\0\x64\0\0\0\0\x01"))),
        ("a reserved segment", segment(0xF7, PLACE)),
        ("between two segments", [jfif(&[0, 0]), PLACE.to_vec()].concat()),
    ];
    let mut files: Vec<_> = ways.into_iter().map(|(way, part)| (way, JPEG, jpeg_with(&[part]))).collect();
    files.push(("behind the end of a JPEG", JPEG, [jpeg(), with(b"\xFF\xD8\xFF\xE1")].concat()));
    files
}

fn in_pngs() -> Vec<(&'static str, &'static str, Vec<u8>)> {
    let stored = |bytes: &[u8]| packed(bytes, Compression::none());
    let exif = |tag, text: &[u8]| png_chunk(b"eXIf", &exif_text(tag, text));
    let before: Vec<(&str, Vec<u8>)> = vec![
        ("eXIf", exif(0x010E, PLACE)),
        ("a second eXIf", [exif(0x0132, b"2025:03:04 10:11:12"), exif(0x010E, PLACE)].concat()),
        ("a raw profile in tEXt", png_chunk(b"tEXt", &with(b"Raw profile type exif\0\nexif\n 30\n"))),
        ("zTXt", png_chunk(b"zTXt", &[b"Comment\0\0", stored(PLACE).as_slice()].concat())),
        ("iTXt", png_chunk(b"iTXt", &with(b"XML:com.adobe.xmp\0\0\0\0\0"))),
        ("packed iTXt", png_chunk(b"iTXt", &[b"Comment\0\x01\0\0\0", stored(PLACE).as_slice()].concat())),
        ("a private chunk", png_chunk(b"plAc", PLACE)),
        ("the name of a palette", png_chunk(b"sPLT", &with(b"a\0\x08"))),
        ("the name of a profile", png_chunk(b"iCCP", &[PLACE, b"\0\0", &stored(&profile())].concat())),
        ("a profile in PNG", png_chunk(b"iCCP", &[b"p\0\0", stored(&profile()).as_slice()].concat())),
        ("a suggested palette", png_chunk(b"PLTE", PLACE)),
        ("a chunk that is too long", png_chunk(b"gAMA", &with(&[0, 0, 0xB1, 0x8F]))),
    ];
    let behind = [("a text behind the data", png_chunk(b"tEXt", &with(b"Comment\0")))];
    let mut files: Vec<_> = before.into_iter().map(|(way, one)| (way, PNG, png_with(&[one], &[]))).collect();
    files.extend(behind.into_iter().map(|(way, one)| (way, PNG, png_with(&[], &[one]))));
    files.push(("behind the packed lines", PNG, png_with(&[], &[png_chunk(b"IDAT", PLACE)])));
    let picture = png();
    let ending = [&picture[..picture.len() - 12], &png_chunk(b"IEND", PLACE)].concat();
    files.push(("in the last chunk", PNG, ending));
    files.push(("behind the end of a PNG", PNG, with(&picture)));
    files
}

fn in_webps() -> Vec<(&'static str, &'static str, Vec<u8>)> {
    let exif = |tag, text: &[u8]| chunk(b"EXIF", &exif_text(tag, text));
    let simple = |part: Vec<u8>| riff(&[webp()[12..].to_vec(), part].concat());
    let long_head = chunk(b"VP8X", &with(&[0, 0, 0, 0, 36, 0, 0, 20, 0, 0]));
    vec![
        ("EXIF", WEBP, webp_with(0x08, &[], &[exif(0x010E, PLACE)])),
        (
            "a second EXIF",
            WEBP,
            webp_with(0x08, &[], &[exif(0x0132, b"2025:03:04 10:11:12"), exif(0x010E, PLACE)]),
        ),
        ("XMP in WebP", WEBP, webp_with(0x04, &[], &[chunk(b"XMP ", PLACE)])),
        ("a second XMP", WEBP, webp_with(0x04, &[], &[chunk(b"XMP ", b"<x/>"), chunk(b"XMP ", PLACE)])),
        ("an unknown chunk", WEBP, webp_with(0, &[], &[chunk(b"PLAC", PLACE)])),
        ("an unknown chunk of a simple file", WEBP, simple(chunk(b"PLAC", PLACE))),
        ("EXIF of a simple file", WEBP, simple(exif(0x010E, PLACE))),
        ("a profile in WebP", WEBP, webp_with(0x20, &[chunk(b"ICCP", &profile())], &[])),
        ("a head that is too long", WEBP, riff(&[long_head, webp()[12..].to_vec()].concat())),
        (
            "an animation's frame beside a picture",
            WEBP,
            webp_with(0, &[], &[chunk(b"ANMF", &with(&[0; 16]))]),
        ),
        ("behind the end of a WebP", WEBP, with(&webp())),
    ]
}

pub fn holds_place(file: &[u8]) -> bool {
    file.windows(PLACE.len()).any(|part| part == PLACE)
}

fn decoded(file: &[u8]) -> (DynamicImage, Option<Vec<u8>>) {
    let reader = ImageReader::new(std::io::Cursor::new(file)).with_guessed_format().unwrap();
    let mut decoder = reader.into_decoder().unwrap();
    let profile = decoder.icc_profile().unwrap();
    (DynamicImage::from_decoder(decoder).unwrap(), profile)
}

/// The pictures that hide nothing are kept to the byte; those that hide a place lose it and keep their pixels, as a
/// decoder that nobody here wrote reads them.
#[test]
fn no_way_to_hide_a_place_in_a_picture_outlasts_the_upload() {
    let world = World::open();
    let owner = world.owner();
    let kept = |kind: &str, file: &[u8]| {
        let id = owner.has_document("/v1/documents", kind, file);
        let location = owner.reads(&format!("/v1/documents/{id}"))["location"].as_str().unwrap().to_owned();
        (location, owner.fetches(&id, &[]).2)
    };
    for (kind, plain) in [(JPEG, jpeg()), (PNG, png()), (WEBP, webp())] {
        assert_eq!(kept(kind, &plain), ("none".to_owned(), plain), "{kind}");
    }
    let ways = [in_jpegs(), in_pngs(), in_webps()].concat();
    assert!(ways.len() >= 24, "{}", ways.len());
    for (way, kind, file) in ways {
        // The control: the search finds it in what is sent.
        assert!(holds_place(&file), "{way}");
        let (location, stored) = kept(kind, &file);
        assert!(!holds_place(&stored), "{way} is still there");
        assert_eq!(location, "removed", "{way}");
        let plain = match kind {
            JPEG => jpeg(),
            PNG => png(),
            _ => webp(),
        };
        let (picture, profile) = decoded(&stored);
        assert_eq!(picture, decoded(&plain).0, "{way}: the pixels");
        assert!(profile.is_none_or(|profile| !holds_place(&profile)), "{way}: the profile");
        assert_eq!(kept(kind, &stored), ("none".to_owned(), stored), "{way}: once more");
    }
}

/// ICC.1:2022: the colors of a profile stay, number for number, in every kind of picture.
#[test]
fn a_profile_keeps_its_colors_and_loses_its_words() {
    use ledgerboard::rules::documents::look_at;
    let came = profile();
    assert!(holds_place(&came));
    let packed = packed(&came, Compression::none());
    for file in [
        jpeg_with(&[segment(0xE2, &[b"ICC_PROFILE\0\x01\x01", came.as_slice()].concat())]),
        png_with(&[png_chunk(b"iCCP", &[b"p\0\0", packed.as_slice()].concat())], &[]),
        webp_with(0x20, &[chunk(b"ICCP", &came)], &[]),
    ] {
        let kept = decoded(&look_at(&file).unwrap().bytes).1.expect("the profile is still there");
        let tag = |profile: &[u8], name: &[u8; 4]| {
            let number = |at: usize| {
                usize::try_from(u32::from_be_bytes(profile[at..at + 4].try_into().unwrap())).unwrap()
            };
            let entry =
                (0..number(128)).map(|one| 132 + 12 * one).find(|at| profile[*at..].starts_with(name));
            let entry = entry.unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(name)));
            profile[number(entry + 4)..number(entry + 4) + number(entry + 8)].to_vec()
        };
        for name in [b"wtpt", b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"] {
            assert!(tag(&came, name).starts_with(&tag(&kept, name)), "{}", String::from_utf8_lossy(name));
        }
        assert!(tag(&kept, b"desc").len() > 12 && tag(&kept, b"cprt").len() > 8);
        let said = u32::from_be_bytes(kept[..4].try_into().unwrap());
        assert_eq!(kept.len(), usize::try_from(said).unwrap());
    }
}
