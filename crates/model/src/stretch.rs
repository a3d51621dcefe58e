//! One stretch of a course between two boundaries: a pure outcome of what it was entered with.

use crate::heap::Heap;
use crate::history::Zone;
use crate::moisture::moisture_fraction;
use crate::parameters::Parameters;
use crate::plan::Plan;
use crate::rates::{Balance, CORE, EDGE, ENTRIES, Surroundings};
use crate::rosenbrock::{End, Failure, Step, Tolerance, integrate, interpolated};
use crate::seeds::{SPECIES_COUNT, hazards_per_day};
use crate::window::{DayView, noon_after};

/// What a stretch is entered with. With the same constants, bays and weather, the same entry is the same stretch.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Entry {
    /// Days since 1970.
    pub(crate) from: f64,
    /// Days since 1970.
    pub(crate) to: f64,
    /// Bay, by index.
    pub(crate) bay: usize,
    pub(crate) covered: bool,
    /// First step tried, days.
    pub(crate) step_days: f64,
    pub(crate) heap: Heap,
}

/// One stretch between two boundaries with a heap in the bay.
#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    pub(crate) entry: Entry,
    pieces: Box<[Piece]>,
    /// The heap at each noon after its start, one at its very end included.
    pub(crate) noons: Box<[DayView]>,
    /// State at its end.
    pub(crate) end: [f64; ENTRIES],
    /// The heap at its end.
    pub(crate) left: Heap,
    /// First step of the next stretch where only the weather turns a corner, days.
    pub(crate) step_days: f64,
    /// First step of the next stretch after a change, days.
    pub(crate) step_days_after_change: f64,
}

/// A step, whose end is the start of the next.
#[derive(Clone, Debug)]
struct Piece {
    t: f64,
    h: f64,
    y0: [f64; ENTRIES],
    d1: [f64; ENTRIES],
    d2: [f64; ENTRIES],
}

/// A place within a stretch: the step, and the share of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place {
    step: usize,
    theta: f64,
}

/// Boole's rule over one step, exact to fifth degree.
const BOOLE: [(f64, f64); 5] =
    [(0.0, 7.0 / 90.0), (0.25, 32.0 / 90.0), (0.5, 12.0 / 90.0), (0.75, 32.0 / 90.0), (1.0, 7.0 / 90.0)];

impl Stretch {
    /// Integrates from its entry on. The plan gives bays and weather only.
    pub(crate) fn new(
        entry: Entry,
        plan: &Plan,
        p: &Parameters,
        tolerance: Tolerance,
    ) -> Result<Self, Failure> {
        let around =
            Surroundings::new(&plan.bays[entry.bay], entry.covered, plan.weather.spell(entry.from, entry.to));
        let balance = Balance::new(p, around, &entry.heap);
        let mut pieces = Vec::with_capacity(16);
        let mut longest: f64 = 0.0;
        let End { y: end, step_days } = integrate(
            &balance,
            tolerance,
            entry.step_days,
            (entry.from, entry.to),
            Balance::state(&entry.heap),
            |Step { t, h, y0, d1, d2, .. }| {
                longest = longest.max(*h);
                pieces.push(Piece { t: *t, h: *h, y0: *y0, d1: *d1, d2: *d2 });
            },
        )?;
        let mut stretch = Self {
            left: Balance::heap(&entry.heap, &end),
            entry,
            pieces: pieces.into_boxed_slice(),
            noons: Box::default(),
            end,
            step_days,
            // After a change, a share of the longest step; error control does the rest.
            step_days_after_change: (0.3 * longest).max(0.02),
        };
        let mut aged = stretch.entry.heap;
        stretch.age(&mut aged, stretch.pieces.len());
        stretch.left.core.seeds = aged.core.seeds;
        stretch.left.edge.seeds = aged.edge.seeds;
        stretch.noons = stretch.look(plan, p);
        Ok(stretch)
    }

    /// Looks at the heap at every noon.
    fn look(&self, plan: &Plan, p: &Parameters) -> Box<[DayView]> {
        let Entry { from, to, bay, .. } = self.entry;
        let noons = std::iter::successors(Some(noon_after(from)), |noon| Some(noon + 1.0));
        let view = |noon: f64| {
            let heap = self.heap(&self.state(self.locate(noon)?));
            Some(DayView::new(noon, &heap, &plan.bays[bay], plan.weather.at(noon).0, p))
        };
        noons.take_while(|noon| *noon <= to).filter_map(view).collect()
    }

    /// Where `day` is, `None` where that is past the end.
    pub(crate) fn locate(&self, day: f64) -> Option<Place> {
        let step = self.pieces.partition_point(|piece| piece.t < day).saturating_sub(1);
        let piece = &self.pieces[step];
        let theta = (day - piece.t) / piece.h;
        // A hair past the end is rounding; more is a time with no heap.
        (-1e-6..=1.0 + 1e-6).contains(&theta).then(|| Place { step, theta: theta.clamp(0.0, 1.0) })
    }

    /// State at a place.
    pub(crate) fn state(&self, place: Place) -> [f64; ENTRIES] {
        self.within(place.step, place.theta)
    }

    /// The heap at a place, its seeds as they were at the stretch's start.
    pub(crate) fn heap(&self, y: &[f64; ENTRIES]) -> Heap {
        Balance::heap(&self.entry.heap, y)
    }

    /// A zone's temperature at a place, °C.
    pub(crate) fn temperature_c(&self, Place { step, theta }: Place, zone: Zone) -> f64 {
        let entry = match zone {
            Zone::Core => CORE + 4,
            Zone::Edge => EDGE + 4,
        };
        let (piece, y1) = self.step(step);
        interpolated(theta, piece.y0[entry], y1[entry], piece.d1[entry], piece.d2[entry])
    }

    /// Lets the seeds of `heap` die from the start to a place.
    pub(crate) fn age_to(&self, Place { step, theta }: Place, heap: &mut Heap) {
        self.age(heap, step);
        self.age_step(heap, step, theta);
    }

    /// Steps that the integrator took.
    pub(crate) fn steps(&self) -> usize {
        self.pieces.len()
    }

    /// Bytes that it takes.
    pub(crate) fn bytes(&self) -> usize {
        size_of::<Self>() + size_of_val(&*self.pieces) + size_of_val(&*self.noons)
    }

    /// A step, and the state at its end.
    fn step(&self, step: usize) -> (&Piece, &[f64; ENTRIES]) {
        (&self.pieces[step], self.pieces.get(step + 1).map_or(&self.end, |next| &next.y0))
    }

    fn within(&self, step: usize, theta: f64) -> [f64; ENTRIES] {
        let (piece, y1) = self.step(step);
        std::array::from_fn(|i| interpolated(theta, piece.y0[i], y1[i], piece.d1[i], piece.d2[i]))
    }

    /// Lets the seeds of both zones die over the first `steps` steps.
    fn age(&self, heap: &mut Heap, steps: usize) {
        for step in 0..steps {
            self.age_step(heap, step, 1.0);
        }
    }

    /// Lets the seeds of both zones die over the first `share` of a step.
    fn age_step(&self, heap: &mut Heap, step: usize, share: f64) {
        let h = self.pieces[step].h;
        let mut hazard = [[0.0; SPECIES_COUNT]; 2];
        for (theta, weight) in BOOLE {
            let y = self.within(step, theta * share);
            for (total, offset, ash) in [(0, CORE, heap.core.ash_kg), (1, EDGE, heap.edge.ash_kg)] {
                let dry = y[offset] + y[offset + 1] + y[offset + 2] + ash;
                let rates = hazards_per_day(y[offset + 4], moisture_fraction(y[offset + 3], dry));
                for (sum, rate) in hazard[total].iter_mut().zip(rates) {
                    *sum += weight * share * h * rate;
                }
            }
        }
        heap.core.seeds.die(&hazard[0]);
        heap.edge.seeds.die(&hazard[1]);
    }
}
