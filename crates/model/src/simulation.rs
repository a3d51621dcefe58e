//! A batch's course: the balance integrated from event to event, never across one.

use crate::bay::Bay;
use crate::estimate::Balance as Flows;
use crate::heap::{Heap, Material};
use crate::moisture::{moisture_fraction, reconciled};
use crate::parameters::Parameters;
use crate::rates::{
    Balance, CORE, DEGRADED, DRAINED, EDGE, EFFECTIVE, ENTRIES, EVAPORATED, RAIN, STATES, Surroundings,
};
use crate::rosenbrock::{Failure, Step, Tolerance, integrate};
use crate::seeds::{SPECIES_COUNT, SeedLot, hazards_per_day};
use crate::weather::Weather;

/// Something that changes the heap, ready to apply.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Material laid on.
    Add(Material),
    /// Material filled up to a share of the bay's height: the amount is what is missing.
    FillTo {
        /// Share of the height.
        fraction: f64,
        /// One loose cubic metre of it.
        per_m3: Material,
    },
    /// Turned within the bay.
    Turn,
    /// Moved into another bay, by index.
    MoveTo(usize),
    /// Another batch's heap, from its own course up to then.
    Merge {
        /// Index into the plan's sources.
        source: usize,
        /// Whether both are turned together.
        mixed: bool,
    },
    /// Cover on or off.
    Cover(bool),
    /// Water, litres.
    Water(f64),
    /// Firmed.
    Firm,
    /// Volume taken, m³; all where `None`.
    Withdraw(Option<f64>),
    /// Moisture seen: wet-basis fraction and its standard error.
    SeeMoisture {
        /// Seen.
        fraction: f64,
        /// Standard error.
        error: f64,
    },
}

/// A change and its day.
#[derive(Clone, Debug, PartialEq)]
pub struct Dated {
    /// Days since 1970.
    pub day: f64,
    /// The change.
    pub change: Change,
}

/// All that the integration of one batch needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The batch's name.
    pub batch: String,
    /// Bays by index; the first is where it starts.
    pub bays: Vec<Bay>,
    /// Weather.
    pub weather: Weather,
    /// Changes in order of time.
    pub changes: Vec<Dated>,
    /// Merged batches, each cut off at its merge.
    pub sources: Vec<Plan>,
}

/// One stretch between two changes with a heap in the bay.
#[derive(Clone, Debug)]
struct Stretch {
    bay: usize,
    /// Totals and effective days at its start.
    before: (Totals, f64),
    /// The heap at its start; only its seeds change from step to step.
    heap: Heap,
    steps: Vec<Step<ENTRIES>>,
    /// Seeds of core and edge at the start of each step.
    seeds: Vec<[SeedLot; 2]>,
}

/// Totals since the start.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// What went in, left and came; the properties of the mix are filled in by [`Totals::balance`].
    pub flows: Flows,
    /// Water in the material put in, without watering, kg.
    pub material_water_kg: f64,
    /// Carbon put in, kg.
    pub carbon_in_kg: f64,
    /// Nitrogen put in, kg.
    pub nitrogen_in_kg: f64,
}

impl Totals {
    /// The balance with the properties of the mix.
    #[must_use]
    pub fn balance(&self) -> Flows {
        if self.flows.dry_in_kg <= 0.0 {
            return self.flows;
        }
        Flows {
            mix_c_to_n: self.carbon_in_kg / self.nitrogen_in_kg,
            mix_moisture_fraction: moisture_fraction(self.material_water_kg, self.flows.dry_in_kg),
            ..self.flows
        }
    }

    /// Adds the integrals of one stretch.
    fn integrate(&mut self, y: &[f64; ENTRIES], metabolic_water_kg_kg: f64) {
        self.flows.dry_degraded_kg += y[DEGRADED];
        self.flows.metabolic_water_kg += metabolic_water_kg_kg * y[DEGRADED];
        self.flows.evaporated_kg += y[EVAPORATED];
        self.flows.drained_kg += y[DRAINED];
        self.flows.rain_kg += y[RAIN];
    }
}

/// The course of one batch.
#[derive(Clone, Debug)]
pub struct Course {
    stretches: Vec<Stretch>,
    /// Totals since the start.
    pub totals: Totals,
    /// The heap at the end, if any is left.
    pub end: Option<Heap>,
    /// Changes that could not be carried out in full: index into the plan's changes, and what was short.
    pub shortfalls: Vec<Shortfall>,
    /// Effective days at the end.
    pub effective_days: f64,
    /// Batches merged in.
    pub merged: Vec<Merged>,
    /// Days on which the bay was emptied, and the totals then.
    emptied: Vec<(f64, Totals)>,
    metabolic_water_kg_kg: f64,
}

/// A batch as it was merged in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Merged {
    /// Index into the plan's sources.
    pub source: usize,
    /// Days since 1970.
    pub day: f64,
    /// Dry mass it brought, kg.
    pub dry_kg: f64,
}

/// A change that asked for more than there was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shortfall {
    /// Index into the plan's changes.
    pub change: usize,
    /// What the heap or bay had, m³.
    pub available_m3: f64,
}

/// The heap at one moment of its course.
#[derive(Clone, Copy, Debug)]
pub struct Snapshot {
    /// The bay it stands in, by index.
    pub bay: usize,
    /// The heap.
    pub heap: Heap,
    /// Effective days so far.
    pub effective_days: f64,
}

impl Plan {
    /// Integrates from the first change to `until` (days since 1970).
    pub fn run(&self, p: &Parameters, tolerance: Tolerance, until: f64) -> Result<Course, Failure> {
        let mut run = Run {
            plan: self,
            p,
            tolerance,
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
        run.course.end = run.heap;
        run.course.effective_days = run.effective_days;
        Ok(run.course)
    }
}

struct Run<'a> {
    plan: &'a Plan,
    p: &'a Parameters,
    tolerance: Tolerance,
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
        let plan = self.plan;
        let p = self.p;
        let (air_c, _) = plan.weather.at(dated.day);
        match &dated.change {
            Change::Add(material) => self.add(material),
            Change::FillTo { fraction, per_m3 } => {
                let bay = &plan.bays[self.bay];
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
                    heap.turn(&plan.bays[self.bay], air_c, p);
                }
            }
            Change::Turn => {
                if let Some(heap) = &mut self.heap {
                    heap.turn(&plan.bays[self.bay], air_c, p);
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
        let bay = &self.plan.bays[self.bay];
        let mut material = *material;
        if let Some(waiting) = self.waiting.take() {
            material.combine(&waiting);
        }
        if self.heap.is_none() && material.matter.dry_kg() < least_kg(bay) {
            self.waiting = Some(material);
            return;
        }
        let totals = &mut self.course.totals;
        totals.flows.dry_in_kg += material.matter.dry_kg();
        totals.flows.water_in_kg += material.matter.water_kg;
        totals.material_water_kg += material.matter.water_kg;
        totals.flows.volume_in_m3 += material.loose_m3;
        totals.carbon_in_kg += material.matter.carbon_kg_kg * material.matter.volatile_kg();
        totals.nitrogen_in_kg += material.nitrogen_kg;
        if let Some(heap) = &mut self.heap {
            heap.add(&material, bay, self.p);
        } else {
            self.heap = Some(Heap::new(&material, bay, self.p));
        }
    }

    fn merge(&mut self, source: usize, mixed: bool, day: f64, air_c: f64) -> Result<(), Failure> {
        let other = self.plan.sources[source].run(self.p, self.tolerance, day)?;
        let Some(newcomer) = other.end else { return Ok(()) };
        self.course.merged.push(Merged { source, day, dry_kg: newcomer.dry_kg() });
        let bay = &self.plan.bays[self.bay];
        let totals = &mut self.course.totals;
        totals.flows.dry_in_kg += newcomer.dry_kg();
        totals.flows.water_in_kg += newcomer.water_kg();
        totals.material_water_kg += newcomer.water_kg();
        totals.flows.volume_in_m3 += newcomer.volume_m3();
        totals.carbon_in_kg += newcomer.carbon_kg();
        totals.nitrogen_in_kg += newcomer.nitrogen_kg;
        match &mut self.heap {
            Some(heap) if mixed => heap.merge_mixed(&newcomer, bay, air_c, self.p),
            Some(heap) => heap.merge_on_top(&newcomer, bay, air_c, self.p),
            None => {
                self.effective_days = other.effective_days;
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
        let sweepings = share > 0.999 || left_kg < least_kg(&self.plan.bays[self.bay]);
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
        let weather = &self.plan.weather;
        let mut stops = weather.corners(from, to);
        stops.push(to);
        let mut start = from;
        for stop in stops {
            if stop > start {
                self.stretch(start, stop)?;
            }
            start = stop;
        }
        Ok(())
    }

    fn stretch(&mut self, from: f64, to: f64) -> Result<(), Failure> {
        let Some(mut heap) = self.heap else { return Ok(()) };
        let around = Surroundings::new(&self.plan.bays[self.bay], self.covered, &self.plan.weather);
        let balance = Balance::new(self.p, around, &heap);
        let at_start = heap;
        let before = (self.course.totals, self.effective_days);
        let mut steps = Vec::with_capacity(16);
        let mut seeds = Vec::with_capacity(16);
        let end = integrate::<STATES, ENTRIES>(
            &balance,
            self.tolerance,
            self.step_days,
            (from, to),
            Balance::state(&heap),
            |step| {
                seeds.push([heap.core.seeds, heap.edge.seeds]);
                age_seeds(step, 1.0, &mut heap);
                steps.push(step.clone());
            },
        )?;
        // The longest step of the stretch: the next starts at a share of it, and error control does the rest.
        let longest = steps.iter().map(|step: &Step<ENTRIES>| step.h).fold(0.0, f64::max);
        self.step_days = (0.3 * longest).max(0.02);
        self.course.totals.integrate(&end, self.p.metabolic_water_kg_kg);
        self.effective_days += end[EFFECTIVE];
        self.course.stretches.push(Stretch { bay: self.bay, before, heap: at_start, steps, seeds });
        self.heap = Some(Balance::heap(&heap, &end));
        Ok(())
    }
}

/// Least dry mass that the balance is meant for: 0.2 kg on each square metre of the bay's floor, some 5 mm of mowings.
fn least_kg(bay: &Bay) -> f64 {
    0.2 * bay.length_m * bay.width_m
}

/// Boole's rule over one step, exact to fifth degree.
const BOOLE: [(f64, f64); 5] =
    [(0.0, 7.0 / 90.0), (0.25, 32.0 / 90.0), (0.5, 12.0 / 90.0), (0.75, 32.0 / 90.0), (1.0, 7.0 / 90.0)];

/// Lets the seeds of both zones die over the first `share` of a step.
fn age_seeds(step: &Step<ENTRIES>, share: f64, heap: &mut Heap) {
    let mut hazard = [[0.0; SPECIES_COUNT]; 2];
    for (theta, weight) in BOOLE {
        let y = step.at(theta * share);
        for (total, offset, ash) in [(0, CORE, heap.core.ash_kg), (1, EDGE, heap.edge.ash_kg)] {
            let dry = y[offset] + y[offset + 1] + y[offset + 2] + ash;
            let rates = hazards_per_day(y[offset + 4], moisture_fraction(y[offset + 3], dry));
            for (sum, rate) in hazard[total].iter_mut().zip(rates) {
                *sum += weight * share * step.h * rate;
            }
        }
    }
    heap.core.seeds.die(&hazard[0]);
    heap.edge.seeds.die(&hazard[1]);
}

impl Course {
    /// The heap at `day`, `None` where the bay was empty. At a change, the state before it.
    ///
    /// Seeds are left as they were at the start of the integrator's step; [`Course::with_seeds`] brings them up.
    #[must_use]
    pub fn at(&self, day: f64) -> Option<Snapshot> {
        let (index, number, theta) = self.locate(day)?;
        let stretch = &self.stretches[index];
        let y = stretch.steps[number].at(theta);
        let mut heap = Balance::heap(&stretch.heap, &y);
        [heap.core.seeds, heap.edge.seeds] = stretch.seeds[number];
        Some(Snapshot { bay: stretch.bay, heap, effective_days: stretch.before.1 + y[EFFECTIVE] })
    }

    /// The same with the seeds of that very moment.
    #[must_use]
    pub fn with_seeds(&self, day: f64) -> Option<Snapshot> {
        let (index, number, theta) = self.locate(day)?;
        let mut snapshot = self.at(day)?;
        age_seeds(&self.stretches[index].steps[number], theta, &mut snapshot.heap);
        Some(snapshot)
    }

    /// Totals up to `day`.
    #[must_use]
    pub fn totals_until(&self, day: f64) -> Totals {
        let Some((index, number, theta)) = self.locate(day) else {
            let emptied = self.emptied.iter().rev().find(|(emptied, _)| *emptied <= day);
            return emptied.map_or_else(Totals::default, |(_, totals)| *totals);
        };
        let stretch = &self.stretches[index];
        let mut totals = stretch.before.0;
        totals.integrate(&stretch.steps[number].at(theta), self.metabolic_water_kg_kg);
        totals
    }

    /// Stretch, step and place within the step of `day`.
    fn locate(&self, day: f64) -> Option<(usize, usize, f64)> {
        let index = self.stretches.partition_point(|stretch| stretch.steps[0].t < day).saturating_sub(1);
        let stretch = self.stretches.get(index)?;
        let number = stretch.steps.partition_point(|step| step.t < day).saturating_sub(1);
        let step = &stretch.steps[number];
        let theta = (day - step.t) / step.h;
        // A hair past the end is rounding; more is a time with no heap.
        (-1e-6..=1.0 + 1e-6).contains(&theta).then(|| (index, number, theta.clamp(0.0, 1.0)))
    }
}

impl Material {
    /// `amount` times the material.
    #[must_use]
    pub fn times(&self, amount: f64) -> Self {
        let mut material = *self;
        let matter = &mut material.matter;
        for mass in [
            &mut matter.fast_kg,
            &mut matter.slow_kg,
            &mut matter.resistant_kg,
            &mut matter.ash_kg,
            &mut matter.water_kg,
            &mut material.nitrogen_kg,
            &mut material.loose_m3,
            &mut material.origin.dry_kg,
            &mut material.origin.settled_m3,
            &mut material.origin.degradable_kg,
            &mut material.origin.matting_kg,
        ] {
            *mass *= amount;
        }
        matter.seeds = matter.seeds.scaled(amount);
        material
    }
}
