//! Loads an export into a server that may hold other books and may be serving them.
//!
//! What is locked, and for how long:
//!
//! * The rows are first copied from the file into temporary tables of this session, which nobody else sees. This is the
//!   long part. It locks no table that anybody writes to; it only keeps migrations out.
//! * Then one transaction writes them, has every tie and deferred check held, recomputes the invariants, and commits. It
//!   takes the locks that any recording takes (ROW EXCLUSIVE on the tables, FOR KEY SHARE on rows of its own): readers and
//!   writers of other books wait for none of it. Whoever imports the same books meanwhile waits for its end.
//!
//! All tables are written by one statement, so that a foreign key, which is checked at the end of a statement, finds its
//! row in whatever table it is, also where foreign keys go in circles. Row security stays on, fenced to these books, so no
//! row of others could be written or read even if one were in the file. The triggers before an insert stand back
//! (`books_are_loaded` in `migrations/2026-12-01-070100_books/up.sql`): they look at what was there before a row. What they
//! hold is asked of the books as a whole (`importing/holding.rs`).
//!
//! Nothing is committed before it was verified. Whatever ends this before leaves no trace, and nothing to clean up.

mod holding;

use std::collections::BTreeMap;

use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use tokio_postgres::Client;
use tokio_postgres::error::SqlState;

use super::copying::copy_in;
use super::error::BackupError;
use super::prepare::connect;
use super::reading::BackupFile;
use super::taking::{Extent, tables};
use super::{BooksInBackup, Manifest, OnlyBooks, Progress, columns_quoted, quoted};
use crate::rules::chain::Head;
use crate::rules::ids::BooksId;
use crate::rules::verify::verify;
use crate::store::audit::Act;
use crate::store::books::moving::take_back;
use crate::store::books::{Turn, begin_fenced, fence_of};
use crate::store::error::StoreError;
use crate::store::versions::{first_missing, first_unknown};

/// A whole file that holds one set of books, of the version of this program.
#[derive(Debug)]
pub struct Export {
    pub file: BackupFile,
    pub manifest: Manifest,
    pub only: OnlyBooks,
    /// The last entry of their chain.
    pub head: Head,
}

/// What was taken in, committed and verified.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    pub name: String,
    pub rows: u64,
    pub head: Head,
}

/// A statement waits for no clock, but for another import of the same books no longer than a minute. The server ends the
/// session of a program that stopped in the middle without a word.
const SETTINGS: &str = "SET search_path = public; SET statement_timeout = 0; SET lock_timeout = '60s'; \
    SET idle_in_transaction_session_timeout = '30min'; SET timezone = 'UTC'; SET datestyle = 'ISO, YMD'; \
    SET intervalstyle = 'postgres'";

/// Reads the whole file, and checks that it is an export of this program's version; nothing else is touched.
/// # Errors
/// [`BackupError`] says what is wrong with the file.
pub fn checked_export(file: &BackupFile) -> Result<Export, BackupError> {
    let manifest = file.read(|_| Ok(()))?;
    let Some(only) = manifest.header.only_books.clone() else {
        return Err(BackupError::IsABackup { path: file.path.clone() });
    };
    let program = manifest.header.program.clone();
    if let Some(migration) = first_unknown(&manifest.migrations)? {
        return Err(BackupError::NewerVersion { path: file.path.clone(), program, migration });
    }
    if let Some(migration) = first_missing(&manifest.migrations)? {
        return Err(BackupError::OlderExport { path: file.path.clone(), program, migration });
    }
    match manifest.books.as_slice() {
        [BooksInBackup { id, head }] if *id == only.id => {
            let head = *head;
            Ok(Export { file: file.clone(), manifest, only, head })
        }
        books => {
            let found =
                format!("it is about the books {}, and lists {} set(s) of books", only.id, books.len());
            Err(file.damaged(found))
        }
    }
}

/// Takes the books in, verifies them, and lets them take changes here, with a line of the change log that names `act`.
/// # Errors
/// [`BackupError`]; nothing of the books is there then. Only where the answer to the last statement, the COMMIT, is lost,
/// they may be there: whole and verified.
pub async fn import(
    owner_url: &str,
    export: &Export,
    act: &Act,
    progress: Progress<'_>,
) -> Result<Imported, BackupError> {
    let session = connect(owner_url).await?;
    let client = &session.client;
    let id = BooksId(export.only.id);
    // The session holds it to its end: no migration changes a table in the middle.
    execute(client, "SELECT pg_advisory_lock_shared(1818518629, 1)", "wait for a migration to end").await?;
    execute(client, SETTINGS, "prepare the import").await?;
    refuse_present(client, id).await?;
    let staged = Staged::made(client, export).await?;
    let goal = |table: &str| staged.names.get(table).cloned();
    copy_in(client, &export.file, &export.manifest, &goal, progress).await?;
    staged.insist_on_one_set_of_books(client, export).await?;
    progress("writing the rows and checking the ties between them");
    staged.written(client, export).await?;
    let mut connection = session.for_diesel().await?;
    progress("verifying the books");
    let name = verified(&mut connection, export).await?;
    take_back(&mut connection, id, act).await?;
    connection.batch_execute("COMMIT").await.map_err(StoreError::from)?;
    Ok(Imported { name, rows: export.manifest.rows(), head: export.head })
}

async fn execute(client: &Client, statement: &str, action: &str) -> Result<(), BackupError> {
    client.batch_execute(statement).await.map_err(BackupError::database(action))
}

/// Before the long part; what is there only after it is refused when it is written.
async fn refuse_present(client: &Client, id: BooksId) -> Result<(), BackupError> {
    let failed = || BackupError::database("look whether the books are here already");
    execute(client, &format!("BEGIN; {}", fence_of(id)), "look whether the books are here already").await?;
    let question = format!("SELECT EXISTS (SELECT FROM books WHERE books_id = '{}')", id.0);
    let row = client.query_one(question.as_str(), &[]).await.map_err(failed())?;
    let there: bool = row.try_get(0).map_err(failed())?;
    execute(client, "ROLLBACK", "look whether the books are here already").await?;
    if there { Err(BackupError::BooksAreHere { id: id.0 }) } else { Ok(()) }
}

/// The file's rows in tables of this session's own, which end with it.
struct Staged {
    /// By the name of the table they are for.
    names: BTreeMap<String, String>,
}

impl Staged {
    async fn made(client: &Client, export: &Export) -> Result<Self, BackupError> {
        let failed = BackupError::database("read what tables there are");
        let here = tables(client, Extent::Books(BooksId(export.only.id))).await.map_err(failed)?;
        let in_file = export.manifest.tables.iter();
        let in_file: Vec<_> = in_file.map(|table| (table.name.clone(), table.columns.clone())).collect();
        if here != in_file {
            let differs = here.iter().zip(&in_file).find(|(here, there)| here != there);
            let found = match differs {
                Some(((here, _), (there, _))) if here == there => format!("{here} has other columns"),
                Some(((here, _), (there, _))) => format!("it has the table {there} in place of {here}"),
                None => format!("it has {} tables instead of {}", in_file.len(), here.len()),
            };
            return Err(export.file.damaged(found));
        }
        let (mut names, mut statements) = (BTreeMap::new(), String::new());
        for (number, (table, columns)) in here.into_iter().enumerate() {
            // A name that no table of ours has: the triggers look for those by name alone.
            let name = format!("pg_temp.arriving_{number}");
            statements.push_str(&format!(
                "CREATE TEMPORARY TABLE arriving_{number} AS SELECT {} FROM public.{} WITH NO DATA;",
                columns_quoted(&columns),
                quoted(&table)
            ));
            names.insert(table, name);
        }
        let action = "make temporary tables for the rows: the owner's log-in needs the right to (GRANT TEMPORARY ON \
                      DATABASE)";
        execute(client, &statements, action).await?;
        Ok(Self { names })
    }

    /// The name that each table of the file has here, with the table.
    fn each<'a>(&'a self, export: &'a Export) -> impl Iterator<Item = (&'a super::TableInBackup, &'a str)> {
        let tables = export.manifest.tables.iter();
        tables.filter_map(|table| Some((table, self.names.get(&table.name)?.as_str())))
    }

    /// Refuses a file with rows of other books, before anything is written. Row security would refuse them too, but not
    /// where the owner is a superuser.
    async fn insist_on_one_set_of_books(&self, client: &Client, export: &Export) -> Result<(), BackupError> {
        let id = export.only.id;
        let each = self.each(export).map(|(table, staged)| {
            let name = table.name.replace('\'', "''");
            format!("SELECT '{name}', count(*) FROM {staged} WHERE books_id IS DISTINCT FROM '{id}'")
        });
        let question = each.collect::<Vec<_>>().join(" UNION ALL ");
        let counts = counted(client, &question, "look whose rows they are").await?;
        match counts.into_iter().find(|(_, rows)| *rows != 0) {
            Some((table, rows)) => Err(export.file.damaged(format!(
                "{rows} rows of {table} do not belong to the books {id}, and an export holds one set of books only"
            ))),
            None => Ok(()),
        }
    }

    /// Begins the transaction and writes every row in it.
    async fn written(&self, client: &Client, export: &Export) -> Result<(), BackupError> {
        let id = BooksId(export.only.id);
        let begin = format!("BEGIN; {}; SET LOCAL app.loads = 'whole books'", fence_of(id));
        execute(client, &begin, "begin to write the rows").await?;
        let each = self.each(export).enumerate().map(|(number, (table, staged))| {
            let columns = columns_quoted(&table.columns);
            let name = quoted(&table.name);
            format!(
                "written_{number} AS (INSERT INTO public.{name} ({columns}) SELECT {columns} FROM {staged})"
            )
        });
        let statement = format!("WITH {} SELECT", each.collect::<Vec<_>>().join(", "));
        client.batch_execute(&statement).await.map_err(|error| refused(id, error))?;
        // What is checked at the commit of a recording, at once; then the triggers are as ever.
        let close = "SET CONSTRAINTS ALL IMMEDIATE; SET LOCAL app.loads = ''";
        client.batch_execute(close).await.map_err(|error| refused(id, error))?;
        holding::insist(client).await?;
        let each = export.manifest.tables.iter().map(|table| {
            let (text, name) = (table.name.replace('\'', "''"), quoted(&table.name));
            format!("SELECT '{text}', count(*) FROM public.{name} WHERE books_id = '{}'", id.0)
        });
        let question = each.collect::<Vec<_>>().join(" UNION ALL ");
        let counts: BTreeMap<String, i64> =
            counted(client, &question, "count the rows that were written").await?.into_iter().collect();
        for table in &export.manifest.tables {
            let found = counts.get(&table.name).copied().unwrap_or_default();
            if u64::try_from(found) != Ok(table.rows) {
                let told = format!("{} has {found} rows of them instead of {}", table.name, table.rows);
                return Err(BackupError::ImportDiffers(told));
            }
        }
        Ok(())
    }
}

/// Tables with a count each.
async fn counted(client: &Client, question: &str, action: &str) -> Result<Vec<(String, i64)>, BackupError> {
    let failed = || BackupError::database(action);
    let rows = client.query(question, &[]).await.map_err(failed())?;
    rows.iter()
        .map(|row| Ok((row.try_get(0).map_err(failed())?, row.try_get(1).map_err(failed())?)))
        .collect()
}

/// Why the rows were not taken. The ids of others are behind row security, so a clash shows only when it happens.
fn refused(id: BooksId, error: tokio_postgres::Error) -> BackupError {
    let told = error.as_db_error();
    let table = told.and_then(|told| told.table()).unwrap_or_default();
    match told.map(|told| told.code()) {
        Some(code) if *code == SqlState::UNIQUE_VIOLATION && table == "books" => {
            BackupError::BooksAreHere { id: id.0 }
        }
        Some(code) if *code == SqlState::UNIQUE_VIOLATION && table == "token_directory" => {
            BackupError::TokenIsHere { id: id.0 }
        }
        Some(code) if *code == SqlState::LOCK_NOT_AVAILABLE => BackupError::ImportUnderWay { id: id.0 },
        _ => BackupError::database("write the rows of these books, and nothing of them was kept")(error),
    }
}

/// Recomputes the invariants and holds the chain to the manifest; gives the name of the books.
async fn verified(connection: &mut AsyncPgConnection, export: &Export) -> Result<String, BackupError> {
    let id = BooksId(export.only.id);
    let mut tx = begin_fenced(connection, id, Turn::Reader).await?;
    let name = tx.card().name.clone();
    let facts = tx.books_to_verify().await?;
    let head = facts.head;
    let verdict = tokio::task::spawn_blocking(move || verify(&facts)).await;
    let verdict = verdict.map_err(|error| BackupError::ImportDiffers(error.to_string()))?;
    if head != export.head {
        let (is, was) = (head.hash, export.head.hash);
        let told = format!("the chain of the books {} ends in {is} instead of {was}", id.0);
        return Err(BackupError::ImportDiffers(told));
    }
    match verdict.breaches.first() {
        Some(breach) => {
            let told = format!("the books {} do not verify: {breach}", id.0);
            Err(BackupError::ImportDiffers(told))
        }
        None => Ok(name),
    }
}
