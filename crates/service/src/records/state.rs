//! Whether a thing is in use or put away.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Whether a thing is in use or put away.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ArchiveState {
    /// Put away.
    #[default]
    Archived,
    /// In use.
    Active,
}

impl ArchiveState {
    /// Since when it is put away, if it is to be.
    pub(super) fn since(self, now: Timestamp) -> Option<Timestamp> {
        match self {
            Self::Archived => Some(now),
            Self::Active => None,
        }
    }
}
