//! Watching a farm: every change exactly once, in order, across any number of reconnects.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use baycast_records::Scope;
use futures::{Stream, stream};
use tokio::sync::watch;
use tokio::time::{Instant, sleep, sleep_until};

use crate::capacity::Place;
use crate::error::{Error, Outage};
use crate::readiness::changes::After;
use crate::readiness::tail::Tail;
use crate::readiness::{Readiness, ReadinessChange, ReadinessNews};
use crate::records::Caller;
use crate::service::{RETRY_AFTER_S, Service};

/// How often it is looked up whether the caller may still watch.
const RECHECK: Duration = Duration::from_secs(20);

/// Changes read at once by a watcher who is behind.
const PAGE: u32 = 256;

/// How long records that are away are left alone.
const AWAY: Duration = Duration::from_secs(1);

/// One who watches a farm.
struct Watcher {
    service: Service,
    caller: Caller,
    farm: String,
    tail: Arc<Tail>,
    newest: watch::Receiver<u64>,
    draining: watch::Receiver<bool>,
    /// Up to which sequence all is told, or is about to be.
    told: u64,
    /// What comes next, before any changes.
    whole: Option<Arc<Readiness>>,
    /// The changes after that.
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
        caller.may(farm, Scope::Read)?;
        let place = self.open_watch()?;
        let known = match after {
            Some(after) => match self.changes_after(farm, after, PAGE).await? {
                After::Changes(changes, last) => Some((after, changes, last)),
                After::NotKept => None,
            },
            None => None,
        };
        let (told, whole, changes, last) = if let Some((after, changes, last)) = known {
            (after, None, changes, last)
        } else {
            let whole = self.readiness(caller, farm).await?;
            (whole.sequence, Some(whole.clone()), Vec::new(), whole.sequence)
        };
        let tail = self.tail(farm, last).await?;
        let watcher = Watcher {
            newest: tail.newest(),
            draining: self.draining(),
            service: self.clone(),
            caller: caller.clone(),
            farm: farm.to_owned(),
            tail,
            told,
            whole,
            waiting: changes.into_iter().map(Arc::new).collect(),
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

impl Service {
    /// The farm's tail; a new one, which begins after `last`, has looked once.
    async fn tail(&self, farm: &str, last: u64) -> Result<Arc<Tail>, Error> {
        let (tail, new) = self.store()?.tails.of(farm, last);
        if new {
            // Word of a change that came before there was a tail went by.
            tail.look(self).await?;
        }
        Ok(tail)
    }
}

impl Watcher {
    /// What is to be told next, waited for.
    async fn next(&mut self) -> Result<ReadinessNews, Error> {
        loop {
            if *self.draining.borrow() {
                return Err(Error::Unavailable { outage: Outage::Process, retry_after_s: RETRY_AFTER_S });
            }
            if Instant::now() >= self.recheck_at {
                let again = match self.service.still_lets_in(&self.caller, &self.farm).await {
                    Ok(()) => RECHECK,
                    // Nothing is told that the records do not tell, so nothing is told meanwhile.
                    Err(error) if error.is_outage() => AWAY,
                    Err(error) => return Err(error),
                };
                self.recheck_at = Instant::now() + again;
            }
            if let Some(whole) = self.whole.take() {
                return Ok(ReadinessNews::Whole(whole));
            }
            if let Some(change) = self.waiting.pop_front() {
                self.told = change.sequence;
                return Ok(ReadinessNews::Change(change));
            }
            // Marked as seen before it is looked at, so that what comes meanwhile wakes.
            self.newest.mark_unchanged();
            match self.tail.after(self.told) {
                Some(changes) if changes.is_empty() => self.wait().await,
                Some(changes) => self.waiting.extend(changes),
                None => match self.read_on().await {
                    Err(error) if error.is_outage() => sleep(AWAY).await,
                    read => read?,
                },
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
    async fn read_on(&mut self) -> Result<(), Error> {
        match self.service.changes_after(&self.farm, self.told, PAGE).await? {
            After::Changes(changes, _) => self.waiting.extend(changes.into_iter().map(Arc::new)),
            After::NotKept => {
                let whole = self.service.readiness(&self.caller, &self.farm).await?;
                self.told = whole.sequence;
                self.whole = Some(whole);
            }
        }
        // Another one where this one ended.
        self.tail = self.service.tail(&self.farm, self.told).await?;
        self.newest = self.tail.newest();
        Ok(())
    }
}
