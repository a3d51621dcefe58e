//! Which bays are taken in which week, and who forks when.

use crate::plan::ground::{Batch, Ground, Life};

/// A batch with what is done with it.
#[derive(Clone, Copy, Debug)]
pub struct Placed<'a> {
    /// The batch.
    pub batch: &'a Batch,
    /// Its life, by index.
    pub life: usize,
    /// The week it is emptied in; the plan's end where it is kept.
    pub end: usize,
    /// The batch it is forked together with, by place in the plan; that one came into the bay first.
    pub joins: Option<usize>,
}

impl<'a> Placed<'a> {
    /// Its life.
    pub fn life(&self) -> &'a Life {
        &self.batch.lives[self.life]
    }
}

/// Bays and labour in use.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Yard {
    weeks: usize,
    /// Bays taken, by kind and week.
    taken: Vec<u8>,
    /// Bays taken in all, by week.
    all: Vec<u8>,
    /// Batches forked over, by week.
    forked: Vec<u8>,
    /// Bays turned into, by week.
    opened: Vec<u8>,
}

impl Yard {
    /// A yard in which nothing stands.
    pub fn empty(ground: &Ground) -> Self {
        Self {
            weeks: ground.weeks,
            taken: vec![0; ground.weeks * ground.kinds.len()],
            all: vec![0; ground.weeks],
            forked: vec![0; ground.weeks],
            opened: vec![0; ground.weeks],
        }
    }

    /// Whether there is room and labour for a batch in a life.
    pub fn fits(&self, ground: &Ground, placed: &Placed) -> bool {
        if let Some((week, _)) = placed.life().turn
            && usize::from(self.forked[week]) >= ground.turns_per_week
        {
            return false;
        }
        self.spans(placed).into_iter().flatten().all(|(kind, from, until)| {
            let most = ground.kinds[kind].bays.len();
            self.taken[kind * self.weeks..][from..until].iter().all(|taken| usize::from(*taken) < most)
        }) && self.apart(ground, placed)
    }

    /// Where a batch is turned into a bay of its own kind, both stand there in the week of the turn.
    fn apart(&self, ground: &Ground, placed: &Placed) -> bool {
        let Some((week, kind)) = placed.life().turn else { return true };
        kind != placed.batch.kind
            || placed.joins.is_some()
            || usize::from(self.taken[kind * self.weeks + week]) + 2 <= ground.kinds[kind].bays.len()
    }

    /// Takes up what a batch needs.
    pub fn put(&mut self, placed: &Placed) {
        self.change(placed, |count| *count += 1);
    }

    /// Gives back what a batch needed.
    pub fn lift(&mut self, placed: &Placed) {
        self.change(placed, |count| *count -= 1);
    }

    fn change(&mut self, placed: &Placed, change: impl Fn(&mut u8)) {
        for (kind, from, until) in self.spans(placed).into_iter().flatten() {
            self.taken[kind * self.weeks..][from..until].iter_mut().for_each(&change);
            self.all[from..until].iter_mut().for_each(&change);
        }
        if let Some((week, _)) = placed.life().turn {
            change(&mut self.forked[week]);
            if placed.joins.is_none() {
                change(&mut self.opened[week]);
            }
        }
    }

    /// Kinds of bays and the weeks in which a batch takes one up: its first, through the week it is turned in, and the one it
    /// is turned into.
    fn spans(&self, placed: &Placed) -> [Option<(usize, usize, usize)>; 2] {
        let batch = placed.batch;
        match placed.life().turn {
            Some((week, kind)) => [
                Some((batch.kind, batch.start, (week + 1).min(self.weeks))),
                placed.joins.is_none().then_some((kind, week, placed.end)),
            ],
            None => [Some((batch.kind, batch.start, placed.end)), None],
        }
    }

    /// Weeks in which no bay stands free but for what is turned into it that week.
    pub fn crowded(&self, ground: &Ground) -> usize {
        (0..self.weeks).filter(|week| self.is_crowded(ground, *week)).count()
    }

    /// Whether a week is one of them.
    pub fn is_crowded(&self, ground: &Ground, week: usize) -> bool {
        usize::from(self.all[week]) >= ground.bays() + usize::from(self.opened[week])
    }
}
