//! TLS to the database server: what is checked of its certificate.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::client::{verify_server_cert_signed_by_trust_anchor, verify_server_name};
use rustls::crypto::{CryptoProvider, ring, verify_tls12_signature, verify_tls13_signature};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use rustls::server::ParsedCertificate;
use rustls::{CertificateError, ClientConfig, DigitallySignedStruct, Error, RootCertStore, SignatureScheme};
use tokio_postgres_rustls::MakeRustlsConnect;
use x509_cert::der::Decode;

use super::address::AddressError;

/// What is checked of the server's certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verified {
    /// `prefer`, `require`: the wire is encrypted, to whomever answers.
    Nothing,
    /// `verify-ca`: an authority that is trusted signed it.
    Authority,
    /// `verify-full`: and it was made for the host that was dialed.
    AuthorityAndName,
}

/// Whose signature counts.
pub(super) enum Roots {
    /// The authorities that this machine trusts.
    System,
    File(PathBuf),
}

/// A TLS client that is ready for use.
#[derive(Clone)]
pub(super) struct Encryption {
    pub(super) connector: MakeRustlsConnect,
    pub(super) verified: Verified,
}

impl Encryption {
    /// Reads the certificates of the authorities, where they are needed.
    /// # Errors
    /// A file that cannot be read, or no authority at all.
    pub(super) fn new(verified: Verified, roots: &Roots) -> Result<Self, AddressError> {
        let trusted = match (verified, roots) {
            (Verified::Nothing, _) => Vec::new(),
            (_, Roots::File(path)) => certificates_in(path)?,
            (_, Roots::System) => rustls_native_certs::load_native_certs().certs,
        };
        let mut store = RootCertStore::empty();
        match roots {
            Roots::File(path) => {
                for certificate in &trusted {
                    store.add(certificate.clone()).map_err(|error| AddressError::Roots {
                        path: path.clone(),
                        why: error.to_string(),
                    })?;
                }
            }
            // A machine's own store may hold some that are unusual; the others count.
            Roots::System => {
                store.add_parsable_certificates(trusted.iter().cloned());
            }
        }
        if store.is_empty() && verified != Verified::Nothing {
            return Err(AddressError::NoSystemRoots);
        }
        // Named, and not the process's default: a second provider in the build would leave none.
        let provider = Arc::new(ring::default_provider());
        let judge = Judge { verified, store, trusted, provider: Arc::clone(&provider) };
        let mut config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()?
            .dangerous()
            .with_custom_certificate_verifier(Arc::new(judge))
            .with_no_client_auth();
        // What PostgreSQL 17 registered for itself, and asks for where TLS begins at once.
        config.alpn_protocols = vec![b"postgresql".to_vec()];
        Ok(Self { connector: MakeRustlsConnect::new(config), verified })
    }
}

fn certificates_in(path: &Path) -> Result<Vec<CertificateDer<'static>>, AddressError> {
    let unreadable = |why: String| AddressError::Roots { path: path.to_owned(), why };
    let found = CertificateDer::pem_file_iter(path).map_err(|error| unreadable(error.to_string()))?;
    let found = found.collect::<Result<Vec<_>, _>>().map_err(|error| unreadable(error.to_string()))?;
    if found.is_empty() {
        return Err(unreadable("it holds no certificate".to_owned()));
    }
    Ok(found)
}

/// Judges the server's certificate as libpq does under the same `sslmode`.
#[derive(Debug)]
struct Judge {
    verified: Verified,
    store: RootCertStore,
    trusted: Vec<CertificateDer<'static>>,
    provider: Arc<CryptoProvider>,
}

impl ServerCertVerifier for Judge {
    fn verify_server_cert(
        &self,
        own: &CertificateDer<'_>,
        between: &[CertificateDer<'_>],
        name: &ServerName<'_>,
        _ocsp: &[u8],
        now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        if self.verified == Verified::Nothing {
            return Ok(ServerCertVerified::assertion());
        }
        let parsed = ParsedCertificate::try_from(own)?;
        // A server that signed its own certificate is trusted by that very certificate, whatever else it says: the
        // manual of PostgreSQL makes one that calls itself an authority, which no chain may end in.
        if self.trusted.iter().any(|one| one == own) {
            holds_now(own, now)?;
        } else {
            let algorithms = self.provider.signature_verification_algorithms.all;
            verify_server_cert_signed_by_trust_anchor(&parsed, &self.store, between, now, algorithms)?;
        }
        if self.verified == Verified::AuthorityAndName {
            verify_server_name(&parsed, name)?;
        }
        Ok(ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        own: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls12_signature(message, own, signed, &self.provider.signature_verification_algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        own: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls13_signature(message, own, signed, &self.provider.signature_verification_algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.provider.signature_verification_algorithms.supported_schemes()
    }
}

/// RFC 5280, 4.1.2.5: both ends included.
fn holds_now(own: &CertificateDer<'_>, now: UnixTime) -> Result<(), Error> {
    let read = x509_cert::Certificate::from_der(own)
        .map_err(|_unreadable| Error::InvalidCertificate(CertificateError::BadEncoding))?;
    let validity = read.tbs_certificate().validity();
    let now = std::time::Duration::from_secs(now.as_secs());
    if now < validity.not_before.to_unix_duration() {
        return Err(Error::InvalidCertificate(CertificateError::NotValidYet));
    }
    if now > validity.not_after.to_unix_duration() {
        return Err(Error::InvalidCertificate(CertificateError::Expired));
    }
    Ok(())
}
