//! Recovery: a base backup, and the log after it up to a moment, become a new cluster.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use chrono::{DateTime, Utc};

use super::base::BaseBackup;
use super::error::ArchiveError;
use super::{Identity, WAL, fetches_from};
use crate::store::cluster::account::Account;
use crate::store::cluster::error::ClusterError;
use crate::store::cluster::folders::{self, ServerLog, tail};
use crate::store::cluster::initialise::{UNFINISHED, sweep_unfinished};
use crate::store::cluster::postmaster::{Launch, Postmaster, Site, connect};
use crate::store::cluster::programs::Programs;
use crate::store::cluster::{ClusterSettings, Durability};

/// What the server says when the log ends before the moment that was asked for.
const LOG_ENDS_BEFORE: &str = "recovery ended before configured recovery target was reached";

/// Replaying a long log takes hours on a slow disk; somebody waits at the keyboard and may stop it.
const REPLAY_LIMIT: Duration = Duration::from_secs(7 * 24 * 60 * 60);

/// The moment that the books shall be as they were at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// What was committed at this moment or before, and nothing later.
    Moment(DateTime<Utc>),
    /// Everything in the archive.
    Latest,
}

impl FromStr for Until {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "latest" {
            return Ok(Self::Latest);
        }
        DateTime::parse_from_rfc3339(text).map(|at| Self::Moment(at.to_utc())).map_err(|error| {
            format!("{error}; give a date and a time with its zone, such as 2026-12-01T10:00:00Z, or latest")
        })
    }
}

/// What a recovery came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recovered {
    /// The cluster's folder.
    pub folder: PathBuf,
    pub base: BaseBackup,
    /// When the last change that is in the books was committed; `None` if it was in the base backup already.
    pub last_change: Option<DateTime<Utc>>,
    pub reached: Reached,
}

/// Where a recovery stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reached {
    /// The archive goes on beyond the moment, so the books are as they were at it.
    TheMoment,
    /// The archive has nothing later: a change right before the moment may not have been copied.
    TheEndOfTheArchive,
}

/// Makes a new cluster in the data folder, with the books as they were at that moment. Given up as soon as `told` is done.
/// # Errors
/// [`ArchiveError`]; the data folder then holds no cluster.
pub async fn recover(
    settings: &ClusterSettings,
    archive: &Path,
    until: Until,
    told: impl Future<Output = ()>,
) -> Result<Recovered, ArchiveError> {
    let mut told = std::pin::pin!(told);
    let archive = fs::canonicalize(archive).map_err(ClusterError::folder("find", archive))?;
    let Some(identity) = Identity::of(&archive)? else {
        return Err(ArchiveError::NoArchive { folder: archive });
    };
    let base = base_for(&archive, until)?;
    let data_dir =
        std::path::absolute(&settings.data_dir).map_err(ClusterError::folder("find", &settings.data_dir))?;
    let account = Account::for_data_dir(&data_dir)?;
    let data_dir = folders::prepare_data_dir(&data_dir, &account)?;
    let _lock = folders::lock(&data_dir, &account, folders::LOCK_LIMIT).await?;
    sweep_unfinished(&data_dir)?;
    if let Some((folder, _)) = folders::find_cluster(&data_dir)? {
        return Err(ArchiveError::BooksThere { folder });
    }
    let wanted = (archive.as_path(), identity.postgresql);
    let programs = Programs::find(settings.pg_bin.as_deref(), &account, Some(wanted))?;
    // An archive that ends before the moment is replayed a second time, to its end.
    for until in [until, Until::Latest] {
        let mut attempt = Attempt::new(&archive, &data_dir, &account, &programs, until)?;
        let ended = tokio::select! {
            ended = attempt.run(&base) => ended,
            () = &mut told => Err(ClusterError::Interrupted.into()),
        };
        let stopped = attempt.site.stop(&mut attempt.started).await;
        if let Ok(Ended::AtTheTarget { last_change }) = ended {
            stopped?;
            let folder = attempt.kept()?;
            return Ok(Recovered { folder, base, last_change, reached: Reached::of(until) });
        }
        sweep_unfinished(&data_dir)?;
        ended?;
    }
    Err(ArchiveError::NoBase { folder: archive })
}

fn base_for(archive: &Path, until: Until) -> Result<BaseBackup, ArchiveError> {
    let all = BaseBackup::all(archive)?;
    let none = || ArchiveError::NoBase { folder: archive.to_path_buf() };
    let first = all.first().map(|base| base.finished_at).ok_or_else(none)?;
    match until {
        Until::Latest => all.into_iter().next_back().ok_or_else(none),
        Until::Moment(until) => all
            .into_iter()
            .rfind(|base| base.finished_at <= until)
            .ok_or(ArchiveError::TooEarly { until, first }),
    }
}

impl Reached {
    const fn of(until: Until) -> Self {
        match until {
            Until::Moment(_) => Self::TheMoment,
            Until::Latest => Self::TheEndOfTheArchive,
        }
    }
}

/// How a replay came to its end.
enum Ended {
    AtTheTarget { last_change: Option<DateTime<Utc>> },
    BeforeTheMoment,
}

/// One replay, in a folder that the next start of a cluster sweeps if this process is killed.
struct Attempt {
    site: Site,
    started: Option<Postmaster>,
}

impl Attempt {
    fn new(
        archive: &Path,
        data_dir: &Path,
        account: &Account,
        programs: &Programs,
        until: Until,
    ) -> Result<Self, ArchiveError> {
        let time = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_nanos();
        let site = Site {
            data_dir: data_dir.to_path_buf(),
            cluster: data_dir.join(format!("postgres-{}{UNFINISHED}{time}", programs.major)),
            socket_dir: folders::prepare_socket_dir(data_dir, account)?,
            programs: programs.clone(),
            account: account.clone(),
            log: ServerLog::of(data_dir, account),
            durability: Durability::Full,
            launch: Launch { settings: settings(archive, until), limit: REPLAY_LIMIT },
        };
        Ok(Self { site, started: None })
    }

    /// Unpacks the base backup and replays the log.
    async fn run(&mut self, base: &BaseBackup) -> Result<Ended, ArchiveError> {
        let (cluster, account) = (&self.site.cluster, &self.site.account);
        folders::make_owned(cluster, account)?;
        unpack(&base.folder.join("base.tar.gz"), cluster, account).await?;
        let wal = cluster.join("pg_wal");
        folders::make_owned(&wal, account)?;
        unpack(&base.folder.join("pg_wal.tar.gz"), &wal, account).await?;
        folders::open_private(&cluster.join("recovery.signal"), account)?;
        let (_, mark) = self.site.log.open()?;
        match self.site.attach_or_start(&mut self.started).await {
            Err(ClusterError::StartFailed { .. }) if self.site.log.since(mark)?.contains(LOG_ENDS_BEFORE) => {
                return Ok(Ended::BeforeTheMoment);
            }
            started => started?,
        };
        // Microseconds since 1970, since no type for a time with a zone is at hand here.
        const LAST: &str =
            "SELECT floor(extract(epoch FROM pg_last_xact_replay_timestamp()) * 1000000)::bigint";
        let client = connect(&self.site.socket_dir).await?;
        let last: Option<i64> = client.query_one(LAST, &[]).await?.try_get(0)?;
        Ok(Ended::AtTheTarget { last_change: last.and_then(DateTime::from_timestamp_micros) })
    }

    /// Gives the folder its name, once the server has stopped.
    fn kept(&self) -> Result<PathBuf, ArchiveError> {
        let folder = self.site.data_dir.join(format!("postgres-{}", self.site.programs.major));
        fs::rename(&self.site.cluster, &folder)
            .and_then(|()| File::open(&self.site.data_dir)?.sync_all())
            .map_err(ClusterError::folder("make", &folder))?;
        Ok(folder)
    }
}

/// As the user PostgreSQL runs as, so that the files are that user's.
async fn unpack(file: &Path, into: &Path, account: &Account) -> Result<(), ArchiveError> {
    let mut command = account.command(Path::new("tar"));
    command.arg("-xzf").arg(file).arg("-C").arg(into);
    let output = tokio::process::Command::from(command).kill_on_drop(true).output().await;
    let program = PathBuf::from("tar");
    let output = output.map_err(|source| ClusterError::ProgramBroken { program, source })?;
    if output.status.success() {
        return Ok(());
    }
    let (status, said) = (output.status.to_string(), tail(&String::from_utf8_lossy(&output.stderr)));
    Err(ArchiveError::ProgramFailed { program: "tar", status, said })
}

fn settings(archive: &Path, until: Until) -> Vec<String> {
    let mut settings = vec![
        format!("restore_command={}", fetches_from(&archive.join(WAL))),
        "recovery_target_action=promote".to_owned(),
        // Nobody is let in before the end, so that the first who is let in finds all of it.
        "hot_standby=off".to_owned(),
        "archive_mode=off".to_owned(),
    ];
    if let Until::Moment(until) = until {
        settings.push(format!("recovery_target_time={}", until.format("%Y-%m-%d %H:%M:%S%.6f+00")));
    }
    settings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_given_with_its_zone_or_as_latest() {
        assert_eq!("latest".parse(), Ok(Until::Latest));
        let noon: DateTime<Utc> = "2026-12-01T12:00:00Z".parse().unwrap();
        assert_eq!("2026-12-01T13:00:00+01:00".parse(), Ok(Until::Moment(noon)));
        for wrong in ["2026-12-01", "2026-12-01T12:00:00", "yesterday", ""] {
            let told = wrong.parse::<Until>().unwrap_err();
            assert!(told.contains("2026-12-01T10:00:00Z, or latest"), "{told}");
        }
    }

    #[test]
    fn a_recovery_starts_from_the_last_base_backup_before_the_moment() {
        let archive = tempfile::tempdir().unwrap();
        let at = |text: &str| Until::Moment(text.parse().unwrap());
        assert!(matches!(base_for(archive.path(), Until::Latest), Err(ArchiveError::NoBase { .. })));
        for day in 1..=3 {
            fs::create_dir(archive.path().join(format!("base-2026-12-0{day}T00-00-00.000Z"))).unwrap();
        }
        let day = |until| base_for(archive.path(), until).unwrap().finished_at.format("%d").to_string();
        assert_eq!(day(at("2026-12-02T23:59:59Z")), "02");
        assert_eq!(day(at("2026-12-02T00:00:00Z")), "02");
        assert_eq!(day(Until::Latest), "03");
        let told = base_for(archive.path(), at("2026-11-30T12:00:00Z")).unwrap_err().to_string();
        assert!(told.contains("2026-12-01T00:00:00+00:00"), "{told}");
    }
}
