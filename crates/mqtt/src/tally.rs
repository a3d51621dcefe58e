//! How many messages became what.

use std::sync::atomic::{AtomicU64, Ordering};

/// Counts since the start.
#[derive(Debug, Default)]
pub struct Tally {
    recorded: AtomicU64,
    known: AtomicU64,
    unusable: AtomicU64,
    postponed: AtomicU64,
}

impl Tally {
    /// One more reading was recorded.
    pub(crate) fn recorded(&self) {
        self.recorded.fetch_add(1, Ordering::Relaxed);
    }

    /// One more reading was there already.
    pub(crate) fn known(&self) {
        self.known.fetch_add(1, Ordering::Relaxed);
    }

    /// One more message can't be used; how many that makes.
    pub(crate) fn unusable(&self) -> u64 {
        self.unusable.fetch_add(1, Ordering::Relaxed) + 1
    }

    /// One more attempt met records that were away.
    pub(crate) fn postponed(&self) {
        self.postponed.fetch_add(1, Ordering::Relaxed);
    }

    /// All counts, by what became of the message.
    #[must_use]
    pub fn counts(&self) -> [(&'static str, u64); 4] {
        let count = |counter: &AtomicU64| counter.load(Ordering::Relaxed);
        [
            ("recorded", count(&self.recorded)),
            ("known", count(&self.known)),
            ("unusable", count(&self.unusable)),
            ("postponed", count(&self.postponed)),
        ]
    }

    /// Writes all counts to the log.
    pub(crate) fn log(&self) {
        let [(_, recorded), (_, known), (_, unusable), (_, postponed)] = self.counts();
        tracing::info!(recorded, known, unusable, postponed, "probe messages since the start");
    }
}
