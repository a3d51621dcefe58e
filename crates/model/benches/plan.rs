//! The plan of Larkfield's seven bays for 52 weeks, against estimates of the seven batches that stand in them: by turns in one
//! run, on one core, with the service's allocator.

#[path = "../tests/plan/season.rs"]
mod season;

use std::hint::black_box;
use std::time::{Duration, Instant};

use baycast_model::estimate;
use baycast_model::plan::plan;
use jiff::civil::date;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const TURNS: usize = 5;

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn main() {
    let season = season::larkfield();
    let today = date(2026, 9, 15);
    let (mut planned, mut estimated) = (Vec::new(), Vec::new());
    let mut gap = 0.0;
    for _ in 0..TURNS {
        let started = Instant::now();
        gap = plan(black_box(&season), today).expect("a plan").optimum.gap_fraction;
        planned.push(started.elapsed());
        let started = Instant::now();
        for own in &season.batches {
            black_box(estimate(black_box(&own.history), today).expect("an estimate"));
        }
        estimated.push(started.elapsed());
    }
    let (planned, estimated) = (median(planned), median(estimated));
    println!(
        "a plan of {} bays for 52 weeks: {planned:.0} ms; estimates of its {} batches: {estimated:.0} ms; ratio {:.1}; gap {gap:.3}",
        season.bays.len(),
        season.batches.len(),
        planned / estimated
    );
}
