//! The private PostgreSQL cluster: made once, found again, refused with a remedy. Each fault has its control.
#![cfg(test)]

mod folders;
mod refusals;

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt, lchown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use ledgerboard::store::cluster::{ADMIN, Cluster, ClusterError, ClusterSettings, Durability, Tenure};
use ledgerboard::store::connect::{CheckDurability, Database, DatabaseSettings};
use nix::sys::signal::{Signal, kill};
use nix::unistd::{Pid, geteuid};
use tempfile::TempDir;
use tokio_postgres::{Client, NoTls};

/// Tells a copy of this program which books to serve until it is killed.
const SERVED_BOOKS: &str = "LEDGERBOARD_TEST_SERVED_BOOKS";

/// A place for books that everyone may pass through; what still runs there at the end is stopped.
struct Place {
    root: TempDir,
    data_dir: PathBuf,
}

impl Place {
    fn new() -> Self {
        Self::named("books")
    }

    fn named(name: &str) -> Self {
        let root = tempfile::tempdir().unwrap();
        fs::set_permissions(root.path(), Permissions::from_mode(0o755)).unwrap();
        let data_dir = root.path().join(name);
        Self { root, data_dir }
    }

    fn settings(&self, durability: Durability) -> ClusterSettings {
        ClusterSettings { data_dir: self.data_dir.clone(), pg_bin: None, durability }
    }

    async fn start(&self) -> Result<Cluster, ClusterError> {
        Cluster::start(&self.settings(Durability::ThrowAway)).await
    }

    async fn start_durable(&self) -> Result<Cluster, ClusterError> {
        Cluster::start(&self.settings(Durability::Full)).await
    }

    /// The folder of the cluster: `postgres-<major>`.
    fn cluster(&self) -> PathBuf {
        let entries = fs::read_dir(&self.data_dir).unwrap().map(|entry| entry.unwrap().path());
        entries.into_iter().find(|path| path.join("PG_VERSION").exists()).unwrap()
    }

    /// A service of its own process, as the shell would run it.
    fn serve(&self) -> Child {
        let (_, module) = module_path!().split_once("::").unwrap();
        Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", &format!("{module}::a_service_to_be_killed")])
            .env(SERVED_BOOKS, &self.data_dir)
            .stdout(Stdio::null())
            .spawn()
            .unwrap()
    }

    /// Waits until the service has the server of a cluster that was made before.
    async fn is_served_by(&self, service: &mut Child) {
        let ready = || fs::read_to_string(self.cluster().join("postmaster.pid"));
        while !ready().is_ok_and(|file| file.contains("ready")) {
            assert!(service.try_wait().unwrap().is_none(), "the service ended by itself");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let Ok(entries) = fs::read_dir(&self.data_dir) else { return };
        for cluster in entries.flatten().map(|entry| entry.path()) {
            let Some(pid) = postmaster_of(&cluster) else { continue };
            let _gone = kill(pid, Signal::SIGINT);
            let begun = Instant::now();
            while cluster.join("postmaster.pid").exists() && begun.elapsed() < Duration::from_secs(10) {
                std::thread::sleep(Duration::from_millis(20));
            }
        }
    }
}

fn postmaster_of(cluster: &Path) -> Option<Pid> {
    let file = fs::read_to_string(cluster.join("postmaster.pid")).ok()?;
    let pid = file.lines().next()?.parse().ok()?;
    let serves = fs::read_link(format!("/proc/{pid}/cwd")).is_ok_and(|works_in| works_in == cluster);
    (serves || !Path::new("/proc/self").exists()).then(|| Pid::from_raw(pid))
}

async fn connect(cluster: &Cluster) -> Client {
    let (client, connection) = cluster.connection_config(ADMIN, "postgres").connect(NoTls).await.unwrap();
    tokio::spawn(connection);
    client
}

async fn ask(cluster: &Cluster, question: &str) -> String {
    connect(cluster).await.query_one(question, &[]).await.unwrap().get(0)
}

async fn write_row(cluster: &Cluster) {
    connect(cluster)
        .await
        .batch_execute("create table sale (piece text); insert into sale values ('dresser')")
        .await
        .unwrap();
}

async fn read_row(cluster: &Cluster) -> String {
    ask(cluster, "select piece from sale").await
}

async fn socket_dir(cluster: &Cluster) -> PathBuf {
    let list = ask(cluster, "select current_setting('unix_socket_directories')").await;
    list.trim_matches('"').replace("\"\"", "\"").into()
}

fn is_root() -> bool {
    let root = geteuid().is_root();
    if !root {
        eprintln!("skipped: only root has another user run PostgreSQL");
    }
    root
}

#[track_caller]
fn assert_one_line(error: &ClusterError, parts: &[&str]) {
    let message = error.to_string();
    assert!(!message.contains('\n'), "{message}");
    for part in parts {
        assert!(message.contains(part), "{part:?} is missing in: {message}");
    }
}

#[tokio::test]
#[ignore = "a service that other tests start and kill"]
async fn a_service_to_be_killed() {
    let Some(data_dir) = std::env::var_os(SERVED_BOOKS) else { return };
    let settings = ClusterSettings { data_dir: data_dir.into(), pg_bin: None, durability: Durability::Full };
    let _cluster = Cluster::start(&settings).await.unwrap();
    tokio::time::sleep(Duration::from_secs(60)).await;
}

#[tokio::test]
async fn books_are_made_once_and_are_there_after_a_restart() {
    const IDENTITY: &str = "select system_identifier::text from pg_control_system()";
    let place = Place::new();
    let first = place.start_durable().await.unwrap();
    assert_eq!(first.tenure(), Tenure::Started);
    write_row(&first).await;
    let identity = ask(&first, IDENTITY).await;
    first.stop().await.unwrap();
    let second = place.start_durable().await.unwrap();
    assert_eq!(second.tenure(), Tenure::Started);
    assert_eq!(read_row(&second).await, "dresser");
    assert_eq!(ask(&second, IDENTITY).await, identity);
    second.stop().await.unwrap();
    assert!(!place.cluster().join("postmaster.pid").exists());
}

#[tokio::test]
async fn the_cluster_is_private_and_set_up_as_promised() {
    let place = Place::new();
    let cluster = place.start_durable().await.unwrap();
    for (setting, value) in [
        ("listen_addresses", ""),
        ("unix_socket_permissions", "0700"),
        ("max_connections", "64"),
        ("TimeZone", "UTC"),
        ("server_encoding", "UTF8"),
        ("lc_collate", "C"),
        ("data_checksums", "on"),
        ("fsync", "on"),
        ("full_page_writes", "on"),
        ("synchronous_commit", "on"),
    ] {
        let question = format!("select current_setting('{setting}')");
        let answer = ask(
            &cluster,
            if setting == "lc_collate" {
                "select datcollate from pg_database where datname = 'template1'"
            } else {
                &question
            },
        );
        assert_eq!(answer.await, value, "{setting}");
    }
    for private in [place.data_dir.clone(), place.data_dir.join("run"), place.cluster()] {
        assert_eq!(fs::metadata(&private).unwrap().mode() & 0o777, 0o700, "{}", private.display());
    }
    if is_root() {
        assert_ne!(fs::metadata(&place.data_dir).unwrap().uid(), 0);
    }
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn whoever_leaves_last_stops_the_server_no_matter_who_started_it() {
    let place = Place::new();
    let first = place.start().await.unwrap();
    write_row(&first).await;
    let second = place.start().await.unwrap();
    assert_eq!(second.tenure(), Tenure::Attached);
    let third = place.start().await.unwrap();
    third.stop().await.unwrap();
    assert_eq!(read_row(&first).await, "dresser");
    first.stop().await.unwrap();
    assert_eq!(
        read_row(&second).await,
        "dresser",
        "the one that started it does not take it from the others"
    );
    // Control: the last one does stop it, and has waited for its end.
    let config = second.connection_config(ADMIN, "postgres");
    second.stop().await.unwrap();
    assert!(config.connect(NoTls).await.is_err());
    assert!(!place.cluster().join("postmaster.pid").exists());
}

#[tokio::test]
async fn a_start_that_is_given_up_leaves_no_server_behind() {
    let place = Place::new();
    place.start_durable().await.unwrap().stop().await.unwrap();
    let settings = place.settings(Durability::Full);
    let pid_file = place.cluster().join("postmaster.pid");
    let mut interrupted = 0;
    for milliseconds in [1, 20, 40, 60, 100, 150, 250] {
        let told = tokio::time::sleep(Duration::from_millis(milliseconds));
        match Cluster::start_unless(&settings, told).await {
            Ok(cluster) => cluster.stop().await.unwrap(),
            Err(ClusterError::Interrupted) => interrupted += 1,
            Err(error) => panic!("{error}"),
        }
        assert!(!pid_file.exists(), "a server is left after {milliseconds} ms");
    }
    assert!(interrupted > 0);
    // Control: others who use the server keep it when a start beside them is given up.
    let other = place.start_durable().await.unwrap();
    let given_up = Cluster::start_unless(&settings, std::future::ready(())).await;
    assert!(matches!(given_up, Err(ClusterError::Interrupted)) || given_up.unwrap().stop().await.is_ok());
    assert_eq!(ask(&other, "select 'here'::text").await, "here");
    other.stop().await.unwrap();
}

/// A script that starts the service in the background has it, and the server, ignore Ctrl-C; a server takes the signal
/// nevertheless once it runs, but not in its first moment.
#[test]
fn a_start_that_is_given_up_leaves_no_server_behind_where_ctrl_c_is_ignored() {
    let (_, module) = module_path!().split_once("::").unwrap();
    let same = format!("{module}::a_start_that_is_given_up_leaves_no_server_behind");
    let told = Command::new("sh")
        .args(["-c", "trap '' INT; exec \"$0\" --exact \"$1\""])
        .arg(std::env::current_exe().unwrap())
        .arg(same)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&told.stdout);
    assert!(told.status.success() && said.contains("1 passed"), "{said}");
}

#[tokio::test]
async fn of_services_that_start_at_the_same_moment_one_does_the_work() {
    let place = Place::new();
    let (one, two, three) = tokio::join!(place.start(), place.start(), place.start());
    let clusters = [one.unwrap(), two.unwrap(), three.unwrap()];
    let started = clusters.iter().filter(|cluster| cluster.tenure() == Tenure::Started);
    assert_eq!(started.count(), 1);
    write_row(&clusters[0]).await;
    assert_eq!(read_row(&clusters[2]).await, "dresser");
}

#[tokio::test]
async fn a_server_that_outlived_its_killed_service_is_taken_over() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    let mut service = place.serve();
    place.is_served_by(&mut service).await;
    service.kill().unwrap();
    service.wait().unwrap();
    let next = place.start_durable().await.unwrap();
    assert_eq!(next.tenure(), Tenure::Attached);
    assert_eq!(ask(&next, "select current_setting('fsync')").await, "on");
    next.stop().await.unwrap();
    assert!(!place.cluster().join("postmaster.pid").exists(), "the next orderly exit stops it");
}

#[tokio::test]
async fn books_are_made_whole_whenever_the_service_is_killed_while_making_them() {
    for milliseconds in [30, 100, 200, 400, 600, 800] {
        let place = Place::new();
        let mut service = place.serve();
        tokio::time::sleep(Duration::from_millis(milliseconds)).await;
        service.kill().unwrap();
        service.wait().unwrap();
        let next = place.start_durable().await.unwrap();
        write_row(&next).await;
        assert_eq!(read_row(&next).await, "dresser");
        next.stop().await.unwrap();
    }
}

#[tokio::test]
async fn a_row_that_was_committed_survives_the_kill_of_the_postmaster() {
    let place = Place::new();
    let first = place.start_durable().await.unwrap();
    write_row(&first).await;
    kill(postmaster_of(first.folder()).unwrap(), Signal::SIGKILL).unwrap();
    // `first` still holds the dead process, which stays a zombie: that must not pass for a living server.
    let second = place.start_durable().await.unwrap();
    assert_eq!(second.tenure(), Tenure::Started);
    assert_eq!(read_row(&second).await, "dresser");
    drop(first);
    assert_eq!(read_row(&second).await, "dresser");
    second.stop().await.unwrap();
}

#[tokio::test]
async fn a_start_waits_until_the_orphans_of_a_killed_postmaster_have_left() {
    // Long beside a start on a machine that has much else to do.
    const ORPHAN_LEAVES: Duration = Duration::from_millis(5900);
    const BUSY: &str = "do $$ declare over timestamptz := clock_timestamp() + interval '6 s'; \
        begin while clock_timestamp() < over loop end loop; end $$";
    let place = Place::new();
    let first = place.start().await.unwrap();
    let client = connect(&first).await;
    let begun = Instant::now();
    let work = tokio::spawn(async move { client.batch_execute(BUSY).await.is_ok() });
    tokio::time::sleep(Duration::from_millis(300)).await;
    kill(postmaster_of(first.folder()).unwrap(), Signal::SIGKILL).unwrap();
    let second = place.start().await.unwrap();
    assert!(begun.elapsed() > ORPHAN_LEAVES, "it did not wait for the orphan");
    assert_eq!(second.tenure(), Tenure::Started);
    work.abort();
    second.stop().await.unwrap();
    // Control: with nobody at work there is no wait.
    let third = place.start().await.unwrap();
    kill(postmaster_of(third.folder()).unwrap(), Signal::SIGKILL).unwrap();
    let begun = Instant::now();
    place.start().await.unwrap().stop().await.unwrap();
    assert!(begun.elapsed() < ORPHAN_LEAVES, "it waited for nobody");
}

#[tokio::test]
async fn a_stranger_with_the_number_of_the_dead_postmaster_is_not_taken_for_it() {
    let place = Place::new();
    let first = place.start().await.unwrap();
    write_row(&first).await;
    kill(postmaster_of(first.folder()).unwrap(), Signal::SIGKILL).unwrap();
    let owner = fs::metadata(&place.data_dir).unwrap().uid();
    let mut stranger = Command::new("sleep").arg("60").uid(owner).current_dir("/").spawn().unwrap();
    let number = |text: String| text.split_once('\n').map(|(_, rest)| format!("{}\n{rest}", stranger.id()));
    for file in [place.cluster().join("postmaster.pid"), place.data_dir.join("run/.s.PGSQL.5432.lock")] {
        let text = number(fs::read_to_string(&file).unwrap()).unwrap();
        fs::write(&file, text).unwrap();
    }
    let second = place.start().await;
    assert!(stranger.try_wait().unwrap().is_none(), "the stranger was disturbed");
    stranger.kill().unwrap();
    stranger.wait().unwrap();
    let second = second.unwrap();
    assert_eq!(second.tenure(), Tenure::Started);
    assert_eq!(read_row(&second).await, "dresser");
    second.stop().await.unwrap();
}

#[tokio::test]
async fn a_copy_of_running_books_gets_a_server_of_its_own() {
    let place = Place::new();
    let original = place.start().await.unwrap();
    write_row(&original).await;
    connect(&original).await.batch_execute("checkpoint").await.unwrap();
    let copy = Place { data_dir: place.root.path().join("copy"), root: tempfile::tempdir().unwrap() };
    let copied = Command::new("cp").arg("-a").arg(&place.data_dir).arg(&copy.data_dir).status().unwrap();
    assert!(copied.success());
    let second = copy.start().await.unwrap();
    assert_eq!(second.tenure(), Tenure::Started);
    connect(&second).await.batch_execute("update sale set piece = 'chair'").await.unwrap();
    assert_eq!(read_row(&original).await, "dresser");
    second.stop().await.unwrap();
    assert_eq!(read_row(&original).await, "dresser");
}

#[tokio::test]
async fn a_cluster_that_is_merely_dropped_stops_by_itself() {
    let place = Place::new();
    let cluster = place.start().await.unwrap();
    let pid_file = cluster.folder().join("postmaster.pid");
    drop(cluster);
    let begun = Instant::now();
    while pid_file.exists() {
        assert!(begun.elapsed() < Duration::from_secs(20), "it runs on");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

/// The words of other languages come with the packages of PostgreSQL. A server of the person's own takes them where its
/// LANGUAGE asks for them, unless its setting is the plain one.
#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_tells_faults_in_german_is_refused_at_the_start() {
    let place = Place::new();
    let own = place.start().await.unwrap();
    let sockets = socket_dir(&own).await;
    let postmaster = postmaster_of(&place.cluster()).unwrap();
    let postgres = fs::read_link(format!("/proc/{postmaster}/exe")).unwrap();
    own.stop().await.unwrap();
    let owner = fs::metadata(place.cluster()).unwrap();
    let mut server = Command::new(postgres)
        .arg("-D")
        .arg(place.cluster())
        .arg("-k")
        .arg(sockets)
        .args(["-c", "listen_addresses=", "-c", "lc_messages=C.UTF-8"])
        .uid(owner.uid())
        .gid(owner.gid())
        .current_dir("/")
        .env("LANGUAGE", "de")
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    place.is_served_by(&mut server).await;
    let cluster = place.start().await.unwrap();
    let mistake = connect(&cluster).await.batch_execute("select 1 / 0").await.unwrap_err();
    let heard = mistake.as_db_error().unwrap().message().to_owned();
    connect(&cluster).await.batch_execute("create database ledgerboard").await.unwrap();
    let settings = DatabaseSettings {
        owner_url: cluster.url(ADMIN, "ledgerboard"),
        service_url: cluster.url("ledgerboard_service", "ledgerboard"),
        connections: 1,
        durability: CheckDurability::Waive,
    };
    let opened = Database::open(&settings).await;
    if heard == "division by zero" {
        eprintln!("this PostgreSQL came without the words of other languages");
        assert!(opened.is_ok());
    } else {
        let refused = opened.err().unwrap().to_string();
        assert!(refused.contains(&heard) && refused.contains("lc_messages = 'C'"), "{refused}");
    }
    // The control: the database is told to speak plainly.
    connect(&cluster).await.batch_execute("alter database ledgerboard set lc_messages = 'C'").await.unwrap();
    let joined = Database::join(&settings).await;
    assert!(joined.is_ok(), "{:?}", joined.err());
    server.kill().unwrap();
    server.wait().unwrap();
}
