//! Takes a backup of a running database, or an export of one set of books: one snapshot of all tables, read as a role that
//! may read only.

use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use futures_util::TryStreamExt;
use sha2::{Digest, Sha256};
use tokio_postgres::Client;
use uuid::Uuid;

use super::error::BackupError;
use super::prepare::{connect, let_backups_read};
use super::writing::{BackupWriter, Recipient};
use super::{
    ALL_BOOKS, BooksInBackup, Destination, HEADER_ENTRY, Header, MANIFEST_ENTRY, Manifest, ONE_SET_OF_BOOKS,
    OnlyBooks, PIECE, Progress, TABLES_FOLDER, TableInBackup, columns_quoted, quoted,
};
use crate::rules::chain::{Hash, Head};
use crate::rules::ids::BooksId;
use crate::store::error::StoreError;
use crate::store::versions::refuse_unverified;

/// Which rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extent {
    /// All, also those that belong to no set of books.
    Everything,
    /// What belongs to that set of books.
    Books(BooksId),
}

/// A finished backup or export.
#[derive(Debug)]
pub struct Taken {
    pub path: PathBuf,
    /// The size of the file in bytes.
    pub size: u64,
    pub manifest: Manifest,
}

/// A statement of the snapshot waits for nobody's clock, and its text does not depend on the session's settings.
const BEGIN: &str = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; \
    SET LOCAL search_path = public; SET LOCAL statement_timeout = 0; SET LOCAL lock_timeout = '60s'; \
    SET LOCAL idle_in_transaction_session_timeout = 0; SET LOCAL synchronize_seqscans = off; \
    SET LOCAL timezone = 'UTC'; SET LOCAL datestyle = 'ISO, YMD'; SET LOCAL intervalstyle = 'postgres'; \
    SET LOCAL bytea_output = 'hex'; SET LOCAL extra_float_digits = 3";

const TABLES: &str = "SELECT c.relname::text, array_agg(a.attname::text ORDER BY a.attnum) \
    FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped \
    AND a.attgenerated = '' \
    WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') AND NOT c.relispartition \
    AND c.relname <> '__diesel_schema_migrations' GROUP BY c.relname \
    HAVING $1 OR bool_or(a.attname = 'books_id') ORDER BY c.relname";

/// Writes a backup of everything that was committed before; the service may go on writing meanwhile.
/// # Errors
/// [`BackupError`]; no file is left behind then.
pub async fn take(
    owner_url: &str,
    destination: &Destination,
    recipients: &[Recipient],
    progress: Progress<'_>,
) -> Result<Taken, BackupError> {
    written(owner_url, destination, Extent::Everything, recipients, progress).await
}

/// Writes an export of these books: their rows in every table that has rows of books, as they were committed before.
/// The service may go on writing meanwhile; only of books that are marked as moved is everything in the file for good.
/// # Errors
/// [`BackupError`], [`StoreError::NotFound`] in it where there are no such books; no file is left behind then.
pub async fn export(
    owner_url: &str,
    file: &Path,
    books: BooksId,
    recipients: &[Recipient],
    progress: Progress<'_>,
) -> Result<Taken, BackupError> {
    let destination = Destination::File(file.to_path_buf());
    written(owner_url, &destination, Extent::Books(books), recipients, progress).await
}

async fn written(
    owner_url: &str,
    destination: &Destination,
    extent: Extent,
    recipients: &[Recipient],
    progress: Progress<'_>,
) -> Result<Taken, BackupError> {
    let session = connect(owner_url).await?;
    let client = &session.client;
    // The session holds it to its end: no migration changes a table in the middle.
    execute(client, "SELECT pg_advisory_lock_shared(1818518629, 1)", "wait for a migration to end").await?;
    let there: bool = client
        .query_one("SELECT to_regclass('public.__diesel_schema_migrations') IS NOT NULL", &[])
        .await
        .and_then(|row| row.try_get(0))
        .map_err(BackupError::database("look for books"))?;
    if !there {
        return Err(BackupError::NothingHere);
    }
    refuse_unverified(owner_url).await?;
    let_backups_read(client).await?;
    execute(client, BEGIN, "begin a snapshot").await?;
    let (mut header, migrations, tables) =
        described(client, extent).await.map_err(BackupError::database("read what tables there are"))?;
    execute(client, "SET LOCAL ROLE ledgerboard_backup", "become ledgerboard_backup").await?;
    let books = heads(client, extent).await?;
    if let Extent::Books(id) = extent {
        header.only_books = Some(only(client, id).await?);
    }
    let path = destination.prepared(header.taken_at, !recipients.is_empty())?;
    let time = u64::try_from(header.taken_at.timestamp()).unwrap_or_default();
    let mut file = BackupWriter::begin(&path, time, recipients)?;
    file.json(HEADER_ENTRY, &header)?;
    let mut manifest = Manifest { header, migrations, tables: Vec::new(), books };
    let all = tables.len();
    for (place, (name, columns)) in tables.into_iter().enumerate() {
        let table = copied(client, &mut file, extent, name, columns).await?;
        progress(&format!("{}/{all} {}: {} rows", place + 1, table.name, table.rows));
        manifest.tables.push(table);
    }
    execute(client, "COMMIT", "end the snapshot").await?;
    file.json(MANIFEST_ENTRY, &manifest)?;
    let size = file.finish()?;
    Ok(Taken { path, size, manifest })
}

/// Notes in the database that the backup was made, for the metrics and the readiness page. A schema that is too old to
/// keep such notes is left alone.
/// # Errors
/// The database refuses.
pub async fn note(owner_url: &str, taken: &Taken) -> Result<(), BackupError> {
    let failed = || BackupError::database("note that the backup was made");
    let session = connect(owner_url).await?;
    let client = &session.client;
    let keeps: bool = client
        .query_one("SELECT to_regclass('public.backups_made') IS NOT NULL", &[])
        .await
        .and_then(|row| row.try_get(0))
        .map_err(failed())?;
    if keeps {
        let at = taken.manifest.header.taken_at.to_rfc3339();
        client
            .execute(
                "INSERT INTO public.backups_made (taken_at, finished_at) \
                 VALUES ($1::text::timestamptz, clock_timestamp()) ON CONFLICT DO NOTHING",
                &[&at],
            )
            .await
            .map_err(failed())?;
    }
    Ok(())
}

async fn execute(client: &Client, statement: &str, action: &str) -> Result<(), BackupError> {
    client.batch_execute(statement).await.map_err(BackupError::database(action))
}

type Described = (Header, Vec<String>, Vec<Table>);

/// A table and its columns.
pub(super) type Table = (String, Vec<String>);

/// The tables that hold rows of that extent. They are found in the catalog, so that a table nobody thought of is there.
pub(super) async fn tables(client: &Client, extent: Extent) -> Result<Vec<Table>, tokio_postgres::Error> {
    let rows = client.query(TABLES, &[&(extent == Extent::Everything)]).await?;
    rows.iter().map(|row| Ok((row.try_get(0)?, row.try_get(1)?))).collect()
}

/// The first query takes the snapshot, so the time it reads is the time of the backup.
async fn described(client: &Client, extent: Extent) -> Result<Described, tokio_postgres::Error> {
    let row = client
        .query_one(
            "SELECT (extract(epoch FROM clock_timestamp()) * 1000)::bigint, current_setting('server_version')",
            &[],
        )
        .await?;
    let taken_at = DateTime::<Utc>::from_timestamp_millis(row.try_get(0)?).unwrap_or_default();
    let header = Header {
        format: match extent {
            Extent::Everything => ALL_BOOKS,
            Extent::Books(_) => ONE_SET_OF_BOOKS,
        },
        program: env!("CARGO_PKG_VERSION").to_owned(),
        postgresql: row.try_get(1)?,
        taken_at,
        only_books: None,
    };
    let migrations = client
        .query("SELECT version::text FROM __diesel_schema_migrations ORDER BY version", &[])
        .await?
        .iter()
        .map(|row| row.try_get(0))
        .collect::<Result<_, _>>()?;
    Ok((header, migrations, tables(client, extent).await?))
}

/// The rows of that extent, as the end of a query on a table that has rows of books.
fn chosen(extent: Extent) -> String {
    match extent {
        Extent::Everything => String::new(),
        Extent::Books(id) => format!(" WHERE books_id = '{}'", id.0),
    }
}

/// What an export's header says of its books.
async fn only(client: &Client, id: BooksId) -> Result<OnlyBooks, BackupError> {
    let failed = || BackupError::database("read whether the books have moved");
    let question = format!("SELECT moved_to FROM books{}", chosen(Extent::Books(id)));
    let row = client.query_opt(question.as_str(), &[]).await.map_err(failed())?;
    let row = row.ok_or_else(|| StoreError::NotFound { what: "books", id: id.to_string() })?;
    Ok(OnlyBooks { id: id.0, moved_to: row.try_get(0).map_err(failed())? })
}

async fn heads(client: &Client, extent: Extent) -> Result<Vec<BooksInBackup>, BackupError> {
    let failed = || BackupError::database("read the chain heads");
    let question = format!(
        "SELECT books_id::text, head_number, head_hash FROM books{} ORDER BY books_id",
        chosen(extent)
    );
    let rows = client.query(question.as_str(), &[]).await.map_err(failed())?;
    rows.iter()
        .map(|row| {
            let id: String = row.try_get(0).map_err(failed())?;
            let hash: Vec<u8> = row.try_get(2).map_err(failed())?;
            let unreadable = |found: String| StoreError::Unreadable { column: "books.head_hash", found };
            let hash = Hash::of_bytes(&hash).map_err(|error| unreadable(error.to_string()))?;
            let id = Uuid::parse_str(&id).map_err(|error| unreadable(error.to_string()))?;
            let number = row.try_get(1).map_err(failed())?;
            Ok(BooksInBackup { id, head: Head { number, hash } })
        })
        .collect()
}

async fn copied(
    client: &Client,
    file: &mut BackupWriter,
    extent: Extent,
    name: String,
    columns: Vec<String>,
) -> Result<TableInBackup, BackupError> {
    let failed = || BackupError::database(format!("read the table {name}"));
    let (table, listed) = (quoted(&name), columns_quoted(&columns));
    let statement = match extent {
        Extent::Everything => format!("COPY {table} ({listed}) TO STDOUT"),
        Extent::Books(_) => format!("COPY (SELECT {listed} FROM {table}{}) TO STDOUT", chosen(extent)),
    };
    let mut rows = std::pin::pin!(client.copy_out(statement.as_str()).await.map_err(failed())?);
    let (mut sum, mut count, mut bytes, mut number) = (Sha256::new(), 0_u64, 0_u64, 0_u32);
    let mut piece = Vec::with_capacity(PIECE);
    loop {
        let more = rows.try_next().await.map_err(failed())?;
        let ended = more.is_none();
        if let Some(row) = more {
            sum.update(&row);
            // COPY ends each row with a newline and escapes those inside.
            count += u64::try_from(row.iter().filter(|byte| **byte == b'\n').count()).unwrap_or_default();
            bytes += u64::try_from(row.len()).unwrap_or_default();
            piece.extend_from_slice(&row);
        }
        while piece.len() >= PIECE || (ended && !piece.is_empty()) {
            let rest = piece.split_off(piece.len().min(PIECE));
            number += 1;
            file.entry(&format!("{TABLES_FOLDER}/{name}/{number:06}.copy"), &piece)?;
            piece = rest;
        }
        if ended {
            break;
        }
    }
    Ok(TableInBackup { name, columns, rows: count, bytes, sha256: Hash(sum.finalize().into()) })
}
