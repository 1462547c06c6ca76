//! What the service speaks on its address: plain HTTP for this machine or a proxy in front, or HTTP inside TLS with a
//! certificate of the person's own.

use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};

use chrono::{DateTime, Utc};
use rustls::ServerConfig;
use rustls::crypto::{CryptoProvider, ring};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, pem};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use x509_cert::der::Decode;

/// How answers go over the wire.
#[derive(Clone, Debug)]
pub enum Wire {
    Plain,
    Tls(Arc<ServerConfig>, Arc<Shown>),
}

/// The certificate that callers are shown. It is read again while the service runs, since it is renewed every few weeks.
#[derive(Debug)]
pub struct Shown {
    certificate: PathBuf,
    key: PathBuf,
    current: RwLock<Arc<CertifiedKey>>,
}

/// What reading the files again found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Renewal {
    /// The files hold the certificate that is in use.
    Same,
    /// New connections are shown another one, until this time.
    Renewed { until: DateTime<Utc> },
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
        let (current, _) = read_pair(certificate, key, now)?;
        let shown = Arc::new(Shown {
            certificate: certificate.to_owned(),
            key: key.to_owned(),
            current: RwLock::new(Arc::new(current)),
        });
        let resolver: Arc<dyn ResolvesServerCert> = Arc::<Shown>::clone(&shown);
        let config = ServerConfig::builder_with_provider(provider())
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_cert_resolver(resolver);
        Ok(Self::Tls(Arc::new(config), shown))
    }

    /// How an address begins that is spoken to in this way.
    pub const fn scheme(&self) -> &'static str {
        match self {
            Self::Plain => "http",
            Self::Tls(..) => "https",
        }
    }
}

impl Shown {
    /// Reads both files again and shows new connections what they hold now. Files that cannot be used change nothing:
    /// the certificate that is in use stays.
    /// # Errors
    /// As [`Wire::tls`].
    pub fn read_again(&self, now: DateTime<Utc>) -> Result<Renewal, TlsError> {
        let (read, until) = read_pair(&self.certificate, &self.key, now)?;
        let mut current = self.current.write().unwrap_or_else(PoisonError::into_inner);
        if current.cert == read.cert {
            return Ok(Renewal::Same);
        }
        *current = Arc::new(read);
        Ok(Renewal::Renewed { until })
    }
}

impl ResolvesServerCert for Shown {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.current.read().unwrap_or_else(PoisonError::into_inner)))
    }
}

/// Named, and not the process's default: a second provider in the build would leave none.
fn provider() -> Arc<CryptoProvider> {
    Arc::new(ring::default_provider())
}

/// A chain with its key, and when the service's own certificate ends.
fn read_pair(
    certificate: &Path,
    key: &Path,
    now: DateTime<Utc>,
) -> Result<(CertifiedKey, DateTime<Utc>), TlsError> {
    let unreadable = |source| TlsError::Certificate { path: certificate.to_owned(), source };
    let chain = CertificateDer::pem_file_iter(certificate).map_err(unreadable)?;
    let chain = chain.collect::<Result<Vec<_>, _>>().map_err(unreadable)?;
    let Some(own) = chain.first() else {
        return Err(TlsError::NoCertificate { path: certificate.to_owned() });
    };
    let until = holds_on(own, certificate, now)?;
    let key =
        PrivateKeyDer::from_pem_file(key).map_err(|source| TlsError::Key { path: key.to_owned(), source })?;
    Ok((CertifiedKey::from_der(chain, key, &provider())?, until))
}

/// Until when the certificate holds, if it does at that time (RFC 5280, 4.1.2.5: both ends included).
fn holds_on(own: &CertificateDer<'_>, path: &Path, now: DateTime<Utc>) -> Result<DateTime<Utc>, TlsError> {
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
    Ok(ended)
}
