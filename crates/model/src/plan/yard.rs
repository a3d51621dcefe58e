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
    kinds: usize,
    /// Counts by week, one row after the other: of bays taken of each kind, of bays taken in all, of batches forked over, and of
    /// bays turned into.
    counts: Vec<u8>,
}

impl Yard {
    /// A yard in which nothing stands.
    pub fn empty(ground: &Ground) -> Self {
        let (weeks, kinds) = (ground.weeks, ground.kinds.len());
        Self { weeks, kinds, counts: vec![0; weeks * (kinds + 3)] }
    }

    fn row(&self, index: usize) -> &[u8] {
        &self.counts[index * self.weeks..][..self.weeks]
    }

    fn row_mut(&mut self, index: usize) -> &mut [u8] {
        &mut self.counts[index * self.weeks..][..self.weeks]
    }

    /// The row of bays taken in all.
    fn all(&self) -> usize {
        self.kinds
    }

    /// The row of batches forked over.
    fn forked(&self) -> usize {
        self.kinds + 1
    }

    /// The row of bays turned into.
    fn opened(&self) -> usize {
        self.kinds + 2
    }

    /// Whether there is room and labour for a batch in a life.
    pub fn fits(&self, ground: &Ground, placed: &Placed) -> bool {
        if let Some((week, _)) = placed.life().turn
            && usize::from(self.row(self.forked())[week]) >= ground.turns_per_week
        {
            return false;
        }
        self.spans(placed).into_iter().flatten().all(|(kind, from, until)| {
            let most = ground.kinds[kind].bays.len();
            self.row(kind)[from..until].iter().all(|taken| usize::from(*taken) < most)
        }) && self.apart(ground, placed)
    }

    /// Where a batch is turned into a bay of its own kind, both stand there in the week of the turn.
    fn apart(&self, ground: &Ground, placed: &Placed) -> bool {
        let Some((week, kind)) = placed.life().turn else { return true };
        kind != placed.batch.kind
            || placed.joins.is_some()
            || usize::from(self.row(kind)[week]) + 2 <= ground.kinds[kind].bays.len()
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
            self.row_mut(kind)[from..until].iter_mut().for_each(&change);
            self.row_mut(self.all())[from..until].iter_mut().for_each(&change);
        }
        if let Some((week, _)) = placed.life().turn {
            change(&mut self.row_mut(self.forked())[week]);
            if placed.joins.is_none() {
                change(&mut self.row_mut(self.opened())[week]);
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
        let bays = ground.bays();
        (0..self.weeks).filter(|week| self.is_crowded(bays, *week)).count()
    }

    /// Whether a week is one of them, where there are so many bays.
    pub fn is_crowded(&self, bays: usize, week: usize) -> bool {
        usize::from(self.row(self.all())[week]) >= bays + usize::from(self.row(self.opened())[week])
    }
}
