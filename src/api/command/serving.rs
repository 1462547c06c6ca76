//! Serving, and making a token.

use std::net::SocketAddr;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use chrono::Utc;
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::Told;
use crate::api::limits::Limits;
use crate::api::metrics::{self, Figures};
use crate::api::saying::{remark, say};
use crate::api::serve::{self, Listening, Pages};
use crate::api::setup::{self, Opened, SetupError, Whereabouts};
use crate::api::stop::Stop;
use crate::api::tls::{Renewal, Shown, Wire};
use crate::api::tokens::new_token;
use crate::rules::tokens::{Scope, end_of};
use crate::store::audit::Act;
use crate::store::books::Books;
use crate::store::cluster::{ServerState, Supervised};
use crate::store::connect::Database;
use crate::store::tokens::TokenToKeep;

/// Threads that answer requests; the machine's cores, at most four.
pub(super) fn workers() -> usize {
    std::thread::available_parallelism().map_or(2, usize::from).min(4)
}

/// The exit status where PostgreSQL cannot be started again: EX_UNAVAILABLE of sysexits.h (BSD).
const UNAVAILABLE: u8 = 69;

/// How long a private server that has ended is tried to start again, unless told otherwise.
pub(super) const RESTART_LIMIT: Duration = Duration::from_secs(300);

/// How long the database is waited for.
#[derive(Clone, Copy)]
pub(super) struct Patience {
    /// For one call, all its statements together.
    pub(super) call: Duration,
    /// For a private server that has ended to run again.
    pub(super) restart: Duration,
}

fn is_given_up(server: Option<&Supervised>) -> bool {
    server.is_some_and(|server| server.state() == ServerState::GivenUp)
}

/// Waits until the service is to end: it is told to stop, or its PostgreSQL is given up.
async fn ending(stop: Stop, server: Option<Supervised>) {
    let given_up = async {
        match server {
            Some(server) => server.given_up().await,
            None => std::future::pending().await,
        }
    };
    tokio::select! { () = stop.told() => {}, () = given_up => {} }
}

/// Where requests come in, what is spoken there, and where the metrics are read, if anywhere.
pub(super) struct Addresses {
    pub(super) requests: SocketAddr,
    pub(super) wire: Wire,
    pub(super) metrics: Option<SocketAddr>,
}

/// A listener on that address; a taken one says so in words.
pub(super) fn bound(address: SocketAddr) -> Result<std::net::TcpListener, Told> {
    Ok(serve::bind(address).map_err(|error| format!("{address} can not be listened on: {error}"))?)
}

pub(super) async fn serve(
    whereabouts: &Whereabouts,
    addresses: Addresses,
    limits: Limits,
    pages: Pages,
    stop: &Stop,
    patience: Patience,
) -> Result<ExitCode, Told> {
    let mut opened = match setup::open(whereabouts, stop).await {
        // A service that is told to stop, and stops, has done what it should.
        Err(SetupError::Interrupted(_)) => return Ok(ExitCode::SUCCESS),
        opened => opened?,
    };
    opened.database = opened.database.with_call_limit(patience.call);
    let given_up = opened.supervise(patience.restart);
    let served =
        serve_opened(&opened, addresses, limits, pages, ending(stop.clone(), given_up.clone())).await;
    opened.close().await?;
    if is_given_up(given_up.as_ref()) {
        remark(format_args!(
            "ledgerboard: PostgreSQL has ended and does not start again: read postgres.log in the data folder"
        ));
        return Ok(ExitCode::from(UNAVAILABLE));
    }
    served
}

async fn serve_opened(
    opened: &Opened,
    addresses: Addresses,
    limits: Limits,
    pages: Pages,
    ends: impl Future<Output = ()> + Send + 'static,
) -> Result<ExitCode, Told> {
    let renewal = match &addresses.wire {
        // Before the address is told: from then on a SIGHUP reads the certificate again instead of ending the service.
        Wire::Tls(_, shown) => {
            Some(tokio::spawn(keep_certificate_new(Arc::clone(shown), signal(SignalKind::hangup())?)))
        }
        Wire::Plain => None,
    };
    let listener = bound(addresses.requests)?;
    let figures = Arc::new(Figures::default());
    let metrics = match addresses.metrics {
        Some(address) => {
            let listener = bound(address)?;
            let at = listener.local_addr()?;
            let server = metrics::server(opened.database.clone(), Arc::clone(&figures), listener)?;
            Some((at, server.handle(), tokio::spawn(server)))
        }
        None => None,
    };
    say(format_args!("Ledgerboard listens on {}://{}", addresses.wire.scheme(), listener.local_addr()?));
    if let Some((at, ..)) = &metrics {
        say(format_args!("Metrics are on http://{at}/metrics"));
    }
    let listening = Listening { listener, wire: addresses.wire };
    let server = serve::server(opened.database.clone(), listening, workers(), limits, figures, pages)?;
    let housekeeping = tokio::spawn(keep_house(opened.database.clone()));
    until_told(server, ends).await?;
    housekeeping.abort();
    if let Some(renewal) = renewal {
        renewal.abort();
    }
    if let Some((_, handle, served)) = metrics {
        handle.stop(false).await;
        served.await??;
    }
    Ok(ExitCode::SUCCESS)
}

/// Once an hour: answers to idempotency keys that are older than a week are forgotten.
async fn keep_house(database: Database) {
    let mut hours = tokio::time::interval(Duration::from_secs(60 * 60));
    loop {
        hours.tick().await;
        match database.forget_old_answers().await {
            Ok(0) => {}
            Ok(forgotten) => tracing::info!(forgotten, "answers older than a week are forgotten"),
            Err(error) => tracing::warn!(%error, "old answers could not be forgotten"),
        }
    }
}

/// On SIGHUP and once a day: the certificate is read again. One that cannot be used is reported, and the one that is in
/// use stays.
async fn keep_certificate_new(shown: Arc<Shown>, mut hangup: Signal) {
    const DAY: Duration = Duration::from_secs(24 * 60 * 60);
    loop {
        tokio::select! { _ = hangup.recv() => {}, () = tokio::time::sleep(DAY) => {} }
        match shown.read_again(Utc::now()) {
            Ok(Renewal::Same) => tracing::info!("the certificate is the one that is in use"),
            Ok(Renewal::Renewed { until }) => {
                tracing::warn!(%until, "new connections are shown the renewed certificate");
            }
            Err(error) => {
                tracing::error!(%error, "the certificate was not read again; the one in use stays");
            }
        }
    }
}

/// Runs the server until it is told to stop, then lets answers under way come to their end.
pub(super) async fn until_told(
    server: actix_web::dev::Server,
    told: impl Future<Output = ()> + Send + 'static,
) -> Result<(), Told> {
    let handle = server.handle();
    let listening = tokio::spawn(async move {
        told.await;
        handle.stop(true).await;
    });
    server.await?;
    listening.abort();
    Ok(())
}

/// A token that this machine's command line makes, for a year.
pub(super) async fn first_token(
    books: &Books,
    action: &str,
    name: &str,
    scope: Scope,
) -> Result<String, Told> {
    let (token, hash) = new_token(books.id())?;
    let expires_at = end_of(None, Utc::now())?;
    let kept = TokenToKeep { name: name.to_owned(), scope, expires_at, hash };
    books.add_token(&Act::outside(action), None, &kept).await.map_err(super::in_words)?;
    Ok(token)
}
