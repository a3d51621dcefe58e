//! A heap in more detail than the fitted model: six zones, three degradable pools, another response to warmth, moisture and
//! air, another law of settling, days of weather, and constants, materials and amounts scattered from batch to batch.
//!
//! Written from the physics alone, so that the estimate meets heaps that its own equations cannot follow exactly.

mod air;
mod balance;
mod heap;
mod material;
mod nature;
mod parcel;
mod shape;
mod weather;

use baycast_model::history::CoverState;
use baycast_model::moment::date_to_days;
use baycast_model::window::DayView;

use crate::chance::Chance;
use crate::scenario::Scenario;
use crate::truth::{DayEnd, HOURS, Hour, Truth};
use balance::{Place, Sky};
use heap::Heap;
use material::Larder;
use nature::{Nature, POOLS};
use parcel::Parcel;
use shape::{CORE, EDGE, Shape, ZONES};
use weather::Days;

pub use weather::Days as Weather;

/// Steps an hour.
const STEPS: u32 = 2;

/// Runs a scenario to its horizon, one batch's own constants drawn from its number.
pub fn run(scenario: &Scenario, days: &Days) -> Truth {
    run_in_steps(scenario, days, STEPS)
}

/// The same with so many steps an hour.
fn run_in_steps(scenario: &Scenario, days: &Days, steps: u32) -> Truth {
    let history = &scenario.history;
    let mut chance = Chance::new(scenario.index, 2);
    let nature = Nature::draw(&history.bay, &mut chance);
    let larder = Larder::draw(history, &mut chance);
    let first = date_to_days(scenario.start) as i64;
    let horizon = i64::from(history.horizon_days.expect("a horizon"));
    let last = date_to_days(scenario.as_of) as i64 + 1 + horizon;
    let place = Place { bay: &history.bay, nature: &nature };

    let mut events: Vec<_> = history.events.iter().collect();
    events.sort_by(|a, b| a.at.days().total_cmp(&b.at.days()));
    let mut events = events.into_iter().peekable();
    let mut heap = Heap::empty(days.air_c(first as f64));
    let mut truth = Truth {
        start: first as f64 + 0.5,
        hours: Vec::new(),
        ends: Vec::new(),
        noons: Vec::new(),
        filled_by: 0.0,
        bias_c: [0.0; 2],
        factors: None,
    };
    for hour in 0..(last - first) as usize * HOURS - HOURS / 2 {
        let day = truth.start + hour as f64 / HOURS as f64;
        let air_c = days.air_c(day);
        while let Some(event) = events.next_if(|event| event.at.days() <= day + 1e-6) {
            if let Some(told) = &event.addition {
                let load = larder.load(told, air_c, &nature, &mut chance);
                heap.add(&load, &history.bay, &nature);
                truth.filled_by = day;
            } else if let Some(cover) = &event.cover {
                heap.covered = cover.state == CoverState::On;
            } else if event.turn.is_some() {
                heap.turn(air_c, &history.bay, &nature);
            } else if let Some(watering) = &event.watering {
                heap.water(watering.litres, air_c, &nature);
            }
        }
        truth.hours.push(seen(&heap, &place, air_c));
        if hour % HOURS == 0 {
            truth.noons.push(view(&heap, &place, day, air_c));
        } else if hour % HOURS == HOURS / 2 {
            truth.ends.push(DayEnd {
                volume_m3: heap.volume_m3(),
                moisture_fraction: heap.moisture(),
                dry_left: heap.dry_kg() / heap.dry_in_kg,
            });
            heap.deal(&history.bay, &nature);
        }
        let today = days.on(day);
        let sky = Sky { air_c, humidity: today.humidity, rain_mm: today.rain_mm };
        for _ in 0..steps {
            place.step(&mut heap, &sky, 1.0 / HOURS as f64 / f64::from(steps));
        }
    }
    truth
}

fn seen(heap: &Heap, place: &Place, air_c: f64) -> Hour {
    let depths = Shape::new(place.bay, heap.volume_m3()).depths_m();
    let way_down = [shape::TOP, 2, 1, 0];
    Hour {
        core_c: heap.mean_c(CORE),
        edge_c: heap.mean_c(EDGE),
        profile: std::array::from_fn(|i| (depths[i], heap.zones[way_down[i]].celsius)),
        air_c,
    }
}

fn view(heap: &Heap, place: &Place, day: f64, air_c: f64) -> DayView {
    DayView {
        day,
        maturity_index: heap.degraded(),
        respiration: respiration(heap, place.nature),
        above_air_c: heap.mean_c(0..ZONES) - air_c,
        c_to_n: heap.carbon_kg / heap.nitrogen_kg,
        moisture_fraction: heap.moisture(),
        volume_m3: heap.volume_m3(),
        shrinking_m3_kg: place.resting_m3_kg(heap, false) * heap.dry_kg() / heap.dry_in_kg,
    }
}

/// A laboratory's respiration of a moist, aired sample at 37 °C, mg CO₂-C per g volatile solids and day.
fn respiration(heap: &Heap, nature: &Nature) -> f64 {
    const LABORATORY_C: f64 = 37.0;
    let volatile_kg = heap.sum(Parcel::volatile_kg);
    let running: f64 =
        (0..POOLS).map(|pool| nature.rates_per_day[pool] * heap.sum(|parcel| parcel.pools_kg[pool])).sum();
    let carbon_kg_kg = heap.carbon_kg / volatile_kg;
    nature.sample * 1000.0 * carbon_kg_kg * running * nature.warmth(LABORATORY_C) / volatile_kg
}

/// Half an hour is short enough: with four steps in each, temperatures, volumes and maturity stay what they were, against the
/// degrees and tenths that estimates are asked for.
#[test]
fn half_an_hour_is_a_step_short_enough() {
    for index in 0..12 {
        let mut scenario = Scenario::draw(index);
        let days = crate::weather(&mut scenario);
        let [coarse, fine] = [STEPS, 4 * STEPS].map(|steps| run_in_steps(&scenario, &days, steps));
        for (day, (coarse, fine)) in coarse.noons.iter().zip(&fine.noons).enumerate() {
            let maturity = coarse.maturity_index - fine.maturity_index;
            let volume = coarse.volume_m3 / fine.volume_m3 - 1.0;
            assert!(maturity.abs() < 0.01 && volume.abs() < 0.02, "{index}, day {day}: {maturity}, {volume}");
        }
        let off = |(coarse, fine): (&Hour, &Hour)| (coarse.core_c - fine.core_c).abs();
        let mean = coarse.hours.iter().zip(&fine.hours).map(off).sum::<f64>() / coarse.hours.len() as f64;
        assert!(mean < 0.2, "{index}: core off by {mean:.3} degrees on average");
    }
}
