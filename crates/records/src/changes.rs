//! Word that something changed, sent after it was committed.

use serde::{Deserialize, Serialize};
use tokio::sync::broadcast;

use crate::records::Records;

/// Something changed.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// A batch or its events.
    Batch {
        /// The farm.
        farm: String,
        /// The batch.
        batch: String,
    },
    /// What all batches of a farm depend on: the farm itself, its bays or feedstocks.
    Surroundings {
        /// The farm.
        farm: String,
    },
    /// What is told of a batch of the farm: a change was logged.
    Readiness {
        /// The farm.
        farm: String,
    },
    /// Word may have been missed, as when the connection broke: anything may have changed.
    Unknown,
}

impl Records {
    /// Changes from now on, those of other replicas on the same PostgreSQL included. A receiver that falls behind is told
    /// so by the channel and should treat it as [`Change::Unknown`].
    #[must_use]
    pub fn changes(&self) -> broadcast::Receiver<Change> {
        self.store.changes().subscribe()
    }
}
