//! How many attempts became what.

use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

use baycast_service::records::Attempted;

/// Counts since the start.
#[derive(Debug, Default)]
pub struct Tally {
    taken: AtomicU64,
    again: AtomicU64,
    given_up: AtomicU64,
    gone: AtomicU64,
}

impl Tally {
    /// One more attempt.
    pub(crate) fn attempted(&self, attempted: Attempted) {
        let count = match attempted {
            Attempted::Taken => &self.taken,
            Attempted::AgainIn(_) => &self.again,
            Attempted::GivenUp => &self.given_up,
            Attempted::Gone => &self.gone,
        };
        count.fetch_add(1, Relaxed);
    }

    /// All counts, by what became of the attempt.
    #[must_use]
    pub fn counts(&self) -> [(&'static str, u64); 4] {
        let count = |counter: &AtomicU64| counter.load(Relaxed);
        [
            ("taken", count(&self.taken)),
            ("again", count(&self.again)),
            ("given_up", count(&self.given_up)),
            ("gone", count(&self.gone)),
        ]
    }
}
