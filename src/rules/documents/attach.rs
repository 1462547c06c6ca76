//! A document proves a record.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::DocumentFinding;
use crate::rules::ids::{DocumentId, PartyId, RecordId};
use crate::rules::recording::{Recording, Word};
use crate::rules::refusal::{Findings, Refusal};
use crate::rules::rows::{DocumentAttachment, DocumentOnHand, Proved, Row};

/// Which record a document proves.
#[derive(Clone, Copy, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAttachment {
    pub record: RecordId,
}

/// A record that is to be proved.
#[derive(Clone, Debug)]
pub struct RecordToProve {
    pub id: RecordId,
    pub word: Word,
    pub date: NaiveDate,
    pub party: Option<PartyId>,
    pub text: String,
    /// The record that took it back.
    pub taken_back: Option<RecordId>,
}

/// What the rules must know of the two.
#[derive(Clone, Debug)]
pub struct AttachFacts {
    pub document: DocumentOnHand,
    pub record: RecordToProve,
    /// The records that the document proves so far.
    pub proves: Vec<RecordId>,
}

/// # Errors
/// The record was taken back, or is a document itself.
pub(super) fn can_be_proved(record: &RecordToProve) -> Result<(), DocumentFinding> {
    match record.taken_back {
        _ if record.word == Word::Documents => Err(DocumentFinding::ProvesItself),
        Some(by) => Err(DocumentFinding::TakenBack { what: "record", by }),
        None => Ok(()),
    }
}

pub(super) fn row(document: DocumentId, record: &RecordToProve) -> Row {
    Row::DocumentAttachment(DocumentAttachment { document, proves: Proved::Record(record.id) })
}

/// Attaches a document to a record. Nothing is posted: a closed period is not in its way. The record may be taken back
/// later; the document then proves nothing and is in the inbox again.
/// # Errors
/// [`DocumentFinding`], that of the record at `/record`.
pub fn attach(facts: &AttachFacts) -> Result<Recording, Refusal> {
    let (document, record) = (&facts.document, &facts.record);
    let mut findings = Findings::new();
    if let Some(by) = document.taken_back {
        findings.add(DocumentFinding::TakenBack { what: "document", by });
    }
    findings.keep(can_be_proved(record).map_err(|why| Refusal::new("/record", why)));
    if facts.proves.contains(&record.id) {
        let why = DocumentFinding::AttachedAlready { document: document.id };
        findings.add(Refusal::new("/record", why));
    }
    findings.or_refuse()?;
    let text = format!("{} proves: {}", document.text, record.text);
    let mut recording = Recording::new(Word::Documents, "attachment", record.date, text);
    recording.party = record.party;
    recording.depends_on.push(document.record);
    recording.rows.push(row(document.id, record));
    if !facts.proves.is_empty() {
        recording.notes.push(format!("it proves {} other records as well", facts.proves.len()));
    }
    Ok(recording)
}
