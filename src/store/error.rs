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
    /// The books are kept on another server now, and only read here.
    #[error("these books are kept at {to} now")]
    Moved { to: String },
    /// As many requests of these books wait for their turn as may wait; worth another try.
    #[error("{waiting} requests of these books are waiting already")]
    Crowded { waiting: usize },
    /// The requests of these books that came before took too long; worth another try.
    #[error("the request waited too long for its turn")]
    WaitedTooLong,
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
    /// The database is in a state that passes: it shuts down, its disk is full, it took too long.
    #[error("the database can not do this just now")]
    Unable(#[source] DieselError),
    /// The disk of the database is full; reads go on, and writes when there is space again.
    #[error("the disk of the database is full")]
    DiskFull(#[source] Option<DieselError>),
    /// The call took longer than it may. Nothing was written.
    #[error("the database did not answer in time")]
    TimedOut,
    /// The answer to a COMMIT did not come: what was to be written may be written or not.
    #[error("whether the write was committed is unknown")]
    OutcomeUnknown,
    /// A file is not what it was when it came.
    #[error("the file of document {id} is not what it was when it came")]
    Corrupt { id: Uuid },
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
            DieselError::DatabaseError(_, info) => match passing(info.message()) {
                Some(Passing::Lost) => Self::Busy(error),
                Some(Passing::Cut) => Self::Unreachable(Box::new(error)),
                Some(Passing::Unable) => Self::Unable(error),
                Some(Passing::Full) => Self::DiskFull(Some(error)),
                None => Self::Database(error),
            },
            _ => Self::Database(error),
        }
    }
}

/// A failure that is over in a while.
#[derive(Clone, Copy)]
enum Passing {
    Lost,
    Cut,
    Unable,
    Full,
}

/// The driver keeps the SQLSTATE of these to itself, so they are known by PostgreSQL's English words; the service does not
/// start on a server that speaks another language (`src/store/connect.rs`).
const PASSING: [(&str, Passing); 15] = [
    ("deadlock detected", Passing::Lost),                              // 40P01
    ("could not serialize access", Passing::Lost),                     // 40001
    ("canceling statement due to lock timeout", Passing::Lost),        // 55P03
    ("could not obtain lock", Passing::Lost),                          // 55P03
    ("connection closed", Passing::Cut),                               // the driver's
    ("error communicating with the server", Passing::Cut),             // the driver's
    ("terminating connection", Passing::Cut),                          // 57P01, 57P02, 25P03
    ("the database system is", Passing::Cut),                          // 57P03
    ("too many clients", Passing::Cut),                                // 53300
    ("connection slots", Passing::Cut),                                // 53300
    ("No space left on device", Passing::Full),                        // 53100
    ("Disk quota exceeded", Passing::Full),                            // 53100
    ("out of memory", Passing::Unable),                                // 53200
    ("canceling statement due to statement timeout", Passing::Unable), // 57014
    ("canceling statement due to user request", Passing::Unable),      // 57014
];

fn passing(message: &str) -> Option<Passing> {
    PASSING.iter().find(|(words, _)| message.contains(words)).map(|(_, passing)| *passing)
}

/// `Key is not present in table "episodes".`
fn missed_in(details: &str) -> Option<StoreError> {
    let table = details.split('"').nth(1)?;
    // A shard is named after its table and a number.
    let what = table.trim_end_matches(|one: char| one.is_ascii_digit()).trim_end_matches('_').to_owned();
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
    pub(super) const fn store_error(&self) -> Option<&StoreError> {
        match self {
            Self::Store(error) => Some(error),
            Self::Refusal(_) => None,
        }
    }

    /// A finding of the rules, about the request as a whole.
    pub fn of(finding: impl Explain + 'static) -> Self {
        Self::Refusal(finding.into())
    }
}
