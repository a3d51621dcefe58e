//! What goes on on one connection: whether anything is asked, and since when nothing is.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::time::Duration;

use rustix::time::{ClockId, clock_gettime};
use tokio::sync::Notify;

use crate::listen::Bounds;

/// Milliseconds of a clock that is never set, to a few of them, which costs little to read; from 1: 0 stands for never.
fn now_ms() -> u64 {
    let now = clock_gettime(ClockId::MonotonicCoarse);
    now.tv_sec as u64 * 1000 + now.tv_nsec as u64 / 1_000_000 + 1
}

/// What goes on on one connection.
#[derive(Debug)]
pub struct Pulse {
    /// Requests whose answers are not sent to their end.
    under_way: AtomicUsize,
    /// Since when nothing is asked, where that is so.
    quiet_since: AtomicU64,
    /// Since when the head of a request comes in; 0 where none does.
    head_since: AtomicU64,
    /// Since when the other side takes nothing of what is sent; 0 where it does.
    stuck_since: AtomicU64,
    /// Whether it speaks HTTP/2, where what comes in need not be the head of a request.
    multiplexed: AtomicBool,
    /// Told when the connection is to make room.
    unwanted: Notify,
}

impl Default for Pulse {
    fn default() -> Self {
        Self {
            under_way: AtomicUsize::new(0),
            quiet_since: AtomicU64::new(now_ms()),
            head_since: AtomicU64::new(0),
            stuck_since: AtomicU64::new(0),
            multiplexed: AtomicBool::new(false),
            unwanted: Notify::new(),
        }
    }
}

/// A request under way; over when dropped.
#[derive(Debug)]
pub struct UnderWay(Arc<Pulse>);

impl Drop for UnderWay {
    fn drop(&mut self) {
        // Before the count: whoever sees that nothing is under way sees since when.
        self.0.quiet_since.store(now_ms(), Relaxed);
        self.0.under_way.fetch_sub(1, Relaxed);
    }
}

impl Pulse {
    /// Notes a request whose head came in.
    pub fn asked(self: &Arc<Self>) -> UnderWay {
        self.under_way.fetch_add(1, Relaxed);
        self.head_since.store(0, Relaxed);
        UnderWay(self.clone())
    }

    /// How many requests are under way.
    pub fn requests(&self) -> usize {
        self.under_way.load(Relaxed)
    }

    /// Notes bytes that came in.
    pub fn received(&self) {
        if self.under_way.load(Relaxed) == 0
            && self.head_since.load(Relaxed) == 0
            && !self.multiplexed.load(Relaxed)
        {
            self.head_since.store(now_ms(), Relaxed);
        }
    }

    /// Notes that it speaks HTTP/2.
    pub fn is_multiplexed(&self) {
        self.multiplexed.store(true, Relaxed);
    }

    /// Notes whether the other side takes what is sent.
    pub fn sent(&self, taken: bool) {
        let stuck = self.stuck_since.load(Relaxed) != 0;
        if taken && stuck {
            self.stuck_since.store(0, Relaxed);
        } else if !taken && !stuck {
            self.stuck_since.store(now_ms(), Relaxed);
        }
    }

    /// Since when nothing is asked; nothing where something is.
    pub fn quiet_since(&self) -> Option<u64> {
        (self.under_way.load(Relaxed) == 0).then(|| self.quiet_since.load(Relaxed))
    }

    /// Has the connection end, to make room for others.
    pub fn make_room(&self) {
        self.unwanted.notify_one();
    }

    /// Ends when the connection is to make room.
    pub async fn unwanted(&self) {
        self.unwanted.notified().await;
    }

    /// Ends when something took longer than it may.
    pub async fn overdue(&self, bounds: &Bounds) {
        loop {
            let left = self.left(bounds, now_ms());
            if left.is_zero() {
                return;
            }
            // What may take the shortest may begin any time.
            tokio::time::sleep(left.min(bounds.head)).await;
        }
    }

    /// How much time is left to what goes on.
    fn left(&self, bounds: &Bounds, now: u64) -> Duration {
        let left = |since: u64, most: Duration| {
            most.saturating_sub(Duration::from_millis(now.saturating_sub(since)))
        };
        let begun = |since: &AtomicU64| Some(since.load(Relaxed)).filter(|since| *since != 0);
        let quiet = self.quiet_since();
        let head = quiet.and_then(|_| begun(&self.head_since)).map(|since| left(since, bounds.head));
        let idle = quiet.map(|since| left(since, bounds.idle));
        let stuck = begun(&self.stuck_since).map(|since| left(since, bounds.stuck));
        [head, idle, stuck].into_iter().flatten().min().unwrap_or(bounds.idle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds() -> Bounds {
        let seconds = Duration::from_secs;
        Bounds { connections: 1, head: seconds(10), idle: seconds(100), stuck: seconds(30) }
    }

    /// Whether the connection is ended once so many seconds have passed, and not a second before.
    fn ends_after(pulse: &Pulse, seconds: u64) -> bool {
        let left = |seconds: u64| pulse.left(&bounds(), now_ms() + 1000 * seconds);
        left(seconds).is_zero() && !left(seconds - 1).is_zero()
    }

    #[test]
    fn a_head_has_less_time_than_silence_and_a_request_has_any() {
        let pulse = Arc::new(Pulse::default());
        assert!(ends_after(&pulse, 100));
        pulse.received();
        assert!(ends_after(&pulse, 10));
        let under_way = pulse.asked();
        assert!(!pulse.left(&bounds(), now_ms() + 3_600_000).is_zero());
        drop(under_way);
        assert!(ends_after(&pulse, 100));
    }

    #[test]
    fn a_ping_is_no_head() {
        let pulse = Pulse::default();
        pulse.is_multiplexed();
        pulse.received();
        assert!(ends_after(&pulse, 100));
    }

    #[test]
    fn who_takes_no_answer_is_waited_for_no_longer() {
        let pulse = Arc::new(Pulse::default());
        let _under_way = pulse.asked();
        pulse.sent(false);
        assert!(ends_after(&pulse, 30));
        pulse.sent(true);
        assert!(!pulse.left(&bounds(), now_ms() + 3_600_000).is_zero());
    }
}
