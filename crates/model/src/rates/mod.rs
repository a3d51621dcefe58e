//! The right-hand side: how fast everything in a heap changes. Equations in `EQUATIONS.md` beside this crate.

mod point;
mod slopes;

use crate::air::Openness;
use crate::bay::{Bay, Top};
use crate::heap::Heap;
use crate::heat::Envelope;
use crate::parameters::Parameters;
use crate::rosenbrock::{Linear, System};
use crate::weather::Spell;
use point::Point;

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

    /// Brings `heap` to the state `y`; seeds stay as they are.
    pub fn bring(heap: &mut Heap, y: &[f64; ENTRIES]) {
        for (offset, zone) in [(CORE, &mut heap.core), (EDGE, &mut heap.edge)] {
            zone.fast_kg = y[offset];
            zone.slow_kg = y[offset + 1];
            zone.resistant_kg = y[offset + 2];
            zone.water_kg = y[offset + 3];
            zone.temperature_c = y[offset + 4];
        }
        heap.specific_m3_kg = y[SPECIFIC];
        heap.nitrogen_kg = y[NITROGEN];
        heap.activity = y[ACTIVITY];
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

    fn derivative(&self, day: f64, y: &[f64; ENTRIES]) -> [f64; ENTRIES] {
        Point::new(self, day, y).rates()
    }

    fn linearised(&self, day: f64, y: &[f64; ENTRIES]) -> Linear<STATES, ENTRIES> {
        Point::new(self, day, y).linearised()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bay::Wall;
    use crate::heap::Zone;
    use crate::site::{Normals, Site};
    use crate::weather::Weather;

    /// Central differences of the rates by one state.
    fn differences(balance: &Balance<'_>, y: &[f64; ENTRIES], state: usize) -> [f64; ENTRIES] {
        let step = 1e-5 * y[state].abs().max(1e-3);
        let at = |sign: f64| {
            let mut shifted = *y;
            shifted[state] += sign * step;
            balance.derivative(DAY, &shifted)
        };
        let (above, below) = (at(1.0), at(-1.0));
        std::array::from_fn(|entry| (above[entry] - below[entry]) / (2.0 * step))
    }

    const DAY: f64 = 20_600.0;

    fn site() -> Site {
        let normals = Normals {
            mean_air_c: (0..12).map(|month| f64::from(3 * month) - 2.0).collect(),
            rain_mm: (0..12).map(|month| f64::from(40 + 5 * month)).collect(),
        };
        Site { latitude_deg: 52.0, normals: Some(normals), daily: Vec::new() }
    }

    fn zone(masses_kg: [f64; 5], temperature_c: f64) -> Zone {
        let [fast_kg, slow_kg, resistant_kg, ash_kg, water_kg] = masses_kg;
        let carbon_kg_kg = 0.48;
        Zone {
            fast_kg,
            slow_kg,
            resistant_kg,
            ash_kg,
            water_kg,
            carbon_kg_kg,
            temperature_c,
            ..Zone::default()
        }
    }

    /// Heaps on either side of every bend in the balance: hot and cold, wet and dry, thick and thin, short of air.
    fn heaps() -> Vec<Heap> {
        let origin =
            crate::heap::Origin { dry_kg: 420.0, settled_m3: 1.6, degradable_kg: 300.0, matting_kg: 120.0 };
        let heap = |core: Zone, edge: Zone, specific_m3_kg: f64, activity: f64| Heap {
            core,
            edge,
            specific_m3_kg,
            nitrogen_kg: 8.0,
            origin,
            activity,
        };
        let (warm, cool) = ([40.0, 60.0, 30.0, 15.0, 260.0], [50.0, 80.0, 40.0, 20.0, 300.0]);
        let wet = [40.0, 60.0, 30.0, 15.0, 520.0];
        vec![
            heap(zone(warm, 62.0), zone(cool, 41.0), 0.0060, 0.97),
            heap(zone(warm, 33.0), zone(cool, 24.0), 0.0030, 0.4),
            heap(zone(warm, 14.0), zone(cool, 17.0), 0.0060, 0.05),
            heap(zone(wet, 55.0), zone([5.0, 9.0, 30.0, 15.0, 4.0], 8.0), 0.0080, 0.9),
            heap(zone(warm, 79.0), zone(wet, 1.0), 0.0042, 1.0),
            heap(zone([1.0, 2.0, 1.0, 0.5, 6.0], 20.0), zone([1.0, 2.0, 2.0, 0.5, 9.0], 15.0), 0.0070, 0.6),
        ]
    }

    #[test]
    fn slopes_are_what_small_differences_come_to() {
        let bay = Bay {
            id: "1".into(),
            length_m: 1.5,
            width_m: 1.2,
            height_m: 1.2,
            wall: Wall::default(),
            base: crate::bay::Base::Soil,
            top: Top::Open,
        };
        let weather = Weather::new(&site());
        let p = Parameters::default();
        for (index, heap) in heaps().iter().enumerate() {
            let around = Surroundings::new(&bay, false, weather.spell(DAY, DAY));
            let balance = Balance::new(&p, around, heap);
            let y = Balance::state(heap);
            let linear = balance.linearised(DAY, &y);
            assert_eq!(linear.rate, balance.derivative(DAY, &y));
            let close = |slope: f64, difference: f64, of: &str| {
                let allowed = 1e-6 * (slope.abs() + difference.abs()) + 1e-8;
                assert!((slope - difference).abs() <= allowed, "heap {index}, {of}: {slope} {difference}");
            };
            for (state, slopes) in linear.by_state.iter().enumerate() {
                for (entry, difference) in differences(&balance, &y, state).into_iter().enumerate() {
                    close(slopes[entry], difference, &format!("entry {entry} by state {state}"));
                }
            }
            close(linear.by_itself[NITROGEN], differences(&balance, &y, NITROGEN)[NITROGEN], "nitrogen");
            let (above, below) = (balance.derivative(DAY + 1e-3, &y), balance.derivative(DAY - 1e-3, &y));
            for entry in 0..ENTRIES {
                let difference = (above[entry] - below[entry]) / 2e-3;
                close(linear.by_time[entry], difference, &format!("entry {entry} by time"));
            }
        }
    }
}
