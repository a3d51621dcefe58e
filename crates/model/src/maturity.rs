//! Maturity and stability in published units.
//!
//! Class limits differ between published schemes. The respiration classes are those commonly given with TMECC
//! 05.08-B, carbon dioxide evolution rate, 2, 8, 15 and 40 mg CO₂-C per g organic matter and day, and the
//! self-heating classes those of the vessel test, 10, 20, 30 and 40 °C of rise (both from memory; US Composting
//! Council 2001, Test Methods for the Examination of Composting and Compost; Brinton and others 1995, A
//! standardized Dewar test for evaluation of compost self-heating).

use serde::{Deserialize, Serialize};

use crate::heap::Heap;
use crate::heat::heat_capacity_kj_k;
use crate::parameters::Parameters;

/// Name of the scheme that [`RespirationClass`] follows.
pub const RESPIRATION_SCHEME: &str = "TMECC 05.08-B classes (limits from memory)";

/// Stability class of a respiration rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum RespirationClass {
    /// Under 2.
    VeryStable,
    /// 2 to 8.
    Stable,
    /// 8 to 15.
    ModeratelyUnstable,
    /// 15 to 40.
    Unstable,
    /// Over 40.
    Raw,
}

/// Class of the self-heating vessel test by its temperature rise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum SelfHeatingClass {
    /// Rise over 40 °C: fresh.
    I,
    /// 30 to 40 °C.
    Ii,
    /// 20 to 30 °C.
    Iii,
    /// 10 to 20 °C.
    Iv,
    /// Under 10 °C: finished.
    V,
}

/// Temperature at which respiration is predicted, °C: that of TMECC 05.08-B (from memory).
const RESPIRATION_C: f64 = 37.0;

impl RespirationClass {
    /// Class of a rate, mg CO₂-C per g volatile solids and day; a limit belongs to the steadier class.
    #[must_use]
    pub fn of(rate: f64) -> Self {
        match rate {
            rate if rate <= 2.0 => Self::VeryStable,
            rate if rate <= 8.0 => Self::Stable,
            rate if rate <= 15.0 => Self::ModeratelyUnstable,
            rate if rate <= 40.0 => Self::Unstable,
            _ => Self::Raw,
        }
    }
}

impl SelfHeatingClass {
    /// Class of a temperature rise, °C; a limit belongs to the steadier class.
    #[must_use]
    pub fn of(rise_c: f64) -> Self {
        match rise_c {
            rise if rise <= 10.0 => Self::V,
            rise if rise <= 20.0 => Self::Iv,
            rise if rise <= 30.0 => Self::Iii,
            rise if rise <= 40.0 => Self::Ii,
            _ => Self::I,
        }
    }
}

/// How much faster a test sample runs than the heap it comes from: sieved, mixed and aired, its matter is no longer held
/// back inside clumps. Estimate, set so that a fresh garden mix comes out as unstable to raw and one of three months as
/// stable, as laboratories report them.
const SAMPLE_FACTOR: f64 = 2.0;

/// Respiration of a sample of the heap kept moist and aired at 37 °C, mg CO₂-C per g volatile solids and day.
///
/// It follows from what is left to degrade, not from how fast the heap runs now: a dry or airless heap that has
/// stopped still shows what it will do once wetted and turned.
#[must_use]
pub fn respiration_mg_co2c_g_vs_day(heap: &Heap, p: &Parameters) -> f64 {
    let warmth = p.compost.factor(RESPIRATION_C);
    let fast = heap.core.fast_kg + heap.edge.fast_kg;
    let slow = heap.core.slow_kg + heap.edge.slow_kg;
    let resistant = heap.core.resistant_kg + heap.edge.resistant_kg;
    let volatile = heap.volatile_kg();
    let degraded = (p.fast_per_day * fast + p.slow_per_day * slow) * warmth
        + p.resistant_per_day * resistant * p.fungal.factor(RESPIRATION_C);
    SAMPLE_FACTOR * 1000.0 * heap.carbon_kg() / volatile * degraded / volatile
}

/// The self-heating vessel: room at 20 °C, sample at 55 % moisture, 10 days, cools by 1/e in 10 hours.
/// Estimates for the standard test's vacuum flask of 100 mm inside diameter, open at the neck: with that cooling the classes
/// stand beside those of respiration as published tables put them side by side (from memory).
mod vessel {
    pub const ROOM_C: f64 = 20.0;
    pub const WATER_KG_KG: f64 = 0.55 / 0.45;
    pub const DAYS: f64 = 10.0;
    pub const COOLING_DAYS: f64 = 0.42;
    pub const STEP_DAYS: f64 = 0.05;
}

/// Predicted highest rise over the room in the self-heating vessel, °C.
///
/// Integrates `dT/dt = H r / C − (T − room) / τ` for 1 kg of the heap's dry matter with its two pools, by the classical
/// Runge-Kutta method of fourth order (steps of 0.05 days against time scales of a day).
#[must_use]
pub fn self_heating_rise_c(heap: &Heap, p: &Parameters) -> f64 {
    let dry = heap.dry_kg();
    let ash = (heap.core.ash_kg + heap.edge.ash_kg) / dry;
    let capacity = heat_capacity_kj_k(1.0, ash, vessel::WATER_KG_KG);
    let rates = |[fast, slow, temperature]: [f64; 3]| {
        let warmth = p.compost.factor(temperature);
        let warmth = SAMPLE_FACTOR * warmth;
        let (fast, slow) = (p.fast_per_day * fast * warmth, p.slow_per_day * slow * warmth);
        let heat = p.heat_kj_kg * (fast + slow) / capacity;
        [-fast, -slow, heat - (temperature - vessel::ROOM_C) / vessel::COOLING_DAYS]
    };
    let along = |y: [f64; 3], slope: [f64; 3], h: f64| std::array::from_fn(|i| y[i] + h * slope[i]);
    let h = vessel::STEP_DAYS;
    let mut y = [
        (heap.core.fast_kg + heap.edge.fast_kg) / dry,
        (heap.core.slow_kg + heap.edge.slow_kg) / dry,
        vessel::ROOM_C,
    ];
    let mut highest: f64 = 0.0;
    for _ in 0..(vessel::DAYS / h) as usize {
        let k1 = rates(y);
        let k2 = rates(along(y, k1, h / 2.0));
        let k3 = rates(along(y, k2, h / 2.0));
        let k4 = rates(along(y, k3, h));
        y = std::array::from_fn(|i| y[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
        highest = highest.max(y[2] - vessel::ROOM_C);
    }
    highest
}
