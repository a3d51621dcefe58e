//! The richer model against what growers report, over its own scatter: medians of batches filled as they fill them.
//!
//! Common practice, no source, unless said; nothing here is taken from the fitted model.

use std::ops::Range;

use baycast_model::history::{Event, History, Turn};
use baycast_model::moment::{Moment, date_to_days, days_to_date};
use baycast_model::window::Use;

use crate::larkfield::{cardboard_pallet, filled_over, plastic_bin, timber_bay};
use crate::richer;
use crate::scenario::{Habits, Kind, Scenario};

/// Batches drawn for each bay.
const DRAWN: usize = 60;

/// What one batch did.
#[derive(Clone, Copy, Debug)]
struct Done {
    peak_c: f64,
    days_over_40: f64,
    later_c: f64,
    sunk: f64,
    dry_lost: f64,
    degraded: f64,
    moisture: f64,
    opens_after: f64,
}

fn done(index: usize, kind: Kind, mut history: History) -> Done {
    let start = history.events[0].at.date();
    let last_fill = history.events.iter().map(|event| event.at.days()).fold(0.0, f64::max);
    let as_of = days_to_date(last_fill + 120.0);
    history.as_of = Some(Moment::Date(as_of));
    history.horizon_days = Some(365);
    let mut turn = Event::at(Moment::Date(days_to_date(last_fill + 11.0)));
    turn.turn = Some(Turn::default());
    history.events.push(turn);
    let habits = Habits {
        reads_every_days: None,
        reads_edge: 0.0,
        notes_depth: false,
        moisture_notes: 0,
        measures_moisture: false,
        level_sightings: 0,
        weather_station: false,
    };
    let mut scenario = Scenario { index, kind, history, start, as_of, habits };
    let days = crate::weather(&mut scenario);
    let truth = richer::run(&scenario, &days);
    let full = truth.filled_by - truth.start;
    let after = |days: f64| (full + days) as usize;
    let core = |from: f64, to: f64| {
        truth.hours[(from * 24.0) as usize..(to * 24.0) as usize].iter().map(|hour| hour.core_c)
    };
    let opens = truth.opens(&Use::BedDressing.default_criteria());
    Done {
        peak_c: core(0.0, full + 60.0).fold(0.0, f64::max),
        days_over_40: core(0.0, full + 120.0).filter(|celsius| *celsius > 40.0).count() as f64 / 24.0,
        later_c: core(full + 21.0, full + 22.0).sum::<f64>() / 24.0,
        sunk: 1.0 - truth.noons[after(120.0)].volume_m3 / truth.noons[after(1.0)].volume_m3,
        dry_lost: 1.0 - truth.ends[after(120.0)].dry_left,
        degraded: truth.noons[after(120.0)].maturity_index,
        moisture: truth.noons[after(120.0)].moisture_fraction,
        opens_after: opens.map_or(f64::INFINITY, |date| date_to_days(date) + 0.5 - truth.start),
    }
}

/// The middle and the tenths at both ends.
fn tenths(batches: &[Done], of: impl Fn(&Done) -> f64) -> [f64; 3] {
    let mut values: Vec<f64> = batches.iter().map(of).collect();
    values.sort_by(f64::total_cmp);
    [0.1, 0.5, 0.9].map(|share| values[((values.len() - 1) as f64 * share) as usize])
}

/// What the median batch of a bay must lie in.
struct Expected {
    name: &'static str,
    kind: Kind,
    history: fn() -> History,
    /// Highest core temperature, °C.
    peak_c: Range<f64>,
    /// Three weeks after the last filling, ten days after a turn, °C.
    later_c: Range<f64>,
    /// At four months, wet basis.
    moisture: Range<f64>,
}

#[test]
fn bays_of_three_sizes_do_what_growers_report() {
    let bays = [
        Expected {
            name: "bin",
            kind: Kind::Bin,
            history: || filled_over(plastic_bin(), "2025-04-01", 7, 300.0),
            peak_c: 40.0..50.0,
            later_c: 20.0..40.0,
            moisture: 0.60..0.78,
        },
        Expected {
            name: "pallet",
            kind: Kind::Pallet,
            history: || filled_over(cardboard_pallet(), "2025-05-01", 7, 913.0),
            peak_c: 60.0..68.0,
            later_c: 36.0..50.0,
            moisture: 0.50..0.72,
        },
        Expected {
            name: "timber",
            kind: Kind::Timber,
            history: || filled_over(timber_bay(), "2025-06-10", 5, 2183.0),
            peak_c: 65.0..72.0,
            later_c: 45.0..65.0,
            moisture: 0.50..0.70,
        },
    ];
    for Expected { name, kind, history, peak_c, later_c, moisture } in bays {
        let batches: Vec<Done> = (0..DRAWN).map(|index| done(index, kind, history())).collect();
        let middle = |what: &str, of: &dyn Fn(&Done) -> f64| {
            let [low, middle, high] = tenths(&batches, of);
            println!("{name:>7} {what:>13} {low:8.2} {middle:8.2} {high:8.2}");
            middle
        };
        let within = |what: &str, of: &dyn Fn(&Done) -> f64, range: &Range<f64>| {
            let middle = middle(what, of);
            assert!(range.contains(&middle), "{name}: {what} {middle:.2}");
        };
        within("peak", &|done| done.peak_c, &peak_c);
        within("weeks on", &|done| done.later_c, &later_c);
        within("moisture", &|done| done.moisture, &moisture);
        // Breitenbeck & Schellinger 2004, Compost Sci. Util. 12:365-371: volume falls 40-60 % (from memory).
        within("sunk", &|done| done.sunk, &(0.40..0.60));
        // The usual 30-50 % (from memory); 40.6-56.2 % in goat manure heaps (Eng. Agric. 27, 2007, abstract read).
        within("dry lost", &|done| done.dry_lost, &(0.30..0.50));
        middle("degraded", &|done| done.degraded);
        middle("days over 40", &|done| done.days_over_40);
        let opens = middle("opens", &|done| done.opens_after);
        // Filled and once turned, usable at about three months in the growing season.
        assert!((60.0..=135.0).contains(&opens), "{name}: opens after {opens:.0} days");
    }
}
