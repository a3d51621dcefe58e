//! Room for work: so many at once, so many waiting, the rest turned away at the door.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::error::Error;
use crate::limits::Limits;

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
        self.free.clone().try_acquire_owned().map(Place).map_err(|_| {
            self.turned_away.fetch_add(1, Relaxed);
            Error::Busy { retry_after_s: RETRY_AFTER_S }
        })
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
        }
    }

    /// A place in the queue, at once or not at all.
    pub fn enter(&self) -> Result<Place, Error> {
        self.places.take()
    }

    /// A place for one more stream, at once or not at all.
    pub fn open_stream(&self) -> Result<Place, Error> {
        self.streams.take()
    }

    /// A place for one more watcher, at once or not at all.
    pub fn open_watch(&self) -> Result<Place, Error> {
        self.watchers.take()
    }

    /// Notes that a piece of work was worked out.
    pub fn done(&self) {
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
