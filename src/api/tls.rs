//! What the service speaks on its address: plain HTTP for this machine or a proxy in front, or HTTP inside TLS with a
//! certificate of the person's own.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, pem};
use x509_cert::der::Decode;

/// How answers go over the wire.
#[derive(Clone, Debug)]
pub enum Wire {
    Plain,
    Tls(Arc<ServerConfig>),
}

/// Why the service can not speak TLS with what it was given.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    #[error(
        "the certificate {path} can not be read as PEM: {source}; give the chain, the service's own certificate first",
        path = path.display()
    )]
    Certificate { path: PathBuf, source: pem::Error },
    #[error(
        "{path} holds no certificate; give a PEM file with the chain, the service's own certificate first",
        path = path.display()
    )]
    NoCertificate { path: PathBuf },
    #[error("the certificate in {path} can not be read: {why}; give one that an authority or a tool made", path = path.display())]
    Malformed { path: PathBuf, why: String },
    #[error(
        "the certificate in {path} ended on {ended}; have it renewed, and give the new one with its key",
        path = path.display()
    )]
    Ended { path: PathBuf, ended: DateTime<Utc> },
    #[error(
        "the certificate in {path} begins on {begins}; start the service then, or set this machine's clock",
        path = path.display()
    )]
    NotBegun { path: PathBuf, begins: DateTime<Utc> },
    #[error(
        "the key {path} can not be read as PEM: {source}; give the private key of the certificate, without a pass phrase",
        path = path.display()
    )]
    Key { path: PathBuf, source: pem::Error },
    #[error("certificate and key do not go together: {0}; give the key that the certificate was made for")]
    NoPair(#[from] rustls::Error),
}

impl Wire {
    /// TLS 1.2 and 1.3 with a certificate chain and its private key, both in PEM files. Nobody is served with a
    /// certificate that every caller would turn down.
    /// # Errors
    /// [`TlsError`], with what to give instead.
    pub fn tls(certificate: &Path, key: &Path, now: DateTime<Utc>) -> Result<Self, TlsError> {
        let unreadable = |source| TlsError::Certificate { path: certificate.to_owned(), source };
        let chain = CertificateDer::pem_file_iter(certificate).map_err(unreadable)?;
        let chain = chain.collect::<Result<Vec<_>, _>>().map_err(unreadable)?;
        let Some(own) = chain.first() else {
            return Err(TlsError::NoCertificate { path: certificate.to_owned() });
        };
        holds_on(own, certificate, now)?;
        let key = PrivateKeyDer::from_pem_file(key)
            .map_err(|source| TlsError::Key { path: key.to_owned(), source })?;
        // Named, and not the process's default: a second provider in the build would leave none.
        let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_single_cert(chain, key)?;
        Ok(Self::Tls(Arc::new(config)))
    }

    /// How an address begins that is spoken to in this way.
    pub const fn scheme(&self) -> &'static str {
        match self {
            Self::Plain => "http",
            Self::Tls(_) => "https",
        }
    }
}

/// Whether the certificate holds at that time (RFC 5280, 4.1.2.5: both ends included).
fn holds_on(own: &CertificateDer<'_>, path: &Path, now: DateTime<Utc>) -> Result<(), TlsError> {
    let read = x509_cert::Certificate::from_der(own)
        .map_err(|error| TlsError::Malformed { path: path.to_owned(), why: error.to_string() })?;
    let validity = read.tbs_certificate().validity();
    let (begins, ended): (DateTime<Utc>, DateTime<Utc>) =
        (validity.not_before.to_system_time().into(), validity.not_after.to_system_time().into());
    if now < begins {
        return Err(TlsError::NotBegun { path: path.to_owned(), begins });
    }
    if now > ended {
        return Err(TlsError::Ended { path: path.to_owned(), ended });
    }
    Ok(())
}
