//! The season as the search sees it: weeks, kinds of bays, fills that could be made, what is asked for.

use crate::plan::prospect::Prospect;

/// Weight of compost that no demand took, against compost that one did: it is not lost, but nobody waits for it.
pub const SPARE: f64 = 0.2;
/// What it costs to have material for which no bay stands open, for each loose m³.
pub const REFUSED: f64 = 0.1;
/// What beginning a batch costs, in m³: many small heaps are more work than few large ones, and heat less.
pub const BEGINNING: f64 = 0.06;
/// What forking a batch over costs, in m³ of compost.
pub const FORKING: f64 = 0.02;
/// What leaving a batch unturned costs, in m³: one turn is usual.
pub const UNTURNED: f64 = 0.25;
/// What each week costs that a batch waits for its turn beyond its rest, in m³.
pub const WAITING: f64 = 0.002;
/// What a week costs in which no bay stands free, in m³.
pub const CROWDED: f64 = 0.03;
/// What a step is worth that stands as the plan before had it, in m³: for less than a barrow load none is moved.
pub const STEADY: f64 = 0.1;

/// Weeks within which fills of a kind of bay that are closed go on alike.
const ALIKE_WEEKS: usize = 5;

/// The use that compost is fit for when it is spread though nobody asked for it: it is laid on as mulch.
pub const SPREAD: usize = 0;

/// Bays that are alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind {
    /// Inside volume of each, m³.
    pub capacity_m3: f64,
    /// Which bays they are, by index.
    pub bays: Vec<usize>,
}

/// Compost asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Want {
    /// The demand, by index in the season.
    pub demand: usize,
    /// The week by whose start it must be ready.
    pub week: usize,
    /// How much, m³.
    pub volume_m3: f64,
    /// The use, as an index into [`crate::window::Use::ALL`].
    pub for_use: usize,
    /// Whether its seeds must have been killed.
    pub seeds_killed: bool,
    /// What a cubic metre is worth.
    pub weight: f64,
}

/// A batch that could be filled, or one that stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Batch {
    /// The kind of bay it is in.
    pub kind: usize,
    /// First week in which it takes up its bay.
    pub start: usize,
    /// Week at whose start it is closed: `start` and what is before it are filled.
    pub close: usize,
    /// Its volume when it is closed, or now where it stands, m³.
    pub filled_m3: f64,
    /// The share of the last week's material that finds room in it.
    pub last_share: f64,
    /// Loose material that found no room in it, m³.
    pub refused_m3: f64,
    /// What may be done with it, the least first.
    pub lives: Vec<Life>,
    /// Whether it is still being filled when the plan ends.
    pub open: bool,
    /// A standing batch, by index.
    pub standing: Option<usize>,
}

impl Batch {
    /// Whether material of the season goes into it.
    pub fn is_filled(&self) -> bool {
        self.close > self.start
    }
}

/// What may be done with a batch, and what comes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Life {
    /// The week it is turned in and the kind of bay it is turned into.
    pub turn: Option<(usize, usize)>,
    /// What is expected of it.
    pub prospect: Prospect,
    /// When it may be emptied, in order of time: filled in by [`Ground::look_ahead`].
    pub ends: Vec<End>,
    /// The share of the bay turned into that it takes up at least, by its volume where another batch could join it: likewise.
    pub share: f64,
    /// Whether it belongs to a batch that is begun.
    pub begun: bool,
    /// Steps that are as an earlier plan has them.
    pub kept: u8,
    /// Weeks that it waits for its turn beyond its rest.
    pub waits: usize,
    /// Whether it is already turned.
    pub done: bool,
}

impl Life {
    /// A life that nothing is known of but what is done and what is expected.
    pub fn new(turn: Option<(usize, usize)>, prospect: Prospect) -> Self {
        Self { turn, prospect, ends: Vec::new(), share: 1.0, begun: false, kept: 0, waits: 0, done: false }
    }

    /// Its volume when it is turned, m³.
    fn turned_m3(&self) -> Option<f64> {
        self.turn.map(|(week, _)| self.prospect.volume_m3(week))
    }

    /// What its labour costs, less what steadiness is worth, m³.
    pub fn labour_m3(&self) -> f64 {
        let labour = match self.turn {
            Some(_) => FORKING + WAITING * self.waits as f64,
            None if self.done => 0.0,
            None => UNTURNED,
        };
        let begun = if self.begun { BEGINNING } else { 0.0 };
        begun + labour - STEADY * f64::from(self.kept)
    }
}

/// Heaps that are ready later than thought: those of a batch that stands, or of fills of a kind of bay that are closed about
/// when one was that did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Late {
    /// The batch that stands, by index.
    pub standing: Option<usize>,
    /// The kind of bay it is in.
    pub kind: usize,
    /// The week it is closed in.
    pub close: usize,
    /// Whether it is turned.
    pub turned: bool,
    /// Use, by index.
    pub for_use: usize,
    /// Weeks by which it is later.
    pub weeks: usize,
}

impl Late {
    fn means(&self, batch: &Batch) -> bool {
        match self.standing {
            Some(_) => batch.standing == self.standing,
            None => {
                batch.standing.is_none()
                    && batch.kind == self.kind
                    && batch.close.abs_diff(self.close) <= ALIKE_WEEKS
            }
        }
    }
}

/// A season.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// Weeks.
    pub weeks: usize,
    /// Kinds of bays.
    pub kinds: Vec<Kind>,
    /// Batches that can be forked over in a week.
    pub turns_per_week: usize,
    /// Whether a bay is to stand free for turning.
    pub keep_free: bool,
    /// Demands in order of their weeks.
    pub wants: Vec<Want>,
    /// Batches that stand and take nothing more.
    pub standing: Vec<Batch>,
    /// What could be filled, by the week it is begun in; the first week has only what goes on being filled, if anything is.
    pub fills: Vec<Vec<Batch>>,
    /// Loose material that comes in each week, m³.
    pub inflow_m3: Vec<f64>,
}

impl Ground {
    /// Counts heaps as ready later than thought.
    pub fn delay(&mut self, late: &[Late]) {
        for batch in self.standing.iter_mut().chain(self.fills.iter_mut().flatten()) {
            let meant: Vec<&Late> = late.iter().filter(|late| late.means(batch)).collect();
            for life in &mut batch.lives {
                for (for_use, ready) in life.prospect.ready.iter_mut().enumerate() {
                    let own = meant
                        .iter()
                        .filter(|late| late.for_use == for_use && late.turned == life.turn.is_some());
                    *ready = ready.saturating_add(own.map(|late| late.weeks).max().unwrap_or(0));
                }
            }
        }
        self.look_ahead();
    }

    /// All bays.
    pub fn bays(&self) -> usize {
        self.kinds.iter().map(|kind| kind.bays.len()).sum()
    }

    /// What weeks without a free bay cost in all, m³.
    pub fn crowded_m3(&self, weeks: usize) -> f64 {
        if self.keep_free { CROWDED * weeks as f64 } else { 0.0 }
    }

    /// Whether a batch is ready for a demand in a life.
    pub fn serves(&self, prospect: &Prospect, want: &Want) -> bool {
        serves(prospect, want)
    }

    /// Looks ahead for each life: when it may be emptied, which demands it serves, and what it leaves of its bay to another.
    pub fn look_ahead(&mut self) {
        let all = || self.standing.iter().chain(self.fills.iter().flatten()).flat_map(|own| &own.lives);
        let least_m3 = all().filter_map(Life::turned_m3).fold(f64::INFINITY, f64::min);
        let (kinds, wants, weeks) = (&self.kinds, &self.wants, self.weeks);
        let all = self.standing.iter_mut().chain(self.fills.iter_mut().flatten());
        for life in all.flat_map(|own| &mut own.lives) {
            life.ends = ends(&life.prospect, wants, weeks);
            if let (Some((_, kind)), Some(volume_m3)) = (life.turn, life.turned_m3()) {
                let capacity_m3 = kinds[kind].capacity_m3;
                life.share = if volume_m3 + least_m3 <= capacity_m3 { volume_m3 / capacity_m3 } else { 1.0 };
            }
        }
    }
}

/// A week in which a batch may be emptied: one that it serves a demand in, the one from which it may be spread though nobody
/// asked for it, or the end.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// The week.
    pub week: usize,
    /// The demand it serves in that week, if any, and not one of before.
    pub serves: Option<usize>,
    /// Volume then, m³.
    pub volume_m3: f64,
}

fn ends(prospect: &Prospect, wants: &[Want], weeks: usize) -> Vec<End> {
    let served = wants.iter().enumerate().filter(|(_, want)| serves(prospect, want));
    let spread = [prospect.ready[SPREAD].min(weeks), weeks];
    let unasked = spread.into_iter().map(|week| (week, None));
    let mut all: Vec<(usize, Option<usize>)> =
        served.map(|(demand, want)| (want.week, Some(demand))).chain(unasked).collect();
    all.sort_unstable_by_key(|(week, serves)| (*week, serves.is_none()));
    all.dedup();
    all.into_iter().map(|(week, serves)| End { week, serves, volume_m3: prospect.volume_m3(week) }).collect()
}

fn serves(prospect: &Prospect, want: &Want) -> bool {
    prospect.ready[want.for_use] <= want.week && (!want.seeds_killed || prospect.killed <= want.week)
}
