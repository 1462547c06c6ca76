//! Watches the server, and starts it again when it has ended: killed, stopped by another command, or out of disk.

use std::error::Error;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Mutex, watch};
use tokio::time::{Instant, sleep};

use super::disk::{DiskSpace, DiskWatch};
use super::error::ClusterError;
use super::stay::Stay;

/// How often to look whether the server lives.
const LOOK: Duration = Duration::from_millis(100);

/// The pause after the first start that failed; each further one is twice as long.
const FIRST_PAUSE: Duration = Duration::from_millis(250);

/// The longest pause, so that a disk with space again is noticed within seconds.
const LONGEST_PAUSE: Duration = Duration::from_secs(2);

/// How the private server stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ServerState {
    /// It runs; how often it was started again so far.
    Running { restarts: u32 },
    /// It has ended and is being started again.
    Restarting {
        /// How many starts have failed so far.
        failed: u32,
        /// Whether its disk is full.
        disk_full: bool,
    },
    /// It could not be started again for as long as was allowed.
    GivenUp,
}

/// A server that is looked after: how it stands, and how much space it has left.
#[derive(Clone, Debug)]
pub struct Supervised {
    state: watch::Receiver<ServerState>,
    folder: PathBuf,
}

impl Supervised {
    pub(super) const fn of(state: watch::Receiver<ServerState>, folder: PathBuf) -> Self {
        Self { state, folder }
    }

    #[must_use]
    pub fn state(&self) -> ServerState {
        *self.state.borrow()
    }

    /// The space of the file system that the books are on, if the system tells.
    #[must_use]
    pub fn disk_space(&self) -> Option<DiskSpace> {
        DiskSpace::of(&self.folder)
    }

    /// Waits until the server is given up.
    pub async fn given_up(&self) {
        let mut state = self.state.clone();
        if state.wait_for(|state| *state == ServerState::GivenUp).await.is_err() {
            // Nobody looks after it any more: the program ends.
            std::future::pending::<()>().await;
        }
    }
}

/// Looks after the server until the task is ended or the server is given up: after `limit` without a start that
/// succeeds. A full disk is waited for, however long.
pub(super) async fn supervise(stay: Arc<Mutex<Stay>>, limit: Duration, state: watch::Sender<ServerState>) {
    let mut restarts = 0;
    let mut disk = DiskWatch::begin(&stay.lock().await.site());
    loop {
        sleep(LOOK).await;
        {
            let mut stay = stay.lock().await;
            disk.look(&stay.site());
            if stay.server_lives() {
                continue;
            }
        }
        tracing::error!("PostgreSQL has ended and is started again");
        if !restart(&stay, limit, &state).await {
            tracing::error!(seconds = limit.as_secs(), "PostgreSQL does not start again and is given up");
            state.send_replace(ServerState::GivenUp);
            return;
        }
        restarts += 1;
        tracing::warn!(restarts, "PostgreSQL runs again");
        state.send_replace(ServerState::Running { restarts });
    }
}

/// Whether it could be started again.
async fn restart(stay: &Mutex<Stay>, limit: Duration, state: &watch::Sender<ServerState>) -> bool {
    let begun = Instant::now();
    let (mut failed, mut pause) = (0, FIRST_PAUSE);
    state.send_replace(ServerState::Restarting { failed, disk_full: false });
    loop {
        if !limit.is_zero() {
            let mut stay = stay.lock().await;
            let Err(error) = stay.bring_up_again().await else { return true };
            failed += 1;
            let disk_full = stay.site().disk_is_full() || error.says_disk_full();
            tracing::error!(
                failed,
                disk_full,
                error = in_full(&error),
                "PostgreSQL could not be started again"
            );
            state.send_replace(ServerState::Restarting { failed, disk_full });
            if disk_full {
                drop(stay);
                sleep(pause.min(LONGEST_PAUSE)).await;
                continue;
            }
        }
        if begun.elapsed() >= limit {
            return false;
        }
        sleep(pause).await;
        pause = (pause * 2).min(LONGEST_PAUSE);
    }
}

/// The error with what caused it.
fn in_full(error: &ClusterError) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(inner) = source {
        text = format!("{text}: {inner}");
        source = inner.source();
    }
    text
}
