//! Least squares within bounds against SciPy's `lsq_linear`.

use baycast_model::recipe::bounded_least_squares::solve;
use nalgebra::{DMatrix, DVector};
use serde_json::{Value, json};

use crate::python::ask;

/// Random problems that are compared.
const PROBLEMS: u64 = 100;
/// Allowed difference of an unknown and, relative, of the cost.
const CLOSE: f64 = 1e-8;

/// A problem of up to 20 unknowns, of which every other one is as recipes make them: a few rows that pull hard, and a row for
/// each unknown that pulls a thousand times less.
fn problem(seed: u64) -> (DMatrix<f64>, DVector<f64>, DVector<f64>, DVector<f64>) {
    let mut chance = fastrand::Rng::with_seed(seed);
    let unknowns = chance.usize(1..20);
    let mut any = || chance.f64() * 2.0 - 1.0;
    let strong = if seed.is_multiple_of(2) { 4 } else { unknowns + 3 };
    let rows = if seed.is_multiple_of(2) { strong + unknowns } else { strong };
    let mut a = DMatrix::from_fn(rows, unknowns, |row, _| if row < strong { any() } else { 0.0 });
    let mut b = DVector::from_fn(rows, |_, _| 3.0 * any());
    for unknown in 0..rows - strong {
        a[(strong + unknown, unknown)] = 1e-3;
        b[strong + unknown] = 1e-3 * any().abs();
    }
    let lower = DVector::from_fn(unknowns, |_, _| 0.3 * any());
    let upper = DVector::from_fn(unknowns, |unknown, _| lower[unknown] + 0.05 + any().abs());
    (a, b, lower, upper)
}

#[test]
fn a_hundred_random_problems_have_the_solutions_that_scipy_finds() {
    let problems: Vec<_> = (0..PROBLEMS).map(problem).collect();
    let lines: Vec<String> = problems
        .iter()
        .map(|(a, b, lower, upper)| {
            let rows: Vec<Vec<f64>> = a.row_iter().map(|row| row.iter().copied().collect()).collect();
            let list = |vector: &DVector<f64>| vector.as_slice().to_vec();
            json!({ "a": rows, "b": list(b), "lower": list(lower), "upper": list(upper) }).to_string()
        })
        .collect();
    let (told, _) = ask("bounded_least_squares.py", &lines.join("\n"));
    let told: Vec<Value> = told.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!(told.len(), problems.len());
    let (mut furthest, mut dearest) = (0.0_f64, 0.0_f64);
    for ((a, b, lower, upper), theirs) in problems.iter().zip(&told) {
        assert!(theirs["status"].as_i64().is_some_and(|status| status > 0), "{theirs}");
        let own = solve(a, b, lower, upper);
        let x = theirs["x"].as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number"));
        for (own, theirs) in own.x.iter().zip(x) {
            furthest = furthest.max((own - theirs).abs());
        }
        let cost = theirs["cost"].as_f64().expect("a number");
        dearest = dearest.max((own.cost - cost).abs() / cost.max(1.0));
    }
    println!("{PROBLEMS} problems: x apart by {furthest:.1e}, cost by {dearest:.1e}");
    assert!(furthest < CLOSE && dearest < CLOSE, "{furthest:.1e} {dearest:.1e}");
}
