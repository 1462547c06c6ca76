//! Which books a command is about: by their name, or by their id where two have the same name.

use clap::Args;
use uuid::Uuid;

use super::{Told, plain};
use crate::rules::ids::BooksId;
use crate::store::books::BooksListed;
use crate::store::connect::Database;

/// The books to work on.
#[derive(Clone, Debug, Args)]
#[group(multiple = false)]
pub(super) struct ChosenBooks {
    /// Only the books of that name.
    #[arg(long)]
    books: Option<String>,
    /// Only the books with that id.
    #[arg(long)]
    books_id: Option<Uuid>,
}

impl ChosenBooks {
    /// The books that were named, or all on this server where none were.
    /// # Errors
    /// Nothing here has that name or id, or several have that name; in words, with what to do.
    pub(super) async fn found(&self, database: &Database) -> Result<Vec<BooksListed>, Told> {
        if let Some(id) = self.books_id {
            return Ok(vec![chosen_by_id(database, id).await?]);
        }
        let Some(name) = &self.books else { return Ok(database.books_on_this_server().await?) };
        let found = database.books_named(name).await?;
        match found.as_slice() {
            [] => Err(format!(
                "no books on this server are called {name:?}; check the spelling; 'ledgerboard books list' shows \
                 all of them"
            )
            .into()),
            [_] => Ok(found),
            several => {
                let ids: Vec<_> = several.iter().map(|one| one.books_id.to_string()).collect();
                let (count, ids) = (several.len(), ids.join(", "));
                Err(format!("{count} sets of books are called {name:?}; give --books-id with one of {ids}").into())
            }
        }
    }
}

/// How many sets of books a message names.
const NAMED: usize = 10;

/// The books with that id.
/// # Errors
/// There are none on this server; in words, with those that there are.
pub(super) async fn chosen_by_id(database: &Database, id: Uuid) -> Result<BooksListed, Told> {
    if let Some(found) = database.books_numbered(BooksId(id)).await? {
        return Ok(found);
    }
    let there = database.books_on_this_server().await?;
    let named: Vec<_> =
        there.iter().take(NAMED).map(|one| format!("{} ({})", one.books_id, plain(&one.name))).collect();
    let there = match (named.is_empty(), there.len().saturating_sub(NAMED)) {
        (true, _) => "there are none here yet".to_owned(),
        (false, 0) => format!("here are {}", named.join(", ")),
        (false, more) => format!(
            "here are {} and {more} more; 'ledgerboard books list' shows all of them",
            named.join(", ")
        ),
    };
    Err(format!("no books on this server have the id {id}; {there}").into())
}
