//! A validated history in order of time, ready to integrate.

use std::collections::HashMap;

use crate::check::{check, quoted};
use crate::estimate::Assumption;
use crate::feedstock::{Feedstock, default_feedstocks};
use crate::history::{Addition, CoverState, Event, History, Placement, Zone};
use crate::moisture::{MEASURED_ERROR, squeezed};
use crate::moment::{Moment, date_to_days, days_to_date};
use crate::problem::Problems;
use crate::simulation::{Change, Dated, Plan};
use crate::weather::Weather;

/// Barrow load where none is given, m³.
const BARROW_M3: f64 = 0.085;
/// Days past `as_of` where no horizon is given.
const HORIZON_DAYS: u32 = 365;
/// Days between two forecast points where none are given.
const FORECAST_STEP_DAYS: u32 = 7;
/// Longest time from the first event to `as_of`, days.
const LONGEST_DAYS: f64 = 1826.0;
/// The last moment of a day, as a share of it.
const LAST_MOMENT: f64 = 1.0 - 1e-6;
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
    /// Air temperature noted with it, °C.
    pub ambient_c: Option<f64>,
    /// JSON Pointer to the event.
    pub pointer: String,
}

/// A history in order.
#[derive(Clone, Debug)]
pub struct Timeline {
    /// What to integrate.
    pub plan: Plan,
    /// JSON Pointer of each change of the plan.
    pub pointers: Vec<String>,
    /// Readings in order.
    pub readings: Vec<Seen>,
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
    pub fn new(history: &History, today: jiff::civil::Date) -> Result<Self, Problems> {
        let mut problems = Problems::default();
        check(history, "", 0, &mut problems);
        let mut compiler = Compiler { problems, assumptions: Vec::new(), weighted_error: 0.0, weight: 0.0 };
        if history.as_of.is_none() {
            compiler.assume("/as_of", format!("today, {today}"));
        }
        let as_of_date = history.as_of.map_or(today, Moment::date);
        // Anything that happened on the day asked for is known: the estimate is for its last moment.
        let as_of = date_to_days(as_of_date) + LAST_MOMENT;
        let compiled = compiler.batch(history, "", Some(as_of));
        let start = compiled.start.unwrap_or(as_of);
        if compiled.start.is_some() && !(start..=start + LONGEST_DAYS).contains(&as_of) {
            compiler.problems.add(
                "/as_of",
                quoted(&as_of_date.to_string()),
                format!("{} to {}", days_to_date(start), days_to_date(start + LONGEST_DAYS)),
            );
        }
        let Compiler { problems, assumptions, weighted_error, weight } = compiler;
        problems.into_result()?;
        Ok(Self {
            plan: compiled.plan,
            pointers: compiled.pointers,
            readings: compiled.readings,
            start,
            as_of,
            until: as_of + f64::from(history.horizon_days.unwrap_or(HORIZON_DAYS)),
            step_days: history.forecast_step_days.unwrap_or(FORECAST_STEP_DAYS),
            assumptions,
            amount_error: if weight > 0.0 { weighted_error / weight } else { 0.0 },
        })
    }
}

/// One batch put in order, with what belongs beside its plan.
struct Compiled {
    plan: Plan,
    pointers: Vec<String>,
    readings: Vec<Seen>,
    start: Option<f64>,
}

struct Compiler {
    problems: Problems,
    assumptions: Vec<Assumption>,
    weighted_error: f64,
    weight: f64,
}

impl Compiler {
    fn assume(&mut self, pointer: impl Into<String>, assumed: impl Into<String>) {
        self.assumptions.push(Assumption { pointer: pointer.into(), assumed: assumed.into() });
    }

    /// Puts one batch in order. `known_until` refuses later readings; sources have none.
    fn batch(&mut self, history: &History, at: &str, known_until: Option<f64>) -> Compiled {
        if history.site.normals.is_none() {
            self.assume(
                format!("{at}/site/normals"),
                format!("a temperate, maritime climate for latitude {}", history.site.latitude_deg),
            );
        }
        let weather = self.weather(history);
        let defaults = default_feedstocks();
        let mut known: HashMap<&str, &Feedstock> =
            defaults.iter().chain(&history.feedstocks).map(|f| (f.id.as_str(), f)).collect();
        known.retain(|_, f| f.fast_fraction + f.slow_fraction <= 1.0 + 1e-12);

        let mut order: Vec<(usize, &Event)> =
            history.events.iter().enumerate().filter(|(_, event)| event.details().len() == 1).collect();
        order.sort_by(|(_, a), (_, b)| {
            let key = |event: &Event| (event.at.days(), rank(event));
            let (day_a, rank_a) = key(a);
            let (day_b, rank_b) = key(b);
            day_a.total_cmp(&day_b).then(rank_a.cmp(&rank_b)).then_with(|| content(a).total_cmp(&content(b)))
        });

        let mut compiled = Compiled {
            plan: Plan {
                batch: history.batch.clone(),
                bays: std::iter::once(&history.bay).chain(&history.other_bays).cloned().collect(),
                weather,
                changes: Vec::new(),
                sources: Vec::new(),
            },
            pointers: Vec::new(),
            readings: Vec::new(),
            start: None,
        };
        let mut bay = 0;
        let mut filled = false;
        let mut merged = vec![false; history.sources.len()];
        for (index, event) in order {
            let pointer = format!("{at}/events/{index}");
            let day = event.at.days();
            if !filled && event.addition.is_none() && event.merge.is_none() && event.cover.is_none() {
                let name = event.details()[0];
                let accepted = match compiled.start {
                    None => "a time after the first addition",
                    Some(_) => "a time with something in the bay: it was emptied before",
                };
                self.problems.add(format!("{pointer}/at"), format!("{name} at {}", event.at), accepted);
                continue;
            }
            let change = if let Some(reading) = &event.reading {
                if known_until.is_some_and(|until| day > until) {
                    self.problems.add(
                        format!("{pointer}/at"),
                        quoted(&event.at.to_string()),
                        "a reading's time not after as_of",
                    );
                }
                compiled.readings.push(Seen {
                    day,
                    at: event.at,
                    temperature_c: reading.celsius().unwrap_or_default(),
                    zone: reading.zone(),
                    ambient_c: reading.ambient_c,
                    pointer,
                });
                continue;
            } else if let Some(addition) = &event.addition {
                let Some(change) =
                    self.addition(addition, day, history, &compiled.plan, bay, &known, &pointer)
                else {
                    continue;
                };
                filled = true;
                change
            } else if let Some(note) = &event.moisture {
                let (fraction, error) = match (note.percent, note.squeeze) {
                    (Some(percent), _) => (percent / 100.0, MEASURED_ERROR),
                    (None, Some(squeeze)) => squeezed(squeeze),
                    (None, None) => continue,
                };
                Change::SeeMoisture { fraction, error }
            } else if event.turn.is_some() {
                Change::Turn
            } else if let Some(moved) = &event.moved {
                let found = compiled.plan.bays.iter().position(|candidate| candidate.id == moved.to_bay);
                let Some(found) = found else {
                    let ids: Vec<_> = compiled.plan.bays.iter().map(|bay| bay.id.as_str()).collect();
                    self.problems.add(format!("{pointer}/move/to_bay"), quoted(&moved.to_bay), one_of(&ids));
                    continue;
                };
                bay = found;
                Change::MoveTo(found)
            } else if let Some(merge) = &event.merge {
                let Some(source) = self.source(history, &merge.source, day, &mut merged, at, &pointer) else {
                    continue;
                };
                compiled.plan.sources.push(source);
                filled = true;
                Change::Merge {
                    source: compiled.plan.sources.len() - 1,
                    mixed: merge.placement == Placement::Mixed,
                }
            } else if let Some(cover) = &event.cover {
                Change::Cover(cover.state == CoverState::On)
            } else if let Some(watering) = &event.watering {
                Change::Water(watering.litres)
            } else if event.firming.is_some() {
                Change::Firm
            } else {
                let volume = event.withdrawal.and_then(|withdrawal| withdrawal.volume_m3);
                filled = volume.is_some();
                Change::Withdraw(volume)
            };
            if matches!(change, Change::Add(_) | Change::FillTo { .. } | Change::Merge { .. }) {
                compiled.start.get_or_insert(day);
            }
            push(&mut compiled, day, change, pointer);
        }
        if compiled.start.is_none() && !history.events.iter().any(|event| event.addition.is_some()) {
            self.problems.add(
                format!("{at}/events"),
                format!("{} events", history.events.len()),
                "at least one addition or merge",
            );
        }
        for (index, _) in merged.iter().enumerate().filter(|(_, merged)| !**merged) {
            self.problems.add(
                format!("{at}/sources/{index}/batch"),
                quoted(&history.sources[index].batch),
                "a batch that a merge event names",
            );
        }
        compiled
    }

    /// Weather of the site, or of a bare latitude where the site's values were refused.
    fn weather(&self, history: &History) -> Weather {
        let usable = history
            .site
            .normals
            .as_ref()
            .is_none_or(|normals| normals.mean_air_c.len() == 12 && normals.rain_mm.len() == 12);
        let mut site = history.site.clone();
        if !usable {
            site.normals = None;
        }
        Weather::new(&site)
    }

    #[expect(clippy::too_many_arguments, reason = "one call site, each argument is a different thing")]
    fn addition(
        &mut self,
        own: &Addition,
        day: f64,
        history: &History,
        plan: &Plan,
        bay: usize,
        known: &HashMap<&str, &Feedstock>,
        pointer: &str,
    ) -> Option<Change> {
        let Some(feedstock) = known.get(own.feedstock.as_str()) else {
            self.problems.add(
                format!("{pointer}/addition/feedstock"),
                quoted(&own.feedstock),
                "an id of the feedstock table or of the history's own feedstocks",
            );
            return None;
        };
        let temperature_c = own.temperature_c.unwrap_or_else(|| plan.weather.at(day).0);
        let material =
            |mass_kg: f64| feedstock.material(mass_kg, own.moisture_fraction, temperature_c, own.preparation);
        let per_m3 = material(feedstock.loose_kg_m3(own.moisture_fraction, own.preparation));
        let (change, error) = if let Some(mass_kg) = own.mass_kg {
            (Change::Add(material(mass_kg)), 0.08)
        } else if let Some(volume_m3) = own.volume_m3 {
            (Change::Add(per_m3.times(volume_m3)), 0.2)
        } else if let Some(barrows) = own.barrows {
            let barrow_m3 = history.barrow_m3.unwrap_or_else(|| {
                self.assume("/barrow_m3", format!("a barrow of {BARROW_M3} m³"));
                BARROW_M3
            });
            (Change::Add(per_m3.times(barrows * barrow_m3)), 0.25)
        } else if let Some(fraction) = own.filled_to_fraction {
            (Change::FillTo { fraction, per_m3 }, 0.3)
        } else {
            let volume_m3 = UNKNOWN_LAYER * plan.bays[bay].capacity_m3();
            self.assume(
                format!("{pointer}/addition"),
                format!("a layer a tenth of the bay high, {volume_m3:.2} m³ loose"),
            );
            (Change::Add(per_m3.times(volume_m3)), 0.6)
        };
        if let Change::Add(material) = &change {
            let dry = material.matter.dry_kg();
            if dry <= 0.0 {
                // Nothing was put in: nothing changes, and an empty bay stays empty.
                return None;
            }
            self.weighted_error += error * dry;
            self.weight += dry;
        } else {
            let dry = per_m3.matter.dry_kg() * 0.3 * plan.bays[bay].capacity_m3();
            self.weighted_error += error * dry;
            self.weight += dry;
        }
        Some(change)
    }

    fn source(
        &mut self,
        history: &History,
        batch: &str,
        day: f64,
        merged: &mut [bool],
        at: &str,
        pointer: &str,
    ) -> Option<Plan> {
        let Some(index) = history.sources.iter().position(|source| source.batch == batch) else {
            let names: Vec<_> = history.sources.iter().map(|source| source.batch.as_str()).collect();
            self.problems.add(format!("{pointer}/merge/source"), quoted(batch), one_of(&names));
            return None;
        };
        if std::mem::replace(&mut merged[index], true) {
            self.problems.add(format!("{pointer}/merge/source"), quoted(batch), "a batch merged once");
            return None;
        }
        let source_at = format!("{at}/sources/{index}");
        let source = self.batch(&history.sources[index], &source_at, None);
        let last = source.plan.changes.last().map(|change| change.day);
        if source.start.is_some_and(|start| start >= day) || last.is_some_and(|last| last > day) {
            self.problems.add(
                format!("{pointer}/at"),
                format!("merge on {}", days_to_date(day)),
                format!("a time after the last event of {}", quoted(batch)),
            );
            return None;
        }
        Some(source.plan)
    }
}

/// Adds a change; additions at one moment are one.
fn push(compiled: &mut Compiled, day: f64, change: Change, pointer: String) {
    if let (Change::Add(material), Some(Dated { day: last, change: Change::Add(before) })) =
        (&change, compiled.plan.changes.last_mut())
        && *last == day
    {
        before.combine(material);
        return;
    }
    compiled.plan.changes.push(Dated { day, change });
    compiled.pointers.push(pointer);
}

/// Order of events of one moment: what was seen, then what left, came and was done.
fn rank(event: &Event) -> usize {
    const ORDER: [&str; 10] = [
        "reading",
        "moisture",
        "withdrawal",
        "merge",
        "move",
        "addition",
        "turn",
        "watering",
        "firming",
        "cover",
    ];
    let name = event.details().first().copied().unwrap_or_default();
    ORDER.iter().position(|candidate| *candidate == name).unwrap_or(ORDER.len())
}

/// A number to order events of one kind and moment by, so that the answer does not hang on their order in the list.
fn content(event: &Event) -> f64 {
    let text = |text: &str| text.bytes().fold(7.0, |sum, byte| (sum * 31.0 + f64::from(byte)) % 1e9);
    if let Some(own) = &event.addition {
        let amounts =
            [own.mass_kg, own.volume_m3, own.barrows, own.filled_to_fraction, own.moisture_fraction];
        text(&own.feedstock) + amounts.into_iter().flatten().sum::<f64>() * 1e-6
    } else if let Some(own) = &event.reading {
        own.celsius().unwrap_or_default()
    } else if let Some(own) = &event.merge {
        text(&own.source)
    } else if let Some(own) = &event.moved {
        text(&own.to_bay)
    } else if let Some(own) = &event.watering {
        own.litres
    } else if let Some(own) = &event.moisture {
        own.percent.unwrap_or_default() + own.squeeze.map_or(0.0, |squeeze| squeezed(squeeze).0)
    } else if let Some(own) = &event.withdrawal {
        own.volume_m3.unwrap_or(f64::MAX)
    } else {
        0.0
    }
}

fn one_of(names: &[&str]) -> String {
    if names.is_empty() {
        return "none: the history names no such thing".to_owned();
    }
    let shown: Vec<_> = names.iter().take(20).map(|name| quoted(name)).collect();
    format!("one of {}", shown.join(", "))
}
