//! What an estimate costs by the length of its history: the same half year, read more and more often.

use std::hint::black_box;
use std::time::Instant;

use baycast_model::estimate;
use baycast_model::history::{Event, History, Reading};
use baycast_model::moment::Moment;

use crate::table::Table;
use crate::typical;

/// Events.
const LENGTHS: [usize; 4] = [10, 100, 1000, 10_000];
const TURNS: usize = 15;

/// The typical batch's additions, and readings over a hundred days, so many events together.
fn of_length(events: usize) -> History {
    let mut history = typical::history(0);
    history.events.retain(|event| event.addition.is_some());
    history.events.truncate(events / 2);
    let readings = events - history.events.len();
    let first = "2026-04-02T06:00:00Z".parse::<jiff::Timestamp>().expect("an instant");
    for number in 0..readings {
        let share = number as f64 / readings as f64;
        let at = first + jiff::SignedDuration::from_secs_f64(100.0 * 86_400.0 * share);
        let temperature_c = Some(18.0 + 40.0 * (-(share - 0.2).abs() * 5.0).exp());
        let reading = Reading { temperature_c, depth_m: Some(0.5), ..Reading::default() };
        history.events.push(Event { reading: Some(reading), ..Event::at(Moment::Instant(at)) });
    }
    history
}

/// Measures each length beside the shortest, by turns.
pub fn measure(table: &mut Table) {
    let histories = LENGTHS.map(of_length);
    let mut times = LENGTHS.map(|_| Vec::new());
    for _ in 0..TURNS {
        for (history, times) in histories.iter().zip(&mut times) {
            let started = Instant::now();
            black_box(estimate(black_box(history), typical::TODAY).expect("an estimate"));
            times.push(started.elapsed().as_secs_f64() * 1e3);
        }
    }
    for (length, own) in LENGTHS.iter().zip(&times).skip(1) {
        let beside = format!("of {} events", LENGTHS[0]);
        table.add(&format!("estimate of {length} events"), own, &times[0], "ms", &beside, "");
    }
}
