//! Which migrations there are, which a database has, and what that means for this version of the program.

use std::collections::BTreeSet;

use diesel::migration::{Migration, MigrationSource};
use diesel::pg::Pg;
use diesel_async::{AsyncMigrationHarness, AsyncPgConnection};
use diesel_migrations::MigrationHarness;

use super::connect::MIGRATIONS;
use super::dial::{Address, DialError, Session, diesel_connection};
use super::error::StoreError;
use super::privileges;

/// How a database stands to the migrations of this program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Standing {
    /// No migration was run: a new database.
    New,
    Current,
    /// Older books, to be migrated; the newest migration that they have.
    Older {
        has: String,
    },
    /// A newer version of the program has migrated them; the first migration that this one does not know.
    Newer {
        migration: String,
    },
}

fn failed(error: impl std::fmt::Display) -> StoreError {
    StoreError::Unsafe(format!("the migrations could not be run: {error}"))
}

fn embedded() -> Result<Vec<Box<dyn Migration<Pg>>>, StoreError> {
    let mut migrations = MigrationSource::<Pg>::migrations(&MIGRATIONS).map_err(failed)?;
    migrations.sort_unstable_by_key(|migration| migration.name().version().to_string());
    Ok(migrations)
}

fn versions(migrations: &[Box<dyn Migration<Pg>>]) -> Vec<String> {
    migrations.iter().map(|migration| migration.name().version().to_string()).collect()
}

/// The first of these migrations that this program does not have.
/// # Errors
/// The program's own migrations cannot be read.
pub fn first_unknown(applied: &[String]) -> Result<Option<String>, StoreError> {
    let known: BTreeSet<String> = versions(&embedded()?).into_iter().collect();
    Ok(applied.iter().find(|version| !known.contains(*version)).cloned())
}

/// The first migration of this program that is not among these.
/// # Errors
/// The program's own migrations cannot be read.
pub fn first_missing(applied: &[String]) -> Result<Option<String>, StoreError> {
    Ok(versions(&embedded()?).into_iter().find(|version| !applied.contains(version)))
}

async fn harness(owner_url: &str) -> Result<AsyncMigrationHarness<AsyncPgConnection>, StoreError> {
    let address = Address::read(owner_url).map_err(DialError::from)?;
    let connection = diesel_connection(&address).await?;
    Ok(AsyncMigrationHarness::new(connection))
}

/// Runs exactly these migrations, in order, on an empty database.
/// # Errors
/// [`StoreError`]; one that this program does not have is left out, so ask [`first_unknown`] before.
pub async fn migrate_to(owner_url: &str, wanted: &[String]) -> Result<(), StoreError> {
    let mut harness = harness(owner_url).await?;
    // Makes the table that lists what was run.
    harness.applied_migrations().map_err(failed)?;
    for migration in embedded()? {
        if wanted.contains(&migration.name().version().to_string()) {
            harness.run_migration(migration.as_ref()).map_err(failed)?;
        }
    }
    Ok(())
}

/// How the database stands to this program; nothing is changed in it.
/// # Errors
/// [`StoreError::Unreachable`]; [`StoreError::Unsafe`] where the log-in lacks a right of an owner.
pub async fn standing(owner_url: &str) -> Result<Standing, StoreError> {
    // First, since without its rights an owner could not even read which migrations were run.
    let session = Session::open(owner_url).await?;
    privileges::check_owner(&session).await?;
    session.close().await;
    let address = Address::read(owner_url).map_err(DialError::from)?;
    let mut connection = diesel_connection(&address).await?;
    let Some(mut applied) = applied(&mut connection).await? else { return Ok(Standing::New) };
    applied.sort_unstable();
    let Some(has) = applied.last().cloned() else { return Ok(Standing::New) };
    if let Some(migration) = first_unknown(&applied)? {
        return Ok(Standing::Newer { migration });
    }
    if applied.len() == embedded()?.len() { Ok(Standing::Current) } else { Ok(Standing::Older { has }) }
}

/// A comment on the list of migrations, which goes with the tables when they are dropped.
const UNVERIFIED: &str = "restored from a backup, not verified yet";

/// The statement that marks restored rows as not verified; run it in the transaction that loads them, so that a restore
/// that is killed afterwards leaves no rows without the mark.
#[must_use]
pub fn mark_unverified() -> String {
    format!("COMMENT ON TABLE public.__diesel_schema_migrations IS '{UNVERIFIED}'")
}

/// Takes the mark away.
/// # Errors
/// The database refuses.
pub async fn mark_verified(owner_url: &str) -> Result<(), StoreError> {
    let session = Session::open(owner_url).await?;
    let taken = "COMMENT ON TABLE public.__diesel_schema_migrations IS NULL";
    session.client.batch_execute(taken).await.map_err(DialError::from)?;
    Ok(())
}

/// Whether the rows came from a restore that was killed before it had verified them.
/// # Errors
/// [`StoreError::Unreachable`].
pub async fn is_unverified(owner_url: &str) -> Result<bool, StoreError> {
    const QUESTION: &str = "SELECT obj_description(to_regclass('public.__diesel_schema_migrations'), 'pg_class') IS NOT DISTINCT FROM $1";
    let session = Session::open(owner_url).await?;
    let row = session.client.query_one(QUESTION, &[&UNVERIFIED]).await.map_err(DialError::from)?;
    Ok(row.try_get(0).map_err(DialError::from)?)
}

/// Refuses rows that no restore has verified.
/// # Errors
/// [`StoreError::Unsafe`], saying what to do.
pub async fn refuse_unverified(owner_url: &str) -> Result<(), StoreError> {
    if is_unverified(owner_url).await? {
        return Err(StoreError::Unsafe(
            "a restore into this place was interrupted before it had verified the books, so they may be incomplete: \
             run 'ledgerboard restore' once more, it starts from the beginning"
                .to_owned(),
        ));
    }
    Ok(())
}

/// Refuses books of a newer version, in words, before anything is run on them.
/// # Errors
/// [`StoreError::Unsafe`], saying which version to install.
pub async fn refuse_newer(owner_url: &str) -> Result<(), StoreError> {
    match standing(owner_url).await? {
        Standing::Newer { migration } => Err(StoreError::Unsafe(format!(
            "these books were last used by a newer version of Ledgerboard (it ran migration {migration}, which version \
             {} does not know): install that version or a newer one, or restore a backup made by this version into a \
             new data folder",
            env!("CARGO_PKG_VERSION")
        ))),
        Standing::New | Standing::Current | Standing::Older { .. } => Ok(()),
    }
}

async fn applied(connection: &mut AsyncPgConnection) -> Result<Option<Vec<String>>, StoreError> {
    use diesel::sql_types::{Bool, Text};
    use diesel_async::RunQueryDsl;

    let there = diesel::select(diesel::dsl::sql::<Bool>(
        "to_regclass('public.__diesel_schema_migrations') IS NOT NULL",
    ));
    if !there.get_result::<bool>(connection).await? {
        return Ok(None);
    }
    let versions = diesel::dsl::sql::<Text>("SELECT version::text FROM public.__diesel_schema_migrations");
    Ok(Some(versions.load::<String>(connection).await?))
}
