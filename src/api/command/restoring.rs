//! `ledgerboard restore`: a backup into an empty place, verified before it counts as done.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::verifying::holds;
use super::{Places, Told};
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::ids::BooksId;
use crate::store::backup::{self, BackupError, BackupFile, Manifest};
use crate::store::connect::{Database, DatabaseSettings};

#[derive(Debug, Args)]
pub(super) struct Restore {
    #[command(flatten)]
    places: Places,
    /// The backup to load.
    #[arg(long)]
    from: PathBuf,
    /// The file with the private key of an encrypted backup, as age-keygen writes it.
    #[arg(long, env = "LEDGERBOARD_BACKUP_IDENTITY")]
    identity: Option<PathBuf>,
}

pub(super) async fn restore(asked: &Restore, stop: &Stop) -> Result<ExitCode, Told> {
    let file = BackupFile { path: asked.from.clone(), identity: asked.identity.clone() };
    // Before anything is started or made, so that a bad file leaves no trace.
    let manifest = backup::checked(&file)?;
    let header = &manifest.header;
    eprintln!(
        "{} is whole: taken at {} by Ledgerboard {} on PostgreSQL {}, {} rows, {} set(s) of books",
        asked.from.display(),
        header.taken_at.to_rfc3339(),
        header.program,
        header.postgresql,
        manifest.rows(),
        manifest.books.len()
    );
    let reached = setup::reach(&Whereabouts::from(&asked.places), stop).await?;
    let done = restored(&file, &manifest, &reached.settings, stop).await;
    reached.close().await?;
    done?;
    println!("restored {} set(s) of books; every one of them was verified", manifest.books.len());
    Ok(ExitCode::SUCCESS)
}

async fn restored(
    file: &BackupFile,
    manifest: &Manifest,
    settings: &DatabaseSettings,
    stop: &Stop,
) -> Result<(), Told> {
    backup::insist_on_empty(&settings.owner_url).await?;
    let loaded = match stop.unless_told(loaded_and_verified(file, manifest, settings)).await {
        Ok(loaded) => loaded,
        Err(interrupted) => Err(interrupted.into()),
    };
    if loaded.is_err()
        && let Err(error) = backup::clear(&settings.owner_url).await
    {
        eprintln!("ledgerboard: the database could not be emptied again: {error}");
    }
    loaded
}

async fn loaded_and_verified(
    file: &BackupFile,
    manifest: &Manifest,
    settings: &DatabaseSettings,
) -> Result<(), Told> {
    let progress = |line: &str| eprintln!("{line}");
    backup::load(&settings.owner_url, file, manifest, &progress).await?;
    let database = Database::open(settings).await?;
    let there = database.books_on_this_server().await?.len();
    if there != manifest.books.len() {
        let told = format!("{there} sets of books instead of {}", manifest.books.len());
        return Err(BackupError::Differs(told).into());
    }
    for books in &manifest.books {
        let (holds, head) = holds(&database, BooksId(books.id)).await?;
        if head != books.head {
            let (is, was) = (head.hash, books.head.hash);
            let told = format!("the chain of books {} ends in {is} instead of {was}", books.id);
            return Err(BackupError::Differs(told).into());
        }
        if !holds {
            let told = format!("the books {} do not verify", books.id);
            return Err(BackupError::Differs(told).into());
        }
        eprintln!("books {}: verified, last entry {}, SHA-256 {}", books.id, head.number, head.hash);
    }
    Ok(())
}
