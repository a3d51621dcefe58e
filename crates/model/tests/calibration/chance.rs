//! Draws that come out alike on every run.

/// A seeded generator with the distributions that batches are drawn from.
pub struct Chance(fastrand::Rng);

impl Chance {
    /// The generator of batch `index` for one purpose; each has its own draws, whatever the others take.
    pub fn new(index: usize, purpose: u64) -> Self {
        // Odd constants spread neighbouring indices over all seeds (splitmix64, Steele and others 2014, from memory).
        let seed =
            (index as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ purpose.wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mut generator = fastrand::Rng::with_seed(seed);
        generator.u64(..);
        Self(generator)
    }

    /// Even between two values.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.f64()
    }

    /// Even in the logarithm between two positive values.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// Standard normal, by Box and Muller 1958.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.f64()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.0.f64()).cos()
    }

    /// A factor whose logarithm is normal about 0.
    pub fn factor(&mut self, log_error: f64) -> f64 {
        (log_error * self.normal()).exp()
    }

    /// Exponential with a mean.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.0.f64()).ln()
    }

    /// True with a probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.0.f64() < probability
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        self.0.u32(low..=high)
    }

    /// One of several.
    pub fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.0.usize(..choices.len())]
    }
}
