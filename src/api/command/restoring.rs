//! `ledgerboard restore`: a backup into an empty place, verified before it counts as done.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::verifying::holds;
use super::{Places, Told};
use crate::api::saying::{remark, say};
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::ids::BooksId;
use crate::store::backup::{self, BackupError, BackupFile, Manifest};
use crate::store::cluster::{Reached, Until};
use crate::store::connect::{Database, DatabaseSettings};
use crate::store::versions::mark_verified;

#[derive(Debug, Args)]
pub(super) struct Restore {
    #[command(flatten)]
    places: Places,
    /// The backup to load, or the folder of an archive (see 'ledgerboard archive').
    #[arg(long)]
    from: PathBuf,
    /// With an archive: the moment that the books shall be as they were at, such as 2026-12-01T10:00:00Z, or `latest`.
    #[arg(long)]
    until: Option<Until>,
    /// The file with the private key of an encrypted backup, as age-keygen writes it.
    #[arg(long, env = "LEDGERBOARD_BACKUP_IDENTITY")]
    identity: Option<PathBuf>,
}

pub(super) async fn restore(asked: &Restore, stop: &Stop) -> Result<ExitCode, Told> {
    let from = asked.from.display();
    match (asked.from.is_dir(), asked.until) {
        (true, Some(until)) => return recover(asked, until, stop).await,
        (true, None) => {
            let told = format!(
                "{from} is a folder: to recover an archive, say until which moment (--until 2026-12-01T10:00:00Z, or \
                 --until latest); to restore a backup, name the file"
            );
            return Err(told.into());
        }
        (false, Some(_)) => {
            let told = format!(
                "--until needs the folder of an archive, and {from} is none: a backup holds one moment, so leave --until \
                 out, or name the folder that 'ledgerboard archive --to' was given"
            );
            return Err(told.into());
        }
        (false, None) => {}
    }
    let file = BackupFile { path: asked.from.clone(), identity: asked.identity.clone() };
    // Before anything is started or made, so that a bad file leaves no trace.
    let manifest = backup::checked(&file)?;
    let header = &manifest.header;
    remark(format_args!(
        "{} is whole: taken at {} by Ledgerboard {} on PostgreSQL {}, {} rows, {} set(s) of books",
        asked.from.display(),
        header.taken_at.to_rfc3339(),
        header.program,
        header.postgresql,
        manifest.rows(),
        manifest.books.len()
    ));
    let reached = setup::reach(&Whereabouts::from(&asked.places), stop).await?;
    let done = restored(&file, &manifest, &reached.settings, stop).await;
    reached.close().await?;
    done?;
    say(format_args!("restored {} set(s) of books; every one of them was verified", manifest.books.len()));
    Ok(ExitCode::SUCCESS)
}

/// The books of an archive as they were at a moment.
async fn recover(asked: &Restore, until: Until, stop: &Stop) -> Result<ExitCode, Told> {
    let whereabouts = Whereabouts::from(&asked.places);
    remark("unpacking a base backup and replaying the log; this may take a while");
    let recovered = setup::recovered(&whereabouts, &asked.from, until, stop).await?;
    let last = recovered.last_change.map_or_else(
        || format!("what the base backup of {} holds", recovered.base.finished_at.to_rfc3339()),
        |at| format!("the change of {}", at.to_rfc3339()),
    );
    remark(format_args!("recovered up to {last}"));
    if let (Until::Moment(until), Reached::TheEndOfTheArchive) = (until, recovered.reached) {
        remark(format_args!(
            "ledgerboard: the archive holds nothing later, so it may lack changes made shortly before {}",
            until.to_rfc3339()
        ));
    }
    let opened = setup::open(&whereabouts, stop).await?;
    let verified = stop.unless_told(all_hold(&opened.database)).await;
    opened.close().await?;
    let books = verified??;
    say(format_args!(
        "recovered {books} set(s) of books in {}; every one of them was verified",
        recovered.folder.display()
    ));
    Ok(ExitCode::SUCCESS)
}

/// How many sets of books there are, all of which hold.
async fn all_hold(database: &Database) -> Result<usize, Told> {
    let listed = database.books_on_this_server().await?;
    for books in &listed {
        let (holds, head) = holds(database, BooksId(books.books_id)).await?;
        if !holds {
            let told = format!("the books {} do not verify: 'ledgerboard verify' says why", books.books_id);
            return Err(told.into());
        }
        remark(format_args!(
            "books {}: verified, last entry {}, SHA-256 {}",
            books.books_id, head.number, head.hash
        ));
    }
    Ok(listed.len())
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
        remark(format_args!("ledgerboard: the database could not be emptied again: {error}"));
    }
    loaded
}

async fn loaded_and_verified(
    file: &BackupFile,
    manifest: &Manifest,
    settings: &DatabaseSettings,
) -> Result<(), Told> {
    let progress = |line: &str| remark(line);
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
        remark(format_args!(
            "books {}: verified, last entry {}, SHA-256 {}",
            books.id, head.number, head.hash
        ));
    }
    mark_verified(&settings.owner_url).await?;
    Ok(())
}
