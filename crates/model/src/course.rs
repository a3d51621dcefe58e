//! The course of a batch: its steps, to be read off at any moment, and its totals.

use crate::estimate::Balance as Flows;
use crate::heap::{Heap, Material};
use crate::moisture::moisture_fraction;
use crate::rates::{Balance, CORE, DEGRADED, DRAINED, EDGE, EFFECTIVE, ENTRIES, EVAPORATED, RAIN};
use crate::rosenbrock::Step;
use crate::seeds::{SPECIES_COUNT, SeedLot, hazards_per_day};

/// One stretch between two changes with a heap in the bay.
#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    pub(crate) bay: usize,
    /// Totals and effective days at its start.
    pub(crate) before: (Totals, f64),
    /// The heap at its start; only its seeds change from step to step.
    pub(crate) heap: Heap,
    pub(crate) steps: Vec<Step<ENTRIES>>,
    /// Seeds of core and edge at the start of each step.
    pub(crate) seeds: Vec<[SeedLot; 2]>,
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

    /// Counts in material, or another heap, that is put in.
    pub(crate) fn take_in(&mut self, material: &Material) {
        let matter = &material.matter;
        self.flows.dry_in_kg += matter.dry_kg();
        self.flows.water_in_kg += matter.water_kg;
        self.material_water_kg += matter.water_kg;
        self.flows.volume_in_m3 += material.loose_m3;
        self.carbon_in_kg += matter.carbon_kg_kg * matter.volatile_kg();
        self.nitrogen_in_kg += material.nitrogen_kg;
    }

    /// Adds the integrals of one stretch.
    pub(crate) fn integrate(&mut self, y: &[f64; ENTRIES], metabolic_water_kg_kg: f64) {
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
    pub(crate) stretches: Vec<Stretch>,
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
    pub(crate) emptied: Vec<(f64, Totals)>,
    pub(crate) metabolic_water_kg_kg: f64,
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

/// Boole's rule over one step, exact to fifth degree.
const BOOLE: [(f64, f64); 5] =
    [(0.0, 7.0 / 90.0), (0.25, 32.0 / 90.0), (0.5, 12.0 / 90.0), (0.75, 32.0 / 90.0), (1.0, 7.0 / 90.0)];

/// Lets the seeds of both zones die over the first `share` of a step.
pub(crate) fn age_seeds(step: &Step<ENTRIES>, share: f64, heap: &mut Heap) {
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
