//! Writes the file: tar inside gzip, optionally encrypted, under another name until it is whole.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use age::stream::StreamWriter;
use flate2::Compression;
use flate2::write::GzEncoder;
use serde::Serialize;
use tar::{Builder, EntryType};

use super::destination::partial_of;
use super::error::BackupError;

/// Somebody who can decrypt the backup: an X25519 public key in the age format, `age1...`.
#[derive(Clone)]
pub struct Recipient(age::x25519::Recipient);

impl FromStr for Recipient {
    type Err = BackupError;

    fn from_str(text: &str) -> Result<Self, BackupError> {
        let key = age::x25519::Recipient::from_str(text.trim());
        key.map(Self).map_err(|why| BackupError::NotARecipient { found: text.to_owned(), why })
    }
}

impl std::fmt::Debug for Recipient {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "Recipient({})", self.0)
    }
}

enum Layer {
    Plain(BufWriter<File>),
    Encrypted(StreamWriter<BufWriter<File>>),
}

impl Write for Layer {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Plain(inner) => inner.write(bytes),
            Self::Encrypted(inner) => inner.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Plain(inner) => inner.flush(),
            Self::Encrypted(inner) => inner.flush(),
        }
    }
}

/// A backup under way; dropped unfinished, it leaves nothing behind.
pub(super) struct BackupWriter {
    archive: Option<Builder<GzEncoder<Layer>>>,
    path: PathBuf,
    partial: PathBuf,
    /// Seconds since 1970, for the entries.
    time: u64,
}

impl BackupWriter {
    /// Opens the partial file beside `path`, readable by its owner only.
    pub(super) fn begin(path: &Path, time: u64, recipients: &[Recipient]) -> Result<Self, BackupError> {
        let partial = partial_of(path);
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&partial)
            .map_err(BackupError::file("write", &partial))?;
        let mut writer = Self { archive: None, path: path.to_path_buf(), partial, time };
        let plain = BufWriter::new(file);
        let layer = if recipients.is_empty() {
            Layer::Plain(plain)
        } else {
            let keys = recipients.iter().map(|recipient| -> &dyn age::Recipient { &recipient.0 });
            let sealed = age::Encryptor::with_recipients(keys)
                .map_err(|error| io::Error::other(error.to_string()))
                .and_then(|encryptor| encryptor.wrap_output(plain));
            Layer::Encrypted(sealed.map_err(BackupError::file("encrypt", path))?)
        };
        // The fast level: it is the disk and the database that a backup should wait for.
        writer.archive = Some(Builder::new(GzEncoder::new(layer, Compression::fast())));
        Ok(writer)
    }

    pub(super) fn entry(&mut self, name: &str, bytes: &[u8]) -> Result<(), BackupError> {
        let failed = BackupError::file("write", &self.partial);
        let Some(archive) = self.archive.as_mut() else { return Ok(()) };
        let mut header = tar::Header::new_gnu();
        header.set_entry_type(EntryType::Regular);
        header.set_size(u64::try_from(bytes.len()).unwrap_or(u64::MAX));
        header.set_mode(0o600);
        header.set_mtime(self.time);
        archive.append_data(&mut header, name, bytes).map_err(failed)
    }

    pub(super) fn json(&mut self, name: &str, content: &impl Serialize) -> Result<(), BackupError> {
        let text = serde_json::to_vec_pretty(content).map_err(crate::store::error::StoreError::from)?;
        self.entry(name, &text)
    }

    /// Ends the archive, waits until it is on the disk, and gives it its name. Returns its size in bytes.
    pub(super) fn finish(mut self) -> Result<u64, BackupError> {
        let size = self.end().map_err(BackupError::file("write", &self.partial))?;
        fs::rename(&self.partial, &self.path).map_err(BackupError::file("rename to", &self.path))?;
        if let Some(folder) = self.path.parent() {
            let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
            File::open(folder)
                .and_then(|folder| folder.sync_all())
                .map_err(BackupError::file("sync the folder", folder))?;
        }
        Ok(size)
    }

    fn end(&mut self) -> io::Result<u64> {
        let Some(archive) = self.archive.take() else { return Err(io::Error::other("it is ended already")) };
        let buffered = match archive.into_inner()?.finish()? {
            Layer::Plain(inner) => inner,
            Layer::Encrypted(inner) => inner.finish()?,
        };
        let file = buffered.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()?;
        Ok(file.metadata()?.len())
    }
}

impl Drop for BackupWriter {
    fn drop(&mut self) {
        // After `finish` there is nothing under this name any more.
        if let Err(error) = fs::remove_file(&self.partial)
            && error.kind() != io::ErrorKind::NotFound
        {
            tracing::warn!(%error, "a half-written backup could not be deleted");
        }
    }
}
