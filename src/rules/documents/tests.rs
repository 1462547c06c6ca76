use proptest::prelude::*;
use uuid::Uuid;

use super::*;
use crate::rules::recording::{Recording, Word};
use crate::rules::refusal::Refusal;
use crate::rules::rows::{DocumentOnHand, FileBytes, Location, Proved, Row};
use crate::rules::trial::{books, day, findings, party, write, write_in};

fn picture() -> NewDocument {
    let bytes = FileBytes(b"a picture of a receipt".as_slice().into());
    NewDocument {
        received_on: day("2025-03-04"),
        name: Some("till.jpg".to_owned()),
        stated: DocumentKind::Jpeg,
        kind: DocumentKind::Jpeg,
        pixels: Some(Pixels { width: 3000, height: 4000 }),
        location: Location::None,
        holds: Vec::new(),
        cut_off: 0,
        sha256: bytes.sum().to_string(),
        record: None,
        bytes,
    }
}

fn receipt() -> RecordToProve {
    RecordToProve {
        id: RecordId(Uuid::from_u128(40)),
        word: Word::Purchases,
        date: day("2025-03-01"),
        party: Some(party(1)),
        text: "pine boards".to_owned(),
        taken_back: None,
    }
}

fn came(new: &NewDocument) -> Result<Recording, Refusal> {
    write(|pen| receive(pen, 0, None, None, new))
}

fn on_hand() -> DocumentOnHand {
    DocumentOnHand {
        id: DocumentId(Uuid::from_u128(1)),
        record: RecordId(Uuid::from_u128(1)),
        text: "till.jpg".to_owned(),
        taken_back: None,
    }
}

fn attached(proves: Vec<RecordId>, record: RecordToProve) -> Result<Recording, Refusal> {
    attach(&AttachFacts { document: on_hand(), record, proves })
}

#[test]
fn a_picture_waits_in_the_inbox_and_posts_nothing() {
    let recording = came(&picture()).unwrap();
    assert!(recording.entries.is_empty() && recording.sources.is_empty());
    assert_eq!(recording.text, "till.jpg");
    assert_eq!(recording.notes, ["it waits in the inbox; name it in the purchase it proves, or attach it"]);
    let [Row::Document(document)] = recording.rows.as_slice() else { panic!("{:?}", recording.rows) };
    assert_eq!(document.received_on, day("2025-03-04"));
    assert_eq!(document.pixels, Some(Pixels { width: 3000, height: 4000 }));
}

// FIPS 180-4 examples (SHA-256 of "abc"), from memory.
#[test]
fn a_file_is_known_by_the_published_sum_of_its_bytes() {
    let sum = FileBytes(b"abc".as_slice().into()).sum();
    assert_eq!(sum.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

#[test]
fn a_picture_sent_with_the_receipt_it_proves_is_attached_at_once() {
    let recording = write(|pen| receive(pen, 0, None, Some(&receipt()), &picture())).unwrap();
    let attachments: Vec<_> = recording
        .rows
        .iter()
        .filter_map(|row| if let Row::DocumentAttachment(one) = row { Some(one.proves) } else { None })
        .collect();
    assert_eq!(attachments, [Proved::Record(receipt().id)]);
    assert_eq!(recording.party, Some(party(1)));
    assert_eq!(recording.notes, ["it proves the record purchases of 2025-03-01: pine boards"]);
}

#[test]
fn a_closed_period_is_not_in_the_way_of_a_late_receipt() {
    let mut closed = books();
    closed.first_open = day("2026-01-01");
    assert!(write_in(&closed, |pen| receive(pen, 0, None, Some(&receipt()), &picture())).is_ok());
}

#[test]
fn what_the_content_is_counts_and_not_what_the_request_says() {
    let refused = came(&NewDocument { stated: DocumentKind::Pdf, ..picture() });
    assert_eq!(findings(refused), [": the request says application/pdf, and the content is image/jpeg"]);
}

#[test]
fn fifty_million_pixels_are_taken_and_one_row_more_is_not() {
    let of_height = |height| NewDocument { pixels: Some(Pixels { width: 5000, height }), ..picture() };
    assert!(came(&of_height(10_000)).is_ok());
    assert_eq!(
        findings(came(&of_height(10_001))),
        [": the picture has 5000 by 10001 pixels; 50 million are the most"]
    );
    // Two sides of 32 bits do not wrap around to something small.
    let vast = Pixels { width: u32::MAX, height: u32::MAX };
    assert!(came(&NewDocument { pixels: Some(vast), ..picture() }).is_err());
}

#[test]
fn files_beyond_the_room_of_the_books_are_refused_unless_they_are_kept_already() {
    let (new, same) = (picture(), SameFile { id: on_hand().id, received_on: day("2025-02-01") });
    let length = u64::try_from(new.bytes.0.len()).unwrap();
    let kept = |kept, same| write(|pen| receive(pen, kept, same, None, &new));
    assert!(kept(BOOKS_LIMIT - length, None).is_ok());
    assert_eq!(
        findings(kept(BOOKS_LIMIT - length + 1, None)),
        [": the files of these books come to 5120 MiB, and this one of 0.1 MiB would pass 5120 MiB"]
    );
    let again = kept(BOOKS_LIMIT, Some(same)).unwrap();
    assert_eq!(
        again.notes.last().unwrap(),
        "the same file came on 2025-02-01 as the document 00000000-0000-0000-0000-000000000001; its bytes are \
         kept once"
    );
}

#[test]
fn what_was_done_to_the_file_is_said() {
    let noted = |location, cut_off| {
        let recording = came(&NewDocument { location, cut_off, ..picture() }).unwrap();
        recording.notes[1..].join("; ")
    };
    assert_eq!(noted(Location::None, 0), "");
    assert_eq!(
        noted(Location::Removed, 812),
        "what can say where the picture was taken was removed from the file; its pixels are unchanged; 812 bytes \
         behind the end of the picture were left away"
    );
    assert!(noted(Location::Present, 0).starts_with("the file says where the picture was taken"));
    assert!(
        noted(Location::Unknown, 0).starts_with("the file is kept as it came; pictures and notes inside it")
    );
}

#[test]
fn a_document_is_attached_to_the_record_it_proves() {
    let recording = attached(Vec::new(), receipt()).unwrap();
    assert_eq!(recording.text, "till.jpg proves: pine boards");
    assert_eq!(recording.date, day("2025-03-01"));
    // The document can not be taken back under it; the receipt can, and the document waits again.
    assert_eq!(recording.depends_on, [on_hand().record]);
    let two = attached(vec![RecordId(Uuid::from_u128(7))], receipt()).unwrap();
    assert_eq!(two.notes, ["it proves 1 other records as well"]);
}

#[test]
fn a_document_is_attached_once_and_only_to_what_stands() {
    let said = findings(attached(vec![receipt().id], receipt()));
    assert_eq!(
        said,
        ["/record: the document 00000000-0000-0000-0000-000000000001 proves that record already"]
    );
    let by = RecordId(Uuid::from_u128(9));
    let gone = RecordToProve { taken_back: Some(by), ..receipt() };
    assert_eq!(
        findings(attached(Vec::new(), gone)),
        ["/record: the record was taken back by the record 00000000-0000-0000-0000-000000000009"]
    );
    let itself = RecordToProve { word: Word::Documents, ..receipt() };
    assert_eq!(
        findings(attached(Vec::new(), itself)),
        ["/record: a document can not prove that a document came"]
    );
    let document = DocumentOnHand { taken_back: Some(by), ..on_hand() };
    let refused = attach(&AttachFacts { document, record: receipt(), proves: Vec::new() });
    assert_eq!(
        findings(refused),
        [": the document was taken back by the record 00000000-0000-0000-0000-000000000009"]
    );
}

proptest! {
    #[test]
    fn a_picture_is_refused_exactly_where_it_has_too_many_pixels(width in 1_u32.., height in 1_u32..) {
        let taken = came(&NewDocument { pixels: Some(Pixels { width, height }), ..picture() });
        let most = u128::from(width) * u128::from(height) <= u128::from(PIXELS_LIMIT);
        prop_assert_eq!(taken.is_ok(), most);
    }
}
