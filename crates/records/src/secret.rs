//! Random bytes and their text.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use crate::error::{Error, Result};

/// `N` bytes from the operating system's generator.
pub(crate) fn random<const N: usize>() -> Result<[u8; N]> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| Error::Unavailable { detail: error.to_string() })?;
    Ok(bytes)
}

/// Base64 with padding (RFC 4648 section 4).
pub(crate) fn base64(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}
