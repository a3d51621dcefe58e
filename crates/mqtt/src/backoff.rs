//! Waiting longer each time, each time a little differently.

use std::time::Duration;

/// Waits that double, with jitter.
#[derive(Clone, Debug)]
pub struct Backoff {
    first: Duration,
    most: Duration,
    next: Duration,
}

impl Backoff {
    /// Waits from about `first` to at most `most`.
    pub fn new(first: Duration, most: Duration) -> Self {
        Self { first, most, next: first }
    }

    /// The next wait: between half of the step and all of it.
    pub fn step(&mut self) -> Duration {
        let step = self.next;
        self.next = (step * 2).min(self.most);
        step.mul_f64(fastrand::f64().mul_add(0.5, 0.5))
    }

    /// Starts again from the first.
    pub fn reset(&mut self) {
        self.next = self.first;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_the_most_and_start_again() {
        let mut backoff = Backoff::new(Duration::from_secs(1), Duration::from_secs(3));
        for most in [1, 2, 3, 3] {
            let (wait, most) = (backoff.step(), Duration::from_secs(most));
            assert!((most / 2..=most).contains(&wait), "{wait:?}");
        }
        backoff.reset();
        assert!(backoff.step() <= Duration::from_secs(1));
    }
}
