//! The model's courses of all scenarios against the second writing of the balance, which SciPy integrates.

use std::hint::black_box;
use std::time::Instant;

use baycast_model::parameters::Parameters;
use baycast_model::rosenbrock::Tolerance;

use crate::python::ask;
use crate::scenarios::{self, Scenario};
use crate::table::{Table, median};

/// Turns of the model; SciPy has one.
const TURNS: usize = 20;

/// Measures both.
pub fn measure(table: &mut Table) {
    let scenarios = scenarios::all();
    let questions: Vec<String> = scenarios.iter().map(|scenario| scenario.question().to_string()).collect();
    let (_, seconds) = ask("balance.py", &questions.join("\n"));
    let scipy: f64 = seconds.trim().parse().expect("seconds");
    let once = || {
        let started = Instant::now();
        for Scenario { timeline, .. } in &scenarios {
            let course = timeline.agenda.run(&Parameters::default(), Tolerance::default(), timeline.until);
            black_box(course.expect("a course"));
        }
        started.elapsed().as_secs_f64()
    };
    let taken = median((0..TURNS).map(|_| once()).collect());
    let courses = scenarios.len() as f64;
    let what = format!("courses of {courses} scenarios, both followed closely");
    table.add(&what, &[courses / taken], &[courses / scipy], "/s", "SciPy", "");
}
