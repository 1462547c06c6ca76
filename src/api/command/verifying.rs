//! Verifying: every invariant recomputed over the chosen books, reported in words or as one document.

use std::num::NonZeroUsize;
use std::process::ExitCode;
use std::time::Duration;

use futures_util::{StreamExt, TryStreamExt, stream};
use serde::Serialize;

use super::choosing::ChosenBooks;
use super::demo::Shown;
use super::{Told, plain};
use crate::api::saying::say;
use crate::api::setup::{self, Whereabouts};
use crate::api::stop::Stop;
use crate::rules::chain::Head;
use crate::rules::ids::BooksId;
use crate::rules::verify::{Verdict, verify};
use crate::store::books::{Books, BooksListed};
use crate::store::connect::Database;

/// What was found in one set of books.
#[derive(Debug, Serialize)]
struct BooksVerified {
    books: BooksId,
    name: String,
    /// The last entry, as the books keep it: hold it against an older print.
    head: Head,
    #[serde(flatten)]
    verdict: Verdict,
}

#[derive(Debug, Serialize)]
struct AllVerified {
    holds: bool,
    books: Vec<BooksVerified>,
}

/// Prints what was looked at and what is wrong; fails where anything is.
pub(super) async fn verify_all(
    whereabouts: &Whereabouts,
    chosen: &ChosenBooks,
    jobs: Option<NonZeroUsize>,
    shown: Shown,
    stop: &Stop,
) -> Result<ExitCode, Told> {
    let opened = setup::open(whereabouts, stop).await?;
    // All of the books are read at once, however long that takes.
    let database = opened.database.clone().with_call_limit(Duration::MAX);
    let verified = stop.unless_told(all_verified(&database, chosen, jobs)).await;
    opened.close().await?;
    let verified = verified??;
    match shown {
        Shown::Text => say(in_words(&verified).trim_end()),
        Shown::Json => say(serde_json::to_string_pretty(&verified)?),
    }
    Ok(if verified.holds { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

async fn all_verified(
    database: &Database,
    chosen: &ChosenBooks,
    jobs: Option<NonZeroUsize>,
) -> Result<AllVerified, Told> {
    // Each set of books holds one connection and the whole of its facts in memory, so there are never many at once.
    let most = database.pool().most.max(1);
    let jobs = jobs.or_else(|| std::thread::available_parallelism().ok()).map_or(1, usize::from).min(most);
    let found = chosen.found(database).await?;
    let verified = stream::iter(found.into_iter().map(|listed| one_verified(database, listed)));
    let books: Vec<_> = verified.buffered(jobs).try_collect().await?;
    Ok(AllVerified { holds: books.iter().all(|one| one.verdict.holds()), books })
}

/// Whether these books hold, and the last entry of their chain.
pub(super) async fn holds(database: &Database, id: BooksId) -> Result<(bool, Head), Told> {
    let listed = BooksListed { books_id: id.0, name: String::new(), mark: None };
    let verified = one_verified(database, listed).await?;
    Ok((verified.verdict.holds(), verified.head))
}

async fn one_verified(database: &Database, listed: BooksListed) -> Result<BooksVerified, Told> {
    let id = BooksId(listed.books_id);
    let facts = Books::of(database.clone(), id).to_verify().await.map_err(super::in_words)?;
    let head = facts.head;
    let verdict = tokio::task::spawn_blocking(move || verify(&facts)).await?;
    Ok(BooksVerified { books: id, name: listed.name, head, verdict })
}

fn in_words(all: &AllVerified) -> String {
    let mut lines = Vec::new();
    for one in &all.books {
        lines.push(format!("{} ({})", plain(&one.name), one.books));
        lines.push(format!("  last entry {}, SHA-256 {}", one.head.number, one.head.hash));
        lines.extend(one.verdict.checks.iter().map(|check| {
            let sign = if check.breaches == 0 { "ok   " } else { "WRONG" };
            format!("  {sign} {}", check.says)
        }));
        lines.extend(
            one.verdict.breaches.iter().map(|breach| format!("  BREACH {}", plain(&breach.to_string()))),
        );
    }
    let breaches: usize = all.books.iter().map(|one| one.verdict.breaches.len()).sum();
    lines.push(match (all.books.len(), breaches) {
        (0, _) => "There are no books on this server yet.".to_owned(),
        (books, 0) => format!("Everything holds, in {books} set(s) of books."),
        (books, found) => format!("{found} breach(es) in {books} set(s) of books: they do not hold."),
    });
    lines.push(String::new());
    lines.join("\n")
}
