//! What a PDF holds beside its pages is said, and so is what nobody could look into.

use flate2::Compression;
use serde_json::{Value, json};

use super::files::{end_of_an_archive, packed, pdf};
use crate::world::World;

/// A PDF with one object more.
fn with(object: &[u8]) -> Vec<u8> {
    let plain = pdf("an invoice");
    let trailer = plain.windows(7).position(|part| part == b"trailer").unwrap();
    [&plain[..trailer], b"2 0 obj\n", object, b"\nendobj\n", &plain[trailer..]].concat()
}

/// ISO 32000-2, 7.5.7: an object stream, which hides names from whoever only searches the file.
fn object_stream(filter: &str, data: &[u8]) -> Vec<u8> {
    let head =
        format!("<</Type /ObjStm /N 1 /First 4 /Filter /{filter} /Length {}>>\nstream\r\n", data.len());
    with(&[head.as_bytes(), data, b"\nendstream"].concat())
}

#[test]
fn a_paper_with_a_script_a_file_or_an_archive_inside_is_labelled() {
    let world = World::open();
    let owner = world.owner();
    let script = b"<</S /JavaScript /JS (app.alert(1))>>";
    let hidden = packed(&b"3 0 <</S /JavaScript /JS (app.alert(1))>> ".repeat(9), Compression::best());
    // The control: nobody finds it without unpacking.
    assert!(
        !hidden.windows(10).any(|part| part == b"JavaScript")
            && !hidden.windows(3).any(|part| part == b"/JS")
    );
    let archive = [b"PK\x03\x04".as_slice(), &end_of_an_archive(), b"%%EOF\n"].concat();
    let papers: Vec<(&str, Vec<u8>, Value)> = vec![
        ("a plain paper", pdf("an invoice"), json!(null)),
        ("a first page to show", with(b"<</OpenAction [1 0 R /Fit]>>"), json!(null)),
        ("a script", with(script), json!(["script"])),
        ("a script under an escaped name", with(b"<</S /#4aava#53cript>>"), json!(["script"])),
        ("a script in an object stream", object_stream("FlateDecode", &hidden), json!(["script"])),
        ("a form", with(b"<</XFA 4 0 R>>"), json!(["script"])),
        ("a program that is started", with(b"<</S /Launch /F (cmd.exe)>>"), json!(["action"])),
        ("an action on opening", with(b"<</OpenAction 4 0 R>>"), json!(["action"])),
        ("a file inside", with(b"<</Type /EmbeddedFile>>"), json!(["embedded_file"])),
        ("an archive before the end", [pdf("x"), archive.clone()].concat(), json!(["archive"])),
        ("data behind the end", [pdf("x"), b"and more".to_vec()].concat(), json!(["archive"])),
        ("an encrypted paper", with(b"<</Encrypt 4 0 R>>"), json!(["sealed"])),
        ("a damaged object stream", object_stream("FlateDecode", b"no data"), json!(["sealed"])),
        ("another packing", object_stream("LZWDecode", b"no data"), json!(["sealed"])),
        (
            "a script and a file",
            with(b"<</JS (x) /EmbeddedFiles 4 0 R>>"),
            json!(["script", "embedded_file"]),
        ),
    ];
    for (what, paper, holds) in papers {
        let reply = owner.sends("/v1/documents", "application/pdf", &paper);
        assert_eq!(reply.status, 201, "{what}: {}", reply.text);
        let body = reply.json();
        assert_eq!(body["record"]["holds"], holds, "{what}: {body:#}");
        let notes = body["notes"].to_string();
        let said = |words: &str| notes.contains(words);
        for (label, words) in [
            ("script", "holds a script"),
            ("action", "starts an action"),
            ("embedded_file", "holds another file"),
            ("archive", "holds an archive"),
            ("sealed", "nobody could look for scripts"),
        ] {
            let labelled = holds.as_array().is_some_and(|all| all.contains(&json!(label)));
            assert_eq!(said(words), labelled, "{what}: {notes}");
        }
        let id = body["id"].as_str().unwrap();
        let shown = owner.reads(&format!("/v1/documents/{id}"));
        assert_eq!((&shown["location"], &shown["holds"]), (&json!("unknown"), &holds), "{what}");
        assert_eq!(owner.fetches(id, &[]).2, paper, "{what} is kept as it came");
    }
}
