//! Volume: how a heap settles under its own load and as its matter breaks down.

use crate::feedstock::Structure;
use crate::parameters::Parameters;

/// Standard gravity, m/s².
const GRAVITY_M_S2: f64 = 9.806_65;

/// Settled over loose volume of a fresh material, before it breaks down.
///
/// Between the loose and compact densities of NRAES-54 appendix A (from memory): grass 178-237 loose, 297-475
/// compact; leaves 59-154 and 237-297 kg/m³. Wood chips keep nearly all their volume (common practice, no source).
#[must_use]
pub fn settled_fraction(structure: Structure) -> f64 {
    match structure {
        Structure::Porous => 0.85,
        Structure::Mixed => 0.59,
        Structure::Matting => 0.47,
    }
}

/// Volume of 1 kg of dry matter at rest, m³/kg.
///
/// The undegraded mix holds `settled_m3_kg`; what has broken down (`degraded`, share of the initially degradable
/// matter) takes the fine compost's volume; both give way to the mean load of the heap above.
#[must_use]
pub fn resting_m3_kg(p: &Parameters, settled_m3_kg: f64, degraded: f64, mass_kg: f64, area_m2: f64) -> f64 {
    let unloaded = settled_m3_kg * (1.0 - degraded) + degraded / p.fine_dry_density_kg_m3;
    let load_kpa = mass_kg * GRAVITY_M_S2 / area_m2 / 2.0 / 1000.0;
    unloaded / (1.0 + load_kpa / p.overburden_kpa)
}

/// Slopes of [`resting_m3_kg`], where it is `resting_m3_kg`, over what is left to degrade of `put_in_kg`, and over the mass,
/// m³ per kg twice over.
#[must_use]
pub fn resting_slopes(
    p: &Parameters,
    settled_m3_kg: f64,
    (left_kg, put_in_kg): (f64, f64),
    (mass_kg, resting_m3_kg): (f64, f64),
    area_m2: f64,
) -> (f64, f64) {
    let load_kpa = |mass_kg: f64| mass_kg * GRAVITY_M_S2 / area_m2 / 2.0 / 1000.0;
    let yielding = 1.0 + load_kpa(mass_kg) / p.overburden_kpa;
    let degrading = (0.0..put_in_kg).contains(&left_kg);
    let by_degraded = (1.0 / p.fine_dry_density_kg_m3 - settled_m3_kg) / yielding;
    let by_left = if degrading { -by_degraded / put_in_kg } else { 0.0 };
    (by_left, -resting_m3_kg * load_kpa(1.0) / p.overburden_kpa / yielding)
}
