//! Room for work: so many at once, so many waiting, the rest turned away at the door.

use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::Instant;

use crate::error::Error;
use crate::limits::Limits;

/// How many turns of work one waits at most while more comes than can be done: so little that who is let in is answered nearly
/// as soon as on a quiet day.
const TURNS: usize = 2;

/// How long more may come than can be done before it is taken for more than a burst.
const BURST: Duration = Duration::from_millis(250);

/// How long a burst may have one wait.
const BURST_WAIT: Duration = Duration::from_millis(500);

/// How long no more must come than can be done for the next burst to count as one.
const CALM: Duration = Duration::from_secs(1);

/// Weight of the work done last in the time that work usually takes.
const NEWEST: f64 = 0.1;

/// When a caller who was turned away should come back, s.
const RETRY_AFTER_S: u64 = 1;

/// The places there are.
#[derive(Clone, Debug)]
pub struct Capacity {
    workers: Arc<Semaphore>,
    places: Room,
    streams: Room,
    watchers: Room,
    most_workers: usize,
    done: Arc<AtomicU64>,
    flow: Arc<Mutex<Flow>>,
}

/// How work comes and goes.
#[derive(Debug, Default)]
struct Flow {
    /// The time that a piece of work usually takes; none before the first is done.
    usual_s: Option<f64>,
    /// Since when, and when last, more came than can be done soon.
    crowded: Option<(Instant, Instant)>,
}

impl Flow {
    /// Whether one more may wait where so many wait with them, for so many workers.
    fn admits(&mut self, waiting: usize, workers: usize, now: Instant) -> bool {
        if waiting <= TURNS * workers {
            return true;
        }
        let since = match self.crowded {
            Some((since, last)) if now.duration_since(last) < CALM => since,
            _ => now,
        };
        self.crowded = Some((since, now));
        let wait_s = self.usual_s.unwrap_or_default() * waiting as f64 / workers as f64;
        now.duration_since(since) < BURST && wait_s <= BURST_WAIT.as_secs_f64()
    }

    /// Notes how long a piece of work took.
    fn done(&mut self, took: Duration) {
        let took = took.as_secs_f64();
        self.usual_s = Some(self.usual_s.map_or(took, |usual| NEWEST.mul_add(took - usual, usual)));
    }
}

/// Places of one kind.
#[derive(Clone, Debug)]
struct Room {
    free: Arc<Semaphore>,
    most: usize,
    /// Those for whom there was none.
    turned_away: Arc<AtomicU64>,
}

impl Room {
    fn new(most: usize) -> Self {
        Self { free: Arc::new(Semaphore::new(most)), most, turned_away: Arc::default() }
    }

    /// One place, or the answer that there is none.
    fn take(&self) -> Result<Place, Error> {
        self.free.clone().try_acquire_owned().map(Place).map_err(|_| self.turn_away())
    }

    /// The answer that there is none.
    fn turn_away(&self) -> Error {
        self.turned_away.fetch_add(1, Relaxed);
        Error::Busy { retry_after_s: RETRY_AFTER_S }
    }

    /// Places taken, and how many were turned away.
    fn load(&self) -> (usize, u64) {
        (self.most.saturating_sub(self.free.available_permits()), self.turned_away.load(Relaxed))
    }
}

/// How much is taken in now, and was since the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Load {
    /// Pieces of work being worked on.
    pub running: usize,
    /// Pieces of work that run or wait.
    pub queued: usize,
    /// Streams of estimates that are open.
    pub streams: usize,
    /// Watchers of readiness.
    pub watchers: usize,
    /// Pieces of work that were worked out.
    pub done: u64,
    /// Pieces of work that were turned away.
    pub shed_queue: u64,
    /// Streams of estimates that were turned away.
    pub shed_streams: u64,
    /// Watchers that were turned away.
    pub shed_watchers: u64,
}

/// A place for one piece of work, or one stream; free again when dropped.
#[derive(Debug)]
pub struct Place(#[expect(dead_code, reason = "held for its drop")] OwnedSemaphorePermit);

impl Capacity {
    /// As many places as the limits say.
    #[must_use]
    pub fn new(limits: &Limits) -> Self {
        Self {
            workers: Arc::new(Semaphore::new(limits.concurrency)),
            places: Room::new(limits.concurrency + limits.queue),
            streams: Room::new(limits.streams),
            watchers: Room::new(limits.watchers),
            most_workers: limits.concurrency,
            done: Arc::default(),
            flow: Arc::default(),
        }
    }

    /// A place in the queue, at once or not at all: there is none where the wait would be long, whatever the queue could hold.
    pub fn enter(&self) -> Result<Place, Error> {
        let place = self.places.take()?;
        let waiting = self.places.load().0.saturating_sub(self.most_workers);
        if self.flow().admits(waiting, self.most_workers, Instant::now()) {
            Ok(place)
        } else {
            Err(self.places.turn_away())
        }
    }

    fn flow(&self) -> MutexGuard<'_, Flow> {
        self.flow.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A place for one more stream, at once or not at all.
    pub fn open_stream(&self) -> Result<Place, Error> {
        self.streams.take()
    }

    /// A place for one more watcher, at once or not at all.
    pub fn open_watch(&self) -> Result<Place, Error> {
        self.watchers.take()
    }

    /// Notes that a piece of work was worked out, and how long a worker had it.
    pub fn done(&self, took: Duration) {
        self.flow().done(took);
        self.done.fetch_add(1, Relaxed);
    }

    /// How much is taken in.
    #[must_use]
    pub fn load(&self) -> Load {
        let ((queued, shed_queue), (streams, shed_streams), (watchers, shed_watchers)) =
            (self.places.load(), self.streams.load(), self.watchers.load());
        let running = self.most_workers.saturating_sub(self.workers.available_permits());
        let done = self.done.load(Relaxed);
        Load { running, queued, streams, watchers, done, shed_queue, shed_streams, shed_watchers }
    }

    /// Waits, first come first served, for a worker.
    pub async fn worker(&self) -> Result<Place, Error> {
        self.workers.clone().acquire_owned().await.map(Place).map_err(|_| Error::Internal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORKERS: usize = 2;

    #[test]
    fn a_burst_may_wait_and_a_flood_may_not() {
        let began = Instant::now();
        let after = |ms| began + Duration::from_millis(ms);
        let mut flow = Flow::default();
        flow.done(Duration::from_millis(20));
        for waiting in 1..=50 {
            assert!(flow.admits(waiting, WORKERS, began), "{waiting} wait, the last one half a second");
        }
        assert!(!flow.admits(51, WORKERS, began), "longer than a burst may have one wait");
        assert!(flow.admits(40, WORKERS, after(200)));
        assert!(!flow.admits(40, WORKERS, after(260)), "it goes on: no burst any more");
        assert!(flow.admits(TURNS * WORKERS, WORKERS, after(261)), "two turns are always waited");
        assert!(!flow.admits(TURNS * WORKERS + 1, WORKERS, after(1000)));
        assert!(!flow.admits(TURNS * WORKERS + 1, WORKERS, after(1900)), "still within a second");
        assert!(flow.admits(40, WORKERS, after(3000)), "after a second of calm a burst is one again");
    }

    #[test]
    fn the_time_that_work_takes_is_learned() {
        let mut flow = Flow::default();
        let now = Instant::now();
        assert!(flow.admits(1000, WORKERS, now), "nothing is known yet");
        for _ in 0..100 {
            flow.done(Duration::from_millis(500));
        }
        assert!(
            flow.admits(TURNS * WORKERS, WORKERS, now) && !flow.admits(TURNS * WORKERS + 1, WORKERS, now)
        );
        for _ in 0..100 {
            flow.done(Duration::from_millis(1));
        }
        assert!(flow.admits(900, WORKERS, now), "quick work");
    }
}
