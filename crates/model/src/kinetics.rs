//! How fast volatile solids break down, and what holds them back.

use serde::{Deserialize, Serialize};

/// Cardinal temperatures, °C: no growth below `min` or above `max`, fastest at `opt`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cardinal {
    /// Lowest.
    pub min_c: f64,
    /// Fastest.
    pub opt_c: f64,
    /// Highest.
    pub max_c: f64,
}

impl Cardinal {
    /// Temperature factor, 0 outside the cardinal temperatures and 1 at the optimum.
    ///
    /// `(T−Tmax)(T−Tmin)² / ((Topt−Tmin)[(Topt−Tmin)(T−Topt) − (Topt−Tmax)(Topt+Tmin−2T)])`:
    /// Rosso, Lobry & Flandrois 1993, An unexpected correlation between cardinal temperatures of microbial
    /// growth highlighted by a new model, J. theor. Biol. 162:447-463, eq. 1 (from memory).
    #[must_use]
    pub fn factor(self, temperature_c: f64) -> f64 {
        let Self { min_c, opt_c, max_c } = self;
        let t = temperature_c;
        if t <= min_c || t >= max_c {
            return 0.0;
        }
        let range = opt_c - min_c;
        let denominator = range * (range * (t - opt_c) - (opt_c - max_c) * (opt_c + min_c - 2.0 * t));
        (t - max_c) * (t - min_c).powi(2) / denominator
    }

    /// Slope of the factor over temperature, 1/K, where the factor is `factor`.
    #[must_use]
    pub fn slope(self, temperature_c: f64, factor: f64) -> f64 {
        let Self { min_c, opt_c, max_c } = self;
        let t = temperature_c;
        if t <= min_c || t >= max_c {
            return 0.0;
        }
        let range = opt_c - min_c;
        let denominator = range * (range * (t - opt_c) - (opt_c - max_c) * (opt_c + min_c - 2.0 * t));
        let denominator_slope = range * (range + 2.0 * (opt_c - max_c));
        factor * (1.0 / (t - max_c) + 2.0 / (t - min_c) - denominator_slope / denominator)
    }
}

/// Moisture factor: `1 / (1 + exp(7.0622 − 17.684 m))`, `m` the wet-basis moisture fraction.
///
/// Haug 1993, The Practical Handbook of Compost Engineering, chapter on kinetics (from memory).
#[must_use]
pub fn moisture_factor(moisture_fraction: f64) -> f64 {
    1.0 / (1.0 + (7.0622 - MOISTURE_STEEPNESS * moisture_fraction).exp())
}

const MOISTURE_STEEPNESS: f64 = 17.684;

/// Slope of the moisture factor over the moisture fraction, where the factor is `factor`.
#[must_use]
pub fn moisture_slope(factor: f64) -> f64 {
    MOISTURE_STEEPNESS * factor * (1.0 - factor)
}

/// Free-air-space factor: `1 / (1 + exp(3.4945 − 23.675 a))`, `a` the free air space fraction.
///
/// Haug 1993, The Practical Handbook of Compost Engineering, chapter on kinetics (from memory).
#[must_use]
pub fn air_space_factor(free_air_space: f64) -> f64 {
    1.0 / (1.0 + (3.4945 - AIR_SPACE_STEEPNESS * free_air_space).exp())
}

const AIR_SPACE_STEEPNESS: f64 = 23.675;

/// Slope of the free-air-space factor over the free air space, where the factor is `factor`.
#[must_use]
pub fn air_space_slope(factor: f64) -> f64 {
    AIR_SPACE_STEEPNESS * factor * (1.0 - factor)
}

/// Half-saturation of the oxygen factor, % by volume. Haug 1993 (from memory).
pub const OXYGEN_HALF_SATURATION_PERCENT: f64 = 2.0;

/// Oxygen in outside air, % by volume.
pub const OXYGEN_AIR_PERCENT: f64 = 20.95;

/// Mass of oxygen per mass of dry outside air.
pub const OXYGEN_AIR_MASS_FRACTION: f64 = 0.2314;

/// Oxygen factor `y / (y + 2)` where the pore oxygen `y` (% by volume) balances supply and demand.
///
/// Supply by an air flow of `air_kg_day` is `air · 0.2314 · (20.95 − y) / 20.95`; demand is
/// `demand_kg_day · y / (y + 2)`. The balance is a quadratic in `y`; its positive root is taken.
/// The factor is Haug's (1993, The Practical Handbook of Compost Engineering, from memory); solving it at
/// each instant supposes that pore air adjusts within minutes, which is fast beside the heap's days.
#[must_use]
pub fn oxygen_factor(air_kg_day: f64, demand_kg_day: f64) -> f64 {
    let half = OXYGEN_HALF_SATURATION_PERCENT;
    let air = OXYGEN_AIR_PERCENT;
    if demand_kg_day <= 0.0 {
        return air / (air + half);
    }
    let supply = air_kg_day * OXYGEN_AIR_MASS_FRACTION / air;
    let b = demand_kg_day - supply * (air - half);
    let c = supply * half * air;
    // The positive root of supply·y² + b·y − c = 0, in the form that loses no digits when b > 0.
    let root = (b * b + 4.0 * supply * c).sqrt();
    let y = if b > 0.0 { 2.0 * c / (b + root) } else { (root - b) / (2.0 * supply) };
    y / (y + half)
}

/// Slopes of the oxygen factor over the air flow and over the demand, where the factor is `factor`.
///
/// By the implicit function theorem on the balance that [`oxygen_factor`] solves.
#[must_use]
pub fn oxygen_slopes(air_kg_day: f64, demand_kg_day: f64, factor: f64) -> (f64, f64) {
    if demand_kg_day <= 0.0 {
        return (0.0, 0.0);
    }
    let half = OXYGEN_HALF_SATURATION_PERCENT;
    let per_air = OXYGEN_AIR_MASS_FRACTION / OXYGEN_AIR_PERCENT;
    // y = half · f / (1 − f), and the factor's slope over y.
    let left = 1.0 - factor;
    let slope = left * left / half;
    let oxygen_percent = half * factor / left;
    let stiffness = air_kg_day * per_air + demand_kg_day * slope;
    (slope * per_air * (OXYGEN_AIR_PERCENT - oxygen_percent) / stiffness, -slope * factor / stiffness)
}
