//! The right-hand side: how fast everything in a heap changes. Equations in `EQUATIONS.md` beside this crate.

use crate::air::{Openness, air_flow_kg_day, free_air_space, solid_m3};
use crate::bay::{Bay, Top};
use crate::heap::{Heap, Zone, degraded_fraction};
use crate::heat::{Envelope, KJ_DAY_PER_W, Shape, WATER_KJ_KG_K, conductivity_w_m_k, heat_capacity_kj_k};
use crate::kinetics::{air_space_factor, moisture_factor, oxygen_factor};
use crate::moisture::{drainage_kg_day, moisture_fraction, water_activity};
use crate::nitrogen::ammonia_share;
use crate::parameters::Parameters;
use crate::psychrometrics::{enthalpy_kj_kg, saturation_humidity};
use crate::rosenbrock::{Linear, System};
use crate::shrinkage::resting_m3_kg;
use crate::weather::Spell;

/// States that drive the balance: two zones of five, specific volume and activity.
pub const STATES: usize = 12;
/// States, and behind them what follows: nitrogen and integrals.
pub const ENTRIES: usize = 18;

/// Offset of the core's five states: fast, slow, resistant, water (kg), temperature (°C).
pub const CORE: usize = 0;
/// Offset of the edge's five states.
pub const EDGE: usize = 5;
/// Specific volume, m³/kg dry.
pub const SPECIFIC: usize = 10;
/// Activity of the community, 0 to 1.
pub const ACTIVITY: usize = 11;
/// Nitrogen, kg.
pub const NITROGEN: usize = 12;
/// Volatile solids degraded, kg.
pub const DEGRADED: usize = 13;
/// Water evaporated, kg.
pub const EVAPORATED: usize = 14;
/// Water drained, kg.
pub const DRAINED: usize = 15;
/// Rain taken in, kg.
pub const RAIN: usize = 16;
/// Days at the optimum, by dry mass.
pub const EFFECTIVE: usize = 17;

/// A heap's surroundings between two events.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings<'a> {
    /// The bay.
    pub bay: &'a Bay,
    /// Resistances.
    pub envelope: Envelope,
    /// Openness.
    pub openness: Openness,
    /// Share of the rain that falls in.
    pub rain_share: f64,
    /// Weather.
    pub spell: Spell<'a>,
}

impl<'a> Surroundings<'a> {
    /// Surroundings of a heap in `bay`, covered or not.
    #[must_use]
    pub fn new(bay: &'a Bay, covered: bool, spell: Spell<'a>) -> Self {
        Self {
            bay,
            envelope: Envelope::new(bay, covered),
            openness: Openness::new(bay, covered),
            rain_share: if bay.top == Top::Open && !covered { 1.0 } else { 0.0 },
            spell,
        }
    }
}

/// The balance of one heap between two events.
#[derive(Clone, Copy, Debug)]
pub struct Balance<'a> {
    p: &'a Parameters,
    around: Surroundings<'a>,
    ash_kg: [f64; 2],
    carbon_kg_kg: [f64; 2],
    settled_m3_kg: f64,
    degradable_kg: f64,
    air_kept: f64,
    /// Mass that does not matter, kg: a ten-thousandth of a small heap, ten grams of a large one.
    slight_kg: f64,
}

/// One zone's rates, found before the zones exchange anything.
#[derive(Clone, Copy, Debug, Default)]
struct ZoneRates {
    fast: f64,
    slow: f64,
    resistant: f64,
    effective: f64,
    /// Temperature factor.
    warmth: f64,
    humidity: f64,
    enthalpy: f64,
    air_kg_day: f64,
    drainage: f64,
}

impl ZoneRates {
    fn degraded(&self) -> f64 {
        self.fast + self.slow + self.resistant
    }
}

impl<'a> Balance<'a> {
    /// The balance of `heap` in its surroundings.
    #[must_use]
    pub fn new(p: &'a Parameters, around: Surroundings<'a>, heap: &Heap) -> Self {
        let origin = &heap.origin;
        Self {
            p,
            around,
            ash_kg: [heap.core.ash_kg, heap.edge.ash_kg],
            carbon_kg_kg: [heap.core.carbon_kg_kg, heap.edge.carbon_kg_kg],
            settled_m3_kg: origin.settled_m3 / origin.dry_kg,
            degradable_kg: origin.degradable_kg,
            air_kept: 1.0 - p.matting_loss * origin.matting_kg / origin.dry_kg,
            slight_kg: (1e-4 * heap.dry_kg()).min(1e-2),
        }
    }

    /// State vector of `heap`; the integrals start at 0.
    #[must_use]
    pub fn state(heap: &Heap) -> [f64; ENTRIES] {
        let mut y = [0.0; ENTRIES];
        for (offset, zone) in [(CORE, &heap.core), (EDGE, &heap.edge)] {
            y[offset..offset + 5].copy_from_slice(&[
                zone.fast_kg,
                zone.slow_kg,
                zone.resistant_kg,
                zone.water_kg,
                zone.temperature_c,
            ]);
        }
        y[SPECIFIC] = heap.specific_m3_kg;
        y[NITROGEN] = heap.nitrogen_kg;
        y[ACTIVITY] = heap.activity;
        y
    }

    /// `heap` brought to the state `y`; seeds as they are.
    #[must_use]
    pub fn heap(heap: &Heap, y: &[f64; ENTRIES]) -> Heap {
        let zone = |offset: usize, zone: &Zone| Zone {
            fast_kg: y[offset],
            slow_kg: y[offset + 1],
            resistant_kg: y[offset + 2],
            water_kg: y[offset + 3],
            temperature_c: y[offset + 4],
            ..*zone
        };
        Heap {
            core: zone(CORE, &heap.core),
            edge: zone(EDGE, &heap.edge),
            specific_m3_kg: y[SPECIFIC],
            nitrogen_kg: y[NITROGEN],
            activity: y[ACTIVITY],
            origin: heap.origin,
        }
    }

    fn zone_rates(
        &self,
        zone: &[f64],
        ash_kg: f64,
        air_space: f64,
        air_kg_day: f64,
        activity: f64,
    ) -> ZoneRates {
        let p = self.p;
        let [fast, slow, resistant, water, temperature] = [zone[0], zone[1], zone[2], zone[3], zone[4]];
        let dry = fast + slow + resistant + ash_kg;
        let limits = moisture_factor(moisture_fraction(water, dry)) * air_space_factor(air_space);
        let warmth = p.compost.factor(temperature);
        let pace = warmth * activity;
        let demand = (p.fast_per_day * fast + p.slow_per_day * slow) * pace * limits
            + p.resistant_per_day * resistant * p.fungal.factor(temperature) * limits;
        let limits = limits * oxygen_factor(air_kg_day, p.oxygen_kg_kg * demand);
        let humidity = water_activity(p, water, dry) * saturation_humidity(temperature);
        ZoneRates {
            fast: p.fast_per_day * fast * pace * limits,
            slow: p.slow_per_day * slow * pace * limits,
            resistant: p.resistant_per_day * resistant * p.fungal.factor(temperature) * limits,
            effective: pace * limits,
            warmth,
            humidity,
            enthalpy: enthalpy_kj_kg(temperature, humidity),
            air_kg_day,
            drainage: drainage_kg_day(p, water, dry),
        }
    }
}

impl System<STATES, ENTRIES> for Balance<'_> {
    fn absolute_tolerance(&self, i: usize) -> f64 {
        match i {
            4 | 9 | EFFECTIVE => 1e-2,
            SPECIFIC => 1e-6,
            NITROGEN => 1e-2 * self.slight_kg,
            ACTIVITY => 1e-4,
            _ => self.slight_kg,
        }
    }

    fn smooth_until(&self, day: f64) -> f64 {
        self.around.spell.straight_until(day)
    }

    /// Slopes by forward differences.
    fn linearised(&self, day: f64, y: &[f64; ENTRIES]) -> Linear<STATES, ENTRIES> {
        let rate = self.derivative(day, y);
        let slopes = |shifted: [f64; ENTRIES], by: f64| -> [f64; ENTRIES] {
            std::array::from_fn(|i| (shifted[i] - rate[i]) / by)
        };
        let by = |j: usize| {
            let mut shifted = *y;
            shifted[j] += 1e-7 * y[j].abs().max(self.absolute_tolerance(j)).max(1e-3);
            slopes(self.derivative(day, &shifted), shifted[j] - y[j])
        };
        let by_state = std::array::from_fn(by);
        let mut by_itself = [0.0; ENTRIES];
        by_itself[NITROGEN] = by(NITROGEN)[NITROGEN];
        let days = 1e-5;
        Linear { rate, by_state, by_itself, by_time: slopes(self.derivative(day + days, y), days) }
    }

    fn derivative(&self, day: f64, y: &[f64; ENTRIES]) -> [f64; ENTRIES] {
        let p = self.p;
        let (air_c, rain_mm) = self.around.spell.line(day).at(day);
        let core = &y[CORE..CORE + 5];
        let edge = &y[EDGE..EDGE + 5];
        let volatile = [core[0] + core[1] + core[2], edge[0] + edge[1] + edge[2]];
        let dry = [volatile[0] + self.ash_kg[0], volatile[1] + self.ash_kg[1]];
        let all_dry = dry[0] + dry[1];
        let volume = y[SPECIFIC] * all_dry;
        let shape = Shape::new(self.around.bay, volume, p.edge_m);

        let space = [
            self.air_kept * free_air_space(y[SPECIFIC] * dry[0], core[3], volatile[0], self.ash_kg[0]),
            self.air_kept * free_air_space(y[SPECIFIC] * dry[1], edge[3], volatile[1], self.ash_kg[1]),
        ];
        let core_share = dry[0] / all_dry;
        let edge_share = dry[1] / all_dry;
        let mean_c = core_share * core[4] + edge_share * edge[4];
        let mean_space = core_share * space[0] + edge_share * space[1];
        let flow = air_flow_kg_day(p, &self.around.openness, &shape, mean_c - air_c, mean_space);
        let core_flow = p.core_air_share * core_share * flow;
        let c = self.zone_rates(core, self.ash_kg[0], space[0], core_flow, y[ACTIVITY]);
        let e = self.zone_rates(edge, self.ash_kg[1], space[1], flow - core_flow, y[ACTIVITY]);

        let outside = p.air_humidity * saturation_humidity(air_c);
        let outside_kj = enthalpy_kj_kg(air_c, outside);
        // The part of the core's exhaust that passes the edge leaves it at the edge's state.
        let passing = p.exhaust_through_edge * c.air_kg_day;
        let condensed = passing * (c.humidity - e.humidity).max(0.0);
        let given_kj = passing * (c.enthalpy - e.enthalpy).max(0.0);

        let water = core[3] + edge[3];
        let solid = solid_m3(volatile[0] + volatile[1], self.ash_kg[0] + self.ash_kg[1]);
        let conductivity = conductivity_w_m_k(p, (water / 1000.0 / volume).min(1.0), solid / volume);
        let between_kj = KJ_DAY_PER_W * shape.core_to_edge_w_k(p, conductivity) * (core[4] - edge[4]);
        let out_kj =
            KJ_DAY_PER_W * shape.edge_to_air_w_k(&self.around.envelope, conductivity) * (edge[4] - air_c);
        let rain = self.around.rain_share * p.rain_intake * rain_mm * shape.top_m2();

        let core_evaporated = c.air_kg_day * (c.humidity - outside);
        let edge_evaporated = e.air_kg_day * (e.humidity - outside);
        let into_core = p.drainage_into_core * e.drainage;
        let degraded = c.degraded() + e.degraded();

        let left = core[0] + core[1] + edge[0] + edge[1];
        let resting = resting_m3_kg(
            p,
            self.settled_m3_kg,
            degraded_fraction(left, self.degradable_kg),
            all_dry + water,
            shape.top_m2(),
        );
        let carbon = self.carbon_kg_kg[0] * volatile[0] + self.carbon_kg_kg[1] * volatile[1];
        let released = y[NITROGEN] * degraded / (volatile[0] + volatile[1]);

        let mut rate = [0.0; ENTRIES];
        rate[CORE] = -c.fast;
        rate[CORE + 1] = -c.slow;
        rate[CORE + 2] = -c.resistant;
        rate[CORE + 3] = p.metabolic_water_kg_kg * c.degraded() - core_evaporated - c.drainage + into_core;
        rate[CORE + 4] =
            (p.heat_kj_kg * c.degraded() - c.air_kg_day * (c.enthalpy - outside_kj) - between_kj)
                / heat_capacity_kj_k(dry[0], self.ash_kg[0], core[3]);
        rate[EDGE] = -e.fast;
        rate[EDGE + 1] = -e.slow;
        rate[EDGE + 2] = -e.resistant;
        rate[EDGE + 3] =
            p.metabolic_water_kg_kg * e.degraded() + condensed - edge_evaporated + rain - e.drainage;
        rate[EDGE + 4] = (p.heat_kj_kg * e.degraded() + given_kj - e.air_kg_day * (e.enthalpy - outside_kj)
            + between_kj
            - out_kj
            - WATER_KJ_KG_K * rain * (edge[4] - air_c))
            / heat_capacity_kj_k(dry[1], self.ash_kg[1], edge[3]);
        rate[SPECIFIC] = -p.settling_per_day * (y[SPECIFIC] - resting).max(0.0);
        rate[NITROGEN] = -ammonia_share(p, carbon / y[NITROGEN]) * released;
        let warmth = core_share * c.warmth + edge_share * e.warmth;
        rate[ACTIVITY] = p.growth_per_day * warmth * y[ACTIVITY] * (1.0 - y[ACTIVITY]);
        rate[DEGRADED] = degraded;
        rate[EVAPORATED] = core_evaporated + edge_evaporated - condensed;
        rate[DRAINED] = c.drainage + e.drainage - into_core;
        rate[RAIN] = rain;
        rate[EFFECTIVE] = core_share * c.effective + edge_share * e.effective;
        rate
    }
}
