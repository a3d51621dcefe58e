//! An estimate of a batch that has been estimated before, against one from the start, by turns in one run.

#[path = "../tests/larkfield/mod.rs"]
mod larkfield;

use std::hint::black_box;
use std::time::Instant;

use baycast_model::history::{Cover, CoverState, Event, History, Reading, Turn};
use baycast_model::moment::Moment;
use larkfield::{filled_over, timber_bay};

fn year() -> History {
    let mut history = filled_over(timber_bay(), "2025-05-01", 5, 2183.0);
    let start = jiff::civil::date(2025, 5, 1);
    for day in 0..365_i64 {
        let date = start.saturating_add(jiff::SignedDuration::from_hours(24 * (day + 1)));
        let mut event = Event::at(format!("{date}T08:00:00Z").parse().unwrap());
        let celsius =
            15.0 + 50.0 * (-(day as f64 - 30.0).abs() / 40.0).exp() + 3.0 * (day as f64 * 1.7).sin();
        event.reading =
            Some(Reading { temperature_c: Some(celsius), depth_m: Some(0.5), ..Reading::default() });
        history.events.push(event);
    }
    let mut turn = Event::at("2025-06-20".parse().unwrap());
    turn.turn = Some(Turn::default());
    history.events.push(turn);
    let mut cover = Event::at("2025-06-21".parse().unwrap());
    cover.cover = Some(Cover { state: CoverState::On });
    history.events.push(cover);
    history.as_of = Some(Moment::Date(jiff::civil::date(2026, 5, 1)));
    history
}

fn main() {
    let history = year();
    let today = jiff::civil::date(2026, 5, 1);
    let n = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(10);
    let mut earlier = history.clone();
    earlier.events.remove(earlier.events.len() - 3);
    let (_, kept) = baycast_model::estimate_from(&earlier, today, None).unwrap();
    println!("{} bytes", kept.bytes());
    if n == 0 {
        for _ in 0..10 {
            black_box(baycast_model::estimate_from(black_box(&history), today, Some(&kept)).unwrap());
        }
    }
    for _ in 0..n {
        let start = Instant::now();
        let a = black_box(baycast_model::estimate(black_box(&history), today).unwrap());
        let full = start.elapsed();

        let start = Instant::now();
        let (b, _) =
            black_box(baycast_model::estimate_from(black_box(&history), today, Some(&kept)).unwrap());
        println!("{:?} {:?} {}", full, start.elapsed(), start.elapsed().as_secs_f64() / full.as_secs_f64());
        assert_eq!(serde_json::to_string(&a).unwrap(), serde_json::to_string(&b).unwrap());
    }
}
