//! A caller that resets the connection in the middle of a write leaves the whole record or none of it.
#![cfg(test)]

use std::io::Write;
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use nix::sys::socket::{setsockopt, sockopt};
use serde_json::json;

use crate::world::World;

/// Closes with a reset, not with an orderly end: the framework lets a handler run on after the latter.
fn reset(stream: TcpStream) {
    let linger = nix::libc::linger { l_onoff: 1, l_linger: 0 };
    setsockopt(&stream, sockopt::Linger, &linger).unwrap();
    drop(stream);
}

#[test]
fn a_write_cut_by_a_reset_is_there_as_a_whole_or_not_at_all() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    let trials: i64 = 60;
    for trial in 0..trials {
        let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" }).to_string();
        let request = format!(
            "POST /v1/accounts/contributions HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {}\r\n\
             Content-Type: application/json\r\nIdempotency-Key: cut-{trial}\r\nContent-Length: {}\r\n\r\n{body}",
            owner.token,
            body.len()
        );
        let mut stream = TcpStream::connect(world.address.trim_start_matches("http://")).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        std::thread::sleep(Duration::from_micros((trial % 30).unsigned_abs() * 400));
        reset(stream);
    }
    std::thread::sleep(Duration::from_millis(1500));
    let written = world.count("SELECT count(*) FROM records WHERE kind = 'contribution'");
    for (what, query) in [
        (
            "entries",
            "SELECT count(*) FROM entries e JOIN records r ON r.id = e.record_id WHERE r.kind = 'contribution'",
        ),
        ("postings", "SELECT count(*) / 2 FROM postings"),
        (
            "audit",
            "SELECT count(*) FROM audit_lines a JOIN records r ON r.id = a.record_id WHERE r.kind = 'contribution'",
        ),
        ("keys", "SELECT count(*) FROM idempotency_answers WHERE key LIKE 'cut-%'"),
    ] {
        assert_eq!(world.count(query), written, "{what} of {written} records");
    }
    assert!(written > 0, "some writes got through before the cut");
    let open = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() \
                AND state LIKE 'idle in transaction%'";
    assert_eq!(world.count(open), 0, "no transaction is left open");
    // Every cut request, sent once more under its key, gives one record each.
    for trial in 0..trials {
        let body = json!({ "date": "2025-03-01", "into": bank, "amount": "1.00" });
        let reply = owner.post_with_key("/v1/accounts/contributions", &format!("cut-{trial}"), &body);
        assert_eq!(reply.status, 201, "{}", reply.text);
    }
    assert_eq!(world.count("SELECT count(*) FROM records WHERE kind = 'contribution'"), trials);
}

/// The control: a handler that does its work itself is cut by a reset, so the reset above has teeth.
#[test]
fn a_handler_that_is_not_detached_is_cut_by_a_reset() {
    use actix_web::{App, HttpServer, web};
    let finished = Arc::new(AtomicBool::new(false));
    let (sender, receiver) = std::sync::mpsc::channel();
    let flag = Arc::clone(&finished);
    let thread = std::thread::spawn(move || {
        actix_web::rt::System::new().block_on(async move {
            let server = HttpServer::new(move || {
                let flag = Arc::clone(&flag);
                App::new().route(
                    "/",
                    web::to(move || {
                        let flag = Arc::clone(&flag);
                        async move {
                            actix_web::rt::time::sleep(Duration::from_millis(400)).await;
                            flag.store(true, Ordering::SeqCst);
                            "done"
                        }
                    }),
                )
            })
            .workers(1)
            .disable_signals()
            .bind("127.0.0.1:0")
            .unwrap();
            let address = server.addrs()[0];
            let running = server.run();
            sender.send((address, running.handle())).unwrap();
            running.await.unwrap();
        });
    });
    let (address, handle) = receiver.recv().unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    stream.write_all(b"GET / HTTP/1.1\r\nHost: here\r\n\r\n").unwrap();
    std::thread::sleep(Duration::from_millis(100));
    reset(stream);
    std::thread::sleep(Duration::from_millis(700));
    assert!(!finished.load(Ordering::SeqCst), "the reset did not cut the handler");
    actix_web::rt::System::new().block_on(handle.stop(false));
    thread.join().unwrap();
}
