//! Heaps that are plausible given what was seen: where among all heaps they lie.
//!
//! Courses are looked at up to the last observation only. The most plausible heap is found by damped Gauss-Newton steps
//! (Levenberg-Marquardt: Nocedal & Wright 2006, Numerical Optimization, section 10.3, from memory) from the best of a few
//! spread-out ones. Around it more are looked at, what they show is emulated between them, and a large sample is weighed by
//! what the emulator shows (importance sampling: Robert & Casella 2004, Monte Carlo Statistical Methods, section 3.3, from
//! memory); its mean and covariance say where to look next, until they hold.

use nalgebra::{Cholesky, DMatrix, SMatrix, SVector};

use crate::draw::{SOUGHT, Sought, quasi_normal};
use crate::emulator::Emulator;
use crate::observation::Observations;
use crate::prior::Prior;
use crate::rosenbrock::Failure;
use crate::timeline::Timeline;
use crate::variant::Variant;
use crate::weighted::evened;

type Matrix = SMatrix<f64, SOUGHT, SOUGHT>;

/// Looks at spread-out heaps, from the best of which the search starts.
const STARTS: usize = 12;
/// Most steps of the search.
const STEPS: usize = 4;
/// Difference by which slopes are taken, standard errors.
const NUDGE: f64 = 0.2;
/// A step shorter than this ends the search, standard errors.
const SETTLED: f64 = 0.1;
/// Looks around the best heap in one round, and the most rounds.
const LOOKS: usize = 20;
const ROUNDS: usize = 3;
/// How far out looks lie, and how much wider the sample is than what is plausible.
const REACHING: f64 = 1.7;
const WIDENING: f64 = 1.35;
/// Looks further out than this teach the emulator nothing, standard deviations.
const FAR: f64 = 6.0;
/// Size of the sample.
const SAMPLE: usize = 1024;
/// Members of the sample that must carry its moments; and that end the rounds.
const LEAST_CARRYING: f64 = 60.0;
const ENOUGH_CARRYING: f64 = 250.0;

/// Heaps that are plausible given what was seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// Distinct draws.
    pub draws: Vec<Placed>,
    /// Mean of each unknown over the whole sample.
    pub mean: Sought,
    /// Standard deviation of each.
    pub deviation: Sought,
}

/// One of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Where it lies.
    pub draw: Sought,
    /// How many stand for it.
    pub count: f64,
    /// Log density of the observations that it was placed by, as emulated.
    pub log_density: f64,
}

/// A heap that was looked at.
#[derive(Clone, Debug)]
struct Look {
    draw: Sought,
    shown: Vec<f64>,
    /// Log density with the prior's.
    log_density: f64,
}

/// A sample of heaps with their plausibility.
struct Sample {
    draws: Vec<Sought>,
    /// Log densities of what was seen.
    seen: Vec<f64>,
    weights: Vec<f64>,
    /// How many carry the weight.
    carrying: f64,
}

/// A normal distribution of draws.
#[derive(Clone, Debug)]
struct Around {
    centre: Sought,
    /// A square root of its covariance.
    root: Matrix,
}

impl Placement {
    /// `count` heaps plausible by `observations`, of which there is at least one.
    pub fn new(
        timeline: &Timeline,
        prior: &Prior,
        observations: &Observations,
        until: f64,
        count: usize,
    ) -> Result<Self, Failure> {
        let mut search = Search { timeline, prior, observations, until, looks: Vec::new() };
        let mut around = search.best()?;
        let mut round = 0;
        loop {
            search.look_around(&around, round)?;
            let sample = search.sample(&around);
            round += 1;
            around = sample.around(&around);
            if round == ROUNDS || (round > 1 && sample.carrying >= ENOUGH_CARRYING) {
                return Ok(sample.placement(count, &around));
            }
        }
    }
}

/// The search for plausible heaps.
struct Search<'a> {
    timeline: &'a Timeline,
    prior: &'a Prior,
    observations: &'a Observations,
    until: f64,
    looks: Vec<Look>,
}

impl Search<'_> {
    /// Looks at a heap and remembers it; its place among those remembered.
    fn look(&mut self, draw: Sought) -> Result<usize, Failure> {
        let course = Variant::sought(&draw, self.timeline).course(self.until, None)?;
        let shown = self.observations.shown(&course);
        let log_density = self.observations.log_density(&shown) + self.prior.log_density(&draw);
        self.looks.push(Look { draw, shown, log_density });
        Ok(self.looks.len() - 1)
    }

    /// The surroundings of the most plausible heap.
    fn best(&mut self) -> Result<Around, Failure> {
        for index in 0..STARTS {
            self.look(self.prior.draw(&quasi_normal(index).into()))?;
        }
        let better = |a: &usize, b: &usize| self.looks[*a].log_density.total_cmp(&self.looks[*b].log_density);
        let mut best = (0..STARTS).max_by(better).unwrap_or(0);
        let (mut precision, mut slope) = self.curvature(best)?;
        let mut damping = 0.0;
        for _ in 0..STEPS {
            let damped = precision + Matrix::identity() * damping;
            let step = Cholesky::new(damped).map_or_else(Sought::zeros, |factored| factored.solve(&slope));
            let next = self.look((self.looks[best].draw + step).map(|z| z.clamp(-4.0, 4.0)))?;
            let moved = step.norm();
            if self.looks[next].log_density > self.looks[best].log_density {
                best = next;
                damping *= 0.3;
                (precision, slope) = self.curvature(best)?;
            } else {
                damping = (4.0_f64 * damping).max(1.0);
            }
            if moved < SETTLED {
                break;
            }
        }
        Ok(Around::new(self.looks[best].draw, precision.try_inverse()))
    }

    /// Precision of the unknowns at a heap that was looked at, and the slope of the log density there.
    fn curvature(&mut self, at: usize) -> Result<(Matrix, Sought), Failure> {
        let draw = self.looks[at].draw;
        let here = self.observations.judge(&self.looks[at].shown, 0.5);
        let innovations: Vec<_> = here.innovations().copied().collect();
        let mut slopes = DMatrix::zeros(innovations.len(), SOUGHT);
        for unknown in 0..SOUGHT {
            let mut nudged = draw;
            nudged[unknown] += NUDGE;
            let there = self.look(nudged)?;
            let there = self.observations.judge_alike(&self.looks[there].shown, &here);
            for (row, (here, there)) in innovations.iter().zip(there.innovations()).enumerate() {
                slopes[(row, unknown)] = here.weight().min(1.0).sqrt() * (there.excess - here.excess) / NUDGE;
            }
        }
        let precision = self.prior.deviation.map(|deviation| deviation.powi(-2));
        let mut slope = (self.prior.mean - draw).component_mul(&precision);
        for (row, innovation) in slopes.row_iter().zip(&innovations) {
            slope -= row.transpose() * (innovation.weight().min(1.0).sqrt() * innovation.excess);
        }
        let own: Matrix = (slopes.transpose() * &slopes).fixed_view::<SOUGHT, SOUGHT>(0, 0).into_owned();
        Ok((own + Matrix::from_diagonal(&precision), slope))
    }

    /// Looks at heaps around.
    fn look_around(&mut self, around: &Around, round: usize) -> Result<(), Failure> {
        for index in 0..LOOKS {
            self.look(around.draw(&(REACHING * SVector::from(quasi_normal(round * LOOKS + index)))))?;
        }
        Ok(())
    }

    /// A sample around, weighed by what the emulator shows.
    fn sample(&self, around: &Around) -> Sample {
        let best = self.looks.iter().max_by(|a, b| a.log_density.total_cmp(&b.log_density)).expect("looks");
        // A heap that was gone when another was seen is none of these.
        let alike =
            |look: &&Look| look.shown.iter().zip(&best.shown).all(|(own, its)| own.is_nan() == its.is_nan());
        let (near, shown): (Vec<Sought>, Vec<&[f64]>) = self
            .looks
            .iter()
            .filter(alike)
            .map(|look| (around.deviates(&look.draw), look.shown.as_slice()))
            .filter(|(deviates, _)| deviates.norm() < FAR)
            .unzip();
        let deviates: Vec<Sought> =
            (1..=SAMPLE).map(|index| WIDENING * SVector::from(quasi_normal(index))).collect();
        let emulated = Emulator::new(near).map_or_else(
            // Heaps that come and go tell nothing about those between them: the best stands for all.
            || DMatrix::from_fn(best.shown.len(), SAMPLE, |row, _| best.shown[row]),
            |emulator| {
                let shown = DMatrix::from_fn(best.shown.len(), shown.len(), |row, column| shown[column][row]);
                emulator.shown(&deviates, &shown)
            },
        );
        let draws: Vec<Sought> = deviates.iter().map(|deviates| around.draw(deviates)).collect();
        let seen: Vec<f64> =
            emulated.column_iter().map(|column| self.observations.log_density(column.as_slice())).collect();
        let logs = draws.iter().zip(&seen).zip(&deviates).map(|((draw, seen), deviates)| {
            seen + self.prior.log_density(draw) + 0.5 * deviates.norm_squared() / (WIDENING * WIDENING)
        });
        let logs: Vec<f64> = logs.collect();
        let (weights, carrying) = evened(&logs, LEAST_CARRYING);
        Sample { draws, seen, weights, carrying }
    }
}

impl Around {
    fn new(centre: Sought, covariance: Option<Matrix>) -> Self {
        let root = covariance.and_then(Cholesky::new).map_or_else(Matrix::identity, Cholesky::unpack);
        Self { centre, root }
    }

    fn draw(&self, deviates: &Sought) -> Sought {
        self.centre + self.root * deviates
    }

    fn deviates(&self, draw: &Sought) -> Sought {
        self.root.solve_lower_triangular(&(draw - self.centre)).unwrap_or_else(Sought::zeros)
    }
}

impl Sample {
    fn mean(&self) -> Sought {
        self.draws.iter().zip(&self.weights).map(|(draw, weight)| draw * *weight).sum()
    }

    /// Its mean and covariance.
    fn around(&self, before: &Around) -> Around {
        let centre = self.mean();
        let apart = self.draws.iter().zip(&self.weights);
        let covariance: Matrix =
            apart.map(|(draw, weight)| (draw - centre) * (draw - centre).transpose() * *weight).sum();
        // A sample that few carry can't tell its own width.
        let trust = (self.carrying / LEAST_CARRYING).min(1.0);
        let own = before.root * before.root.transpose();
        Around::new(centre, Some(covariance * trust + own * (1.0 - trust)))
    }

    /// `count` of its heaps, by their weights.
    fn placement(&self, count: usize, around: &Around) -> Placement {
        // In order of the first unknown, so that all of its range is stood for evenly.
        let mut order: Vec<usize> = (0..self.draws.len()).collect();
        order.sort_by(|a, b| self.draws[*a][0].total_cmp(&self.draws[*b][0]));
        let mut draws: Vec<Placed> = Vec::with_capacity(count);
        let (mut reached, mut next) = (0.0, 0.5);
        for index in order {
            reached += self.weights[index] * count as f64;
            let standing = (reached - next).ceil().max(0.0);
            if standing > 0.0 {
                next += standing;
                draws.push(Placed {
                    draw: self.draws[index],
                    count: standing,
                    log_density: self.seen[index],
                });
            }
        }
        let deviation = (around.root * around.root.transpose()).diagonal().map(f64::sqrt);
        Placement { draws, mean: around.centre, deviation }
    }
}
