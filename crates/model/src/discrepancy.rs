//! How far the heap itself may be from any member's temperature, and what the nearest reading says about that.
//!
//! Every model of a heap is off by several degrees (Mason 2006, Waste Management 26:3-21: none of those reviewed came within
//! 5, 2 and 2 °C of maximum, average and peak), and stays off to the same side for days. So a member's temperature is taken
//! as the truth plus an error that wanders: an Ornstein-Uhlenbeck process of standard deviation [`MODEL_C`] and memory
//! [`MEMORY_DAYS`], given the nearest reading of the zone.

use crate::history::Zone;
use crate::timeline::Seen;

/// Standard deviation of a member's error far from any reading, °C. Estimate.
pub const MODEL_C: f64 = 4.0;
/// Days in which the memory of an error falls to 1/e. Estimate.
pub const MEMORY_DAYS: f64 = 7.0;
/// Standard deviation of one reading against its zone's mean, °C: where the probe happened to stand. Estimate.
pub const PROBE_C: f64 = 1.5;

/// Middles of five equally likely parts of the standard normal distribution: quantiles 0.1, 0.3, 0.5, 0.7 and 0.9.
const FIFTHS: [f64; 5] = [-1.281_551_6, -0.524_400_5, 0.0, 0.524_400_5, 1.281_551_6];

/// Days of the readings that count, with their places among them, for each zone in order of time.
#[derive(Clone, Debug, Default)]
pub struct Readings {
    core: Vec<(f64, usize)>,
    edge: Vec<(f64, usize)>,
}

impl Readings {
    /// Of readings in order of time.
    #[must_use]
    pub fn new(readings: &[&Seen]) -> Self {
        let of_zone = |zone: Zone| {
            let own = readings.iter().enumerate().filter(|(_, seen)| seen.zone == zone);
            own.map(|(index, seen)| (seen.day, index)).collect()
        };
        Self { core: of_zone(Zone::Core), edge: of_zone(Zone::Edge) }
    }

    /// Day and place of the reading nearest to `day`; the earlier of two, the first of one moment.
    fn nearest(&self, zone: Zone, day: f64) -> Option<(f64, usize)> {
        let own = match zone {
            Zone::Core => &self.core,
            Zone::Edge => &self.edge,
        };
        let first_from = |day: f64| own.partition_point(|reading| reading.0 < day);
        let (earlier, later) = own.split_at(first_from(day));
        let after = later.first().copied();
        let before = earlier.last().map(|reading| own[first_from(reading.0)]);
        match (before, after) {
            (Some(before), Some(after)) if after.0 - day < day - before.0 => Some(after),
            (before, after) => before.or(after),
        }
    }
}

/// What is known of a zone's temperature on a day beside a member's own: the reading nearest in time.
#[derive(Clone, Copy, Debug)]
pub struct Discrepancy {
    /// Place of the reading among those that count.
    nearest: Option<usize>,
    /// Correlation of the error on the day with that at the reading.
    memory: f64,
}

impl Discrepancy {
    /// For `zone` on `day`, given the readings that count.
    #[must_use]
    pub fn new(readings: &Readings, zone: Zone, day: f64) -> Self {
        let nearest = readings.nearest(zone, day);
        let memory = nearest.map_or(0.0, |(seen, _)| (-(seen - day).abs() / MEMORY_DAYS).exp());
        Self { nearest: nearest.map(|(_, index)| index), memory }
    }

    /// Five equally likely temperatures of the zone for a member that has it at `modelled_c`, °C, and whose readings lie
    /// `residuals_c` above its course.
    #[must_use]
    pub fn temperatures(&self, residuals_c: &[Option<f64>], modelled_c: f64) -> [f64; 5] {
        let residual = self.nearest.and_then(|index| residuals_c[index]);
        // Bayes for two normals: the reading tells the error at its time, blurred by where the probe stood.
        let gain = MODEL_C.powi(2) / (MODEL_C.powi(2) + PROBE_C.powi(2));
        let (shift, explained) = residual
            .map_or((0.0, 0.0), |residual| (self.memory * gain * residual, self.memory.powi(2) * gain));
        let deviation = MODEL_C * (1.0 - explained).sqrt();
        FIFTHS.map(|z| modelled_c + shift + deviation * z)
    }
}
