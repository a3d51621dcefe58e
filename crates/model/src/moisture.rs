//! Water: how wet a heap is, what it holds and what a squeezed handful says.

use crate::history::Squeeze;
use crate::parameters::Parameters;

/// Moisture on a wet basis, 0 to 1.
#[must_use]
pub fn moisture_fraction(water_kg: f64, dry_kg: f64) -> f64 {
    water_kg / (water_kg + dry_kg)
}

/// Water activity of the matrix: near 1 while it is moist, falling to 0 as it dries.
///
/// `1 − exp(−W / w)`, `W` kg water per kg dry and `w` the drying constant. Estimate of the shape of a sorption
/// curve: 0.98 at 50 % moisture, 0.8 at 29 %.
#[must_use]
pub fn water_activity(p: &Parameters, water_kg: f64, dry_kg: f64) -> f64 {
    1.0 - (-water_kg.max(0.0) / dry_kg / p.drying_kg_kg).exp()
}

/// Water running down out of a zone, kg per day.
#[must_use]
pub fn drainage_kg_day(p: &Parameters, water_kg: f64, dry_kg: f64) -> f64 {
    p.drainage_per_day * (water_kg - p.field_capacity_kg_kg * dry_kg).max(0.0)
}

/// Wet-basis moisture that a hand-squeeze stands for, and its standard error. Common practice, no source.
#[must_use]
pub const fn squeezed(squeeze: Squeeze) -> (f64, f64) {
    match squeeze {
        Squeeze::Dry => (0.32, 0.08),
        Squeeze::Crumbles => (0.45, 0.06),
        Squeeze::Damp => (0.57, 0.05),
        Squeeze::Drips => (0.70, 0.05),
    }
}

/// Standard error of a measured moisture: one sample stands for a heap that is not even. Estimate.
pub const MEASURED_ERROR: f64 = 0.04;

/// Standard error of the model's own moisture. Estimate.
pub const MODEL_ERROR: f64 = 0.07;

/// Moisture between the model's and a note's, weighed by their errors.
#[must_use]
pub fn reconciled(modelled: f64, observed: f64, error: f64) -> f64 {
    let gain = MODEL_ERROR.powi(2) / (MODEL_ERROR.powi(2) + error.powi(2));
    modelled + gain * (observed - modelled)
}
