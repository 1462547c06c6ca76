//! Being told to stop: by Ctrl-C or by SIGTERM. It is heeded from the first moment on, so that a command that is still
//! starting its PostgreSQL stops that too.

use std::io;
use std::process::ExitCode;

use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::watch;

/// What a command was told to stop with, if anything; clones hear the same.
#[derive(Clone, Debug)]
pub struct Stop {
    told: watch::Receiver<Option<Told>>,
}

#[derive(Clone, Copy, Debug)]
enum Told {
    Interrupt,
    Terminate,
}

/// The work was given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("told to stop before it was done")]
pub struct Interrupted;

impl Stop {
    /// Heeds the signals from now on.
    /// # Errors
    /// The system does not allow it.
    pub fn heed() -> io::Result<Self> {
        let interrupt = signal(SignalKind::interrupt())?;
        let terminate = signal(SignalKind::terminate())?;
        let (sender, told) = watch::channel(None);
        tokio::spawn(hear(interrupt, terminate, sender));
        Ok(Self { told })
    }

    /// Waits until it is told to stop; at once if it was before.
    pub async fn told(&self) {
        let mut told = self.told.clone();
        if told.wait_for(Option::is_some).await.is_err() {
            // Nobody hears any more: the runtime ends.
            std::future::pending::<()>().await;
        }
    }

    /// Runs `work`, given up when the program is told to stop.
    /// # Errors
    /// [`Interrupted`].
    pub async fn unless_told<T>(&self, work: impl Future<Output = T>) -> Result<T, Interrupted> {
        tokio::select! {
            done = work => Ok(done),
            () = self.told() => Err(Interrupted),
        }
    }

    /// The status that a shell gives a program ended by that signal: 128 and its number (POSIX, Shell Command
    /// Language, 2.8.2).
    pub fn status(&self) -> ExitCode {
        match *self.told.borrow() {
            Some(Told::Terminate) => ExitCode::from(143),
            Some(Told::Interrupt) | None => ExitCode::from(130),
        }
    }
}

async fn hear(mut interrupt: Signal, mut terminate: Signal, sender: watch::Sender<Option<Told>>) {
    loop {
        let told = tokio::select! {
            _ = interrupt.recv() => Told::Interrupt,
            _ = terminate.recv() => Told::Terminate,
        };
        sender.send_if_modified(|first| first.is_none() && first.replace(told).is_none());
    }
}
