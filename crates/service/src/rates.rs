//! How often each caller may call: so many requests a second, and more at once after a pause (a token bucket).
//!
//! A bucket is one number, the time at which it is full again (the generic cell rate algorithm of ITU-T I.371, from memory),
//! and taking from it is one exchange of it: callers wait for nobody.

use std::collections::HashMap;
use std::hash::{BuildHasher, Hash, RandomState};
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

use tokio::time::Instant;

use crate::error::Error;

/// Parts of the buckets, each with a lock of its own.
const SHARDS: usize = 64;

/// Most buckets in a part. Beyond them those that are full are given up; if none is, newcomers share one.
const MOST: usize = 1024;

/// How often callers may call.
#[derive(Debug)]
pub struct Rates {
    /// Time after which one more request is allowed, ns.
    interval_ns: u64,
    /// How far a bucket may be from full, ns.
    depth_ns: u64,
    began: Instant,
    hasher: RandomState,
    shards: [Shard; SHARDS],
}

/// A part of the buckets, by the hash of whom they are for.
#[derive(Debug, Default)]
struct Shard {
    buckets: RwLock<HashMap<u64, Arc<Bucket>>>,
    shared: Arc<Bucket>,
}

/// When a bucket is full again, ns since it all began.
#[derive(Debug, Default)]
struct Bucket(AtomicU64);

impl Rates {
    /// So many requests a second, and `burst` at once after a pause.
    #[must_use]
    pub fn new(per_second: NonZeroU32, burst: NonZeroU32) -> Self {
        let interval_ns = 1_000_000_000 / u64::from(per_second.get());
        Self {
            interval_ns,
            depth_ns: interval_ns * u64::from(burst.get()),
            began: Instant::now(),
            hasher: RandomState::new(),
            shards: std::array::from_fn(|_| Shard::default()),
        }
    }

    /// Counts a request of `who`, or says when they may come back.
    pub fn take(&self, who: &impl Hash) -> Result<(), Error> {
        self.take_at(who, self.now_ns())
    }

    /// Counts a request of `who` at a time.
    fn take_at(&self, who: &impl Hash, now: u64) -> Result<(), Error> {
        let bucket = self.bucket(who, now);
        let filled = |full: u64| {
            let later = full.max(now) + self.interval_ns;
            (later - now <= self.depth_ns).then_some(later)
        };
        bucket.0.fetch_update(Relaxed, Relaxed, filled).map(drop).map_err(|full| self.too_often(full, now))
    }

    /// Says when `who` may come back, where nothing is left to them; counts nothing.
    pub fn look(&self, who: &impl Hash) -> Result<(), Error> {
        self.look_at(who, self.now_ns())
    }

    /// What `look` says at a time.
    fn look_at(&self, who: &impl Hash, now: u64) -> Result<(), Error> {
        let hash = self.hasher.hash_one(who);
        let buckets = self.shard(hash).buckets.read().unwrap_or_else(PoisonError::into_inner);
        let full = buckets.get(&hash).map_or(0, |bucket| bucket.0.load(Relaxed));
        if full.max(now) + self.interval_ns - now <= self.depth_ns {
            Ok(())
        } else {
            Err(self.too_often(full, now))
        }
    }

    /// The error of a bucket that is full again then.
    fn too_often(&self, full_ns: u64, now_ns: u64) -> Error {
        let wait_ns = (full_ns + self.interval_ns).saturating_sub(now_ns + self.depth_ns);
        Error::TooOften { retry_after_s: Duration::from_nanos(wait_ns).as_secs_f64().ceil().max(1.0) as u64 }
    }

    fn now_ns(&self) -> u64 {
        self.began.elapsed().as_nanos() as u64
    }

    fn shard(&self, hash: u64) -> &Shard {
        &self.shards[hash as usize % SHARDS]
    }

    /// The bucket of `who`.
    fn bucket(&self, who: &impl Hash, now: u64) -> Arc<Bucket> {
        let hash = self.hasher.hash_one(who);
        let shard = self.shard(hash);
        let buckets = shard.buckets.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(bucket) = buckets.get(&hash) {
            return bucket.clone();
        }
        drop(buckets);
        let mut buckets = shard.buckets.write().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MOST {
            // A bucket that is full is like one that was never taken from.
            buckets.retain(|_, bucket| bucket.0.load(Relaxed) > now);
        }
        if buckets.len() >= MOST && !buckets.contains_key(&hash) {
            return shard.shared.clone();
        }
        buckets.entry(hash).or_default().clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates(per_second: u32, burst: u32) -> Rates {
        Rates::new(NonZeroU32::new(per_second).unwrap(), NonZeroU32::new(burst).unwrap())
    }

    /// A second, ns.
    const SECOND: u64 = 1_000_000_000;

    /// How many of a hundred requests at once are taken.
    fn taken(rates: &Rates, who: &str, now: u64) -> usize {
        (0..100).filter(|_| rates.take_at(&who, now).is_ok()).count()
    }

    #[test]
    fn a_burst_is_taken_and_then_so_many_a_second() {
        let (rates, too_often) = (rates(10, 5), Err(Error::TooOften { retry_after_s: 1 }));
        assert!(rates.look_at(&"a", 0).is_ok());
        assert_eq!(taken(&rates, "a", 0), 5);
        assert_eq!(rates.take_at(&"a", 0), too_often);
        assert_eq!(rates.look_at(&"a", 0), too_often);
        assert_eq!(taken(&rates, "b", 0), 5, "who else calls has a bucket of their own");
        assert!(rates.look_at(&"a", SECOND / 4).is_ok());
        assert_eq!(taken(&rates, "a", SECOND / 4), 2);
        assert_eq!(taken(&rates, "a", 3600 * SECOND), 5, "no pause makes for more");
    }

    #[test]
    fn who_was_turned_away_is_served_when_told_to_come_back() {
        let rates = rates(1, 30);
        assert_eq!(taken(&rates, "a", 0), 30);
        let Err(Error::TooOften { retry_after_s }) = rates.take_at(&"a", 0) else { panic!("it is empty") };
        assert!(rates.take_at(&"a", retry_after_s * SECOND).is_ok());
    }

    #[test]
    fn however_many_call_memory_is_bounded() {
        let rates = rates(1, 1);
        for who in 0..80_000 {
            let _ = rates.take_at(&who, 0);
        }
        let held = |shard: &Shard| shard.buckets.read().unwrap().len();
        assert!(rates.shards.iter().map(held).all(|held| held <= MOST));
        assert!(rates.take_at(&"one more", 0).is_err(), "newcomers share a bucket");
        let later = 2 * SECOND;
        assert!(rates.take_at(&"one more", later).is_ok() && rates.take_at(&"another", later).is_ok());
    }
}
