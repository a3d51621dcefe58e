//! What is told of a farm, kept at hand.

use std::collections::HashSet;
use std::fmt;
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

use baycast_records::{Change, Scope};
use foldhash::{HashMap, HashMapExt};
use futures::{StreamExt, stream};
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::TryRecvError;
use tokio::time::{Instant, timeout_at};

use crate::error::Error;
use crate::readiness::{BatchReadiness, Readiness, day};
use crate::records::{Caller, refusal};
use crate::service::Service;

/// How long what is at hand is taken to be true where no word of a change came.
const TRUSTED: Duration = Duration::from_secs(1);

/// Longest time for which a caller waits for batches to be worked out.
const PATIENCE: Duration = Duration::from_secs(2);

/// Most farms kept at hand.
const MOST_KEPT: usize = 1024;

/// What is told of farms, for as long as it is known to be true. The one asked for longest ago gives way.
pub struct AtHand(RwLock<Shelf>);

struct Shelf {
    changes: Receiver<Change>,
    farms: HashMap<String, Slot>,
    /// Counts turns.
    turns: u64,
}

#[derive(Default)]
struct Slot {
    /// What is told, and when the store was asked.
    kept: Option<(Arc<Readiness>, Instant)>,
    /// Held by whoever asks the store.
    turn: Arc<tokio::sync::Mutex<()>>,
    /// Counts words of a change.
    heard: u64,
    last_turn: u64,
}

impl fmt::Debug for AtHand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("AtHand").finish_non_exhaustive()
    }
}

impl AtHand {
    /// Nothing at hand yet; word of changes comes by `changes`.
    pub fn new(changes: Receiver<Change>) -> Self {
        Self(RwLock::new(Shelf { changes, farms: HashMap::new(), turns: 0 }))
    }

    /// What is told of the farm, if it is at hand; else the turn to ask the store, and how often word came.
    ///
    /// Where no word came, whoever asks holds up nobody else who asks.
    fn get(&self, farm: &str) -> Result<Arc<Readiness>, (Arc<tokio::sync::Mutex<()>>, u64)> {
        let shelf = self.0.read().unwrap_or_else(PoisonError::into_inner);
        if shelf.changes.is_empty()
            && let Some(readiness) = shelf.farms.get(farm).and_then(Slot::trusted)
        {
            return Ok(readiness);
        }
        drop(shelf);
        let mut shelf = self.0.write().unwrap_or_else(PoisonError::into_inner);
        shelf.hear();
        shelf.turns += 1;
        let turn_now = shelf.turns;
        if shelf.farms.len() >= MOST_KEPT && !shelf.farms.contains_key(farm) {
            let oldest = shelf.farms.iter().min_by_key(|(_, slot)| slot.last_turn);
            if let Some(oldest) = oldest.map(|(farm, _)| farm.clone()) {
                shelf.farms.remove(&oldest);
            }
        }
        let slot = shelf.farms.entry(farm.to_owned()).or_default();
        slot.last_turn = turn_now;
        slot.trusted().ok_or_else(|| (slot.turn.clone(), slot.heard))
    }

    /// Keeps what the store told, unless word of a change came since it was `heard` that often.
    fn put(&self, farm: &str, readiness: &Arc<Readiness>, heard: u64) {
        let mut shelf = self.0.write().unwrap_or_else(PoisonError::into_inner);
        shelf.hear();
        if let Some(slot) = shelf.farms.get_mut(farm).filter(|slot| slot.heard == heard) {
            slot.kept = Some((readiness.clone(), Instant::now()));
        }
    }
}

impl Slot {
    /// What is told, where that is still taken to be true.
    fn trusted(&self) -> Option<Arc<Readiness>> {
        let (readiness, asked) = self.kept.as_ref()?;
        (asked.elapsed() < TRUSTED).then(|| readiness.clone())
    }

    /// Takes back what is at hand, since word of a change came.
    fn hear(&mut self) {
        self.kept = None;
        self.heard += 1;
    }
}

impl Shelf {
    /// Takes back what word came of.
    fn hear(&mut self) {
        loop {
            match self.changes.try_recv() {
                Ok(
                    Change::Batch { farm, .. } | Change::Surroundings { farm } | Change::Readiness { farm },
                ) => {
                    if let Some(slot) = self.farms.get_mut(&farm) {
                        slot.hear();
                    }
                }
                Ok(Change::Unknown) | Err(TryRecvError::Lagged(_)) => {
                    self.farms.values_mut().for_each(Slot::hear);
                }
                Err(TryRecvError::Empty | TryRecvError::Closed) => break,
            }
        }
    }
}

impl Service {
    /// What is told of a farm's batches.
    ///
    /// At hand in memory, and looked up once a second at most, or at once after word of a change. Batches whose readiness is
    /// of before a change are worked out first, for two seconds at most; those left are counted as `pending`.
    pub async fn readiness(&self, caller: &Caller, farm: &str) -> Result<Arc<Readiness>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let turn = match store.at_hand.get(farm) {
            Ok(readiness) => return Ok(readiness),
            Err((turn, _)) => turn,
        };
        let _turn = turn.lock().await;
        let heard = match store.at_hand.get(farm) {
            Ok(readiness) => return Ok(readiness),
            Err((_, heard)) => heard,
        };
        let readiness = Arc::new(self.look_up(farm, Instant::now() + PATIENCE).await?);
        store.at_hand.put(farm, &readiness, heard);
        Ok(readiness)
    }

    /// What is told of a farm's batches, with what is due worked out as far as `until` allows.
    async fn look_up(&self, farm: &str, until: Instant) -> Result<Readiness, Error> {
        // Done here though the store may still hold a notice, which is its claimant's to settle.
        let (mut done, mut failed) = (HashSet::new(), HashSet::new());
        loop {
            let (mut readiness, mut due) = self.as_told(farm).await?;
            due.retain(|batch| !done.contains(batch));
            readiness.pending = u32::try_from(due.len()).unwrap_or(u32::MAX);
            due.retain(|batch| !failed.contains(batch));
            if due.is_empty() || Instant::now() >= until {
                return Ok(readiness);
            }
            let mut worked_out = stream::iter(due)
                .map(|batch| async move { (self.work_out(farm, &batch, None).await, batch) })
                .buffer_unordered(self.limits().concurrency);
            let work = async {
                while let Some((outcome, batch)) = worked_out.next().await {
                    match outcome {
                        Ok(()) => done.insert(batch),
                        Err(error) => {
                            if !error.is_outage() {
                                tracing::warn!(farm, batch, %error, "a batch's readiness could not be worked out");
                            }
                            failed.insert(batch)
                        }
                    };
                }
            };
            // What is not done in time is pending; the work goes on without whoever asked.
            let _ = timeout_at(until, work).await;
        }
    }

    /// What is told of a farm's batches as it is, and which of them are due.
    pub(super) async fn as_told(&self, farm: &str) -> Result<(Readiness, Vec<String>), Error> {
        let store = self.store()?;
        let now = store.now();
        let found = store.records.readiness(farm, &|farm| day::on(farm, now), baycast_model::VERSION).await;
        let found = found.map_err(refusal::of)?;
        let batches = found.contents.iter().map(|text| serde_json::from_str::<BatchReadiness>(text));
        let batches = batches.collect::<Result<Vec<_>, _>>().map_err(|error| {
            tracing::error!(%error, "what was told of a batch cannot be read");
            Error::Internal
        })?;
        let readiness = Readiness {
            as_of: day::on(&found.farm, now),
            farm: found.farm.id,
            name: found.farm.name,
            time_zone: found.farm.time_zone,
            sequence: u64::try_from(found.sequence).unwrap_or(0),
            changed_at: found.changed_at,
            pending: 0,
            batches,
        };
        Ok((readiness, found.due))
    }
}
