//! Readings that cannot be what the heap did.

use serde::{Deserialize, Serialize};

use crate::agenda::{Agenda, Change};
use crate::history::Zone;
use crate::moment::Moment;
use crate::timeline::Seen;
use crate::weather::Weather;

/// A reading that was set aside, or counts for less.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SuspectReading {
    /// JSON Pointer to the event.
    pub pointer: String,
    /// When it was taken.
    pub at: Moment,
    /// The temperature as understood, °C.
    pub temperature_c: f64,
    /// Why.
    pub reason: Suspicion,
    /// How much it counts, 0 for one set aside, 1 for one like any other.
    pub weight: f64,
}

/// Why a reading is doubted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Suspicion {
    /// The same value over and over while a heap would have changed.
    Stuck,
    /// Leaves its neighbours and comes back within hours.
    Spike,
    /// Fits its neighbours only when read as the other unit.
    LooksLikeFahrenheit,
    /// Reads the air while its neighbours are warm.
    OutOfTheHeap,
    /// Said to be of the core, but is what the edge has.
    InTheShell,
    /// Far from what materials, bay and the other readings make likely.
    UnlikeTheRest,
}

/// How close a reading must be to what explains it, °C.
const EXPLAINED_C: f64 = 6.0;

impl Suspicion {
    /// What best explains a reading far from what its zone should have, given core and edge as modelled and the air, °C.
    #[must_use]
    pub fn of(seen: &Seen, [core_c, edge_c]: [Option<f64>; 2], air_c: f64) -> Self {
        let near = |what: f64| (seen.temperature_c - what).abs() < EXPLAINED_C;
        let warm = core_c.is_some_and(|core_c| !near(core_c));
        if seen.zone == Zone::Core && warm && edge_c.is_some_and(near) && !near(air_c) {
            Self::InTheShell
        } else if near(air_c) {
            Self::OutOfTheHeap
        } else {
            Self::UnlikeTheRest
        }
    }
}

/// Fewest readings that can be wrong as a whole.
const WHOLE_COUNT: usize = 5;
/// Days over which a heap cools, so that readings that never fall are in °F.
const COOLING_DAYS: f64 = 45.0;
/// No reading in °F of a heap that stands in the open is below this: 7 °C.
const LEAST_F: f64 = 45.0;
/// Mean departure from the air under which readings are of the air, °C.
const AIR_C: f64 = 4.0;

/// Why all readings together may be no temperatures of the heap: they never fall to where heaps end, but would in °F; or
/// they follow the air. What a heap makes likely decides, not this alone.
#[must_use]
pub fn wholly_odd(readings: &[&Seen], weather: &Weather) -> Option<Suspicion> {
    let (first, last) = (readings.first()?, readings.last()?);
    if readings.len() < WHOLE_COUNT {
        return None;
    }
    let air_c = |seen: &Seen| seen.ambient_c.unwrap_or_else(|| weather.at(seen.day).0);
    let off: f64 = readings.iter().map(|seen| (seen.temperature_c - air_c(seen)).powi(2)).sum();
    if (off / readings.len() as f64).sqrt() < AIR_C {
        return Some(Suspicion::OutOfTheHeap);
    }
    let never_falls = readings.iter().all(|seen| seen.temperature_c >= LEAST_F);
    let ends_cool = (fahrenheit_to_celsius(last.temperature_c) - air_c(last)).abs() < 2.0 * EXPLAINED_C;
    (never_falls && ends_cool && last.day - first.day >= COOLING_DAYS)
        .then_some(Suspicion::LooksLikeFahrenheit)
}

/// °C of a number that is in °F.
#[must_use]
pub fn fahrenheit_to_celsius(fahrenheit: f64) -> f64 {
    (fahrenheit - 32.0) / 1.8
}

impl Seen {
    /// The reading as one that counts for no more than `weight`.
    #[must_use]
    pub fn suspected(&self, reason: Suspicion, weight: f64) -> SuspectReading {
        SuspectReading {
            pointer: self.pointer.clone(),
            at: self.at,
            temperature_c: self.temperature_c,
            reason,
            weight,
        }
    }
}

/// Identical readings on end that no working probe gives in a heap.
const STUCK_COUNT: usize = 5;
/// Days they must span.
const STUCK_DAYS: f64 = 4.0;
/// Readings further apart than this say nothing about each other, days.
const NEIGHBOUR_DAYS: f64 = 4.0;
/// Departure from both neighbours that is a spike, °C.
const SPIKE_C: f64 = 20.0;
/// How closely the neighbours must agree, °C.
const AGREEMENT_C: f64 = 8.0;

/// Readings that cannot be what the heap did, in order of time, with their index into `readings`.
///
/// A departure across a turn, a move or an addition is no spike: those change a heap's temperature at once.
#[must_use]
pub fn suspects(readings: &[Seen], agenda: &Agenda) -> Vec<(usize, Suspicion)> {
    let mut found: Vec<(usize, Suspicion)> = Vec::new();
    for zone in [Zone::Core, Zone::Edge] {
        let own: Vec<usize> = (0..readings.len()).filter(|index| readings[*index].zone == zone).collect();
        stuck(readings, &own, &mut found);
        departures(readings, &own, agenda, &mut found);
    }
    found.sort_by_key(|(index, _)| *index);
    found.dedup_by_key(|(index, _)| *index);
    found
}

/// Runs of one value; all but the first of a run are suspect.
fn stuck(readings: &[Seen], own: &[usize], found: &mut Vec<(usize, Suspicion)>) {
    for run in own.chunk_by(|a, b| (readings[*a].temperature_c - readings[*b].temperature_c).abs() < 0.01) {
        let span = readings[run[run.len() - 1]].day - readings[run[0]].day;
        if run.len() >= STUCK_COUNT && span >= STUCK_DAYS {
            found.extend(run[1..].iter().map(|index| (*index, Suspicion::Stuck)));
        }
    }
}

fn departures(readings: &[Seen], own: &[usize], agenda: &Agenda, found: &mut Vec<(usize, Suspicion)>) {
    for triple in own.windows(3) {
        let [before, here, after] = [&readings[triple[0]], &readings[triple[1]], &readings[triple[2]]];
        if after.day - before.day > 2.0 * NEIGHBOUR_DAYS
            || (before.temperature_c - after.temperature_c).abs() > AGREEMENT_C
            || disturbed(agenda, before.day, after.day)
        {
            continue;
        }
        let level = f64::midpoint(before.temperature_c, after.temperature_c);
        let air_c = here.ambient_c.unwrap_or_else(|| agenda.weather.at(here.day).0);
        if (here.temperature_c - level).abs() < SPIKE_C {
            continue;
        }
        let suspicion = if ((here.temperature_c - 32.0) / 1.8 - level).abs() < AGREEMENT_C {
            Suspicion::LooksLikeFahrenheit
        } else if (here.temperature_c - air_c).abs() < AGREEMENT_C {
            Suspicion::OutOfTheHeap
        } else {
            Suspicion::Spike
        };
        found.push((triple[1], suspicion));
    }
}

/// Whether something between two days may change the temperature at once.
fn disturbed(agenda: &Agenda, from: f64, to: f64) -> bool {
    agenda.changes.iter().any(|dated| {
        (from..=to).contains(&dated.day)
            && !matches!(dated.change, Change::Cover(_) | Change::SeeMoisture { .. } | Change::Firm)
    })
}
