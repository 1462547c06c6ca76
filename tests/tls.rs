//! TLS with a certificate of one's own: who may hear the tokens, and what a certificate that is no good is told.
#![cfg(test)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use chrono::{Datelike, Utc};
use ledgerboard::api::tls::{Renewal, Shown, TlsError, Wire};
use rustls::crypto::ring;
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{
    ClientConfig, ClientConnection, ProtocolVersion, RootCertStore, StreamOwned, SupportedProtocolVersion,
};

use crate::world::World;

/// The files of a certificate for this machine's own name, made for one test.
struct Made {
    folder: tempfile::TempDir,
    trusted: CertificateDer<'static>,
}

impl Made {
    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn wire(&self) -> Result<Wire, TlsError> {
        Wire::tls(&self.at("certificate.pem"), &self.at("key.pem"), Utc::now())
    }
}

/// A certificate that holds in those years only.
fn certificate_for(years: std::ops::RangeInclusive<i32>) -> Made {
    let mut asked = rcgen::CertificateParams::new(["localhost".to_owned()]).unwrap();
    asked.not_before = rcgen::date_time_ymd(*years.start(), 1, 1);
    asked.not_after = rcgen::date_time_ymd(*years.end(), 12, 31);
    let key = rcgen::KeyPair::generate().unwrap();
    let made = asked.self_signed(&key).unwrap();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("certificate.pem"), made.pem()).unwrap();
    std::fs::write(folder.path().join("key.pem"), key.serialize_pem()).unwrap();
    Made { folder, trusted: made.der().clone() }
}

fn certificate() -> Made {
    certificate_for(2020..=2100)
}

const BOTH: &[&SupportedProtocolVersion] = &[&rustls::version::TLS12, &rustls::version::TLS13];

/// What was negotiated, and what was answered.
struct Answered {
    version: ProtocolVersion,
    protocol: Option<Vec<u8>>,
    text: String,
}

/// Asks inside TLS of those versions, trusting that certificate only, and offering HTTP/2 before HTTP/1.1.
fn asks(
    address: &str,
    trusted: &CertificateDer<'static>,
    versions: &[&'static SupportedProtocolVersion],
    request: &str,
) -> std::io::Result<Answered> {
    let mut roots = RootCertStore::empty();
    roots.add(trusted.clone()).unwrap();
    let mut config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_protocol_versions(versions)
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
    let name = ServerName::try_from("localhost").unwrap();
    let session = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut stream = StreamOwned::new(session, TcpStream::connect(address).unwrap());
    stream.write_all(request.as_bytes())?;
    let mut text = String::new();
    if let Err(error) = stream.read_to_string(&mut text)
        && text.is_empty()
    {
        return Err(error);
    }
    let version = stream.conn.protocol_version().unwrap();
    Ok(Answered { version, protocol: stream.conn.alpn_protocol().map(<[u8]>::to_vec), text })
}

/// What comes back for these bytes, until the service hangs up.
fn hears(address: &str, sent: &[u8]) -> Vec<u8> {
    let mut plain = TcpStream::connect(address).unwrap();
    plain.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    plain.write_all(sent).unwrap();
    let mut heard = Vec::new();
    let mut part = [0; 4096];
    while let Ok(read @ 1..) = plain.read(&mut part) {
        heard.extend_from_slice(&part[..read]);
    }
    heard
}

fn asks_for_books(token: &str) -> String {
    format!(
        "GET /v1/books HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nAuthorization: Bearer {token}\r\n\r\n"
    )
}

#[test]
fn the_service_speaks_tls_with_a_certificate_of_the_persons_own() {
    let made = certificate();
    let world = World::speaking(made.wire().unwrap());
    let address = world.address.strip_prefix("https://").unwrap();
    let request = asks_for_books(&world.owner().token);
    for (versions, spoken) in [
        (&[&rustls::version::TLS12][..], ProtocolVersion::TLSv1_2),
        (&[&rustls::version::TLS13], ProtocolVersion::TLSv1_3),
        (BOTH, ProtocolVersion::TLSv1_3),
    ] {
        let answer = asks(address, &made.trusted, versions, &request).unwrap();
        assert_eq!(answer.version, spoken);
        assert_eq!(answer.protocol.as_deref(), Some(&b"http/1.1"[..]), "HTTP/2 is not spoken here");
        assert!(answer.text.starts_with("HTTP/1.1 200"), "{}", answer.text);
        let head = answer.text.to_ascii_lowercase();
        assert!(head.contains("strict-transport-security: max-age=31536000"), "{head}");
    }
    // The controls: another's certificate is not believed, and a plain service promises no TLS.
    assert!(asks(address, &certificate().trusted, BOTH, &request).is_err());
    let in_plain = World::open();
    assert_eq!(in_plain.owner().get("/v1/books").header("strict-transport-security"), None);
}

#[test]
fn whoever_asks_in_plain_where_tls_is_spoken_hears_nothing_of_the_books() {
    let world = World::speaking(certificate().wire().unwrap());
    let request = asks_for_books(&world.owner().token);
    let heard = hears(world.address.trim_start_matches("https://"), request.as_bytes());
    assert!(!String::from_utf8_lossy(&heard).contains("HTTP/1."), "{heard:?}");
    // The control: the same bytes to a service that speaks plain are answered.
    let in_plain = World::open();
    let request = asks_for_books(&in_plain.owner().token);
    let heard = hears(in_plain.address.trim_start_matches("http://"), request.as_bytes());
    assert!(String::from_utf8_lossy(&heard).starts_with("HTTP/1.1 200"), "{heard:?}");
}

/// A client's first message (RFC 4346, 7.4.1.2; the extension is of RFC 5246, 7.4.1.4.1) that offers no more than
/// that version: 3, 2 is TLS 1.1 and 3, 3 is TLS 1.2.
fn hello(version: [u8; 2]) -> Vec<u8> {
    // ECDHE with ECDSA: AES-128 with GCM for 1.2 (RFC 5289), with CBC and SHA-1 before (RFC 8422).
    let suites = [0xc0, 0x2b, 0xc0, 0x09];
    let extensions = [
        0x00, 0x0d, 0x00, 0x04, 0x00, 0x02, 0x04,
        0x03, // signature_algorithms: ECDSA on P-256 with SHA-256
        0x00, 0x0a, 0x00, 0x04, 0x00, 0x02, 0x00, 0x17, // supported_groups: P-256
        0x00, 0x0b, 0x00, 0x02, 0x01, 0x00, // ec_point_formats: uncompressed
    ];
    let mut body = version.to_vec();
    body.extend([7; 32]);
    body.extend([0, 0, 4]);
    body.extend(suites);
    body.extend([1, 0, 0, 22]);
    body.extend(extensions);
    let length = u8::try_from(body.len()).unwrap();
    let mut sent = vec![0x16, 3, 1, 0, length + 4, 1, 0, 0, length];
    sent.extend(body);
    sent
}

#[test]
fn tls_older_than_1_2_is_refused() {
    let world = World::speaking(certificate().wire().unwrap());
    let address = world.address.trim_start_matches("https://");
    // An alert (21), fatal (2), protocol_version (70): RFC 5246, 7.2.2.
    for old in [[3, 1], [3, 2]] {
        let heard = hears(address, &hello(old));
        assert_eq!((heard.first(), &heard[5..]), (Some(&21), &[2, 70][..]), "{old:?}: {heard:?}");
    }
    // The control: the same message for 1.2 is answered with a handshake (22), by a server's hello (2).
    let mut stream = TcpStream::connect(address).unwrap();
    stream.write_all(&hello([3, 3])).unwrap();
    let mut begins = [0; 6];
    stream.read_exact(&mut begins).unwrap();
    assert_eq!((begins[0], begins[5]), (22, 2), "{begins:?}");
}

#[test]
fn a_certificate_that_can_not_be_used_says_what_to_give() {
    let (made, other) = (certificate(), certificate());
    std::fs::write(made.at("empty.pem"), "").unwrap();
    let nonsense = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
    std::fs::write(made.at("nonsense.pem"), nonsense).unwrap();
    let told = |certificate: &Path, key: &Path| Wire::tls(certificate, key, Utc::now()).unwrap_err();
    let (certificate, key, empty) = (made.at("certificate.pem"), made.at("key.pem"), made.at("empty.pem"));
    assert!(matches!(told(&made.at("missing.pem"), &key), TlsError::Certificate { .. }));
    assert!(matches!(told(&empty, &key), TlsError::NoCertificate { .. }));
    assert!(matches!(told(&made.at("nonsense.pem"), &key), TlsError::Malformed { .. }));
    assert!(matches!(told(&certificate, &empty), TlsError::Key { .. }));
    assert!(matches!(told(&certificate, &other.at("key.pem")), TlsError::NoPair(_)));
    let ended = certificate_for(2019..=2020).wire().unwrap_err();
    assert!(
        ended.to_string().contains("ended on 2020-12-31") && ended.to_string().contains("renewed"),
        "{ended}"
    );
    assert!(matches!(certificate_for(2090..=2091).wire(), Err(TlsError::NotBegun { .. })));
    // The control: the two that go together.
    assert!(made.wire().is_ok());
}

/// The program with those arguments, which ends before it looks for any books.
fn told(arguments: &[&std::ffi::OsStr]) -> String {
    let program = Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .arg("serve")
        .args(arguments)
        .env_remove("DATABASE_URL")
        .env("LEDGERBOARD_DATA_DIR", "/dev/null/no-folder")
        .output()
        .unwrap();
    assert!(!program.status.success());
    String::from_utf8_lossy(&program.stderr).into_owned()
}

#[test]
fn an_address_that_others_reach_asks_for_tls_or_a_proxy_and_names_both() {
    let said = told(&["--listen".as_ref(), "0.0.0.0:0".as_ref()]);
    assert!(said.contains("--tls-certificate") && said.contains("--behind-tls-proxy"), "{said}");
    let alone = told(&["--tls-certificate".as_ref(), "/nowhere.pem".as_ref()]);
    assert!(alone.contains("--tls-key"), "{alone}");
    let (made, ended) = (certificate(), certificate_for(2019..=2020));
    let serves = |files: &Made| {
        let (certificate, key) = (files.at("certificate.pem"), files.at("key.pem"));
        let listen = ["--listen".as_ref(), "0.0.0.0:0".as_ref(), "--tls-certificate".as_ref()];
        told(&[&listen[..], &[certificate.as_os_str(), "--tls-key".as_ref(), key.as_os_str()]].concat())
    };
    let said = serves(&ended);
    assert!(said.contains("ended on 2020-12-31"), "{said}");
    // The control: with a good one it goes on, to where its books would be.
    let said = serves(&made);
    assert!(said.contains("another data folder") && !said.contains("certificate"), "{said}");
}

/// Puts the certificate and key of one into the files of the other, as a renewal does.
fn renews(files: &Made, by: &Made) {
    for name in ["certificate.pem", "key.pem"] {
        std::fs::copy(by.at(name), files.at(name)).unwrap();
    }
}

fn shown_by(wire: &Wire) -> Arc<Shown> {
    match wire {
        Wire::Tls(_, shown) => Arc::clone(shown),
        Wire::Plain => panic!("it speaks plain"),
    }
}

#[test]
fn a_renewed_certificate_is_shown_to_new_connections_and_a_broken_one_changes_nothing() {
    let (made, renewed) = (certificate(), certificate());
    let wire = made.wire().unwrap();
    let shown = shown_by(&wire);
    let world = World::speaking(wire);
    let address = world.address.strip_prefix("https://").unwrap();
    let request = asks_for_books(&world.owner().token);
    let believes = |trusted: &Made| asks(address, &trusted.trusted, BOTH, &request).is_ok();
    assert_eq!(shown.read_again(Utc::now()).unwrap(), Renewal::Same);
    assert!(believes(&made) && !believes(&renewed));
    // Half a renewal: the new certificate with the old key.
    std::fs::copy(renewed.at("certificate.pem"), made.at("certificate.pem")).unwrap();
    assert!(matches!(shown.read_again(Utc::now()), Err(TlsError::NoPair(_))));
    std::fs::write(made.at("certificate.pem"), "cut short").unwrap();
    assert!(shown.read_again(Utc::now()).is_err());
    renews(&made, &certificate_for(2019..=2020));
    assert!(matches!(shown.read_again(Utc::now()), Err(TlsError::Ended { .. })));
    assert!(believes(&made), "the one in use stays");
    renews(&made, &renewed);
    assert!(matches!(shown.read_again(Utc::now()), Ok(Renewal::Renewed { until }) if until.year() == 2100));
    assert!(believes(&renewed) && !believes(&made));
}

#[test]
fn a_sighup_reads_the_certificate_again_and_ends_nothing() {
    let (made, renewed) = (certificate(), certificate());
    let root = tempfile::tempdir().unwrap();
    std::fs::set_permissions(root.path(), std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    let mut service = Command::new(env!("CARGO_BIN_EXE_ledgerboard"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data-dir"])
        .arg(root.path().join("books"))
        .arg("--tls-certificate")
        .arg(made.at("certificate.pem"))
        .arg("--tls-key")
        .arg(made.at("key.pem"))
        .env("DATABASE_URL", "")
        .env_remove("LEDGERBOARD_OWNER_URL")
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let mut told = std::io::BufReader::new(service.stdout.take().unwrap());
    std::io::BufRead::read_line(&mut told, &mut line).unwrap();
    let address = line.trim().rsplit("https://").next().unwrap().to_owned();
    let health = "GET /health/live HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    let believes = |trusted: &Made| asks(&address, &trusted.trusted, BOTH, health).is_ok();
    assert!(believes(&made) && !believes(&renewed), "{line}");
    renews(&made, &renewed);
    let pid = nix::unistd::Pid::from_raw(i32::try_from(service.id()).unwrap());
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGHUP).unwrap();
    let begun = std::time::Instant::now();
    while !believes(&renewed) {
        assert!(begun.elapsed() < Duration::from_secs(60), "the renewed certificate is never shown");
        std::thread::sleep(Duration::from_millis(50));
    }
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGTERM).unwrap();
    assert!(service.wait().unwrap().success());
}
