//! What the grower sees of the truth and notes down up to the day of the estimate.

use baycast_model::bay::Bay;
use baycast_model::history::{Event, History, MoistureNote, Reading, Squeeze, Zone};
use baycast_model::moment::{Moment, date_to_days, days_to_date};

use crate::chance::Chance;
use crate::scenario::{Scenario, later};
use crate::truth::{Hour, Truth};

/// A reading against the temperature at the probe's place, °C.
const PLACE_C: f64 = 1.5;
/// Share of readings that are no temperature of the heap.
const FAULTS: f64 = 0.02;
/// Highest reading a history takes, °C.
const HIGHEST_C: f64 = 95.0;
/// Error of a weighed and dried sample, of what a squeezed handful stands for, and of whoever squeezes.
const SAMPLE: f64 = 0.03;
const HANDFUL: f64 = 0.03;
const HAND: f64 = 0.04;
/// Error of a level read off the wall, share of the bay's height.
const LEVEL: f64 = 0.03;

/// The scenario's history with what was seen of `truth`.
pub fn noted(scenario: &Scenario, truth: &Truth) -> History {
    let mut history = scenario.history.clone();
    let mut chance = Chance::new(scenario.index, 3);
    let days = (date_to_days(scenario.as_of) - date_to_days(scenario.start)) as u32;
    if let Some(every) = scenario.habits.reads_every_days {
        for day in (1..=days).filter(|day| day % every == 0) {
            // Some time between seven in the morning and seven in the evening.
            let at = date_to_days(later(scenario.start, day)) + f64::from(chance.whole(7, 19)) / 24.0;
            let hour = truth.hour(at);
            history.events.push(reading(at, Zone::Core, scenario, (hour, truth.bias_c[0]), &mut chance));
            if chance.happens(scenario.habits.reads_edge) {
                history.events.push(reading(at, Zone::Edge, scenario, (hour, truth.bias_c[1]), &mut chance));
            }
        }
    }
    let hand = HAND * chance.normal();
    let some_day = |chance: &mut Chance| days_to_date(truth.start + f64::from(chance.whole(1, days)));
    for _ in 0..scenario.habits.moisture_notes {
        let date = some_day(&mut chance);
        let moisture = truth.end(date).moisture_fraction;
        let mut event = Event::at(Moment::Date(date));
        event.moisture = Some(if scenario.habits.measures_moisture {
            let percent = 100.0 * (moisture + SAMPLE * chance.normal());
            MoistureNote { percent: Some(percent.clamp(5.0, 95.0)), squeeze: None }
        } else {
            MoistureNote {
                percent: None,
                squeeze: Some(squeezed(moisture + hand + HANDFUL * chance.normal())),
            }
        });
        history.events.push(event);
    }
    for _ in 0..scenario.habits.level_sightings {
        let date = some_day(&mut chance);
        let fraction = truth.end(date).volume_m3 / history.bay.capacity_m3() + LEVEL * chance.normal();
        history.events.extend(sighting(date, fraction.clamp(0.02, 1.2)));
    }
    history
}

fn reading(
    at: f64,
    zone: Zone,
    scenario: &Scenario,
    (hour, bias_c): (&Hour, f64),
    chance: &mut Chance,
) -> Event {
    let depth_m = depth(zone, &scenario.history.bay, hour, chance);
    let celsius = hour.at_depth(depth_m) + bias_c + PLACE_C * chance.normal();
    let read = if chance.happens(FAULTS) { fault(celsius, hour, chance) } else { celsius };
    let instant = jiff::Timestamp::from_second((at * 86_400.0).round() as i64).expect("a time");
    let mut event = Event::at(Moment::Instant(instant));
    let as_noted = (read * 10.0).round() / 10.0;
    event.reading = Some(Reading {
        temperature_c: Some(as_noted.clamp(-20.0, HIGHEST_C)),
        temperature_f: None,
        depth_m: scenario.habits.notes_depth.then_some((depth_m * 20.0).round() / 20.0),
        zone: (!scenario.habits.notes_depth).then_some(zone),
        ambient_c: None,
    });
    event
}

/// How deep the tip stands, m: what is called the core is somewhere inside, the edge a hand deep.
fn depth(zone: Zone, bay: &Bay, hour: &Hour, chance: &mut Chance) -> f64 {
    match zone {
        Zone::Edge => chance.between(0.05, 0.15),
        Zone::Core => {
            let [.., outer, _, centre] = hour.profile;
            chance.between(outer.0.max(0.2), centre.0.max(0.25)).min(bay.height_m)
        }
    }
}

/// A probe in the air, a number in the other unit where a history would take it, or nonsense.
fn fault(celsius: f64, hour: &Hour, chance: &mut Chance) -> f64 {
    let fahrenheit = celsius * 1.8 + 32.0;
    match chance.whole(0, 2) {
        0 => hour.air_c + PLACE_C * chance.normal(),
        1 if fahrenheit <= HIGHEST_C => fahrenheit,
        _ if chance.happens(0.5) => celsius + chance.between(20.0, 40.0),
        _ => celsius - chance.between(20.0, 40.0),
    }
}

/// What a handful of some moisture does: the classes' middles are 0.32, 0.45, 0.57 and 0.70 (common practice, no source).
fn squeezed(moisture: f64) -> Squeeze {
    match moisture {
        moisture if moisture < 0.385 => Squeeze::Dry,
        moisture if moisture < 0.51 => Squeeze::Crumbles,
        moisture if moisture < 0.635 => Squeeze::Damp,
        _ => Squeeze::Drips,
    }
}

/// A sighting of the level in the bay, in the form that histories have it in; none while they have no such event.
fn sighting(date: jiff::civil::Date, fill_fraction: f64) -> Option<Event> {
    let told = serde_json::json!({ "at": date.to_string(), "level": { "fill_fraction": fill_fraction } });
    Event::DETAILS.contains(&"level").then(|| serde_json::from_value(told).expect("a sighting"))
}
