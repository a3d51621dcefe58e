//! What courses show between the draws at which they were run.
//!
//! Universal kriging with a linear trend: what a course shows at another draw is a weighted sum of what the known courses show,
//! and the weights depend on the draws alone (Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, section
//! 2.7, from memory).

use nalgebra::{DMatrix, Dyn, LU};

use crate::draw::{SOUGHT, Sought};

/// Distance over which what is shown bends, in standard deviations of what is plausible.
const REACH: f64 = 4.0;
/// Share of the variance by which a course may be off a smooth surface: keeps the weights bounded.
const ROUGHNESS: f64 = 1e-3;

/// Weights on known courses, for any draw; draws in standard deviations of what is plausible.
#[derive(Debug)]
pub struct Emulator {
    known: Vec<Sought>,
    system: LU<f64, Dyn, Dyn>,
}

impl Emulator {
    /// Between courses known at these draws; `None` where they are too few, or lie too close, to tell a slope.
    #[must_use]
    pub fn new(known: Vec<Sought>) -> Option<Self> {
        let courses = known.len();
        let mut system = DMatrix::zeros(courses + 1 + SOUGHT, courses + 1 + SOUGHT);
        for (i, a) in known.iter().enumerate() {
            for (j, b) in known.iter().enumerate() {
                system[(i, j)] = likeness(a, b) + if i == j { ROUGHNESS } else { 0.0 };
            }
            for (k, value) in trend(a).enumerate() {
                system[(i, courses + k)] = value;
                system[(courses + k, i)] = value;
            }
        }
        let system = system.lu();
        (courses > SOUGHT && system.is_invertible()).then_some(Self { known, system })
    }

    /// What courses at `wanted` show, one column each, from what the known ones show, one column each.
    ///
    /// # Panics
    /// Never: the system was seen to be invertible.
    #[must_use]
    pub fn shown(&self, wanted: &[Sought], known: &DMatrix<f64>) -> DMatrix<f64> {
        let courses = self.known.len();
        let mut right = DMatrix::zeros(courses + 1 + SOUGHT, wanted.len());
        for (column, draw) in wanted.iter().enumerate() {
            let likeness = self.known.iter().map(|known| likeness(known, draw));
            for (row, value) in likeness.chain(trend(draw)).enumerate() {
                right[(row, column)] = value;
            }
        }
        let weights = self.system.solve(&right).expect("an invertible system");
        known * weights.rows(0, courses)
    }
}

fn likeness(a: &Sought, b: &Sought) -> f64 {
    (-0.5 * (a - b).norm_squared() / (REACH * REACH)).exp()
}

fn trend(draw: &Sought) -> impl Iterator<Item = f64> {
    std::iter::once(1.0).chain(draw.iter().copied())
}
