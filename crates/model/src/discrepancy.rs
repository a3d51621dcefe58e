//! How far the heap itself may be from any member's temperature, and what the nearest reading says about that.
//!
//! Every model of a heap is off by several degrees (Mason 2006, Waste Management 26:3-21: none of those reviewed came within
//! 5, 2 and 2 °C of maximum, average and peak), and stays off to the same side for days. So a member's temperature is taken
//! as the truth plus an error that wanders: an Ornstein-Uhlenbeck process of standard deviation [`MODEL_C`] and memory
//! [`MEMORY_DAYS`], given the nearest reading of the zone.

use crate::history::Zone;
use crate::simulation::Course;
use crate::timeline::Seen;

/// Standard deviation of a member's error far from any reading, °C. Estimate.
pub const MODEL_C: f64 = 4.0;
/// Days in which the memory of an error falls to 1/e. Estimate.
pub const MEMORY_DAYS: f64 = 7.0;
/// Standard deviation of one reading against its zone's mean, °C: where the probe happened to stand. Estimate.
pub const PROBE_C: f64 = 1.5;

/// Middles of five equally likely parts of the standard normal distribution: quantiles 0.1, 0.3, 0.5, 0.7 and 0.9.
const FIFTHS: [f64; 5] = [-1.281_551_6, -0.524_400_5, 0.0, 0.524_400_5, 1.281_551_6];

/// What is known of a zone's temperature on a day beside a member's own: the reading nearest in time.
#[derive(Clone, Copy, Debug)]
pub struct Discrepancy<'a> {
    nearest: Option<&'a Seen>,
    /// Correlation of the error on the day with that at the reading.
    memory: f64,
    zone: Zone,
}

impl<'a> Discrepancy<'a> {
    /// For `zone` on `day`, given the readings that count.
    #[must_use]
    pub fn new(readings: &[&'a Seen], zone: Zone, day: f64) -> Self {
        let own = readings.iter().filter(|seen| seen.zone == zone);
        let nearest = own.min_by(|a, b| (a.day - day).abs().total_cmp(&(b.day - day).abs())).copied();
        let memory = nearest.map_or(0.0, |seen| (-(seen.day - day).abs() / MEMORY_DAYS).exp());
        Self { nearest, memory, zone }
    }

    /// Five equally likely temperatures of the zone for a member that has it at `modelled_c`, °C.
    #[must_use]
    pub fn temperatures(&self, course: &Course, modelled_c: f64) -> [f64; 5] {
        let residual = self.nearest.and_then(|seen| {
            let heap = course.at(seen.day)?.heap;
            Some(seen.temperature_c - heap.zone(self.zone).temperature_c)
        });
        // Bayes for two normals: the reading tells the error at its time, blurred by where the probe stood.
        let gain = MODEL_C.powi(2) / (MODEL_C.powi(2) + PROBE_C.powi(2));
        let (shift, explained) = residual
            .map_or((0.0, 0.0), |residual| (self.memory * gain * residual, self.memory.powi(2) * gain));
        let deviation = MODEL_C * (1.0 - explained).sqrt();
        FIFTHS.map(|z| modelled_c + shift + deviation * z)
    }
}
