//! A plan made again keeps what it can.

use baycast_model::plan::answer::{Action, Plan, Step};
use baycast_model::plan::plan;
use jiff::civil::date;

use crate::farms;

/// What is done, without the words and amounts.
fn done(plan: &Plan) -> Vec<(jiff::civil::Date, Action, String, String, Option<String>)> {
    let bare =
        |step: &Step| (step.on, step.action, step.batch.clone(), step.bay.clone(), step.to_bay.clone());
    plan.steps.iter().map(bare).collect()
}

#[test]
fn the_same_season_gives_the_same_plan_and_keeps_it() {
    for seed in [3, 5] {
        let mut season = farms::season(seed);
        let first = plan(&season, date(2026, 1, 1)).expect("a plan");
        assert_eq!(first, plan(&season, date(2026, 1, 1)).expect("a plan"), "farm {seed}");
        season.earlier.clone_from(&first.steps);
        let again = plan(&season, date(2026, 1, 1)).expect("a plan");
        assert_eq!(done(&first), done(&again), "farm {seed}");
    }
}

#[test]
fn a_change_of_one_reading_moves_only_what_it_must() {
    let mut looked_at = 0;
    for seed in 0..12 {
        let mut season = farms::season(seed);
        let first = plan(&season, date(2026, 1, 1)).expect("a plan");
        season.earlier.clone_from(&first.steps);
        let mut readings = season.batches.iter_mut().flat_map(|own| &mut own.history.events);
        let Some(reading) = readings.find_map(|event| event.reading.as_mut()) else { continue };
        reading.temperature_c = reading.temperature_c.map(|was| was + 0.5);
        let again = plan(&season, date(2026, 1, 1)).expect("a plan");
        looked_at += 1;
        assert_eq!(
            done(&first),
            done(&again),
            "farm {seed}: half a degree in one reading changes nothing that is done"
        );
    }
    assert!(looked_at >= 4, "farms with readings: {looked_at}");
}

#[test]
fn where_a_heap_turned_out_cold_far_less_moves_than_in_a_plan_from_nothing() {
    let moved = |a: &Plan, b: &Plan| {
        let (a, b) = (done(a), done(b));
        a.iter().filter(|step| !b.contains(step)).count() + b.iter().filter(|step| !a.contains(step)).count()
    };
    let (mut kept, mut anew) = (0, 0);
    for seed in 0..12 {
        let mut season = farms::season(seed);
        let first = plan(&season, date(2026, 1, 1)).expect("a plan");
        let has_readings = |own: &&mut baycast_model::plan::season::Standing| {
            own.history.events.iter().any(|event| event.reading.is_some())
        };
        let Some(cold) = season.batches.iter_mut().find(has_readings) else { continue };
        for reading in cold.history.events.iter_mut().filter_map(|event| event.reading.as_mut()) {
            reading.temperature_c = reading.temperature_c.map(|was| (was - 20.0).max(4.0));
        }
        anew += moved(&first, &plan(&season, date(2026, 1, 1)).expect("a plan"));
        season.earlier.clone_from(&first.steps);
        kept += moved(&first, &plan(&season, date(2026, 1, 1)).expect("a plan"));
    }
    println!("steps moved: {kept} where the plan is kept, {anew} from nothing");
    assert!(anew > 0, "a cold heap changes no plan of these");
    assert!(2 * kept <= anew, "steps moved: {kept} where the plan is kept, {anew} from nothing");
}
