//! A file comes in.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{BOOKS_LIMIT, DocumentFinding, PIXELS_LIMIT, RecordToProve, attach};
use crate::rules::ids::{DocumentId, RecordId};
use crate::rules::recording::{Pen, Recording, Word};
use crate::rules::refusal::{Findings, Refusal};
use crate::rules::rows::{Document, DocumentKind, FileBytes, Holding, Location, Pixels, Row};

/// A file as it was found to be; kept with its record, without the bytes.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct NewDocument {
    /// The day the service had it.
    pub received_on: NaiveDate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What the request said it was.
    pub stated: DocumentKind,
    /// What its content is.
    pub kind: DocumentKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pixels: Option<Pixels>,
    pub location: Location,
    /// What a PDF holds beside its pages.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<Holding>,
    /// How many bytes behind the end of the picture were left away.
    pub cut_off: usize,
    /// Of what is kept, in hexadecimal.
    pub sha256: String,
    /// The record that it proves; without one it waits in the inbox.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordId>,
    #[serde(skip)]
    pub bytes: FileBytes,
}

/// The same bytes, sent before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SameFile {
    pub id: DocumentId,
    pub received_on: NaiveDate,
}

/// Takes a file in. Nothing is posted: a closed period is not in its way.
/// # Errors
/// [`DocumentFinding`] about the file, and those of what it is to prove at `/record`.
pub fn receive(
    pen: &mut Pen<'_>,
    kept: u64,
    same: Option<SameFile>,
    proves: Option<&RecordToProve>,
    new: &NewDocument,
) -> Result<Recording, Refusal> {
    let mut findings = Findings::new();
    if new.stated != new.kind {
        findings.add(DocumentFinding::OtherThanStated { stated: new.stated, found: new.kind });
    }
    if let Some(pixels) = new.pixels.filter(|pixels| pixels.count() > PIXELS_LIMIT) {
        findings.add(DocumentFinding::TooManyPixels { pixels });
    }
    // Bytes that are kept already take no more room.
    let more = if same.is_some() { 0 } else { u64::try_from(new.bytes.0.len()).unwrap_or(u64::MAX) };
    if kept.saturating_add(more) > BOOKS_LIMIT {
        findings.add(DocumentFinding::NoRoom { kept, more });
    }
    if let Some(record) = proves {
        findings.keep(attach::can_be_proved(record).map_err(|why| Refusal::new("/record", why)));
    }
    findings.or_refuse()?;
    let id = DocumentId(pen.ids.next());
    let text = new.name.clone().unwrap_or_else(|| new.kind.as_str().to_owned());
    let mut recording = Recording::new(Word::Documents, "document", new.received_on, text);
    recording.rows.push(Row::Document(Document {
        id,
        name: new.name.clone(),
        kind: new.kind,
        pixels: new.pixels,
        location: new.location,
        received_on: new.received_on,
        sum: new.bytes.sum(),
        bytes: new.bytes.clone(),
    }));
    if let Some(record) = proves {
        recording.rows.push(attach::row(id, record));
        recording.party = record.party;
    }
    recording.notes = notes(same, proves, new);
    Ok(recording)
}

fn notes(same: Option<SameFile>, proves: Option<&RecordToProve>, new: &NewDocument) -> Vec<String> {
    let mut notes = vec![match proves {
        Some(record) => format!("it proves the record {} of {}: {}", record.word, record.date, record.text),
        None => "it waits in the inbox; name it in the purchase it proves, or attach it".to_owned(),
    }];
    match new.location {
        Location::None => {}
        Location::Removed => notes.push(
            "what can say where the picture was taken was removed from the file; its pixels are unchanged"
                .to_owned(),
        ),
        Location::Present => notes.push(
            "the file says where the picture was taken and is kept as it came; whoever gets it learns the place"
                .to_owned(),
        ),
        Location::Unknown => notes.push(
            "the file is kept as it came; pictures and notes inside it can say where they were made".to_owned(),
        ),
    }
    notes.extend(new.holds.iter().map(|one| held(*one).to_owned()));
    if new.cut_off > 0 {
        notes.push(format!("{} bytes behind the end of the picture were left away", new.cut_off));
    }
    if let Some(same) = same {
        notes.push(format!(
            "the same file came on {} as the document {}; its bytes are kept once",
            same.received_on, same.id
        ));
    }
    notes
}

const fn held(one: Holding) -> &'static str {
    match one {
        Holding::Script => "the PDF holds a script; open it only in a reader that does not run scripts",
        Holding::Action => "the PDF starts an action when it is opened or used; open it with care",
        Holding::EmbeddedFile => "the PDF holds another file; nobody looked into that file",
        Holding::Archive => "the PDF holds an archive, or data behind its end; nobody looked into that",
        Holding::Sealed => {
            "parts of the PDF are encrypted or packed, so nobody could look for scripts in them"
        }
    }
}
