//! The balance at one moment.

use super::{
    ACTIVITY, Balance, CORE, DEGRADED, DRAINED, EDGE, EFFECTIVE, ENTRIES, EVAPORATED, NITROGEN, RAIN,
    SPECIFIC,
};
use crate::air::{air_flow_kg_day, free_air_space, solid_m3};
use crate::heap::degraded_fraction;
use crate::heat::{KJ_DAY_PER_W, Shape, WATER_KJ_KG_K, conductivity_w_m_k, heat_capacity_kj_k};
use crate::kinetics::{air_space_factor, moisture_factor, oxygen_factor};
use crate::moisture::{drainage_kg_day, moisture_fraction, water_activity};
use crate::nitrogen::ammonia_share;
use crate::psychrometrics::{enthalpy_kj_kg, saturation_humidity};
use crate::shrinkage::resting_m3_kg;
use crate::weather::Line;

/// What the rates at one moment, and their slopes, are made of.
pub(super) struct Point<'a> {
    pub(super) balance: &'a Balance<'a>,
    pub(super) line: Line,
    pub(super) air_c: f64,
    /// Humidity of the air outside, kg/kg.
    pub(super) outside: f64,
    /// Enthalpy of the air outside, kJ/kg.
    pub(super) outside_kj: f64,
    /// Rain that falls in, kg/day.
    pub(super) rain: f64,
    pub(super) zones: [ZonePoint; 2],
    /// Volatile solids, kg.
    pub(super) volatile: f64,
    pub(super) dry: f64,
    pub(super) water: f64,
    /// Volume, m³.
    pub(super) volume: f64,
    pub(super) shape: Shape,
    /// Air through the heap, kg/day.
    pub(super) flow: f64,
    pub(super) mean_c: f64,
    pub(super) mean_space: f64,
    /// Conductivity, W/(m K), and the volume fractions it comes from.
    pub(super) conductivity: f64,
    pub(super) water_fraction: f64,
    pub(super) solid_fraction: f64,
    /// Conductances, W/K.
    pub(super) core_to_edge: f64,
    pub(super) edge_to_air: f64,
    /// Part of the core's exhaust that passes the edge, kg/day.
    pub(super) passing: f64,
    /// Specific volume, m³/kg, now and at rest.
    pub(super) specific: f64,
    pub(super) resting: f64,
    /// Volatile solids left to degrade, kg.
    pub(super) left: f64,
    pub(super) nitrogen: f64,
    pub(super) activity: f64,
    /// Mean temperature factor.
    pub(super) warmth: f64,
    pub(super) carbon_to_nitrogen: f64,
    /// Nitrogen set free, kg/day.
    pub(super) released: f64,
}

/// One zone at one moment.
#[derive(Default)]
pub(super) struct ZonePoint {
    pub(super) fast: f64,
    pub(super) slow: f64,
    pub(super) resistant: f64,
    pub(super) water: f64,
    pub(super) temperature_c: f64,
    pub(super) volatile: f64,
    pub(super) ash: f64,
    pub(super) dry: f64,
    /// Share of the heap's dry mass.
    pub(super) share: f64,
    /// Air space that counts.
    pub(super) space: f64,
    /// Air through it, kg/day.
    pub(super) air: f64,
    pub(super) kinetics: Kinetics,
    /// Humidity of saturated air, kg/kg, the share of it that the matter gives, and their product.
    pub(super) saturated: f64,
    pub(super) wetness: f64,
    pub(super) humidity: f64,
    pub(super) enthalpy: f64,
    pub(super) drainage: f64,
}

/// What holds a zone's breakdown back.
#[derive(Default)]
pub(super) struct Kinetics {
    pub(super) moisture: f64,
    pub(super) air_space: f64,
    /// Temperature factors of the community and of the fungi.
    pub(super) warmth: f64,
    pub(super) fungal: f64,
    /// Temperature factor times activity.
    pub(super) pace: f64,
    /// Breakdown with moisture, air space and oxygen to the full, kg/day.
    pub(super) unlimited: f64,
    /// Oxygen asked for with oxygen to the full, kg/day.
    pub(super) demand: f64,
    pub(super) oxygen: f64,
    /// Moisture, air space and oxygen together.
    pub(super) limits: f64,
}

impl ZonePoint {
    fn new(balance: &Balance<'_>, state: &[f64], ash: f64, specific: f64) -> Self {
        let volatile = state[0] + state[1] + state[2];
        let dry = volatile + ash;
        Self {
            fast: state[0],
            slow: state[1],
            resistant: state[2],
            water: state[3],
            temperature_c: state[4],
            volatile,
            ash,
            dry,
            space: balance.air_kept * free_air_space(specific * dry, state[3], volatile, ash),
            ..Self::default()
        }
    }

    /// Works out what depends on the air that passes.
    fn ventilate(&mut self, balance: &Balance<'_>, air: f64, activity: f64) {
        let p = balance.p;
        let (dry, water, temperature_c) = (self.dry, self.water, self.temperature_c);
        let k = &mut self.kinetics;
        k.moisture = moisture_factor(moisture_fraction(water, dry));
        k.air_space = air_space_factor(self.space);
        k.warmth = p.compost.factor(temperature_c);
        k.fungal = p.fungal.factor(temperature_c);
        k.pace = k.warmth * activity;
        k.unlimited = (p.fast_per_day * self.fast + p.slow_per_day * self.slow) * k.pace
            + p.resistant_per_day * self.resistant * k.fungal;
        k.demand = p.oxygen_kg_kg * k.unlimited * k.moisture * k.air_space;
        k.oxygen = oxygen_factor(air, k.demand);
        k.limits = k.moisture * k.air_space * k.oxygen;
        self.air = air;
        self.wetness = water_activity(p, water, dry);
        self.saturated = saturation_humidity(temperature_c);
        self.humidity = self.wetness * self.saturated;
        self.enthalpy = enthalpy_kj_kg(temperature_c, self.humidity);
        self.drainage = drainage_kg_day(p, water, dry);
    }

    /// Volatile solids broken down, kg/day.
    pub(super) fn degraded(&self) -> f64 {
        self.kinetics.unlimited * self.kinetics.limits
    }

    /// Days at the optimum in a day.
    pub(super) fn effective(&self) -> f64 {
        self.kinetics.pace * self.kinetics.limits
    }

    /// Breakdown of each pool, kg/day.
    fn pools(&self, balance: &Balance<'_>) -> [f64; 3] {
        let (p, k) = (balance.p, &self.kinetics);
        [
            p.fast_per_day * self.fast * k.pace * k.limits,
            p.slow_per_day * self.slow * k.pace * k.limits,
            p.resistant_per_day * self.resistant * k.fungal * k.limits,
        ]
    }

    /// Heat capacity, kJ/K.
    pub(super) fn capacity(&self) -> f64 {
        heat_capacity_kj_k(self.dry, self.ash, self.water)
    }
}

impl<'a> Point<'a> {
    /// The balance on `day` in the state `y`.
    pub(super) fn new(balance: &'a Balance<'a>, day: f64, y: &[f64; ENTRIES]) -> Self {
        let (p, around) = (balance.p, &balance.around);
        let line = around.spell.line(day);
        let (air_c, rain_mm) = line.at(day);
        let outside = p.air_humidity * saturation_humidity(air_c);
        let (specific, activity, nitrogen) = (y[SPECIFIC], y[ACTIVITY], y[NITROGEN]);
        let mut core = ZonePoint::new(balance, &y[CORE..CORE + 5], balance.ash_kg[0], specific);
        let mut edge = ZonePoint::new(balance, &y[EDGE..EDGE + 5], balance.ash_kg[1], specific);
        let dry = core.dry + edge.dry;
        core.share = core.dry / dry;
        edge.share = edge.dry / dry;
        let volume = specific * dry;
        let shape = Shape::new(around.bay, volume, p.edge_m);
        let mean_c = core.share * core.temperature_c + edge.share * edge.temperature_c;
        let mean_space = core.share * core.space + edge.share * edge.space;
        let flow = air_flow_kg_day(p, &around.openness, &shape, mean_c - air_c, mean_space);
        let core_flow = p.core_air_share * core.share * flow;
        core.ventilate(balance, core_flow, activity);
        edge.ventilate(balance, flow - core_flow, activity);

        let (volatile, water) = (core.volatile + edge.volatile, core.water + edge.water);
        let solid_fraction = solid_m3(volatile, core.ash + edge.ash) / volume;
        let water_fraction = (water / 1000.0 / volume).min(1.0);
        let conductivity = conductivity_w_m_k(p, water_fraction, solid_fraction);
        let left = core.fast + core.slow + edge.fast + edge.slow;
        let degraded = degraded_fraction(left, balance.degradable_kg);
        let carbon = balance.carbon_kg_kg[0] * core.volatile + balance.carbon_kg_kg[1] * edge.volatile;
        Self {
            balance,
            line,
            air_c,
            outside,
            outside_kj: enthalpy_kj_kg(air_c, outside),
            rain: around.rain_share * p.rain_intake * rain_mm * shape.top_m2(),
            volatile,
            dry,
            water,
            volume,
            shape,
            flow,
            mean_c,
            mean_space,
            conductivity,
            water_fraction,
            solid_fraction,
            core_to_edge: shape.core_to_edge_w_k(p, conductivity),
            edge_to_air: shape.edge_to_air_w_k(&around.envelope, conductivity),
            passing: p.exhaust_through_edge * core.air,
            specific,
            resting: resting_m3_kg(p, balance.settled_m3_kg, degraded, dry + water, shape.top_m2()),
            left,
            nitrogen,
            activity,
            warmth: core.share * core.kinetics.warmth + edge.share * edge.kinetics.warmth,
            carbon_to_nitrogen: carbon / nitrogen,
            released: nitrogen * (core.degraded() + edge.degraded()) / volatile,
            zones: [core, edge],
        }
    }

    /// How fast each entry of the state changes.
    pub(super) fn rates(&self) -> [f64; ENTRIES] {
        let p = self.balance.p;
        let [core, edge] = &self.zones;
        // The part of the core's exhaust that passes the edge leaves it at the edge's state.
        let condensed = self.passing * (core.humidity - edge.humidity).max(0.0);
        let given_kj = self.passing * (core.enthalpy - edge.enthalpy).max(0.0);
        let between_kj = KJ_DAY_PER_W * self.core_to_edge * (core.temperature_c - edge.temperature_c);
        let out_kj = KJ_DAY_PER_W * self.edge_to_air * (edge.temperature_c - self.air_c);
        let core_evaporated = core.air * (core.humidity - self.outside);
        let edge_evaporated = edge.air * (edge.humidity - self.outside);
        let into_core = p.drainage_into_core * edge.drainage;

        let mut rate = [0.0; ENTRIES];
        for (offset, zone) in [(CORE, core), (EDGE, edge)] {
            for (rate, broken_down) in rate[offset..].iter_mut().zip(zone.pools(self.balance)) {
                *rate = -broken_down;
            }
        }
        rate[CORE + 3] =
            p.metabolic_water_kg_kg * core.degraded() - core_evaporated - core.drainage + into_core;
        rate[CORE + 4] =
            (p.heat_kj_kg * core.degraded() - core.air * (core.enthalpy - self.outside_kj) - between_kj)
                / core.capacity();
        rate[EDGE + 3] = p.metabolic_water_kg_kg * edge.degraded() + condensed - edge_evaporated + self.rain
            - edge.drainage;
        rate[EDGE + 4] = (p.heat_kj_kg * edge.degraded() + given_kj
            - edge.air * (edge.enthalpy - self.outside_kj)
            + between_kj
            - out_kj
            - WATER_KJ_KG_K * self.rain * (edge.temperature_c - self.air_c))
            / edge.capacity();
        rate[SPECIFIC] = -p.settling_per_day * (self.specific - self.resting).max(0.0);
        rate[ACTIVITY] = p.growth_per_day * self.warmth * self.activity * (1.0 - self.activity);
        rate[NITROGEN] = -ammonia_share(p, self.carbon_to_nitrogen) * self.released;
        rate[DEGRADED] = core.degraded() + edge.degraded();
        rate[EVAPORATED] = core_evaporated + edge_evaporated - condensed;
        rate[DRAINED] = core.drainage + edge.drainage - into_core;
        rate[RAIN] = self.rain;
        rate[EFFECTIVE] = core.share * core.effective() + edge.share * edge.effective();
        rate
    }
}
