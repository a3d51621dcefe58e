//! The task that keeps what is told true: it works out what is due and passes on what was changed.
//!
//! Every replica runs it. A batch is due when a notice of it waits in the outbox. Word of a change only says that it is time
//! to look: what the word missed is found by looking now and then, and what no notice was written of, by a sweep.

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::time::Duration;

use baycast_records::Change;
use futures::{StreamExt, stream};
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::{RecvError, TryRecvError};
use tokio::time::{Instant, sleep_until, timeout_at};

use crate::error::Error;
use crate::readiness::day;
use crate::readiness::tail::Tail;
use crate::records::refusal;
use crate::service::Service;

/// How long a claim holds. A replica that died gives its batches to the others after that.
const LEASE: Duration = Duration::from_secs(20);

/// Time between two sweeps of all farms.
const SWEEP: Duration = Duration::from_mins(1);

/// Time between two looks where no word comes.
const LOOK: Duration = Duration::from_secs(2);

/// Pause before a try again where the store could not be reached.
const PAUSE: Duration = Duration::from_secs(1);

/// What was heard of farms.
#[derive(Debug, Default)]
struct Heard {
    /// Of these, what their batches depend on changed.
    surroundings: BTreeSet<String>,
    /// Of these, what is told changed.
    readiness: BTreeSet<String>,
    /// Word was missed: anything may have changed.
    unknown: bool,
}

impl Heard {
    /// What is heard next, waited for until `until`, and all that came with it. Nothing where all is silent.
    async fn next(changes: &mut Receiver<Change>, until: Instant) -> Self {
        let mut heard = Self::default();
        match timeout_at(until, changes.recv()).await {
            Ok(Ok(change)) => heard.note(change),
            Ok(Err(RecvError::Lagged(_))) => heard.unknown = true,
            Ok(Err(RecvError::Closed)) => sleep_until(until).await,
            Err(_) => {}
        }
        loop {
            match changes.try_recv() {
                Ok(change) => heard.note(change),
                Err(TryRecvError::Lagged(_)) => heard.unknown = true,
                Err(TryRecvError::Empty | TryRecvError::Closed) => return heard,
            }
        }
    }

    fn note(&mut self, change: Change) {
        match change {
            // Its notice waits in the outbox.
            Change::Batch { .. } => {}
            Change::Surroundings { farm } => drop(self.surroundings.insert(farm)),
            Change::Readiness { farm } => drop(self.readiness.insert(farm)),
            Change::Unknown => self.unknown = true,
        }
    }
}

impl Service {
    /// Publishes what is told of batches as it becomes due, and passes on what any replica published to those who watch here.
    /// Runs until dropped; ends at once where there are no records.
    pub async fn publish_readiness(&self) -> Result<Infallible, Error> {
        let store = self.store()?;
        let (due, told) = (store.records.changes(), store.records.changes());
        tokio::select! {
            never = self.publish(due) => match never {},
            never = self.pass_on(told) => match never {},
        }
    }

    /// Works out what is due.
    async fn publish(&self, mut changes: Receiver<Change>) -> Infallible {
        let mut heard = Heard::default();
        let mut sweep_at = Instant::now();
        loop {
            if heard.unknown || Instant::now() >= sweep_at {
                sweep_at = Instant::now() + SWEEP;
                heard = Heard { unknown: true, ..Heard::default() };
            }
            let more = match self.work_on(&heard).await {
                Ok(more) => more,
                Err(error) => {
                    if !error.is_outage() {
                        tracing::warn!(%error, "readiness could not be published");
                    }
                    sleep_until(Instant::now() + PAUSE).await;
                    sweep_at = Instant::now();
                    true
                }
            };
            let now = Instant::now();
            heard = Heard::next(&mut changes, if more { now } else { now + LOOK }).await;
        }
    }

    /// Finds what became due by what was heard and works out some of what is due; whether there may be more.
    async fn work_on(&self, heard: &Heard) -> Result<bool, Error> {
        let store = self.store()?;
        let now = store.now();
        let sweep = async |farm: Option<&str>| {
            let swept = store.records.sweep(farm, &|farm| day::on(farm, now), baycast_model::VERSION).await;
            swept.map(drop).map_err(refusal::of)
        };
        if heard.unknown {
            sweep(None).await?;
        }
        for farm in &heard.surroundings {
            sweep(Some(farm)).await?;
        }
        // Half of the workers are left to those who ask.
        let at_once = self.limits().concurrency.div_ceil(2);
        let until = now.saturating_add(LEASE).unwrap_or(now);
        let claims = store.records.claim_due(now, until, at_once).await.map_err(refusal::of)?;
        let more = !claims.is_empty();
        stream::iter(claims)
            .for_each_concurrent(at_once, |claim| async move {
                // It keeps its notices, and is tried again when the claim lapses.
                if let Err(error) = self.work_out(&claim.farm, &claim.batch, Some(&claim)).await
                    && !error.is_outage()
                {
                    let (farm, batch) = (&claim.farm, &claim.batch);
                    tracing::warn!(farm, batch, %error, "a batch's readiness could not be worked out");
                }
            })
            .await;
        Ok(more)
    }

    /// Has the tails read what was published.
    async fn pass_on(&self, mut changes: Receiver<Change>) -> Infallible {
        let mut look_at = Instant::now() + LOOK;
        loop {
            let heard = Heard::next(&mut changes, look_at).await;
            let all = heard.unknown || Instant::now() >= look_at;
            let outcome = async {
                if all {
                    self.look_at_all().await?;
                }
                for farm in &heard.readiness {
                    self.look_at(farm).await?;
                }
                Ok::<(), Error>(())
            };
            if let Err(error) = outcome.await {
                if !error.is_outage() {
                    tracing::warn!(%error, "watchers could not be told what was published");
                }
                look_at = Instant::now() + PAUSE;
            } else if all {
                look_at = Instant::now() + LOOK;
            }
        }
    }

    /// Has a farm's tail read on, where anyone watches the farm.
    async fn look_at(&self, farm: &str) -> Result<(), Error> {
        match self.store()?.tails.get(farm) {
            Some(tail) => tail.look(self).await,
            None => Ok(()),
        }
    }

    /// Has those tails read on that are behind.
    async fn look_at_all(&self) -> Result<(), Error> {
        let store = self.store()?;
        let tails = store.tails.all();
        if tails.is_empty() {
            return Ok(());
        }
        let farms: Vec<String> = tails.iter().map(|tail| tail.farm().to_owned()).collect();
        for (farm, last) in store.records.last_sequences(&farms).await.map_err(refusal::of)? {
            let behind = |tail: &&std::sync::Arc<Tail>| {
                tail.farm() == farm && *tail.newest().borrow() != last.unsigned_abs()
            };
            if let Some(tail) = tails.iter().find(behind) {
                tail.look(self).await?;
            }
        }
        Ok(())
    }
}
