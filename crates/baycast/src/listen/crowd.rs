//! Everyone whose connection is open, so that room can be made.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use crate::listen::pulse::Pulse;

/// Of those on whose connections nothing is asked, one in so many makes room at once: looking for them costs a look at all.
const SHARE: usize = 64;

/// Everyone whose connection is open, by the order in which they came.
#[derive(Debug, Default)]
pub struct Crowd {
    members: Mutex<BTreeMap<u64, Arc<Pulse>>>,
    came: AtomicU64,
}

/// A place in the crowd, left when dropped.
#[derive(Debug)]
pub struct Member {
    crowd: Arc<Crowd>,
    number: u64,
    pulse: Arc<Pulse>,
}

impl Member {
    /// What goes on on the connection.
    pub fn pulse(&self) -> &Arc<Pulse> {
        &self.pulse
    }
}

impl Drop for Member {
    fn drop(&mut self) {
        self.crowd.members.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.number);
    }
}

impl Crowd {
    /// One more.
    pub fn enter(self: &Arc<Self>) -> Member {
        let (number, pulse) = (self.came.fetch_add(1, Ordering::Relaxed), Arc::new(Pulse::default()));
        let mut members = self.members.lock().unwrap_or_else(PoisonError::into_inner);
        members.insert(number, pulse.clone());
        Member { crowd: self.clone(), number, pulse }
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.members.lock().unwrap_or_else(PoisonError::into_inner).len()
    }

    /// How many requests are under way on all of them.
    pub fn asked(&self) -> usize {
        let members = self.members.lock().unwrap_or_else(PoisonError::into_inner);
        members.values().map(|pulse| pulse.requests()).sum()
    }

    /// Ends the connections on which nothing has been asked for longest.
    pub fn make_room(&self) {
        let members = self.members.lock().unwrap_or_else(PoisonError::into_inner);
        let quiet = members.iter().filter_map(|(number, pulse)| Some((pulse.quiet_since()?, *number)));
        let mut quiet: Vec<(u64, u64)> = quiet.collect();
        quiet.sort_unstable();
        let share = quiet.len().div_ceil(SHARE);
        for (_, number) in quiet.iter().take(share) {
            if let Some(pulse) = members.get(number) {
                pulse.make_room();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[tokio::test]
    async fn who_asks_stays_and_who_came_last_stays_longest() {
        let crowd = Arc::new(Crowd::default());
        let (asks, quiet, came_last) = (crowd.enter(), crowd.enter(), crowd.enter());
        let _under_way = asks.pulse().asked();
        crowd.make_room();
        let goes =
            async |member: &Member| tokio::time::timeout(Duration::ZERO, member.pulse().unwanted()).await;
        assert!(goes(&quiet).await.is_ok());
        assert!(goes(&asks).await.is_err() && goes(&came_last).await.is_err());
        drop(quiet);
        assert_eq!(crowd.count(), 2);
    }
}
