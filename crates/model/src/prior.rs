//! What is believed of the unknowns that are looked for before anything is read from a heap.

use crate::draw::Sought;

/// Independent normal beliefs, in standard errors from the middle of all heaps.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    /// Means.
    pub mean: Sought,
    /// Standard deviations.
    pub deviation: Sought,
}

impl Default for Prior {
    /// Of any heap.
    fn default() -> Self {
        Self { mean: Sought::zeros(), deviation: Sought::repeat(1.0) }
    }
}

impl Prior {
    /// The draw that lies `deviates` from the mean, in standard deviations.
    #[must_use]
    pub fn draw(&self, deviates: &Sought) -> Sought {
        self.mean + self.deviation.component_mul(deviates)
    }

    /// Log density but for a constant.
    #[must_use]
    pub fn log_density(&self, draw: &Sought) -> f64 {
        -0.5 * (draw - self.mean).component_div(&self.deviation).norm_squared()
    }
}
