//! Watching a farm: every change exactly once, in order, across any number of reconnects.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use baycast_records::Scope;
use futures::{Stream, stream};
use tokio::sync::watch;
use tokio::time::{Instant, sleep_until};

use crate::capacity::Place;
use crate::error::Error;
use crate::readiness::changes::After;
use crate::readiness::tail::Tail;
use crate::readiness::{ReadinessChange, ReadinessNews};
use crate::records::Caller;
use crate::service::Service;

/// How often it is looked up whether the caller may still watch.
const RECHECK: Duration = Duration::from_secs(20);

/// Changes read at once by a watcher who is behind.
const PAGE: u32 = 256;

/// When a watcher who was sent elsewhere should come back, s.
const RETRY_AFTER_S: u64 = 1;

/// One who watches a farm.
struct Watcher {
    service: Service,
    caller: Caller,
    farm: String,
    tail: Arc<Tail>,
    newest: watch::Receiver<u64>,
    draining: watch::Receiver<bool>,
    /// The last sequence that was told; none before the whole was.
    told: Option<u64>,
    /// Changes that come next.
    waiting: VecDeque<Arc<ReadinessChange>>,
    recheck_at: Instant,
    _place: Place,
}

impl Service {
    /// From the place `after` on, every change of a farm exactly once and in order. Where there is no such place, or it is
    /// older than is kept, all that is told comes first.
    ///
    /// It ends with an error: [`Error::Unavailable`] when the service drains, [`Error::Unauthenticated`] within 20 seconds
    /// after the caller's key was revoked. Whoever comes back goes on from the last sequence that they were told. Changes
    /// come as they happen while [`Service::publish_readiness`] runs.
    pub async fn watch_readiness(
        &self,
        caller: &Caller,
        farm: &str,
        after: Option<u64>,
    ) -> Result<impl Stream<Item = Result<ReadinessNews, Error>> + Send + use<>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let place = self.open_watch()?;
        // One page is read of the store even by those who are up to date: whether their place is one at all.
        let (told, waiting) = match after {
            None => (None, VecDeque::new()),
            Some(after) => match self.changes_after(farm, after, PAGE).await? {
                After::Changes(changes) => (Some(after), changes.into_iter().map(Arc::new).collect()),
                After::NotKept => (None, VecDeque::new()),
            },
        };
        let last =
            store.records.last_sequences(&[farm.to_owned()]).await.map_err(crate::records::refusal::of)?;
        let last = last.first().map_or(0, |(_, last)| last.unsigned_abs());
        let tail = store.tails.of(farm, last);
        let watcher = Watcher {
            newest: tail.newest(),
            draining: self.draining(),
            service: self.clone(),
            caller: caller.clone(),
            farm: farm.to_owned(),
            tail,
            told,
            waiting,
            recheck_at: Instant::now() + RECHECK,
            _place: place,
        };
        Ok(stream::unfold(Some(watcher), |watcher| async {
            let mut watcher = watcher?;
            match watcher.next().await {
                Ok(news) => Some((Ok(news), Some(watcher))),
                Err(error) => Some((Err(error), None)),
            }
        }))
    }
}

impl Watcher {
    /// What is to be told next, waited for.
    async fn next(&mut self) -> Result<ReadinessNews, Error> {
        loop {
            if *self.draining.borrow() {
                return Err(Error::Unavailable { retry_after_s: RETRY_AFTER_S });
            }
            if Instant::now() >= self.recheck_at {
                self.service.still_lets_in(&self.caller).await?;
                self.recheck_at = Instant::now() + RECHECK;
            }
            let Some(told) = self.told else {
                let readiness = self.service.readiness(&self.caller, &self.farm).await?;
                self.told = Some(readiness.sequence);
                return Ok(ReadinessNews::Whole(readiness));
            };
            if let Some(change) = self.waiting.pop_front() {
                self.told = Some(change.sequence);
                return Ok(ReadinessNews::Change(change));
            }
            // Marked as seen before it is looked at, so that what comes meanwhile wakes.
            self.newest.mark_unchanged();
            match self.tail.after(told) {
                Some(changes) if changes.is_empty() => self.wait().await,
                Some(changes) => self.waiting.extend(changes),
                None => self.read_on(told).await?,
            }
        }
    }

    /// Waits until there may be something to do.
    async fn wait(&mut self) {
        tokio::select! {
            // Its sender is the tail, which is held.
            _ = self.newest.changed() => {}
            _ = self.draining.wait_for(|draining| *draining) => {}
            () = sleep_until(self.recheck_at) => {}
        }
    }

    /// Reads what is further back than the tail reaches.
    async fn read_on(&mut self, told: u64) -> Result<(), Error> {
        match self.service.changes_after(&self.farm, told, PAGE).await? {
            After::Changes(changes) => self.waiting.extend(changes.into_iter().map(Arc::new)),
            After::NotKept => self.told = None,
        }
        // Another one where this one ended.
        self.tail = self.service.store()?.tails.of(&self.farm, told);
        self.newest = self.tail.newest();
        Ok(())
    }
}
