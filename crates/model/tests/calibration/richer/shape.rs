//! Where the zones lie: three nested boxes inside, and side, top and base of the outer layer.

use baycast_model::bay::Bay;

/// Zones: centre, middle and outer core, then side, top and base of the edge.
pub const ZONES: usize = 6;
/// The core's zones come first.
pub const CORE: std::ops::Range<usize> = 0..3;
/// The edge's.
pub const EDGE: std::ops::Range<usize> = 3..6;
/// Top of the edge.
pub const TOP: usize = 4;
/// Base of the edge.
pub const BASE: usize = 5;
/// Side of the edge.
pub const SIDE: usize = 3;

/// Outer scale of each core zone, as a share of the core box.
const SCALES: [f64; 3] = [0.60, 0.82, 1.0];
/// Thickness of what counts as the edge, m, as the estimate's readers are told it.
const EDGE_M: f64 = 0.193;

/// The heap as a box.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// Edge thickness, m.
    pub edge_m: f64,
    /// Half the core's height, m.
    pub core_half_m: f64,
    /// Area of the floor, m².
    pub floor_m2: f64,
    /// Area of the sides, m².
    pub sides_m2: f64,
    core: [f64; 3],
    volume_m3: f64,
}

impl Shape {
    /// Of `volume_m3` in `bay`.
    pub fn new(bay: &Bay, volume_m3: f64) -> Self {
        let floor_m2 = bay.length_m * bay.width_m;
        let height_m = volume_m3 / floor_m2;
        let edge_m = EDGE_M.min(0.25 * bay.length_m.min(bay.width_m).min(height_m));
        let core = [bay.length_m, bay.width_m, height_m].map(|side| side - 2.0 * edge_m);
        Self {
            edge_m,
            core_half_m: core[2] / 2.0,
            floor_m2,
            sides_m2: 2.0 * (bay.length_m + bay.width_m) * height_m,
            core,
            volume_m3,
        }
    }

    /// Share of the volume in each zone.
    pub fn shares(&self) -> [f64; ZONES] {
        let core = self.core[0] * self.core[1] * self.core[2];
        let [centre, middle, outer] = SCALES.map(|scale| scale.powi(3) * core);
        let slab = self.floor_m2 * self.edge_m;
        let side = self.volume_m3 - core - 2.0 * slab;
        [centre, middle - centre, outer - middle, side, slab, slab].map(|volume| volume / self.volume_m3)
    }

    /// Conductances between neighbours, W/K: centre-middle, middle-outer, outer-side, outer-top, outer-base, at
    /// conductivity 1 W/(m K).
    pub fn inside_m(&self) -> [f64; 5] {
        let [l, w, h] = self.core;
        let surface = 2.0 * (l * w + l * h + w * h);
        let half = 3.0 * l * w * h / surface;
        // Between the middles of two boxes, by their mean distance from the centre.
        let middles = [0.45, 0.71, 0.91];
        let across =
            |zone: usize| SCALES[zone].powi(2) * surface / (half * (middles[zone + 1] - middles[zone]));
        let out = half * (1.0 - middles[2]) + self.edge_m / 2.0;
        [across(0), across(1), 2.0 * (l + w) * h / out, l * w / out, l * w / out]
    }

    /// Depths under the top of the middles of top, outer, middle and centre, m.
    pub fn depths_m(&self) -> [f64; 4] {
        let at = |scale: f64| self.edge_m + self.core_half_m * (1.0 - scale);
        [self.edge_m / 2.0, at(0.91), at(0.71), at(0.30)]
    }
}
