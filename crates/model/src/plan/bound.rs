//! The most that any plan could reach: prices on bays, labour and compost, under which a season falls apart into batches.
//!
//! Lagrangian relaxation (Fisher 1981, The Lagrangian relaxation method for solving integer programming problems,
//! Management Science 27:1-18, from memory): bays that stand, forking that can be done and compost that is asked for each get
//! a price; under given prices the best season is a longest path through the weeks, and its value is a bound whatever the
//! prices. Prices are bettered by subgradient steps. Two batches forked into one bay pay for their shares of it.

use crate::plan::ground::{Batch, Ground, REFUSED, SPARE};

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

/// A life at its best under prices.
#[derive(Clone, Copy, Debug)]
struct Best {
    /// Index of the life.
    life: usize,
    /// Week it is emptied in; the plan's end where it is kept.
    end: usize,
    /// What it is worth beyond its prices, m³.
    value_m3: f64,
    /// The share of the bay turned into that it pays for.
    share: f64,
    /// The demand served, if any.
    serves: Option<usize>,
    /// Compost of it, m³.
    volume_m3: f64,
}

impl Prices {
    /// The prices with the lowest bound found, bettered from those of a season that differs little, if there are any.
    #[must_use]
    pub fn new(ground: &Ground, before: Option<&Self>) -> Self {
        let mut now = before.map_or_else(|| Multipliers::none(ground), Multipliers::of);
        let again = usize::from(before.is_some());
        let mut best = Self::at(ground, &now);
        let (mut step, mut waited) = (FIRST_STEP[again], 0);
        for _ in 0..ROUNDS[again] {
            let prices = Self::at(ground, &now);
            let (bound_m3, to_go, slack) = prices.round(ground);
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

    /// A life at its best, by when it is emptied.
    fn best(&self, ground: &Ground, batch: &Batch, index: usize) -> Best {
        let life = &batch.lives[index];
        let fixed = self.joining(ground, batch, index) + life.labour_m3();
        let share = life.share;
        let held = |end: usize| match life.turn {
            Some((week, kind)) => share * self.bay(kind, week, end),
            None => self.bay(batch.kind, batch.start, end),
        };
        let value_m3 = f64::NEG_INFINITY;
        let mut best = Best { life: index, end: ground.weeks, value_m3, share, serves: None, volume_m3: 0.0 };
        // What is emptied later may serve what was asked for before, with the most that was there then.
        let mut served: Option<(usize, f64, f64)> = None;
        for end in &life.ends {
            if let Some(demand) = end.serves {
                let worth = self.compost[demand] * end.volume_m3;
                if served.is_none_or(|(_, _, before)| worth > before) {
                    served = Some((demand, end.volume_m3, worth));
                }
            }
            let (serves, volume_m3, worth) = match served {
                Some((demand, volume_m3, worth)) if worth > SPARE * end.volume_m3 => {
                    (Some(demand), volume_m3, worth)
                }
                _ => (None, end.volume_m3, SPARE * end.volume_m3),
            };
            let value_m3 = worth - held(end.week) - fixed;
            if value_m3 > best.value_m3 {
                best = Best { life: index, end: end.week, value_m3, share, serves, volume_m3 };
            }
        }
        best
    }

    /// The weeks a life may be emptied in, each with what it is then worth beyond its prices, and the prices of what it takes up,
    /// m³.
    pub fn worth(&self, ground: &Ground, batch: &Batch, index: usize) -> Vec<(usize, f64, f64)> {
        let life = &batch.lives[index];
        let mut served: f64 = 0.0;
        let mut all: Vec<(usize, f64, f64)> = Vec::with_capacity(life.ends.len());
        for end in &life.ends {
            served = end.serves.map_or(served, |demand| served.max(self.compost[demand] * end.volume_m3));
            let price = match life.turn {
                Some((week, kind)) => self.joining(ground, batch, index) + self.bay(kind, week, end.week),
                None => self.bay(batch.kind, batch.start, end.week),
            };
            let value = served.max(SPARE * end.volume_m3) - price - life.labour_m3();
            match all.last_mut() {
                Some(last) if last.0 == end.week => *last = (end.week, value, price),
                _ => all.push((end.week, value, price)),
            }
        }
        all
    }

    /// The prices of what a life takes up that is turned into a bay which another batch was turned into already, m³.
    pub fn joining(&self, ground: &Ground, batch: &Batch, index: usize) -> f64 {
        let Some((week, _)) = batch.lives[index].turn else { return 0.0 };
        self.bay(batch.kind, batch.start, (week + 1).min(ground.weeks)) + self.fork[week]
    }

    /// A batch at its best.
    fn batch(&self, ground: &Ground, batch: &Batch) -> Best {
        let lives = (0..batch.lives.len()).map(|index| self.best(ground, batch, index));
        lives.max_by(|a, b| a.value_m3.total_cmp(&b.value_m3)).expect("a batch can be left")
    }

    /// The best season under these prices: its value, that of the weeks from each on, and what it leaves over of what is
    /// priced, which is negative where it uses more than there is.
    fn round(&self, ground: &Ground) -> (f64, Vec<f64>, Multipliers) {
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
        for standing in &ground.standing {
            let best = self.batch(ground, standing);
            value += best.value_m3;
            slack.take(ground, standing, &best);
        }
        let mut to_go = vec![0.0; ground.weeks + 1];
        let mut taken: Vec<Option<(&Batch, Best)>> = vec![None; ground.weeks];
        for week in (0..ground.weeks).rev() {
            to_go[week] = to_go[week + 1] - REFUSED * ground.inflow_m3[week];
            for batch in &ground.fills[week] {
                let best = self.batch(ground, batch);
                let all = best.value_m3 - REFUSED * batch.refused_m3 + to_go[batch.close];
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
        let until = life.turn.map_or(best.end, |(week, _)| (week + 1).min(ground.weeks));
        for week in batch.start..until {
            self.bay[batch.kind][week] -= 1.0;
        }
        if let Some((turned, kind)) = life.turn {
            self.fork[turned] -= 1.0;
            for week in turned..best.end {
                self.bay[kind][week] -= best.share;
            }
        }
        if let Some(demand) = best.serves {
            self.compost[demand] += best.volume_m3;
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
