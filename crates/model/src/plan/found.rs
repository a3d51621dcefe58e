//! A plan found: batches with what is done with each, and compost dealt out among demands.

use crate::plan::ground::{Batch, Ground, REFUSED, SPARE, Want};
use crate::plan::yard::{Placed, Yard};

/// Share of a batch below which what is left counts for nothing.
pub const SWEEPINGS: f64 = 1e-4;

/// A plan found.
#[derive(Clone, Debug)]
pub struct Found<'a> {
    /// Batches in the order in which they are begun, those that stand first.
    pub placed: Vec<Placed<'a>>,
    /// What each demand gets of each batch: demand, place of the batch, m³.
    pub draws: Vec<(usize, usize, f64)>,
    /// What it is worth, m³.
    pub value_m3: f64,
    /// What was asked for.
    pub wants: &'a [Want],
}

/// A plan by where its batches are in a season's ground: it can be taken up on another that was laid out alike.
#[derive(Clone, Debug)]
pub struct Sketch(Vec<Sketched>);

#[derive(Clone, Copy, Debug)]
struct Sketched {
    /// The week of a fill, and none of a batch that stands; and its place among those.
    batch: (Option<usize>, usize),
    life: usize,
    end: usize,
    joins: Option<usize>,
}

impl Sketch {
    /// The plan on a ground, unless batches that it has forked together differ there in what they are fit for.
    pub fn placed<'g>(&self, ground: &'g Ground) -> Option<Vec<Placed<'g>>> {
        let batch = |(week, place): (Option<usize>, usize)| match week {
            Some(week) => &ground.fills[week][place],
            None => &ground.standing[place],
        };
        let placed: Vec<Placed> = self
            .0
            .iter()
            .map(|own| Placed { batch: batch(own.batch), life: own.life, end: own.end, joins: own.joins })
            .collect();
        let joined = |own: &Placed| own.joins.is_none_or(|host| can_join(ground, &placed[host], own));
        placed.iter().all(joined).then_some(placed)
    }
}

impl Found<'_> {
    /// The plan apart from its ground.
    pub fn sketch(&self, ground: &Ground) -> Sketch {
        let place = |all: &[Batch], own: &Batch| all.iter().position(|batch| std::ptr::eq(batch, own));
        let sketched = |own: &Placed| {
            let week = own.batch.start;
            let batch = place(&ground.standing, own.batch).map_or_else(
                || (Some(week), place(&ground.fills[week], own.batch).unwrap_or(0)),
                |place| (None, place),
            );
            Sketched { batch, life: own.life, end: own.end, joins: own.joins }
        };
        Sketch(self.placed.iter().map(sketched).collect())
    }

    /// What a demand gets, m³.
    pub fn served_m3(&self, demand: usize) -> f64 {
        self.draws.iter().filter(|(own, ..)| *own == demand).map(|(_, _, volume_m3)| volume_m3).sum()
    }

    /// Loose material that finds no room, m³.
    pub fn refused_m3(&self, ground: &Ground) -> f64 {
        let filled: f64 = self
            .placed
            .iter()
            .filter(|own| own.batch.is_filled())
            .map(|own| {
                ground.inflow_m3[own.batch.start..own.batch.close].iter().sum::<f64>() - own.batch.refused_m3
            })
            .sum();
        ground.inflow_m3.iter().sum::<f64>() - filled
    }

    /// The batch that one is forked together with, or itself, by place.
    pub fn host(&self, place: usize) -> usize {
        self.placed[place].joins.unwrap_or(place)
    }

    /// The share of a batch that nobody takes.
    pub fn left(&self, place: usize) -> f64 {
        let prospect = &self.placed[place].life().prospect;
        let own = self.draws.iter().filter(|(_, own, _)| *own == place);
        own.fold(1.0, |left, (demand, _, taken)| left - taken / prospect.volume_m3(self.wants[*demand].week))
    }

    /// The week in which the last of a batch is taken out; none where it is kept.
    pub fn emptied(&self, ground: &Ground, place: usize) -> Option<usize> {
        let end = self.placed[place].end;
        let last = self.draws.iter().filter(|(_, own, _)| *own == place).map(|(want, ..)| *want).max();
        let all_taken = last.filter(|_| self.left(place) < SWEEPINGS);
        all_taken.map(|want| self.wants[want].week).or((end < ground.weeks).then_some(end))
    }
}

/// A batch that is left where it is.
pub fn left<'a>(ground: &Ground, standing: &'a Batch) -> Placed<'a> {
    Placed { batch: standing, life: 0, end: ground.weeks, joins: None }
}

/// Whether `late` can be forked together with `host`: into the same bay in the same week, to be emptied together, and fit for what
/// the other is fit for.
pub fn can_join(ground: &Ground, host: &Placed, late: &Placed) -> bool {
    let (Some((first, kind)), Some((week, into))) = (host.life().turn, late.life().turn) else {
        return false;
    };
    let (theirs, own) = (&host.life().prospect, &late.life().prospect);
    host.end == late.end
        && kind == into
        && host.joins.is_none()
        && first == week
        && week < host.end
        && theirs.volume_m3(week) + own.volume_m3(week) <= ground.kinds[kind].capacity_m3
        && ground
            .wants
            .iter()
            .filter(|want| want.week > first && want.week <= host.end)
            .all(|want| ground.serves(theirs, want) == ground.serves(own, want))
}

/// A whole plan, with compost dealt out and its worth.
pub fn weighed<'a>(ground: &'a Ground, placed: Vec<Placed<'a>>) -> Found<'a> {
    let mut left = vec![1.0; placed.len()];
    let mut draws = Vec::new();
    let mut value = 0.0;
    let mut demands: Vec<usize> = (0..ground.wants.len()).collect();
    demands.sort_by(|a, b| ground.wants[*b].weight.total_cmp(&ground.wants[*a].weight));
    for demand in demands {
        let want = &ground.wants[demand];
        let mut missing = want.volume_m3;
        let mut able: Vec<usize> = (0..placed.len())
            .filter(|place| {
                let own = &placed[*place];
                own.end >= want.week && ground.serves(&own.life().prospect, want)
            })
            .collect();
        // What must be emptied first is used first, and of that what could serve least else.
        able.sort_by_key(|place| {
            (placed[*place].end, std::cmp::Reverse(placed[*place].life().prospect.ready))
        });
        for place in able {
            let volume = placed[place].life().prospect.volume_m3(want.week);
            let taken = missing.min(left[place] * volume);
            if taken > 1e-9 {
                missing -= taken;
                left[place] -= taken / volume;
                value += want.weight * taken;
                draws.push((demand, place, taken));
            }
        }
    }
    let mut yard = Yard::empty(ground);
    let mut week = 0;
    for (own, left) in placed.iter().zip(&left) {
        yard.put(own);
        value += SPARE * left * own.life().prospect.volume_m3(own.end) - own.life().labour_m3();
        if own.batch.is_filled() {
            value -= REFUSED * own.batch.refused_m3;
            value -= REFUSED * ground.inflow_m3[week..own.batch.start].iter().sum::<f64>();
            week = own.batch.close;
        }
    }
    value -= REFUSED * ground.inflow_m3[week..].iter().sum::<f64>();
    value -= ground.crowded_m3(yard.crowded(ground));
    draws.sort_by_key(|(demand, place, _)| (*demand, *place));
    Found { placed, draws, value_m3: value, wants: &ground.wants }
}
