//! A validated history in order of time, ready to integrate.

use std::collections::HashMap;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::agenda::{Agenda, Change, Dated};
use crate::check::{check, quoted};
use crate::estimate::Assumption;
use crate::feedstock::{Feedstock, default_feedstocks};
use crate::history::{
    Addition, CoverState, Event, History, Level, Merge, MoistureNote, Placement, Reading, Zone,
};
use crate::moisture::{MEASURED_ERROR, squeezed};
use crate::moment::{Moment, days_to_date, last_moment};
use crate::order::ordered;
use crate::problem::Problems;
use crate::weather::Weather;

/// Barrow load where none is given, m³.
pub const BARROW_M3: f64 = 0.085;
/// Days past `as_of` where no horizon is given.
const HORIZON_DAYS: u32 = 365;
/// Days between two forecast points where none are given.
const FORECAST_STEP_DAYS: u32 = 7;
/// Longest time from the first event to `as_of`, days.
const LONGEST_DAYS: f64 = 1826.0;
/// Depth of a layer whose amount nobody wrote down, as a share of the bay's height.
const UNKNOWN_LAYER: f64 = 0.1;

/// A reading, understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Days since 1970.
    pub day: f64,
    /// When, as given.
    pub at: Moment,
    /// °C.
    pub temperature_c: f64,
    /// Zone.
    pub zone: Zone,
    /// Share of the core's temperature in what the probe meets, the rest being the edge's.
    pub core_share: f64,
    /// Air temperature noted with it, °C.
    pub ambient_c: Option<f64>,
    /// JSON Pointer to the event.
    pub pointer: String,
}

/// How high the heap was seen to stand, understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighting {
    /// Days since 1970.
    pub day: f64,
    /// Share of the bay's inside height.
    pub fill_fraction: f64,
    /// JSON Pointer to the event.
    pub pointer: String,
}

/// A history in order.
#[derive(Clone, Debug)]
pub struct Timeline {
    /// What to integrate.
    pub agenda: Agenda,
    /// JSON Pointer of each change of the agenda.
    pub pointers: Vec<String>,
    /// Readings in order.
    pub readings: Vec<Seen>,
    /// Sightings of the level in order.
    pub sightings: Vec<Sighting>,
    /// First change, days.
    pub start: f64,
    /// The day the estimate is made for: its last moment, days.
    pub as_of: f64,
    /// End of the forecast, days.
    pub until: f64,
    /// Days between two forecast points.
    pub step_days: u32,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
    /// Relative standard error of all amounts together.
    pub amount_error: f64,
}

impl Timeline {
    /// Validates `history` and puts it in order; `today` stands in where it names no `as_of`.
    pub fn new(history: &History, today: Date) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        check(history, "", 0, &mut problems);
        let mut notes = Notes { problems, ..Notes::default() };
        if history.as_of.is_none() {
            notes.assume("/as_of", format!("today, {today}"));
        }
        let as_of_date = history.as_of.map_or(today, Moment::date);
        // Anything that happened on the day asked for is known: the estimate is for its last moment.
        let as_of = last_moment(as_of_date);
        let compiled = Compiler::run(history, "", Some(as_of), &mut notes);
        let start = compiled.start.unwrap_or(as_of);
        let until = as_of + f64::from(history.horizon_days.unwrap_or(HORIZON_DAYS));
        if compiled.start.is_some() && !(start..=start + LONGEST_DAYS).contains(&as_of) {
            notes.problems.add(
                "/as_of",
                quoted(&as_of_date.to_string()),
                format!("{} to {}", days_to_date(start), days_to_date(start + LONGEST_DAYS)),
            );
        } else if compiled.start.is_some() {
            ready_by(&history.ready_by, days_to_date(start), days_to_date(until), &mut notes.problems);
        }
        let Notes { problems, assumptions, weighted_error, weight } = notes;
        problems.into_result()?;
        let mut agenda = compiled.agenda;
        agenda.weather.open_after(as_of);
        Ok(Self {
            agenda,
            pointers: compiled.pointers,
            readings: compiled.readings,
            sightings: compiled.sightings,
            start,
            as_of,
            until,
            step_days: history.forecast_step_days.unwrap_or(FORECAST_STEP_DAYS),
            assumptions,
            amount_error: if weight > 0.0 { weighted_error / weight } else { 0.0 },
        })
    }
}

/// What comes up while histories are put in order.
#[derive(Default)]
struct Notes {
    problems: Problems,
    assumptions: Vec<Assumption>,
    /// Standard errors of amounts, weighed by dry mass.
    weighted_error: f64,
    weight: f64,
}

impl Notes {
    fn assume(&mut self, pointer: impl Into<String>, assumed: impl Into<String>) {
        self.assumptions.push(Assumption { pointer: pointer.into(), assumed: assumed.into() });
    }
}

/// One batch being put in order.
struct Compiler<'a> {
    history: &'a History,
    /// Pointer that the history stands under.
    at: &'a str,
    /// Last moment of the day of the estimate; readings and sightings after it are refused. Merged batches have none.
    known_until: Option<f64>,
    notes: &'a mut Notes,
    known: HashMap<&'a str, &'a Feedstock>,
    /// Bay it stands in.
    bay: usize,
    /// Whether anything is in it.
    filled: bool,
    /// Which of the history's sources have been merged.
    merged: Vec<bool>,
    compiled: Compiled,
}

/// One batch in order, with what belongs beside its agenda.
struct Compiled {
    agenda: Agenda,
    pointers: Vec<String>,
    readings: Vec<Seen>,
    sightings: Vec<Sighting>,
    start: Option<f64>,
}

impl<'a> Compiler<'a> {
    fn run(history: &'a History, at: &'a str, known_until: Option<f64>, notes: &'a mut Notes) -> Compiled {
        if history.site.normals.is_none() {
            let latitude = history.site.latitude_deg;
            notes.assume(
                format!("{at}/site/normals"),
                format!("a temperate, maritime climate for latitude {latitude}"),
            );
        }
        let defaults = default_feedstocks();
        let known = defaults.iter().chain(&history.feedstocks).map(|own| (own.id.as_str(), own)).collect();
        let mut compiler = Compiler {
            history,
            at,
            known_until,
            notes,
            known,
            bay: 0,
            filled: false,
            merged: vec![false; history.sources.len()],
            compiled: Compiled {
                agenda: Agenda {
                    batch: history.batch.clone(),
                    bays: std::iter::once(&history.bay).chain(&history.other_bays).cloned().collect(),
                    weather: weather(history),
                    changes: Vec::new(),
                    sources: Vec::new(),
                },
                pointers: Vec::new(),
                readings: Vec::new(),
                sightings: Vec::new(),
                start: None,
            },
        };
        for (index, event) in ordered(&history.events) {
            compiler.event(event, format!("{at}/events/{index}"));
        }
        compiler.finish()
    }

    fn event(&mut self, event: &Event, pointer: String) {
        let day = event.at.days();
        let fills = event.addition.is_some() || event.merge.is_some();
        if !self.filled && !fills && event.cover.is_none() {
            let accepted = match self.compiled.start {
                None => "a time after the first addition",
                Some(_) => "a time with something in the bay: it was emptied before",
            };
            let given = format!("{} at {}", event.details()[0], event.at);
            self.notes.problems.add(format!("{pointer}/at"), given, accepted);
            return;
        }
        if let Some(reading) = &event.reading {
            self.reading(event.at, reading, pointer);
            return;
        }
        if let Some(level) = event.level {
            self.sighting(event.at, level, pointer);
            return;
        }
        // Whatever is wrong with what went in, something did: events after it are not out of order.
        let Some(change) = self.change(event, day, &pointer) else {
            self.filled |= fills && !self.notes.problems.0.is_empty();
            return;
        };
        match &change {
            Change::Add(_) | Change::FillTo { .. } | Change::Merge { .. } => {
                self.filled = true;
                self.compiled.start.get_or_insert(day);
            }
            Change::Withdraw(None) => self.filled = false,
            _ => {}
        }
        self.push(day, change, pointer);
    }

    fn reading(&mut self, at: Moment, reading: &Reading, pointer: String) {
        self.known(at, &pointer, "a reading's time not after as_of");
        self.compiled.readings.push(Seen {
            day: at.days(),
            at,
            temperature_c: reading.celsius().unwrap_or_default(),
            zone: reading.zone(),
            core_share: reading.core_share(),
            ambient_c: reading.ambient_c,
            pointer,
        });
    }

    fn sighting(&mut self, at: Moment, level: Level, pointer: String) {
        self.known(at, &pointer, "a sighting's time not after as_of");
        let sighting = Sighting { day: at.days(), fill_fraction: level.fill_fraction, pointer };
        self.compiled.sightings.push(sighting);
    }

    /// Notes what was seen after the day of the estimate: a plan may lie there, a finding not.
    fn known(&mut self, at: Moment, pointer: &str, accepted: &str) {
        if self.known_until.is_some_and(|until| at.days() > until) {
            self.notes.problems.add(format!("{pointer}/at"), quoted(&at.to_string()), accepted);
        }
    }

    /// The change that an event makes, or `None` where it makes none or cannot be used.
    fn change(&mut self, event: &Event, day: f64, pointer: &str) -> Option<Change> {
        if let Some(addition) = &event.addition {
            self.addition(addition, day, pointer)
        } else if let Some(note) = &event.moisture {
            see_moisture(note)
        } else if let Some(moved) = &event.moved {
            let bays = &self.compiled.agenda.bays;
            let found = bays.iter().position(|candidate| candidate.id == moved.to_bay);
            if let Some(found) = found {
                self.bay = found;
            } else {
                let accepted = one_of(bays.iter().map(|bay| bay.id.as_str()));
                self.notes.problems.add(format!("{pointer}/move/to_bay"), quoted(&moved.to_bay), accepted);
            }
            found.map(Change::MoveTo)
        } else if let Some(merge) = &event.merge {
            self.merge(merge, day, pointer)
        } else if let Some(cover) = &event.cover {
            Some(Change::Cover(cover.state == CoverState::On))
        } else if let Some(watering) = &event.watering {
            Some(Change::Water(watering.litres))
        } else if let Some(withdrawal) = &event.withdrawal {
            Some(Change::Withdraw(withdrawal.volume_m3))
        } else if event.firming.is_some() {
            Some(Change::Firm)
        } else {
            event.turn.is_some().then_some(Change::Turn)
        }
    }

    fn addition(&mut self, own: &Addition, day: f64, pointer: &str) -> Option<Change> {
        let Some(feedstock) = self.known.get(own.feedstock.as_str()).copied() else {
            self.notes.problems.add(
                format!("{pointer}/addition/feedstock"),
                quoted(&own.feedstock),
                "an id of the feedstock table or of the history's own feedstocks",
            );
            return None;
        };
        let agenda = &self.compiled.agenda;
        let capacity_m3 = agenda.bays[self.bay].capacity_m3();
        let temperature_c = own.temperature_c.unwrap_or_else(|| agenda.weather.at(day).0);
        let material =
            |mass_kg: f64| feedstock.material(mass_kg, own.moisture_fraction, temperature_c, own.preparation);
        let per_m3 = material(feedstock.loose_kg_m3(own.moisture_fraction, own.preparation));
        let (change, error) = if let Some(mass_kg) = own.mass_kg {
            (Change::Add(material(mass_kg)), amount_error::WEIGHED)
        } else if let Some(volume_m3) = own.volume_m3 {
            (Change::Add(per_m3.times(volume_m3)), amount_error::VOLUME)
        } else if let Some(barrows) = own.barrows {
            let barrow_m3 = self.history.barrow_m3.unwrap_or(BARROW_M3);
            (Change::Add(per_m3.times(barrows * barrow_m3)), amount_error::BARROWS)
        } else if let Some(fraction) = own.filled_to_fraction {
            (Change::FillTo { fraction, per_m3 }, amount_error::LEVEL)
        } else {
            let volume_m3 = UNKNOWN_LAYER * capacity_m3;
            self.notes.assume(
                format!("{pointer}/addition"),
                format!("a layer a tenth of the bay high, {volume_m3:.2} m³ loose"),
            );
            (Change::Add(per_m3.times(volume_m3)), amount_error::UNKNOWN)
        };
        if own.barrows.is_some() && self.history.barrow_m3.is_none() {
            self.notes.assume(format!("{pointer}/addition/barrows"), format!("a barrow of {BARROW_M3} m³"));
        }
        let dry_kg = match &change {
            Change::Add(material) => material.matter.dry_kg(),
            // How much it takes shows only in the course; for the weighing of errors a third of the bay will do.
            _ => per_m3.matter.dry_kg() * capacity_m3 / 3.0,
        };
        self.notes.weighted_error += error * dry_kg;
        self.notes.weight += dry_kg;
        // Nothing put in changes nothing, and leaves an empty bay empty.
        (dry_kg > 0.0).then_some(change)
    }

    fn merge(&mut self, own: &Merge, day: f64, pointer: &str) -> Option<Change> {
        let sources = &self.history.sources;
        let problem = |notes: &mut Notes, accepted: String| {
            notes.problems.add(format!("{pointer}/merge/source"), quoted(&own.source), accepted);
        };
        let Some(index) = sources.iter().position(|source| source.batch == own.source) else {
            problem(self.notes, one_of(sources.iter().map(|source| source.batch.as_str())));
            return None;
        };
        if std::mem::replace(&mut self.merged[index], true) {
            problem(self.notes, "a batch merged once".into());
            return None;
        }
        let source =
            Compiler::run(&sources[index], &format!("{}/sources/{index}", self.at), None, self.notes);
        let last = source.agenda.changes.last().map(|change| change.day);
        if source.start.is_some_and(|start| start >= day) || last.is_some_and(|last| last > day) {
            self.notes.problems.add(
                format!("{pointer}/at"),
                format!("merge on {}", days_to_date(day)),
                format!("a time after the last event of {}", quoted(&own.source)),
            );
            return None;
        }
        self.compiled.agenda.sources.push(source.agenda);
        Some(Change::Merge {
            source: self.compiled.agenda.sources.len() - 1,
            mixed: own.placement == Placement::Mixed,
        })
    }

    /// Adds a change; additions at one moment are one.
    fn push(&mut self, day: f64, change: Change, pointer: String) {
        if let (Change::Add(material), Some(Dated { day: last, change: Change::Add(before) })) =
            (&change, self.compiled.agenda.changes.last_mut())
            && last.total_cmp(&day).is_eq()
        {
            before.combine(material);
            return;
        }
        self.compiled.agenda.changes.push(Dated { day, change });
        self.compiled.pointers.push(pointer);
    }

    fn finish(self) -> Compiled {
        let events = &self.history.events;
        if !events.iter().any(|event| event.addition.is_some() || event.merge.is_some()) {
            self.notes.problems.add(
                format!("{}/events", self.at),
                format!("{} events", events.len()),
                "at least one addition or merge",
            );
        }
        for (index, source) in self.history.sources.iter().enumerate() {
            if !self.merged[index] {
                self.notes.problems.add(
                    format!("{}/sources/{index}/batch", self.at),
                    quoted(&source.batch),
                    "a batch that a merge event names",
                );
            }
        }
        self.compiled
    }
}

/// Standard errors of an amount by how it was given, log scale. Estimates.
mod amount_error {
    pub const WEIGHED: f64 = 0.08;
    pub const VOLUME: f64 = 0.2;
    pub const BARROWS: f64 = 0.25;
    pub const LEVEL: f64 = 0.3;
    pub const UNKNOWN: f64 = 0.6;
}

/// Weather of the site; of the bare latitude where the normals were refused for their length.
fn weather(history: &History) -> Weather {
    let mut site = history.site.clone();
    site.normals =
        site.normals.filter(|normals| normals.mean_air_c.len() == 12 && normals.rain_mm.len() == 12);
    Weather::new(&site)
}

/// Notes each day asked about on which no opening could be told: up to the `first` day, and beyond the `last`.
fn ready_by(dates: &[Date], first: Date, last: Date, problems: &mut Problems) {
    for (index, date) in dates.iter().enumerate() {
        if *date <= first || *date > last {
            let accepted = format!("{} to {last}", first.saturating_add(1.day()));
            problems.add(format!("/ready_by/{index}"), quoted(&date.to_string()), accepted);
        }
    }
}

fn see_moisture(note: &MoistureNote) -> Option<Change> {
    let measured = note.percent.map(|percent| (percent / 100.0, MEASURED_ERROR));
    let (fraction, error) = measured.or_else(|| note.squeeze.map(squeezed))?;
    Some(Change::SeeMoisture { fraction, error })
}

fn one_of<'n>(names: impl Iterator<Item = &'n str>) -> String {
    let shown: Vec<_> = names.take(20).map(quoted).collect();
    if shown.is_empty() {
        "none: the history names no such thing".to_owned()
    } else {
        format!("one of {}", shown.join(", "))
    }
}
