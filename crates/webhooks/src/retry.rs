//! When an attempt that failed is followed by another.
//!
//! The wait is drawn evenly from nothing to a bound that doubles with each attempt ("full jitter"), so that many that failed
//! together do not come back together. With the usual ten seconds to begin with and twenty attempts the bounds are 10 s, 20 s,
//! 40 s and so on up to six hours, of which there are seven: a day and three hours on average, and at most two days and six
//! hours, until a message is given up.

use std::time::Duration;

/// The longest bound, in first ones: six hours for ten seconds.
const LONGEST: u32 = 2160;

/// How often, and how long apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Retries {
    /// The bound of the first wait.
    pub base: Duration,
    /// Attempts until a message is given up, at least 1.
    pub attempts: u32,
}

impl Default for Retries {
    fn default() -> Self {
        Self { base: Duration::from_secs(10), attempts: 20 }
    }
}

impl Retries {
    /// The longest that is waited after any attempt.
    #[must_use]
    pub fn longest(&self) -> Duration {
        self.base * LONGEST
    }

    /// The longest that is waited after the attempt with this number, from 1.
    #[must_use]
    pub fn bound(&self, attempt: u32) -> Duration {
        let doubled = 2_u32.saturating_pow(attempt.saturating_sub(1));
        self.base * doubled.min(LONGEST)
    }

    /// How long to wait after the attempt with this number, at least as long as the receiver asks but no longer than the
    /// longest bound; none where it was the last.
    #[must_use]
    pub fn wait(&self, attempt: u32, asked: Option<Duration>) -> Option<Duration> {
        if attempt >= self.attempts {
            return None;
        }
        let jittered = self.bound(attempt).mul_f64(fastrand::f64());
        let asked = asked.unwrap_or_default().min(self.longest());
        Some(jittered.max(asked))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: Duration = Duration::from_hours(1);

    #[test]
    fn bounds_double_up_to_six_hours_over_two_days() {
        let usual = Retries::default();
        let bounds: Vec<_> = (1..usual.attempts).map(|attempt| usual.bound(attempt)).collect();
        let seconds: Vec<_> = bounds.iter().map(Duration::as_secs).collect();
        assert_eq!(seconds[..5], [10, 20, 40, 80, 160]);
        assert_eq!(seconds[10..13], [10_240, 20_480, 21_600]);
        assert_eq!(bounds.iter().filter(|bound| **bound == 6 * HOUR).count(), 7);
        // As the description of this file says: 192,150 s, half of it on average.
        assert_eq!(bounds.iter().sum::<Duration>().as_secs(), 192_150);
        assert_eq!(usual.bound(u32::MAX), 6 * HOUR);
    }

    #[test]
    fn waits_are_spread_over_the_whole_bound() {
        let usual = Retries::default();
        let waits: Vec<_> = (0..1000).map(|_| usual.wait(4, None).unwrap().as_secs_f64()).collect();
        assert!(waits.iter().all(|wait| (0.0..=80.0).contains(wait)));
        let mean = waits.iter().sum::<f64>() / 1000.0;
        // The mean of a thousand even draws has a standard deviation of 80 / √12 / √1000 = 0.73.
        assert!((36.0..44.0).contains(&mean), "{mean}");
        assert!(waits.iter().any(|wait| *wait < 8.0) && waits.iter().any(|wait| *wait > 72.0));
    }

    #[test]
    fn a_receiver_that_asks_for_time_gets_it_within_bounds() {
        let usual = Retries::default();
        assert_eq!(usual.wait(1, Some(HOUR)), Some(HOUR));
        assert_eq!(usual.wait(1, Some(48 * HOUR)), Some(6 * HOUR));
        assert_eq!(usual.wait(19, Some(HOUR)).map(|wait| wait >= HOUR), Some(true));
        for last in [20, 21] {
            assert_eq!(usual.wait(last, Some(HOUR)), None);
        }
    }
}
