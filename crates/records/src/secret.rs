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

/// Lower-case hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes
        .iter()
        .flat_map(|byte| [byte >> 4, byte & 15])
        .map(|digit| char::from(b"0123456789abcdef"[usize::from(digit)]))
        .collect()
}

/// Base64 with padding (RFC 4648 section 4).
pub(crate) fn base64(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}

/// Reads what [`hex`] wrote.
pub(crate) fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digits: Vec<u8> =
        text.chars().map(|c| c.to_digit(16).map(|digit| digit as u8)).collect::<Option<_>>()?;
    digits
        .len()
        .is_multiple_of(2)
        .then(|| digits.chunks_exact(2).map(|pair| pair[0] << 4 | pair[1]).collect())
}
