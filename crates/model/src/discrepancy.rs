//! How far a heap is from its modelled temperature, and what readings say about that.
//!
//! Every model of a heap is off by several degrees (Mason 2006, Waste Management 26:3-21: none of those reviewed came within
//! 5, 2 and 2 °C of maximum, average and peak), and stays off to the same side for days. So a zone's temperature is taken as
//! the modelled one plus an error that wanders: an Ornstein-Uhlenbeck process of memory [`MEMORY_DAYS`], whose standard
//! deviation is one of [`MISFITS`]: some heaps do what a model says and some do not. A reading shows it plus a bias that this batch's probe keeps, [`BIAS_C`], plus where the probe happened
//! to stand, [`PROBE_C`].
//!
//! What readings say of both is found by a Kalman filter and smoother (Särkkä 2013, Bayesian Filtering and Smoothing, chapters
//! 4 and 8, from memory) whose innovations follow Student's t, so that one odd reading cannot decide: a reading far from
//! what was expected counts as one of a larger variance (the weight of Lange, Little & Taylor 1989, Robust statistical
//! modeling using the t distribution, J. Am. Stat. Assoc. 84:881-896, from memory).

use nalgebra::{Matrix2, Vector2};

use crate::weighted::normal_quantile;

/// Standard deviations that the model's error may have in a heap, °C, and how likely each is. Estimates, about what the
/// published series in `tests/series` of the repository show: 3 to 5 °C in most, 16 to 20 in one bin.
pub const MISFITS: [(f64, f64); 4] = [(3.0, 0.3), (5.0, 0.4), (9.0, 0.2), (16.0, 0.1)];
/// Days in which the memory of an error falls to 1/e. Estimate.
pub const MEMORY_DAYS: f64 = 10.0;
/// Standard deviation of one reading against its zone's mean, °C: where the probe happened to stand. Estimate.
pub const PROBE_C: f64 = 1.5;
/// Standard deviation of what all of a batch's readings in one zone are off by, °C: the probe, and how deep it is put.
/// Estimate.
pub const BIAS_C: f64 = 2.0;
/// Degrees of freedom of innovations. Estimate.
pub const FREEDOM: f64 = 6.0;

/// Five equally likely deviates, one from each fifth of the standard normal distribution, `place` of the way through it in
/// probability.
#[must_use]
pub fn fifths(place: f64) -> [f64; 5] {
    std::array::from_fn(|fifth| normal_quantile((fifth as f64 + place.clamp(0.02, 0.98)) / 5.0))
}

/// A reading against what a course shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// When, days since 1970.
    pub day: f64,
    /// What is left of the error at the reading before, as [`memory`] has it; 0 for the first.
    pub memory: f64,
    /// °C above the course.
    pub residual_c: f64,
    /// How many readings were averaged.
    pub count: f64,
}

/// One innovation: what came, against what was expected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Innovation {
    /// Excess over the expected, in its standard deviations.
    pub excess: f64,
    /// Standard deviation expected.
    pub deviation: f64,
}

impl Innovation {
    /// How much it counts, 1 for one as expected, towards 0 for an odd one.
    #[must_use]
    pub fn weight(&self) -> f64 {
        (FREEDOM + 1.0) / (FREEDOM + self.excess * self.excess)
    }

    /// Log density but for a constant.
    #[must_use]
    pub fn log_density(&self) -> f64 {
        -0.5 * self.rarity().ln()
    }

    /// Inverse square of the density but for a factor: the tail to the power of seven, [`FREEDOM`] and one, times the
    /// variance.
    fn rarity(&self) -> f64 {
        let tail = 1.0 + self.excess * self.excess / FREEDOM;
        let square = tail * tail;
        square * square * square * tail * self.deviation * self.deviation
    }
}

/// Bias and error as known after a reading.
#[derive(Clone, Copy, Debug)]
struct Known {
    day: f64,
    /// Bias of the probe, error of the model, °C.
    mean: Vector2<f64>,
    covariance: Matrix2<f64>,
}

/// What a zone's readings say of the error of one course.
#[derive(Clone, Debug)]
pub struct Discrepancy {
    /// Standard deviation of the error far from any reading, °C.
    pub misfit_c: f64,
    /// One a reading.
    pub innovations: Vec<Innovation>,
    known: Vec<Known>,
    /// Covariance of the errors at a reading and at the one after it, °C²; once smoothed.
    between: Vec<f64>,
}

impl Discrepancy {
    /// Takes in readings in order of time.
    #[must_use]
    pub fn filtered(misfit_c: f64, residuals: impl Iterator<Item = Residual>) -> Self {
        let mut found = Self { misfit_c, innovations: Vec::new(), known: Vec::new(), between: Vec::new() };
        filter(misfit_c, residuals, |innovation, known| {
            found.innovations.push(innovation);
            found.known.push(*known);
        });
        found
    }

    /// The same, each moment seen in the light of later readings too.
    #[must_use]
    pub fn smoothed(mut self) -> Self {
        let Some(mut after) = self.known.last().copied() else { return self };
        self.between = vec![0.0; self.known.len() - 1];
        for index in (0..self.known.len() - 1).rev() {
            let own = &mut self.known[index];
            let memory = memory(after.day - own.day);
            let expected = own.later(after.day, memory, self.misfit_c);
            let carried = own.covariance * Matrix2::new(1.0, 0.0, 0.0, memory);
            let Some(inverse) = expected.covariance.try_inverse() else { continue };
            let gain = carried * inverse;
            own.mean += gain * (after.mean - expected.mean);
            own.covariance += gain * (after.covariance - expected.covariance) * gain.transpose();
            self.between[index] = (gain * after.covariance)[(1, 1)];
            after = *own;
        }
        self
    }

    /// The probe's bias, °C: mean and standard deviation.
    #[must_use]
    pub fn bias_c(&self) -> (f64, f64) {
        self.known
            .last()
            .map_or((0.0, BIAS_C), |last| (last.mean[0], last.covariance[(0, 0)].max(0.0).sqrt()))
    }

    /// Mean and standard deviation of the error on a day, °C, once smoothed.
    #[must_use]
    pub fn error_c(&self, day: f64) -> (f64, f64) {
        let square = self.misfit_c.powi(2);
        let after = self.known.partition_point(|known| known.day < day);
        let alone = |known: &Known| {
            let memory = memory((day - known.day).abs());
            let lost = 1.0 - memory * memory;
            (memory * known.mean[1], lost * square + memory * memory * known.covariance[(1, 1)])
        };
        let (mean, variance) = match (after.checked_sub(1).map(|at| &self.known[at]), self.known.get(after)) {
            (None, None) => (0.0, square),
            (Some(only), None) | (None, Some(only)) => alone(only),
            (Some(left), Some(right)) => {
                let (m0, m1) = (memory(day - left.day), memory(right.day - day));
                let lost = 1.0 - (m0 * m1).powi(2);
                if lost < 1e-9 {
                    alone(right)
                } else {
                    let (a, b) = (m0 * (1.0 - m1 * m1) / lost, m1 * (1.0 - m0 * m0) / lost);
                    let own = square * (1.0 - m0 * m0) * (1.0 - m1 * m1) / lost;
                    let variance = own
                        + a * a * left.covariance[(1, 1)]
                        + b * b * right.covariance[(1, 1)]
                        + 2.0 * a * b * self.between[after - 1];
                    (a * left.mean[1] + b * right.mean[1], variance)
                }
            }
        };
        (mean, variance.max(0.0).sqrt())
    }
}

/// Takes in readings in order of time; `each` is told of every innovation and of what is known after it.
fn filter(
    misfit_c: f64,
    residuals: impl Iterator<Item = Residual>,
    mut each: impl FnMut(Innovation, &Known),
) {
    let mut now = Known {
        day: f64::NEG_INFINITY,
        mean: Vector2::zeros(),
        covariance: Matrix2::new(BIAS_C.powi(2), 0.0, 0.0, misfit_c.powi(2)),
    };
    for Residual { day, memory, residual_c, count } in residuals {
        now = now.later(day, memory, misfit_c);
        // The reading is the sum of both states and its own noise.
        let cross = now.covariance.column_sum();
        let variance = cross.sum() + PROBE_C.powi(2) / count;
        let deviation = variance.sqrt();
        let excess = residual_c - now.mean.sum();
        let innovation = Innovation { excess: excess / deviation, deviation };
        let gain = cross * (innovation.weight().min(1.0) / variance);
        now.mean += gain * excess;
        now.covariance -= gain * cross.transpose();
        each(innovation, &now);
    }
}

/// Log density of readings, as in [`Discrepancy::filtered`], but for a constant.
#[must_use]
pub fn log_density(misfit_c: f64, residuals: impl Iterator<Item = Residual>) -> f64 {
    /// Products beyond this are put away as logarithms, far from where numbers end.
    const LARGE: f64 = 1e100;
    let (mut sum, mut product) = (0.0, 1.0);
    filter(misfit_c, residuals, |innovation, _| {
        product *= innovation.rarity();
        if product > LARGE {
            sum += product.ln();
            product = 1.0;
        }
    });
    -0.5 * (sum + product.ln())
}

impl Known {
    /// What is known of a later day, before its reading, where so much is left of the error.
    fn later(&self, day: f64, memory: f64, misfit_c: f64) -> Self {
        let mut covariance = self.covariance;
        covariance[(0, 1)] *= memory;
        covariance[(1, 0)] *= memory;
        covariance[(1, 1)] =
            memory * memory * covariance[(1, 1)] + (1.0 - memory * memory) * misfit_c.powi(2);
        Self { day, mean: Vector2::new(self.mean[0], memory * self.mean[1]), covariance }
    }
}

/// Correlation of the error with itself so many days apart.
#[must_use]
pub fn memory(days: f64) -> f64 {
    (-days / MEMORY_DAYS).exp()
}
