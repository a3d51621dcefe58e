//! Heat: what a zone stores, and what leaves through the matrix and the walls.

use crate::bay::{Base, Bay, Construction, Layer, Top};
use crate::parameters::Parameters;

/// kJ per day in one watt.
pub const KJ_DAY_PER_W: f64 = 86.4;

/// Specific heat of water, kJ/(kg K).
pub const WATER_KJ_KG_K: f64 = 4.18;

/// Heat capacity, kJ/K, of dry matter with its ash and water.
///
/// `(1.48 − 0.64 A) + 4.18 W` kJ per K and kg dry matter, `A` the ash fraction and `W` kg water per kg dry:
/// Haug 1993, The Practical Handbook of Compost Engineering (from memory).
#[must_use]
pub fn heat_capacity_kj_k(dry_kg: f64, ash_kg: f64, water_kg: f64) -> f64 {
    1.48 * dry_kg - 0.64 * ash_kg + WATER_KJ_KG_K * water_kg
}

/// Conductivity of the matrix, W/(m K), linear in the volume fractions of water and solids.
///
/// Linear in moisture and density after Ahn, Sauer, Richard & Glanville 2009, Bioresource Technology
/// 100:3974-3981 (abstract read: 0.03-0.30 for straw, hay and shavings, 0.12-0.81 for moist manure, litter and
/// soil blends); the coefficients are an estimate inside those ranges.
#[must_use]
pub fn conductivity_w_m_k(p: &Parameters, water_fraction: f64, solid_fraction: f64) -> f64 {
    p.conductivity_base + p.conductivity_water * water_fraction + p.conductivity_solid * solid_fraction
}

/// Side layers of a named construction. Conductivities as tabulated for the bare material (from memory:
/// polyethylene 0.45, softwood 0.13, corrugated board 0.06, straw bale 0.06, dense concrete 1.4 W/(m K)).
#[must_use]
pub fn construction_layers(construction: Construction) -> &'static [Layer] {
    const PLASTIC: Layer = Layer { thickness_m: 0.003, conductivity_w_m_k: 0.45 };
    const SLATS: Layer = Layer { thickness_m: 0.015, conductivity_w_m_k: 0.13 };
    const BOARDS: Layer = Layer { thickness_m: 0.035, conductivity_w_m_k: 0.13 };
    const CARD: Layer = Layer { thickness_m: 0.015, conductivity_w_m_k: 0.06 };
    const BALE: Layer = Layer { thickness_m: 0.45, conductivity_w_m_k: 0.06 };
    const BLOCK: Layer = Layer { thickness_m: 0.1, conductivity_w_m_k: 1.4 };
    match construction {
        Construction::ThinPlastic => &[PLASTIC],
        Construction::SlattedTimber => &[SLATS],
        Construction::TimberBoards => &[BOARDS],
        Construction::CardboardLined => &[CARD, SLATS],
        Construction::StrawBale => &[BALE],
        Construction::Block => &[BLOCK],
        Construction::OpenHeap => &[],
    }
}

/// Thermal resistances outside the matrix and areas of a bay's faces, fixed by its construction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Envelope {
    /// Sides, layers and outside film, m² K/W.
    pub side_m2k_w: f64,
    /// Top, m² K/W.
    pub top_m2k_w: f64,
    /// Base, m² K/W.
    pub base_m2k_w: f64,
}

impl Envelope {
    /// Envelope of a validated bay, with or without a cover on top.
    ///
    /// Films are 8 W/(m² K) outside walls and 10 on an open top (natural and light forced convection, from
    /// memory); still air under a lid adds 0.17 m² K/W, a cover 0.1; soil stands for half a metre of 1 W/(m K).
    #[must_use]
    pub fn new(bay: &Bay, covered: bool) -> Self {
        let layers: &[Layer] = if bay.wall.layers.is_empty() {
            construction_layers(bay.wall.construction)
        } else {
            &bay.wall.layers
        };
        let wall: f64 = layers.iter().map(|layer| layer.thickness_m / layer.conductivity_w_m_k).sum();
        let top = match bay.top {
            Top::Open => 0.1,
            Top::Roofed => 0.12,
            Top::Lidded => 0.27,
        };
        Self {
            side_m2k_w: wall + 1.0 / 8.0,
            top_m2k_w: top + if covered { 0.1 } else { 0.0 },
            base_m2k_w: match bay.base {
                Base::Soil => 0.5,
                Base::Slab => 0.3,
            },
        }
    }
}

/// The heap as a box standing in its bay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// Inside length, m.
    pub length_m: f64,
    /// Inside width, m.
    pub width_m: f64,
    /// Height of the material, m.
    pub height_m: f64,
    /// Thickness of the edge zone, m.
    pub edge_m: f64,
}

impl Shape {
    /// Shape of `volume_m3` in `bay`; the edge is at most a quarter of the shortest side.
    #[must_use]
    pub fn new(bay: &Bay, volume_m3: f64, edge_m: f64) -> Self {
        let height_m = volume_m3 / (bay.length_m * bay.width_m);
        let edge_m = edge_m.min(0.25 * bay.length_m.min(bay.width_m).min(height_m));
        Self { length_m: bay.length_m, width_m: bay.width_m, height_m, edge_m }
    }

    /// Area of the four sides, m².
    #[must_use]
    pub fn sides_m2(&self) -> f64 {
        2.0 * (self.length_m + self.width_m) * self.height_m
    }

    /// Area of the top, and of the base, m².
    #[must_use]
    pub fn top_m2(&self) -> f64 {
        self.length_m * self.width_m
    }

    fn core_sides(&self) -> (f64, f64, f64) {
        let inset = 2.0 * self.edge_m;
        (self.length_m - inset, self.width_m - inset, self.height_m - inset)
    }

    /// Share of the volume that lies in the core.
    #[must_use]
    pub fn core_fraction(&self) -> f64 {
        let (l, w, h) = self.core_sides();
        l * w * h / (self.length_m * self.width_m * self.height_m)
    }

    /// Conductance from core to edge, W/K.
    #[must_use]
    pub fn core_to_edge_w_k(&self, p: &Parameters, conductivity: f64) -> f64 {
        let (l, w, h) = self.core_sides();
        let surface = 2.0 * (l * w + l * h + w * h);
        let path = p.core_path * l * w * h / surface + self.edge_m / 2.0;
        surface * conductivity / path
    }

    /// Conductance from edge to the air, W/K: half the edge's thickness, then the envelope.
    #[must_use]
    pub fn edge_to_air_w_k(&self, envelope: &Envelope, conductivity: f64) -> f64 {
        let inside = self.edge_m / 2.0 / conductivity;
        self.sides_m2() / (inside + envelope.side_m2k_w)
            + self.top_m2() / (inside + envelope.top_m2k_w)
            + self.top_m2() / (inside + envelope.base_m2k_w)
    }

    /// Growth of the edge's thickness with the height: a quarter where the height sets it.
    fn edge_slope(&self) -> f64 {
        if self.edge_m >= 0.25 * self.height_m { 0.25 } else { 0.0 }
    }

    /// Slopes of [`Shape::core_to_edge_w_k`] over the height, W/(K m), and over the conductivity, m.
    #[must_use]
    pub fn core_to_edge_slopes(&self, p: &Parameters, conductivity: f64) -> (f64, f64) {
        let (l, w, h) = self.core_sides();
        let edge = self.edge_slope();
        let (inwards, upwards) = (-2.0 * edge, 1.0 - 2.0 * edge);
        let surface = 2.0 * (l * w + l * h + w * h);
        let surface_slope = 2.0 * (inwards * (l + w + 2.0 * h) + upwards * (l + w));
        let depth = l * w * h / surface;
        let depth_slope = (inwards * (l + w) * h + upwards * l * w - depth * surface_slope) / surface;
        let path = p.core_path * depth + self.edge_m / 2.0;
        let path_slope = p.core_path * depth_slope + edge / 2.0;
        (conductivity * (surface_slope - surface * path_slope / path) / path, surface / path)
    }

    /// Slopes of [`Shape::edge_to_air_w_k`] over the height, W/(K m), and over the conductivity, m.
    #[must_use]
    pub fn edge_to_air_slopes(&self, envelope: &Envelope, conductivity: f64) -> (f64, f64) {
        let inside = self.edge_m / 2.0 / conductivity;
        let faces = [
            (self.sides_m2(), envelope.side_m2k_w),
            (self.top_m2(), envelope.top_m2k_w),
            (self.top_m2(), envelope.base_m2k_w),
        ];
        let by_inside: f64 = faces.iter().map(|(area, film)| -area / (inside + film).powi(2)).sum();
        let sides_slope = 2.0 * (self.length_m + self.width_m) / (inside + envelope.side_m2k_w);
        (sides_slope + by_inside * self.edge_slope() / 2.0 / conductivity, -by_inside * inside / conductivity)
    }
}
