//! Whether what was confirmed survives the loss of the machine that confirmed it.

use std::fmt;

use diesel::sql_types::{BigInt, Text};
use diesel::{QueryableByName, sql_query};
use diesel_async::{AsyncPgConnection, RunQueryDsl};

use super::error::StoreError;

/// What the server does with a write before it confirms it, beyond its own disk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Replication {
    /// No standby follows.
    Alone,
    /// Each write waits for the standbys that `synchronous_standby_names` names.
    Synchronous { names: String },
    /// So many standbys follow without being waited for.
    Asynchronous { standbys: i64 },
    /// Standbys are named, but `synchronous_commit` does not wait until they have a write on disk.
    NotWaitedFor { names: String, commit: String },
}

impl Replication {
    fn of(names: &str, commit: &str, standbys: i64) -> Self {
        let names = names.trim();
        match (names, commit) {
            ("", _) if standbys == 0 => Self::Alone,
            ("", _) => Self::Asynchronous { standbys },
            (_, "on" | "remote_apply") => Self::Synchronous { names: names.to_owned() },
            _ => Self::NotWaitedFor { names: names.to_owned(), commit: commit.to_owned() },
        }
    }

    pub(super) async fn found(connection: &mut AsyncPgConnection) -> Result<Self, StoreError> {
        let row: Row = sql_query(
            "SELECT current_setting('synchronous_standby_names') AS names, \
             current_setting('synchronous_commit') AS commit, \
             (SELECT count(*) FROM pg_stat_get_wal_senders()) AS standbys",
        )
        .get_result(connection)
        .await?;
        Ok(Self::of(&row.names, &row.commit, row.standbys))
    }

    /// Whether a failover may lose a write that was confirmed.
    pub const fn may_lose_writes(&self) -> bool {
        matches!(self, Self::Asynchronous { .. } | Self::NotWaitedFor { .. })
    }
}

impl fmt::Display for Replication {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Alone => formatter.write_str(
                "no standby follows the database server: the books survive the loss of its disk only in a backup",
            ),
            Self::Synchronous { names } => {
                write!(formatter, "each write waits for a standby (synchronous_standby_names = '{names}')")
            }
            Self::Asynchronous { standbys } => write!(
                formatter,
                "{standbys} standby server(s) or backup receiver(s) follow asynchronously: a failover may lose the \
                 writes of its last moments although they were confirmed; set synchronous_standby_names on the primary \
                 to make each write wait for a standby"
            ),
            Self::NotWaitedFor { names, commit } => write!(
                formatter,
                "synchronous_standby_names = '{names}', but synchronous_commit = {commit} does not wait until a standby \
                 has a write on disk: a failover may lose writes that were confirmed; set synchronous_commit = on"
            ),
        }
    }
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    names: String,
    #[diesel(sql_type = Text)]
    commit: String,
    #[diesel(sql_type = BigInt)]
    standbys: i64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_named_standby_that_is_waited_for_keeps_confirmed_writes() {
        for (names, commit, standbys, loses, words) in [
            ("", "on", 0, false, "no standby follows"),
            ("", "on", 2, true, "2 standby server(s)"),
            ("ANY 1 (a, b)", "on", 2, false, "ANY 1 (a, b)"),
            ("*", "remote_apply", 1, false, "waits for a standby"),
            ("*", "local", 1, true, "synchronous_commit = local"),
            ("*", "remote_write", 1, true, "set synchronous_commit = on"),
        ] {
            let found = Replication::of(names, commit, standbys);
            assert_eq!(found.may_lose_writes(), loses, "{names} {commit} {standbys}");
            assert!(found.to_string().contains(words), "{found}");
        }
    }
}
