//! Every constant of the balance in one place, with its source.

use serde::{Deserialize, Serialize};

use crate::kinetics::Cardinal;

/// Constants of the heat, water and mass balance.
///
/// One set serves every bay, season and mix: what differs between a plastic bin and a timber bay is size and wall. Values
/// marked *fitted* were chosen together, each inside the range given, so that this set gives the patterns of common practice
/// that `tests/practice.rs` lists and comes close to the two published series in `tests/series` of the repository.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Parameters {
    /// Rate of the readily degradable pool at the optimum, 1/day. Fitted, 0.05-0.6.
    pub fast_per_day: f64,
    /// Rate of the slowly degradable pool at the optimum, 1/day. Fitted, 0.005-0.03; whole heaps are reported at 0.02-0.06
    /// for both pools together (from memory: studies of organic matter loss by Bernal, Paredes and others).
    pub slow_per_day: f64,
    /// Growth of the community's activity at the optimum, 1/day. Fitted, 0.5-12, with the activity of fresh material, to the
    /// days that published heaps took to warm.
    pub growth_per_day: f64,
    /// Rate of the resistant pool at the fungal optimum, 1/day. Fitted, 0.0001-0.002.
    pub resistant_per_day: f64,
    /// Cardinal temperatures of breakdown, °C.
    ///
    /// Equation of Rosso and others 1993. The optimum is Richard & Walker's 58.6 °C rounded (from memory; public model code
    /// read holds 55 to 59). The ends are fitted, -4 to 5 and 76 to 84: theirs, 5 and 71.6, would stop the bays of 3 m³ that
    /// reach 70 °C (common practice, no source) and spring heaps that start in the cold.
    pub compost: Cardinal,
    /// Cardinal temperatures of the fungi that go on with the resistant pool once a heap has cooled, °C. Estimate.
    pub fungal: Cardinal,
    /// Heat of breakdown, kJ per kg volatile solids. Fitted, 18 000-22 000; 17 400-24 700 in Haug 1993 (from memory), 17 500
    /// with a range of 9 000-23 000 in the data of a thesis (Cotera 2024, University of Toronto, read).
    pub heat_kj_kg: f64,
    /// Oxygen taken up, kg per kg volatile solids: the heat over 14 MJ per kg oxygen (Finstein, from memory); 1.19-1.74 in
    /// Cotera 2024 (read).
    pub oxygen_kg_kg: f64,
    /// Water made, kg per kg volatile solids: 0.5-0.6 in Haug 1993 (from memory).
    pub metabolic_water_kg_kg: f64,
    /// Air through one square metre of fully open face of a heap no warmer than the air, with all its volume open, kg per
    /// day. Fitted, 2-140.
    pub air_flow_kg_m2_day: f64,
    /// Growth of that flow for each 40 °C that the heap is warmer than the air. Fitted, 0-6.
    pub buoyancy: f64,
    /// Core's air flow for its volume, as a share of the heap's. Fitted, 0.12-1.
    pub core_air_share: f64,
    /// Share of the core's exhaust that leaves through the edge and gives it vapour and heat. Fitted, 0.1-0.95.
    pub exhaust_through_edge: f64,
    /// Share of the rain on an open heap that soaks in; the rest runs off or dries from the surface. Fitted, 0.25-0.6.
    pub rain_intake: f64,
    /// Relative humidity of outside air: a temperate yearly mean (from memory).
    pub air_humidity: f64,
    /// Water to dry mass at which exhaust is 1 − 1/e saturated, kg/kg. Estimate.
    pub drying_kg_kg: f64,
    /// Edge's thickness, m. Fitted, 0.1-0.22.
    pub edge_m: f64,
    /// Core's mean path to its surface, as a share of its volume over its surface. Fitted between 1/3 for a slab and 3/5 for
    /// a sphere (conduction with a uniform heat source, computed).
    pub core_path: f64,
    /// Conductivity of the matrix without water and solids, W/(m K). Fitted, 0.03-0.12; see [`crate::heat`] for the source
    /// of the three.
    pub conductivity_base: f64,
    /// Growth of conductivity with the volume fraction of water, W/(m K). Fitted, 0.15-0.6.
    pub conductivity_water: f64,
    /// Growth of conductivity with the volume fraction of solids, W/(m K). Estimate.
    pub conductivity_solid: f64,
    /// Water that a kg of dry matter holds against gravity, kg: 75 % moisture. Estimate.
    pub field_capacity_kg_kg: f64,
    /// Rate at which water over field capacity runs down, 1/day. Estimate.
    pub drainage_per_day: f64,
    /// Share of the edge's drainage that enters the core. Estimate.
    pub drainage_into_core: f64,
    /// Rate of settling, 1/day. Fitted, 0.1-0.9.
    pub settling_per_day: f64,
    /// Dry bulk density of fully broken-down compost under no load, kg/m³. Fitted, 220-400; 100-400 with load as found
    /// (Agnew & Leonard 2003, Compost Sci. Util. 11:238-264, read as quoted).
    pub fine_dry_density_kg_m3: f64,
    /// Overburden that halves the specific volume, kPa. Fitted, 6-40.
    pub overburden_kpa: f64,
    /// Loss of effective air space where all dry matter mats. Estimate.
    pub matting_loss: f64,
    /// Share of the nitrogen released that leaves as ammonia from a mix with no carbon to spare. Estimate, see
    /// [`crate::nitrogen`].
    pub ammonia_share: f64,
    /// C:N at which half of that leaves. Estimate.
    pub ammonia_c_to_n: f64,
    /// Width of that fall in C:N. Estimate.
    pub ammonia_width: f64,
    /// Growth of the volume on a turn. Common practice, no source.
    pub turn_fluff: f64,
    /// Share of the heap's warmth over the air that a turn loses. Common practice, no source.
    pub turn_cooling: f64,
    /// Fall of the volume on firming. Estimate.
    pub firming_loss: f64,
}

impl Default for Parameters {
    fn default() -> Self {
        Self {
            fast_per_day: 0.107,
            slow_per_day: 0.03,
            growth_per_day: 6.1,
            resistant_per_day: 0.002,
            compost: Cardinal { min_c: 2.2, opt_c: 59.0, max_c: 78.3 },
            fungal: Cardinal { min_c: 2.0, opt_c: 28.0, max_c: 45.0 },
            heat_kj_kg: 22_000.0,
            oxygen_kg_kg: 1.57,
            metabolic_water_kg_kg: 0.55,
            air_flow_kg_m2_day: 105.0,
            buoyancy: 0.8,
            core_air_share: 0.19,
            exhaust_through_edge: 0.95,
            rain_intake: 0.25,
            air_humidity: 0.78,
            drying_kg_kg: 0.25,
            edge_m: 0.193,
            core_path: 0.49,
            conductivity_base: 0.094,
            conductivity_water: 0.384,
            conductivity_solid: 0.20,
            field_capacity_kg_kg: 3.0,
            drainage_per_day: 0.5,
            drainage_into_core: 0.5,
            settling_per_day: 0.83,
            fine_dry_density_kg_m3: 236.0,
            overburden_kpa: 8.4,
            matting_loss: 0.6,
            ammonia_share: 0.6,
            ammonia_c_to_n: 18.0,
            ammonia_width: 4.0,
            turn_fluff: 1.15,
            turn_cooling: 0.4,
            firming_loss: 0.1,
        }
    }
}
