//! Points in the space of what the model does not know.

use nalgebra::SVector;

use crate::weighted::normal_quantile;

/// Unknowns that change a heap's course.
pub const UNKNOWNS: usize = 8;

/// Those of them that readings speak of, which are looked for: the first.
pub const SOUGHT: usize = 5;

/// Values of those that are looked for.
pub type Sought = SVector<f64, SOUGHT>;

/// A value for each unknown, in standard errors from the middle of all heaps; in the order of
/// [`crate::variant::Unknown::ALL`].
pub type Draw = [f64; UNKNOWNS];

/// Standard normal deviates of a fixed sequence that fills the space evenly, all 0 for the first: the R sequence
/// (M. Roberts 2018, The unreasonable effectiveness of quasirandom sequences, from memory).
#[must_use]
pub fn quasi_normal<const N: usize>(index: usize) -> [f64; N] {
    // Positive root of x^(N+1) = x + 1, the generalised golden ratio of N dimensions.
    let mut ratio: f64 = 1.5;
    for _ in 0..64 {
        ratio = (1.0 + ratio).powf(1.0 / (N as f64 + 1.0));
    }
    let mut step = 1.0;
    std::array::from_fn(|_| {
        step /= ratio;
        // The first point, one half in every dimension, is the middle of every spread.
        normal_quantile((0.5 + step * index as f64).fract().clamp(1e-6, 1.0 - 1e-6))
    })
}
