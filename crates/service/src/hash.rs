//! Texts of a fixed length in place of longer ones.

use std::fmt::Write;

use sha2::{Digest, Sha256};

/// The SHA-256 of a text, in 64 hexadecimal digits.
pub fn sha256_hex(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().fold(String::with_capacity(64), |mut digits, byte| {
        // Writing into a text cannot fail.
        let _ = write!(digits, "{byte:02x}");
        digits
    })
}
