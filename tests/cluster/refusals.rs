//! What the private cluster refuses to start on, and the remedy it names. Each refusal has its control.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt, lchown};
use std::path::Path;
use std::process::Command;

use ledgerboard::store::cluster::{Cluster, ClusterError, Durability};
use nix::unistd::User;

use super::{Place, assert_one_line, is_root, postmaster_of};

#[tokio::test]
async fn books_of_another_major_version_are_refused_with_the_way_forward() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    let version_file = place.cluster().join("PG_VERSION");
    let version = fs::read_to_string(&version_file).unwrap();
    fs::write(&version_file, "12\n").unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::OtherMajor { cluster: 12, .. }), "{refused:?}");
    let major = version.trim();
    assert_one_line(
        &refused,
        &[
            "PostgreSQL 12",
            major,
            "apt-get install postgresql-12",
            "ledgerboard backup",
            "ledgerboard restore",
        ],
    );
    fs::write(&version_file, version).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn files_that_are_no_cluster_are_refused_and_left_alone() {
    let place = Place::new();
    let cluster = place.start().await.unwrap();
    let folder = cluster.folder().to_path_buf();
    cluster.stop().await.unwrap();
    let version = fs::read_to_string(folder.join("PG_VERSION")).unwrap();
    fs::remove_file(folder.join("PG_VERSION")).unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::NotACluster { .. }), "{refused:?}");
    assert!(folder.join("base").exists());
    fs::write(folder.join("PG_VERSION"), version).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn a_parent_that_is_closed_to_the_server_is_named() {
    if !is_root() {
        return;
    }
    let place = Place::named("home/share/books");
    let home = place.root.path().join("home");
    fs::create_dir(&home).unwrap();
    fs::set_permissions(&home, Permissions::from_mode(0o700)).unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(&refused, ClusterError::ParentClosed { parent, .. } if *parent == home), "{refused:?}");
    assert_one_line(&refused, &["chmod o+x", "/var/lib/ledgerboard"]);
    assert!(!home.join("share").exists(), "a refusal leaves nothing behind");
    fs::set_permissions(&home, Permissions::from_mode(0o711)).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn roots_folder_with_files_is_not_given_away_but_an_empty_one_is() {
    if !is_root() {
        return;
    }
    let place = Place::new();
    fs::create_dir(&place.data_dir).unwrap();
    fs::write(place.data_dir.join("passwd"), "").unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::WrongOwner { .. }), "{refused:?}");
    assert_eq!(fs::metadata(&place.data_dir).unwrap().uid(), 0);
    fs::remove_file(place.data_dir.join("passwd")).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}

/// What `cp -r` by root makes of books: everything is root's.
#[tokio::test]
async fn a_copy_that_root_made_is_refused_with_the_command_that_hands_it_over() {
    if !is_root() {
        return;
    }
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    let owner_of = |folder: &Path| fs::metadata(folder).unwrap().uid();
    assert_ne!(owner_of(&place.data_dir), 0);
    let copy = Place::new();
    let copied = Command::new("cp").arg("-r").arg(&place.data_dir).arg(&copy.data_dir).status().unwrap();
    assert!(copied.success());
    assert_eq!(owner_of(&copy.data_dir), 0);
    let refused = copy.start().await.unwrap_err().to_string();
    assert!(!refused.contains("run the service as root"), "{refused}");
    let handed_over = format!("chown -R postgres: {}", copy.data_dir.display());
    assert!(refused.contains(&handed_over), "{refused}");
    // The control: the command that it names is enough.
    assert!(Command::new("sh").args(["-c", &handed_over]).status().unwrap().success());
    copy.start().await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn the_owner_of_an_existing_data_folder_runs_the_server_if_it_has_a_name() {
    if !is_root() {
        return;
    }
    let place = Place::new();
    fs::create_dir(&place.data_dir).unwrap();
    lchown(&place.data_dir, Some(54321), None).unwrap();
    let refused = place.start().await.unwrap_err();
    assert_one_line(&refused, &["54321", "useradd --uid 54321"]);
    let nobody = User::from_name("nobody").unwrap().unwrap().uid.as_raw();
    lchown(&place.data_dir, Some(nobody), None).unwrap();
    let cluster = place.start().await.unwrap();
    let server = format!("/proc/{}", postmaster_of(cluster.folder()).unwrap());
    assert_eq!(fs::metadata(server).unwrap().uid(), nobody);
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn a_folder_others_may_write_in_is_refused() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    fs::set_permissions(&place.data_dir, Permissions::from_mode(0o770)).unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::TooOpen { mode: 0o770, .. }), "{refused:?}");
    fs::set_permissions(&place.data_dir, Permissions::from_mode(0o750)).unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn without_programs_one_line_says_how_to_install_them() {
    let place = Place::new();
    let empty = place.root.path().join("no programs");
    fs::create_dir(&empty).unwrap();
    let mut settings = place.settings(Durability::ThrowAway);
    settings.pg_bin = Some(empty);
    let refused = Cluster::start(&settings).await.unwrap_err();
    assert!(matches!(refused, ClusterError::ProgramsMissing { .. }), "{refused:?}");
    assert_one_line(
        &refused,
        &["apt-get install postgresql", "dnf install postgresql-server", "brew install postgresql"],
    );
    let found = place.start().await.unwrap();
    settings.pg_bin = Some(found.programs().to_path_buf());
    found.stop().await.unwrap();
    Cluster::start(&settings).await.unwrap().stop().await.unwrap();
}

#[tokio::test]
async fn a_server_that_would_lose_work_in_a_power_cut_is_refused_and_not_left_running() {
    let place = Place::new();
    place.start_durable().await.unwrap().stop().await.unwrap();
    for setting in ["fsync", "full_page_writes", "synchronous_commit"] {
        let file = place.cluster().join("postgresql.auto.conf");
        let before = fs::read_to_string(&file).unwrap();
        fs::write(&file, format!("{before}{setting} = off\n")).unwrap();
        let refused = place.start_durable().await.unwrap_err();
        assert!(
            matches!(&refused, ClusterError::NotDurable { setting: found, .. } if found == setting),
            "{refused:?}"
        );
        assert_one_line(&refused, &[setting, "off", "remove line 3 of", "postgresql.auto.conf"]);
        assert!(!place.cluster().join("postmaster.pid").exists());
        fs::write(&file, before).unwrap();
        place.start_durable().await.unwrap().stop().await.unwrap();
    }
    let throw_away = place.start().await.unwrap();
    let refused = place.start_durable().await.unwrap_err();
    assert_one_line(&refused, &["fsync", "throw-away"]);
    throw_away.stop().await.unwrap();
}

#[tokio::test]
async fn a_server_that_does_not_start_says_why_in_one_line() {
    let place = Place::new();
    place.start().await.unwrap().stop().await.unwrap();
    let file = place.cluster().join("postgresql.auto.conf");
    fs::write(&file, "work_mem = 'much'\n").unwrap();
    let refused = place.start().await.unwrap_err();
    assert!(matches!(refused, ClusterError::StartFailed { .. }), "{refused:?}");
    assert_one_line(&refused, &["work_mem", "postgres.log"]);
    fs::write(&file, "").unwrap();
    place.start().await.unwrap().stop().await.unwrap();
}
