//! Commands that share the private PostgreSQL, and commands that are told to stop while they start it: the program
//! itself, as a shell runs it.
#![cfg(test)]

use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use tempfile::TempDir;

use crate::wire::comes_true_within;

/// A data folder that PostgreSQL's own user may reach.
fn a_folder() -> (TempDir, PathBuf) {
    let root = tempfile::tempdir().unwrap();
    std::fs::set_permissions(root.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    let data_dir = root.path().join("books");
    (root, data_dir)
}

fn program(data_dir: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerboard"));
    command.args(arguments).arg("--data-dir").arg(data_dir);
    command.env_remove("DATABASE_URL").env_remove("LEDGERBOARD_LISTEN");
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// The service, once it listens, and its address.
fn serve(data_dir: &Path) -> (Child, String) {
    let mut service = program(data_dir, &["serve", "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(service.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let (_, address) = line.trim().split_once("listens on ").unwrap();
    (service, address.to_owned())
}

fn signals(process: &Child, signal: Signal) {
    kill(Pid::from_raw(i32::try_from(process.id()).unwrap()), signal).unwrap();
}

fn is_ready(address: &str) -> bool {
    ureq::get(format!("{address}/health/ready")).call().is_ok_and(|answer| answer.status() == 204)
}

/// Server processes that work in that folder, as Linux tells it.
fn servers(data_dir: &Path) -> usize {
    let processes = std::fs::read_dir("/proc").unwrap().flatten();
    let works_here = |folder: PathBuf| {
        std::fs::read_link(folder.join("cwd")).is_ok_and(|works_in| works_in.starts_with(data_dir))
    };
    processes.filter(|process| works_here(process.path())).count()
}

#[test]
fn a_service_goes_on_when_the_command_that_started_its_server_leaves() {
    let (_root, data_dir) = a_folder();
    let (mut first, _) = serve(&data_dir);
    let (mut second, address) = serve(&data_dir);
    assert!(is_ready(&address));
    signals(&first, Signal::SIGTERM);
    assert!(first.wait().unwrap().success());
    assert!(is_ready(&address), "the first one took the server with it");
    let token = program(&data_dir, &["token", "--new", "--books", "Fernbank Workshop"]).output().unwrap();
    assert!(token.status.success(), "{}", String::from_utf8_lossy(&token.stderr));
    let verified = program(&data_dir, &["verify"]).output().unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
    assert!(is_ready(&address), "a short command took the server with it");
    // Control: the last one stops it.
    assert!(servers(&data_dir) > 0);
    signals(&second, Signal::SIGINT);
    assert!(second.wait().unwrap().success());
    assert_eq!(servers(&data_dir), 0);
}

#[test]
fn a_server_left_by_a_kill_is_stopped_by_the_next_orderly_exit() {
    let (_root, data_dir) = a_folder();
    let (mut service, _) = serve(&data_dir);
    service.kill().unwrap();
    service.wait().unwrap();
    assert!(servers(&data_dir) > 0, "the kill left it running");
    let verified = program(&data_dir, &["verify"]).output().unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
    assert_eq!(servers(&data_dir), 0);
}

#[test]
fn a_command_told_to_stop_while_it_starts_leaves_nothing_running() {
    for (signal, status) in [(Signal::SIGINT, 130), (Signal::SIGTERM, 143)] {
        let (_root, data_dir) = a_folder();
        // Through initdb, the start, the migrations, and beyond: it is faster on a folder that was used before.
        for milliseconds in [50, 200, 500, 900, 1400, 2000, 300, 100, 700] {
            let mut command = program(&data_dir, &["verify"]).spawn().unwrap();
            std::thread::sleep(Duration::from_millis(milliseconds));
            signals(&command, signal);
            let ended = command.wait().unwrap();
            // The signal itself ends a program that has not begun to heed it, nor to start anything.
            let told = ended.code() == Some(status) || ended.signal().is_some();
            assert!(ended.success() || told, "{ended:?} after {milliseconds} ms");
            // What initdb itself ran may need a moment to notice.
            let gone = comes_true_within(Duration::from_secs(5), || servers(&data_dir) == 0);
            assert!(gone, "a server is left after {milliseconds} ms");
        }
        let verified = program(&data_dir, &["verify"]).output().unwrap();
        assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
    }
}

#[test]
fn first_starts_in_pairs_on_a_new_folder_all_succeed() {
    for _ in 0..6 {
        let (_root, data_dir) = a_folder();
        let pair = [(); 2].map(|()| program(&data_dir, &["verify"]).spawn().unwrap());
        for command in pair {
            let ended = command.wait_with_output().unwrap();
            assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        }
        assert_eq!(servers(&data_dir), 0);
    }
}

/// `ledgerboard openapi | head -c 1`: the document is longer than what a pipe holds.
#[test]
fn a_command_whose_reader_has_left_comes_to_its_end_without_a_word() {
    let print = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerboard"));
        command.arg("openapi").stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let mut left = print();
    drop(left.stdout.take());
    let ended = left.wait_with_output().unwrap();
    assert!(ended.status.success() && ended.stderr.is_empty(), "{}", String::from_utf8_lossy(&ended.stderr));
    // The control: whoever stays reads all of it.
    let read = print().wait_with_output().unwrap();
    assert!(read.status.success() && read.stdout.len() > 100_000 && read.stdout.ends_with(b"}\n"));
}
