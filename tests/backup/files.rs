//! Files that are no whole backup: each is refused in words, and nothing is written.

use std::io::Read;
use std::path::Path;

use ledgerboard::store::backup::{self, BackupFile, Recipient};

use super::{a_root, is_refused, path, runs};
use crate::world::World;

fn file_at(path: &Path) -> BackupFile {
    BackupFile { path: path.to_path_buf(), identity: None }
}

fn refusal(path: &Path) -> String {
    backup::checked(&file_at(path)).expect_err("a bad file was taken for a backup").to_string()
}

fn unpacked(packed: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    flate2::read::GzDecoder::new(packed).read_to_end(&mut bytes).unwrap();
    bytes
}

#[test]
fn a_backup_that_is_cut_off_or_changed_anywhere_is_refused() {
    let world = World::open();
    for number in 0..30 {
        world.owner().has_party(&format!("Supplier {number}"), "vendor");
    }
    let folder = tempfile::tempdir().unwrap();
    let taken = world.backs_up_to(folder.path(), &[]);
    let whole = std::fs::read(&taken.path).unwrap();
    assert_eq!(
        backup::checked(&file_at(&taken.path)).unwrap(),
        taken.manifest,
        "the control: the whole file is good"
    );
    let bad = folder.path().join("bad.tar.gz");
    for part in 1..40 {
        let cut = whole.len() * part / 40;
        std::fs::write(&bad, &whole[..cut]).unwrap();
        let said = refusal(&bad);
        assert!(said.contains("incomplete") || said.contains("damaged"), "cut at {cut}: {said}");
    }
    // A gzip header holds a time and a system (RFC 1952, section 2.3.1), and a block ends with bits up to the next byte
    // (RFC 1951, section 3.2.4), which say nothing about the content.
    let mut refused = 0;
    for part in 0..60 {
        let place = 10 + (whole.len() - 11) * part / 60;
        let mut changed = whole.clone();
        changed[place] ^= 1;
        std::fs::write(&bad, &changed).unwrap();
        match backup::checked(&file_at(&bad)) {
            Err(_) => refused += 1,
            Ok(_) => assert_eq!(unpacked(&changed), unpacked(&whole), "changed at {place}"),
        }
    }
    assert!(refused > 50, "{refused} of 60");
    std::fs::write(&bad, b"").unwrap();
    assert!(refusal(&bad).contains("not a Ledgerboard backup"));
    std::fs::write(&bad, b"PK\x03\x04 an archive of another kind").unwrap();
    assert!(refusal(&bad).contains("not a Ledgerboard backup"));
}

/// An archive in which everything is right but the manifest, which comes last, is missing: an interrupted backup.
#[test]
fn a_backup_without_its_manifest_or_of_a_newer_format_is_refused() {
    let world = World::open();
    let folder = tempfile::tempdir().unwrap();
    let taken = world.backs_up_to(folder.path(), &[]);
    let bad = folder.path().join("bad.tar.gz");
    repacked(&taken.path, &bad, |name, _| name != "manifest.json");
    let said = refusal(&bad);
    assert!(said.contains("incomplete") && said.contains("manifest"), "{said}");
    repacked(&taken.path, &bad, |_, content| {
        *content = String::from_utf8_lossy(content).replace("\"format\": 1", "\"format\": 3").into_bytes();
        true
    });
    let said = refusal(&bad);
    assert!(said.contains("format 3") && said.contains("format 2"), "{said}");
    repacked(&taken.path, &bad, |name, content| {
        let newer = String::from_utf8_lossy(content).replace("20261201010100", "20991231010100");
        if name == "manifest.json" {
            *content = newer.into_bytes();
        }
        true
    });
    let said = refusal(&bad);
    assert!(said.contains("newer version") && said.contains("20991231010100"), "{said}");
    repacked(&taken.path, &bad, |_, _| true);
    backup::checked(&file_at(&bad)).expect("the control: repacked as it was, it is good");
}

/// Writes the archive anew with what `keep` lets through and changes.
pub fn repacked(from: &Path, to: &Path, mut keep: impl FnMut(&str, &mut Vec<u8>) -> bool) {
    use std::io::Read;
    let mut archive = tar::Archive::new(flate2::read::GzDecoder::new(std::fs::File::open(from).unwrap()));
    let packer =
        flate2::write::GzEncoder::new(std::fs::File::create(to).unwrap(), flate2::Compression::fast());
    let mut packed = tar::Builder::new(packer);
    for entry in archive.entries().unwrap() {
        let mut entry = entry.unwrap();
        let name = entry.path().unwrap().to_string_lossy().into_owned();
        let mut content = Vec::new();
        entry.read_to_end(&mut content).unwrap();
        if keep(&name, &mut content) {
            let mut header = tar::Header::new_gnu();
            header.set_size(u64::try_from(content.len()).unwrap());
            packed.append_data(&mut header, name, content.as_slice()).unwrap();
        }
    }
    packed.into_inner().unwrap().finish().unwrap();
}

#[test]
fn an_encrypted_backup_opens_with_its_own_key_and_with_no_other() {
    use age::secrecy::ExposeSecret;
    let world = World::open();
    world.owner().has_party("Brickyard Fixings", "vendor");
    let folder = tempfile::tempdir().unwrap();
    let [right, wrong] = [age::x25519::Identity::generate(), age::x25519::Identity::generate()];
    let key_file = |name: &str, key: &age::x25519::Identity| {
        let path = folder.path().join(name);
        std::fs::write(&path, format!("# a comment\n{}\n", key.to_string().expose_secret())).unwrap();
        path
    };
    let recipient: Recipient = right.to_public().to_string().parse().unwrap();
    let taken = world.backs_up_to(folder.path(), &[recipient]);
    let sealed = std::fs::read(&taken.path).unwrap();
    assert!(
        sealed.starts_with(b"age-encryption.org/v1\n"),
        "the age format, version 1 (age-encryption.org/v1)"
    );
    assert!(path(&taken.path).ends_with(".tar.gz.age"));
    let mut file = file_at(&taken.path);
    let said = backup::checked(&file).unwrap_err().to_string();
    assert!(said.contains("encrypted") && said.contains("--identity"), "{said}");
    file.identity = Some(key_file("wrong.txt", &wrong));
    let said = backup::checked(&file).unwrap_err().to_string();
    assert!(said.contains("does not decrypt"), "{said}");
    file.identity = Some(key_file("right.txt", &right));
    assert_eq!(backup::checked(&file).unwrap(), taken.manifest);
    std::fs::write(&taken.path, &sealed[..sealed.len() - 20]).unwrap();
    backup::checked(&file).expect_err("a cut encrypted backup");
    let said = "age1notakey".parse::<Recipient>().unwrap_err().to_string();
    assert!(said.contains("age1"), "{said}");
}

#[test]
fn a_bad_file_is_refused_before_a_data_folder_is_made() {
    let root = a_root();
    let (bad, books) = (root.path().join("bad.tar.gz"), root.path().join("books"));
    std::fs::write(&bad, b"\x1f\x8b\x08\x00 and then nothing that fits").unwrap();
    is_refused(&["restore", "--data-dir", path(&books), "--from", path(&bad)]);
    assert!(!books.exists());
    let said =
        is_refused(&["restore", "--data-dir", path(&books), "--from", path(&root.path().join("none"))]);
    assert!(said.contains("cannot read") && !books.exists(), "{said}");
    let said = is_refused(&["backup", "--data-dir", path(&books), "--to", path(&bad), "--keep", "3"]);
    assert!(said.contains("--keep needs a folder") && !books.exists(), "{said}");
    // A new data folder has no books; its backup says so and leaves no file.
    let said =
        is_refused(&["backup", "--data-dir", path(&books), "--to", path(&root.path().join("empty.tar.gz"))]);
    assert!(said.contains("no books yet"), "{said}");
    assert!(!root.path().join("empty.tar.gz").exists());
    runs(&["restore", "--data-dir", path(&books), "--from", path(&super::fixture("demo-2026-11-25.tar.gz"))]);
}
