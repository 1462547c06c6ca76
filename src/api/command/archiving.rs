//! `ledgerboard archive`: the log of the private PostgreSQL is copied to a folder, so that the books can be recovered as
//! they were at any moment.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::{Places, Told};
use crate::api::saying::{remark, say};
use crate::api::setup::{self, SetupError, Whereabouts};
use crate::api::stop::Stop;
use crate::store::cluster::{Archiving, Cluster};

#[derive(Debug, Args)]
pub(super) struct Archive {
    #[command(flatten)]
    places: Places,
    /// The folder to copy the log to, best on another disk. The first time, the private PostgreSQL is restarted once; every
    /// time, a base backup is made there for recoveries to start from.
    #[arg(long, required_unless_present = "off", conflicts_with = "off")]
    to: Option<PathBuf>,
    /// Deletes all but the newest N base backups once the new one is finished, and the log that only older ones need.
    #[arg(long, value_name = "N", requires = "to")]
    keep: Option<NonZeroUsize>,
    /// Copies the log no more. What was copied stays.
    #[arg(long)]
    off: bool,
}

pub(super) async fn archive(asked: &Archive, stop: &Stop) -> Result<ExitCode, Told> {
    let whereabouts = Whereabouts::from(&asked.places);
    if whereabouts.database_url.is_some() {
        return Err(SetupError::NotPrivate.into());
    }
    let reached = setup::reach(&whereabouts, stop).await?;
    let done = match (&reached.cluster, &asked.to) {
        (Some(cluster), Some(folder)) => stop.unless_told(archived(cluster, folder, asked.keep)).await,
        (Some(cluster), None) => stop.unless_told(stopped(cluster)).await,
        (None, _) => Ok(Err(SetupError::NotPrivate.into())),
    };
    reached.close().await?;
    done??;
    Ok(ExitCode::SUCCESS)
}

async fn archived(cluster: &Cluster, folder: &Path, keep: Option<NonZeroUsize>) -> Result<(), Told> {
    let archiving = cluster.archive_to(folder).await?;
    if archiving.restarted() {
        remark(format_args!(
            "PostgreSQL was restarted, and copies its log to {} from now on",
            folder.display()
        ));
    }
    remark("making a base backup");
    let base = cluster.base_backup(folder).await?;
    say(format_args!(
        "{}: the books can be recovered as they were at {} or at any later moment",
        base.folder.display(),
        base.finished_at.to_rfc3339()
    ));
    if let Some(keep) = keep {
        for deleted in Cluster::keep_newest(folder, keep)? {
            remark(format_args!("deleted the older base backup {}", deleted.folder.display()));
        }
    }
    Ok(())
}

async fn stopped(cluster: &Cluster) -> Result<(), Told> {
    let kept = cluster.archives_to()?;
    match (cluster.stop_archiving().await?, kept) {
        (Archiving::TurnedOff, Some(folder)) => {
            say(format_args!(
                "PostgreSQL was restarted and copies its log no more; {} stays as it is",
                folder.display()
            ));
        }
        _ => say("PostgreSQL does not copy its log; there was nothing to turn off"),
    }
    Ok(())
}
