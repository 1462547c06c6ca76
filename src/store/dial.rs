//! The one way to a PostgreSQL server that somebody named: reads the address, speaks TLS as it asks, logs in.
//!
//! Whoever needs a connection of the driver takes a [`Session`]; whoever needs one of diesel's takes `diesel_connection`.
//! Both read `sslmode` and `sslrootcert`, which the driver's own `connect` does not. No error shows a password.

mod address;
mod encryption;

use diesel_async::AsyncPgConnection;
use tokio::task::JoinHandle;
use tokio_postgres::error::SqlState;
use tokio_postgres::{Client, Connection, Socket};
use tokio_postgres_rustls::MakeRustlsConnect;

pub use address::{Address, AddressError, with_server_options};

use super::error::StoreError;
use super::privileges::quoted;

/// Why nobody could log in. Each says what to change; none shows a password.
#[derive(Debug, thiserror::Error)]
pub enum DialError {
    #[error("the address of the database cannot be used")]
    Address(#[from] AddressError),
    #[error(
        "{hosts} offers no TLS, and sslmode asks for it; set ssl = on at the server, or use sslmode=disable where \
         nobody can listen in between"
    )]
    NoTls { hosts: String },
    #[error(
        "the certificate of {hosts} was not signed by an authority that is trusted here; give sslrootcert=FILE with \
         the certificate of the authority that signed it"
    )]
    UnknownAuthority { hosts: String },
    #[error(
        "the certificate of {hosts} was made for another name; dial the name it was made for, or have one made that \
         carries this host as subjectAltName"
    )]
    OtherName { hosts: String },
    #[error(
        "the certificate of {hosts} does not hold today: {why}; have it renewed, or set this machine's clock"
    )]
    NotNow { hosts: String, why: String },
    #[error("TLS with {hosts} failed: {why}")]
    Tls { hosts: String, why: String },
    #[error(
        "{hosts} refused the log-in: {why}; check user, password and database, and pg_hba.conf at the server"
    )]
    LogIn { hosts: String, why: String },
    #[error(
        "{hosts}: {why}; have its administrator run CREATE DATABASE … OWNER … ENCODING 'UTF8' TEMPLATE template0"
    )]
    NoDatabase { hosts: String, why: String },
    #[error(
        "a pooler answers at {hosts} and takes no server options: {why}; give it the log-in of ledgerboard_service, and \
         the owner's direct address as LEDGERBOARD_OWNER_URL"
    )]
    Pooler { hosts: String, why: String },
    #[error("no host of {hosts} accepts writes; check that one of them is the primary")]
    NoPrimary { hosts: String },
    #[error("{hosts} refused the log-in: {why}; have a superuser run: {run}")]
    Forbidden { hosts: String, why: String, run: String },
    #[error("the database did not answer a check at the start: {0}")]
    Asked(String),
    #[error("{hosts} cannot be reached: {why}")]
    Unreachable { hosts: String, why: String },
}

impl From<tokio_postgres::Error> for DialError {
    fn from(error: tokio_postgres::Error) -> Self {
        Self::Asked(with_causes(&error))
    }
}

impl From<DialError> for StoreError {
    fn from(error: DialError) -> Self {
        Self::Unreachable(Box::new(error))
    }
}

/// A connection of the driver, with the task that carries it; both end when this is dropped or closed.
pub struct Session {
    pub client: Client,
    driver: JoinHandle<Result<(), tokio_postgres::Error>>,
    connector: MakeRustlsConnect,
}

impl Session {
    /// Logs in at an address in either form, such as [`super::connect::DatabaseSettings::owner_url`].
    /// # Errors
    /// [`DialError`].
    pub async fn open(address: &str) -> Result<Self, DialError> {
        let address = Address::read(address)?;
        let (client, connection) = dial(&address).await?;
        let driver = tokio::spawn(connection);
        Ok(Self { client, driver, connector: address.encryption.connector })
    }

    /// Asks the server to stop the statement that runs; over TLS if the session is.
    /// # Errors
    /// The server was not reached.
    pub async fn cancel(&self) -> Result<(), tokio_postgres::Error> {
        self.client.cancel_token().cancel_query(self.connector.clone()).await
    }

    /// The same connection as one of diesel's, in the transaction it is in; it ends when that is dropped.
    /// # Errors
    /// The server did not answer.
    pub(super) async fn for_diesel(self) -> Result<AsyncPgConnection, StoreError> {
        let connection = AsyncPgConnection::try_from(self.client).await;
        connection.map_err(|error| StoreError::Unreachable(Box::new(error)))
    }

    /// Logs out, and waits until the server has heard of it.
    pub async fn close(self) {
        drop(self.client);
        if let Ok(Err(error)) = self.driver.await {
            tracing::debug!(%error, "a session did not end in order");
        }
    }
}

/// A connection of diesel's to that address.
/// # Errors
/// [`DialError`].
pub(super) async fn diesel_connection(address: &Address) -> Result<AsyncPgConnection, DialError> {
    let (client, connection) = dial(address).await?;
    AsyncPgConnection::try_from_client_and_connection(client, connection)
        .await
        .map_err(|error| DialError::Unreachable { hosts: address.hosts(), why: error.to_string() })
}

type Wire = Connection<Socket, <MakeRustlsConnect as tokio_postgres::tls::MakeTlsConnect<Socket>>::Stream>;

async fn dial(address: &Address) -> Result<(Client, Wire), DialError> {
    let connector = address.encryption.connector.clone();
    address.config.connect(connector).await.map_err(|error| in_words(address, &error))
}

fn in_words(address: &Address, error: &tokio_postgres::Error) -> DialError {
    let hosts = address.hosts();
    let why = with_causes(error);
    if let Some(refused) = error.as_db_error() {
        let why = refused.message().to_owned();
        let code = refused.code();
        return if *code == SqlState::INVALID_CATALOG_NAME {
            DialError::NoDatabase { hosts, why }
        } else if why.contains("unsupported startup parameter") {
            DialError::Pooler { hosts, why }
        } else if let Some(run) = what_allows_it(address, &why) {
            DialError::Forbidden { hosts, why, run }
        } else if code.code().starts_with("28") {
            DialError::LogIn { hosts, why }
        } else {
            DialError::Unreachable { hosts, why }
        };
    }
    let source = std::error::Error::source(error);
    let io = source.and_then(|source| source.downcast_ref::<std::io::Error>());
    let tls = io.and_then(std::io::Error::get_ref).and_then(|inner| inner.downcast_ref::<rustls::Error>());
    match tls {
        Some(rustls::Error::InvalidCertificate(found)) => of_certificate(hosts, found),
        Some(other) => DialError::Tls { hosts, why: other.to_string() },
        None if why.contains("server does not support TLS") => DialError::NoTls { hosts },
        None if why.contains("does not allow writes") => DialError::NoPrimary { hosts },
        None => DialError::Unreachable { hosts, why },
    }
}

/// The statement that allows a log-in of a user who exists; the server's words tell them apart.
fn what_allows_it(address: &Address, why: &str) -> Option<String> {
    let user = quoted(address.config.get_user().unwrap_or("ledgerboard_service"));
    let database = quoted(address.config.get_dbname().unwrap_or("ledgerboard"));
    if why.contains("permission denied for database") {
        Some(format!("GRANT CONNECT ON DATABASE {database} TO {user};"))
    } else if why.contains("permission denied to set role") {
        Some(format!("GRANT ledgerboard_service TO {user};"))
    } else if why.contains("is not permitted to log in") {
        Some(format!("ALTER ROLE {user} LOGIN;"))
    } else {
        None
    }
}

fn of_certificate(hosts: String, found: &rustls::CertificateError) -> DialError {
    use rustls::CertificateError as Found;
    match found {
        Found::UnknownIssuer | Found::BadSignature => DialError::UnknownAuthority { hosts },
        Found::NotValidForName | Found::NotValidForNameContext { .. } => DialError::OtherName { hosts },
        Found::Expired
        | Found::ExpiredContext { .. }
        | Found::NotValidYet
        | Found::NotValidYetContext { .. } => DialError::NotNow { hosts, why: found.to_string() },
        other => DialError::Tls { hosts, why: other.to_string() },
    }
}

/// An error with what is behind it, in one line. The driver's errors hold what the server said, and nothing of the
/// address.
fn with_causes(error: &tokio_postgres::Error) -> String {
    let mut told = error.to_string();
    let mut source = std::error::Error::source(error);
    while let Some(inner) = source {
        let words = inner.to_string();
        if !told.contains(&words) {
            told.push_str(": ");
            told.push_str(&words);
        }
        source = inner.source();
    }
    told
}
