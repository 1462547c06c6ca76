//! What the machine did, apart from what the person may mend.

use diesel::result::{DatabaseErrorKind, Error as DieselError};
use uuid::Uuid;

use crate::rules::refusal::{Explain, Refusal};

/// What can go wrong below the rules.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// No connection within the time allowed; worth another try.
    #[error("the database can not be reached")]
    Unreachable(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// The transaction lost against another one; worth another try.
    #[error("another write came in between")]
    Busy(#[source] DieselError),
    /// Another request under the same key has not come to its end yet.
    #[error("a request under the same key is still running")]
    StillRunning,
    /// The thing named by the path is not in these books.
    #[error("no {what} {id} in these books")]
    NotFound { what: &'static str, id: String },
    /// Something named inside the request is not in these books.
    #[error("the request names {what} {id}, which these books do not have")]
    UnknownId { what: String, id: Uuid },
    /// The same, found by the database, which does not say which id it missed: row security keeps values back.
    #[error("the request names one of {what} that these books do not have")]
    UnknownReference { what: String },
    /// A constraint of the database refused what the rules let through.
    #[error("the database refused the write by its constraint {constraint}: {message}")]
    Constraint { constraint: String, message: String },
    /// What was read does not fit the types the program knows.
    #[error("{column} holds {found}, which this program does not know")]
    Unreadable { column: &'static str, found: String },
    #[error("the database failed")]
    Database(#[source] DieselError),
    /// The database is not set up the way the service insists on.
    #[error("{0}")]
    Unsafe(String),
    #[error("a value could not be put into words: {0}")]
    Json(#[from] serde_json::Error),
}

impl StoreError {
    /// Whether the same transaction may succeed when it is run again.
    pub const fn is_transient(&self) -> bool {
        matches!(self, Self::Busy(_))
    }
}

impl From<DieselError> for StoreError {
    fn from(error: DieselError) -> Self {
        match &error {
            DieselError::DatabaseError(DatabaseErrorKind::SerializationFailure, _) => Self::Busy(error),
            DieselError::DatabaseError(DatabaseErrorKind::ForeignKeyViolation, info) => {
                missed_in(info.details().unwrap_or_default()).unwrap_or_else(|| Self::Constraint {
                    constraint: info.constraint_name().unwrap_or_default().to_owned(),
                    message: info.message().to_owned(),
                })
            }
            DieselError::DatabaseError(
                DatabaseErrorKind::UniqueViolation
                | DatabaseErrorKind::CheckViolation
                | DatabaseErrorKind::NotNullViolation
                | DatabaseErrorKind::RestrictViolation,
                info,
            ) => Self::Constraint {
                constraint: info.constraint_name().unwrap_or_default().to_owned(),
                message: info.message().to_owned(),
            },
            DieselError::DatabaseError(DatabaseErrorKind::ClosedConnection, _) => {
                Self::Unreachable(Box::new(error))
            }
            DieselError::DatabaseError(_, info) if info.message().contains("deadlock detected") => {
                Self::Busy(error)
            }
            _ => Self::Database(error),
        }
    }
}

/// `Key is not present in table "episodes".`
fn missed_in(details: &str) -> Option<StoreError> {
    let what = details.split('"').nth(1)?.to_owned();
    details.contains("not present").then_some(StoreError::UnknownReference { what })
}

/// Either the rules refuse, or the store fails; never mixed up.
#[derive(Debug)]
pub enum Fault {
    Refusal(Refusal),
    Store(StoreError),
}

impl From<Refusal> for Fault {
    fn from(refusal: Refusal) -> Self {
        Self::Refusal(refusal)
    }
}

impl<E: Into<StoreError>> From<E> for Fault {
    fn from(error: E) -> Self {
        Self::Store(error.into())
    }
}

impl Fault {
    /// A finding of the rules, about the request as a whole.
    pub fn of(finding: impl Explain + 'static) -> Self {
        Self::Refusal(finding.into())
    }
}
