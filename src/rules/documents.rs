//! Documents: the picture or the PDF that proves a record. It waits in the inbox until it is attached to one.

mod attach;
mod contents;
mod receive;
#[cfg(test)]
mod tests;

use rust_decimal::Decimal;

use super::ids::{DocumentId, RecordId};
use super::refusal::{Explain, Said};
use super::rows::{DocumentKind, Pixels};

pub use attach::{AttachFacts, NewAttachment, RecordToProve, attach};
pub use contents::{Contents, look_at};
pub use receive::{NewDocument, SameFile, receive};

/// The largest file. A page photographed by a phone has 2 to 6 MiB (common practice, no source).
pub const FILE_LIMIT: usize = 10 * 1024 * 1024;

/// The most pixels. A phone's largest pictures have 50 million (common practice, no source).
pub const PIXELS_LIMIT: u64 = 50_000_000;

/// What all files of one set of books may come to: some thousand pictures a year for as long as records are kept.
pub const BOOKS_LIMIT: u64 = 5 * 1024 * 1024 * 1024;

/// Why a file or its attachment is refused.
#[derive(Clone, Debug, PartialEq)]
pub enum DocumentFinding {
    Empty,
    /// It is none of the kinds; named where it is known all the same.
    UnknownKind {
        seems: Option<&'static str>,
    },
    OtherThanStated {
        stated: DocumentKind,
        found: DocumentKind,
    },
    Damaged {
        kind: DocumentKind,
        what: &'static str,
    },
    /// It is two things at once, such as a PDF that is an archive or a page as well.
    TwoThings {
        kind: DocumentKind,
        other: &'static str,
    },
    TooManyPixels {
        pixels: Pixels,
    },
    NoRoom {
        kept: u64,
        more: u64,
    },
    TakenBack {
        what: &'static str,
        by: RecordId,
    },
    AttachedAlready {
        document: DocumentId,
    },
    ProvesItself,
}

impl Explain for DocumentFinding {
    fn say(&self) -> Said {
        match self {
            Self::Empty => Said::invalid("the file is empty", "send the file's bytes as the body"),
            Self::UnknownKind { seems } => Said::invalid(
                match seems {
                    Some(seems) => format!("the content is {seems}, which proves nothing that lasts"),
                    None => "the content is none of the kinds that are kept".to_owned(),
                },
                "send a PDF, or a picture as JPEG, PNG, WebP or HEIC",
            ),
            Self::OtherThanStated { stated, found } => Said::invalid(
                format!("the request says {stated}, and the content is {found}"),
                format!("send it with Content-Type: {found}"),
            ),
            Self::Damaged { kind, what } => Said::invalid(
                format!("the file begins as {kind}, but {what}"),
                "send the whole file again, or take the picture anew",
            ),
            Self::TwoThings { kind, other } => Said::invalid(
                format!("the file is {kind} and {other} at the same time"),
                "print it to a new PDF or take a picture of it, and send that",
            ),
            Self::TooManyPixels { pixels } => Said::invalid(
                format!("the picture has {pixels}; {} million are the most", PIXELS_LIMIT / 1_000_000),
                "send a smaller picture; a receipt can be read with far less",
            ),
            Self::NoRoom { kept, more } => Said::conflict(
                format!(
                    "the files of these books come to {} MiB, and this one of {} MiB would pass {} MiB",
                    mebibytes(*kept),
                    mebibytes(*more),
                    mebibytes(BOOKS_LIMIT)
                ),
                "send smaller pictures, or open new books for the coming years",
            ),
            Self::TakenBack { what, by } => Said::conflict(
                format!("the {what} was taken back by the record {by}"),
                format!("name a {what} that stands"),
            ),
            Self::AttachedAlready { document } => Said::conflict(
                format!("the document {document} proves that record already"),
                "there is nothing left to do",
            ),
            Self::ProvesItself => Said::invalid(
                "a document can not prove that a document came",
                "name the receipt, the sale or the gift that it proves",
            ),
        }
    }
}

/// With one place after the point, rounded up.
fn mebibytes(bytes: u64) -> Decimal {
    (Decimal::from(bytes.saturating_mul(10).div_ceil(1024 * 1024)) / Decimal::TEN).normalize()
}
