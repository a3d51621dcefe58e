//! Truth from the fitted model itself: its own equations with constants, amounts and season drawn from what it believes
//! before any reading, and temperatures off by an error that wanders as it supposes.

use baycast_model::agenda::Change;
use baycast_model::course::Course;
use baycast_model::discrepancy::{BIAS_C, MEMORY_DAYS, MISFITS};
use baycast_model::draw::Draw;
use baycast_model::history::Zone;
use baycast_model::observation::{VOLUME_ERROR, VOLUME_MEMORY_DAYS};
use baycast_model::rosenbrock::Tolerance;
use baycast_model::timeline::Timeline;
use baycast_model::variant::{Unknown, Variant, error};
use baycast_model::window::daily_views;

use crate::chance::Chance;
use crate::coverage::AHEAD_DAYS;
use crate::scenario::Scenario;
use crate::truth::{DayEnd, HOURS, Hour, Truth};

/// Depths at which a probe meets the edge's and the core's mean, as readings are taken to, m.
const DEPTHS_M: [f64; 2] = [0.1, 0.3];

/// Runs a scenario to its horizon with draws from the prior.
pub fn run(scenario: &Scenario) -> Truth {
    let mut chance = Chance::new(scenario.index, 4);
    let timeline = Timeline::new(&scenario.history, scenario.as_of).expect("a sound history");
    let draw: Draw = std::array::from_fn(|_| chance.normal());
    let Variant { agenda, parameters } = Variant::new(&draw, &timeline);
    let course = agenda.run(&parameters, Tolerance::default(), timeline.until).expect("a course");
    let mut noons = daily_views(&course, timeline.start, timeline.until);
    let ripeness = chance.factor(error::RIPENESS);
    for view in &mut noons {
        view.ripen(ripeness);
    }
    let mut volume = Wandering::new(VOLUME_ERROR, VOLUME_MEMORY_DAYS * HOURS as f64, &mut chance);
    let bias_c = [BIAS_C * chance.normal(), BIAS_C * chance.normal()];
    let fills = agenda.changes.iter().filter(|dated| matches!(dated.change, Change::Add(_)));
    let filled_by = fills.map(|dated| dated.day).fold(timeline.start, f64::max);
    let misfit_c = misfit_c(&mut chance);
    let [mut core_off, mut edge_off] =
        [0, 1].map(|_| Wandering::new(misfit_c, MEMORY_DAYS * HOURS as f64, &mut chance));
    let start = timeline.start;
    // Temperatures are asked for up to the forecast's day only.
    let asked_days = timeline.as_of - start + f64::from(AHEAD_DAYS) + 1.0;
    let hours = (0..(asked_days * HOURS as f64) as usize).map(|hour| {
        let day = start + hour as f64 / HOURS as f64;
        core_off.step(&mut chance);
        edge_off.step(&mut chance);
        let off_c = [core_off.off, edge_off.off];
        seen(&course, day, off_c, agenda.weather.at(day).0)
    });
    let hours = hours.collect();
    let ends: Vec<DayEnd> = (0..(timeline.until - start) as usize)
        .map(|day| {
            let factor = volume.off.exp();
            (0..HOURS).for_each(|_| volume.step(&mut chance));
            end(&course, start + day as f64 + 0.5, factor)
        })
        .collect();
    Truth {
        start,
        hours,
        ends,
        noons,
        filled_by,
        bias_c,
        factors: Some(Unknown::ALL.map(|unknown| unknown.factor(&draw, timeline.amount_error))),
    }
}

fn seen(course: &Course, day: f64, off_c: [f64; 2], air_c: f64) -> Hour {
    let zone = |zone| course.temperature_c(zone, day).expect("a heap");
    let (core_c, edge_c) = (zone(Zone::Core) + off_c[0], zone(Zone::Edge) + off_c[1]);
    Hour {
        core_c,
        edge_c,
        profile: [(0.0, edge_c), (DEPTHS_M[0], edge_c), (DEPTHS_M[1], core_c), (4.0, core_c)],
        air_c,
    }
}

fn end(course: &Course, day: f64, volume: f64) -> DayEnd {
    let heap = course.at(day).expect("a heap").heap;
    let put_in_kg = course.totals_until(day).flows.dry_in_kg;
    DayEnd {
        volume_m3: heap.volume_m3() * volume,
        moisture_fraction: heap.moisture_fraction(),
        dry_left: heap.dry_kg() / put_in_kg,
    }
}

/// One of the errors that the model may have, °C.
fn misfit_c(chance: &mut Chance) -> f64 {
    let mut left = chance.between(0.0, 1.0);
    for (misfit_c, likely) in MISFITS {
        if left < likely {
            return misfit_c;
        }
        left -= likely;
    }
    MISFITS[0].0
}

/// An Ornstein-Uhlenbeck process by the hour.
struct Wandering {
    deviation: f64,
    /// Hours in which its memory falls to 1/e.
    memory_hours: f64,
    off: f64,
}

impl Wandering {
    fn new(deviation: f64, memory_hours: f64, chance: &mut Chance) -> Self {
        Self { deviation, memory_hours, off: deviation * chance.normal() }
    }

    fn step(&mut self, chance: &mut Chance) {
        let memory = (-1.0 / self.memory_hours).exp();
        self.off = memory * self.off + self.deviation * (1.0 - memory * memory).sqrt() * chance.normal();
    }
}
