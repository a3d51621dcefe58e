//! The course of a batch: its stretches, to be read off at any moment, and its totals.

use std::sync::Arc;

use crate::estimate::Balance as Flows;
use crate::heap::{Heap, Material};
use crate::history::Zone;
use crate::moisture::moisture_fraction;
use crate::rates::{DEGRADED, DRAINED, EFFECTIVE, ENTRIES, EVAPORATED, RAIN};
use crate::stretch::{Place, Stretch};
use crate::window::DayView;

/// A stretch in its place in a course. Courses that are alike so far share it.
#[derive(Clone, Debug)]
pub(crate) struct Placed {
    /// Its start, days since 1970.
    pub(crate) from: f64,
    /// Totals and effective days at its start.
    pub(crate) before: (Totals, f64),
    pub(crate) stretch: Arc<Stretch>,
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
    pub(crate) stretches: Vec<Placed>,
    /// Totals since the start.
    pub totals: Totals,
    /// The heap at the end, if any is left.
    pub end: Option<Heap>,
    /// Changes that could not be carried out in full: index into the agenda's changes, and what was short.
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
    /// Index into the agenda's sources.
    pub source: usize,
    /// Days since 1970.
    pub day: f64,
    /// Its heap then.
    pub heap: Heap,
    /// Its effective days by then.
    pub effective_days: f64,
}

impl Merged {
    /// Dry mass it brought, kg.
    #[must_use]
    pub fn dry_kg(&self) -> f64 {
        self.heap.dry_kg()
    }
}

/// A change that asked for more than there was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shortfall {
    /// Index into the agenda's changes.
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

impl Course {
    /// The heap at `day`, `None` where the bay was empty. At a change, the state before it.
    ///
    /// Seeds are left as they were at the last change or corner of the weather; [`Course::with_seeds`] brings them up.
    #[must_use]
    pub fn at(&self, day: f64) -> Option<Snapshot> {
        let (placed, place) = self.locate(day)?;
        Some(placed.snapshot(place))
    }

    /// The same with the seeds of that very moment.
    #[must_use]
    pub fn with_seeds(&self, day: f64) -> Option<Snapshot> {
        let (placed, place) = self.locate(day)?;
        let mut snapshot = placed.snapshot(place);
        placed.stretch.age_to(place, &mut snapshot.heap);
        Some(snapshot)
    }

    /// A zone's temperature at `day`, °C, as in [`Course::at`].
    #[must_use]
    pub fn temperature_c(&self, zone: Zone, day: f64) -> Option<f64> {
        let (placed, place) = self.locate(day)?;
        Some(placed.stretch.temperature_c(place, zone))
    }

    /// Totals up to `day`.
    #[must_use]
    pub fn totals_until(&self, day: f64) -> Totals {
        let Some((placed, place)) = self.locate(day) else {
            let emptied = self.emptied.iter().rev().find(|(emptied, _)| *emptied <= day);
            return emptied.map_or_else(Totals::default, |(_, totals)| *totals);
        };
        let mut totals = placed.before.0;
        totals.integrate(&placed.stretch.state(place), self.metabolic_water_kg_kg);
        totals
    }

    /// The heap at every noon that finds one.
    pub(crate) fn noons(&self) -> impl Iterator<Item = &DayView> {
        self.stretches.iter().flat_map(|placed| &placed.stretch.noons)
    }

    /// Steps that the integrator took.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.stretches.iter().map(|placed| placed.stretch.steps()).sum()
    }

    /// Bytes that it takes, all stretches counted in full.
    pub(crate) fn bytes(&self) -> usize {
        let stretches: usize = self.stretches.iter().map(|placed| placed.stretch.bytes()).sum();
        size_of::<Self>()
            + stretches
            + self.stretches.capacity() * size_of::<Placed>()
            + self.shortfalls.capacity() * size_of::<Shortfall>()
            + self.merged.capacity() * size_of::<Merged>()
            + self.emptied.capacity() * size_of::<(f64, Totals)>()
    }

    /// The stretch that `day` is in, and where.
    fn locate(&self, day: f64) -> Option<(&Placed, Place)> {
        let index = self.stretches.partition_point(|placed| placed.from < day).saturating_sub(1);
        let placed = self.stretches.get(index)?;
        Some((placed, placed.stretch.locate(day)?))
    }
}

impl Placed {
    fn snapshot(&self, place: Place) -> Snapshot {
        let y = self.stretch.state(place);
        Snapshot {
            bay: self.stretch.entry.bay,
            heap: self.stretch.heap(&y),
            effective_days: self.before.1 + y[EFFECTIVE],
        }
    }
}
