//! Exact slopes of the rates over the driving states and over time, by the rules of differentiation.
//!
//! One quantity of [`Point`] after the other, in its order; a test holds them to differences of the rates.

use std::array::from_fn;
use std::ops::{Add, Mul, Sub};

use super::point::{Point, ZonePoint};
use super::{
    ACTIVITY, CORE, DEGRADED, DRAINED, EDGE, EFFECTIVE, ENTRIES, EVAPORATED, NITROGEN, RAIN, SPECIFIC, STATES,
};
use crate::heat::{KJ_DAY_PER_W, WATER_KJ_KG_K};
use crate::kinetics::{air_space_slope, moisture_slope, oxygen_slopes};
use crate::nitrogen::{ammonia_share, ammonia_slope};
use crate::psychrometrics::saturation_humidity_slope;
use crate::rosenbrock::Linear;
use crate::shrinkage::resting_slopes;

/// Place of the slope over time, behind those over the states.
const TIME: usize = STATES;

/// Slopes of one quantity.
#[derive(Clone, Copy)]
struct Slopes([f64; STATES + 1]);

impl Slopes {
    /// Of what does not change.
    const FLAT: Self = Self([0.0; STATES + 1]);

    /// Of a state itself, or of time.
    fn of(state: usize) -> Self {
        Self::FLAT.and(state, 1.0)
    }

    /// Of a zone's dry matter, or its volatile solids.
    fn of_dry(offset: usize) -> Self {
        Self::FLAT.and(offset, 1.0).and(offset + 1, 1.0).and(offset + 2, 1.0)
    }

    /// These, and a slope over one state more.
    fn and(mut self, state: usize, slope: f64) -> Self {
        self.0[state] += slope;
        self
    }
}

impl Add for Slopes {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(from_fn(|i| self.0[i] + other.0[i]))
    }
}

impl Sub for Slopes {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(from_fn(|i| self.0[i] - other.0[i]))
    }
}

impl Mul<f64> for Slopes {
    type Output = Self;

    fn mul(self, factor: f64) -> Self {
        Self(self.0.map(|slope| slope * factor))
    }
}

/// Slopes of what a zone exchanges.
struct ZoneSlopes {
    pools: [Slopes; 3],
    degraded: Slopes,
    effective: Slopes,
    warmth: f64,
    humidity: Slopes,
    enthalpy: Slopes,
    drainage: Slopes,
    /// Of the vapour and of the heat that its air takes out, over those of the air outside.
    evaporated: Slopes,
    carried: Slopes,
}

impl Point<'_> {
    /// The rates and their slopes.
    pub(super) fn linearised(&self) -> Linear<STATES, ENTRIES> {
        let p = self.balance.p;
        let around = &self.balance.around;
        let [core, edge] = &self.zones;
        let air_c = Slopes::FLAT.and(TIME, self.line.air_c_day);
        let rain_share = around.rain_share * p.rain_intake * self.shape.top_m2();
        let rain = Slopes::FLAT.and(TIME, rain_share * self.line.rain_mm_day);
        let outside_slope =
            saturation_humidity_slope(self.air_c, self.outside / p.air_humidity) * p.air_humidity;
        let outside = air_c * outside_slope;
        let outside_kj = air_c * enthalpy_slope(self.air_c, self.outside, outside_slope);

        let core_dry = Slopes::of_dry(CORE);
        let dry = core_dry + Slopes::of_dry(EDGE);
        let core_share = (core_dry - dry * core.share) * (1.0 / self.dry);
        let volume = (dry * self.specific).and(SPECIFIC, self.dry);
        let height = volume * (1.0 / self.shape.top_m2());
        let space = [self.space_slopes(CORE, core), self.space_slopes(EDGE, edge)];
        let mean_c = (core_share * (core.temperature_c - edge.temperature_c))
            .and(CORE + 4, core.share)
            .and(EDGE + 4, edge.share);
        let mean_space =
            core_share * (core.space - edge.space) + space[0] * core.share + space[1] * edge.share;
        let flow = self.flow_slopes(height, mean_c - air_c, mean_space);
        let core_flow = (core_share * self.flow + flow * core.share) * p.core_air_share;
        let outside = (outside, outside_kj);
        let c = self.zone_slopes(CORE, core, space[0], core_flow, outside);
        let e = self.zone_slopes(EDGE, edge, space[1], flow - core_flow, outside);

        let (mut condensed, mut given) = (Slopes::FLAT, Slopes::FLAT);
        let passing = core_flow * p.exhaust_through_edge;
        if core.humidity > edge.humidity {
            condensed = passing * (core.humidity - edge.humidity) + (c.humidity - e.humidity) * self.passing;
        }
        if core.enthalpy > edge.enthalpy {
            given = passing * (core.enthalpy - edge.enthalpy) + (c.enthalpy - e.enthalpy) * self.passing;
        }
        let conductivity = self.conductivity_slopes(dry, volume);
        let (by_height, by_conductivity) = self.shape.core_to_edge_slopes(p, self.conductivity);
        let between = ((height * by_height + conductivity * by_conductivity)
            * (core.temperature_c - edge.temperature_c))
            .and(CORE + 4, self.core_to_edge)
            .and(EDGE + 4, -self.core_to_edge)
            * KJ_DAY_PER_W;
        let (by_height, by_conductivity) = self.shape.edge_to_air_slopes(&around.envelope, self.conductivity);
        let over_air_c = edge.temperature_c - self.air_c;
        let edge_over_air = Slopes::of(EDGE + 4) - air_c;
        let out = ((height * by_height + conductivity * by_conductivity) * over_air_c
            + edge_over_air * self.edge_to_air)
            * KJ_DAY_PER_W;
        let rained = (rain * over_air_c + edge_over_air * self.rain) * WATER_KJ_KG_K;
        let into_core = e.drainage * p.drainage_into_core;
        let degraded = c.degraded + e.degraded;
        let warmth = (core_share * (core.kinetics.warmth - edge.kinetics.warmth))
            .and(CORE + 4, core.share * c.warmth)
            .and(EDGE + 4, edge.share * e.warmth);

        let rate = self.rates();
        let mut rows = [Slopes::FLAT; ENTRIES];
        for pool in 0..3 {
            rows[CORE + pool] = c.pools[pool] * -1.0;
            rows[EDGE + pool] = e.pools[pool] * -1.0;
        }
        rows[CORE + 3] = c.degraded * p.metabolic_water_kg_kg - c.evaporated - c.drainage + into_core;
        rows[EDGE + 3] = e.degraded * p.metabolic_water_kg_kg + condensed - e.evaporated + rain - e.drainage;
        let heating = c.degraded * p.heat_kj_kg - c.carried - between;
        rows[CORE + 4] = warming(CORE, core, heating, rate[CORE + 4]);
        let heating = e.degraded * p.heat_kj_kg + given - e.carried + between - out - rained;
        rows[EDGE + 4] = warming(EDGE, edge, heating, rate[EDGE + 4]);
        rows[SPECIFIC] = self.settling_slopes(dry);
        rows[ACTIVITY] = ((warmth * (self.activity * (1.0 - self.activity)))
            .and(ACTIVITY, self.warmth * (1.0 - 2.0 * self.activity)))
            * p.growth_per_day;
        let (nitrogen, by_nitrogen) = self.nitrogen_slopes(dry, degraded);
        rows[NITROGEN] = nitrogen;
        rows[DEGRADED] = degraded;
        rows[EVAPORATED] = c.evaporated + e.evaporated - condensed;
        rows[DRAINED] = c.drainage + e.drainage - into_core;
        rows[RAIN] = rain;
        rows[EFFECTIVE] = core_share * (core.effective() - edge.effective())
            + c.effective * core.share
            + e.effective * edge.share;
        let mut by_itself = [0.0; ENTRIES];
        by_itself[NITROGEN] = by_nitrogen;
        Linear {
            rate,
            by_state: from_fn(|state| from_fn(|entry| rows[entry].0[state])),
            by_itself,
            by_time: from_fn(|entry| rows[entry].0[TIME]),
        }
    }

    /// Of a zone's air space.
    fn space_slopes(&self, offset: usize, zone: &ZonePoint) -> Slopes {
        let kept = self.balance.air_kept;
        if zone.space <= 0.0 {
            return Slopes::FLAT;
        }
        let volume = self.specific * zone.dry;
        let filled = 1.0 - zone.space / kept;
        (Slopes::of_dry(offset) * (filled / zone.dry - 1e-3 / volume))
            .and(offset + 3, -1e-3 / volume)
            .and(SPECIFIC, filled / self.specific)
            * kept
    }

    /// Of the air through the heap.
    fn flow_slopes(&self, height: Slopes, above_air: Slopes, mean_space: Slopes) -> Slopes {
        let p = self.balance.p;
        let open = &self.balance.around.openness;
        let sides = 2.0 * (self.shape.length_m + self.shape.width_m) * open.side;
        let area = sides * self.shape.height_m + (open.top + open.base) * self.shape.top_m2();
        let above_air_c = self.mean_c - self.air_c;
        let draught = 1.0 + p.buoyancy * above_air_c.max(0.0) / 40.0;
        let buoyancy = if above_air_c > 0.0 { p.buoyancy / 40.0 } else { 0.0 };
        (height * (sides * draught * self.mean_space)
            + above_air * (area * buoyancy * self.mean_space)
            + mean_space * (area * draught))
            * p.air_flow_kg_m2_day
    }

    fn conductivity_slopes(&self, dry: Slopes, volume: Slopes) -> Slopes {
        let p = self.balance.p;
        let mut slopes = (dry * 1e-3 - volume * self.solid_fraction) * p.conductivity_solid;
        if self.water_fraction < 1.0 {
            slopes = slopes - volume * (self.water_fraction * p.conductivity_water);
            slopes = slopes.and(CORE + 3, 1e-3 * p.conductivity_water);
            slopes = slopes.and(EDGE + 3, 1e-3 * p.conductivity_water);
        }
        slopes * (1.0 / self.volume)
    }

    fn zone_slopes(
        &self,
        offset: usize,
        zone: &ZonePoint,
        space: Slopes,
        air: Slopes,
        (outside, outside_kj): (Slopes, Slopes),
    ) -> ZoneSlopes {
        let p = self.balance.p;
        let k = &zone.kinetics;
        let (dry_kg, water_kg, temperature_c) = (zone.dry, zone.water, zone.temperature_c);
        let dry = Slopes::of_dry(offset);
        let (water, temperature) = (offset + 3, offset + 4);

        let mass_kg = water_kg + dry_kg;
        let by_moisture = moisture_slope(k.moisture) * k.air_space / (mass_kg * mass_kg);
        let room = (dry * (-water_kg * by_moisture)).and(water, dry_kg * by_moisture)
            + space * (k.moisture * air_space_slope(k.air_space));
        let warmth = p.compost.slope(temperature_c, k.warmth);
        let fungal = p.fungal.slope(temperature_c, k.fungal);
        let pace = Slopes::FLAT.and(temperature, warmth * self.activity).and(ACTIVITY, k.warmth);
        let quick = p.fast_per_day * zone.fast + p.slow_per_day * zone.slow;
        let lasting = p.resistant_per_day * zone.resistant;
        let unlimited = (pace * quick)
            .and(temperature, lasting * fungal)
            .and(offset, p.fast_per_day * k.pace)
            .and(offset + 1, p.slow_per_day * k.pace)
            .and(offset + 2, p.resistant_per_day * k.fungal);
        let demand = (unlimited * (k.moisture * k.air_space) + room * k.unlimited) * p.oxygen_kg_kg;
        let (by_air, by_demand) = oxygen_slopes(zone.air, k.demand, k.oxygen);
        let oxygen = air * by_air + demand * by_demand;
        let limits = room * k.oxygen + oxygen * (k.moisture * k.air_space);
        let effective = pace * k.limits + limits * k.pace;
        let lasting_pace = (limits * k.fungal).and(temperature, fungal * k.limits);

        let still_dry = if water_kg > 0.0 { 1.0 - zone.wetness } else { 0.0 };
        let by_ratio = zone.saturated * still_dry / p.drying_kg_kg / dry_kg;
        let by_temperature = zone.wetness * saturation_humidity_slope(temperature_c, zone.saturated);
        let humidity =
            (dry * (-by_ratio * water_kg / dry_kg)).and(water, by_ratio).and(temperature, by_temperature);
        let enthalpy =
            (humidity * (2501.0 + 1.86 * temperature_c)).and(temperature, 1.006 + 1.86 * zone.humidity);
        let mut drainage = Slopes::FLAT;
        if zone.drainage > 0.0 {
            drainage = (dry * (-p.drainage_per_day * p.field_capacity_kg_kg)).and(water, p.drainage_per_day);
        }
        ZoneSlopes {
            pools: [
                (effective * (p.fast_per_day * zone.fast)).and(offset, p.fast_per_day * k.pace * k.limits),
                (effective * (p.slow_per_day * zone.slow))
                    .and(offset + 1, p.slow_per_day * k.pace * k.limits),
                (lasting_pace * lasting).and(offset + 2, p.resistant_per_day * k.fungal * k.limits),
            ],
            degraded: unlimited * k.limits + limits * k.unlimited,
            effective,
            warmth,
            evaporated: air * (zone.humidity - self.outside) + (humidity - outside) * zone.air,
            carried: air * (zone.enthalpy - self.outside_kj) + (enthalpy - outside_kj) * zone.air,
            humidity,
            enthalpy,
            drainage,
        }
    }

    fn settling_slopes(&self, dry: Slopes) -> Slopes {
        let p = self.balance.p;
        if self.specific <= self.resting {
            return Slopes::FLAT;
        }
        let (by_left, by_mass) = resting_slopes(
            p,
            self.balance.settled_m3_kg,
            (self.left, self.balance.degradable_kg),
            (self.dry + self.water, self.resting),
            self.shape.top_m2(),
        );
        let mut resting = dry * by_mass;
        for offset in [CORE, EDGE] {
            resting = resting.and(offset, by_left).and(offset + 1, by_left).and(offset + 3, by_mass);
        }
        (resting - Slopes::of(SPECIFIC)) * p.settling_per_day
    }

    /// Of the nitrogen, and its slope over itself.
    fn nitrogen_slopes(&self, dry: Slopes, degraded: Slopes) -> (Slopes, f64) {
        let p = self.balance.p;
        let share = ammonia_share(p, self.carbon_to_nitrogen);
        let by_ratio = ammonia_slope(p, share);
        let [core_kg_kg, edge_kg_kg] = self.balance.carbon_kg_kg;
        let carbon = Slopes::of_dry(CORE) * core_kg_kg + Slopes::of_dry(EDGE) * edge_kg_kg;
        let released = degraded * (self.nitrogen / self.volatile) - dry * (self.released / self.volatile);
        let lost = carbon * (by_ratio / self.nitrogen * self.released) + released * share;
        let by_itself = (share - by_ratio * self.carbon_to_nitrogen) * self.released / self.nitrogen;
        (lost * -1.0, -by_itself)
    }
}

/// Of a zone's temperature, which rises at `rate`, where its heat comes with the slopes `heating`.
fn warming(offset: usize, zone: &ZonePoint, heating: Slopes, rate: f64) -> Slopes {
    let capacity = (Slopes::of_dry(offset) * 1.48).and(offset + 3, WATER_KJ_KG_K);
    (heating - capacity * rate) * (1.0 / zone.capacity())
}

/// Slope of moist air's enthalpy over its temperature, where its humidity grows by `humidity_slope` with that.
fn enthalpy_slope(temperature_c: f64, humidity: f64, humidity_slope: f64) -> f64 {
    1.006 + 1.86 * humidity + humidity_slope * (2501.0 + 1.86 * temperature_c)
}
