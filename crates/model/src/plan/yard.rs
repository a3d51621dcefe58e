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

/// How far there is room and labour for a batch in a life.
#[derive(Clone, Copy, Debug)]
pub struct Reach {
    /// The week by which it must be emptied, where it can stand alone at all.
    alone: Option<usize>,
    /// Whether it can be forked into a bay that another batch is turned into.
    joined: bool,
}

impl Reach {
    /// Whether there is room until a batch is emptied.
    pub fn holds(self, placed: &Placed) -> bool {
        if placed.joins.is_some() { self.joined } else { self.alone.is_some_and(|until| placed.end <= until) }
    }
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
        self.reach(ground, placed.batch, placed.life()).holds(placed)
    }

    /// How far there is room and labour for a batch in a life.
    pub fn reach(&self, ground: &Ground, batch: &Batch, life: &Life) -> Reach {
        let most = |kind: usize| ground.kinds[kind].bays.len();
        let free_until = |kind: usize, from: usize| {
            let mut taken = self.row(kind)[from..].iter();
            taken.position(|taken| usize::from(*taken) >= most(kind)).map_or(self.weeks, |weeks| from + weeks)
        };
        let own = free_until(batch.kind, batch.start);
        let Some((week, into)) = life.turn else { return Reach { alone: Some(own), joined: false } };
        let joined = own >= (week + 1).min(self.weeks)
            && usize::from(self.row(self.forked())[week]) < ground.turns_per_week;
        // Where a batch is turned into a bay of its own kind, both stand there in the week of the turn.
        let apart = into != batch.kind || usize::from(self.row(into)[week]) + 2 <= most(into);
        Reach { alone: (joined && apart).then(|| free_until(into, week)), joined }
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
        let bays = ground.bays() as u8;
        let weeks = self.row(self.all()).iter().zip(self.row(self.opened()));
        weeks.filter(|(all, opened)| **all >= bays + **opened).count()
    }

    /// Whether a week is one of them, where there are so many bays.
    pub fn is_crowded(&self, bays: usize, week: usize) -> bool {
        usize::from(self.row(self.all())[week]) >= bays + usize::from(self.row(self.opened())[week])
    }
}
