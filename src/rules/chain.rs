//! The hash chain: every entry's own SHA-256 over its canonical form and the hash before it, so that a changed
//! row or a cut tail shows.
//!
//! An entry carries the version of the form it was sealed in ([`Form`]): a new version is used for new entries, and the old
//! ones are verified by theirs for ever. The canonical form, version 1, is a run of fields, each written as its length in bytes (decimal), a colon, the
//! bytes in UTF-8, a comma: no text can pass for the field beside it. In this order: `ledgerboard entry 1`; the
//! hash before in hexadecimal; the books' id; the number; the date (ISO 8601); the kind; the text; the record's
//! id; the number of the entry it reverses, or empty; how many postings; and for each posting its line (from 1),
//! account code, amount at the currency's scale, currency, tax class or empty, tax year. Anyone with the journal
//! and a SHA-256 can recompute it without this program.
//!
//! A new version begins with another first field, so that changing the number alone breaks the seal.

use std::fmt;
use std::str::FromStr;

use chrono::NaiveDate;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};
use utoipa::openapi::{RefOr, schema};

use super::ids::{BooksId, RecordId};
use super::journal::{EntryKind, Posting};

#[cfg(test)]
mod tests;

const FIRST_FORM: &str = "ledgerboard entry 1";
const GENESIS_FORM: &str = "ledgerboard books 1";

/// The version of the canonical form that an entry is sealed in. A variant is never changed or removed: whoever wants
/// other bytes adds one, and makes it [`Form::NEWEST`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Form {
    /// The one that this module describes.
    First,
}

impl Form {
    /// What new entries are sealed in.
    pub const NEWEST: Self = Self::First;

    pub const fn number(self) -> i32 {
        match self {
            Self::First => 1,
        }
    }

    /// `None` for one that only a newer version of the program knows.
    pub const fn numbered(number: i32) -> Option<Self> {
        match number {
            1 => Some(Self::First),
            _ => None,
        }
    }
}

/// A SHA-256; 64 lower-case hexadecimal digits on the wire and on paper.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Hash(pub [u8; 32]);

/// The text is not 64 lower-case hexadecimal digits, or the bytes are not 32.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a hash is 32 bytes, written as 64 lower-case hexadecimal digits")]
pub struct NotAHash;

impl Hash {
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// From the bytes a database keeps.
    /// # Errors
    /// [`NotAHash`] unless they are 32.
    pub fn of_bytes(bytes: &[u8]) -> Result<Self, NotAHash> {
        // The length is all that can be wrong, and NotAHash says it.
        bytes.try_into().map(Self).ok().ok_or(NotAHash)
    }
}

impl FromStr for Hash {
    type Err = NotAHash;

    fn from_str(text: &str) -> Result<Self, NotAHash> {
        let digit = |byte: u8| match byte {
            b'0'..=b'9' => Some(byte - b'0'),
            b'a'..=b'f' => Some(byte - b'a' + 10),
            _ => None,
        };
        let bytes: Option<Vec<u8>> = text
            .as_bytes()
            .chunks(2)
            .map(|pair| match pair {
                [high, low] => Some((digit(*high)? << 4) | digit(*low)?),
                _ => None,
            })
            .collect();
        Self::of_bytes(&bytes.ok_or(NotAHash)?)
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(out, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, out)
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from)?.parse().map_err(serde::de::Error::custom)
    }
}

impl utoipa::PartialSchema for Hash {
    fn schema() -> RefOr<schema::Schema> {
        RefOr::T(Schema::Object(
            ObjectBuilder::new()
                .schema_type(SchemaType::new(Type::String))
                .pattern(Some("^[0-9a-f]{64}$"))
                .description(Some("SHA-256 of an entry and everything before it, in hexadecimal"))
                .build(),
        ))
    }
}

impl utoipa::ToSchema for Hash {
    fn name() -> std::borrow::Cow<'static, str> {
        "Hash".into()
    }
}

/// What is sealed of an entry; `postings` in the order of their lines.
#[derive(Clone, Copy, Debug)]
pub struct EntryToSeal<'a> {
    pub form: Form,
    pub books: BooksId,
    /// Counted from 1, without gaps.
    pub number: i64,
    pub date: NaiveDate,
    pub kind: EntryKind,
    pub text: &'a str,
    pub record: RecordId,
    /// The number of the entry it takes back.
    pub reverses: Option<i64>,
    pub postings: &'a [Posting],
}

/// An entry as the books keep it, with its hash. Unlike [`Entry`](super::journal::Entry) it may be out of
/// balance: whoever reads it back has to look.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SealedEntry {
    pub form: Form,
    pub number: i64,
    pub date: NaiveDate,
    pub kind: EntryKind,
    pub text: String,
    pub record: RecordId,
    pub reverses: Option<i64>,
    pub postings: Vec<Posting>,
    pub hash: Hash,
}

impl SealedEntry {
    pub fn to_seal(&self, books: BooksId) -> EntryToSeal<'_> {
        EntryToSeal {
            form: self.form,
            books,
            number: self.number,
            date: self.date,
            kind: self.kind,
            text: &self.text,
            record: self.record,
            reverses: self.reverses,
            postings: &self.postings,
        }
    }
}

/// The last entry of a chain, kept with the books and printed on what is exported: whoever holds an older print
/// can tell whether the books still contain what they contained then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Head {
    /// Zero where there is no entry yet.
    pub number: i64,
    pub hash: Hash,
}

impl Head {
    /// Of books without an entry.
    pub fn of_new_books(books: BooksId) -> Self {
        Self { number: 0, hash: genesis(books) }
    }
}

/// The hash before the first entry: no two books share it.
pub fn genesis(books: BooksId) -> Hash {
    let mut form = CanonicalForm::default();
    form.field(GENESIS_FORM);
    form.field(&books.to_string());
    form.hash()
}

/// The hash of an entry after the one whose hash is `before`, or after [`genesis`] for the first.
pub fn seal(before: &Hash, entry: &EntryToSeal<'_>) -> Hash {
    form_of(before, entry).hash()
}

/// What [`seal`] hashes, as text.
pub fn canonical_form(before: &Hash, entry: &EntryToSeal<'_>) -> String {
    form_of(before, entry).0
}

fn form_of(before: &Hash, entry: &EntryToSeal<'_>) -> CanonicalForm {
    match entry.form {
        Form::First => first_form(before, entry),
    }
}

fn first_form(before: &Hash, entry: &EntryToSeal<'_>) -> CanonicalForm {
    let mut form = CanonicalForm::default();
    form.field(FIRST_FORM);
    form.field(&before.to_string());
    form.field(&entry.books.to_string());
    form.field(&entry.number.to_string());
    form.field(&entry.date.to_string());
    form.field(entry.kind.as_str());
    form.field(entry.text);
    form.field(&entry.record.to_string());
    form.field(&entry.reverses.map(|number| number.to_string()).unwrap_or_default());
    form.field(&entry.postings.len().to_string());
    for (place, posting) in entry.postings.iter().enumerate() {
        form.field(&(place + 1).to_string());
        form.field(&posting.account.code());
        form.field(&posting.amount.to_string());
        form.field(posting.amount.currency().code());
        form.field(posting.class.map_or("", |class| class.as_str()));
        form.field(&posting.tax_year.to_string());
    }
    form
}

/// The text whose bytes are hashed.
#[derive(Default)]
struct CanonicalForm(String);

impl CanonicalForm {
    fn field(&mut self, text: &str) {
        self.0.push_str(&text.len().to_string());
        self.0.push(':');
        self.0.push_str(text);
        self.0.push(',');
    }

    fn hash(&self) -> Hash {
        Hash(Sha256::digest(&self.0).into())
    }
}
