//! Files that are not what they say, and files made to do harm.

use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::Value;

use super::files::{end_of_an_archive, exif_segment, heic, jpeg, notes, pdf, png, webp, xmp_segment};
use crate::world::World;

const PNG: &str = "image/png";
const PDF: &str = "application/pdf";
const JPEG: &str = "image/jpeg";
const HEIC: &str = "image/heic";

/// The test file of the antivirus makers (EICAR, 68 bytes), from memory; in two parts, so that no scanner stops at
/// this source.
fn antivirus_test() -> Vec<u8> {
    ["X5O!P%@AP[4\\PZX54(P^)7CC)7}$EICAR-", "STANDARD-ANTIVIRUS-TEST-FILE!$H+H*"].concat().into_bytes()
}

fn hostile() -> Vec<(&'static str, &'static str, Vec<u8>, u16, &'static str)> {
    let cut = |mut file: Vec<u8>, length| {
        file.truncate(length);
        file
    };
    let with = |head: &[u8], tail: &[u8]| [head, tail].concat();
    let damaged_crc = || {
        let mut file = png(16, 9, &[]);
        file[20] ^= 1;
        file
    };
    vec![
        ("nothing", JPEG, Vec::new(), 422, "the file is empty"),
        ("a drawing that can run scripts", PNG, b"<svg onload=alert(1)>".to_vec(), 422, "an SVG drawing"),
        ("a declared drawing", PNG, b"<?xml version='1.0'?><svg/>".to_vec(), 422, "an SVG drawing"),
        ("a page", PNG, b"<!DOCTYPE html><script>1</script>".to_vec(), 422, "a web page"),
        ("a page after spaces", PDF, b"  \n<html>".to_vec(), 422, "a web page"),
        ("a page before a paper", PDF, with(b"<html>", &pdf("x")), 422, "a web page"),
        ("a page within a paper's head", PDF, pdf("<html><script>"), 422, "a web page at the same time"),
        ("an archive behind a paper", PDF, with(&pdf("x"), &end_of_an_archive()), 422, "an archive"),
        ("an archive behind a picture", HEIC, heic(4, 4, &end_of_an_archive()), 422, "an archive"),
        ("an archive", PDF, b"PK\x03\x04rest".to_vec(), 422, "an archive or an office file"),
        ("the antivirus test", PDF, antivirus_test(), 422, "none of the kinds"),
        ("a moving picture", PNG, b"GIF89a\x01\x00\x01\x00".to_vec(), 422, "a GIF"),
        ("a program", PDF, b"MZ\x90\x00".to_vec(), 422, "a program"),
        ("another program", PDF, b"\x7FELF\x02".to_vec(), 422, "a program"),
        ("a picture as a paper", PDF, jpeg(3, 4, &[]), 422, "the content is image/jpeg"),
        ("a paper as a picture", JPEG, pdf("x"), 422, "the content is application/pdf"),
        ("a picture of 2,500 million pixels", PNG, png(50_000, 50_000, &[]), 422, "50 million are the most"),
        ("a vast HEIC", HEIC, heic(u32::MAX, u32::MAX, b"x"), 422, "50 million are the most"),
        ("a picture without a size", PNG, png(0, 9, &[]), 422, "does not say its size"),
        ("a JPEG of no lines", JPEG, jpeg(30, 0, &[]), 422, "does not say its size"),
        (
            "a JPEG cut in its scan",
            JPEG,
            cut(jpeg(30, 40, &[]), jpeg(30, 40, &[]).len() - 3),
            422,
            "breaks off",
        ),
        ("a JPEG cut in its head", JPEG, cut(jpeg(30, 40, &[]), 9), 422, "breaks off"),
        ("two bytes of a JPEG", JPEG, b"\xFF\xD8\xFF".to_vec(), 422, "breaks off"),
        ("a PNG cut in its data", PNG, cut(png(16, 9, &[]), 45), 422, "breaks off"),
        ("a PNG without an end", PNG, cut(png(16, 9, &[]), png(16, 9, &[]).len() - 12), 422, "breaks off"),
        ("a PNG with a wrong sum", PNG, damaged_crc(), 422, "breaks off"),
        ("a WebP cut short", "image/webp", cut(webp(None), 18), 422, "breaks off"),
        ("a HEIC cut short", HEIC, cut(heic(4, 4, b"data"), 60), 422, "breaks off"),
        ("a HEIC of no picture", HEIC, b"\0\0\0\x14ftypheic\0\0\0\0heic".to_vec(), 422, "holds no picture"),
        ("a paper without an end", PDF, b"%PDF-1.4 and no more".to_vec(), 422, "its end is missing"),
        ("a paper of no version", PDF, b"%PDF-x.4 %%EOF".to_vec(), 422, "its version is none"),
        ("bytes of chance", PNG, vec![0xAA; 512], 422, "none of the kinds"),
        ("a kind that is not kept", "image/gif", b"GIF89a".to_vec(), 415, "send Content-Type with one of"),
        (
            "JSON where a file belongs",
            "application/json",
            b"{}".to_vec(),
            415,
            "send Content-Type with one of",
        ),
        ("more than ten megabytes", PDF, vec![b' '; 10 * 1024 * 1024 + 1], 413, "a file may have 10 MiB"),
    ]
}

#[test]
fn hostile_files_are_refused_with_what_they_are_and_nothing_is_kept() {
    let world = World::open();
    let owner = world.owner();
    let before = world.rows_written();
    for (what, kind, file, status, says) in hostile() {
        let reply = owner.sends("/v1/documents", kind, &file);
        assert_eq!(reply.status, status, "{what}: {}", reply.text);
        assert_eq!(reply.header("content-type"), Some("application/problem+json"), "{what}");
        assert!(reply.json()["detail"].as_str().unwrap().contains(says), "{what}: {}", reply.text);
    }
    assert_eq!(world.rows_written(), before);
    assert_eq!(world.count("SELECT count(*) FROM document_files"), 0);
    // The control: the same door takes what is good.
    assert_eq!(owner.sends("/v1/documents", PNG, &png(16, 9, &[])).status, 201);
}

#[test]
fn names_and_headers_made_to_do_harm_do_none() {
    let world = World::open();
    let owner = world.owner();
    let file = jpeg(30, 40, &[]);
    for (query, name) in [
        ("name=..%2F..%2Fetc%2Fpasswd", Value::from("passwd")),
        ("name=C%3A%5Cshop%5Ctill.jpg", Value::from("till.jpg")),
        ("name=..", Value::Null),
        ("name=a%22%3B%20filename%3Dx.exe", Value::from("a\"; filename=x.exe")),
    ] {
        let id = owner.has_document(&format!("/v1/documents?{query}"), JPEG, &file);
        assert_eq!(owner.reads(&format!("/v1/documents/{id}"))["name"], name, "{query}");
        let (_, headers, _) = owner.fetches(&id, &[]);
        let disposition = headers["content-disposition"].to_str().unwrap();
        assert!(disposition.starts_with("attachment; filename*=UTF-8''"), "{disposition}");
        assert!(!disposition.contains('"'), "{disposition}");
    }
    for (query, status) in [
        ("name=till%00.jpg", 400),
        ("name=a%0D%0ASet-Cookie%3Ax", 400),
        ("titel=a", 400),
        ("record=nothing", 400),
        ("record=0192a1b2-0000-7000-8000-00000000dead", 422),
    ] {
        let reply = owner.sends(&format!("/v1/documents?{query}"), JPEG, &file);
        assert_eq!(reply.status, status, "{query}: {}", reply.text);
    }
    let packed = owner.sends_with("/v1/documents", JPEG, &file, &[("Content-Encoding", "gzip")]);
    assert_eq!(packed.status, 415, "{}", packed.text);
}

#[test]
fn a_file_with_any_of_its_bytes_changed_is_taken_or_refused_and_never_a_fault() {
    let world = World::open();
    let owner = world.owner();
    let files = [
        (JPEG, jpeg(30, 40, &[exif_segment(true), xmp_segment("gps")])),
        (PNG, png(16, 9, &[(b"eXIf", &notes(true)), (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0gps")])),
        ("image/webp", webp(Some(notes(true)))),
        (HEIC, heic(40, 30, b"data")),
        (PDF, pdf("an invoice")),
    ];
    let changed =
        (0..files.len(), proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6));
    let mut runner = TestRunner::new(Config { cases: 200, failure_persistence: None, ..Config::default() });
    runner
        .run(&changed, |(which, changes)| {
            let (kind, mut file) = files[which].clone();
            for (place, byte) in changes {
                let place = place.index(file.len());
                file[place] = byte;
            }
            let reply = owner.sends("/v1/documents?dry_run=true", kind, &file);
            prop_assert!([200, 422].contains(&reply.status), "{} {}", reply.status, reply.text);
            Ok(())
        })
        .unwrap();
}
