//! A history, or another value, from its JSON text.
//!
//! The fast way reads the text straight into its types. Only where that fails is the text read again, into a
//! tree, and searched for everything that is wrong with it.

use baycast_model::history::History;
use serde::de::DeserializeOwned;

use crate::diagnosis;
use crate::error::Error;
use crate::strict::Strict;

/// The mark that some editors put before UTF-8 text; RFC 8259 section 8.1 lets a parser ignore it.
pub const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Reads one history, or says everything that is wrong with it.
pub fn history(text: &[u8]) -> Result<History, Error> {
    let text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
    fast(text).map_err(|_| diagnosis::of(text))
}

/// Reads one value of any type that a contract takes, or says everything that is wrong with it.
pub fn json<T: DeserializeOwned>(text: &[u8]) -> Result<T, Error> {
    let text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
    fast(text).map_err(|_| diagnosis::of_type::<T>(text))
}

/// Reads one value, or nothing but the fact that it failed.
fn fast<T: DeserializeOwned>(text: &[u8]) -> Result<T, serde_json::Error> {
    let mut json = serde_json::Deserializer::from_slice(text);
    let value = T::deserialize(Strict(&mut json))?;
    json.end()?;
    Ok(value)
}
