//! The certificate that the port shows, read anew when its files change.

use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::time::Duration;

use rustls::crypto::CryptoProvider;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use rustls::{InconsistentKeys, ServerConfig};

/// How often the files are looked at. Their content is compared, so that it does not matter how they were put there: written
/// over, moved into place, or by links that lead elsewhere now.
const LOOK: Duration = Duration::from_secs(2);

/// Where certificate and key are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Files {
    /// The certificate and those between it and its authority, in PEM.
    pub certificate: PathBuf,
    /// Its key, in PEM.
    pub key: PathBuf,
}

/// What stands in both files.
#[derive(PartialEq, Eq)]
struct Content {
    certificate: Vec<u8>,
    key: Vec<u8>,
}

/// The certificate that new connections are shown.
pub struct Certificate {
    files: Files,
    shown: RwLock<Arc<CertifiedKey>>,
    /// What was read last, or why nothing could be.
    read: Mutex<Result<Content, String>>,
}

impl fmt::Debug for Certificate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Certificate").field("files", &self.files).finish_non_exhaustive()
    }
}

impl Certificate {
    /// Reads the files, or says which one cannot be used and why.
    pub fn read(files: Files) -> Result<Self, String> {
        let content = Content::of(&files)?;
        let shown = RwLock::new(Arc::new(content.certified(&files)?));
        Ok(Self { files, shown, read: Mutex::new(Ok(content)) })
    }

    /// What TLS is spoken with: 1.3 or 1.2, HTTP/2 before HTTP/1.1.
    pub fn server(self: &Arc<Self>) -> Arc<ServerConfig> {
        let mut server = ServerConfig::builder_with_provider(provider())
            .with_safe_default_protocol_versions()
            .expect("the provider has suites for both versions")
            .with_no_client_auth()
            .with_cert_resolver(self.clone());
        server.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
        Arc::new(server)
    }

    /// Looks at the files for as long as it is polled. What can't be used is told once, and the certificate before stays.
    pub async fn keep_up(&self) {
        loop {
            tokio::time::sleep(LOOK).await;
            self.look();
        }
    }

    /// Takes what the files hold, where that is new.
    fn look(&self) {
        let found = Content::of(&self.files);
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if *read == found {
            return;
        }
        let taken = match &found {
            Ok(content) => content.certified(&self.files),
            Err(reason) => Err(reason.clone()),
        };
        *read = found;
        match taken {
            Ok(certified) => {
                *self.shown.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(certified);
                tracing::info!(file = %self.files.certificate.display(), "another certificate is shown from now on");
            }
            Err(reason) => {
                tracing::error!(reason, "the certificate cannot be used: the one before is shown still");
            }
        }
    }
}

impl ResolvesServerCert for Certificate {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.shown.read().unwrap_or_else(PoisonError::into_inner).clone())
    }
}

impl Content {
    /// What stands in the files.
    fn of(files: &Files) -> Result<Self, String> {
        let read = |path: &Path| std::fs::read(path).map_err(|error| format!("{}: {error}", path.display()));
        Ok(Self { certificate: read(&files.certificate)?, key: read(&files.key)? })
    }

    /// The certificate with its key, or why it can't be shown.
    fn certified(&self, files: &Files) -> Result<CertifiedKey, String> {
        let chain = CertificateDer::pem_slice_iter(&self.certificate).collect::<Result<Vec<_>, _>>();
        let chain = chain.map_err(|error| format!("{}: {error}", files.certificate.display()))?;
        if chain.is_empty() {
            return Err(format!("{}: no certificate in PEM", files.certificate.display()));
        }
        let key_at_fault = |error: &dyn fmt::Display| format!("{}: {error}", files.key.display());
        let key = PrivateKeyDer::from_pem_slice(&self.key).map_err(|error| key_at_fault(&error))?;
        let key = provider().key_provider.load_private_key(key).map_err(|error| key_at_fault(&error))?;
        let certified = CertifiedKey::new(chain, key);
        match certified.keys_match() {
            Ok(()) | Err(rustls::Error::InconsistentKeys(InconsistentKeys::Unknown)) => Ok(certified),
            Err(rustls::Error::InconsistentKeys(_)) => {
                Err(key_at_fault(&format!("not the key of {}", files.certificate.display())))
            }
            Err(error) => Err(format!("{}: {error}", files.certificate.display())),
        }
    }
}

/// The algorithms.
fn provider() -> Arc<CryptoProvider> {
    Arc::new(rustls::crypto::ring::default_provider())
}
