//! A disk that is full: a small file system in memory, where root may make one.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::PathBuf;
use std::process::Command;
use std::time::Duration;

use nix::unistd::geteuid;
use tempfile::TempDir;

use super::{ADDRESS, Place, contribution};
use crate::wire::comes_true_within;

/// A file system of that many MiB; none where it may not be made.
struct SmallDisk {
    root: TempDir,
}

impl SmallDisk {
    fn of(mebibytes: u32) -> Option<Self> {
        let root = tempfile::tempdir().unwrap();
        let size = format!("size={mebibytes}m,mode=0755");
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(root.path());
        let mounted = geteuid().is_root() && mount.status().is_ok_and(|status| status.success());
        if !mounted {
            eprintln!("skipped: only root, outside of a container without the right, mounts a small disk");
            return None;
        }
        fs::set_permissions(root.path(), fs::Permissions::from_mode(0o755)).unwrap();
        Some(Self { root })
    }

    fn filler(&self) -> PathBuf {
        self.root.path().join("filler")
    }

    /// Takes up all the space there is.
    fn fill(&self) {
        let zeros = fs::File::open("/dev/zero").unwrap();
        let mut file = fs::File::create(self.filler()).unwrap();
        let full = std::io::copy(&mut { zeros }, &mut file).unwrap_err();
        assert_eq!(full.kind(), std::io::ErrorKind::StorageFull);
    }

    /// Takes up that many MiB.
    fn take(&self, mebibytes: usize) {
        fs::write(self.filler(), vec![0; mebibytes << 20]).unwrap();
    }

    fn make_room(&self) {
        fs::remove_file(self.filler()).unwrap();
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _unmounted = Command::new("umount").arg("-l").arg(self.root.path()).status();
    }
}

#[test]
fn a_full_disk_is_told_as_such_and_is_over_within_seconds_after_there_is_space() {
    let Some(disk) = SmallDisk::of(160) else { return };
    let place = Place::within(disk.root.path().join("books"), &[]);
    let bank = place.caller.has_account("bank");
    let write =
        |number: usize| place.caller.post_with_key(ADDRESS, &format!("full-{number}"), &contribution(&bank));
    assert_eq!(write(0).status, 201, "the control: with space it is recorded");
    disk.fill();
    let mut number = 0;
    let told_full = comes_true_within(Duration::from_secs(90), || {
        number += 1;
        let told = write(number);
        assert!([201, 503, 507].contains(&told.status), "{} {}", told.status, told.text);
        told.status == 507 && told.json()["type"] == "/problems/disk-full"
    });
    assert!(told_full, "{number} writes, and none was told of the full disk");
    disk.make_room();
    let over = comes_true_within(Duration::from_secs(15), || write(number).status == 201);
    assert!(over, "{}", write(number).text);
    place.is_ready_within(Duration::from_secs(5));
    assert!(place.stops_and_verifies());
}

#[test]
fn the_space_left_is_in_the_metrics_and_a_disk_that_becomes_nearly_full_is_warned_of_while_the_service_runs()
{
    let Some(disk) = SmallDisk::of(1_300) else { return };
    let metrics = format!("127.0.0.1:{}", crate::world::server::free_port());
    let place = Place::within(disk.root.path().join("books"), &["--metrics-on", &metrics]);
    let answer = || ureq::get(format!("http://{metrics}/metrics")).call();
    assert!(comes_true_within(Duration::from_secs(10), || answer().is_ok()), "{}", place.said());
    let figures = || answer().unwrap().into_body().read_to_string().unwrap();
    let disk_of = |kind: &str| -> u64 {
        let line = format!("ledgerboard_disk_bytes{{kind=\"{kind}\"}} ");
        let text = figures();
        let found =
            text.lines().find_map(|found| found.strip_prefix(&line)).unwrap_or_else(|| panic!("{text}"));
        found.parse().unwrap()
    };
    assert_eq!(disk_of("size"), 1_300 << 20);
    let before = disk_of("available");
    assert!((1 << 30..1_300 << 20).contains(&before), "{before}");
    let warned = || place.said().contains("the disk of the books is nearly full");
    assert!(!warned(), "the control: with space there is no warning: {}", place.said());
    disk.take(400);
    let after = disk_of("available");
    assert!(before - after >= 400 << 20, "{before} {after}");
    assert!(comes_true_within(Duration::from_secs(30), warned), "{}", place.said());
}
