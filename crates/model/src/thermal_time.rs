//! Accumulated warmth, from readings where there are any and from the model between.

use crate::course::Course;
use crate::history::Zone;
use crate::timeline::Seen;

/// Base temperature of the degree-days, °C. The model's own index: no published threshold for compost was found.
pub const BASE_C: f64 = 10.0;
/// Cap temperature of the degree-days, °C.
pub const CAP_C: f64 = 60.0;
/// A reading stands for this long on either side of it, days.
pub const READING_REACH_DAYS: f64 = 1.5;
/// Step of the sum, days.
const STEP_DAYS: f64 = 0.25;

/// Degree-days, and what of them was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DegreeDays {
    /// °C·days.
    pub all_c: f64,
    /// Share of the elapsed time that readings cover.
    pub covered_fraction: f64,
    /// Share of them that stands on readings.
    pub measured_fraction: f64,
}

/// Degree-days between base and cap.
///
/// `∫ max(0, min(T, cap) − base) dt` over the mass-weighted heap. Within reach of a reading its zone has the reading's
/// temperature (between two readings in reach, the line between them) and the other zone the model's.
#[must_use]
pub fn degree_days(course: &Course, readings: &[&Seen], from: f64, to: f64) -> DegreeDays {
    let of_zone = |zone: Zone| -> Vec<(f64, f64)> {
        readings.iter().filter(|seen| seen.zone == zone).map(|seen| (seen.day, seen.temperature_c)).collect()
    };
    let (core, edge) = (of_zone(Zone::Core), of_zone(Zone::Edge));
    let steps = ((to - from) / STEP_DAYS).ceil().max(1.0) as usize;
    let length = (to - from) / steps as f64;
    let (mut sum, mut measured_c, mut measured, mut elapsed) = (0.0, 0.0, 0.0, 0.0);
    for step in 0..steps {
        let day = from + (step as f64 + 0.5) * length;
        let Some(snapshot) = course.at(day) else { continue };
        let heap = snapshot.heap;
        let (seen_core, seen_edge) = (measured_at(&core, day), measured_at(&edge, day));
        let share = heap.core.dry_kg() / heap.dry_kg();
        let warmth = |temperature: f64| (temperature.min(CAP_C) - BASE_C).max(0.0);
        let zones =
            [(share, seen_core, heap.core.temperature_c), (1.0 - share, seen_edge, heap.edge.temperature_c)];
        for (share, seen, modelled_c) in zones {
            let own = length * share * warmth(seen.unwrap_or(modelled_c));
            sum += own;
            measured_c += if seen.is_some() { own } else { 0.0 };
        }
        elapsed += length;
        if seen_core.is_some() || seen_edge.is_some() {
            measured += length;
        }
    }
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    DegreeDays {
        all_c: sum,
        covered_fraction: share(measured, elapsed),
        measured_fraction: share(measured_c, sum),
    }
}

/// The measured temperature at `day`, if a reading reaches it. `readings` in order of time.
fn measured_at(readings: &[(f64, f64)], day: f64) -> Option<f64> {
    let after = readings.partition_point(|reading| reading.0 < day);
    let left = after.checked_sub(1).map(|index| readings[index]);
    let right = readings.get(after).copied();
    let near =
        |reading: Option<(f64, f64)>| reading.filter(|reading| (reading.0 - day).abs() <= READING_REACH_DAYS);
    match (near(left), near(right)) {
        (Some((d0, t0)), Some((d1, t1))) if d1 > d0 => Some(t0 + (t1 - t0) * (day - d0) / (d1 - d0)),
        (Some((_, t)), _) | (_, Some((_, t))) => Some(t),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_reaches_a_day_and_a_half_and_two_are_joined() {
        let readings = [(10.0, 50.0), (12.0, 60.0), (20.0, 40.0)];
        assert_eq!(measured_at(&readings, 11.0), Some(55.0));
        assert_eq!(measured_at(&readings, 8.6), Some(50.0));
        assert_eq!(measured_at(&readings, 13.4), Some(60.0));
        assert_eq!(measured_at(&readings, 16.0), None);
        assert_eq!(measured_at(&readings, 18.5), Some(40.0));
    }
}
