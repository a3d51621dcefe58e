//! What is being made, estimates and plans: whoever asks for the same meanwhile waits for it.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::OwnedMutexGuard;

/// What is being made, by what it is made of.
#[derive(Debug)]
pub struct Flights<K>(Mutex<HashMap<K, Arc<tokio::sync::Mutex<()>>>>);

impl<K> Default for Flights<K> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

/// The turn to make something; the next one's when dropped.
pub type Turn = OwnedMutexGuard<()>;

impl<K: Clone + Eq + Hash> Flights<K> {
    /// Waits until no one else makes what is made of `origin`.
    pub(super) async fn turn(&self, origin: &K) -> Turn {
        let flight = {
            let mut flights = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            // Those that no one holds or waits for have landed.
            flights.retain(|_, flight| Arc::strong_count(flight) > 1);
            flights.entry(origin.clone()).or_default().clone()
        };
        flight.lock_owned().await
    }
}
