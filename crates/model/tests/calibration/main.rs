//! How often the truth lies where estimates say it does, over made-up batches whose truth is known.
//!
//! Simulation-based calibration after Talts and others 2018, Validating Bayesian inference algorithms with simulation-based
//! calibration (arXiv 1804.06788, from memory). `BAYCAST_BATCHES` sets how many batches are made up.

mod chance;
mod coverage;
mod fitted;
#[path = "../larkfield/mod.rs"]
mod larkfield;
mod mix;
mod notes;
mod practice;
mod richer;
mod scenario;
mod table;
mod truth;
mod uniformity;

use baycast_model::estimate::Spread;
use baycast_model::moment::date_to_days;
use chance::Chance;
use coverage::Compared;
use richer::Weather;
use scenario::Scenario;
use table::Line;
use truth::Truth;

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

/// The estimate of a scenario with what was noted of its truth, held against that truth.
fn estimated(scenario: &Scenario, truth: &Truth) -> Vec<Compared> {
    let history = notes::noted(scenario, truth);
    let estimate = baycast_model::estimate(&history, scenario.as_of).expect("an estimate");
    coverage::compare(scenario, &history, truth, &estimate)
}

/// Days of weather about the scenario's normals; those up to the day of the estimate go into the history where a station
/// stands nearby.
fn weather(scenario: &mut Scenario) -> Weather {
    let mut chance = Chance::new(scenario.index, 5);
    let [first, last] = [scenario.start, scenario.as_of].map(|date| date_to_days(date) as i64);
    let horizon = scenario.history.horizon_days.map_or(0, i64::from);
    let days = Weather::draw(&scenario.history, first - 1, last + horizon + 2, &mut chance);
    if scenario.habits.weather_station {
        scenario.history.site.daily = days.noted(first, last, &mut chance);
    }
    days
}

#[test]
fn heaps_of_the_model_itself_lie_in_its_ranges_four_times_in_five() {
    let compared = every_batch(|index| {
        let mut scenario = Scenario::draw(index);
        weather(&mut scenario);
        estimated(&scenario, &fitted::run(&scenario))
    });
    table::print("Truth from the fitted model", &compared);
    let failing = table::failing(&compared, Line::exact);
    assert!(failing.is_empty(), "shares of truths in their ranges: {failing:?}");
    in_order(&compared);
}

#[test]
fn heaps_richer_than_the_model_lie_in_its_ranges_four_times_in_five() {
    let compared = every_batch(|index| {
        let mut scenario = Scenario::draw(index);
        let days = weather(&mut scenario);
        estimated(&scenario, &richer::run(&scenario, &days))
    });
    table::print("Truth from a richer model", &compared);
    let failing = table::failing(&compared, Line::wide_enough);
    assert!(failing.is_empty(), "shares of truths in their ranges: {failing:?}");
    in_order(&compared);
}

fn in_order(compared: &[Compared]) {
    for one in compared {
        let Spread { p10, p50, p90 } = one.range;
        assert!(p10 <= p50 && p50 <= p90, "{one:?}");
    }
}
