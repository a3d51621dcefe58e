//! What was seen of a batch, beside what a course shows of it.

use crate::agenda::{Agenda, Change};
use crate::course::Course;
use crate::discrepancy::{Discrepancy, Innovation, MISFITS, Residual, log_density, memory};
use crate::history::Zone;
use crate::moisture::MODEL_ERROR;
use crate::timeline::{Seen, Sighting};
use crate::weather::Weather;

/// Standard deviation of a batch's volume against its course, log scale: how it was put up and how it settles. Estimate.
pub const VOLUME_ERROR: f64 = 0.16;
/// Days in which the memory of that error falls to 1/e. Estimate.
pub const VOLUME_MEMORY_DAYS: f64 = 60.0;
/// Standard deviation of one sighting of the level, as a share of the bay's height: heaps are not level. Estimate.
pub const SIGHTING_ERROR: f64 = 0.04;
/// Share of their log likelihood that observations count for: a model that is off is not as sure of its unknowns as one
/// that is right (Miller & Dunson 2019, Robust Bayesian inference via coarsening, J. Am. Stat. Assoc. 114:1113-1125, from
/// memory). Set by the coverage that `tests/calibration` shows.
const PERSUASION: f64 = 0.8;
/// Readings of a zone closer than this are one, averaged, days.
const TOGETHER_DAYS: f64 = 0.25;

/// All that was seen, in order of time.
#[derive(Clone, Debug, PartialEq)]
pub struct Observations {
    core: Vec<Readings>,
    edge: Vec<Readings>,
    notes: Vec<Note>,
    levels: Vec<Level>,
}

/// Readings at one time in one zone, averaged.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Readings {
    day: f64,
    /// What is left of the model's error at the one before.
    memory: f64,
    temperature_c: f64,
    /// Share of the core's temperature in what the probe meets.
    core_share: f64,
    count: f64,
    /// Place of the first among the readings that count.
    first: usize,
}

/// A moisture note.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Note {
    day: f64,
    fraction: f64,
    error: f64,
}

/// A sighting of the level, as a volume.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Level {
    day: f64,
    volume_m3: f64,
    /// Standard deviation, log scale.
    error: f64,
}

/// What observations say of one course.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The core's error.
    pub core: Discrepancy,
    /// The edge's.
    pub edge: Discrepancy,
    /// Of moisture notes.
    pub notes: Vec<Innovation>,
    /// Of sightings of the level.
    pub levels: Vec<Innovation>,
    /// Log of the heap's volume over the course's.
    pub volume: Volume,
}

/// Log of a heap's volume over its course's, as last seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Volume {
    day: f64,
    mean: f64,
    variance: f64,
}

impl Volume {
    /// Mean and standard deviation on a day.
    #[must_use]
    pub fn at(&self, day: f64) -> (f64, f64) {
        let Self { mean, variance, .. } = self.seen_from(day);
        (mean, variance.max(0.0).sqrt())
    }

    fn seen_from(&self, day: f64) -> Self {
        let memory = (-(day - self.day).abs() / VOLUME_MEMORY_DAYS).exp();
        let variance = VOLUME_ERROR.powi(2);
        Self {
            day,
            mean: memory * self.mean,
            variance: variance + memory * memory * (self.variance - variance),
        }
    }
}

impl Observations {
    /// Of the readings that count, and what the agenda and sightings tell.
    #[must_use]
    pub fn new(readings: &[&Seen], agenda: &Agenda, sightings: &[Sighting]) -> Self {
        let of_zone = |zone: Zone| {
            let mut own: Vec<Readings> = Vec::new();
            for (index, seen) in readings.iter().enumerate().filter(|(_, seen)| seen.zone == zone) {
                match own.last_mut() {
                    Some(last)
                        if seen.day - last.day <= TOGETHER_DAYS
                            && last.core_share.total_cmp(&seen.core_share).is_eq() =>
                    {
                        last.count += 1.0;
                        last.temperature_c += (seen.temperature_c - last.temperature_c) / last.count;
                    }
                    before => {
                        let memory = before.map_or(0.0, |before| memory(seen.day - before.day));
                        own.push(Readings {
                            day: seen.day,
                            memory,
                            temperature_c: seen.temperature_c,
                            core_share: seen.core_share,
                            count: 1.0,
                            first: index,
                        });
                    }
                }
            }
            own
        };
        let notes = agenda.changes.iter().filter_map(|dated| match dated.change {
            Change::SeeMoisture { fraction, error } => Some(Note { day: dated.day, fraction, error }),
            _ => None,
        });
        let levels = sightings.iter().map(|sighting| {
            let capacity_m3 = agenda.bays[agenda.bay_at(sighting.day)].capacity_m3();
            let fraction = sighting.fill_fraction;
            Level { day: sighting.day, volume_m3: fraction * capacity_m3, error: SIGHTING_ERROR / fraction }
        });
        Self {
            core: of_zone(Zone::Core),
            edge: of_zone(Zone::Edge),
            notes: notes.collect(),
            levels: levels.collect(),
        }
    }

    /// How many there are, those averaged counted as one.
    #[must_use]
    pub fn count(&self) -> usize {
        self.core.len() + self.edge.len() + self.notes.len() + self.levels.len()
    }

    /// Bytes that they take.
    pub(crate) fn bytes(&self) -> usize {
        size_of_val(&*self.core)
            + size_of_val(&*self.edge)
            + size_of_val(&*self.notes)
            + size_of_val(&*self.levels)
    }

    /// The day of the last.
    #[must_use]
    pub fn last_day(&self) -> Option<f64> {
        let readings = self.core.last().into_iter().chain(self.edge.last()).map(|readings| readings.day);
        let notes = self.notes.last().map(|note| note.day);
        let levels = self.levels.last().map(|level| level.day);
        readings.chain(notes).chain(levels).max_by(f64::total_cmp)
    }

    /// The first `count` of them in order of time.
    #[must_use]
    pub fn first(&self, count: usize) -> Self {
        let mut days: Vec<f64> = self.core.iter().chain(&self.edge).map(|readings| readings.day).collect();
        days.extend(self.notes.iter().map(|note| note.day));
        days.extend(self.levels.iter().map(|level| level.day));
        days.sort_by(f64::total_cmp);
        let last = count.checked_sub(1).and_then(|last| days.get(last)).copied().unwrap_or(f64::NEG_INFINITY);
        let readings = |own: &[Readings]| own.iter().take_while(|one| one.day <= last).copied().collect();
        Self {
            core: readings(&self.core),
            edge: readings(&self.edge),
            notes: self.notes.iter().take_while(|note| note.day <= last).copied().collect(),
            levels: self.levels.iter().take_while(|level| level.day <= last).copied().collect(),
        }
    }

    /// What a course shows of them, in order of core, edge, notes and levels; not a number where it has no heap.
    #[must_use]
    pub fn shown(&self, course: &Course) -> Vec<f64> {
        let reading = |one: &Readings| {
            let core_c = course.temperature_c(Zone::Core, one.day)?;
            if one.core_share >= 1.0 {
                return Some(core_c);
            }
            let edge_c = course.temperature_c(Zone::Edge, one.day)?;
            Some(one.core_share * core_c + (1.0 - one.core_share) * edge_c)
        };
        let readings = self.core.iter().chain(&self.edge).map(reading);
        let notes = self.notes.iter().map(|note| Some(course.at(note.day)?.heap.moisture_fraction()));
        let levels = self.levels.iter().map(|level| Some(course.at(level.day)?.heap.volume_m3()));
        readings.chain(notes).chain(levels).map(|shown| shown.unwrap_or(f64::NAN)).collect()
    }

    /// What a heap as warm as the air would show of the readings; of notes and sightings nothing.
    pub(crate) fn air(&self, weather: &Weather) -> Vec<f64> {
        let readings = self.core.iter().chain(&self.edge).map(|one| weather.at(one.day).0);
        let others = self.notes.len() + self.levels.len();
        readings.chain(std::iter::repeat_n(f64::NAN, others)).collect()
    }

    /// Innovations of the readings, each with the first of those that were averaged. Judged where every reading had a heap.
    pub(crate) fn innovations<'a>(
        &'a self,
        judged: &'a Judged,
        readings: &'a [&'a Seen],
    ) -> impl Iterator<Item = (&'a Seen, &'a Innovation)> {
        let core = self.core.iter().zip(&judged.core.innovations);
        let edge = self.edge.iter().zip(&judged.edge.innovations);
        core.chain(edge).map(|(one, innovation)| (readings[one.first], innovation))
    }

    /// What they say of a course that shows this, if the model's error is what has `share` of the plausibility under it.
    #[must_use]
    pub fn judge(&self, shown: &[f64], share: f64) -> Judged {
        let [core, edge, notes, levels] = self.split(shown);
        let (_, plausible) = self.misfits(core, edge);
        let mut left = share * plausible.iter().sum::<f64>();
        let mut misfit_c = MISFITS[MISFITS.len() - 1].0;
        for ((own_c, _), plausible) in MISFITS.iter().zip(plausible) {
            if left <= plausible {
                misfit_c = *own_c;
                break;
            }
            left -= plausible;
        }
        self.judge_with(misfit_c, [core, edge, notes, levels])
    }

    /// What they say of a course that shows this, if the model's error is that of another judgement.
    #[must_use]
    pub fn judge_alike(&self, shown: &[f64], other: &Judged) -> Judged {
        self.judge_with(other.core.misfit_c, self.split(shown))
    }

    fn judge_with(&self, misfit_c: f64, [core, edge, notes, levels]: [&[f64]; 4]) -> Judged {
        let mut sighted = Vec::new();
        let volume = self.sight(levels, |innovation| sighted.push(innovation));
        Judged {
            core: Discrepancy::filtered(misfit_c, residuals(&self.core, core)),
            edge: Discrepancy::filtered(misfit_c, residuals(&self.edge, edge)),
            notes: self.noted(notes).collect(),
            levels: sighted,
            volume,
        }
    }

    /// Log density of them at a course that shows this, but for a constant, as far as it counts.
    #[must_use]
    pub fn log_density(&self, shown: &[f64]) -> f64 {
        let [core, edge, notes, levels] = self.split(shown);
        let (best, plausible) = self.misfits(core, edge);
        let mut sum = best + plausible.iter().sum::<f64>().ln();
        sum += self.noted(notes).map(|innovation| innovation.log_density()).sum::<f64>();
        self.sight(levels, |innovation| sum += innovation.log_density());
        PERSUASION * sum
    }

    /// Greatest log density of the readings and one of the errors that the model may have, and how plausible each of those
    /// is beside it.
    fn misfits(&self, core: &[f64], edge: &[f64]) -> (f64, [f64; MISFITS.len()]) {
        let densities = MISFITS.map(|(misfit_c, likely)| {
            log_density(misfit_c, residuals(&self.core, core))
                + log_density(misfit_c, residuals(&self.edge, edge))
                + likely.ln()
        });
        let best = densities.iter().fold(f64::NEG_INFINITY, |best, own| best.max(*own));
        (best, densities.map(|own| (own - best).exp()))
    }

    fn split<'a>(&self, shown: &'a [f64]) -> [&'a [f64]; 4] {
        let (core, rest) = shown.split_at(self.core.len());
        let (edge, rest) = rest.split_at(self.edge.len());
        let (notes, levels) = rest.split_at(self.notes.len());
        [core, edge, notes, levels]
    }

    fn noted(&self, shown: &[f64]) -> impl Iterator<Item = Innovation> {
        let notes = self.notes.iter().zip(shown).filter(|(_, shown)| shown.is_finite());
        notes.map(|(note, shown)| {
            let deviation = note.error.hypot(MODEL_ERROR);
            Innovation { excess: (note.fraction - shown) / deviation, deviation }
        })
    }

    /// What sightings say of the log of the heap's volume over what is shown; `each` is told of the innovations.
    fn sight(&self, shown: &[f64], mut each: impl FnMut(Innovation)) -> Volume {
        let mut volume = Volume { day: f64::NEG_INFINITY, mean: 0.0, variance: VOLUME_ERROR.powi(2) };
        for (level, shown) in self.levels.iter().zip(shown).filter(|(_, shown)| **shown > 0.0) {
            volume = volume.seen_from(level.day);
            let total = volume.variance + level.error.powi(2);
            let excess = (level.volume_m3 / shown).ln() - volume.mean;
            let innovation = Innovation { excess: excess / total.sqrt(), deviation: total.sqrt() };
            let gain = volume.variance / total * innovation.weight().min(1.0);
            volume.mean += gain * excess;
            volume.variance -= gain * volume.variance;
            each(innovation);
        }
        volume
    }
}

/// Readings against what is shown, where there is a heap.
fn residuals(own: &[Readings], shown: &[f64]) -> impl Iterator<Item = Residual> {
    let shown = own.iter().zip(shown).filter(|(_, shown)| shown.is_finite());
    shown.map(|(one, shown)| Residual {
        day: one.day,
        memory: one.memory,
        residual_c: one.temperature_c - shown,
        count: one.count,
    })
}

impl Judged {
    /// A zone's error.
    #[must_use]
    pub fn zone(&self, zone: Zone) -> &Discrepancy {
        match zone {
            Zone::Core => &self.core,
            Zone::Edge => &self.edge,
        }
    }

    /// All innovations: core, edge, notes, levels.
    pub fn innovations(&self) -> impl Iterator<Item = &Innovation> {
        self.core.innovations.iter().chain(&self.edge.innovations).chain(&self.notes).chain(&self.levels)
    }

    /// Seen in the light of later readings too.
    #[must_use]
    pub fn smoothed(self) -> Self {
        Self { core: self.core.smoothed(), edge: self.edge.smoothed(), ..self }
    }
}
