//! The command line: one program that serves, shows, checks and makes tokens.

mod archiving;
mod backing_up;
mod books;
mod choosing;
mod demo;
mod logging;
mod restoring;
mod serving;
mod token;
mod verifying;

use std::ffi::OsString;
use std::net::SocketAddr;
use std::num::{NonZeroU32, NonZeroUsize};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::{Args, Parser, Subcommand, value_parser};
use ipnet::IpNet;

use super::clients::network;
use super::descriptors::raise_limit;
use super::limits::Limits;
use super::serve::Pages;
use super::setup::{SetupError, Whereabouts};
use super::stop::{Interrupted, Stop};
use super::tls::Wire;
use crate::api::saying::{remark, say};
use crate::store::error::Fault;

/// Books for a renovation channel.
#[derive(Debug, Parser)]
#[command(name = "ledgerboard", version, about)]
struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Args)]
struct Places {
    /// A PostgreSQL server of your own, as a URL or as key=value pairs; left out or empty, a private one runs in the
    /// data folder.
    #[arg(long, env = "DATABASE_URL", hide_env_values = true)]
    database_url: Option<String>,
    /// The owner's log-in on that server, where the first is the service's own.
    #[arg(long, env = "LEDGERBOARD_OWNER_URL", hide_env_values = true)]
    owner_url: Option<String>,
    /// Where the private server keeps its data.
    #[arg(long, env = "LEDGERBOARD_DATA_DIR")]
    data_dir: Option<OsString>,
    /// The folder with PostgreSQL's programs initdb and postgres.
    #[arg(long, env = "LEDGERBOARD_PG_BIN")]
    pg_bin: Option<OsString>,
    /// The most connections to the database that the service opens.
    #[arg(long, env = "LEDGERBOARD_CONNECTIONS", default_value_t = 16, value_parser = clap::value_parser!(u16).range(2..=200))]
    connections: u16,
    /// The folder for the backup that is made before books of an older version are migrated; left out, it is `backups`
    /// in the data folder.
    #[arg(long, env = "LEDGERBOARD_BACKUP_DIR")]
    backup_dir: Option<OsString>,
}

impl From<&Places> for Whereabouts {
    fn from(places: &Places) -> Self {
        Self {
            // An empty variable, as compose files leave it, is none.
            database_url: places.database_url.clone().filter(|url| !url.trim().is_empty()),
            owner_url: places.owner_url.clone().filter(|url| !url.trim().is_empty()),
            data_dir: places.data_dir.clone().filter(|folder| !folder.is_empty()).map(PathBuf::from),
            pg_bin: places.pg_bin.clone().filter(|folder| !folder.is_empty()).map(PathBuf::from),
            connections: Some(places.connections.into()),
            backup_dir: places.backup_dir.clone().filter(|folder| !folder.is_empty()).map(PathBuf::from),
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serves the API and the pages.
    Serve {
        #[command(flatten)]
        places: Places,
        /// Where to listen; other machines reach it only inside TLS, here or at a proxy in front.
        #[arg(long, env = "LEDGERBOARD_LISTEN", default_value = "127.0.0.1:8321")]
        listen: SocketAddr,
        /// Allows an address that other machines reach; a proxy in front must end TLS.
        #[arg(long)]
        behind_tls_proxy: bool,
        /// A PEM file with the certificate chain to speak TLS with, the service's own certificate first.
        #[arg(long, env = "LEDGERBOARD_TLS_CERTIFICATE", requires = "tls_key")]
        tls_certificate: Option<PathBuf>,
        /// A PEM file with the private key of that certificate.
        #[arg(long, env = "LEDGERBOARD_TLS_KEY", requires = "tls_certificate")]
        tls_key: Option<PathBuf>,
        /// A proxy in front whose Forwarded or X-Forwarded-For header says whose request it passes on: its address or
        /// network, such as 10.0.0.0/8; several times for several. Limits by address then count the clients behind it.
        #[arg(long = "trusted-proxy", env = "LEDGERBOARD_TRUSTED_PROXIES", value_parser = network, value_delimiter = ',')]
        trusted_proxies: Vec<IpNet>,
        /// How many requests one token may make in a minute.
        #[arg(long, env = "LEDGERBOARD_REQUESTS_PER_MINUTE", default_value_t = Limits::default().per_minute)]
        requests_per_minute: NonZeroU32,
        /// Where metrics for Prometheus are read, such as 127.0.0.1:9321; only this machine may reach it.
        #[arg(long, env = "LEDGERBOARD_METRICS_ON")]
        metrics_on: Option<SocketAddr>,
        /// How many seconds one call on PostgreSQL may take before the caller is answered without it.
        #[arg(long, env = "LEDGERBOARD_CALL_SECONDS", default_value_t = 15, value_parser = value_parser!(u64).range(1..=600))]
        call_seconds: u64,
        /// How many seconds a private PostgreSQL that ended is tried to start again; then the service exits with 69.
        #[arg(long, env = "LEDGERBOARD_RESTART_SECONDS", default_value_t = 300)]
        restart_seconds: u64,
    },
    /// Loads an invented scenario through the API, shows its statements and its year, and goes on serving.
    Demo {
        #[command(flatten)]
        places: demo::DemoPlaces,
        /// Where to listen while it goes on serving.
        #[arg(long, env = "LEDGERBOARD_LISTEN", default_value = "127.0.0.1:8321")]
        listen: SocketAddr,
        /// Exits once everything is shown.
        #[arg(long)]
        once: bool,
        /// Removes the demo's data folder and exits.
        #[arg(long, conflicts_with_all = ["once", "format"])]
        remove: bool,
        /// Tables to read, or one JSON document.
        #[arg(long, value_enum, default_value = "text")]
        format: demo::Shown,
    },
    /// Makes a token for books that exist or, with --new, new books and their first token.
    Token {
        #[command(flatten)]
        places: Places,
        #[command(flatten)]
        asked: Box<token::TokenAsked>,
    },
    /// Recomputes every invariant over all books, says what was looked at, and fails on any breach.
    Verify {
        #[command(flatten)]
        places: Places,
        #[command(flatten)]
        chosen: choosing::ChosenBooks,
        /// How many sets of books to verify at the same time; as many as there are cores where it is left out.
        #[arg(long)]
        jobs: Option<NonZeroUsize>,
        /// Lines to read, or one JSON document.
        #[arg(long, value_enum, default_value = "text")]
        format: demo::Shown,
    },
    /// Works on whole sets of books, for whoever keeps them on several servers.
    Books {
        #[command(flatten)]
        places: Places,
        #[command(subcommand)]
        command: books::BooksCommand,
    },
    /// Writes all books, with their documents, to one file; the service may go on running.
    Backup(backing_up::Backup),
    /// Copies the log of the private PostgreSQL to a folder, for recovery to any moment.
    Archive(archiving::Archive),
    /// Loads a backup into a new data folder or an empty database, or recovers an archive into a new data folder, and
    /// verifies the books.
    Restore(restoring::Restore),
    /// Prints the API's document.
    Openapi,
}

/// A failure, told in one line.
pub(super) type Told = Box<dyn std::error::Error + Send + Sync>;

/// Runs the program to its end.
pub fn run(pages: Pages) -> ExitCode {
    let line = CommandLine::parse();
    tracing_subscriber::fmt()
        .with_env_filter(logging::filter(std::env::var("LEDGERBOARD_LOG").ok().as_deref()))
        .with_writer(std::io::stderr)
        .json()
        .init();
    raise_limit();
    let runtime = match tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return told(&error),
    };
    runtime.block_on(async {
        // Before anything is started, so that nothing is left running.
        let stop = match Stop::heed() {
            Ok(stop) => stop,
            Err(error) => return told(&error),
        };
        match dispatch(line.command, pages, &stop).await {
            Ok(code) => code,
            Err(error) if is_interruption(error.as_ref()) => stop.status(),
            Err(error) => told(error.as_ref()),
        }
    })
}

fn is_interruption(error: &(dyn std::error::Error + 'static)) -> bool {
    error.is::<Interrupted>() || matches!(error.downcast_ref(), Some(SetupError::Interrupted(_)))
}

/// Nothing in a name steers the terminal.
fn plain(text: &str) -> String {
    text.chars().map(|sign| if sign.is_control() { ' ' } else { sign }).collect()
}

/// What the rules or the store refuse, as a failure of the command.
fn in_words(fault: Fault) -> Told {
    match fault {
        Fault::Refusal(refusal) => refusal.into(),
        Fault::Store(error) => error.into(),
    }
}

fn told(error: &dyn std::error::Error) -> ExitCode {
    remark(format_args!("ledgerboard: {error}"));
    let mut source = error.source();
    while let Some(inner) = source {
        remark(format_args!("  because: {inner}"));
        source = inner.source();
    }
    ExitCode::FAILURE
}

async fn dispatch(command: Command, pages: Pages, stop: &Stop) -> Result<ExitCode, Told> {
    match command {
        Command::Serve {
            places,
            listen,
            behind_tls_proxy,
            tls_certificate,
            tls_key,
            trusted_proxies,
            requests_per_minute,
            metrics_on,
            call_seconds,
            restart_seconds,
        } => {
            let wire = match tls_certificate.zip(tls_key) {
                Some((certificate, key)) => Wire::tls(&certificate, &key, chrono::Utc::now())?,
                None if behind_tls_proxy => Wire::Plain,
                None => {
                    refuse_to_be_reached(listen)?;
                    Wire::Plain
                }
            };
            let limits = Limits {
                per_minute: requests_per_minute,
                trusted_proxies: trusted_proxies.into_iter().collect(),
                ..Limits::default()
            };
            if let Some(address) = metrics_on {
                keep_metrics_here(address)?;
            }
            let addresses = serving::Addresses { requests: listen, wire, metrics: metrics_on };
            let call = Duration::from_secs(call_seconds);
            let patience = serving::Patience { call, restart: Duration::from_secs(restart_seconds) };
            serving::serve(&Whereabouts::from(&places), addresses, limits, pages, stop, patience).await
        }
        Command::Demo { places, remove: true, .. } => demo::remove(&places.whereabouts()?, stop).await,
        Command::Demo { places, listen, once, format, remove: false } => {
            refuse_to_be_reached(listen)?;
            let afterwards = if once { demo::Afterwards::Exit } else { demo::Afterwards::GoOnServing };
            demo::demo(&places.whereabouts()?, listen, pages, afterwards, format, stop).await
        }
        Command::Token { places, asked } => token::token(&Whereabouts::from(&places), &asked, stop).await,
        Command::Verify { places, chosen, jobs, format } => {
            verifying::verify_all(&Whereabouts::from(&places), &chosen, jobs, format, stop).await
        }
        Command::Books { places, command } => books::run(&Whereabouts::from(&places), &command, stop).await,
        Command::Backup(asked) => backing_up::back_up(&asked, stop).await,
        Command::Archive(asked) => archiving::archive(&asked, stop).await,
        Command::Restore(asked) => restoring::restore(&asked, stop).await,
        Command::Openapi => {
            say(serde_json::to_string_pretty(&super::openapi::document()?)?);
            Ok(ExitCode::SUCCESS)
        }
    }
}

/// Metrics tell of all books and ask for no token: not even a proxy may hand them on.
fn keep_metrics_here(address: SocketAddr) -> Result<(), Told> {
    if address.ip().is_loopback() {
        return Ok(());
    }
    let told = format!("{address} is reached by other machines; let --metrics-on be of 127.0.0.1 or [::1]");
    Err(told.into())
}

/// Tokens go over the wire as they are: without TLS only this machine, or a proxy that ends TLS, may hear them.
fn refuse_to_be_reached(listen: SocketAddr) -> Result<(), Told> {
    if listen.ip().is_loopback() {
        return Ok(());
    }
    Err(format!(
        "{listen} is reached by other machines, and tokens would go there in plain: give --tls-certificate and \
         --tls-key, put a proxy that ends TLS in front and say --behind-tls-proxy, or listen on 127.0.0.1"
    )
    .into())
}
