//! One process's stay at the cluster: it joins the users, brings the server up, and stops it if it leaves last.

use std::fs::File;
use std::sync::Arc;
use std::time::Duration;

use super::error::ClusterError;
use super::postmaster::{Postmaster, Site, assert_durable};
use super::users::User;
use super::{Durability, Tenure, folders};

/// How long to wait for another process that starts the server or leaves it. One that starts it is a user of its own,
/// so the server may be left to it.
const LEAVE_LIMIT: Duration = Duration::from_secs(20);

/// A place among the users of the cluster, with the server if this process started it.
/// Dropped without [`leave`](Self::leave), the last user tells the server to stop but does not wait for it.
#[derive(Debug)]
pub(super) struct Stay {
    site: Arc<Site>,
    user: Option<User>,
    lock: Option<File>,
    postmaster: Option<Postmaster>,
}

impl Stay {
    /// Joins the users; `lock` is `cluster.lock`, kept until [`unlock`](Self::unlock).
    /// # Errors
    /// [`ClusterError::Folder`].
    pub(super) fn begin(site: Site, lock: File) -> Result<Self, ClusterError> {
        let user = User::join(&site.data_dir, &site.account)?;
        Ok(Self { site: Arc::new(site), user: Some(user), lock: Some(lock), postmaster: None })
    }

    pub(super) fn site(&self) -> Arc<Site> {
        Arc::clone(&self.site)
    }

    pub(super) fn unlock(&mut self) {
        self.lock = None;
    }

    /// Attaches to the server or starts it, and asks it whether it is durable. Call it under the lock.
    /// # Errors
    /// What [`Site::attach_or_start`] finds; [`ClusterError::NotDurable`].
    pub(super) async fn bring_up(&mut self) -> Result<Tenure, ClusterError> {
        let socket_dir = self.site.attach_or_start(&mut self.postmaster).await?;
        if self.site.durability == Durability::Full {
            assert_durable(&socket_dir).await?;
        }
        if socket_dir != self.site.socket_dir
            && let Some(site) = Arc::get_mut(&mut self.site)
        {
            site.socket_dir = socket_dir;
        }
        Ok(if self.postmaster.is_some() { Tenure::Started } else { Tenure::Attached })
    }

    /// Whether the server runs, whoever started it.
    pub(super) fn server_lives(&mut self) -> bool {
        let ours = self.postmaster.as_mut().is_some_and(|ours| ours.has_ended().is_ok_and(|ended| !ended));
        ours || self.site.living().is_ok_and(|living| living.is_some())
    }

    /// Starts the server again, or attaches to it where somebody else did.
    /// # Errors
    /// As [`bring_up`](Self::bring_up); a server that was started and refused is stopped again.
    pub(super) async fn bring_up_again(&mut self) -> Result<Tenure, ClusterError> {
        self.lock = Some(folders::lock(&self.site.data_dir, &self.site.account, folders::LOCK_LIMIT).await?);
        let brought_up = self.bring_up().await;
        if brought_up.is_err() && self.postmaster.is_some() {
            self.site.stop(&mut self.postmaster).await?;
        }
        self.unlock();
        brought_up
    }

    /// Stops the server, whoever started it, and starts it again, so that it reads its settings anew.
    /// # Errors
    /// [`ClusterError::StillRunning`]; as [`bring_up`](Self::bring_up).
    pub(super) async fn restart(&mut self) -> Result<Tenure, ClusterError> {
        self.lock = Some(folders::lock(&self.site.data_dir, &self.site.account, folders::LOCK_LIMIT).await?);
        let brought_up = match self.site.stop(&mut self.postmaster).await {
            Ok(()) => self.bring_up().await,
            Err(error) => Err(error),
        };
        self.unlock();
        brought_up
    }

    /// Leaves the users without a look at who else is there.
    pub(super) fn leaves_it_running(mut self) {
        self.user = None;
    }

    /// Leaves the users; the last one stops the server and waits for its end.
    /// # Errors
    /// [`ClusterError::StillRunning`] after a minute.
    pub(super) async fn leave(&mut self) -> Result<(), ClusterError> {
        let Some(user) = self.user.take() else { return Ok(()) };
        let lock = match self.lock.take() {
            Some(lock) => lock,
            None => match folders::lock(&self.site.data_dir, &self.site.account, LEAVE_LIMIT).await {
                Ok(lock) => lock,
                Err(ClusterError::Busy { .. }) => return Ok(()),
                Err(error) => return Err(error),
            },
        };
        let left = if user.leaves_last()? { self.site.stop(&mut self.postmaster).await } else { Ok(()) };
        self.postmaster = None;
        drop(lock);
        left
    }
}

impl Drop for Stay {
    fn drop(&mut self) {
        let Some(user) = self.user.take() else { return };
        let lock =
            self.lock.take().or_else(|| folders::lock_at_once(&self.site.data_dir, &self.site.account));
        if lock.is_some() && user.leaves_last().is_ok_and(|last| last) {
            if let Some(postmaster) = &self.postmaster {
                postmaster.interrupt();
            } else if let Err(error) = self.site.interrupt() {
                tracing::warn!(%error, "PostgreSQL is left running");
            }
        }
    }
}
