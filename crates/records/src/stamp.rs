//! When something is recorded, and by whom.

use jiff::Timestamp;

use crate::instant::to_microsecond;

/// Who writes, and when: the caller's word, since this crate reads no clock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The time now, kept to the microsecond.
    pub at: Timestamp,
    /// The id of the API key, or another name for who writes.
    pub by: String,
}

impl Stamp {
    /// A stamp.
    pub fn new(at: Timestamp, by: impl Into<String>) -> Self {
        Self { at: to_microsecond(at), by: by.into() }
    }
}
