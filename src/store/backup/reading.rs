//! Reads the file from its beginning to its end, and holds everything in it to the manifest.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::{Path, PathBuf};

use age::{DecryptError, Decryptor, IdentityFile};
use flate2::read::GzDecoder;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use tar::{Archive, Entry};

use super::error::BackupError;
use super::{
    HEADER_ENTRY, Header, MANIFEST_ENTRY, Manifest, NEWEST, ONE_SET_OF_BOOKS, PIECE, TABLES_FOLDER,
    TableInBackup,
};
use crate::rules::chain::Hash;

const GZIP: &[u8] = &[0x1f, 0x8b];
const AGE: &[u8] = b"age-encryption.org/v1";
/// A manifest of a million sets of books is a quarter of that; what claims to be more is not ours.
const JSON_LIMIT: u64 = 1 << 30;

/// A backup file, and the file with the key that decrypts it, if it is encrypted.
#[derive(Clone, Debug)]
pub struct BackupFile {
    pub path: PathBuf,
    pub identity: Option<PathBuf>,
}

/// A run of a table's COPY text, in order.
pub(super) struct Piece {
    pub(super) table: String,
    pub(super) bytes: Vec<u8>,
}

/// What was counted of a table while it was read.
#[derive(Default)]
struct Counted {
    rows: u64,
    bytes: u64,
    sum: Sha256,
}

impl BackupFile {
    /// Hands every piece to `each`, in order, and returns the manifest once everything was held to it.
    pub(super) fn read(
        &self,
        mut each: impl FnMut(Piece) -> Result<(), BackupError>,
    ) -> Result<Manifest, BackupError> {
        let unreadable = BackupError::unreadable(&self.path);
        let mut archive = Archive::new(GzDecoder::new(self.opened()?));
        let mut counted: BTreeMap<String, Counted> = BTreeMap::new();
        let (mut header, mut manifest) = (None::<Header>, None::<Manifest>);
        for entry in archive.entries().map_err(&unreadable)? {
            let mut entry = entry.map_err(&unreadable)?;
            let name = entry.path().map_err(&unreadable)?.to_string_lossy().into_owned();
            if manifest.is_some() {
                return Err(self.damaged(format!("{name} follows the manifest")));
            }
            if header.is_none() {
                header = Some(self.header(&name, &mut entry)?);
            } else if name == MANIFEST_ENTRY {
                manifest = Some(self.json(&mut entry)?);
            } else {
                let piece = self.piece(&name, &mut entry)?;
                let table = counted.entry(piece.table.clone()).or_default();
                table.sum.update(&piece.bytes);
                table.rows += u64::try_from(piece.bytes.iter().filter(|byte| **byte == b'\n').count())
                    .unwrap_or_default();
                table.bytes += u64::try_from(piece.bytes.len()).unwrap_or_default();
                each(piece)?;
            }
        }
        // The end of the compressed stream carries its checksum.
        io::copy(&mut archive.into_inner(), &mut io::sink()).map_err(&unreadable)?;
        let missing =
            |found: &str| BackupError::Incomplete { path: self.path.clone(), found: found.to_owned() };
        let header = header.ok_or_else(|| missing("it has no header"))?;
        let manifest = manifest.ok_or_else(|| missing("it has no manifest at its end"))?;
        if manifest.header != header {
            return Err(self.damaged("its header and its manifest differ".to_owned()));
        }
        self.compare(&manifest.tables, counted)?;
        Ok(manifest)
    }

    fn compare(
        &self,
        tables: &[TableInBackup],
        mut counted: BTreeMap<String, Counted>,
    ) -> Result<(), BackupError> {
        for table in tables {
            let found = counted.remove(&table.name).unwrap_or_default();
            let sum = Hash(found.sum.finalize().into());
            if (found.rows, found.bytes, sum) != (table.rows, table.bytes, table.sha256) {
                return Err(self.damaged(format!(
                    "the table {} has {} rows with SHA-256 {sum}, and the manifest says {} rows with {}",
                    table.name, found.rows, table.rows, table.sha256
                )));
            }
        }
        match counted.into_keys().next() {
            Some(table) => Err(self.damaged(format!("the manifest does not name the table {table}"))),
            None => Ok(()),
        }
    }

    fn header(&self, name: &str, entry: &mut Entry<'_, impl Read>) -> Result<Header, BackupError> {
        if name != HEADER_ENTRY {
            let found = format!("its first entry is {name:?} instead of {HEADER_ENTRY}");
            return Err(BackupError::NotABackup { path: self.path.clone(), found });
        }
        let header: Header = self.json(entry)?;
        if header.format > NEWEST {
            let (path, format, program) = (self.path.clone(), header.format, header.program);
            return Err(BackupError::NewerFormat { path, format, known: NEWEST, program });
        }
        if (header.format == ONE_SET_OF_BOOKS) != header.only_books.is_some() {
            let found = format!("its format {} does not fit the books it names", header.format);
            return Err(self.damaged(found));
        }
        Ok(header)
    }

    fn json<T: DeserializeOwned>(&self, entry: &mut Entry<'_, impl Read>) -> Result<T, BackupError> {
        let mut text = Vec::new();
        entry.take(JSON_LIMIT).read_to_end(&mut text).map_err(BackupError::unreadable(&self.path))?;
        serde_json::from_slice(&text).map_err(|error| self.damaged(error.to_string()))
    }

    fn piece(&self, name: &str, entry: &mut Entry<'_, impl Read>) -> Result<Piece, BackupError> {
        let table = name
            .strip_prefix(TABLES_FOLDER)
            .and_then(|rest| rest.strip_prefix('/'))
            .and_then(|rest| rest.split_once('/'))
            .map(|(table, _)| table.to_owned())
            .ok_or_else(|| self.damaged(format!("it has an entry {name:?}, which no backup has")))?;
        let limit = u64::try_from(PIECE).unwrap_or(u64::MAX);
        if entry.size() > limit {
            return Err(self.damaged(format!("{name} has {} bytes instead of at most {limit}", entry.size())));
        }
        let mut bytes = Vec::with_capacity(PIECE);
        entry.read_to_end(&mut bytes).map_err(BackupError::unreadable(&self.path))?;
        Ok(Piece { table, bytes })
    }

    pub(super) fn damaged(&self, found: String) -> BackupError {
        BackupError::Damaged { path: self.path.clone(), found }
    }

    /// The compressed bytes: those of the file, or what they decrypt to.
    fn opened(&self) -> Result<Box<dyn Read>, BackupError> {
        let failed = || BackupError::file("read", &self.path);
        let mut file = File::open(&self.path).map_err(failed())?;
        let mut start = Vec::new();
        let length = u64::try_from(AGE.len()).unwrap_or_default();
        (&mut file).take(length).read_to_end(&mut start).map_err(failed())?;
        file.rewind().map_err(failed())?;
        if start.starts_with(GZIP) {
            return Ok(Box::new(BufReader::new(file)));
        }
        if start != AGE {
            let found = match start.as_slice() {
                [] => "it is empty",
                _ => "it is neither gzip nor age",
            };
            return Err(BackupError::NotABackup { path: self.path.clone(), found: found.to_owned() });
        }
        let Some(identity) = &self.identity else {
            return Err(BackupError::Encrypted { path: self.path.clone() });
        };
        let keys = identities(identity)?;
        let decryptor =
            Decryptor::new_buffered(BufReader::new(file)).map_err(|error| self.locked(error, identity))?;
        let keys = keys.iter().map(|key| -> &dyn age::Identity { key.as_ref() });
        let plain = decryptor.decrypt(keys).map_err(|error| self.locked(error, identity))?;
        Ok(Box::new(plain))
    }

    fn locked(&self, error: DecryptError, identity: &Path) -> BackupError {
        match error {
            DecryptError::Io(error) => BackupError::unreadable(&self.path)(error),
            DecryptError::NoMatchingKeys => {
                BackupError::WrongKey { path: self.path.clone(), identity: identity.to_path_buf() }
            }
            other => self.damaged(other.to_string()),
        }
    }
}

fn identities(path: &Path) -> Result<Vec<Box<dyn age::Identity + Send + Sync>>, BackupError> {
    let file = File::open(path).map_err(BackupError::file("read", path))?;
    let none = || BackupError::NoIdentity { path: path.to_path_buf() };
    let keys = IdentityFile::from_buffer(BufReader::new(file)).ok().ok_or_else(none)?;
    let keys = keys.into_identities().ok().ok_or_else(none)?;
    if keys.is_empty() { Err(none()) } else { Ok(keys) }
}
