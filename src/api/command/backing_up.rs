//! `ledgerboard backup`: all books in one file, from a running service or without one.

use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::{Places, Told};
use crate::api::saying::{remark, say};
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::store::backup::{self, Destination, Recipient};

#[derive(Debug, Args)]
pub(super) struct Backup {
    #[command(flatten)]
    places: Places,
    /// The file to write, or a folder, where every backup gets a name with its time.
    #[arg(long)]
    to: PathBuf,
    /// Deletes all but the newest N backups of the folder once the new one is finished.
    #[arg(long, value_name = "N")]
    keep: Option<NonZeroUsize>,
    /// Encrypts the backup to this public key in the age format (age1...); may be given several times. Keep the private
    /// key on another machine.
    #[arg(long, env = "LEDGERBOARD_BACKUP_RECIPIENT", value_delimiter = ',')]
    recipient: Vec<Recipient>,
}

pub(super) async fn back_up(asked: &Backup, stop: &Stop) -> Result<ExitCode, Told> {
    let destination = Destination::named(&asked.to);
    if asked.keep.is_some() && matches!(destination, Destination::File(_)) {
        let to = asked.to.display();
        let told = format!("--keep needs a folder to keep backups in, and {to} is none: give --to FOLDER/");
        return Err(told.into());
    }
    let reached = setup::reach(&Whereabouts::from(&asked.places), stop).await?;
    let work = backed_up(asked, &destination, &reached.settings.owner_url);
    let done = stop.unless_told(work).await;
    reached.close().await?;
    done?.map(|()| ExitCode::SUCCESS)
}

async fn backed_up(asked: &Backup, destination: &Destination, owner_url: &str) -> Result<(), Told> {
    let progress = |line: &str| remark(line);
    let taken = backup::take(owner_url, destination, &asked.recipient, &progress).await?;
    let manifest = &taken.manifest;
    for books in &manifest.books {
        remark(format_args!(
            "books {}: last entry {}, SHA-256 {}",
            books.id, books.head.number, books.head.hash
        ));
    }
    let (rows, books) = (manifest.rows(), manifest.books.len());
    say(format_args!(
        "{} ({} bytes, {rows} rows, {books} set(s) of books)",
        taken.path.display(),
        taken.size
    ));
    backup::note(owner_url, &taken).await?;
    if let Some(keep) = asked.keep {
        for deleted in destination.keep_newest(keep)? {
            remark(format_args!("deleted the older backup {}", deleted.display()));
        }
    }
    Ok(())
}
