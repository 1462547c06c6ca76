//! What whoever runs several servers does with a whole set of books: list them, mark the ones that moved, and move them.

mod transferring;

use std::process::ExitCode;

use clap::{Args, Subcommand};
use url::Url;
use uuid::Uuid;

use super::Told;
use super::choosing::chosen_by_id;
use crate::api::saying::say;
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::ids::BooksId;
use crate::store::audit::Act;
use crate::store::books::Books;
use crate::store::connect::Database;

#[derive(Debug, Subcommand)]
pub(super) enum BooksCommand {
    /// Lists the books on this server: id, name, and the address of those that moved.
    List,
    /// Marks books as kept on another server: here they are only read from now on.
    Moved(Moved),
    /// Writes one set of books to a file, from which another server takes it in; the service may go on running.
    Export(transferring::ExportAsked),
    /// Takes in the books of an export beside the books that are here, and verifies them; the service may go on running.
    Import(transferring::ImportAsked),
}

#[derive(Debug, Args)]
pub(super) struct Moved {
    /// The id of the books; 'ledgerboard books list' shows it.
    #[arg(long)]
    books_id: Uuid,
    #[command(flatten)]
    direction: Direction,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Direction {
    /// The address where they are kept from now on, such as `https://books-2.example`.
    #[arg(long, value_parser = web_address)]
    to: Option<Url>,
    /// They did not move, or came back: let them take changes here again.
    #[arg(long)]
    back: bool,
}

/// # Errors
/// Not an address that requests could be sent to.
fn web_address(text: &str) -> Result<Url, String> {
    let wanted = "give the whole address, such as https://books-2.example";
    let url = Url::parse(text).map_err(|error| format!("{error}; {wanted}"))?;
    let fits = ["http", "https"].contains(&url.scheme()) && url.has_host() && url.as_str().len() <= 2_000;
    let plain = url.username().is_empty() && url.password().is_none();
    if fits && plain { Ok(url) } else { Err(format!("requests cannot be sent there; {wanted}")) }
}

pub(super) async fn run(
    whereabouts: &Whereabouts,
    command: &BooksCommand,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let moved = match command {
        BooksCommand::Export(asked) => return transferring::export(whereabouts, asked, stop).await,
        BooksCommand::Import(asked) => return transferring::import(whereabouts, asked, stop).await,
        BooksCommand::List => None,
        BooksCommand::Moved(moved) => Some(moved),
    };
    let opened = setup::open(whereabouts, stop).await?;
    let done = match moved {
        None => list(&opened.database).await,
        Some(moved) => mark(&opened.database, moved).await,
    };
    opened.close().await?;
    say(done?);
    Ok(ExitCode::SUCCESS)
}

async fn list(database: &Database) -> Result<String, Told> {
    let listed = database.books_on_this_server().await?;
    if listed.is_empty() {
        return Ok("There are no books on this server yet.".to_owned());
    }
    let mut lines = Vec::with_capacity(listed.len());
    for one in listed {
        let books = Books::of(database.clone(), BooksId(one.books_id));
        let moved_to =
            books.read(async |tx| Ok(tx.card().moved_to.clone())).await.map_err(super::in_words)?;
        let moved = moved_to.map(|to| format!("  moved to {to}")).unwrap_or_default();
        lines.push(format!("{}  {}{moved}", one.books_id, super::plain(&one.name)));
    }
    Ok(lines.join("\n"))
}

async fn mark(database: &Database, moved: &Moved) -> Result<String, Told> {
    let found = chosen_by_id(database, moved.books_id).await?;
    let books = Books::of(database.clone(), BooksId(found.books_id));
    let (id, name) = (found.books_id, super::plain(&found.name));
    match &moved.direction.to {
        Some(to) => {
            books.move_to(&Act::outside("ledgerboard books moved"), to).await?;
            Ok(format!("{name} ({id}) is only read here from now on; changes are sent to {to}"))
        }
        None => {
            books.move_back(&Act::outside("ledgerboard books moved --back")).await?;
            Ok(format!("{name} ({id}) takes changes here again"))
        }
    }
}
