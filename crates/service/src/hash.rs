//! Texts of a fixed length in place of longer ones.

use sha2::{Digest, Sha256};

/// The SHA-256 of a text, in 64 hexadecimal digits.
pub fn sha256_hex(text: &str) -> String {
    hex::encode(Sha256::digest(text))
}
