//! Room for work: so many at once, so many waiting, the rest turned away at the door.

use std::sync::Arc;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::error::Error;
use crate::limits::Limits;

/// When a caller who was turned away should come back, s.
const RETRY_AFTER_S: u64 = 1;

/// The places there are.
#[derive(Clone, Debug)]
pub struct Capacity {
    workers: Arc<Semaphore>,
    places: Arc<Semaphore>,
    streams: Arc<Semaphore>,
    watchers: Arc<Semaphore>,
}

/// A place for one piece of work, or one stream; free again when dropped.
#[derive(Debug)]
pub struct Place(#[expect(dead_code, reason = "held for its drop")] OwnedSemaphorePermit);

impl Capacity {
    /// As many places as the limits say.
    #[must_use]
    pub fn new(limits: &Limits) -> Self {
        let room = |places| Arc::new(Semaphore::new(places));
        Self {
            workers: room(limits.concurrency),
            places: room(limits.concurrency + limits.queue),
            streams: room(limits.streams),
            watchers: room(limits.watchers),
        }
    }

    /// A place in the queue, at once or not at all.
    pub fn enter(&self) -> Result<Place, Error> {
        take(&self.places)
    }

    /// A place for one more stream, at once or not at all.
    pub fn open_stream(&self) -> Result<Place, Error> {
        take(&self.streams)
    }

    /// A place for one more watcher, at once or not at all.
    pub fn open_watch(&self) -> Result<Place, Error> {
        take(&self.watchers)
    }

    /// Waits, first come first served, for a worker.
    pub async fn worker(&self) -> Result<Place, Error> {
        self.workers.clone().acquire_owned().await.map(Place).map_err(|_| Error::Internal)
    }
}

/// One permit of `room`, or the answer that there is none.
fn take(room: &Arc<Semaphore>) -> Result<Place, Error> {
    room.clone().try_acquire_owned().map(Place).map_err(|_| Error::Busy { retry_after_s: RETRY_AFTER_S })
}
