//! The last changes of the farms that are watched: read once from the store, shared by all who watch.

use std::collections::{HashMap, VecDeque};
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

use tokio::sync::watch;

use crate::error::Error;
use crate::readiness::ReadinessChange;
use crate::readiness::changes::After;
use crate::service::Service;

/// Changes kept of a farm. A watcher who is further behind reads from the store.
const KEPT: usize = 256;

/// Changes read at once.
const PAGE: u32 = 256;

/// The newest sequence of a tail that is at its end: what it read is not what the store goes on from.
const ENDED: u64 = u64::MAX;

/// The tails of the farms that are watched, each for as long as anyone watches it.
#[derive(Debug, Default)]
pub struct Tails(Mutex<HashMap<String, Weak<Tail>>>);

/// The last changes of one farm.
pub(super) struct Tail {
    farm: String,
    /// Without a gap, the last one that of `newest`.
    changes: Mutex<VecDeque<Arc<ReadinessChange>>>,
    /// The last sequence that was read.
    newest: watch::Sender<u64>,
    /// Held by whoever reads.
    turn: tokio::sync::Mutex<()>,
}

impl fmt::Debug for Tail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Tail").field("farm", &self.farm).finish_non_exhaustive()
    }
}

impl Tails {
    fn lock(&self) -> MutexGuard<'_, HashMap<String, Weak<Tail>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The farm's tail, and whether it is a new one, as where no one watched the farm yet: that begins after `last`, and
    /// has yet to look.
    pub(super) fn of(&self, farm: &str, last: u64) -> (Arc<Tail>, bool) {
        let mut tails = self.lock();
        if let Some(tail) = tails.get(farm).and_then(Weak::upgrade)
            && *tail.newest.borrow() != ENDED
        {
            return (tail, false);
        }
        tails.retain(|_, tail| tail.strong_count() > 0);
        let tail = Arc::new(Tail {
            farm: farm.to_owned(),
            changes: Mutex::default(),
            newest: watch::Sender::new(last),
            turn: tokio::sync::Mutex::default(),
        });
        tails.insert(farm.to_owned(), Arc::downgrade(&tail));
        (tail, true)
    }

    /// The farm's tail, where anyone watches the farm.
    pub(super) fn get(&self, farm: &str) -> Option<Arc<Tail>> {
        self.lock().get(farm).and_then(Weak::upgrade)
    }

    /// All tails.
    pub(super) fn all(&self) -> Vec<Arc<Tail>> {
        self.lock().values().filter_map(Weak::upgrade).collect()
    }
}

impl Tail {
    /// The farm.
    pub(super) fn farm(&self) -> &str {
        &self.farm
    }

    /// The last sequence that was read, and word when there is a newer one.
    pub(super) fn newest(&self) -> watch::Receiver<u64> {
        self.newest.subscribe()
    }

    fn lock(&self) -> MutexGuard<'_, VecDeque<Arc<ReadinessChange>>> {
        self.changes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The changes after a sequence as far as they were read; nothing where they reach further back than is kept.
    pub(super) fn after(&self, sequence: u64) -> Option<Vec<Arc<ReadinessChange>>> {
        let changes = self.lock();
        if sequence >= *self.newest.borrow() {
            return Some(Vec::new());
        }
        let first = changes.front()?.sequence;
        let behind = usize::try_from((sequence + 1).checked_sub(first)?).ok()?;
        Some(changes.iter().skip(behind).cloned().collect())
    }

    /// Reads what came since the last look, and tells those who watch.
    pub(super) async fn look(&self, service: &Service) -> Result<(), Error> {
        let _turn = self.turn.lock().await;
        loop {
            let last = *self.newest.borrow();
            if last == ENDED {
                return Ok(());
            }
            let After::Changes(found, _) = service.changes_after(&self.farm, last, PAGE).await? else {
                // As where a backup was restored. Those who watch find that out too and are told the whole.
                self.lock().clear();
                self.newest.send_replace(ENDED);
                return Ok(());
            };
            let Some(newest) = found.last().map(|change| change.sequence) else { return Ok(()) };
            let mut changes = self.lock();
            changes.extend(found.into_iter().map(Arc::new));
            let surplus = changes.len().saturating_sub(KEPT);
            changes.drain(..surplus);
            // Told while the changes are held: whoever sees the sequence finds its change.
            self.newest.send_replace(newest);
        }
    }
}
