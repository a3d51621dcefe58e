//! The integrator: RODAS, a stiffly accurate Rosenbrock method of order 4(3), L-stable, with dense output.
//!
//! Hairer & Wanner 1996, Solving Ordinary Differential Equations II, section IV.7 and the code RODAS
//! (coefficients from memory; the order tests below would fail on a wrong digit).
//!
//! The state is split: the first `N` entries drive the right-hand side, the `Q` entries behind them are
//! integrals that nothing depends on (rain, evaporation, ...). Only the first need a linear solve, yet both go
//! through the same stages, so that sums which the right-hand side conserves stay conserved to rounding.

/// A system of `N` states and `Q` pure integrals, `M = N + Q` in all.
pub trait System<const M: usize> {
    /// Derivative at `t` (days).
    fn derivative(&self, t: f64, y: &[f64; M]) -> [f64; M];
    /// Size below which an error in entry `i` does not matter.
    fn absolute_tolerance(&self, i: usize) -> f64;
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

const GAMMA: f64 = 0.25;
const C_NODE: [f64; 6] = [0.0, 0.386, 0.21, 0.63, 1.0, 1.0];
const D_NODE: [f64; 6] = [0.25, -0.1043, 0.1035, -0.036_200_000_000_000_23, 0.0, 0.0];
const A: [[f64; 5]; 6] = [
    [0.0; 5],
    [1.544, 0.0, 0.0, 0.0, 0.0],
    [0.946_678_528_081_582_6, 0.255_701_169_898_328_4, 0.0, 0.0, 0.0],
    [3.314_825_187_068_521, 2.896_124_015_972_201, 0.998_641_913_997_781_7, 0.0, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 1.0],
];
const C: [[f64; 5]; 6] = [
    [0.0; 5],
    [-5.6688, 0.0, 0.0, 0.0, 0.0],
    [-2.430_093_356_833_875, -0.206_359_915_709_191_5, 0.0, 0.0, 0.0],
    [-0.107_352_905_815_137_5, -9.594_562_251_023_355, -20.470_286_148_096_16, 0.0, 0.0],
    [7.496_443_313_967_647, -10.246_804_314_643_52, -33.999_903_528_199_05, 11.708_908_932_061_6, 0.0],
    [
        8.083_246_795_921_522,
        -7.981_132_988_064_893,
        -31.521_594_328_743_71,
        16.319_305_431_231_36,
        -6.058_818_238_834_054,
    ],
];
const DENSE_1: [f64; 5] = [
    10.126_235_083_445_86,
    -7.487_995_877_610_167,
    -34.800_918_615_557_47,
    -7.992_771_707_568_823,
    1.025_137_723_295_662,
];
const DENSE_2: [f64; 5] = [
    -0.676_280_339_280_125_3,
    6.087_714_651_680_015,
    16.430_843_208_924_78,
    24.767_225_114_183_86,
    -6.594_389_125_716_872,
];

/// Times no further apart than this are one, days: a tenth of a millisecond.
pub const SHORTEST_DAYS: f64 = 1e-9;

/// Integrates from `t0` to `t1`, handing each accepted step to `accept`; returns the state at `t1`.
///
/// `first_step_days` is tried first. The caller splits the time axis at discontinuities.
pub fn integrate<const N: usize, const M: usize>(
    system: &impl System<M>,
    tolerance: Tolerance,
    first_step_days: f64,
    (t0, t1): (f64, f64),
    mut y: [f64; M],
    mut accept: impl FnMut(&Step<M>),
) -> Result<[f64; M], Failure> {
    let mut t = t0;
    let mut h = first_step_days.min(tolerance.max_step_days);
    let mut rejected = false;
    let mut steps = 0;
    while t1 - t > SHORTEST_DAYS {
        if steps >= tolerance.max_steps {
            return Err(Failure::TooManySteps { steps, day: t });
        }
        steps += 1;
        let last = t + h >= t1 - SHORTEST_DAYS;
        let trial = if last { t1 - t } else { h };
        let (step, error) = try_step::<N, M>(system, tolerance, t, trial, &y);
        if error <= 1.0 {
            accept(&step);
            y = step.y1;
            t = if last { t1 } else { t + trial };
        }
        let wanted = 0.9 * error.max(1e-8).powf(-0.25);
        let factor =
            if error.is_finite() { wanted.clamp(0.2, if rejected { 1.0 } else { 6.0 }) } else { 0.1 };
        rejected = error.is_nan() || error > 1.0;
        h = (trial * factor).min(tolerance.max_step_days);
        if rejected && h < SHORTEST_DAYS {
            return Err(Failure::StepVanished { day: t });
        }
    }
    Ok(y)
}

/// One trial step and its scaled error (accept at 1 or below).
fn try_step<const N: usize, const M: usize>(
    system: &impl System<M>,
    tolerance: Tolerance,
    t: f64,
    h: f64,
    y: &[f64; M],
) -> (Step<M>, f64) {
    let f0 = system.derivative(t, y);
    let jacobian = jacobian::<N, M>(system, t, y, &f0);
    let dt = 1e-5;
    let shifted = system.derivative(t + dt, y);
    let time_slope: [f64; M] = std::array::from_fn(|i| (shifted[i] - f0[i]) / dt);

    let mut matrix = [[0.0; N]; N];
    for (i, row) in matrix.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            *entry = -jacobian[i][j];
        }
        row[i] += 1.0 / (h * GAMMA);
    }
    let solver = Factored::new(matrix);

    let mut u = [[0.0; M]; 6];
    let mut argument = *y;
    for stage in 0..6 {
        if stage > 0 {
            argument = *y;
            for (previous, weight) in u.iter().zip(A[stage]).take(stage) {
                for i in 0..M {
                    argument[i] += weight * previous[i];
                }
            }
        }
        let f = if stage == 0 { f0 } else { system.derivative(t + C_NODE[stage] * h, &argument) };
        let mut right: [f64; M] = std::array::from_fn(|i| f[i] + h * D_NODE[stage] * time_slope[i]);
        for (previous, weight) in u.iter().zip(C[stage]).take(stage) {
            for i in 0..M {
                right[i] += weight / h * previous[i];
            }
        }
        let driven = solver.solve(&right);
        u[stage][..N].copy_from_slice(&driven);
        for i in N..M {
            let coupled: f64 = jacobian[i].iter().zip(&driven).map(|(j, d)| j * d).sum();
            u[stage][i] = h * GAMMA * (right[i] + coupled);
        }
    }

    let y1: [f64; M] = std::array::from_fn(|i| argument[i] + u[5][i]);
    let mut sum = 0.0;
    for i in 0..M {
        let scale = tolerance.absolute_scale * system.absolute_tolerance(i)
            + tolerance.relative * y[i].abs().max(y1[i].abs());
        sum += (u[5][i] / scale).powi(2);
    }
    let dense = |weights: &[f64; 5]| {
        std::array::from_fn(|i| weights.iter().zip(&u).map(|(w, stage)| w * stage[i]).sum())
    };
    (Step { t, h, y0: *y, y1, d1: dense(&DENSE_1), d2: dense(&DENSE_2) }, (sum / M as f64).sqrt())
}

/// Forward differences of the derivative by the `N` driving states.
fn jacobian<const N: usize, const M: usize>(
    system: &impl System<M>,
    t: f64,
    y: &[f64; M],
    f0: &[f64; M],
) -> [[f64; N]; M] {
    let mut rows = [[0.0; N]; M];
    let mut shifted = *y;
    for j in 0..N {
        let increment = 1e-7 * y[j].abs().max(system.absolute_tolerance(j)).max(1e-3);
        shifted[j] = y[j] + increment;
        let exact = shifted[j] - y[j];
        let f = system.derivative(t, &shifted);
        for i in 0..M {
            rows[i][j] = (f[i] - f0[i]) / exact;
        }
        shifted[j] = y[j];
    }
    rows
}

/// An LU factorisation with partial pivoting.
struct Factored<const N: usize> {
    lu: [[f64; N]; N],
    order: [usize; N],
}

impl<const N: usize> Factored<N> {
    fn new(mut lu: [[f64; N]; N]) -> Self {
        let mut order: [usize; N] = std::array::from_fn(|i| i);
        for k in 0..N {
            let pivot = (k..N).max_by(|&a, &b| lu[a][k].abs().total_cmp(&lu[b][k].abs())).unwrap_or(k);
            lu.swap(k, pivot);
            order.swap(k, pivot);
            let pivot_row = lu[k];
            for row in lu.iter_mut().skip(k + 1) {
                let factor = row[k] / pivot_row[k];
                row[k] = factor;
                if factor != 0.0 {
                    for j in k + 1..N {
                        row[j] -= factor * pivot_row[j];
                    }
                }
            }
        }
        Self { lu, order }
    }

    /// Solves for the first `N` entries of `right`.
    fn solve(&self, right: &[f64]) -> [f64; N] {
        let mut x: [f64; N] = std::array::from_fn(|i| right[self.order[i]]);
        for i in 1..N {
            for j in 0..i {
                x[i] -= self.lu[i][j] * x[j];
            }
        }
        for i in (0..N).rev() {
            for j in i + 1..N {
                x[i] -= self.lu[i][j] * x[j];
            }
            x[i] /= self.lu[i][i];
        }
        x
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

    impl System<2> for Driven {
        fn derivative(&self, t: f64, y: &[f64; 2]) -> [f64; 2] {
            [self.lambda * (y[0] - t.cos()) - t.sin(), y[0]]
        }
        fn absolute_tolerance(&self, _: usize) -> f64 {
            1e-3
        }
    }

    /// y' = y²: nonlinear, solution 1 / (1 − t).
    struct Growing;

    impl System<1> for Growing {
        fn derivative(&self, _: f64, y: &[f64; 1]) -> [f64; 1] {
            [y[0] * y[0]]
        }
        fn absolute_tolerance(&self, _: usize) -> f64 {
            1e-3
        }
    }

    fn fixed_step_error<const M: usize>(
        system: &impl System<M>,
        y0: [f64; M],
        n: u32,
        exact: f64,
    ) -> (f64, f64) {
        let h = 0.5 / f64::from(n);
        let mut y = y0;
        let mut midway = 0.0_f64;
        for i in 0..n {
            let (step, _) = try_step::<1, M>(system, Tolerance::default(), f64::from(i) * h, h, &y);
            let t = (f64::from(i) + 0.5) * h;
            midway = midway.max((step.at(0.5)[0] - 1.0 / (1.0 - t)).abs());
            y = step.y1;
        }
        ((y[0] - exact).abs(), midway)
    }

    #[test]
    fn the_method_is_of_fourth_order_and_its_interpolant_of_third() {
        let (coarse, coarse_midway) = fixed_step_error(&Growing, [1.0], 20, 2.0);
        let (fine, fine_midway) = fixed_step_error(&Growing, [1.0], 40, 2.0);
        let order = (coarse / fine).log2();
        assert!((3.7..4.6).contains(&order), "order {order}");
        let order = (coarse_midway / fine_midway).log2();
        assert!(order > 2.8, "interpolant order {order}");
    }

    #[test]
    fn a_stiff_driven_system_is_followed_in_few_steps() {
        let mut steps = 0;
        let y = integrate::<1, 2>(
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
        let failure =
            integrate::<1, 1>(&Growing, Tolerance::default(), 0.1, (0.0, 2.0), [1.0], |_| ()).unwrap_err();
        assert!(matches!(failure, Failure::StepVanished { .. } | Failure::TooManySteps { .. }), "{failure}");
    }
}
