//! Least squares in which every unknown keeps within its bounds.

use nalgebra::{DMatrix, DVector};

/// The point within bounds that lies closest.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// The unknowns.
    pub x: DVector<f64>,
    /// Where each of them lies.
    pub at: Vec<At>,
    /// ½ |Ax − b|².
    pub cost: f64,
}

/// Where an unknown lies between its bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// On the lower bound.
    Lower,
    /// Between the bounds.
    Between,
    /// On the upper bound.
    Upper,
}

/// How far a slope may be from 0, as a share of its column's length times that of b, and still count as none.
const FLAT: f64 = 1e-12;

/// Minimises |Ax − b| with `lower` ≤ x ≤ `upper`, for an A of full column rank and at least as many rows as columns.
///
/// An active-set method in the manner of Stark & Parker 1995, Bounded-variable least-squares: an algorithm and applications,
/// Computational Statistics 10:129-141 (abstract read, the method from memory): from the lower bounds, the unknown whose slope
/// leads furthest inwards is let go, the free ones are solved for by QR, and where that leads out of bounds one goes only as
/// far as the first bound and keeps what met it. Each step lowers the cost, so none comes back to a set of free unknowns.
#[must_use]
pub fn solve(a: &DMatrix<f64>, b: &DVector<f64>, lower: &DVector<f64>, upper: &DVector<f64>) -> Solution {
    let unknowns = a.ncols();
    let flat: Vec<f64> = a.column_iter().map(|column| FLAT * column.norm() * b.norm().max(1.0)).collect();
    let mut x = lower.clone();
    let mut at = vec![At::Lower; unknowns];
    // One that was let go and went straight back by rounding is not asked again until something has moved.
    let mut refused = vec![false; unknowns];
    loop {
        let slope = a.tr_mul(&(b - a * &x));
        let inwards = |index: usize| match at[index] {
            At::Lower => slope[index],
            At::Upper => -slope[index],
            At::Between => 0.0,
        };
        let candidates = (0..unknowns).filter(|index| {
            !refused[*index] && lower[*index] < upper[*index] && inwards(*index) > flat[*index]
        });
        let steepness = |index: usize| inwards(index) / a.column(index).norm();
        let Some(freed) = candidates.max_by(|one, other| steepness(*one).total_cmp(&steepness(*other)))
        else {
            let cost = 0.5 * (a * &x - b).norm_squared();
            return Solution { x, at, cost };
        };
        let before = (x.clone(), at[freed]);
        at[freed] = At::Between;
        approach(a, b, lower, upper, &mut x, &mut at);
        if at[freed] == before.1 && x == before.0 {
            refused[freed] = true;
        } else {
            refused.fill(false);
        }
    }
}

/// Goes to the best point of the free unknowns; those that meet a bound on the way stay there.
fn approach(
    a: &DMatrix<f64>,
    b: &DVector<f64>,
    lower: &DVector<f64>,
    upper: &DVector<f64>,
    x: &mut DVector<f64>,
    at: &mut [At],
) {
    loop {
        let free: Vec<usize> = (0..at.len()).filter(|index| at[*index] == At::Between).collect();
        if free.is_empty() {
            return;
        }
        let wanted = unbounded(a, b, x, &free);
        // The share of the way at which the first of them meets a bound, and which bound.
        let mut first: Option<(f64, usize, At)> = None;
        for (index, wanted) in free.iter().zip(wanted.iter()) {
            let (bound, side) = if *wanted < lower[*index] {
                (lower[*index], At::Lower)
            } else if *wanted > upper[*index] {
                (upper[*index], At::Upper)
            } else {
                continue;
            };
            let share = (bound - x[*index]) / (wanted - x[*index]);
            if first.is_none_or(|(least, ..)| share < least) {
                first = Some((share, *index, side));
            }
        }
        let share = first.map_or(1.0, |(share, ..)| share);
        for (index, wanted) in free.iter().zip(wanted.iter()) {
            let moved = if share < 1.0 { x[*index] + share * (wanted - x[*index]) } else { *wanted };
            x[*index] = moved.clamp(lower[*index], upper[*index]);
        }
        let Some((_, met, side)) = first else { return };
        x[met] = if side == At::Lower { lower[met] } else { upper[met] };
        at[met] = side;
    }
}

/// The best values of the free unknowns while the others stay as they are.
fn unbounded(a: &DMatrix<f64>, b: &DVector<f64>, x: &DVector<f64>, free: &[usize]) -> DVector<f64> {
    let mut fixed = x.clone();
    for index in free {
        fixed[*index] = 0.0;
    }
    let rest = b - a * fixed;
    let qr = a.select_columns(free).qr();
    let mut turned = rest;
    qr.q_tr_mul(&mut turned);
    let turned = turned.rows(0, free.len()).into_owned();
    qr.r().solve_upper_triangular(&turned).unwrap_or(turned)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vector(values: &[f64]) -> DVector<f64> {
        DVector::from_column_slice(values)
    }

    /// Worked by hand: the parabola's foot at (2, −1) lies outside the unit square, whose nearest point is (1, 0).
    #[test]
    fn a_point_outside_a_square_goes_to_its_corner() {
        let a = DMatrix::identity(2, 2);
        let told = solve(&a, &vector(&[2.0, -1.0]), &vector(&[0.0, 0.0]), &vector(&[1.0, 1.0]));
        assert_eq!(
            (told.x.as_slice(), told.at.as_slice()),
            ([1.0, 0.0].as_slice(), [At::Upper, At::Lower].as_slice())
        );
        assert!((told.cost - 1.0).abs() < 1e-15);
    }

    #[test]
    fn every_answer_keeps_its_bounds_and_no_slope_leads_inwards() {
        let mut chance = fastrand::Rng::with_seed(11);
        for _ in 0..300 {
            let unknowns = chance.usize(1..12);
            let rows = unknowns + chance.usize(0..6);
            let mut any = || chance.f64() * 4.0 - 2.0;
            let a = DMatrix::from_fn(rows, unknowns, |_, _| any());
            let b = DVector::from_fn(rows, |_, _| any());
            let lower = DVector::from_fn(unknowns, |_, _| any() / 4.0);
            let width = DVector::from_fn(unknowns, |_, _| any().abs() / 4.0);
            let upper = &lower + width;
            let told = solve(&a, &b, &lower, &upper);
            let slope = a.tr_mul(&(&a * &told.x - &b));
            for index in 0..unknowns {
                assert!(told.x[index] >= lower[index] && told.x[index] <= upper[index]);
                match told.at[index] {
                    At::Lower => assert!(slope[index] > -1e-9),
                    At::Between => assert!(slope[index].abs() < 1e-8, "{}", slope[index]),
                    At::Upper => assert!(slope[index] < 1e-9),
                }
            }
        }
    }
}
