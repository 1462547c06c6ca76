//! Loads a backup into an empty database: the schema as it was, the rows in one transaction, then its own checks.

use std::time::Duration;

use tokio_postgres::Client;

use super::copying::copy_in;
use super::error::BackupError;
use super::prepare::connect;
use super::reading::BackupFile;
use super::{Manifest, Progress, quoted};
use crate::store::versions::{first_unknown, is_unverified, mark_unverified, migrate_to};

const TABLES: &str = "SELECT c.relname::text FROM pg_class c WHERE c.relnamespace = 'public'::regnamespace \
    AND c.relkind IN ('r', 'p') AND NOT c.relispartition ORDER BY c.relname";

/// Everything of the schema's that the migrations made; what belongs to an extension stays. The roles stay too, since
/// other databases of the server use them.
const CLEAR: &str = "
DO $$
DECLARE
    dropped text;
BEGIN
    FOR dropped IN
        SELECT format('TABLE %s', c.oid::regclass) FROM pg_class c
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND NOT relispartition
          AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = c.oid AND d.deptype = 'e')
    LOOP
        EXECUTE format('DROP %s CASCADE', dropped);
    END LOOP;
    FOR dropped IN
        SELECT format('ROUTINE %s', p.oid::regprocedure) FROM pg_proc p
        WHERE pronamespace = 'public'::regnamespace
          AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e')
    LOOP
        EXECUTE format('DROP %s CASCADE', dropped);
    END LOOP;
    FOR dropped IN
        SELECT format('DOMAIN %s', t.oid::regtype) FROM pg_type t
        WHERE typnamespace = 'public'::regnamespace AND typtype = 'd'
          AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = t.oid AND d.deptype = 'e')
    LOOP
        EXECUTE format('DROP %s CASCADE', dropped);
    END LOOP;
END
$$";

/// Refuses a database that holds rows or that somebody else is connected to. A schema without rows, as a first start
/// leaves it, counts as empty, and so do rows of a restore that was interrupted before it had verified them.
/// # Errors
/// [`BackupError::NotEmpty`], [`BackupError::InUse`].
pub async fn insist_on_empty(owner_url: &str) -> Result<(), BackupError> {
    let failed = || BackupError::database("look whether the database is empty");
    let session = connect(owner_url).await?;
    let client = &session.client;
    let count = others_connected(client).await.map_err(failed())?;
    if count > 0 {
        return Err(BackupError::InUse { count });
    }
    if is_unverified(owner_url).await? {
        return Ok(());
    }
    // Row security would hide the rows from an owner who is no superuser.
    execute(client, "BEGIN", "look whether the database is empty").await?;
    for table in tables(client).await? {
        if table == "__diesel_schema_migrations" {
            continue;
        }
        let name = quoted(&table);
        let found: bool = async {
            client.batch_execute(&format!("ALTER TABLE public.{name} NO FORCE ROW LEVEL SECURITY")).await?;
            let question = format!("SELECT EXISTS (SELECT FROM public.{name})");
            client.query_one(question.as_str(), &[]).await?.try_get(0)
        }
        .await
        .map_err(failed())?;
        if found {
            return Err(BackupError::NotEmpty { table });
        }
    }
    execute(client, "ROLLBACK", "look whether the database is empty").await
}

/// How many sessions of others there are. Those of a program that has just ended are given a moment to go.
async fn others_connected(client: &Client) -> Result<i64, tokio_postgres::Error> {
    const SESSIONS: &str = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
        AND pid <> pg_backend_pid() AND usename IS NOT NULL";
    let mut count = 0;
    for _ in 0..20 {
        count = client.query_one(SESSIONS, &[]).await?.try_get(0)?;
        if count == 0 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    Ok(count)
}

/// Drops the schema's tables, functions and types, so that the database is as empty as before.
/// # Errors
/// The database refuses.
pub async fn clear(owner_url: &str) -> Result<(), BackupError> {
    let session = connect(owner_url).await?;
    let client = &session.client;
    execute(client, CLEAR, "clear the database").await
}

/// Reads the whole file, checks it, and that this program knows its version; nothing else is touched.
/// # Errors
/// [`BackupError`] says what is wrong with the file.
pub fn checked(file: &BackupFile) -> Result<Manifest, BackupError> {
    let manifest = file.read(|_| Ok(()))?;
    if let Some(only) = &manifest.header.only_books {
        return Err(BackupError::IsAnExport { path: file.path.clone(), id: only.id });
    }
    match first_unknown(&manifest.migrations)? {
        None => Ok(manifest),
        Some(migration) => {
            let (path, program) = (file.path.clone(), manifest.header.program);
            Err(BackupError::NewerVersion { path, program, migration })
        }
    }
}

/// Makes the schema of the backup's own version and loads every row, in one transaction. Call [`checked`]
/// and [`insist_on_empty`] before; if this fails, call [`clear`]. The rows are marked as not verified, and nobody opens
/// them until `versions::mark_verified` is called.
/// # Errors
/// [`BackupError`].
pub async fn load(
    owner_url: &str,
    file: &BackupFile,
    manifest: &Manifest,
    progress: Progress<'_>,
) -> Result<(), BackupError> {
    clear(owner_url).await?;
    migrate_to(owner_url, &manifest.migrations).await?;
    let session = connect(owner_url).await?;
    let client = &session.client;
    let begin = "BEGIN; SET LOCAL search_path = public; SET LOCAL statement_timeout = 0; \
                 SET LOCAL idle_in_transaction_session_timeout = 0; SET LOCAL timezone = 'UTC'; \
                 SET LOCAL datestyle = 'ISO, YMD'";
    execute(client, begin, "begin to restore").await?;
    let opened = open_tables(client, file, manifest).await?;
    copy_in(client, file, manifest, &|table| Some(quoted(table)), progress).await?;
    progress("checking the ties between the tables");
    opened.closed(client).await?;
    execute(client, &mark_unverified(), "mark the rows as not verified").await?;
    execute(client, "COMMIT", "finish restoring").await?;
    execute(client, "ANALYZE", "count the restored rows").await
}

async fn execute(client: &Client, statement: &str, action: &str) -> Result<(), BackupError> {
    client.batch_execute(statement).await.map_err(BackupError::database(action))
}

async fn tables(client: &Client) -> Result<Vec<String>, BackupError> {
    let failed = || BackupError::database("read what tables there are");
    let rows = client.query(TABLES, &[]).await.map_err(failed())?;
    rows.iter().map(|row| row.try_get(0).map_err(failed())).collect()
}

/// Tables made ready for COPY: rows come in an order that no foreign key or trigger would accept, and some foreign keys
/// go in circles.
struct OpenTables {
    names: Vec<String>,
    /// Table, constraint, definition.
    foreign_keys: Vec<(String, String, String)>,
}

async fn open_tables(
    client: &Client,
    file: &BackupFile,
    manifest: &Manifest,
) -> Result<OpenTables, BackupError> {
    let failed = || BackupError::database("make the tables ready");
    let mut names = tables(client).await?;
    names.retain(|name| name != "__diesel_schema_migrations");
    let in_backup: Vec<&str> = manifest.tables.iter().map(|table| table.name.as_str()).collect();
    if names != in_backup {
        let found =
            format!("it has the tables {}, and its version has {}", in_backup.join(", "), names.join(", "));
        return Err(BackupError::Damaged { path: file.path.clone(), found });
    }
    let rows = client
        .query(
            "SELECT conrelid::regclass::text, conname::text, pg_get_constraintdef(oid) FROM pg_constraint \
             WHERE connamespace = 'public'::regnamespace AND contype = 'f' AND conparentid = 0 ORDER BY 1, 2",
            &[],
        )
        .await
        .map_err(failed())?;
    let foreign_keys: Vec<(String, String, String)> = rows
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?, row.try_get(2)?)))
        .collect::<Result<_, tokio_postgres::Error>>()
        .map_err(failed())?;
    let mut statements = String::new();
    for (table, name, _) in &foreign_keys {
        statements.push_str(&format!("ALTER TABLE {table} DROP CONSTRAINT {};", quoted(name)));
    }
    for name in &names {
        let name = quoted(name);
        statements.push_str(&format!(
            "ALTER TABLE {name} DISABLE TRIGGER USER; ALTER TABLE {name} NO FORCE ROW LEVEL SECURITY;"
        ));
    }
    client.batch_execute(&statements).await.map_err(failed())?;
    Ok(OpenTables { names, foreign_keys })
}

impl OpenTables {
    /// Puts back what was taken away; every foreign key is checked against the rows.
    async fn closed(self, client: &Client) -> Result<(), BackupError> {
        for (table, name, definition) in &self.foreign_keys {
            let statement = format!("ALTER TABLE {table} ADD CONSTRAINT {} {definition}", quoted(name));
            let action = format!("tie the rows of {table} together as {definition}");
            client.batch_execute(&statement).await.map_err(BackupError::database(action))?;
        }
        let mut statements = String::new();
        for name in &self.names {
            let name = quoted(name);
            statements.push_str(&format!(
                "ALTER TABLE {name} ENABLE TRIGGER USER; ALTER TABLE {name} FORCE ROW LEVEL SECURITY;"
            ));
        }
        execute(client, &statements, "close the tables again").await
    }
}
