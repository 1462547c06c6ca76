//! The command line: one program that serves, shows, checks and makes tokens.

mod books;
mod choosing;
mod demo;
mod logging;
mod serving;
mod token;
mod verifying;

use std::ffi::OsString;
use std::net::SocketAddr;
use std::num::{NonZeroU32, NonZeroUsize};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand};
use ipnet::IpNet;

use super::clients::network;
use super::descriptors::raise_limit;
use super::limits::Limits;
use super::serve::Pages;
use super::setup::Whereabouts;
use super::tls::Wire;
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
    },
    /// Loads an invented scenario through the API, shows its statements and its year, and goes on serving.
    Demo {
        #[command(flatten)]
        places: Places,
        /// Where to listen while it goes on serving.
        #[arg(long, env = "LEDGERBOARD_LISTEN", default_value = "127.0.0.1:8321")]
        listen: SocketAddr,
        /// Exits once everything is shown.
        #[arg(long)]
        once: bool,
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
    match runtime.block_on(dispatch(line.command, pages)) {
        Ok(code) => code,
        Err(error) => told(error.as_ref()),
    }
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
    eprintln!("ledgerboard: {error}");
    let mut source = error.source();
    while let Some(inner) = source {
        eprintln!("  because: {inner}");
        source = inner.source();
    }
    ExitCode::FAILURE
}

async fn dispatch(command: Command, pages: Pages) -> Result<ExitCode, Told> {
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
            serving::serve(&Whereabouts::from(&places), addresses, limits, pages).await
        }
        Command::Demo { places, listen, once, format } => {
            refuse_to_be_reached(listen)?;
            let afterwards = if once { demo::Afterwards::Exit } else { demo::Afterwards::GoOnServing };
            demo::demo(&Whereabouts::from(&places), listen, pages, afterwards, format).await
        }
        Command::Token { places, asked } => token::token(&Whereabouts::from(&places), &asked).await,
        Command::Verify { places, chosen, jobs, format } => {
            verifying::verify_all(&Whereabouts::from(&places), &chosen, jobs, format).await
        }
        Command::Books { places, command } => books::run(&Whereabouts::from(&places), &command).await,
        Command::Openapi => {
            println!("{}", serde_json::to_string_pretty(&super::openapi::document()?)?);
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
