//! What both log-ins must be allowed, checked one by one at the start. What is missing is said with the statement that
//! gives it; `docker/POSTGRESQL.md` lists all of it.

use tokio_postgres::Client;
use tokio_postgres::error::SqlState;

use super::dial::{DialError, Session};
use super::error::StoreError;

/// The roles that the migrations make and use, with what each is for.
const ROLES: [(&str, &str); 3] = [
    ("ledgerboard_service", "LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS"),
    ("ledgerboard_door", "NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS"),
    ("ledgerboard_backup", "NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS"),
];

/// The first version whose rights the migrations rely on: an owner of a database owns its schema `public`.
const OLDEST: i32 = 150_000;

/// Since this version CREATEROLE alone does not let anyone grant a role that somebody else made.
const ADMIN_OPTION_COUNTS: i32 = 160_000;

/// What limits a statement of the service, in the server. The client gives up a little later.
pub(super) const TIMEOUTS: [(&str, &str); 3] =
    [("statement_timeout", "30s"), ("lock_timeout", "10s"), ("idle_in_transaction_session_timeout", "30s")];

/// What is missing, and what gives it.
struct Missing {
    what: String,
    run: String,
}

/// The owner's log-in, and what it was found to be.
struct Owner {
    name: String,
    database: String,
    version: i32,
    encoding: String,
    found: Vec<Found>,
    /// Who owns the tables, once there are any.
    tables_owner: Option<String>,
}

/// What was found of a log-in and its server.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Found {
    Superuser,
    CreatesRoles,
    OwnsSchema,
    /// Or there are none yet.
    OwnsTables,
    Standby,
}

/// Refuses an owner's log-in that could not run the migrations, before any of them is run.
/// # Errors
/// [`StoreError::Unsafe`] with the statements to run, [`StoreError::Unreachable`].
pub(super) async fn check_owner(session: &Session) -> Result<(), StoreError> {
    let owner = Owner::of(&session.client).await.map_err(asked)?;
    owner.is_on_a_fitting_server()?;
    if owner.is(Found::Superuser) {
        return Ok(());
    }
    let missing = match owner.owns_what_it_needs() {
        Some(missing) => Some(missing),
        None => owner.roles_at_hand(&session.client).await.map_err(asked)?,
    };
    let Some(missing) = missing else { return Ok(()) };
    Err(StoreError::Unsafe(format!(
        "the owner's log-in {} of the database {} {}; let a superuser run: {}",
        owner.name, owner.database, missing.what, missing.run
    )))
}

impl Owner {
    async fn of(client: &Client) -> Result<Self, tokio_postgres::Error> {
        let row = client
            .query_one(
                "SELECT current_user::text, current_database()::text, current_setting('server_version_num')::int, \
                 current_setting('server_encoding'), r.rolsuper, r.rolcreaterole, \
                 coalesce(pg_has_role(current_user, n.nspowner, 'USAGE'), false), pg_is_in_recovery(), \
                 coalesce(pg_has_role(current_user, c.relowner, 'USAGE'), true), pg_get_userbyid(c.relowner)::text \
                 FROM pg_roles r LEFT JOIN pg_namespace n ON n.nspname = 'public' \
                 LEFT JOIN pg_class c ON c.relnamespace = n.oid AND c.relname = 'books' AND c.relkind IN ('r', 'p') \
                 WHERE r.rolname = current_user",
                &[],
            )
            .await?;
        let mut found = Vec::new();
        for (column, one) in [
            (4, Found::Superuser),
            (5, Found::CreatesRoles),
            (6, Found::OwnsSchema),
            (7, Found::Standby),
            (8, Found::OwnsTables),
        ] {
            if row.try_get(column)? {
                found.push(one);
            }
        }
        Ok(Self {
            name: row.try_get(0)?,
            database: row.try_get(1)?,
            version: row.try_get(2)?,
            encoding: row.try_get(3)?,
            found,
            tables_owner: row.try_get(9)?,
        })
    }

    fn is(&self, one: Found) -> bool {
        self.found.contains(&one)
    }

    fn is_on_a_fitting_server(&self) -> Result<(), StoreError> {
        let refused = if self.version < OLDEST {
            format!(
                "the server is PostgreSQL {}, and 15 or later is needed; upgrade it",
                self.version.div_euclid(10_000)
            )
        } else if self.is(Found::Standby) {
            "the server is a standby and takes no writes; name the primary, or all hosts with \
             target_session_attrs=read-write"
                .to_owned()
        } else if self.encoding != "UTF8" {
            format!(
                "the database {} has the encoding {}, and UTF8 is needed; let its owner make another with CREATE DATABASE \
                 … ENCODING 'UTF8' TEMPLATE template0",
                self.database, self.encoding
            )
        } else if !self.is(Found::OwnsTables) && !self.is(Found::Superuser) {
            let (name, other) = (quoted(&self.name), self.tables_owner.as_deref().unwrap_or_default());
            format!(
                "the tables of the database {} belong to {other} and not to {}; let {other} log in as the owner, or let a \
                 superuser run: REASSIGN OWNED BY {} TO {name};",
                self.database,
                self.name,
                quoted(other)
            )
        } else {
            return Ok(());
        };
        Err(StoreError::Unsafe(refused))
    }

    fn owns_what_it_needs(&self) -> Option<Missing> {
        let (name, database) = (quoted(&self.name), quoted(&self.database));
        (!self.is(Found::OwnsSchema)).then(|| Missing {
            what: "does not own the schema public".to_owned(),
            run: format!("ALTER DATABASE {database} OWNER TO {name};"),
        })
    }

    /// The roles have to be there or to be made, and the owner has to hand them on, and to act as each.
    async fn roles_at_hand(&self, client: &Client) -> Result<Option<Missing>, tokio_postgres::Error> {
        let may_act = if self.version < ADMIN_OPTION_COUNTS { "MEMBER" } else { "SET" };
        let asked = format!(
            "SELECT pg_has_role(current_user, r.oid, 'MEMBER WITH ADMIN OPTION'), \
             pg_has_role(current_user, r.oid, '{may_act}') FROM pg_roles r WHERE r.rolname = $1"
        );
        let (mut to_make, mut to_grant) = (Vec::new(), Vec::new());
        for (role, attributes) in ROLES {
            let Some(row) = client.query_opt(&asked, &[&role]).await? else {
                to_make.push((role, attributes));
                continue;
            };
            let (hands_on, acts): (bool, bool) = (row.try_get(0)?, row.try_get(1)?);
            let hands_on = hands_on || (self.version < ADMIN_OPTION_COUNTS && self.is(Found::CreatesRoles));
            // Migrations grant the roles to their owner; afterwards it is enough to act as them.
            let enough = hands_on || (acts && self.tables_owner.is_some());
            if !enough {
                to_grant.push(role);
            }
        }
        if self.is(Found::CreatesRoles) {
            to_make.clear();
        }
        if to_make.is_empty() && to_grant.is_empty() {
            return Ok(None);
        }
        let what = if to_make.is_empty() {
            format!(
                "may not hand on the roles {}, which another owner on this server made",
                to_grant.join(" and ")
            )
        } else {
            "may not create the roles that the service needs".to_owned()
        };
        let mut run: Vec<_> =
            to_make.iter().map(|(role, attributes)| format!("CREATE ROLE {role} {attributes};")).collect();
        let granted: Vec<_> = to_make.iter().map(|(role, _)| *role).chain(to_grant).collect();
        run.push(format!("GRANT {} TO {} WITH ADMIN OPTION;", granted.join(", "), quoted(&self.name)));
        Ok(Some(Missing { what, run: run.join(" ") }))
    }
}

/// Sets the time-outs on the service's role where they are not set yet, so that they hold behind a pooler too, where a
/// session is not the service's own. An owner without the right leaves it: [`super::connect::Database::join`] sees it.
pub(super) async fn set_timeouts(session: &Session) -> Result<(), StoreError> {
    let asked_for = "SELECT coalesce(array_agg(split_part(one, '=', 1)), '{}') FROM pg_db_role_setting s, \
                     unnest(s.setconfig) one WHERE s.setrole = (SELECT oid FROM pg_roles WHERE rolname = $1)";
    let row = session.client.query_one(asked_for, &[&"ledgerboard_service"]).await.map_err(asked)?;
    let set: Vec<String> = row.try_get(0).map_err(asked)?;
    let missing: Vec<_> =
        TIMEOUTS.into_iter().filter(|(name, _)| !set.iter().any(|one| one == name)).collect();
    for (name, value) in missing {
        let statement = format!("ALTER ROLE ledgerboard_service SET {name} = '{value}'");
        match session.client.batch_execute(&statement).await {
            Ok(()) => {}
            // Another start does the same at this moment; or this owner may not.
            Err(error)
                if error.code() == Some(&SqlState::INSUFFICIENT_PRIVILEGE)
                    || error.code() == Some(&SqlState::INTERNAL_ERROR) =>
            {
                tracing::debug!(%error, statement, "a time-out was not set on the role");
            }
            Err(error) => return Err(asked(error)),
        }
    }
    Ok(())
}

/// What sets the time-outs on the role that logs in.
pub(super) fn timeouts_of(role: &str) -> String {
    let role = quoted(role);
    let each = TIMEOUTS.iter().map(|(name, value)| format!("ALTER ROLE {role} SET {name} = '{value}';"));
    each.collect::<Vec<_>>().join(" ")
}

/// A name as SQL writes it, quoted only where it has to be.
pub(super) fn quoted(name: &str) -> String {
    let plain = name.starts_with(|sign: char| sign.is_ascii_lowercase() || sign == '_')
        && name.chars().all(|sign| sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '_');
    if plain { name.to_owned() } else { format!("\"{}\"", name.replace('"', "\"\"")) }
}

fn asked(error: tokio_postgres::Error) -> StoreError {
    DialError::from(error).into()
}
