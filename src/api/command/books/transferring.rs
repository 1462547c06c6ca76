//! `ledgerboard books export` and `ledgerboard books import`: one set of books from one server to another.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use uuid::Uuid;

use super::super::choosing::chosen_by_id;
use super::super::{Told, plain};
use crate::api::saying::{remark, say};
use crate::api::setup::{self, Opened, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::ids::BooksId;
use crate::store::audit::Act;
use crate::store::backup::{self, BackupFile, Export, Imported, OnlyBooks, Recipient};

#[derive(Debug, Args)]
pub(in crate::api::command) struct ExportAsked {
    /// The id of the books; 'ledgerboard books list' shows it.
    #[arg(long)]
    books_id: Uuid,
    /// The file to write.
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Encrypts the file to this public key in the age format (age1...); may be given several times.
    #[arg(long, env = "LEDGERBOARD_BACKUP_RECIPIENT", value_delimiter = ',')]
    recipient: Vec<Recipient>,
}

#[derive(Debug, Args)]
pub(in crate::api::command) struct ImportAsked {
    /// The file that 'ledgerboard books export' wrote.
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    /// The file with the private key of an encrypted export, as age-keygen writes it.
    #[arg(long, env = "LEDGERBOARD_BACKUP_IDENTITY")]
    identity: Option<PathBuf>,
}

pub(super) async fn export(
    whereabouts: &Whereabouts,
    asked: &ExportAsked,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    if asked.to.is_dir() || asked.to.as_os_str().as_encoded_bytes().ends_with(b"/") {
        // Among backups it would count as one of them, and be deleted in its turn.
        let told =
            format!("{} is a folder, and an export goes to a file: give --to FILE", asked.to.display());
        return Err(told.into());
    }
    let opened = setup::open(whereabouts, stop).await?;
    let done = stop.unless_told(exported(&opened, asked)).await;
    opened.close().await?;
    done?.map(|()| ExitCode::SUCCESS)
}

async fn exported(opened: &Opened, asked: &ExportAsked) -> Result<(), Told> {
    let found = chosen_by_id(&opened.database, asked.books_id).await?;
    let (id, name) = (found.books_id, plain(&found.name));
    let progress = |line: &str| remark(line);
    let taken =
        backup::export(&opened.owner_url, &asked.to, BooksId(id), &asked.recipient, &progress).await?;
    let (file, rows) = (taken.path.display(), taken.manifest.rows());
    let taken_at = taken.manifest.header.taken_at.to_rfc3339();
    say(format_args!(
        "exported {name} ({id}) as of {taken_at} to {file} ({} bytes, {rows} rows)",
        taken.size
    ));
    for books in &taken.manifest.books {
        say(format_args!("last entry {}, SHA-256 {}", books.head.number, books.head.hash));
    }
    match taken.manifest.header.only_books {
        Some(OnlyBooks { moved_to: Some(to), .. }) => say(format_args!(
            "next: copy the file to the server at {to}, run 'ledgerboard books import --from FILE' there, and delete \
             the file: it holds everything that is in the books"
        )),
        _ => remark(format_args!(
            "warning: {name} ({id}) goes on taking changes here, and what is changed after {taken_at} is not in the \
             file. To move the books, mark them first and export them then: ledgerboard books moved --books-id {id} \
             --to https://new.address"
        )),
    }
    Ok(())
}

pub(super) async fn import(
    whereabouts: &Whereabouts,
    asked: &ImportAsked,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let file = BackupFile { path: asked.from.clone(), identity: asked.identity.clone() };
    // Before anything is started or made, so that a bad file leaves no trace.
    let export = backup::checked_export(&file)?;
    let header = &export.manifest.header;
    remark(format_args!(
        "{} is whole: the books {}, exported at {} by Ledgerboard {} on PostgreSQL {}, {} rows",
        asked.from.display(),
        export.only.id,
        header.taken_at.to_rfc3339(),
        header.program,
        header.postgresql,
        export.manifest.rows()
    ));
    let opened = setup::open(whereabouts, stop).await?;
    let progress = |line: &str| remark(line);
    let act = Act::outside("ledgerboard books import");
    let work = backup::import(&opened.owner_url, &export, &act, &progress);
    // Given up, it leaves nothing: the server takes back what a session that ends had not committed.
    let done = stop.unless_told(work).await;
    opened.close().await?;
    tell(&export, &done??);
    Ok(ExitCode::SUCCESS)
}

fn tell(export: &Export, imported: &Imported) {
    let (id, name, head) = (export.only.id, plain(&imported.name), imported.head);
    say(format_args!("imported {name} ({id}): {} rows, verified, and open to changes here", imported.rows));
    say(format_args!("last entry {}, SHA-256 {}", head.number, head.hash));
    match &export.only.moved_to {
        Some(to) => say(format_args!(
            "next: send their clients to this server; the old one names {to} to everybody who sends it changes"
        )),
        None => {
            let taken_at = export.manifest.header.taken_at.to_rfc3339();
            say(format_args!(
                "next: send their clients to this server. They were not marked as moved when they were exported, so \
                 what was changed on the old server after {taken_at} is missing here; mark them there, so that they \
                 are changed in one place: ledgerboard books moved --books-id {id} --to ADDRESS"
            ));
        }
    }
}
