//! Encryption of what is sent: by rustls in the service itself, or by a proxy before it.
//!
//! The way to a PostgreSQL server is encrypted by its own client library; `sslmode` in the database's URL says
//! how (`require` encrypts, `verify-full` with `sslrootcert` also proves the server).

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustls::ServerConfig;
use rustls::crypto::aws_lc_rs;
use rustls::pki_types::pem::PemObject as _;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};

/// Where certificate and key are.
#[derive(Clone, Debug)]
pub struct TlsFiles {
    /// The certificate, those it hangs on behind it (PEM).
    pub cert: PathBuf,
    /// Its private key (PEM).
    pub key: PathBuf,
}

/// What keeps others from reading what is sent.
#[derive(Clone, Debug, Default)]
pub struct Shield {
    /// The service encrypts.
    pub tls: Option<TlsFiles>,
    /// A proxy before the service encrypts.
    pub is_behind_proxy: bool,
}

/// Why the service does not start as it was told to. Every text says what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// Others could read passwords and tokens on their way.
    #[error(
        "{0} can be reached from other machines, and nothing would encrypt what is sent. Listen on 127.0.0.1, \
         give a certificate with --tls-cert and --tls-key, or put a proxy with TLS before it and say \
         --behind-tls-proxy."
    )]
    Open(SocketAddr),
    /// A file holds no certificate or key.
    #[error("{0}: {1}. It must be readable and hold {2} in PEM form.")]
    File(String, String, &'static str),
    /// Certificate and key do not belong together, or are of a kind that is not known.
    #[error("{0} and {1} cannot be used together: {2}")]
    Pair(String, String, String),
}

impl Shield {
    /// Refuses to be reached from other machines without encryption.
    pub fn check(&self, listen: SocketAddr) -> Result<(), TlsError> {
        let is_safe = listen.ip().is_loopback() || self.tls.is_some() || self.is_behind_proxy;
        if is_safe { Ok(()) } else { Err(TlsError::Open(listen)) }
    }
}

/// Reads certificate and key.
pub fn load(files: &TlsFiles) -> Result<ServerConfig, TlsError> {
    let name = |path: &Path| path.display().to_string();
    let wrong = |path: &Path, error: &dyn std::fmt::Display, what| {
        TlsError::File(name(path), error.to_string(), what)
    };
    let certs: Vec<CertificateDer<'static>> = CertificateDer::pem_file_iter(&files.cert)
        .and_then(Iterator::collect)
        .map_err(|error| wrong(&files.cert, &error, "a certificate"))?;
    if certs.is_empty() {
        return Err(wrong(&files.cert, &"there is no certificate in it", "a certificate"));
    }
    let key = PrivateKeyDer::from_pem_file(&files.key)
        .map_err(|error| wrong(&files.key, &error, "a private key"))?;
    let pair = |error: rustls::Error| TlsError::Pair(name(&files.cert), name(&files.key), error.to_string());
    ServerConfig::builder_with_provider(Arc::new(aws_lc_rs::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(pair)?
        .with_no_client_auth()
        .with_single_cert(certs, key)
        .map_err(pair)
}
