//! Estimates being made: whoever asks for the same one meanwhile waits for it.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::OwnedMutexGuard;

use crate::records::estimates::Origin;

/// The estimates being made.
#[derive(Debug, Default)]
pub struct Flights(Mutex<HashMap<Origin, Arc<tokio::sync::Mutex<()>>>>);

/// The turn to make an estimate; the next one's when dropped.
pub type Turn = OwnedMutexGuard<()>;

impl Flights {
    /// Waits until no one else makes the estimate of `origin`.
    pub(super) async fn turn(&self, origin: &Origin) -> Turn {
        let flight = {
            let mut flights = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            // Those that no one holds or waits for have landed.
            flights.retain(|_, flight| Arc::strong_count(flight) > 1);
            flights.entry(origin.clone()).or_default().clone()
        };
        flight.lock_owned().await
    }
}
