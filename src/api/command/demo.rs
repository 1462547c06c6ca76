//! The demo: an invented scenario, loaded through the HTTP API like anyone's records, then read back.

mod loading;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use chrono::{NaiveDate, TimeDelta, Utc};
use clap::Args;

use loading::{Door, load_and_read};

use super::serving::workers;
use super::{Told, serving};
use crate::api::limits::Limits;
use crate::api::saying::say;
use crate::api::serve::{self, Listening, Pages};
use crate::api::setup::{self, Opened, Whereabouts};
use crate::api::stop::Stop;
use crate::api::tls::Wire;
use crate::api::tokens::new_token;
use crate::rules::books::{TaxProfile, TimeZone};
use crate::rules::costing::StartMonth;
use crate::rules::ids::{BooksId, TokenId};
use crate::rules::money::Currency;
use crate::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use crate::rules::tokens::{Scope, end_of};
use crate::store::audit::Act;
use crate::store::books::{Books, NewBooks};
use crate::store::cluster::{self, default_data_dir};
use crate::store::connect::Database;
use crate::store::tokens::TokenToKeep;

/// Marks the demo's books, so that a second run finds them.
const MARK: &str = "demo";
const YEAR: i32 = 2025;
/// The token of a run that is killed, and so does not revoke it, ends after this time.
const TOKEN_LIFE: TimeDelta = TimeDelta::hours(24);

/// Where the demo keeps its books. The variables that name the place of real books do not apply here, so that a demo
/// never loads its records beside them.
#[derive(Debug, Args)]
pub(super) struct DemoPlaces {
    /// Load the demo into a PostgreSQL server of your own.
    #[arg(long)]
    database_url: Option<String>,
    /// The owner's log-in on that server, if the first one is the service's own.
    #[arg(long, requires = "database_url")]
    owner_url: Option<String>,
    /// Where the private server keeps the demo's data; by default a folder beside that of your own books, with `-demo` at
    /// the end of its name.
    #[arg(long)]
    data_dir: Option<PathBuf>,
    /// The folder with PostgreSQL's programs initdb and postgres.
    #[arg(long, env = "LEDGERBOARD_PG_BIN")]
    pg_bin: Option<PathBuf>,
}

impl DemoPlaces {
    /// # Errors
    /// No data folder is named, and this user has no home folder.
    pub(super) fn whereabouts(&self) -> Result<Whereabouts, Told> {
        let data_dir = match &self.data_dir {
            Some(folder) => folder.clone(),
            None => demo_folder(default_data_dir()?),
        };
        Ok(Whereabouts {
            database_url: self.database_url.clone(),
            owner_url: self.owner_url.clone(),
            data_dir: Some(data_dir),
            pg_bin: self.pg_bin.clone(),
            connections: None,
            backup_dir: None,
        })
    }
}

fn demo_folder(books: PathBuf) -> PathBuf {
    let mut name = books.into_os_string();
    name.push("-demo");
    name.into()
}

/// What happens after the tables are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Afterwards {
    GoOnServing,
    Exit,
}

/// How the result is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Shown {
    Text,
    Json,
}

pub(super) async fn demo(
    whereabouts: &Whereabouts,
    listen: SocketAddr,
    pages: Pages,
    afterwards: Afterwards,
    shown: Shown,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let mut opened = setup::open(whereabouts, stop).await?;
    opened.supervise(serving::RESTART_LIMIT);
    let demonstrated = demonstrate(&opened, listen, pages, afterwards, shown, stop).await;
    opened.close().await?;
    demonstrated
}

async fn demonstrate(
    opened: &Opened,
    listen: SocketAddr,
    pages: Pages,
    afterwards: Afterwards,
    shown: Shown,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let books = demo_books(&opened.database).await?;
    let (id, token) = demo_token(&books).await?;
    let ran = run(&opened.database, token, listen, pages, afterwards, shown, stop).await;
    let revoked = books.revoke_token(&Act::outside(ACTION), None, id).await;
    ran?;
    revoked.map_err(super::in_words)?;
    Ok(ExitCode::SUCCESS)
}

const ACTION: &str = "ledgerboard demo";

/// A token for this run.
async fn demo_token(books: &Books) -> Result<(TokenId, String), Told> {
    let (token, hash) = new_token(books.id())?;
    let expires_at = end_of(Some(Utc::now() + TOKEN_LIFE), Utc::now())?;
    let kept = TokenToKeep { name: "demo".to_owned(), scope: Scope::Admin, expires_at, hash };
    let id = books.add_token(&Act::outside(ACTION), None, &kept).await.map_err(super::in_words)?;
    Ok((id, token))
}

async fn run(
    database: &Database,
    token: String,
    listen: SocketAddr,
    pages: Pages,
    afterwards: Afterwards,
    shown: Shown,
    stop: &Stop,
) -> Result<(), Told> {
    // A demo that exits takes any free port, so that it runs beside a service.
    let address = if afterwards == Afterwards::Exit { SocketAddr::from(([127, 0, 0, 1], 0)) } else { listen };
    let listener = serving::bound(address)?;
    let base = format!("http://{}", listener.local_addr()?);
    let server = serve::server(
        database.clone(),
        Listening { listener, wire: Wire::Plain },
        workers(),
        Limits::default(),
        Arc::default(),
        pages,
    )?;
    let handle = server.handle();
    let told = stop.clone();
    let told = async move { told.told().await };
    let running = tokio::spawn(serving::until_told(server, told));
    let door = Door { base: base.clone(), token: token.clone() };
    let told = tokio::task::spawn_blocking(move || load_and_read(&door, shown)).await?;
    match told {
        Ok(text) => say(text),
        Err(error) => {
            handle.stop(false).await;
            return Err(error);
        }
    }
    if afterwards == Afterwards::Exit {
        handle.stop(true).await;
    } else {
        say(format_args!(
            "The API listens on {base}/v1; its documentation is at {base}/docs/ and {base}/openapi.json."
        ));
        say(format_args!("A token for it, valid until the demo stops and for a day at most: {token}"));
        say("Stop with Ctrl-C. Remove the demo with 'ledgerboard demo --remove'.");
    }
    running.await??;
    Ok(())
}

/// Deletes the demo's data folder, if it holds nothing but the demo's books and nothing uses it.
pub(super) async fn remove(whereabouts: &Whereabouts, stop: &Stop) -> Result<ExitCode, Told> {
    if whereabouts.database_url.is_some() {
        return Err("the demo's books in a database of your own cannot be removed one by one, because no record is ever \
                    deleted from books: drop that database and create it again"
            .into());
    }
    let Some(data_dir) = &whereabouts.data_dir else {
        return Err("no data folder is named: give --data-dir".into());
    };
    if !cluster::holds_books(data_dir)? {
        say(format_args!("There is no demo in {}.", data_dir.display()));
        return Ok(ExitCode::SUCCESS);
    }
    let opened = setup::open(whereabouts, stop).await?;
    let listed = opened.database.books_on_this_server().await;
    opened.close().await?;
    if let Some(other) = listed?.iter().find(|one| one.mark.as_deref() != Some(MARK)) {
        return Err(format!(
            "{} also holds the books {:?}, which are not the demo's, so nothing was removed",
            data_dir.display(),
            other.name
        )
        .into());
    }
    let left = cluster::remove(data_dir).await?;
    if left.is_empty() {
        say(format_args!("The demo and its folder {} are removed.", data_dir.display()));
    } else {
        say(format_args!(
            "The demo is removed. {} also holds {}, which stay.",
            data_dir.display(),
            left.join(", ")
        ));
    }
    Ok(ExitCode::SUCCESS)
}

async fn demo_books(database: &Database) -> Result<Books, Told> {
    let listed = database.books_on_this_server().await?;
    if let Some(found) = listed.into_iter().find(|one| one.mark.as_deref() == Some(MARK)) {
        return Ok(Books::of(database.clone(), BooksId(found.books_id)));
    }
    let new = NewBooks {
        name: "Fernbank Workshop (demo)".to_owned(),
        base: Currency::find("USD").map_err(crate::rules::refusal::Refusal::from)?,
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        tax_profile: TaxProfile::UnitedStates,
        time_zone: TimeZone::UTC,
        fiscal_year_begins: StartMonth::January,
        began_on: NaiveDate::from_ymd_opt(YEAR, 1, 1).unwrap_or_default(),
        mark: Some(MARK.to_owned()),
    };
    Ok(database.open_books(&new).await?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_demo_lives_beside_the_books_and_not_in_their_folder() {
        assert_eq!(demo_folder("/var/lib/ledgerboard".into()), PathBuf::from("/var/lib/ledgerboard-demo"));
    }
}
