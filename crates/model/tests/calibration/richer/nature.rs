//! Constants of one batch, drawn: how matter, heat, air and water behave in this heap.
//!
//! Ranges are of the literature's order where it is named; the others are estimates (common practice, no source), chosen
//! with `practice` so that heaps behave as growers report. None is taken from the fitted model's output.

use baycast_model::bay::{Base, Bay, Construction, Top};
use baycast_model::feedstock::Structure;

use crate::chance::Chance;

/// Degradable pools.
pub const POOLS: usize = 3;

/// Constants of one batch.
#[derive(Clone, Debug)]
pub struct Nature {
    /// Rates of the pools at the best temperature, 1/day: sugars and protein, soft cellulose, sheathed cellulose.
    /// Degradation constants of 0.02-0.6 a day are reported for fractions of one waste (from memory: studies of organic
    /// matter loss by Bernal, Paredes and others for whole heaps, 0.02-0.06).
    pub rates_per_day: [f64; POOLS],
    /// Rate of lignin and sheathed wood by fungi at their best, 1/day.
    pub fungal_per_day: f64,
    /// Shift of Haug's temperature factor, °C: 0 has its best at 71.6 °C, which is later than most heaps show.
    pub warmth_shift_c: f64,
    /// Share of a second, mesophilic community about 35 °C.
    pub mesophilic: f64,
    /// Growth of the community at its best, 1/day.
    pub growth_per_day: f64,
    /// Activity that fresh material brings.
    pub inoculum: f64,
    /// Moisture over which water limits nothing, and the width of the fall below it.
    pub moist_from: f64,
    /// The width.
    pub moist_width: f64,
    /// Air space at which diffusion in the pores halves breakdown.
    pub half_air_space: f64,
    /// Breakdown that goes on without air, as a share of that with air. Estimate: silage and digesters work, slowly.
    pub airless: f64,
    /// Pore oxygen at which breakdown is halved, % by volume: 1-4; Haug 1993 has 2 (from memory).
    pub half_oxygen: f64,
    /// Heat of breakdown, kJ per kg: 17 400-24 700 in Haug 1993 (from memory).
    pub heat_kj_kg: f64,
    /// Heat for each kg of oxygen, kJ: 14 000 by Finstein (from memory).
    pub heat_kj_kg_oxygen: f64,
    /// Water made, kg per kg.
    pub metabolic_water: f64,
    /// Factor on heat capacity.
    pub capacity: f64,
    /// Factor on the conductivity of the moist matter: the geometric mean of air, water and solids, within the 0.12-0.81
    /// W/(m K) that Ahn and others 2009 found in moist blends (Bioresour. Technol. 100:3974-3981, abstract read).
    pub conductivity: f64,
    /// Growth of conductivity with temperature by vapour moving in the pores, 1/K.
    pub vapour_per_k: f64,
    /// Factor on all films and walls.
    pub envelope: f64,
    /// Resistance of the ground to its temperature, m² K/W.
    pub ground_m2k_w: f64,
    /// Air through a fully open square metre at 30 °C over the air's warmth, kg/day.
    pub draught_kg_m2_day: f64,
    /// Share of that which wind keeps up in a cold heap.
    pub wind: f64,
    /// Core's flow as a share of what its mass would have.
    pub core_draught: f64,
    /// Share of the core's exhaust that leaves through the top.
    pub exhaust_through_top: f64,
    /// Openness of the sides, top and base.
    pub openness: [f64; 3],
    /// Water to dry mass at which exhaust is 1 − 1/e saturated.
    pub drying: f64,
    /// Share of the rain that soaks in.
    pub rain_intake: f64,
    /// Water held against gravity, kg per kg dry.
    pub field_capacity: f64,
    /// Drainage of what is over, 1/day.
    pub drainage_per_day: f64,
    /// Settled over loose volume: porous, mixed, matting. Between the loose and compact densities of NRAES-54, appendix A
    /// (from memory).
    pub settled: [f64; 3],
    /// Settling, 1/day.
    pub settling_per_day: f64,
    /// Slow creep, share of the volume in the end, and its rate, 1/day.
    pub creep: (f64, f64),
    /// Dry density of fine compost, kg/m³: 100-400 as found (Agnew & Leonard 2003, read as quoted).
    pub fine_kg_m3: f64,
    /// Share of the volume that load can press out, and the load scale, kPa.
    pub pressed: (f64, f64),
    /// Loss of air space where all mats.
    pub matting: f64,
    /// Density of volatile solids, kg/m³: 1000 in Haug 1993 (from memory), up to 1500 for cellulose (from memory).
    pub solid_kg_m3: f64,
    /// Mixing of a turn, 0 to 1, its growth of the volume and the share of warmth lost.
    pub turning: (f64, f64, f64),
    /// Share of nitrogen that leaves with breakdown in a mix without carbon to spare, and the C:N that halves it.
    pub ammonia: (f64, f64),
    /// How much faster a laboratory sample runs than the heap.
    pub sample: f64,
}

impl Nature {
    /// Draws for a bay.
    pub fn draw(bay: &Bay, chance: &mut Chance) -> Self {
        Self {
            rates_per_day: [
                chance.log_between(0.09, 0.17),
                chance.log_between(0.045, 0.075),
                chance.log_between(0.020, 0.040),
            ],
            fungal_per_day: chance.log_between(0.0005, 0.002),
            warmth_shift_c: chance.between(3.0, 10.0),
            mesophilic: chance.between(0.2, 0.5),
            growth_per_day: chance.log_between(5.0, 12.0),
            inoculum: chance.log_between(0.03, 0.12),
            moist_from: chance.between(0.50, 0.60),
            moist_width: chance.between(0.13, 0.20),
            half_air_space: chance.between(0.08, 0.13),
            airless: chance.between(0.05, 0.15),
            half_oxygen: chance.log_between(1.0, 4.0),
            heat_kj_kg: chance.between(18_000.0, 24_000.0),
            heat_kj_kg_oxygen: chance.between(13_000.0, 15_000.0),
            metabolic_water: chance.between(0.5, 0.6),
            capacity: chance.factor(0.05),
            conductivity: chance.log_between(1.25, 2.0),
            vapour_per_k: chance.between(0.0, 0.008),
            envelope: chance.factor(0.2),
            ground_m2k_w: chance.log_between(0.3, 0.9),
            draught_kg_m2_day: chance.log_between(30.0, 55.0),
            wind: chance.between(0.2, 0.5),
            core_draught: chance.log_between(0.23, 0.40),
            exhaust_through_top: chance.between(0.6, 0.95),
            openness: openness(bay).map(|open| (open * chance.factor(0.2)).min(1.0)),
            drying: chance.between(0.15, 0.40),
            rain_intake: chance.between(0.15, 0.4),
            field_capacity: chance.between(2.3, 3.6),
            drainage_per_day: chance.log_between(0.3, 1.0),
            settled: [chance.between(0.75, 0.92), chance.between(0.50, 0.68), chance.between(0.38, 0.56)],
            settling_per_day: chance.log_between(0.3, 1.2),
            creep: (chance.between(0.0, 0.08), chance.log_between(0.02, 0.06)),
            fine_kg_m3: chance.between(140.0, 240.0),
            pressed: (chance.between(0.25, 0.45), chance.log_between(2.0, 8.0)),
            matting: chance.between(0.3, 0.8),
            solid_kg_m3: chance.between(1000.0, 1400.0),
            turning: (chance.between(0.7, 1.0), chance.between(1.05, 1.3), chance.between(0.2, 0.6)),
            ammonia: (chance.between(0.3, 0.8), chance.between(14.0, 22.0)),
            sample: 2.0 * chance.factor(0.2),
        }
    }

    /// Breakdown at a temperature against the best: Haug's factor (1993, The Practical Handbook of Compost Engineering,
    /// from memory), shifted and clamped, with a mesophilic hump.
    pub fn warmth(&self, celsius: f64) -> f64 {
        /// Greatest value of Haug's factor.
        const GREATEST: f64 = 17.93;
        let t = celsius + self.warmth_shift_c;
        let haug = ((0.063_913_3 * (t - 20.0)).exp() - (0.190_620_4 * (t - 60.0)).exp()) / GREATEST;
        let from_middle = (celsius - 35.0) / 13.0;
        let hump = if celsius > 0.0 { self.mesophilic * (-from_middle * from_middle).exp() } else { 0.0 };
        // Towards freezing all of it stops.
        (haug.max(0.0) + hump) * (celsius / 8.0).clamp(0.0, 1.0)
    }

    /// Breakdown at a moisture against a moist heap.
    pub fn moistness(&self, moisture: f64) -> f64 {
        let short = (self.moist_from - moisture).max(0.0) / self.moist_width;
        (-short * short).exp()
    }

    /// Settled over loose volume.
    pub fn settled(&self, structure: Structure) -> f64 {
        match structure {
            Structure::Porous => self.settled[0],
            Structure::Mixed => self.settled[1],
            Structure::Matting => self.settled[2],
        }
    }
}

/// Openness of sides, top and base for air, by their gaps. Estimates.
fn openness(bay: &Bay) -> [f64; 3] {
    let sides = match bay.wall.construction {
        Construction::ThinPlastic | Construction::Block => 0.15,
        Construction::TimberBoards => 0.2,
        Construction::CardboardLined | Construction::StrawBale => 0.3,
        Construction::SlattedTimber => 0.7,
        Construction::OpenHeap => 1.0,
    };
    let top = match bay.top {
        Top::Open => 1.0,
        Top::Roofed => 0.9,
        Top::Lidded => 0.35,
    };
    let base = match bay.base {
        Base::Soil => 0.25,
        Base::Slab => 0.1,
    };
    [sides, top, base]
}

/// Resistance outside the matter, m² K/W: sides and top. Walls as built (from memory: softwood 0.13, corrugated board 0.06,
/// polyethylene 0.45, straw bale 0.06, concrete 1.4 W/(m K)), films of 8 to 10 W/(m² K).
pub fn envelope_m2k_w(bay: &Bay, covered: bool) -> [f64; 2] {
    let wall = match bay.wall.construction {
        Construction::ThinPlastic => 0.003 / 0.45,
        Construction::SlattedTimber => 0.5 * 0.02 / 0.13,
        Construction::TimberBoards => 0.03 / 0.13,
        Construction::CardboardLined => 0.012 / 0.06 + 0.5 * 0.02 / 0.13,
        Construction::StrawBale => 0.45 / 0.06,
        Construction::Block => 0.1 / 1.4,
        Construction::OpenHeap => 0.0,
    };
    let over = match bay.top {
        Top::Open => 0.1,
        Top::Roofed => 0.13,
        Top::Lidded => 0.25,
    };
    [wall + 0.12, over + if covered { 0.12 } else { 0.0 }]
}
