//! The pictures and papers that prove a record.

use std::fmt;
use std::sync::Arc;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;

use crate::rules::ids::{DocumentId, RecordId};
use crate::rules::named::named;

named! {
    /// What a document is, told by its content; the names are the registered media types.
    pub enum DocumentKind {
        Pdf => "application/pdf",
        Jpeg => "image/jpeg",
        Png => "image/png",
        Webp => "image/webp",
        Heic => "image/heic",
    }
}

named! {
    /// Whether a file says where it was made.
    pub enum Location {
        /// Every part of what came is on the list of parts that cannot say so.
        None => "none",
        /// Parts that can say so were removed before it was kept.
        Removed => "removed",
        /// It does: this kind of file is kept as it came.
        Present => "present",
        /// It is kept as it came, and not every part of it can be read.
        Unknown => "unknown",
    }
}

named! {
    /// What a PDF holds beside its pages. A reader may act on it: open such a file with care.
    pub enum Holding {
        /// A program in JavaScript, or a form that can hold one.
        Script => "script",
        /// Something that happens when it is opened or used: a program is started, data is sent or fetched.
        Action => "action",
        /// A file inside the file.
        EmbeddedFile => "embedded_file",
        /// An archive, or other data behind its end.
        Archive => "archive",
        /// Parts that cannot be looked into, since they are encrypted or packed in an unknown way.
        Sealed => "sealed",
    }
}

named! {
    /// Whether a document waits in the inbox or proves a record.
    pub enum DocumentStanding { Inbox => "inbox", Attached => "attached" }
}

/// Width and height.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Pixels {
    /// From side to side.
    #[schema(minimum = 1)]
    pub width: u32,
    /// From top to bottom.
    #[schema(minimum = 1)]
    pub height: u32,
}

impl Pixels {
    pub fn count(self) -> u64 {
        u64::from(self.width) * u64::from(self.height)
    }
}

impl fmt::Display for Pixels {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} by {} pixels", self.width, self.height)
    }
}

/// The bytes of a file, shared and not written out where they are debugged.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct FileBytes(pub Arc<[u8]>);

impl FileBytes {
    pub fn sum(&self) -> FileSum {
        FileSum(Sha256::digest(&self.0).into())
    }
}

impl fmt::Debug for FileBytes {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} bytes", self.0.len())
    }
}

/// SHA-256 of a file (FIPS 180-4), written in hexadecimal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FileSum(pub [u8; 32]);

impl fmt::Display for FileSum {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(out, "{byte:02x}"))
    }
}

/// A file that was taken in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    pub id: DocumentId,
    pub name: Option<String>,
    pub kind: DocumentKind,
    pub pixels: Option<Pixels>,
    pub location: Location,
    pub received_on: NaiveDate,
    pub sum: FileSum,
    pub bytes: FileBytes,
}

/// What a document proves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proved {
    /// The record that is being made.
    ThisRecord,
    Record(RecordId),
}

/// That a document proves a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DocumentAttachment {
    pub document: DocumentId,
    pub proves: Proved,
}

/// A document somebody names, and whether it still stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DocumentOnHand {
    pub id: DocumentId,
    /// The record that took it in.
    pub record: RecordId,
    pub text: String,
    /// The record that took it back.
    pub taken_back: Option<RecordId>,
}
