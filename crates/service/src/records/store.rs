//! The records that a service has, with what it needs to write into them.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use baycast_records::{Records, Stamp};
use jiff::Timestamp;

use crate::error::Error;
use crate::readiness::{AtHand, Tails};
use crate::records::caller::Caller;
use crate::records::checkpoints::Checkpoints;
use crate::records::estimates::{Kept, Origin};
use crate::records::feeds::Remembered;
use crate::records::flights::Flights;
use crate::records::lessons::Lessons;
use crate::service::Service;

/// Tells the present instant, which stands beside everything recorded. The binary hands in the machine's.
pub type Now = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The records, the clock, and the estimates at hand.
#[derive(Clone)]
pub struct Store {
    /// The records.
    pub(crate) records: Arc<Records>,
    /// The present instant.
    now: Now,
    /// Whether a key was ever seen: once there is one, there always is.
    pub(super) keyed: Arc<AtomicBool>,
    /// Estimates of stored batches.
    pub(super) kept: Arc<Kept>,
    /// What they worked out.
    pub(super) checkpoints: Arc<Checkpoints>,
    /// Those being made.
    pub(super) flights: Arc<Flights<Origin>>,
    /// Plans being made, by farm.
    pub(super) plans: Arc<Flights<String>>,
    /// What finished batches taught.
    pub(super) lessons: Arc<Lessons>,
    /// Tokens of feed addresses that were looked up lately.
    pub(super) feeds: Arc<Remembered>,
    /// What is told of farms.
    pub(crate) at_hand: Arc<AtHand>,
    /// The changes that watchers wait for.
    pub(crate) tails: Arc<Tails>,
}

impl fmt::Debug for Store {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Store").finish_non_exhaustive()
    }
}

impl Store {
    /// The present instant.
    pub(crate) fn now(&self) -> Timestamp {
        (self.now)()
    }

    /// Who records, and when.
    pub(super) fn stamp(&self, caller: &Caller) -> Stamp {
        Stamp::new(self.now(), caller.id())
    }
}

impl Service {
    /// The present instant, as it stands beside what is recorded now.
    pub fn now(&self) -> Result<Timestamp, Error> {
        Ok(self.store()?.now())
    }

    /// The same service with records, which it stamps with the time that `now` tells.
    ///
    /// While they hold no key every caller is an administrator, so whoever serves them without a key serves them on
    /// loopback only.
    #[must_use]
    pub fn with_records(self, records: Arc<Records>, now: Now) -> Self {
        let checkpoints = Arc::new(Checkpoints::new(self.limits().kept_bytes));
        let at_hand = Arc::new(AtHand::new(records.changes()));
        self.with_store(Store {
            records,
            now,
            keyed: Arc::default(),
            kept: Arc::default(),
            checkpoints,
            flights: Arc::default(),
            plans: Arc::default(),
            lessons: Arc::default(),
            feeds: Arc::default(),
            at_hand,
            tails: Arc::default(),
        })
    }
}
