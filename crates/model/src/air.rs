//! Air in the heap: the space it has, and how much passes through.

use crate::bay::{Base, Bay, Construction, Top};
use crate::heat::Shape;
use crate::parameters::Parameters;

/// Solid volume, m³, of volatile solids and ash at particle densities of 1000 and 2500 kg/m³.
///
/// `1/G = VS/1.0 + (1 − VS)/2.5`: Haug 1993, The Practical Handbook of Compost Engineering, as used in public
/// model code (code read, book from memory).
#[must_use]
pub fn solid_m3(volatile_kg: f64, ash_kg: f64) -> f64 {
    volatile_kg / 1000.0 + ash_kg / 2500.0
}

/// Share of the volume that is neither water nor solid, not below 0.
#[must_use]
pub fn free_air_space(volume_m3: f64, water_kg: f64, volatile_kg: f64, ash_kg: f64) -> f64 {
    (1.0 - (water_kg / 1000.0 + solid_m3(volatile_kg, ash_kg)) / volume_m3).max(0.0)
}

/// How open the faces of a bay are to air, as shares of a bare face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Openness {
    /// Sides.
    pub side: f64,
    /// Top.
    pub top: f64,
    /// Base.
    pub base: f64,
}

impl Openness {
    /// Openness of a bay, with or without a cover. Estimates, ordered by the construction's gaps.
    #[must_use]
    pub fn new(bay: &Bay, covered: bool) -> Self {
        Self {
            side: match bay.wall.construction {
                Construction::ThinPlastic => 0.25,
                Construction::CardboardLined => 0.43,
                Construction::Block | Construction::TimberBoards => 0.1,
                Construction::StrawBale => 0.4,
                Construction::SlattedTimber => 0.7,
                Construction::OpenHeap => 1.0,
            },
            top: match bay.top {
                Top::Open | Top::Roofed => 1.0,
                Top::Lidded => 0.4,
            } * if covered { 0.5 } else { 1.0 },
            base: match bay.base {
                Base::Soil => 0.3,
                Base::Slab => 0.1,
            },
        }
    }
}

/// Dry air that passes through the heap, kg per day.
///
/// Open area times a fitted flow, growing with the warmth over the air (buoyancy drives the draught through a
/// warm heap) and with the space the air has.
#[must_use]
pub fn air_flow_kg_day(
    p: &Parameters,
    openness: &Openness,
    shape: &Shape,
    above_air_c: f64,
    effective_air_space: f64,
) -> f64 {
    let area = openness.side * shape.sides_m2() + (openness.top + openness.base) * shape.top_m2();
    p.air_flow_kg_m2_day * area * (1.0 + p.buoyancy * above_air_c.max(0.0) / 40.0) * effective_air_space
}
