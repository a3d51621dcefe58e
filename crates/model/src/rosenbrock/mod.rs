//! The integrator: RODAS, a stiffly accurate Rosenbrock method of order 4(3), L-stable, with dense output.
//!
//! The state is split: the first `N` entries drive the right-hand side; those behind them follow, and nothing depends
//! on them but themselves (rain, evaporation, ...). Only the first need a linear solve, yet all go through the same
//! stages, so that sums which the right-hand side conserves stay conserved to rounding.

mod inverse;
mod rodas;

use inverse::Inverse;
use rodas::{A, C, DENSE_1, DENSE_2, GAMMA, NODE, TIME};

/// A system of `M` entries: `N` states that drive it, and what follows them.
pub trait System<const N: usize, const M: usize> {
    /// Derivative at `t` (days).
    fn derivative(&self, t: f64, y: &[f64; M]) -> [f64; M];
    /// Derivative and its slopes.
    fn linearised(&self, t: f64, y: &[f64; M]) -> Linear<N, M>;
    /// Size below which an error in entry `i` does not matter.
    fn absolute_tolerance(&self, i: usize) -> f64;
    /// Next moment after `t` over which the derivative is not smooth: no step crosses it.
    fn smooth_until(&self, t: f64) -> f64 {
        let _ = t;
        f64::INFINITY
    }
}

/// A system about one point.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear<const N: usize, const M: usize> {
    /// Derivative of each entry.
    pub rate: [f64; M],
    /// Its slopes over each driving state, one column a state.
    pub by_state: [[f64; M]; N],
    /// Slope of each following entry over itself.
    pub by_itself: [f64; M],
    /// Its slope over time.
    pub by_time: [f64; M],
}

/// How closely to follow the solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Allowed local error relative to each entry.
    pub relative: f64,
    /// Factor on the system's own absolute tolerances.
    pub absolute_scale: f64,
    /// Longest step, days.
    pub max_step_days: f64,
    /// Most steps within one call.
    pub max_steps: usize,
}

impl Default for Tolerance {
    fn default() -> Self {
        Self { relative: 2e-5, absolute_scale: 0.3, max_step_days: 8.0, max_steps: 100_000 }
    }
}

/// The integration could not go on.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Failure {
    /// More steps than allowed.
    #[error("more than {steps} steps before day {day:.3}")]
    TooManySteps {
        /// Steps taken.
        steps: usize,
        /// Where it stood.
        day: f64,
    },
    /// Error control asked for a step too small to matter: the right-hand side is not finite there.
    #[error("no finite step at day {day:.3}")]
    StepVanished {
        /// Where it stood.
        day: f64,
    },
}

/// One accepted step with its interpolant.
#[derive(Clone, Debug, PartialEq)]
pub struct Step<const M: usize> {
    /// Start, days.
    pub t: f64,
    /// Length, days.
    pub h: f64,
    /// State at the start.
    pub y0: [f64; M],
    /// State at the end.
    pub y1: [f64; M],
    /// Factor of θ(1 − θ) in the interpolant.
    pub(crate) d1: [f64; M],
    /// Factor of θ²(1 − θ) in it.
    pub(crate) d2: [f64; M],
}

impl<const M: usize> Step<M> {
    /// State at `t + theta h`, `theta` in 0..=1; third order.
    #[must_use]
    pub fn at(&self, theta: f64) -> [f64; M] {
        std::array::from_fn(|i| interpolated(theta, self.y0[i], self.y1[i], self.d1[i], self.d2[i]))
    }
}

/// One entry within a step.
pub(crate) fn interpolated(theta: f64, y0: f64, y1: f64, d1: f64, d2: f64) -> f64 {
    let rest = 1.0 - theta;
    rest * y0 + theta * (y1 + rest * (d1 + theta * d2))
}

/// Times no further apart than this are one, days: a tenth of a millisecond.
pub const SHORTEST_DAYS: f64 = 1e-9;

/// Where an integration ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End<const M: usize> {
    /// State there.
    pub y: [f64; M],
    /// Step that it would go on with, days.
    pub step_days: f64,
}

/// Integrates from `t0` to `t1`, handing each accepted step to `accept`.
///
/// `first_step_days` is tried first. The caller splits the time axis at discontinuities.
pub fn integrate<const N: usize, const M: usize>(
    system: &impl System<N, M>,
    tolerance: Tolerance,
    first_step_days: f64,
    (t0, t1): (f64, f64),
    y0: [f64; M],
    mut accept: impl FnMut(&Step<M>),
) -> Result<End<M>, Failure> {
    let (mut t, mut y) = (t0, y0);
    let mut linear = system.linearised(t, &y);
    let mut h = first_step_days.min(tolerance.max_step_days);
    let mut rejected = false;
    let mut steps = 0;
    loop {
        if steps >= tolerance.max_steps {
            return Err(Failure::TooManySteps { steps, day: t });
        }
        steps += 1;
        let stop = t1.min(system.smooth_until(t));
        let trial = fitted(h, stop - t);
        let (step, error) = try_step(system, tolerance, (t, trial), &y, &linear);
        let accepted = error <= 1.0;
        let wanted = 0.9 / error.max(1e-8).sqrt().sqrt();
        let factor =
            if error.is_finite() { wanted.clamp(0.2, if rejected { 1.0 } else { 6.0 }) } else { 0.1 };
        // A step cut short by a stop says little against longer ones.
        let least = if accepted && !rejected && trial < h { h } else { 0.0 };
        h = (trial * factor).max(least).min(tolerance.max_step_days);
        rejected = !accepted;
        if accepted {
            accept(&step);
            y = step.y1;
            t = if stop - t - trial <= SHORTEST_DAYS { stop } else { t + trial };
            if t1 - t <= SHORTEST_DAYS {
                return Ok(End { y, step_days: h });
            }
            linear = system.linearised(t, &y);
        } else if h < SHORTEST_DAYS {
            return Err(Failure::StepVanished { day: t });
        }
    }
}

/// A step of about `h` that leaves no stub of the `left` days: two equal ones rather than a long and a short one.
fn fitted(h: f64, left: f64) -> f64 {
    if h >= left - SHORTEST_DAYS { left } else { h.min(0.5 * left) }
}

/// One trial step from `t` of `h` days, and its scaled error (accept at 1 or below).
fn try_step<const N: usize, const M: usize>(
    system: &impl System<N, M>,
    tolerance: Tolerance,
    (t, h): (f64, f64),
    y: &[f64; M],
    linear: &Linear<N, M>,
) -> (Step<M>, f64) {
    let mut matrix: [[f64; N]; N] = std::array::from_fn(|j| std::array::from_fn(|i| -linear.by_state[j][i]));
    let diagonal = 1.0 / (h * GAMMA);
    for (k, column) in matrix.iter_mut().enumerate() {
        column[k] += diagonal;
    }
    let following = linear.by_itself.map(|slope| 1.0 / (diagonal - slope));
    let inverse = Inverse::of(matrix);

    let mut u = [[0.0; M]; 6];
    let mut argument = *y;
    for stage in 0..6 {
        let f = if stage == 0 {
            linear.rate
        } else {
            // The last two stages look at what the one before them arrived at.
            if stage < 5 {
                argument = *y;
                add_weighted(&mut argument, &u[..stage], &A[stage], 1.0);
            } else {
                add_weighted(&mut argument, &u[4..5], &[1.0], 1.0);
            }
            system.derivative(t + NODE[stage] * h, &argument)
        };
        let mut right: [f64; M] = std::array::from_fn(|i| f[i] + h * TIME[stage] * linear.by_time[i]);
        add_weighted(&mut right, &u[..stage], &C[stage], 1.0 / h);
        let driven = inverse.solve(&right);
        for (column, driven) in linear.by_state.iter().zip(driven) {
            for (entry, slope) in right[N..].iter_mut().zip(&column[N..]) {
                *entry += slope * driven;
            }
        }
        u[stage] = std::array::from_fn(|i| if i < N { driven[i] } else { right[i] * following[i] });
    }

    let y1: [f64; M] = std::array::from_fn(|i| argument[i] + u[5][i]);
    let mut sum = 0.0;
    for i in 0..M {
        let scale = tolerance.absolute_scale * system.absolute_tolerance(i)
            + tolerance.relative * y[i].abs().max(y1[i].abs());
        sum += (u[5][i] / scale).powi(2);
    }
    let (mut d1, mut d2) = ([0.0; M], [0.0; M]);
    add_weighted(&mut d1, &u[..5], &DENSE_1, 1.0);
    add_weighted(&mut d2, &u[..5], &DENSE_2, 1.0);
    (Step { t, h, y0: *y, y1, d1, d2 }, (sum / M as f64).sqrt())
}

/// Adds the stages by their weights times `factor`.
fn add_weighted<const M: usize>(to: &mut [f64; M], stages: &[[f64; M]], weights: &[f64], factor: f64) {
    for (stage, weight) in stages.iter().zip(weights) {
        let weight = weight * factor;
        for (entry, part) in to.iter_mut().zip(stage) {
            *entry += weight * part;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Prothero & Robinson 1974: y' = λ(y − cos t) − sin t, solution cos t; stiff and driven by time.
    /// The second entry integrates the first.
    struct Driven {
        lambda: f64,
    }

    impl System<1, 2> for Driven {
        fn derivative(&self, t: f64, y: &[f64; 2]) -> [f64; 2] {
            [self.lambda * (y[0] - t.cos()) - t.sin(), y[0]]
        }
        fn linearised(&self, t: f64, y: &[f64; 2]) -> Linear<1, 2> {
            let rate = self.derivative(t, y);
            let by_time = [self.lambda * t.sin() - t.cos(), 0.0];
            Linear { rate, by_state: [[self.lambda, 1.0]], by_itself: [0.0; 2], by_time }
        }
        fn absolute_tolerance(&self, _: usize) -> f64 {
            1e-3
        }
    }

    /// y' = y²: nonlinear, solution 1 / (1 − t).
    struct Growing;

    impl System<1, 1> for Growing {
        fn derivative(&self, _: f64, y: &[f64; 1]) -> [f64; 1] {
            [y[0] * y[0]]
        }
        fn linearised(&self, t: f64, y: &[f64; 1]) -> Linear<1, 1> {
            Linear { rate: self.derivative(t, y), by_state: [[2.0 * y[0]]], by_itself: [0.0], by_time: [0.0] }
        }
        fn absolute_tolerance(&self, _: usize) -> f64 {
            1e-3
        }
    }

    /// Errors of `n` equal steps of [`Growing`] to 0.5: at the end, and the largest halfway through a step.
    fn fixed_step_error(n: u32) -> (f64, f64) {
        let h = 0.5 / f64::from(n);
        let mut y = [1.0];
        let mut midway = 0.0_f64;
        for i in 0..n {
            let t = f64::from(i) * h;
            let linear = Growing.linearised(t, &y);
            let (step, _) = try_step(&Growing, Tolerance::default(), (t, h), &y, &linear);
            midway = midway.max((step.at(0.5)[0] - 1.0 / (1.0 - t - 0.5 * h)).abs());
            y = step.y1;
        }
        ((y[0] - 2.0).abs(), midway)
    }

    #[test]
    fn the_method_is_of_fourth_order_and_its_interpolant_of_third() {
        let (coarse, coarse_midway) = fixed_step_error(20);
        let (fine, fine_midway) = fixed_step_error(40);
        let order = (coarse / fine).log2();
        assert!((3.7..4.6).contains(&order), "order {order}");
        let order = (coarse_midway / fine_midway).log2();
        assert!(order > 2.8, "interpolant order {order}");
    }

    #[test]
    fn a_stiff_driven_system_is_followed_in_few_steps() {
        let mut steps = 0;
        let End { y, .. } = integrate(
            &Driven { lambda: -1e6 },
            Tolerance { relative: 1e-6, ..Tolerance::default() },
            0.01,
            (0.0, 10.0),
            [1.0, 0.0],
            |_| steps += 1,
        )
        .unwrap();
        assert!((y[0] - 10.0_f64.cos()).abs() < 1e-5, "{}", y[0]);
        assert!((y[1] - 10.0_f64.sin()).abs() < 1e-3, "{}", y[1]);
        assert!(steps < 200, "{steps} steps");
    }

    #[test]
    fn a_solution_that_runs_away_is_an_error_not_a_hang() {
        let failure = integrate(&Growing, Tolerance::default(), 0.1, (0.0, 2.0), [1.0], |_| ()).unwrap_err();
        assert!(matches!(failure, Failure::StepVanished { .. } | Failure::TooManySteps { .. }), "{failure}");
    }
}
