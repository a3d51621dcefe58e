//! What is expected of a batch in one life: when it is ready and how much of it is there.

use std::sync::Arc;

/// How a heap goes on after it was closed, by the week.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Weeks after closing at which it is ready for each use; infinite where it never is.
    pub ready_weeks: [f64; 3],
    /// Weeks after closing at which its seeds are killed; infinite where they never are.
    pub killed_weeks: f64,
    /// Volumes at the end of each week after closing, that of closing first, as shares of the latter.
    pub shares: Vec<f64>,
}

/// What is expected of a batch.
#[derive(Clone, Debug, PartialEq)]
pub struct Prospect {
    /// First week by whose start it is ready for each use; `usize::MAX` where it never is.
    pub ready: [usize; 3],
    /// First week by whose start its seeds are killed; `usize::MAX` where they never are.
    pub killed: usize,
    /// Week at whose start it was closed, or the first one where that was earlier.
    close: usize,
    /// Volume then, m³.
    volume_m3: f64,
    shape: Arc<Shape>,
}

impl Prospect {
    /// A heap of a shape and of `volume_m3` when it is closed at the start of a week.
    pub fn new(shape: Arc<Shape>, close: usize, volume_m3: f64) -> Self {
        let week = |after: f64| {
            if after.is_finite() { (close as f64 + after).ceil().max(0.0) as usize } else { usize::MAX }
        };
        Self { ready: shape.ready_weeks.map(week), killed: week(shape.killed_weeks), close, volume_m3, shape }
    }

    /// The same, ready for nothing before a week.
    #[must_use]
    pub fn not_before(mut self, week: usize) -> Self {
        self.ready = self.ready.map(|ready| ready.max(week));
        self
    }

    /// The same, ready for nothing before its seeds are killed.
    #[must_use]
    pub fn killed_first(mut self) -> Self {
        self.ready = self.ready.map(|ready| ready.max(self.killed));
        self
    }

    /// Volume at the start of a week, m³.
    pub fn volume_m3(&self, week: usize) -> f64 {
        let after = week.saturating_sub(self.close).min(self.shape.shares.len() - 1);
        self.volume_m3 * self.shape.shares[after]
    }
}
