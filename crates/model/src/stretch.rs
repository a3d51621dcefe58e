//! One stretch of a course between two boundaries: a pure outcome of what it was entered with.

use crate::agenda::Agenda;
use crate::bay::Bay;
use crate::heap::Heap;
use crate::history::Zone;
use crate::moisture::moisture_fraction;
use crate::parameters::Parameters;
use crate::rates::{Balance, CORE, EDGE, ENTRIES, Surroundings};
use crate::rosenbrock::{End, Failure, Step, Tolerance, integrate, interpolated};
use crate::seeds::Exposure;
use crate::weather::Spell;
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
    /// Integrates from its entry on. The agenda gives bays and weather only.
    pub(crate) fn new(
        entry: Entry,
        agenda: &Agenda,
        p: &Parameters,
        tolerance: Tolerance,
    ) -> Result<Self, Failure> {
        let (bay, spell) = (&agenda.bays[entry.bay], agenda.weather.spell(entry.from, entry.to));
        let around = Surroundings::new(bay, entry.covered, spell);
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
            left: entry.heap,
            entry,
            pieces: pieces.into_boxed_slice(),
            noons: Box::default(),
            end,
            step_days,
            // After a change, a share of the longest step; error control does the rest.
            step_days_after_change: (0.3 * longest).max(0.02),
        };
        let mut left = stretch.heap(&end);
        stretch.age_to(Place { step: stretch.pieces.len() - 1, theta: 1.0 }, &mut left);
        stretch.left = left;
        stretch.noons = stretch.look(bay, spell, p);
        Ok(stretch)
    }

    /// Looks at the heap at every noon.
    fn look(&self, bay: &Bay, spell: Spell<'_>, p: &Parameters) -> Box<[DayView]> {
        let Entry { from, to, mut heap, .. } = self.entry;
        let mut noons = Vec::with_capacity((to - from) as usize + 1);
        let mut noon = noon_after(from);
        while noon <= to {
            if let Some(place) = self.locate(noon) {
                Balance::bring(&mut heap, &self.state(place));
                let (air_c, _) = spell.line(noon).at(noon);
                noons.push(DayView::new(noon, &heap, bay, air_c, p));
            }
            noon += 1.0;
        }
        noons.into_boxed_slice()
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
        let mut heap = self.entry.heap;
        Balance::bring(&mut heap, y);
        heap
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

    /// Lets the seeds of `heap` die of what they go through from the start to a place.
    pub(crate) fn age_to(&self, Place { step, theta }: Place, heap: &mut Heap) {
        for (offset, zone) in [(CORE, &mut heap.core), (EDGE, &mut heap.edge)] {
            let mut exposure = Exposure::default();
            for before in 0..step {
                self.expose(&mut exposure, (offset, zone.ash_kg), before, 1.0);
            }
            self.expose(&mut exposure, (offset, zone.ash_kg), step, theta);
            zone.seeds.die(&exposure);
        }
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

    /// Adds what a zone, given by its offset and its ash, goes through in the first `share` of a step.
    fn expose(&self, exposure: &mut Exposure, (offset, ash_kg): (usize, f64), step: usize, share: f64) {
        let (piece, y1) = self.step(step);
        for (theta, weight) in BOOLE {
            let [fast, slow, resistant, water, temperature_c] = std::array::from_fn(|entry| {
                let i = offset + entry;
                interpolated(theta * share, piece.y0[i], y1[i], piece.d1[i], piece.d2[i])
            });
            let moisture = moisture_fraction(water, fast + slow + resistant + ash_kg);
            exposure.add(weight * share * piece.h, temperature_c, moisture);
        }
    }
}
