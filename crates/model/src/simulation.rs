//! A batch's course worked out: the balance integrated from event to event, never across one.

use std::sync::Arc;

use crate::agenda::{Agenda, Change, Dated};
use crate::bay::Bay;
use crate::checkpoint::Earlier;
use crate::course::{Course, Merged, Placed, Shortfall, Totals};
use crate::heap::{Heap, Material};
use crate::moisture::reconciled;
use crate::parameters::Parameters;
use crate::rates::EFFECTIVE;
use crate::rosenbrock::{Failure, SHORTEST_DAYS, Tolerance};
use crate::stretch::{Entry, Stretch};

impl Agenda {
    /// Integrates from the first change to `until` (days since 1970).
    pub fn run(&self, p: &Parameters, tolerance: Tolerance, until: f64) -> Result<Course, Failure> {
        self.run_from(p, tolerance, until, None)
    }

    /// The same course, with the stretches of an `earlier` one wherever both are entered alike: those are not worked out
    /// again. The earlier course was run with the same constants and tolerance.
    pub(crate) fn run_from(
        &self,
        p: &Parameters,
        tolerance: Tolerance,
        until: f64,
        earlier: Option<Earlier<'_>>,
    ) -> Result<Course, Failure> {
        let mut run = Run {
            agenda: self,
            p,
            tolerance,
            earlier,
            bay: 0,
            covered: false,
            heap: None,
            waiting: None,
            course: Course {
                stretches: Vec::new(),
                totals: Totals::default(),
                end: None,
                shortfalls: Vec::new(),
                effective_days: 0.0,
                merged: Vec::new(),
                emptied: Vec::new(),
                metabolic_water_kg_kg: p.metabolic_water_kg_kg,
            },
            effective_days: 0.0,
            step_days: 0.05,
        };
        for (index, dated) in self.changes.iter().enumerate() {
            if dated.day > until {
                break;
            }
            run.apply(index, dated)?;
            let next = self.changes.get(index + 1).map_or(until, |next| next.day.min(until));
            run.advance(dated.day, next)?;
        }
        run.course.stretches.shrink_to_fit();
        run.course.end = run.heap;
        run.course.effective_days = run.effective_days;
        Ok(run.course)
    }
}

struct Run<'a> {
    agenda: &'a Agenda,
    p: &'a Parameters,
    tolerance: Tolerance,
    earlier: Option<Earlier<'a>>,
    bay: usize,
    covered: bool,
    heap: Option<Heap>,
    /// Too little to be a heap: it waits in the bay for what comes next.
    waiting: Option<Material>,
    course: Course,
    effective_days: f64,
    /// First step of the next stretch, days.
    step_days: f64,
}

impl Run<'_> {
    fn apply(&mut self, index: usize, dated: &Dated) -> Result<(), Failure> {
        let agenda = self.agenda;
        let p = self.p;
        let (air_c, _) = agenda.weather.at(dated.day);
        match &dated.change {
            Change::Add(material) => self.add(material),
            Change::FillTo { fraction, per_m3 } => {
                let bay = &agenda.bays[self.bay];
                let there = self.heap.map_or(0.0, |heap| heap.volume_m3());
                let missing = fraction * bay.capacity_m3() - there;
                if missing > 0.0 {
                    self.add(&per_m3.times(missing));
                } else {
                    self.course.shortfalls.push(Shortfall { change: index, available_m3: there });
                }
            }
            Change::MoveTo(bay) => {
                if let Some(heap) = &mut self.heap {
                    self.bay = *bay;
                    self.covered = false;
                    heap.turn(&agenda.bays[self.bay], air_c, p);
                }
            }
            Change::Turn => {
                if let Some(heap) = &mut self.heap {
                    heap.turn(&agenda.bays[self.bay], air_c, p);
                }
            }
            Change::Merge { source, mixed } => self.merge(*source, *mixed, dated.day, air_c)?,
            Change::Cover(on) => self.covered = *on,
            Change::Water(litres) => {
                if let Some(heap) = &mut self.heap {
                    self.course.totals.flows.water_in_kg += litres;
                    self.course.totals.flows.drained_kg += heap.water(*litres, air_c);
                }
            }
            Change::Firm => {
                if let Some(heap) = &mut self.heap {
                    heap.firm(p);
                }
            }
            Change::Withdraw(volume_m3) => self.withdraw(index, dated.day, *volume_m3),
            Change::SeeMoisture { fraction, error } => {
                if let Some(heap) = &mut self.heap {
                    let target = reconciled(heap.moisture_fraction(), *fraction, *error).clamp(0.05, 0.95);
                    self.course.totals.flows.water_corrected_kg += heap.correct_moisture(target);
                }
            }
        }
        Ok(())
    }

    fn add(&mut self, material: &Material) {
        let bay = &self.agenda.bays[self.bay];
        let mut material = *material;
        if let Some(waiting) = self.waiting.take() {
            material.combine(&waiting);
        }
        if self.heap.is_none() && material.matter.dry_kg() < least_kg(bay) {
            self.waiting = Some(material);
            return;
        }
        self.course.totals.take_in(&material);
        if let Some(heap) = &mut self.heap {
            heap.add(&material, bay, self.p);
        } else {
            self.heap = Some(Heap::new(&material, bay, self.p));
        }
    }

    fn merge(&mut self, source: usize, mixed: bool, day: f64, air_c: f64) -> Result<(), Failure> {
        let known = self.earlier.as_ref().and_then(|earlier| earlier.merged(source, day));
        let merged = if let Some(merged) = known {
            *merged
        } else {
            let other = self.agenda.sources[source].run(self.p, self.tolerance, day)?;
            let Some(heap) = other.end else { return Ok(()) };
            Merged { source, day, heap, effective_days: other.effective_days }
        };
        self.course.merged.push(merged);
        let newcomer = merged.heap;
        let bay = &self.agenda.bays[self.bay];
        self.course.totals.take_in(&newcomer.as_material());
        match &mut self.heap {
            Some(heap) if mixed => heap.merge_mixed(&newcomer, bay, air_c, self.p),
            Some(heap) => heap.merge_on_top(&newcomer, bay, air_c, self.p),
            None => {
                self.effective_days = merged.effective_days;
                let mut heap = newcomer;
                heap.turn(bay, air_c, self.p);
                self.heap = Some(heap);
            }
        }
        Ok(())
    }

    fn withdraw(&mut self, index: usize, day: f64, volume_m3: Option<f64>) {
        let Some(heap) = &mut self.heap else { return };
        let there = heap.volume_m3();
        let share = volume_m3.map_or(1.0, |volume| volume / there);
        if share > 1.0 {
            self.course.shortfalls.push(Shortfall { change: index, available_m3: there });
        }
        // What is left of less than a thousandth, or of less than a heap, is sweepings.
        let left_kg = (1.0 - share) * heap.dry_kg();
        let sweepings = share > 0.999 || left_kg < least_kg(&self.agenda.bays[self.bay]);
        let share = if sweepings { 1.0 } else { share };
        let taken = heap.withdraw(share);
        self.course.totals.flows.dry_withdrawn_kg += taken.dry_kg();
        self.course.totals.flows.water_withdrawn_kg += taken.water_kg();
        if share >= 1.0 {
            self.course.emptied.push((day, self.course.totals));
            self.effective_days = 0.0;
            self.heap = None;
        }
    }

    /// Integrates from `from` to `to`, split at the weather's corners.
    fn advance(&mut self, from: f64, to: f64) -> Result<(), Failure> {
        let weather = &self.agenda.weather;
        let mut stops = weather.corners(from, to);
        stops.push(to);
        let mut start = from;
        for stop in stops {
            if stop > start {
                self.stretch(start, stop)?;
            }
            start = stop;
        }
        if let Some(last) = self.course.stretches.last() {
            self.step_days = last.stretch.step_days_after_change;
        }
        Ok(())
    }

    fn stretch(&mut self, from: f64, to: f64) -> Result<(), Failure> {
        let Some(heap) = self.heap else { return Ok(()) };
        // A moment too short for a step passes at once.
        if to - from <= SHORTEST_DAYS {
            return Ok(());
        }
        let entry = Entry { from, to, bay: self.bay, covered: self.covered, step_days: self.step_days, heap };
        let place = self.course.stretches.len();
        let known = self.earlier.as_ref().and_then(|earlier| earlier.stretch(place, &entry));
        let stretch = if let Some(stretch) = known {
            stretch.clone()
        } else {
            Arc::new(Stretch::new(entry, self.agenda, self.p, self.tolerance)?)
        };
        let before = (self.course.totals, self.effective_days);
        self.course.totals.integrate(&stretch.end, self.p.metabolic_water_kg_kg);
        self.effective_days += stretch.end[EFFECTIVE];
        self.step_days = stretch.step_days;
        self.heap = Some(stretch.left);
        self.course.stretches.push(Placed { from, before, stretch });
        Ok(())
    }
}

/// Least dry mass that the balance is meant for: 0.2 kg on each square metre of the bay's floor, some 5 mm of mowings.
fn least_kg(bay: &Bay) -> f64 {
    0.2 * bay.length_m * bay.width_m
}
