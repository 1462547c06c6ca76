//! Documents: what is taken in and how it is kept, what waits, and what proves what.
#![cfg(test)]

pub(crate) mod files;
mod hidden;
mod hostile;
mod labels;
mod properties;

use serde_json::{Value, json};

use crate::world::{Caller, World};
use files::{SCAN, exif_segment, heic, jpeg, notes, pdf, png, webp, xmp_segment};

const JPEG: &str = "image/jpeg";

fn receipt(owner: &Caller, more: Value) -> Value {
    let mut body = json!({
        "date": "2025-03-01", "paid_from": owner.has_account("bank"), "total": "54.90",
        "lines": [{ "text": "birch plywood", "amount": "54.90",
            "treatments": [{ "as": "expense", "class": "supplies" }] }],
    });
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    body
}

fn inbox(owner: &Caller) -> Vec<String> {
    ids(&owner.reads("/v1/documents?standing=inbox"))
}

fn missing(owner: &Caller) -> Vec<String> {
    ids(&owner.reads("/v1/documents/missing"))
}

fn ids(page: &Value) -> Vec<String> {
    page["items"].as_array().unwrap().iter().map(|one| one["id"].as_str().unwrap().to_owned()).collect()
}

fn reverse(owner: &Caller, entry: i64) {
    owner.records(&format!("/v1/entries/{entry}/reversal"), json!({ "reason": "entered twice" }));
}

#[test]
fn a_photo_waits_in_the_inbox_and_is_coded_into_a_purchase() {
    let world = World::open();
    let owner = world.owner();
    let photo = owner.has_document("/v1/documents?name=till.jpg", JPEG, &jpeg(30, 40, &[]));
    assert_eq!(inbox(&owner), std::slice::from_ref(&photo));
    let bought = owner.records("/v1/purchases", receipt(&owner, json!({ "documents": [photo] })));
    let purchase = bought["id"].as_str().unwrap();
    assert!(inbox(&owner).is_empty());
    assert_eq!(owner.reads(&format!("/v1/documents/{photo}"))["proves"], json!([purchase]));
    assert_eq!(owner.reads(&format!("/v1/purchases/{purchase}"))["documents"], json!([photo]));
    let proving = ids(&owner.reads(&format!("/v1/documents?record={purchase}")));
    assert_eq!(proving, std::slice::from_ref(&photo));
    assert!(missing(&owner).is_empty());
    // Taken back, the receipt proves nothing any more, and the photo waits for the right one.
    reverse(&owner, bought["entries"][0]["number"].as_i64().unwrap());
    assert_eq!(inbox(&owner), [photo]);
}

#[test]
fn purchases_without_a_document_are_listed_until_one_is_attached() {
    let world = World::open();
    let owner = world.owner();
    let purchase = owner.makes("/v1/purchases", receipt(&owner, json!({})));
    assert_eq!(missing(&owner), std::slice::from_ref(&purchase));
    assert!(ids(&owner.reads("/v1/documents/missing?to=2025-02-28")).is_empty());
    let asks = |owner: &Caller| {
        let questions = owner.reads("/v1/tax-years/2025/summary")["questions"].clone();
        questions.as_array().unwrap().iter().any(|one| one["topic"] == "receipts_missing")
    };
    assert!(asks(&owner));
    let scan = owner.has_document("/v1/documents", "application/pdf", &pdf("a till receipt"));
    let path = format!("/v1/documents/{scan}/attachments");
    let shown = owner.post(&format!("{path}?dry_run=true"), &json!({ "record": purchase }));
    assert_eq!((shown.status, missing(&owner).len()), (200, 1));
    owner.records(&path, json!({ "record": purchase }));
    assert!(missing(&owner).is_empty() && !asks(&owner));
    let again = owner.is_refused(409, &path, json!({ "record": purchase }));
    assert!(again.error_at("/record").contains("proves that record already"));
    owner.is_refused(422, &path, json!({ "record": "0192a1b2-0000-7000-8000-00000000dead" }));
}

#[test]
fn an_invoice_s_paper_proves_its_payment() {
    let world = World::open();
    let owner = world.owner();
    let paper = owner.has_document("/v1/documents", "application/pdf", &pdf("an invoice"));
    let bank = owner.has_account("bank");
    let mut invoice = receipt(&owner, json!({ "payment": "later", "documents": [paper] }));
    invoice.as_object_mut().unwrap().remove("paid_from");
    let invoice = owner.makes("/v1/purchases", invoice);
    owner.records(
        &format!("/v1/purchases/{invoice}/payment"),
        json!({ "date": "2025-03-20", "paid_from": bank }),
    );
    assert!(missing(&owner).is_empty());
}

#[test]
fn every_kind_is_told_by_its_content_and_handed_back_to_the_byte() {
    let world = World::open();
    let owner = world.owner();
    let files = [
        ("application/pdf", pdf("an invoice"), Value::Null, "unknown"),
        (JPEG, jpeg(30, 40, &[]), json!({ "width": 30, "height": 40 }), "none"),
        ("image/png", png(16, 9, &[]), json!({ "width": 16, "height": 9 }), "none"),
        ("image/webp", webp(None), json!({ "width": 16, "height": 16 }), "none"),
        ("image/heic", heic(4032, 3024, b"data"), json!({ "width": 4032, "height": 3024 }), "unknown"),
    ];
    for (kind, file, pixels, location) in files {
        let id = owner.has_document("/v1/documents?name=..%2Fshop%2Fbill", kind, &file);
        let shown = owner.reads(&format!("/v1/documents/{id}"));
        assert_eq!(
            (&shown["kind"], &shown["pixels"], &shown["location"]),
            (&json!(kind), &pixels, &json!(location))
        );
        assert_eq!(shown["name"], "bill");
        let (status, headers, bytes) = owner.fetches(&id, &[("Accept-Encoding", "gzip")]);
        assert_eq!((status, bytes), (200, file), "{kind}");
        assert!(!headers.contains_key("content-encoding"), "{kind}");
        for (name, value) in [
            ("content-type", kind),
            ("content-disposition", "attachment; filename*=UTF-8''bill"),
            ("x-content-type-options", "nosniff"),
            ("content-security-policy", "default-src 'none'; sandbox"),
        ] {
            assert_eq!(headers[name], value, "{kind}");
        }
    }
}

#[test]
fn a_file_that_is_known_by_its_tag_is_not_sent_again() {
    let world = World::open();
    let owner = world.owner();
    let id = owner.has_document("/v1/documents", JPEG, &jpeg(30, 40, &[]));
    let (_, headers, _) = owner.fetches(&id, &[]);
    let tag = headers["etag"].to_str().unwrap();
    assert_eq!(tag, format!("{:?}", owner.reads(&format!("/v1/documents/{id}"))["sha256"].as_str().unwrap()));
    let (status, headers, bytes) = owner.fetches(&id, &[("If-None-Match", tag)]);
    assert_eq!((status, bytes.len(), headers["etag"].to_str().unwrap()), (304, 0, tag));
    assert_eq!(owner.fetches(&id, &[("If-None-Match", "\"another\"")]).0, 200);
}

/// The camera's notes are read back with the library that reads them everywhere else.
fn notes_of(file: &[u8]) -> Option<exif::Exif> {
    exif::Reader::new().read_from_container(&mut std::io::Cursor::new(file)).ok()
}

#[test]
fn where_a_picture_was_taken_is_removed_and_no_pixel_with_it() {
    let world = World::open();
    let owner = world.owner();
    let places = [
        (JPEG, jpeg(30, 40, &[exif_segment(true)])),
        ("image/png", png(16, 9, &[(b"eXIf", &notes(true))])),
        ("image/webp", webp(Some(notes(true)))),
    ];
    for (kind, file) in places {
        // The control: it was there.
        let before = notes_of(&file).unwrap();
        assert!(before.get_field(exif::Tag::GPSLatitude, exif::In::PRIMARY).is_some(), "{kind}");
        let id = owner.has_document("/v1/documents", kind, &file);
        assert_eq!(owner.reads(&format!("/v1/documents/{id}"))["location"], "removed", "{kind}");
        let kept = owner.fetches(&id, &[]).2;
        let after = notes_of(&kept).unwrap();
        assert!(after.fields().all(|field| field.tag.context() != exif::Context::Gps), "{kind}");
        // A receipt needs to be read the right way up, and its day.
        for tag in [exif::Tag::Orientation, exif::Tag::DateTimeOriginal] {
            let value = |notes: &exif::Exif| {
                notes.get_field(tag, exif::In::PRIMARY).map(|field| field.display_value().to_string())
            };
            assert_eq!(value(&after), value(&before), "{kind}");
            assert!(value(&after).is_some(), "{kind}");
        }
        assert!(after.get_field(exif::Tag::Model, exif::In::PRIMARY).is_none(), "{kind}");
        let data = if kind == JPEG {
            SCAN
        } else if kind == "image/png" {
            b"IDAT"
        } else {
            b"VP8L"
        };
        assert!(kept.windows(data.len()).any(|part| part == data), "{kind}");
    }
    // What is kept has nothing left to remove.
    let id = owner.has_document("/v1/documents", JPEG, &jpeg(30, 40, &[exif_segment(false)]));
    let kept = owner.fetches(&id, &[]).2;
    let again = owner.has_document("/v1/documents", JPEG, &kept);
    assert_eq!(owner.reads(&format!("/v1/documents/{again}"))["location"], "none");
    assert_eq!(owner.fetches(&again, &[]).2, kept);
}

#[test]
fn words_in_a_picture_are_removed_whatever_they_say() {
    let world = World::open();
    let owner = world.owner();
    let kept = |kind: &str, file: &[u8]| {
        let id = owner.has_document("/v1/documents", kind, file);
        let location = owner.reads(&format!("/v1/documents/{id}"))["location"].as_str().unwrap().to_owned();
        (location, owner.fetches(&id, &[]).2)
    };
    for words in ["<x exif:GPSLatitude='51,30N'/>", "<x dc:title='shelf'/>"] {
        let named = jpeg(30, 40, &[xmp_segment(words)]);
        assert_eq!(kept(JPEG, &named), ("removed".to_owned(), jpeg(30, 40, &[])));
    }
    let named = png(16, 9, &[(b"tEXt", b"Location\0Elm Street"), (b"tEXt", b"Title\0shelf")]);
    assert_eq!(kept("image/png", &named), ("removed".to_owned(), png(16, 9, &[])));
    let (location, _) = kept("image/heic", &heic(40, 30, b"exif:GPSLatitude"));
    assert_eq!(location, "present");
}

#[test]
fn what_stands_behind_a_picture_is_left_away() {
    let world = World::open();
    let owner = world.owner();
    let picture = jpeg(30, 40, &[]);
    let reply = owner.sends("/v1/documents", JPEG, &[picture.as_slice(), b"another picture"].concat());
    assert_eq!(reply.status, 201, "{}", reply.text);
    let body = reply.json();
    assert_eq!(body["notes"][2], "15 bytes behind the end of the picture were left away");
    assert_eq!(owner.fetches(body["id"].as_str().unwrap(), &[]).2, picture);
}

#[test]
fn the_same_file_is_kept_once_and_the_same_request_recorded_once() {
    let world = World::open();
    let owner = world.owner();
    let file = jpeg(30, 40, &[exif_segment(true)]);
    let key = [("Idempotency-Key", "photo-1")];
    let first = owner.sends_with("/v1/documents?name=a.jpg", JPEG, &file, &key);
    let again = owner.sends_with("/v1/documents?name=a.jpg", JPEG, &file, &key);
    assert_eq!((again.status, &again.text), (201, &first.text));
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    let other = owner.sends_with("/v1/documents?name=b.jpg", JPEG, &file, &key);
    assert_eq!(other.status, 422, "{}", other.text);
    let second = owner.sends("/v1/documents", JPEG, &file);
    assert!(
        second.json()["notes"]
            .as_array()
            .unwrap()
            .last()
            .unwrap()
            .as_str()
            .unwrap()
            .starts_with("the same file")
    );
    assert_eq!(world.count("SELECT count(*) FROM documents"), 2);
    assert_eq!(world.count("SELECT count(*) FROM document_files"), 1);
    let before = world.rows_written();
    assert_eq!(owner.sends("/v1/documents?dry_run=true", JPEG, &jpeg(8, 8, &[])).status, 200);
    assert_eq!(world.rows_written(), before);
    assert_eq!(world.count("SELECT count(*) FROM document_files"), 1);
}

#[test]
fn a_flipped_bit_is_found_and_not_served() {
    let world = World::open();
    let owner = world.owner();
    let id = owner.has_document("/v1/documents", JPEG, &jpeg(30, 40, &[]));
    let flip = "UPDATE document_files SET bytes = set_bit(bytes, 99, 1 - get_bit(bytes, 99))";
    // The control: neither the owner's log-in nor the sum lets it through while the fences stand.
    assert!(world.try_as_superuser(flip).is_err());
    assert_eq!(owner.fetches(&id, &[]).0, 200);
    assert!(world.verdicts().iter().all(|verdict| verdict.holds()));
    world
        .try_as_superuser(&format!(
            "ALTER TABLE document_files DISABLE TRIGGER USER; \
             ALTER TABLE document_files DROP CONSTRAINT document_files_are_what_they_were; {flip}"
        ))
        .unwrap();
    let (status, headers, body) = owner.fetches(&id, &[]);
    let problem: Value = serde_json::from_slice(&body).unwrap();
    assert_eq!((status, problem["type"].as_str().unwrap()), (500, "/problems/corrupt"));
    assert_eq!(headers["content-type"], "application/problem+json");
    assert_eq!(owner.get("/problems/corrupt").status, 200, "its type leads to a page");
    let breaches: Vec<_> = world.verdicts().into_iter().flat_map(|verdict| verdict.breaches).collect();
    assert_eq!(breaches.len(), 1);
    assert_eq!(breaches[0].row.as_deref(), Some(format!("document {id}").as_str()));
}

#[test]
fn a_stranger_neither_sees_nor_attaches_the_documents_of_others() {
    let world = World::open();
    let (owner, stranger) = (world.owner(), world.stranger());
    let id = owner.has_document("/v1/documents", JPEG, &jpeg(30, 40, &[]));
    assert_eq!(stranger.fetches(&id, &[]).0, 404);
    assert_eq!(stranger.get(&format!("/v1/documents/{id}")).status, 404);
    let own = stranger.makes("/v1/purchases", receipt(&stranger, json!({})));
    stranger.is_refused(404, &format!("/v1/documents/{id}/attachments"), json!({ "record": own }));
    let named = receipt(&stranger, json!({ "documents": [id] }));
    let refused = stranger.is_refused(422, "/v1/purchases", named);
    assert!(refused.error_at("/documents/0").contains("these books have no documents"));
    assert_eq!(world.nobody().sends("/v1/documents", JPEG, &jpeg(30, 40, &[])).status, 401);
    // The same bytes in other books are another file: nobody learns what others keep.
    let mine = stranger.sends("/v1/documents", JPEG, &jpeg(30, 40, &[])).json();
    assert_eq!(mine["notes"].as_array().unwrap().len(), 1);
}

#[test]
fn a_document_is_not_taken_back_under_what_it_proves() {
    let world = World::open();
    let owner = world.owner();
    let id = owner.has_document("/v1/documents", JPEG, &jpeg(30, 40, &[]));
    let kept = owner.reads(&format!("/v1/documents/records/{id}"));
    assert_eq!((&kept["word"], &kept["kind"]), (&json!("documents"), &json!("document")));
    assert_eq!(kept["record"]["sha256"], owner.reads(&format!("/v1/documents/{id}"))["sha256"]);
    assert_eq!(ids(&owner.reads("/v1/documents/records")), [id]);
}

#[test]
fn pages_of_documents_follow_each_other() {
    let world = World::open();
    let owner = world.owner();
    let mut sent: Vec<_> =
        (1..=5).map(|side| owner.has_document("/v1/documents", JPEG, &jpeg(side, 40, &[]))).collect();
    let mut walked = Vec::new();
    let mut next = Some("/v1/documents?standing=inbox&limit=2".to_owned());
    while let Some(path) = next {
        let page = owner.reads(&path);
        walked.extend(ids(&page));
        next = page["next"].as_str().map(str::to_owned);
    }
    sent.sort();
    assert_eq!(walked, sent);
}
