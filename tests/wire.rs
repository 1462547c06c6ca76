//! Requests as bytes on a socket, for callers that hang up half-way, and numbers that a command may raise.
#![cfg(test)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use nix::sys::socket::{setsockopt, sockopt};
use serde_json::Value;

/// Connects to the service at `http://…`.
pub fn connect(address: &str) -> TcpStream {
    let stream = TcpStream::connect(address.trim_start_matches("http://")).unwrap();
    stream.set_nodelay(true).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    stream
}

/// Closes with a reset, not with an orderly end: the framework lets a handler run on after the latter.
pub fn reset(stream: TcpStream) {
    let linger = nix::libc::linger { l_onoff: 1, l_linger: 0 };
    setsockopt(&stream, sockopt::Linger, &linger).unwrap();
    drop(stream);
}

/// A read on a connection that stays open.
pub fn get(token: &str, path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\r\n")
}

/// A write on a connection that stays open, under a key where there is one.
pub fn post(token: &str, path: &str, key: Option<&str>, body: &Value) -> String {
    let body = body.to_string();
    let key = key.map(|key| format!("Idempotency-Key: {key}\r\n")).unwrap_or_default();
    format!(
        "POST {path} HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/json\r\n{key}Content-Length: {}\r\n\r\n{body}",
        body.len()
    )
}

/// An answer as it came over the wire.
pub struct Heard {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Heard {
    pub fn has_header(&self, line: &str) -> bool {
        self.head.lines().any(|one| one.eq_ignore_ascii_case(line))
    }

    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|_| panic!("not JSON: {}", self.body))
    }
}

/// One whole answer; none where the connection ends before it is whole.
pub fn hear(stream: &mut TcpStream) -> Option<Heard> {
    let mut got = Vec::new();
    let mut part = [0; 16_384];
    let head_ends = loop {
        if let Some(place) = got.windows(4).position(|four| four == b"\r\n\r\n") {
            break place + 4;
        }
        match stream.read(&mut part) {
            Ok(0) | Err(_) => return None,
            Ok(read) => got.extend_from_slice(&part[..read]),
        }
    };
    let head = String::from_utf8_lossy(&got[..head_ends]).into_owned();
    let status = head.split(' ').nth(1)?.parse().ok()?;
    let length = head.lines().find_map(|line| {
        let (name, value) = line.split_once(':')?;
        name.eq_ignore_ascii_case("content-length").then(|| value.trim().parse::<usize>().unwrap())
    });
    assert!(length.is_some() || status == 204, "an answer without its length: {head}");
    let whole = head_ends + length.unwrap_or(0);
    while got.len() < whole {
        match stream.read(&mut part) {
            Ok(0) | Err(_) => return None,
            Ok(read) => got.extend_from_slice(&part[..read]),
        }
    }
    Some(Heard { status, head, body: String::from_utf8_lossy(&got[head_ends..whole]).into_owned() })
}

/// Sends it and hears the answer.
pub fn asks(stream: &mut TcpStream, request: &str) -> Option<Heard> {
    stream.write_all(request.as_bytes()).ok()?;
    hear(stream)
}

/// Whether it comes true within that time.
pub fn comes_true_within(limit: Duration, mut is_so: impl FnMut() -> bool) -> bool {
    let begun = Instant::now();
    loop {
        if is_so() {
            return true;
        }
        if begun.elapsed() > limit {
            return false;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// A number that a command may set in its environment.
pub fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().unwrap())
}
