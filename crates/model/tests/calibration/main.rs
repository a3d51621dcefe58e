//! How often the truth lies where estimates say it does, over made-up batches whose truth is known.
//!
//! Simulation-based calibration after Talts and others 2018, Validating Bayesian inference algorithms with simulation-based
//! calibration (arXiv 1804.06788, from memory). `BAYCAST_BATCHES` sets how many batches are made up.

mod chance;
mod coverage;
#[path = "../larkfield/mod.rs"]
mod larkfield;
mod mix;
mod notes;
mod practice;
mod richer;
mod scenario;
mod truth;
mod uniformity;

use baycast_model::estimate::Spread;
use coverage::Compared;
use scenario::Scenario;

/// Batches made up where nothing is set.
const BATCHES: usize = 60;

fn batches() -> usize {
    let set = std::env::var("BAYCAST_BATCHES");
    set.map_or(BATCHES, |text| text.parse().expect("BAYCAST_BATCHES is a number"))
}

/// Runs `one` for every batch, on all cores.
fn every_batch(one: impl Fn(usize) -> Vec<Compared> + Sync) -> Vec<Compared> {
    let batches = batches();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let one = &one;
    std::thread::scope(|scope| {
        let shares: Vec<_> = (0..threads)
            .map(|first| {
                scope.spawn(move || {
                    let own = (first..batches).step_by(threads);
                    own.map(|index| (index, one(index))).collect::<Vec<_>>()
                })
            })
            .collect();
        let mut all: Vec<_> = shares.into_iter().flat_map(|share| share.join().expect("no panic")).collect();
        all.sort_by_key(|(index, _)| *index);
        all.into_iter().flat_map(|(_, compared)| compared).collect()
    })
}

#[test]
fn heaps_richer_than_the_model_lie_in_its_ranges_four_times_in_five() {
    let compared = every_batch(|index| {
        let scenario = Scenario::draw(index);
        let (truth, weather) = richer::run(&scenario);
        let history = notes::noted(&scenario, &truth, &weather);
        let estimate = baycast_model::estimate(&history, scenario.as_of).expect("an estimate");
        coverage::compare(&scenario, &history, &truth, &estimate)
    });
    coverage::print("Truth from a richer model", &compared);
    for one in &compared {
        let Spread { p10, p50, p90 } = one.range;
        assert!(p10 <= p50 && p50 <= p90, "{one:?}");
    }
}
