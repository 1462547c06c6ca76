//! The way to the database: a pool of connections of the service's own role, and the checks at start-up.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use chrono::{DateTime, Utc};
use diesel::ConnectionError;
use diesel::QueryDsl;
use diesel::result::Error as DieselError;
use diesel::sql_types::{Bool, Nullable, Text, Timestamptz};
use diesel::{QueryableByName, sql_query};
use diesel_async::pooled_connection::deadpool::{Hook, HookError, Object, Pool};
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig, RecyclingMethod};
use diesel_async::{AsyncMigrationHarness, AsyncPgConnection, RunQueryDsl};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::books::Turn;
use super::calls::CALL_LIMIT;
use super::cluster::{ServerState, Supervised};
use super::dial::{Address, DialError, Session, diesel_connection, with_server_options};
use super::error::StoreError;
use super::idempotency::IdempotencyKey;
use super::privileges;
use super::queue::{Held, Queues};
use super::replication::Replication;
use super::schema::backups_made;
use crate::rules::ids::BooksId;

pub(super) const MIGRATIONS: EmbeddedMigrations = embed_migrations!("migrations");

/// The role that answers requests.
const SERVICE: &str = "ledgerboard_service";

/// How many connections the pool opens, where nobody says otherwise.
pub const CONNECTIONS: usize = 16;

/// How long a request waits for a connection before it is told to come back.
pub(super) const PATIENCE: Duration = Duration::from_secs(2);

/// A pooled connection; only [`super::books::Books`] hands it to queries, with its books set.
pub(super) type Connection = Object<AsyncPgConnection>;

/// Where the database is and how to log in. Both addresses are URLs or `key=value` pairs; dial them with
/// [`super::dial::Session::open`], which reads their TLS options. `Debug` shows neither, since they hold passwords.
#[derive(Clone)]
pub struct DatabaseSettings {
    /// Logs in as the owner of the schema: for migrations only.
    pub owner_url: String,
    /// Logs in as, or takes on, the service's role.
    pub service_url: String,
    pub connections: usize,
    pub durability: CheckDurability,
}

/// Whether a server that may lose acknowledged writes is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CheckDurability {
    Insist,
    /// For databases that are thrown away with the test that made them.
    Waive,
}

impl fmt::Debug for DatabaseSettings {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("DatabaseSettings")
            .field("connections", &self.connections)
            .finish_non_exhaustive()
    }
}

impl DatabaseSettings {
    /// One URL for both: its user owns the schema, and the service takes on its own role at log-in.
    pub fn of_one_url(url: &str) -> Self {
        Self {
            owner_url: url.to_owned(),
            // The role's own settings count at its own log-in only, so the time-outs go along.
            service_url: with_server_options(url, &format!("-c role={SERVICE} {}", timeouts_as_options())),
            connections: CONNECTIONS,
            durability: CheckDurability::Insist,
        }
    }
}

/// How many connections the pool may open, has open and has to give, and how many requests wait for one. `queued` are
/// requests that wait for their books' turn or have it.
#[derive(Clone, Copy, Debug)]
pub struct PoolStanding {
    pub most: usize,
    pub open: usize,
    pub idle: usize,
    pub waiting: usize,
    pub queued: usize,
}

/// The database, migrated and checked.
#[derive(Clone)]
pub struct Database {
    pool: Pool<AsyncPgConnection>,
    queues: Arc<Queues>,
    call_limit: Duration,
    server: Option<Supervised>,
}

impl Database {
    /// Migrates, opens the pool and checks what the service insists on.
    /// # Errors
    /// [`StoreError::Unreachable`], [`StoreError::Unsafe`] with the remedy.
    pub async fn open(settings: &DatabaseSettings) -> Result<Self, StoreError> {
        migrate(&settings.owner_url).await?;
        Self::join(settings).await
    }

    /// Opens the pool on a database that is migrated already.
    /// # Errors
    /// As [`Database::open`].
    pub async fn join(settings: &DatabaseSettings) -> Result<Self, StoreError> {
        let address = Arc::new(Address::read(&settings.service_url).map_err(DialError::from)?);
        if address.trusts_the_network() {
            tracing::warn!(
                hosts = address.hosts(),
                "the database server is not checked: whoever is in between can read along or pose as it; add \
                 sslmode=verify-full to its address"
            );
        }
        let sets_timeouts = lacks_timeouts(&settings.service_url).await?;
        let patience = PATIENCE.max(address.patience());
        let mut config = ManagerConfig::default();
        config.recycling_method = RecyclingMethod::Fast;
        config.custom_setup = Box::new(move |_| {
            let address = Arc::clone(&address);
            Box::pin(async move {
                let dialed = diesel_connection(&address).await;
                dialed.map_err(|error| ConnectionError::BadConnection(error.to_string()))
            })
        });
        // The address is dialed by the closure above; the manager's own text goes nowhere.
        let manager = AsyncDieselConnectionManager::new_with_config("", config);
        let pool = Pool::builder(manager)
            .max_size(settings.connections)
            .wait_timeout(Some(PATIENCE))
            .create_timeout(Some(patience))
            .runtime(deadpool::Runtime::Tokio1)
            .post_create(Hook::async_fn(move |connection: &mut AsyncPgConnection, _| {
                Box::pin(async move {
                    if sets_timeouts {
                        set_timeouts_of_session(connection).await?;
                    }
                    Ok(())
                })
            }))
            .build()
            .map_err(|error| StoreError::Unreachable(Box::new(error)))?;
        let queues = Queues::of(settings.connections);
        let database = Self { pool, queues, call_limit: CALL_LIMIT, server: None };
        database.check(settings.durability).await?;
        if settings.durability == CheckDurability::Insist {
            database.report_replication().await?;
        }
        Ok(database)
    }

    /// The same database with another limit for each call.
    #[must_use]
    pub fn with_call_limit(mut self, limit: Duration) -> Self {
        self.call_limit = limit;
        self
    }

    /// The same database, which knows how its private server stands.
    #[must_use]
    pub fn served_by(mut self, server: Supervised) -> Self {
        self.server = Some(server);
        self
    }

    /// The private server, if it is supervised.
    pub const fn server(&self) -> Option<&Supervised> {
        self.server.as_ref()
    }

    pub(super) const fn call_limit(&self) -> Duration {
        self.call_limit
    }

    pub(super) fn refuse_while_the_disk_is_full(&self) -> Result<(), StoreError> {
        match self.server().map(Supervised::state) {
            Some(ServerState::Restarting { disk_full: true, .. }) => Err(StoreError::DiskFull(None)),
            _ => Ok(()),
        }
    }

    pub(super) async fn connection(&self) -> Result<Connection, StoreError> {
        self.pool.get().await.map_err(|error| StoreError::Unreachable(Box::new(error)))
    }

    /// Waits until these books may use another connection; the turn lasts until what is returned is dropped.
    pub(super) async fn turn(
        &self,
        books: BooksId,
        turn: Turn,
        key: Option<&IdempotencyKey>,
    ) -> Result<Held, StoreError> {
        self.queues.enter(books, turn, key.map(|key| key.key.as_str())).await
    }

    /// When the newest finished backup was taken; `None` before the first.
    /// # Errors
    /// [`StoreError`].
    pub async fn last_backup(&self) -> Result<Option<DateTime<Utc>>, StoreError> {
        let newest = async |connection: &mut AsyncPgConnection| {
            let newest = diesel::dsl::max(backups_made::taken_at);
            Ok(backups_made::table.select(newest).get_result(connection).await?)
        };
        self.ask(newest).await
    }

    /// When a piece of the log was last archived, and when one last could not be.
    /// # Errors
    /// [`StoreError`].
    pub async fn archiver(&self) -> Result<Archiver, StoreError> {
        const QUESTION: &str = "SELECT last_archived_time, last_failed_time FROM pg_stat_archiver";
        self.ask(async |connection| Ok(sql_query(QUESTION).get_result(connection).await?)).await
    }

    /// Whether the database answers.
    /// # Errors
    /// [`StoreError::Unreachable`] or what the database said.
    pub async fn answers(&self) -> Result<(), StoreError> {
        self.ask(async |connection| Ok(sql_query("SELECT 1").execute(connection).await.map(|_| ())?)).await
    }

    /// Connections in use and open, for tests of hang-ups.
    pub fn connections(&self) -> (usize, usize) {
        let status = self.pool.status();
        (status.size.saturating_sub(status.available), status.size)
    }

    /// How the pool stands at this moment.
    pub fn pool(&self) -> PoolStanding {
        let status = self.pool.status();
        PoolStanding {
            most: status.max_size,
            open: status.size,
            idle: status.available,
            waiting: status.waiting,
            queued: self.queues.len(),
        }
    }

    /// What the server does with a write beyond its own disk.
    /// # Errors
    /// As [`Database::answers`].
    pub async fn replication(&self) -> Result<Replication, StoreError> {
        Replication::found(&mut *self.connection().await?).await
    }

    async fn report_replication(&self) -> Result<(), StoreError> {
        let found = self.replication().await?;
        if found.may_lose_writes() {
            tracing::warn!("{found}");
        } else {
            tracing::info!("{found}");
        }
        Ok(())
    }

    async fn check(&self, durability: CheckDurability) -> Result<(), StoreError> {
        let mut connection = self.connection().await?;
        let role: RoleRow = sql_query(
            "SELECT current_user::text AS name, r.rolsuper OR r.rolbypassrls OR \
             EXISTS (SELECT FROM pg_class c WHERE c.relowner = r.oid AND c.relnamespace = 'public'::regnamespace) \
             AS too_mighty FROM pg_roles r WHERE r.rolname = current_user",
        )
        .get_result(&mut connection)
        .await?;
        if role.too_mighty {
            return Err(StoreError::Unsafe(format!(
                "the service runs as {}, which is a superuser, bypasses row security or owns tables; \
                 let it log in as ledgerboard_service, and run: ALTER ROLE ledgerboard_service NOSUPERUSER NOBYPASSRLS;",
                role.name
            )));
        }
        let loose: Vec<NameRow> = sql_query(
            "SELECT c.relname::text AS name FROM pg_class c \
             WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' \
             AND c.relname <> '__diesel_schema_migrations' \
             AND NOT (c.relrowsecurity AND c.relforcerowsecurity)",
        )
        .load(&mut connection)
        .await?;
        if let Some(table) = loose.as_slice().first() {
            return Err(StoreError::Unsafe(format!(
                "the table {} has no row security; run the migrations of this version",
                table.name
            )));
        }
        insist_on_english(&mut connection).await?;
        if durability == CheckDurability::Insist {
            insist_on_durability(&mut connection).await?;
        }
        Ok(())
    }
}

/// Deadlocks, time-outs and full disks are known by PostgreSQL's English words (`StoreError`). A server whose setting does
/// not say that it speaks them is made to name a mistake.
async fn insist_on_english(connection: &mut AsyncPgConnection) -> Result<(), StoreError> {
    let setting: NameRow =
        sql_query("SELECT current_setting('lc_messages') AS name").get_result(connection).await?;
    // Any other, even an English one, gives way to the server's own LANGUAGE.
    if ["C", "POSIX"].contains(&setting.name.as_str()) {
        return Ok(());
    }
    let heard = match sql_query("SELECT 1 / 0").execute(connection).await {
        Err(DieselError::DatabaseError(_, said)) => said.message().to_owned(),
        Err(other) => return Err(other.into()),
        Ok(_) => String::new(),
    };
    if heard == "division by zero" {
        return Ok(());
    }
    Err(StoreError::Unsafe(format!(
        "the server tells faults in another language than English ({heard}), so that a passing one could not be told \
         from a lasting one; let a superuser run ALTER DATABASE … SET lc_messages = 'C'"
    )))
}

async fn insist_on_durability(connection: &mut AsyncPgConnection) -> Result<(), StoreError> {
    let lax: Vec<NameRow> = sql_query(
        "SELECT name::text AS name FROM pg_settings \
         WHERE name IN ('fsync', 'full_page_writes', 'synchronous_commit') AND setting = 'off'",
    )
    .load(connection)
    .await?;
    match lax.as_slice().first() {
        None => Ok(()),
        Some(setting) => Err(StoreError::Unsafe(format!(
            "the server runs with {} = off and may lose what it acknowledged; turn it on",
            setting.name
        ))),
    }
}

/// # Errors
/// [`StoreError::Unreachable`] where nobody answers, [`StoreError::Unsafe`] where a migration fails.
pub async fn migrate(owner_url: &str) -> Result<(), StoreError> {
    super::versions::refuse_newer(owner_url).await?;
    let session = Session::open(owner_url).await?;
    let address = Address::read(owner_url).map_err(DialError::from)?;
    let mut connection = diesel_connection(&address).await?;
    wait_for_the_turn_to_migrate(&mut connection).await?;
    let mut harness = AsyncMigrationHarness::new(connection);
    harness
        .run_pending_migrations(MIGRATIONS)
        .map(|_| ())
        .map_err(|error| StoreError::Unsafe(format!("the database could not be migrated: {error}")))?;
    privileges::set_timeouts(&session).await?;
    session.close().await;
    Ok(())
}

fn timeouts_as_options() -> String {
    privileges::TIMEOUTS.map(|(name, value)| format!("-c {name}={value}")).join(" ")
}

/// Whether the log-in comes without the time-outs, so that each session has to set them. Behind a pooler a session is not
/// ours to set, so there it is only reported.
async fn lacks_timeouts(service_url: &str) -> Result<bool, StoreError> {
    const ASKED: &str = "SELECT session_user::text, pg_backend_pid(), EXISTS (SELECT FROM pg_settings WHERE setting = '0' \
        AND name IN ('statement_timeout', 'lock_timeout', 'idle_in_transaction_session_timeout'))";
    let failed = |error: tokio_postgres::Error| StoreError::from(DialError::from(error));
    let (one, other) = (Session::open(service_url).await?, Session::open(service_url).await?);
    let row = one.client.query_one(ASKED, &[]).await.map_err(failed)?;
    let (role, process, lacks): (String, i32, bool) =
        (row.try_get(0).map_err(failed)?, row.try_get(1).map_err(failed)?, row.try_get(2).map_err(failed)?);
    let row = other.client.query_one(ASKED, &[]).await.map_err(failed)?;
    let other_process: i32 = row.try_get(1).map_err(failed)?;
    one.close().await;
    other.close().await;
    // Two connections that are open at once share a process only where a pooler hands it to and fro.
    let is_pooled = process == other_process;
    if lacks {
        tracing::warn!(
            run = privileges::timeouts_of(&role),
            is_pooled,
            "the database role has no time-outs; have a superuser set them"
        );
    }
    Ok(lacks && !is_pooled)
}

async fn set_timeouts_of_session(connection: &mut AsyncPgConnection) -> Result<(), HookError> {
    let each = privileges::TIMEOUTS.map(|(name, value)| format!("set_config('{name}', '{value}', false)"));
    let set = sql_query(format!("SELECT {}", each.join(", "))).execute(connection).await;
    set.map(|_| ()).map_err(|error| HookError::message(error.to_string()))
}

/// Of several programs that start on one database at the same moment, one migrates and the others find it done. The lock
/// is the session's, since a migration is a transaction of its own, and goes with the connection. Two numbers make it, a
/// space apart from the one number that holds an idempotency key.
async fn wait_for_the_turn_to_migrate(connection: &mut AsyncPgConnection) -> Result<(), StoreError> {
    sql_query("SELECT pg_advisory_lock(1818518629, 1)").execute(connection).await?;
    Ok(())
}

/// Takes every migration back again; for the test that proves it can be done.
/// # Errors
/// As [`migrate`].
pub async fn unmigrate(owner_url: &str) -> Result<(), StoreError> {
    let address = Address::read(owner_url).map_err(DialError::from)?;
    let connection = diesel_connection(&address).await?;
    let mut harness = AsyncMigrationHarness::new(connection);
    harness
        .revert_all_migrations(MIGRATIONS)
        .map(|_| ())
        .map_err(|error| StoreError::Unsafe(format!("the migrations could not be taken back: {error}")))
}

/// When the server last archived a piece of its log, and when it last failed to; `None` if never.
#[derive(Clone, Copy, Debug, PartialEq, Eq, QueryableByName)]
pub struct Archiver {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub last_archived_time: Option<DateTime<Utc>>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub last_failed_time: Option<DateTime<Utc>>,
}

#[derive(QueryableByName)]
struct RoleRow {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Bool)]
    too_mighty: bool,
}

#[derive(QueryableByName)]
struct NameRow {
    #[diesel(sql_type = Text)]
    name: String,
}
