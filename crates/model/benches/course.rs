//! What one course costs at the ensemble's tolerance and at the default one, by turns in one run, and how far the first
//! strays from the second: a bay filled over five weeks, 120 days known and 365 days ahead.

#[path = "../tests/larkfield/mod.rs"]
mod larkfield;

use std::hint::black_box;
use std::time::{Duration, Instant};

use baycast_model::course::Course;
use baycast_model::history::{History, Turn};
use baycast_model::moment::Moment;
use baycast_model::parameters::Parameters;
use baycast_model::rosenbrock::Tolerance;
use baycast_model::site::DailyWeather;
use baycast_model::timeline::Timeline;
use baycast_model::variant::TOLERANCE;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use larkfield::{cardboard_pallet, filled_over, plastic_bin, timber_bay, with_event};

const TURNS: usize = 200;
const FILLED: Date = date(2026, 5, 1);
const KNOWN_DAYS: i64 = 120;

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e6
}

/// Largest differences over all days of the core's temperature, °C, and of the volume, %.
fn apart(timeline: &Timeline, one: &Course, other: &Course) -> (f64, f64) {
    let days = (0..).map(|quarter| timeline.start + 0.25 * f64::from(quarter));
    let days = days.take_while(|day| *day < timeline.until);
    days.filter_map(|day| one.at(day).zip(other.at(day))).fold(
        (0.0, 0.0),
        |(core_c, volume), (one, other)| {
            let (one, other) = (one.heap, other.heap);
            (
                (one.core.temperature_c - other.core.temperature_c).abs().max(core_c),
                (100.0 * (one.volume_m3() / other.volume_m3() - 1.0)).abs().max(volume),
            )
        },
    )
}

fn measure(name: &str, mut history: History) {
    history.as_of = Some(Moment::Date(FILLED + KNOWN_DAYS.days()));
    let timeline = Timeline::new(&history, FILLED).expect("a sound history");
    let run = |tolerance: Tolerance| {
        let started = Instant::now();
        let course = black_box(&timeline.agenda).run(&Parameters::default(), tolerance, timeline.until);
        (started.elapsed(), course.expect("a course"))
    };
    let (mut loose, mut close) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        loose.push(run(TOLERANCE).0);
        close.push(run(Tolerance::default()).0);
    }
    let ((_, member), (_, reference)) = (run(TOLERANCE), run(Tolerance::default()));
    let (core_c, volume) = apart(&timeline, &member, &reference);
    println!(
        "{name}: {:.0} µs in {} steps, closely {:.0} µs in {} steps; apart by {core_c:.2} °C and {volume:.2} %",
        median(loose),
        member.steps(),
        median(close),
        reference.steps(),
    );
}

fn main() {
    let start = FILLED.to_string();
    let timber = || filled_over(timber_bay(), &start, 5, 2183.0);
    measure("timber bay", timber());
    measure("plastic bin", filled_over(plastic_bin(), &start, 5, 300.0));
    let pallet = filled_over(cardboard_pallet(), &start, 5, 800.0);
    measure("pallet, turned", with_event(pallet, "2026-06-20", |event| event.turn = Some(Turn::default())));
    let mut weather = timber();
    weather.site.daily = (0..KNOWN_DAYS)
        .map(|day| DailyWeather {
            date: FILLED + day.days(),
            mean_air_c: 15.0 + 4.0 * (1.7 * day as f64).sin(),
            rain_mm: Some(if day % 3 == 0 { 6.0 } else { 0.0 }),
        })
        .collect();
    measure("timber bay, daily weather", weather);
}
