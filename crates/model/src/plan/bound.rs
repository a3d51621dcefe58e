//! The most that any plan could reach: prices on bays, labour and compost, under which a season falls apart into batches.
//!
//! Lagrangian relaxation (Fisher 1981, The Lagrangian relaxation method for solving integer programming problems,
//! Management Science 27:1-18, from memory): bays that stand, forking that can be done and compost that is asked for each get
//! a price; under given prices the best season is a longest path through the weeks, and its value is a bound whatever the
//! prices. Prices are bettered by subgradient steps. Two batches forked into one bay pay for their shares of it.

use std::cmp::Ordering;

use crate::plan::ground::{Batch, Ground, REFUSED, SPARE};
use crate::plan::offers::{Given, Offer, Offers};

/// Rounds of bettering prices, from none and from those of a season that differs little.
const ROUNDS: [usize; 2] = [300, 100];
/// Share of a step that the first one takes, likewise.
const FIRST_STEP: [f64; 2] = [1.0, 0.25];
/// Rounds without a lower bound after which steps are halved.
const PATIENCE: usize = 10;

/// Prices, and what they tell.
#[derive(Clone, Debug)]
pub struct Prices {
    /// Of a bay for a week, by kind and week, as sums over all weeks before.
    bay: Vec<Vec<f64>>,
    /// Of forking a batch over, by week.
    fork: Vec<f64>,
    /// Of a cubic metre for each demand.
    compost: Vec<f64>,
    /// Value of the weeks from each on.
    pub to_go: Vec<f64>,
    /// No plan is worth more, m³.
    pub bound_m3: f64,
}

/// A life that ends in a week.
#[derive(Clone, Copy, Debug)]
struct Ending {
    /// Week it is emptied in; the plan's end where it is kept.
    week: usize,
    /// The demand served, if any.
    serves: Option<u16>,
    /// Compost of it, m³.
    volume_m3: f64,
    /// What it takes up is priced at this, m³.
    price_m3: f64,
    /// What it is worth beyond its prices, m³.
    value_m3: f64,
}

/// A batch at its best under prices.
#[derive(Clone, Copy, Debug)]
struct Best {
    /// Index of the life.
    life: usize,
    /// The share of the bay turned into that it pays for.
    share: f64,
    /// How it ends.
    end: Ending,
}

/// What there is to price in a season.
struct Market<'a> {
    ground: &'a Ground,
    standing: Vec<Offers>,
    fills: Vec<Vec<Offers>>,
}

impl<'a> Market<'a> {
    fn of(ground: &'a Ground) -> Self {
        let of = |batches: &[Batch]| batches.iter().map(Offers::of).collect();
        Self {
            ground,
            standing: of(&ground.standing),
            fills: ground.fills.iter().map(|week| of(week)).collect(),
        }
    }
}

impl Prices {
    /// The prices with the lowest bound found, bettered from those of a season that differs little, if there are any.
    #[must_use]
    pub fn new(ground: &Ground, before: Option<&Self>) -> Self {
        let market = Market::of(ground);
        let mut now = before.map_or_else(|| Multipliers::none(ground), Multipliers::of);
        let again = usize::from(before.is_some());
        let mut best = Self::at(ground, &now);
        let (mut step, mut waited) = (FIRST_STEP[again], 0);
        for _ in 0..ROUNDS[again] {
            let prices = Self::at(ground, &now);
            let (bound_m3, to_go, slack) = prices.round(&market);
            let length: f64 = slack.squares();
            if bound_m3 < best.bound_m3 - 1e-6 {
                best = Self { to_go, bound_m3, ..prices };
                waited = 0;
            } else {
                waited += 1;
            }
            if waited >= PATIENCE {
                (step, waited) = (step / 2.0, 0);
            }
            if length < 1e-12 || step < 1e-3 || bound_m3 < 1e-4 {
                break;
            }
            now.step(ground, &slack, step * bound_m3.max(0.01) / length);
        }
        best
    }

    fn at(ground: &Ground, now: &Multipliers) -> Self {
        let sums = now.bay.iter().map(|prices| {
            let mut sum = 0.0;
            let mut sums = vec![0.0];
            sums.extend(prices.iter().map(|price| {
                sum += price;
                sum
            }));
            sums
        });
        Self {
            bay: sums.collect(),
            fork: now.fork.clone(),
            compost: now.compost.clone(),
            to_go: vec![0.0; ground.weeks + 1],
            bound_m3: f64::INFINITY,
        }
    }

    /// Prices by a factor on those of bays and labour.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let mut prices = self.clone();
        prices.bay.iter_mut().flatten().chain(&mut prices.fork).for_each(|price| *price *= factor);
        prices
    }

    /// Price of a bay of a kind over weeks.
    fn bay(&self, kind: usize, from: usize, until: usize) -> f64 {
        if until > from { self.bay[kind][until] - self.bay[kind][from] } else { 0.0 }
    }

    /// The weeks a life may be emptied in, with what comes of that. It pays for `share` of the bay that it is turned into.
    ///
    /// What is emptied later may serve what was asked for before, with the most that was there then.
    fn ends<'a>(
        &'a self,
        batch: &Batch,
        life: &'a Offer,
        share: f64,
        ends: &'a [Given],
    ) -> impl Iterator<Item = Ending> + 'a {
        let first = self.first_bay(batch, life.turn.map(|(week, _)| usize::from(week)));
        let (from, kind, share) = match life.turn {
            Some((week, kind)) => (usize::from(week), usize::from(kind), share),
            None => (batch.start, batch.kind, 1.0),
        };
        let bay = &self.bay[kind];
        let mut served: Option<(u16, f64, f64)> = None;
        ends.iter().map(move |end| {
            if let Some(demand) = end.serves {
                let worth = self.compost[usize::from(demand)] * end.volume_m3;
                if served.is_none_or(|(_, _, before)| worth > before) {
                    served = Some((demand, end.volume_m3, worth));
                }
            }
            let spread = (None, end.volume_m3, SPARE * end.volume_m3);
            let (serves, volume_m3, worth) = match served {
                Some((demand, volume_m3, worth)) if worth > spread.2 => (Some(demand), volume_m3, worth),
                _ => spread,
            };
            let week = usize::from(end.week);
            let price_m3 = first + share * (bay[week.max(from)] - bay[from]);
            Ending { week, serves, volume_m3, price_m3, value_m3: worth - price_m3 - life.labour_m3 }
        })
    }

    /// The lives of a batch with the weeks each may be emptied in, what it is then worth beyond its prices, and the prices of what
    /// it takes up where it shares its bay with no other, m³.
    pub fn worth(&self, batch: &Batch) -> Vec<(usize, usize, f64, f64)> {
        let mut all: Vec<(usize, usize, f64, f64)> = Vec::new();
        for (index, (life, ends)) in Offers::of(batch).lives().enumerate() {
            for end in self.ends(batch, life, 1.0, ends) {
                let own = (index, end.week, end.value_m3, end.price_m3);
                match all.last_mut() {
                    Some(last) if (last.0, last.1) == (index, end.week) => *last = own,
                    _ => all.push(own),
                }
            }
        }
        all
    }

    /// The prices of what a life takes up that is turned into a bay which another batch was turned into already, m³.
    pub fn joining(&self, batch: &Batch, index: usize) -> f64 {
        self.first_bay(batch, batch.lives[index].turn.map(|(week, _)| week))
    }

    /// The price of the bay that a batch is filled in until it is turned in a week, and of turning it, m³.
    fn first_bay(&self, batch: &Batch, turned: Option<usize>) -> f64 {
        turned.map_or(0.0, |week| {
            self.bay(batch.kind, batch.start, (week + 1).min(self.fork.len())) + self.fork[week]
        })
    }

    /// A batch at its best.
    fn batch(&self, batch: &Batch, offers: &Offers) -> Best {
        let mut best: Option<Best> = None;
        for (index, (life, ends)) in offers.lives().enumerate() {
            for end in self.ends(batch, life, life.share, ends) {
                // Of lives worth the same, the last.
                let better = |best: Best| match end.value_m3.total_cmp(&best.end.value_m3) {
                    Ordering::Greater => true,
                    Ordering::Equal => index > best.life,
                    Ordering::Less => false,
                };
                if best.is_none_or(better) {
                    best = Some(Best { life: index, share: life.share, end });
                }
            }
        }
        best.expect("a batch can be left")
    }

    /// The best season under these prices: its value, that of the weeks from each on, and what it leaves over of what is
    /// priced, which is negative where it uses more than there is.
    fn round(&self, market: &Market) -> (f64, Vec<f64>, Multipliers) {
        let ground = market.ground;
        let mut slack = Multipliers {
            bay: ground.kinds.iter().map(|kind| vec![kind.bays.len() as f64; ground.weeks]).collect(),
            fork: vec![ground.turns_per_week as f64; ground.weeks],
            compost: vec![0.0; ground.wants.len()],
        };
        let mut value = 0.0;
        for (kind, bays) in ground.kinds.iter().enumerate() {
            value += self.bay(kind, 0, ground.weeks) * bays.bays.len() as f64;
        }
        value += self.fork.iter().sum::<f64>() * ground.turns_per_week as f64;
        for (demand, want) in ground.wants.iter().enumerate() {
            value += (want.weight - self.compost[demand]).max(0.0) * want.volume_m3;
            if self.compost[demand] < want.weight {
                slack.compost[demand] -= want.volume_m3;
            }
        }
        for (standing, offers) in ground.standing.iter().zip(&market.standing) {
            let best = self.batch(standing, offers);
            value += best.end.value_m3;
            slack.take(ground, standing, &best);
        }
        let mut to_go = vec![0.0; ground.weeks + 1];
        let mut taken: Vec<Option<(&Batch, Best)>> = vec![None; ground.weeks];
        for week in (0..ground.weeks).rev() {
            to_go[week] = to_go[week + 1] - REFUSED * ground.inflow_m3[week];
            for (batch, offers) in ground.fills[week].iter().zip(&market.fills[week]) {
                let best = self.batch(batch, offers);
                let all = best.end.value_m3 - REFUSED * batch.refused_m3 + to_go[batch.close];
                if all > to_go[week] {
                    to_go[week] = all;
                    taken[week] = Some((batch, best));
                }
            }
        }
        let mut week = 0;
        while week < ground.weeks {
            if let Some((batch, best)) = &taken[week] {
                slack.take(ground, batch, best);
                week = batch.close;
            } else {
                week += 1;
            }
        }
        (value + to_go[0], to_go, slack)
    }
}

/// A number for each thing that is priced.
struct Multipliers {
    bay: Vec<Vec<f64>>,
    fork: Vec<f64>,
    compost: Vec<f64>,
}

impl Multipliers {
    /// Bays and labour for nothing, and compost for what it is worth to who asks for it.
    fn none(ground: &Ground) -> Self {
        Self {
            bay: vec![vec![0.0; ground.weeks]; ground.kinds.len()],
            fork: vec![0.0; ground.weeks],
            compost: ground.wants.iter().map(|want| want.weight).collect(),
        }
    }

    fn of(prices: &Prices) -> Self {
        let weekly = |sums: &Vec<f64>| sums.windows(2).map(|pair| pair[1] - pair[0]).collect();
        Self {
            bay: prices.bay.iter().map(weekly).collect(),
            fork: prices.fork.clone(),
            compost: prices.compost.clone(),
        }
    }

    fn squares(&self) -> f64 {
        let all = self.bay.iter().flatten().chain(&self.fork).chain(&self.compost);
        all.map(|value| value * value).sum()
    }

    /// Counts off what a batch uses, and counts in the compost it gives.
    fn take(&mut self, ground: &Ground, batch: &Batch, best: &Best) {
        let life = &batch.lives[best.life];
        let until = life.turn.map_or(best.end.week, |(week, _)| (week + 1).min(ground.weeks));
        for week in batch.start..until {
            self.bay[batch.kind][week] -= 1.0;
        }
        if let Some((turned, kind)) = life.turn {
            self.fork[turned] -= 1.0;
            for week in turned..best.end.week {
                self.bay[kind][week] -= best.share;
            }
        }
        if let Some(demand) = best.end.serves {
            self.compost[usize::from(demand)] += best.end.volume_m3;
        }
    }

    /// Prices a step along: lower where there is enough, higher where there is not.
    fn step(&mut self, ground: &Ground, slack: &Self, step: f64) {
        let lower = |prices: &mut [f64], slack: &[f64]| {
            for (price, slack) in prices.iter_mut().zip(slack) {
                *price = (*price - step * slack).max(0.0);
            }
        };
        for (prices, slack) in self.bay.iter_mut().zip(&slack.bay) {
            lower(prices, slack);
        }
        lower(&mut self.fork, &slack.fork);
        for ((price, slack), want) in self.compost.iter_mut().zip(&slack.compost).zip(&ground.wants) {
            *price = (*price - step * slack).clamp(SPARE, want.weight.max(SPARE));
        }
    }
}
