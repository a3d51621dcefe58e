//! The beginning of a plan, and the ways in which it goes on.

use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;

use crate::plan::found::can_join;
use crate::plan::ground::{Batch, Ground, REFUSED, SPARE};
use crate::plan::guide::{Guide, Way};
use crate::plan::yard::{Placed, Yard};

/// Ways with a batch that are looked at from each beginning.
pub const LOOKED_AT: usize = 12;
/// Ways with a batch that are gone from each beginning.
const GONE: usize = 3;
/// Batches, the last ones placed, that another could be forked together with.
const HOSTS: usize = 8;

/// A beginning.
#[derive(Clone, Debug)]
pub struct Beginning<'a> {
    /// Batches with what is done with them.
    pub placed: Vec<Placed<'a>>,
    /// Batches, by place, that one is forked together with that is placed later.
    pub paired: Vec<usize>,
    /// What they take up.
    pub yard: Yard,
    /// What is still asked for, m³.
    pub missing_m3: Vec<f64>,
    /// What is reached so far less what it is priced at, m³.
    pub value_m3: f64,
}

/// A way in which a beginning goes on.
pub struct Onward<'a> {
    from: Rc<Beginning<'a>>,
    /// The batch that it goes on with; none where a week goes by without.
    placed: Option<Placed<'a>>,
    value_m3: f64,
    /// The same with what the weeks to come are worth.
    rank: f64,
}

impl<'a> Onward<'a> {
    /// The beginning as it is.
    pub fn same(from: Rc<Beginning<'a>>) -> Self {
        let value_m3 = from.value_m3;
        Self { from, placed: None, value_m3, rank: value_m3 }
    }

    /// A week without anything begun.
    pub fn idle(from: Rc<Beginning<'a>>, guide: &Guide, ground: &Ground, week: usize) -> Self {
        let value_m3 = from.value_m3 - REFUSED * ground.inflow_m3[week];
        Self { from, placed: None, value_m3, rank: value_m3 + guide.prices.to_go[week + 1] }
    }

    fn beginning(self) -> Beginning<'a> {
        let mut beginning = Rc::unwrap_or_clone(self.from);
        if let Some(placed) = self.placed {
            serve(&placed, &mut beginning.missing_m3);
            beginning.yard.put(&placed);
            beginning.placed.push(placed);
        }
        beginning.value_m3 = self.value_m3;
        beginning
    }
}

/// The most promising, none twice.
pub fn narrowed(mut onwards: Vec<Onward>, width: usize) -> Vec<Rc<Beginning>> {
    onwards.sort_by(|a, b| b.rank.total_cmp(&a.rank));
    let mut seen = HashSet::new();
    let mut kept = Vec::new();
    for onward in onwards {
        if kept.len() >= width {
            break;
        }
        let beginning = onward.beginning();
        let mut hasher = DefaultHasher::new();
        beginning.yard.hash(&mut hasher);
        beginning.missing_m3.iter().for_each(|missing| ((missing * 1e3) as i64).hash(&mut hasher));
        if seen.insert(hasher.finish()) {
            kept.push(Rc::new(beginning));
        }
    }
    kept
}

impl<'a> Beginning<'a> {
    /// Nothing planned.
    pub fn empty(ground: &Ground) -> Self {
        Self {
            placed: Vec::new(),
            paired: Vec::new(),
            yard: Yard::empty(ground),
            missing_m3: ground.wants.iter().map(|want| want.volume_m3).collect(),
            value_m3: 0.0,
        }
    }

    /// Goes on with a batch in the ways that promise most; `to_go` is what the weeks to come are worth, m³.
    pub fn go(
        self: &Rc<Self>,
        ground: &Ground,
        guide: &Guide,
        (batch, ways): (&'a Batch, &[Way]),
        to_go: f64,
        next: &mut Vec<Onward<'a>>,
    ) {
        let mut gone: Vec<(f64, Placed)> = Vec::new();
        let mut looked_at = 0;
        let hosts = self.hosts();
        let mut reaches = vec![None; batch.lives.len()];
        for way in ways {
            if looked_at >= LOOKED_AT {
                break;
            }
            let alone = Placed { batch, life: way.life, end: way.end, joins: None };
            let reach =
                *reaches[way.life].get_or_insert_with(|| self.yard.reach(ground, batch, alone.life()));
            if reach.holds(&alone) {
                looked_at += 1;
                gone.push((self.worth(ground, &alone) - way.price_m3, alone));
            }
            let turn = alone.life().turn;
            let alike = |host: &&usize| {
                let host = &self.placed[**host];
                host.end == way.end && host.life().turn == turn
            };
            for host in hosts.iter().filter(alike) {
                let joined = Placed { joins: Some(*host), ..alone };
                if reach.holds(&joined) && can_join(ground, &self.placed[*host], &alone) {
                    let price = guide.prices.joining(batch, way.life);
                    gone.push((self.worth(ground, &joined) - price, joined));
                }
            }
        }
        gone.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut yard = self.yard.clone();
        let before_m3 = ground.crowded_m3(yard.crowded(ground));
        for (priced, placed) in gone.into_iter().take(GONE) {
            yard.put(&placed);
            let crowding = ground.crowded_m3(yard.crowded(ground)) - before_m3;
            yard.lift(&placed);
            let value_m3 = self.value_m3 + priced - crowding - REFUSED * batch.refused_m3;
            let rank = value_m3 + to_go;
            next.push(Onward { from: self.clone(), placed: Some(placed), value_m3, rank });
        }
    }

    /// Batches that another could be forked together with, by place: turned, and alone so far.
    fn hosts(&self) -> Vec<usize> {
        let hosts = (0..self.placed.len()).rev().take(HOSTS);
        hosts
            .filter(|place| {
                let own = &self.placed[*place];
                own.life().turn.is_some()
                    && own.joins.is_none()
                    && !self.paired.contains(place)
                    && self.placed.iter().all(|other| other.joins != Some(*place))
            })
            .collect()
    }

    /// What a batch is worth with what is still asked for.
    fn worth(&self, ground: &Ground, placed: &Placed) -> f64 {
        let life = placed.life();
        let (mut left, mut value) = (1.0, 0.0);
        for end in life.ends.iter().take_while(|end| end.week <= placed.end) {
            let Some(demand) = end.serves else { continue };
            let taken = self.missing_m3[demand].min(left * end.volume_m3);
            left -= taken / end.volume_m3;
            value += ground.wants[demand].weight * taken;
        }
        value + SPARE * left * life.prospect.volume_m3(placed.end) - life.labour_m3()
    }
}

/// Takes what a batch serves off what is asked for.
pub fn serve(placed: &Placed, missing_m3: &mut [f64]) {
    let mut left = 1.0;
    for end in placed.life().ends.iter().take_while(|end| end.week <= placed.end) {
        let Some(demand) = end.serves else { continue };
        let taken = missing_m3[demand].min(left * end.volume_m3);
        missing_m3[demand] -= taken;
        left -= taken / end.volume_m3;
    }
}
